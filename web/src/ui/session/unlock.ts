// Who stands before a shared tablet: unlocking by PIN with or without a network, locking by itself.
// Invariants: unlocking needs no network; the PIN stays in memory only, and only until the server has
// changed the cookies; while locked nobody is signed in on the screen, though everybody's work is sent.
import { effect, signal } from "@preact/signals";
import { auth, Failure } from "../../api/client";
import type { SignedIn } from "../../api/types";
import { db, type PersonHere } from "../../db";
import { me, notices, noticesRead, reach, shared } from "../../state";
import { startSync } from "../../sync";
import { closeSheet, say } from "../kit/sheet";
import { languageBecomes } from "../kit/prefs";
import { go } from "../kit/router";
import { adopt, holdsCookies, thisBrowser, tokenOf, withoutPin } from "./session";
import { t } from "../../text/words";
import { fits, mustWait, oneMoreWrong, verifierOf } from "./pin";

export const MINUTES = [1, 2, 5, 15] as const;
export const minutes = signal<number>(2);
/** Why the tablet locked, where the person did not do it. */
export const lockedBecause = signal<string | undefined>(undefined);

/** The PIN of whom the screen is, while the cookies are another's. */
let waiting: { person: string; pin: string } | undefined;

export type Unlocked = "in" | "wrong" | "ended" | "no-pin" | { wait: number };

export async function unlock(person: string, pin: string, now = Date.now()): Promise<Unlocked> {
  const row = await db.personHere(person);
  if (!row?.signed) return "ended";
  const wait = mustWait(row.wrong, now);
  if (wait > 0) return { wait };
  if (row.verifier && (await fits(pin, row.verifier))) {
    await db.changePerson(person, (was) => ({ ...row, ...was, wrong: undefined }));
    await come(row, pin);
    return "in";
  }
  // It may have been changed on another tablet: then only the server knows it.
  const answer = await askServer(row, pin);
  if (answer === "in" || answer === "ended") return answer;
  if (!row.verifier && answer === "unreached") return "no-pin";
  const after = await db.changePerson(person, (was) => ({ ...row, ...was, wrong: oneMoreWrong(was?.wrong, now) }));
  const more = mustWait(after.wrong, now);
  return more > 0 ? { wait: more } : "wrong";
}

async function askServer(row: PersonHere, pin: string): Promise<"in" | "wrong" | "ended" | "unreached"> {
  try {
    const signed = await auth.switchTo(row.person, pin, row.client);
    const verifier = await verifierOf(pin);
    await db.changePerson(row.person, (was) => ({ ...row, ...was, verifier, wrong: undefined }));
    await changed(signed);
    me.value = { ...signed, client: row.client };
    arrive();
    return "in";
  } catch (error) {
    if (!(error instanceof Failure) || error.transient) return "unreached";
    return error.code === "signed_out" ? "ended" : "wrong";
  }
}

/** Unlocked by what the tablet knows itself. */
async function come(row: PersonHere, pin: string): Promise<void> {
  const signed = { ...(row.signed as SignedIn), client: row.client };
  const cookies = (await db.signedIn())?.person;
  me.value = signed;
  arrive();
  if (cookies === row.person) {
    notices.value = await db.notices();
    noticesRead.value = (await db.get<number>("notices_read")) ?? 0;
    startSync(signed);
    return;
  }
  notices.value = [];
  waiting = { person: row.person, pin };
  startSync(signed, cookies);
  await tryToChange();
}

function arrive(): void {
  lockedBecause.value = undefined;
  touched();
  go("/", true);
}

/** The server gave this person's cookies. */
async function changed(signed: SignedIn): Promise<void> {
  waiting = undefined;
  await holdsCookies(signed);
  await db.changePerson(signed.person, (was) => ({
    ...was,
    person: signed.person,
    name: signed.name,
    client: signed.client,
    signed,
  }));
  startSync(signed);
}

let trying = false;

