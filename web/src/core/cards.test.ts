import { describe, expect, it } from "vitest";
import type { Card, Hold, Order, PlanRow } from "../api/types";
import { holdOn, stretches, type QueueEntry } from "./cards";

const card = { id: "seal", order: "o", after: [], life: "waiting" } as unknown as Card;
const cards = new Map([[card.id, card]]);
const hold = (what: Hold["what"], on: string[] = []): Hold => ({
  id: what,
  what,
  cards: on,
  blocks: "start",
  since: 1,
});
const order = (holds: Hold[], stage: Order["stage"] = "authorised"): Order =>
  ({ id: "o", stage, holds, cards: [card.id] }) as unknown as Order;

describe("what holds a card", () => {
  it("is of several the one that the shop names first", () => {
    const holds = [hold("other"), hold("customer"), hold("parts", ["seal"]), hold("approval"), hold("sublet")];
    const named: (string | undefined)[] = [];
    for (let left = holds; left.length; left = left.filter((one) => one.id !== named.at(-1)))
      named.push(holdOn(card, order(left), cards, "start")?.id);
    expect(named).toEqual(["sublet", "approval", "parts", "customer", "other"]);
  });

  it("is no hold of the whole vehicle once it is stopped", () => {
    expect(holdOn(card, order([hold("approval")], "stopped"), cards, "start")).toBeUndefined();
    expect(holdOn(card, order([hold("parts", ["seal"])], "stopped"), cards, "start")?.id).toBe("parts");
  });
});

describe("a queue in three stretches", () => {
  const hour = 3_600_000;
  const at = (id: string, from: number | undefined, more: object = {}): QueueEntry => ({
    card: { id, order: "o", life: "waiting", after: [], spans: [], ...more } as unknown as Card,
    row: from === undefined ? undefined : ({ from } as PlanRow),
  });

  it("puts what can be taken above what cannot, whatever its place, and folds what is far", () => {
    const before = { id: "before", life: "waiting", after: [] } as unknown as Card;
    const waits = { after: [{ card: "before", lag_minutes: 0 }] };
    const entries = [
      at("waits", hour, waits),
      at("free", 3 * 24 * hour),
      at("taken", hour, { taken_by: "p" }),
      at("far", 30 * hour, waits),
      at("new", undefined, waits),
    ];
    const cards = new Map([before, ...entries.map(({ card }) => card)].map((card) => [card.id, card]));
    const found = stretches(entries, new Map([["o", { holds: [], cards: [] } as unknown as Order]]), cards, 0);
    const ids = (all: QueueEntry[]): string[] => all.map(({ card }) => card.id);
    expect([found.now, found.soon, found.later].map(ids)).toEqual([["free"], ["waits", "taken"], ["far", "new"]]);
  });
});
