// A PIN is kept as RFC 8018 says, and a wrong one costs more each time.
import { describe, expect, it } from "vitest";
import { derive, fits, mustWait, oneMoreWrong, ROUNDS, verifierOf, waitAfter } from "./pin";

const bytes = (text: string): Uint8Array<ArrayBuffer> => Uint8Array.from(new TextEncoder().encode(text));

describe("what is kept of a PIN", () => {
  // RFC 7914, section 11: PBKDF2-HMAC-SHA-256 test vectors, their first 32 octets.
  it.each([
    ["passwd", "salt", 1, "55ac046e56e3089fec1691c22544b605f94185216dde0465e68b9d57c20dacbc"],
    ["Password", "NaCl", 80_000, "4ddcd8f60b98be21830cee5ef22701f9641a4418d04c0414aeff08876b34ab56"],
  ])("is PBKDF2: %s, %s, %i", async (pin, salt, rounds, hash) => {
    expect(await derive(pin, bytes(salt), rounds)).toBe(hash);
  });

  it("fits the PIN and no other, and differs each time", async () => {
    const [one, other] = [await verifierOf("4711", 10), await verifierOf("4711", 10)];
    expect(await fits("4711", one)).toBe(true);
    expect(await fits("4712", one)).toBe(false);
    expect(one.hash).not.toBe(other.hash);
    expect(JSON.stringify(one)).not.toContain("4711");
  });

  it("costs at least 210,000 rounds", () => expect(ROUNDS).toBeGreaterThanOrEqual(210_000));
});

describe("after wrong ones", () => {
  it("the wait grows, to five minutes", () => {
    expect([1, 2, 3, 4, 5, 6, 9, 40].map(waitAfter)).toEqual([0, 0, 5_000, 10_000, 20_000, 40_000, 300_000, 300_000]);
  });

  it("no PIN is looked at until it is over", () => {
    let wrong = oneMoreWrong(undefined, 0);
    for (const at of [1, 2]) wrong = oneMoreWrong(wrong, at);
    expect(wrong).toEqual({ count: 3, until: 5_002 });
    expect(mustWait(wrong, 1_002)).toBe(4_000);
    expect(mustWait(wrong, 5_002)).toBe(0);
    expect(mustWait(undefined, 0)).toBe(0);
  });

  it("a clock that was set back does not make it endless", () => {
    expect(mustWait({ count: 3, until: 9_000_000 }, 0)).toBe(5_000);
  });
});