/** Once the server is reached, so that notices and refusals are the right person's. */
async function tryToChange(): Promise<void> {
  const want = waiting;
  const who = me.peek();
  if (!want || who?.person !== want.person || trying) return;
  trying = true;
  try {
    const signed = await auth.switchTo(want.person, want.pin, who.client);
    if (me.peek()?.person !== want.person) {
      // Locked meanwhile: the cookies have changed all the same.
      await holdsCookies(signed);
      return;
    }
    await changed(signed);
    me.value = signed;
  } catch (error) {
    if (!(error instanceof Failure) || error.transient) return;
    // What is not sent stays; only the way in is closed.
    const why = error.code === "signed_out" ? "tablet-ended" : "tablet-pin-changed";
    await db.changePerson(want.person, (was) => {
      const { verifier: _, ...rest } = { ...was, person: want.person, name: who.name, client: who.client };
      return error.code === "signed_out" ? { ...rest, signed: undefined } : rest;
    });
    lock(why);
  } finally {
    trying = false;
  }
}

export function lock(why?: string): void {
  if (!me.peek()) return;
  waiting = undefined;
  closeSheet();
  lockedBecause.value = why;
  me.value = undefined;
  notices.value = [];
  go("/", true);
}

/** After signing in by a link: the PIN that this person will type from now on. */
export async function choosePin(signed: SignedIn, pin: string): Promise<"in" | "unreached" | "refused" | "late"> {
  try {
    await auth.setPin(pin);
  } catch (error) {
    if (error instanceof Failure && error.code === "link_too_old") return "late";
    return error instanceof Failure && !error.transient ? "refused" : "unreached";
  }
  const verifier = await verifierOf(pin);
  await db.changePerson(signed.person, (was) => ({
    ...was,
    person: signed.person,
    name: signed.name,
    client: signed.client,
    signed,
    verifier,
    wrong: undefined,
  }));
  withoutPin.value = undefined;
  me.value = signed;
  arrive();
  return "in";
}

/**
 * Turns sharing on. The server must know on which browser this person is signed in: a sign-in from before
 * that is replaced by a new one of the same person and client.
 */
export async function share(who: SignedIn): Promise<void> {
  const row = await db.personHere(who.person);
  if (!row?.browser) {
    const { token } = await auth.transfer();
    const before = who.session;
    await adopt(await auth.join(tokenOf(token), { ...thisBrowser(), client: who.client }), true);
    await auth.forgetDevice(before).catch(() => undefined);
  }
  languageBecomes(who.person);
  await db.set("shared", true);
  shared.value = true;
  // Whoever has no PIN signs in by password from now on.
  if (who.role === "admin") return;
  withoutPin.value = me.peek() ?? who;
  me.value = undefined;
}

export async function stopSharing(): Promise<void> {
  // From now on the browser starts as whom its cookies are of: that must be who asks for it.
  if ((await db.signedIn())?.person !== me.peek()?.person) {
    say(t("not-reached-now"));
    return;
  }
  await db.set("shared", undefined);
  shared.value = false;
  say(t("saved"));
}

export async function setMinutes(to: number): Promise<void> {
  minutes.value = to;
  await db.set("lock_minutes", to);
}

// Locking by itself

let last = Date.now();
const touched = (): void => {
  last = Date.now();
};

/** Looks every few seconds, and at once when the tablet wakes, for timers stand still while it sleeps. */
export function watch(): void {
  db.get<number>("lock_minutes").then(
    (kept) => {
      if (kept) minutes.value = kept;
    },
    () => undefined,
  );
  const look = (): void => {
    if (shared.peek() && me.peek() && Date.now() - last >= minutes.peek() * 60_000) lock();
  };
  for (const kind of ["pointerdown", "keydown", "wheel", "touchmove"])
    addEventListener(kind, touched, { passive: true, capture: true });
  document.addEventListener("visibilitychange", look);
  setInterval(look, 5_000);
  addEventListener("online", () => void tryToChange());
  effect(() => {
    if (reach.value.live) void tryToChange();
  });
}
