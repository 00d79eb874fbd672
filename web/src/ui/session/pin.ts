// A PIN as it is kept on the tablet, and how long one waits after wrong ones.
// Invariants: the PIN itself is kept nowhere; a wrong one costs more each time.
// A PIN of four digits keeps people's work apart. Whoever takes the tablet away can try all of them.
import type { PersonHere, Verifier } from "../../db";

export const PIN_MIN = 4;
export const PIN_MAX = 8;
/** OWASP's password storage cheat sheet asks for 210,000 of SHA-512 and 600,000 of SHA-256 at most; between them a slow tablet still answers within a second. */
export const ROUNDS = 310_000;

const hex = (bytes: Uint8Array): string => [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
const bytes = (text: string): Uint8Array<ArrayBuffer> =>
  Uint8Array.from(text.match(/../g) ?? [], (pair) => parseInt(pair, 16));

/** PBKDF2 with HMAC-SHA-256, 32 bytes (RFC 8018). */
export async function derive(pin: string, salt: Uint8Array<ArrayBuffer>, rounds: number): Promise<string> {
  const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(pin), "PBKDF2", false, ["deriveBits"]);
  const bits = await crypto.subtle.deriveBits({ name: "PBKDF2", hash: "SHA-256", salt, iterations: rounds }, key, 256);
  return hex(new Uint8Array(bits));
}

export async function verifierOf(pin: string, rounds = ROUNDS): Promise<Verifier> {
  const salt = crypto.getRandomValues(new Uint8Array(16));
  return { salt: hex(salt), rounds, hash: await derive(pin, salt, rounds) };
}

export const fits = async (pin: string, verifier: Verifier): Promise<boolean> =>
  (await derive(pin, bytes(verifier.salt), verifier.rounds)) === verifier.hash;

const WAIT_MS_MAX = 5 * 60_000;

/** Two slips of a gloved finger are free; then 5 s, 10 s, 20 s and so on to 5 minutes. */
export const waitAfter = (wrong: number): number => (wrong < 3 ? 0 : Math.min(WAIT_MS_MAX, 5_000 * 2 ** (wrong - 3)));

/** What is kept after another wrong PIN. */
export function oneMoreWrong(was: PersonHere["wrong"], now: number): { count: number; until: number } {
  const count = (was?.count ?? 0) + 1;
  return { count, until: now + waitAfter(count) };
}

/** Whether a PIN is to be believed at all at this time; a clock set back does not shorten the wait past its length. */
export const mustWait = (wrong: PersonHere["wrong"], now: number): number =>
  wrong ? Math.max(0, Math.min(wrong.until - now, waitAfter(wrong.count))) : 0;
