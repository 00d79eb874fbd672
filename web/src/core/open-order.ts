// A new repair order and, where routings are named, its cards laid out one routing after the other.
import type { Card, Link, OpenOrder, Order, StageAt } from "../api/types";
import { canBeLaidOut } from "./ask";
import type { Docs } from "./docs";
import { settleReady } from "./effects";
import { partOf } from "./ids";
import type { At } from "./overlay";

export function openOrder(docs: Docs, args: OpenOrder, { op, me, now }: At): void {
  if (args.routings?.some((id) => !canBeLaidOut(docs.get("routing", id), (of) => docs.get("department", of)))) return;
  const stage = args.stage ?? "arrived";
  const arrived = Math.min(args.arrived_at ?? now, now);
  const stages: StageAt[] = [];
  if (stage !== "expected") stages.push({ stage: "arrived", at: arrived });
  if (stage !== "expected" && stage !== "arrived") stages.push({ stage, at: arrived });
  const vin = args.vin?.trim().toUpperCase();
  const stood = args.place && stage !== "expected" ? [{ place: args.place, from: args.arrived_at ?? now, by: me }] : [];
  const order: Order = {
    id: op,
    number: args.number.trim(),
    vehicle: args.vehicle.trim(),
    ...(vin ? { vin } : {}),
    // Whether the check digit holds the server says.
    vin_doubtful: false,
    towed_in: args.towed_in ?? false,
    weight: args.weight ?? 2,
    stage,
    stages,
    expected_at: args.expected_at ?? undefined,
    promise: args.promise ?? undefined,
    first_promise: stages.length > 1 ? (args.promise ?? undefined) : undefined,
    promise_moves: 0,
    ...(args.promise == null ? {} : { promised_by: me, promised_at: now }),
    leads: {},
    condition: {
      ...(args.towed_in ? { rolls: false } : {}),
      ...(stood[0] ? { place: stood[0].place } : {}),
      weight_off: [],
      loose: [],
    },
    energy: { high_voltage: "none", ...args.energy },
    open: [],
    holds: [],
    stood,
    sold_minutes: args.sold_minutes ?? undefined,
    comeback_of: args.comeback_of ?? undefined,
    cards: [],
    created_at: now,
  };
  docs.set("order", op, order);
  layOut(docs, op, args.routings ?? [], now);
}

function layOut(docs: Docs, op: string, routings: readonly string[], now: number): void {
  let last: string[] = [];
  for (const [number, id] of routings.entries()) {
    const routing = docs.get("routing", id);
    if (!routing) continue;
    const name = (step: string): string => partOf(op, `${number}/${step}`);
    const before = last.map((card): Link => ({ card, lag_minutes: 0 }));
    const cards = routing.steps.map(({ step, department, title, planned_minutes, after, ...needs }): Card => ({
      ...needs,
      id: name(step),
      order: op,
      department,
      title,
      planned_minutes,
      after: after.length ? after.map(({ step: of, ...lag }) => ({ card: name(of), ...lag })) : before,
      life: "waiting",
      helpers: [],
      spans: [],
      checks_done: [],
      step,
      routing: routing.id,
      routing_version: routing.version,
      created_at: now,
    }));
    const followed = new Set(cards.flatMap((card) => card.after.map((link) => link.card)));
    last = cards.map((card) => card.id).filter((card) => !followed.has(card));
    for (const card of cards) {
      docs.set("card", card.id, card);
      docs.change("order", op, (order) => ({ cards: [...order.cards, card.id] }));
      settleReady(docs, card);
    }
  }
}
