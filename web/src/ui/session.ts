// Who is signed in on this browser, and what follows from it.
import { effect, signal } from "@preact/signals";
import { auth, Failure, onRefreshed, refresh } from "../api/client";
import type { SignedIn } from "../api/types";
import { newId } from "../core/ids";
import { db } from "../db";
import { cursor, me, myself, notices, plan, setDocs, setLanguage, setOffset } from "../state";
import { startSync, stopSync } from "../sync";
import { keptLanguage } from "./prefs";
import { go } from "./router";

/** Why signing in did not work, as the server's word. */
export const refused = signal<string | undefined>(undefined);
/** A link's token that was in the address when the app was opened. */
export const invited = signal<string | undefined>(undefined);

/** Takes the token out of the address, so that it stays in no history and no screenshot. */
export function readInvitation(): void {
  const found = /[#&]join=([^&]+)/.exec(location.hash);
  if (!found?.[1]) return;
  invited.value = decodeURIComponent(found[1]);
  history.replaceState(null, "", location.pathname + location.search);
}

async function adopt(signed: SignedIn): Promise<void> {
  const before = await db.signedIn();
  if (before && before.person !== signed.person) {
    await db.forgetNotices();
    notices.value = [];
  }
  await db.set("signed_in", signed);
  setOffset(signed.now - Date.now());
  me.value = signed;
  invited.value = undefined;
  refused.value = undefined;
  void navigator.storage?.persist?.().catch(() => false);
  startSync(signed);
}

async function trying(signIn: () => Promise<SignedIn>): Promise<boolean> {
  refused.value = undefined;
  try {
    await adopt(await signIn());
    return true;
  } catch (error) {
    refused.value = error instanceof Failure ? error.code : "error";
    return false;
  }
}

export const join = (token: string): Promise<boolean> => trying(() => auth.join(tokenOf(token), newId(), device()));
export const enter = (name: string, password: string): Promise<boolean> =>
  trying(() => auth.password(name, password, newId(), device()));

/** A whole link or only its code, as somebody may type or paste it. */
const tokenOf = (text: string): string => decodeURIComponent(/join=([^&\s]+)/.exec(text)?.[1] ?? text.trim());

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
    void db.set("signed_in", next);
  });
  const kept = me.peek();
  if (kept) startSync(kept);
  else if (!invited.peek()) await refresh().then(adopt, () => undefined);
  if (invited.peek() && !me.peek()) go("/sign-in", true);
}

/** The person's own language, where this browser was never told another. */
export function followLanguage(): void {
  effect(() => {
    const wanted = myself.value?.language;
    if (!keptLanguage() && (wanted === "en" || wanted === "es")) void setLanguage(wanted);
  });
}

/** What is not sent stays on the phone, bound to its person. */
export async function signOut(): Promise<void> {
  stopSync();
  await auth.signOut().catch(() => undefined);
  await db.forgetCopy();
  me.value = undefined;
  cursor.value = 0;
  plan.value = undefined;
  notices.value = [];
  setDocs([]);
  go("/sign-in", true);
}
