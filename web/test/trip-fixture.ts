// Invented vehicles for the tests and the drawing sheet: times are hours from a Monday, 06:00 UTC
// (midnight in Chicago in winter).

import type { CardLike, HandoffLike, OrderLike, PlanLike, Trip } from "../src/model/itinerary";

export const MONDAY = Date.UTC(2026, 10, 23, 6);
export const H = 3_600_000;
export const at = (hours: number) => MONDAY + hours * H;
export const ZONE = "America/Chicago";

export function card(
  id: string,
  department: string,
  spans: [number, number?][],
  more: Partial<CardLike> = {},
): CardLike {
  const end = spans.at(-1)?.[1];
  return {
    id,
    department,
    life: end !== undefined ? "done" : spans.length ? "working" : "waiting",
    spans: spans.map(([from, to]) => ({ person: "p", from: at(from), to: to === undefined ? undefined : at(to) })),
    done_at: end === undefined ? undefined : at(end),
    ...more,
  };
}

/** A wagon that goes to the lift and back: seal inside the open state, refit, then refinish. */
export function wagon(): Trip {
  const order: OrderLike = {
    id: "o1",
    stage: "authorised",
    stages: [
      { stage: "arrived", at: at(8) },
      { stage: "authorised", at: at(10) },
    ],
    promise: at(4 * 24 + 16),
    created_at: at(8),
    holds: [{ id: "h1", what: "parts", since: at(30), ended: at(34) }],
  };
  const cards: CardLike[] = [
    card("teardown", "body", [[9, 12]]),
    card("down", "mechanical", [[32, 34]], { opens: "suspension-down", used: "lift-2" }),
    card("seal", "body", [[36]]),
    card("refit", "mechanical", [], { closes: "suspension-down" }),
    card("paint", "refinish", []),
    card("jambs", "refinish", [[33, 35]], { off_vehicle: true }),
  ];
  const handoffs: HandoffLike[] = [
    { id: "a1", order: "o1", from: "body", to: "mechanical", asked_at: at(14), life: "open", started_at: at(32) },
  ];
  const plan: PlanLike = {
    rows: [
      { card: "seal", order: "o1", department: "body", from: at(36), to: at(38) },
      { card: "refit", order: "o1", department: "mechanical", from: at(39), to: at(41), equipment: "lift-2" },
      { card: "paint", order: "o1", department: "refinish", from: at(24 * 4 + 8), to: at(24 * 4 + 18) },
    ],
    vehicles: [{ order: "o1", finish: at(24 * 4 + 18), promise: order.promise, late_minutes: 120, waits: null }],
  };
  return { order, cards, handoffs, plan, now: at(37) };
}

/** A pickup that stood eleven days for parts. */
export function pickup(): Trip {
  return {
    order: {
      id: "o2",
      stage: "authorised",
      stages: [{ stage: "arrived", at: at(8) }],
      promise: at(24 * 16),
      created_at: at(8),
    },
    cards: [
      card("look", "body", [[9, 10]]),
      card("pull", "body", [[10 + 24 * 11, 14 + 24 * 11]]),
      card("mask", "refinish", []),
    ],
    handoffs: [],
    plan: {
      rows: [{ card: "mask", order: "o2", department: "refinish", from: at(24 * 12 + 9), to: at(24 * 12 + 12) }],
      vehicles: [
        {
          order: "o2",
          finish: at(24 * 12 + 12),
          late_minutes: 0,
          waits: { reason: "nobody_free", since: at(14 + 24 * 11), department: "refinish" },
        },
      ],
    },
    now: at(15 + 24 * 11),
  };
}
