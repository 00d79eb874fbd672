import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Order } from "../api/types";
import * as fixture from "../../test/shop-fixture";
import { at, NOW } from "../../test/shop-fixture";
import {
  departmentsNext,
  inTrouble,
  nextVehicles,
  placeIn,
  shownFirst,
  stripOf,
  troubleSpan,
  waitedHours,
  type Chance,
  type Trouble,
} from "./glance";
import { seen, whatHolds, whoWaits, type ShopPicture } from "./waits";

const map = <T extends { id: string }>(list: T[]) => new Map(list.map((one) => [one.id, one]));
const picture = (): ShopPicture => ({
  orders: map(fixture.orders),
  cards: map(fixture.cards),
  handoffs: map(fixture.handoffs),
  plan: fixture.plan,
  now: NOW,
});
const numbers = (rows: { order: Order }[]) => rows.map((one) => one.order.number);
const chance = (kept: number | null, p50 = at(90), p90 = at(120)): Chance => ({ kept, p50, p90 });

describe("in trouble", () => {
  it("is what is late, and what is rather not kept, the smallest chance first", () => {
    const chances = new Map([
      ["o-2041", chance(0)],
      ["o-2052", chance(0.4)],
      ["o-2035", chance(0.02)],
      ["o-2039", chance(0.1)],
      ["o-2056", chance(0.5)],
      ["o-2055", chance(0.9)],
      ["o-2058", chance(null)],
    ]);
    expect(numbers(inTrouble(picture(), chances))).toEqual(["2041", "2035", "2039", "2052"]);
  });

  it("knows what is late without a forecast, too", () => {
    expect(numbers(inTrouble(picture(), new Map()))).toEqual(["2041", "2035", "2052"]);
  });

  it("does not lose a promise that has passed, whatever the plan says", () => {
    const p = picture();
    p.orders = map(fixture.orders.map((one) => (one.number === "2039" ? { ...one, promise: at(50) } : one)));
    p.plan = {
      ...fixture.plan,
      vehicles: fixture.plan.vehicles.map((one) => (one.order === "o-2039" ? { ...one, promise: at(50) } : one)),
    };
    expect(numbers(inTrouble(p, new Map()))).toContain("2039");
  });

  it("is in any order of the plan the same list", () => {
    const chances = new Map(fixture.orders.map((one, n) => [one.id, chance(((n * 7) % 10) / 20)]));
    const is = numbers(inTrouble(picture(), chances));
    fc.assert(
      fc.property(
        fc.shuffledSubarray(fixture.plan.vehicles, { minLength: fixture.plan.vehicles.length }),
        (vehicles) => {
          expect(numbers(inTrouble({ ...picture(), plan: { ...fixture.plan, vehicles } }, chances))).toEqual(is);
        },
      ),
    );
  });
});

const trouble = fc.record({
  late: fc.boolean(),
  kept: fc.option(fc.double({ min: 0, max: 1, noNaN: true }), { nil: undefined }),
});

describe("what is shown first", () => {
  it("never leaves out what is late, keeps the order, and is no longer than the room or the late ones", () => {
    fc.assert(
      fc.property(fc.array(trouble, { maxLength: 40 }), fc.nat(12), (list, room) => {
        const all = list as Trouble[];
        const shown = shownFirst(all, room);
        expect(all.filter((one) => one.late && !shown.includes(one))).toEqual([]);
        expect(shown).toEqual(all.filter((one) => shown.includes(one)));
        expect(shown.length).toBe(Math.max(Math.min(room, all.length), all.filter((one) => one.late).length));
      }),
    );
  });

  it("has one scale in which now, promises and likely ends lie", () => {
    const rows = inTrouble(picture(), new Map([["o-2041", chance(0, at(300), at(900))]]));
    const span = troubleSpan(rows, NOW);
    for (const row of rows) {
      if (row.promise !== undefined && row.promise > NOW) expect(placeIn(span, row.promise).beyond).toBe(false);
      if (row.likely !== undefined) expect(placeIn(span, row.likely).beyond).toBe(false);
    }
    expect(placeIn(span, at(900))).toEqual({ share: 1, beyond: true });
    expect(placeIn(span, at(-900))).toEqual({ share: 0, beyond: true });
  });
});

describe("lifts", () => {
  const held = (id: string) =>
    whatHolds(picture(), seen(picture()), fixture.equipment).find((one) => one.equipment.id === id)!;
  const day = { from: at(48), to: at(96) };

  it("show what stands there from when it came until it goes, then what comes", () => {
    expect(stripOf(held("lift-2"), day, NOW)).toMatchObject([
      { kind: "held", from: at(48), to: at(62.5), idle: false, open: false },
      { kind: "next", from: at(63), to: at(64) },
    ]);
    expect(stripOf(held("lift-3"), day, NOW)).toMatchObject([{ kind: "out", to: at(80) }]);
  });

  it("leave the end open where nobody knows it", () => {
    const [part] = stripOf({ ...held("lift-2"), until: undefined }, day, NOW);
    expect(part).toMatchObject({ kind: "held", to: NOW, open: true });
  });
});

describe("departments", () => {
  it("have hours that vehicles stood for them", () => {
    const hours = waitedHours(
      whoWaits(picture(), (id) => fixture.departments.find((one) => one.id === id)?.rank ?? 9),
      NOW,
    );
    expect(hours[0]).toMatchObject({ of: "mechanical", count: 3 });
    expect(hours[0]!.hours).toBeCloseTo(3 * 58.333 - 55 - 56 - 57.1, 1);
  });

  it("have three vehicles next, each once, and none that is being worked on there", () => {
    expect(nextVehicles(picture(), "mechanical").map((one) => one.order)).toEqual(["o-2041", "o-2052", "o-2055"]);
    expect(nextVehicles(picture(), "body").map((one) => one.order)).not.toContain("o-2041");
    expect(departmentsNext(picture(), fixture.departments).map((one) => one.department.id)).toEqual([
      "body",
      "mechanical",
      "refinish",
    ]);
  });
});
