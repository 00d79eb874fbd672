import fc from "fast-check";
import { expect, it } from "vitest";
import type { Card } from "../../api/types";
import type { QueueEntry } from "../../core/cards";
import { arranged, inPlace, type Held, type HeldEntry } from "./held";

const entries = (ids: string[]): QueueEntry[] => ids.map((id) => ({ card: { id } as Card, row: undefined }));
const held = (now: string[], soon: string[], later: string[]): Held =>
  arranged({ now: entries(now), soon: entries(soon), later: entries(later) }, () => true);
const rows = ({ first, now, soon, later }: Held): (HeldEntry | undefined)[] => [first, ...now, ...soon, ...later];
const said = (all: Held): string =>
  rows(all)
    .map((entry) => (entry ? entry.card.id + (entry.gone ? "-" : "") : "."))
    .join(" ");

it("what left stays in its place and does nothing, what came waits", () => {
  const old = held(["a", "b"], ["c", "d"], ["e"]);
  expect(said(inPlace(old, held(["c", "a", "x"], ["e"], [])))).toBe("a b- c d- e");
  expect(said(inPlace(old, held([], [], [])))).toBe("a- b- c- d- e-");
});

it("under a thumb is the same row through 200 plans", () => {
  const ids = fc.uniqueArray(fc.constantFrom(..."abcdefghijklmnop"), { maxLength: 16 });
  const list = fc
    .tuple(ids, fc.nat(16), fc.nat(16))
    .map(([all, a, b]) => held(all.slice(0, a), all.slice(a, a + b), all.slice(a + b)));
  fc.assert(
    fc.property(fc.array(list, { minLength: 200, maxLength: 200 }), ([first, ...plans]) => {
      if (!first) return;
      const stood = rows(first).map((entry) => entry?.card.id);
      plans.reduce((shown, plan) => {
        const next = inPlace(shown, plan);
        expect(rows(next).map((entry) => entry?.card.id)).toEqual(stood);
        return next;
      }, first);
    }),
    { numRuns: 20 },
  );
});
