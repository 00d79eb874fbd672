import { expect, it } from "vitest";
import type { Card, Order, Person, Shop } from "../api/types";
import { firstSteps, type Beginning } from "./first-steps";

const begun: Beginning = {
  shop: { name: "New shop" } as Shop,
  people: [{ id: "me" } as Person],
  orders: new Map(),
  cards: [],
  me: "me",
  looked: false,
};
const done = (now: Partial<Beginning>): string[] =>
  firstSteps({ ...begun, ...now })
    .filter((step) => step.done)
    .map((step) => step.what);

it("each step ticks itself by what is there", () => {
  expect(done({})).toEqual([]);
  expect(done({ shop: { name: "Two Rivers Body" } as Shop })).toEqual(["shop"]);
  expect(done({ people: [{ id: "me" } as Person, { id: "b", retired: true } as Person] })).toEqual([]);
  expect(done({ people: [{ id: "me" } as Person, { id: "b" } as Person], looked: true })).toEqual([
    "people",
    "equipment",
  ]);
  expect(done({ orders: new Map([["o", {} as Order]]), cards: [{ taken_by: "me" } as Card, {} as Card] })).toEqual([
    "order",
  ]);
  expect(done({ cards: [{ taken_by: "b" } as Card] })).toEqual(["phones"]);
});
