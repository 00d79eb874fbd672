import { describe, expect, it } from "vitest";
import type { Card, Order } from "../api/types";
import { holdOn } from "./cards";
import { canCloseUp, closerOf, undoneInside } from "./close-up";

const by = <T extends { id: string }>(...all: T[]): Map<string, T> => new Map(all.map((one) => [one.id, one]));

describe("a vehicle is closed up so that it rolls", () => {
  const card = (id: string, more: object): Card =>
    ({
      id,
      order: "o",
      department: "mechanical",
      title: { text: id },
      planned_minutes: 60,
      life: "waiting",
      after: [],
      spans: [],
      checks: [],
      cautions: ["lift"],
      ...more,
    }) as unknown as Card;
  const after = (...ids: string[]) => ids.map((id) => ({ card: id, lag_minutes: 0 }));
  const all = [
    card("drop", { opens: "down", equipment: "lift", life: "done" }),
    card("seal", { inside: "down", department: "body", after: after("drop") }),
    card("refit", { closes: "down", equipment: "lift", after: after("seal") }),
  ];
  const order = {
    id: "o",
    number: "2041",
    cards: all.map((one) => one.id),
    open: [{ open: "down", by: "drop", since: 1 }],
    holds: [],
  } as unknown as Order;
  const can = (cards: Card[], more: object = {}): boolean =>
    canCloseUp(by(...cards), { ...order, cards: cards.map((one) => one.id), ...more } as Order, "down");

  it("once, and only where nobody works and something waits", () => {
    expect(can(all)).toBe(true);
    expect(can([all[0], { ...all[1], life: "working" }, all[2]] as Card[])).toBe(false);
    expect(can([all[0], { ...all[1], life: "done" }, all[2]] as Card[])).toBe(false);
    expect(can(all, { open: [] })).toBe(false);
    const again = [card("close", { closes: "down" }), card("reopen", { opens: "down", after: after("close") })];
    const being = [
      all[0],
      { ...all[1], after: after("drop", "reopen") },
      { ...all[2], after: after("seal", "reopen") },
      ...again,
    ] as Card[];
    expect(can(being)).toBe(false);
    // A hold of the whole vehicle keeps it from being closed for good, not from being closed meanwhile.
    const hold = { id: "h", what: "parts", cards: [], blocks: "start", since: 1 };
    const held = { ...order, cards: being.map((one) => one.id), holds: [hold] } as unknown as Order;
    expect(
      being.filter((one) => one.closes).map((one) => [one.id, holdOn(one, held, by(...being), "start")?.id]),
    ).toEqual([
      ["refit", "h"],
      ["close", undefined],
    ]);
    // Then nothing is forgotten by closing it, and the last closing is the one that others join.
    expect(undoneInside(by(...being), { ...order, cards: being.map((one) => one.id) } as Order, "down")).toEqual([]);
    expect(closerOf(by(...being), being, "down")?.id).toBe("refit");
    expect(undoneInside(by(...all), order, "down").map((one) => one.id)).toEqual(["seal"]);
  });
});
