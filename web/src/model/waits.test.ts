import { describe, expect, it } from "vitest";
import type { Binding, Hold, Order } from "../api/types";
import * as fixture from "../../test/shop-fixture";
import { at, NOW } from "../../test/shop-fixture";
import {
  askedMeanwhile,
  helpFor,
  inShop,
  late,
  seen,
  unanswered,
  whatHolds,
  whoWaits,
  type Late,
  type ShopPicture,
} from "./waits";

const map = <T extends { id: string }>(list: T[]) => new Map(list.map((one) => [one.id, one]));
const picture = (): ShopPicture => ({
  orders: map(fixture.orders),
  cards: map(fixture.cards),
  handoffs: map(fixture.handoffs),
  plan: fixture.plan,
  now: NOW,
});
const rank = (id: string) => fixture.departments.find((one) => one.id === id)?.rank ?? 99;

describe("who waits for whom", () => {
  it("groups by the department waited for, then outside, longest first", () => {
    const groups = whoWaits(picture(), rank).map((group) => [group.of, group.waits.map((one) => one.order.number)]);
    expect(groups).toEqual([
      ["mechanical", ["2055", "2050", "2052"]],
      ["refinish", ["2056"]],
      ["outside", ["2035", "2047", "2060", "2058"]],
    ]);
  });

  it("knows who asked", () => {
    const waits = whoWaits(picture(), rank).flatMap((group) => group.waits);
    const pickup = waits.find((one) => one.order.number === "2052");
    expect(pickup).toMatchObject({ department: "mechanical", since: at(57.1), asked: { from: "body" } });
    expect(waits.find((one) => one.order.number === "2055")?.by?.number).toBe("2041");
  });

  it("says nothing of vehicles that are gone or not here yet", () => {
    const p = picture();
    p.orders = map(
      fixture.orders.map((one) => (one.number === "2052" ? { ...one, stage: "delivered" as const } : one)),
    );
    expect(whoWaits(p, rank).flatMap((g) => g.waits.map((w) => w.order.number))).not.toContain("2052");
  });

  it("lists what was asked while work goes on", () => {
    const p = picture();
    const ask = { ...fixture.handoffs[0], id: "more", life: "asked" } as (typeof fixture.handoffs)[number];
    p.handoffs = map([...fixture.handoffs, ask]);
    expect(askedMeanwhile(p).map((one) => one.id)).toEqual(["more"]);
    expect(askedMeanwhile(picture())).toEqual([]);
  });
});

describe("late", () => {
  it("puts the latest first, and its causes before what merely follows", () => {
    const all = late(picture());
    expect(all.map((one) => [one.order.number, one.lateMinutes])).toEqual([
      ["2041", 1320],
      ["2035", 1080],
      ["2052", 120],
    ]);
    const words = (links: { card?: { title: { text: string } }; binding: { kind: string } }[] | undefined) =>
      links?.map((link) => [link.card?.title.text, link.binding.kind]);
    expect(words(all[0]?.chain)).toEqual([
      ["Seal wheelhouse seam", "started"],
      ["Suspension up", "curing"],
      ["Paint quarter", "equipment"],
    ]);
    expect(words(all[0]?.causes)).toEqual([
      ["Suspension up", "curing"],
      ["Paint quarter", "equipment"],
    ]);
    // One thing simply after another: the first of them is all there is to say.
    expect(words(all[2]?.causes)).toEqual([["Fuel tank out", "people"]]);
  });
});

describe("what to do about it", () => {
  const [wagon] = late(picture());
  const because = (...bindings: Binding[]) =>
    helpFor({ ...(wagon as Late), causes: bindings.map((binding) => ({ card: undefined, binding })) });

  it("going first is offered where somebody else is served before, and only there", () => {
    expect(because({ kind: "curing", until: NOW }).first).toBe(false);
    expect(because({ kind: "shift", until: NOW }, { kind: "one_run", until: NOW }).first).toBe(false);
    expect(because({ kind: "curing", until: NOW }, { kind: "people", department: "body", until: NOW }).first).toBe(
      true,
    );
  });

  it("another day is offered for what is still awaited", () => {
    const order = fixture.orders.find((one) => one.holds.some((hold) => hold.ended == null));
    const hold = order?.holds.find((one) => one.ended == null);
    const of = (holds: Hold[]) =>
      helpFor({
        ...(wagon as Late),
        order: { ...(order as Order), holds },
        causes: [{ card: undefined, binding: { kind: "hold", what: (hold as Hold).what } }],
      }).hold;
    expect(of([hold as Hold])).toBe(hold);
    expect(of([{ ...(hold as Hold), ended: NOW }])).toBeUndefined();
  });
});

describe("what holds which equipment", () => {
  const held = () => {
    const p = picture();
    return whatHolds(p, seen(p), fixture.equipment);
  };

  it("puts what is blocked first: held, and nobody works there", () => {
    const [first] = held();
    expect(first).toMatchObject({
      equipment: { id: "bench-1" },
      order: { number: "2050" },
      open: "on-the-bench",
      working: [],
    });
    expect(first?.waitsFor).toMatchObject({ card: { title: { text: "Scan" } }, at: at(64) });
  });

  it("names the work inside an open vehicle, whoever's department it is", () => {
    const lift = held().find((one) => one.equipment.id === "lift-2");
    expect(lift).toMatchObject({ order: { number: "2041" }, open: "suspension-down-rear", since: at(31) });
    expect(lift?.working.map((card) => card.title.text)).toEqual(["Seal wheelhouse seam"]);
    expect(lift?.next?.order.number).toBe("2055");
  });

  it("knows what is out of service, whose inspection is overdue, and what is free for whom", () => {
    const all = held();
    expect(all.find((one) => one.equipment.id === "lift-3")).toMatchObject({ outUntil: at(80), outReason: "arm lock" });
    const free = all.find((one) => one.equipment.id === "lift-1");
    expect(free?.order).toBeUndefined();
    expect(free).toMatchObject({ inspectionDue: at(-480), next: { order: { number: "2052" }, at: at(62.5) } });
  });
});

describe("exceptions and counts", () => {
  it("puts undone work that was closed in before everything else", () => {
    expect(unanswered(fixture.exceptions).map((one) => one.kind)).toEqual(["closed_over_undone", "moved_open"]);
    expect(
      unanswered([
        { ...fixture.exceptions[0], answered_at: NOW, answered_by: "p-boss" } as (typeof fixture.exceptions)[number],
      ]),
    ).toEqual([]);
  });

  it("counts every vehicle in the shop once", () => {
    const p = picture();
    const total = inShop(seen(p)).reduce((sum, one) => sum + one.count, 0);
    expect(total).toBe(fixture.orders.filter((one) => one.stage !== "expected" && one.stage !== "delivered").length);
  });
});
