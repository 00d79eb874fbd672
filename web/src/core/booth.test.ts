import { describe, expect, it } from "vitest";
import type { Card, Equipment, Order, Plan, PlanRow } from "../api/types";
import { bakeLimit, loads } from "./booth";

const MIN = 60_000;
const booth: Equipment = {
  id: "booth-1",
  title: { text: "Booth" },
  kind: "booth",
  department: "refinish",
  out_of_service: [],
  retired: false,
};

const card = (id: string, more: Partial<Card> = {}): Card => ({
  id,
  order: `o-${id.slice(0, 1)}`,
  department: "refinish",
  title: { text: id },
  planned_minutes: 90,
  after: [],
  off_vehicle: false,
  beside: false,
  one_go: false,
  checks: [],
  cautions: [],
  life: "waiting",
  helpers: [],
  spans: [],
  checks_done: [],
  created_at: 0,
  ...more,
});

const paint = (id: string, more: Partial<Card> = {}) =>
  card(id, { equipment: "booth", opens: "in-the-booth", ...more });
const unload = (id: string) => card(id, { equipment: "booth", closes: "in-the-booth" });
const loose = (id: string, more: Partial<Card> = {}) => card(id, { equipment: "booth", off_vehicle: true, ...more });

function shop(cards: Card[], times: Record<string, [number, number]>, orders: Partial<Order>[] = []) {
  const ids = [...new Set(cards.map((one) => one.order))];
  const known = ids.map(
    (id) =>
      ({
        id,
        number: id,
        holds: [],
        open: [],
        energy: { high_voltage: "none" },
        cards: cards.filter((one) => one.order === id).map((one) => one.id),
        ...orders.find((one) => one.id === id),
      }) as unknown as Order,
  );
  const rows = Object.entries(times).map(
    ([id, [from, to]]) => ({ card: id, from: from * MIN, to: to * MIN, equipment: "booth-1" }) as unknown as PlanRow,
  );
  return {
    cards: new Map(cards.map((one) => [one.id, one])),
    orders: new Map(known.map((one) => [one.id, one])),
    equipment: new Map([[booth.id, booth]]),
    plan: { rows } as Plan,
  };
}

const said = (all: ReturnType<typeof loads>) =>
  all.map((one) =>
    `${one.card.id} ${one.from / MIN}-${one.to / MIN} + ${one.with.map((part) => part.id).join(" ")}`.trim(),
  );

describe("the loads of the booth", () => {
  it("a vehicle is in it until it is unloaded, a loose part as long as its card", () => {
    const it = shop([paint("a-paint"), unload("a-unload"), loose("b-paint", { ready_at: 500 * MIN })], {
      "a-paint": [0, 90],
      "a-unload": [140, 155],
      "b-paint": [600, 690],
    });
    expect(said(loads(it, 0, 1_000 * MIN))).toEqual(["a-paint 0-155 +", "b-paint 600-690 +"]);
    expect(said(loads(it, 156 * MIN, 600 * MIN))).toEqual([]);
    expect(said(loads(it, 154 * MIN, 601 * MIN))).toEqual(["a-paint 0-155 +", "b-paint 600-690 +"]);
  });

  it("loose parts that are ready when a load begins could go in with it", () => {
    const prep = card("b-prep", { off_vehicle: true });
    const parts = [
      prep,
      loose("b-paint", { after: [{ card: "b-prep", lag_minutes: 10 }] }),
      loose("c-paint", { ready_at: 0 }),
      loose("d-paint", { ready_at: 101 * MIN }),
    ];
    const times = {
      "a-paint": [100, 190],
      "b-prep": [30, 90],
      "b-paint": [300, 390],
      "c-paint": [400, 490],
      "d-paint": [500, 590],
    } as Record<string, [number, number]>;
    const it = () => shop([paint("a-paint"), ...parts], times);
    expect(said(loads(it(), 0, 1_000 * MIN))[0]).toBe("a-paint 100-190 + b-paint c-paint");
    times["b-prep"] = [31, 91];
    expect(said(loads(it(), 0, 1_000 * MIN))[0]).toBe("a-paint 100-190 + c-paint");
    // Parts go in with parts, too; never with what is in the booth already.
    expect(said(loads(it(), 0, 1_000 * MIN))[1]).toBe("b-paint 300-390 + c-paint d-paint");
    const begun = shop([paint("a-paint", { life: "working" }), ...parts], times);
    expect(said(loads(begun, 0, 1_000 * MIN))[0]).toBe("a-paint 100-190 +");
  });

  it("a part that waits for something is not ready, and what is done is not planned", () => {
    const hold = { id: "h", what: "parts", cards: [], blocks: "start", since: 0 } as unknown as Order["holds"][number];
    const all = [paint("a-paint"), loose("b-paint", { ready_at: 0 })];
    const times = { "a-paint": [100, 190], "b-paint": [300, 390] } as Record<string, [number, number]>;
    expect(said(loads(shop(all, times, [{ id: "o-b", holds: [hold] }]), 0, 200 * MIN))).toEqual(["a-paint 100-190 +"]);
    expect(said(loads(shop(all, times, [{ id: "o-b", holds: [{ ...hold, due: 100 * MIN }] }]), 0, 200 * MIN))).toEqual([
      "a-paint 100-190 + b-paint",
    ]);
    expect(said(loads(shop([paint("a-paint", { life: "done" })], times), 0, 200 * MIN))).toEqual([]);
  });

  it("a vehicle that was painted is in it until it is out", () => {
    const open = [{ open: "in-the-booth", since: 20 * MIN, by: "a-paint", equipment: "booth-1" }];
    const it = shop([paint("a-paint", { life: "done" }), unload("a-unload")], { "a-unload": [140, 155] }, [
      { id: "o-a", open },
    ]);
    expect(said(loads(it, 100 * MIN, 1_000 * MIN))).toEqual(["a-unload 20-155 +"]);
  });
});

it("a vehicle with high voltage on board has a bake limit of its own, whole or not", () => {
  const of = (energy: Order["energy"]) => bakeLimit({ energy } as Order);
  expect(of({ high_voltage: "none", bake_limit_celsius: 60 })).toBeUndefined();
  expect(of({ high_voltage: "isolated" })).toBe("missing");
  expect(of({ high_voltage: "live", bake_limit_celsius: 60 })).toBe("half");
  expect(of({ high_voltage: "isolated", bake_limit_celsius: 60, bake_limit_minutes: 45 })).toBe("whole");
});
