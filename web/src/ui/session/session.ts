// Who is signed in on this browser, and what follows from it.
// Invariants: whoever comes back on the same browser goes on with the same client, so that nothing is
// sent twice or under another name; what is not sent stays, bound to its person, whoever comes after.
import { effect, signal } from "@preact/signals";
import { auth, Failure, http, onRefreshed, refresh } from "../../api/client";
import type { SignedIn } from "../../api/types";
import { newId } from "../../core/ids";
import { db } from "../../db";
import { cursor, me, myself, notices, noticesRead, plan, setDocs, setLanguage, setOffset, shared } from "../../state";
import { startSync, stopSync } from "../../sync";
import { askToKeep } from "../../room";
import { keptLanguage, keepSpoken } from "../kit/prefs";
import { go } from "../kit/router";

/** Why signing in did not work, as the server's word. */
export const refused = signal<string | undefined>(undefined);
/** A link's token that was in the address when the app was opened. */
export const invited = signal<string | undefined>(undefined);
/** A pass from a sister shop that was in the address. */
export const passed = signal<string | undefined>(undefined);
/** On a shared tablet: signed in just now, and has no PIN here yet. */
export const withoutPin = signal<SignedIn | undefined>(undefined);

/** Takes the token out of the address, so that it stays in no history and no screenshot. */
export function readInvitation(): void {
  const found = /[#&](join|over)=([^&]+)/.exec(location.hash);
  if (!found?.[2]) return;
  (found[1] === "join" ? invited : passed).value = decodeURIComponent(found[2]);
  history.replaceState(null, "", location.pathname + location.search);
}

/** The client this person had on this browser before, if the server still takes it for theirs. */
async function sameClient(signed: SignedIn): Promise<SignedIn> {
  const before = (await db.personHere(signed.person))?.client ?? (await formerClient(signed.person));
  if (!before || before === signed.client) return signed;
  try {
    await http.bindClient(before);
    return { ...signed, client: before };
  } catch (error) {
    // The link is used up: not being able to ask now must not end the sign-in. It was theirs the last time.
    if (!(error instanceof Failure) || error.transient) return { ...signed, client: before };
    // Somebody else's by now (another shop, a server set back): what is unsent goes on under the new one.
    await db.renumber(before, signed.client);
    return signed;
  }
}

/** Browsers that signed in before people were kept apart know only the last one. */
async function formerClient(person: string): Promise<string | undefined> {
  const last = await db.signedIn();
  return last?.person === person ? last.client : undefined;
}

/** Keeps a sign-in that the server has just given to this browser. */
export async function adopt(given: SignedIn, browser: boolean): Promise<void> {
  const signed = await sameClient(given);
  await db.changePerson(signed.person, (was) => ({
    ...was,
    person: signed.person,
    name: signed.name,
    client: signed.client,
    signed,
    browser: browser || (was?.browser ?? false),
  }));
  await holdsCookies(signed);
  setOffset(signed.now - Date.now());
  invited.value = undefined;
  refused.value = undefined;
  void askToKeep();
  // Administrators have no PIN: each time they sign in by their password.
  if (shared.peek() && signed.role !== "admin" && me.peek()?.person !== signed.person) {
    me.value = undefined;
    withoutPin.value = signed;
  } else {
    me.value = signed;
  }
  startSync(signed);
}

/** Notices are of whom the browser's cookies are of: another's are not kept beside them. */
export async function holdsCookies(signed: SignedIn): Promise<void> {
  const before = await db.signedIn();
  if (before && before.person !== signed.person) {
    await db.forgetNotices();
    notices.value = [];
    noticesRead.value = 0;
  }
  await db.set("signed_in", signed);
}

export async function trying(signIn: () => Promise<SignedIn>): Promise<boolean> {
  refused.value = undefined;
  try {
    await adopt(await signIn(), true);
    return true;
  } catch (error) {
    refused.value = error instanceof Failure ? error.code : "error";
    return false;
  }
}

export const join = (token: string): Promise<boolean> => trying(() => auth.join(tokenOf(token), thisBrowser()));
export const enter = (name: string, password: string): Promise<boolean> =>
  trying(() => auth.password(name, password, thisBrowser()));

/** What a browser says of itself; which one it is the server knows by a cookie of its own. */
export const thisBrowser = (): { client: string; device: string } => ({ client: newId(), device: device() });

/** A whole link or only its code, as somebody may type or paste it. */
export const tokenOf = (text: string): string =>
  decodeURIComponent(/join=([^&\s]+)/.exec(text)?.[1] ?? text.replace(/\s/g, ""));

/** "Android, Chrome": enough to know one's own devices apart. */
function device(): string {
  const agent = navigator.userAgent;
  const system = /Android|iPhone|iPad|Windows|Macintosh|Linux/.exec(agent)?.[0] ?? "?";
  const browser = /Firefox|Edg|Chrome|Safari/.exec(agent)?.[0] ?? "?";
  return `${system}, ${browser}`;
}

/** Begins with who was signed in before; without a copy of that, the browser may still have its sign-in. */
export async function resume(): Promise<void> {
  onRefreshed((signed) => {
    const now = me.peek();
    if (!now || now.person !== signed.person) return;
    // After a fork the phone's own client id is the newer one.
    const next = { ...signed, client: now.client };
    me.value = next;
    // Kept with the next answer, if not with this one.
    void db.set("signed_in", next).catch(() => undefined);
  });
  // Signed out while the server was not reached: it is told now, and not asked to let us in again.
  const signedOut = await db.get<boolean>("sign_out_later");
  if (signedOut)
    await auth.signOut().then(
      () => db.set("sign_out_later", undefined),
      () => undefined,
    );
  const kept = me.peek() ?? (shared.peek() ? await db.signedIn() : undefined);
  if (kept) {
    await db.changePerson(
      kept.person,
      (was) => was ?? { person: kept.person, name: kept.name, client: kept.client, signed: kept },
    );
    startSync(kept);
  } else if (!invited.peek() && !passed.peek() && !signedOut) {
    await refresh().then(
      (signed) => adopt(signed, false),
      () => undefined,
    );
  }
  if (invited.peek() && !me.peek()) go("/sign-in", true);
}

/** The person's own language, where this browser was never told another; the next start begins in it. */
export function followLanguage(): void {
  effect(() => {
    const wanted = myself.value?.language;
    if (wanted !== "en" && wanted !== "es") return;
    const chosen = keptLanguage(myself.value?.id);
    keepSpoken(chosen ?? wanted);
    if (!chosen || shared.value) void setLanguage(chosen ?? wanted).catch(() => undefined);
  });
}

/** What is not sent stays on the phone, bound to its person. */
export async function signOut(): Promise<void> {
  const who = me.peek();
  if (!who) return;
  const others = (await db.peopleHere()).some(({ person, signed }) => person !== who.person && signed);
  if (shared.peek() && others) {
    // The others go on: only this person's sign-in ends, their copy of the shop stays.
    await auth.forgetDevice(who.session).catch(() => undefined);
  } else {
    stopSync();
    await auth.signOut().catch(() => db.set("sign_out_later", true));
    await db.forgetCopy();
    cursor.value = 0;
    plan.value = undefined;
    setDocs([]);
  }
  await db.changePerson(who.person, (was) => ({
    person: who.person,
    name: who.name,
    client: was?.client ?? who.client,
  }));
  me.value = undefined;
  notices.value = [];
  go(shared.peek() ? "/" : "/sign-in", true);
}
