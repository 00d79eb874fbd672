import { describe, expect, it } from "vitest";
import type { Card, Hold, Order } from "../api/types";
import { holdOn } from "./cards";

const card = { id: "seal", order: "o", after: [], life: "waiting" } as unknown as Card;
const cards = new Map([[card.id, card]]);
const hold = (what: Hold["what"], on: string[] = []): Hold => ({ id: what, what, cards: on, blocks: "start", since: 1 });
const order = (holds: Hold[], stage: Order["stage"] = "authorised"): Order => ({ id: "o", stage, holds, cards: [card.id] }) as unknown as Order;

describe("what holds a card", () => {
  it("is of several the one that the shop names first", () => {
    const holds = [hold("other"), hold("customer"), hold("parts", ["seal"]), hold("approval"), hold("sublet")];
    const named: (string | undefined)[] = [];
    for (let left = holds; left.length; left = left.filter((one) => one.id !== named.at(-1))) named.push(holdOn(card, order(left), cards, "start")?.id);
    expect(named).toEqual(["sublet", "approval", "parts", "customer", "other"]);
  });

  it("is no hold of the whole vehicle once it is stopped", () => {
    expect(holdOn(card, order([hold("approval")], "stopped"), cards, "start")).toBeUndefined();
    expect(holdOn(card, order([hold("parts", ["seal"])], "stopped"), cards, "start")?.id).toBe("parts");
  });
});
