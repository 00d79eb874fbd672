import { describe, expect, it } from "vitest";
import type { Card } from "../api/types";
import * as fixture from "../../test/shop-fixture";
import { at, NOW } from "../../test/shop-fixture";
import { inTripOrder, openLoops, promiseLine } from "./vehicle";
import { signs } from "./signs";

const wagon = fixture.orders.find((one) => one.number === "2041")!;
const own = fixture.cards.filter((one) => one.order === wagon.id);
const left = own.filter((one) => one.life !== "done");
const names = (list: Card[]) => list.map((one) => one.id.replace("o-2041-", ""));

describe("work in the order of the trip", () => {
  it("what runs stands first, then as planned, however the cards were laid out", () => {
    for (const cards of [left, [...left].reverse()])
      expect(names(inTripOrder(cards, fixture.plan))).toEqual(["seal", "refit", "paint"]);
  });

  it("what no plan knows comes after what it waits for, and what was begun before what was not", () => {
    const [seal, refit, paint] = left as [Card, Card, Card];
    const wax: Card = { ...paint, id: "o-2041-wax", after: [{ card: refit.id, lag_minutes: 0 }] };
    const aim: Card = { ...paint, id: "o-2041-aim", after: [{ card: wax.id, lag_minutes: 0 }] };
    expect(names(inTripOrder([aim, wax, paint, refit, seal], fixture.plan))).toEqual([
      "seal",
      "refit",
      "wax",
      "aim",
      "paint",
    ]);
    expect(names(inTripOrder([aim, wax, refit], undefined))).toEqual(["refit", "wax", "aim"]);
    const paused: Card = {
      ...paint,
      life: "paused",
      spans: [{ id: "s", person: "p-mina", from: at(1), to: at(2), uncertain: false, corrected: false }],
    };
    expect(names(inTripOrder([refit, paused, seal], fixture.plan))).toEqual(["seal", "paint", "refit"]);
  });

  it("ends where cards wait for each other in a circle", () => {
    const [one, other] = left as [Card, Card];
    const a: Card = { ...one, id: "a", life: "waiting", spans: [], after: [{ card: "b", lag_minutes: 0 }] };
    const b: Card = { ...other, id: "b", after: [{ card: "a", lag_minutes: 0 }] };
    expect(inTripOrder([a, b], undefined)).toHaveLength(2);
  });
});

describe("what is open", () => {
  it("has its lift, who works inside, and when the plan closes it", () => {
    expect(openLoops(wagon, own, fixture.plan, NOW)).toEqual([
      { open: "suspension-down-rear", since: at(33), equipment: "lift-2", people: ["p-ilse"], until: at(62.5) },
    ]);
  });

  it("is not closed in the past, and by no time where no plan says one", () => {
    expect(openLoops(wagon, own, fixture.plan, at(70))[0]?.until).toBe(at(70));
    expect(openLoops(wagon, own, undefined, NOW)[0]?.until).toBeUndefined();
    expect(openLoops({ ...wagon, open: [] }, own, fixture.plan, NOW)).toEqual([]);
  });
});

describe("the promise against the likely and the safe date", () => {
  it("stands by time on one scale, and says what lies beyond it", () => {
    const line = promiseLine(0, 100, 50, 150)!;
    expect(line.dates.map((one) => one.name)).toEqual(["likely", "promise", "safe"]);
    const [likely, promise, safe] = line.dates.map((one) => one.x) as [number, number, number];
    expect(promise / likely).toBeCloseTo(2);
    expect(safe / likely).toBeCloseTo(3);
    expect(safe).toBeLessThan(100);
    expect(line.broken).toBe(false);
    expect(line.band).toEqual([likely, safe]);
    expect(line.beyond).toEqual([promise, safe]);
  });

  it("kept: nothing is beyond; past already: all of it is", () => {
    expect(promiseLine(0, 200, 50, 150)?.beyond).toBeUndefined();
    const past = promiseLine(100, 40, 120, 180)!;
    expect(past.dates[0]).toMatchObject({ name: "promise", x: 0 });
    expect(past.beyond).toEqual(past.band);
  });

  it("a long way to the first of them is broken off, so that what matters keeps its length", () => {
    const day = 24 * 3_600_000;
    const line = promiseLine(0, 9.2 * day, 9 * day, 9.4 * day)!;
    const [likely, promise, safe] = line.dates.map((one) => one.x) as [number, number, number];
    expect(line.broken).toBe(true);
    expect(promise - likely).toBeGreaterThan(30);
    expect(promise - likely).toBeCloseTo(safe - promise);
  });

  it("says what there is", () => {
    expect(promiseLine(0, undefined, undefined, undefined)).toBeUndefined();
    expect(promiseLine(0, 10, undefined, undefined)?.band).toBeUndefined();
  });
});

describe("the condition as signs", () => {
  it("has lifting points and weight first, and what nobody said as unknown", () => {
    expect(signs({ weight_off: [], loose: [] }).map(({ name, is }) => `${name} ${is}`)).toEqual([
      "points unknown",
      "weight good",
      "rolls unknown",
      "steers unknown",
      "loose good",
    ]);
  });

  it("says what to mind", () => {
    const of = signs({
      lifting_points: "doubtful",
      weight_off: ["rear", "front"],
      rolls: false,
      steers: true,
      loose: ["seats_out", "trim_out"],
    });
    expect(of.map(({ is, says }) => `${is} ${says}`)).toEqual([
      "bad doubtful",
      "bad both",
      "bad no",
      "good yes",
      "bad some",
    ]);
    expect(of[4]?.count).toBe(2);
  });
});
