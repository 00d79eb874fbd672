// Who waits for whom, what holds which equipment, what is late and why: from documents and plan to
// plain records that the screen puts into words.
// Pure. Must not know: languages, the DOM.
//
// Invariants: a vehicle waits for one reason at a time, the one the plan names; nothing is said about
// vehicles whose keys are back; the longest wait comes first.

import type {
  Binding,
  Card,
  Equipment,
  Exception,
  Handoff,
  Hold,
  Ms,
  Order,
  Plan,
  PlanVehicle,
  WaitReason,
} from "../api/types";
import { itinerary, occupied, type Itinerary, type Occupied } from "./itinerary";

export interface ShopPicture {
  orders: ReadonlyMap<string, Order>;
  cards: ReadonlyMap<string, Card>;
  handoffs: ReadonlyMap<string, Handoff>;
  plan: Plan | undefined;
  now: Ms;
}

export interface Seen {
  order: Order;
  itinerary: Itinerary;
  occupied: Occupied[];
  plan: PlanVehicle | undefined;
}

/** Every vehicle whose keys are here or expected, with its trip. */
export function seen(picture: ShopPicture): Seen[] {
  const cards = groupBy(picture.cards.values(), (card) => card.order);
  const asks = groupBy(picture.handoffs.values(), (one) => one.order);
  return [...picture.orders.values()]
    .filter((order) => order.stage !== "delivered")
    .sort((a, b) => a.number.localeCompare(b.number, "en", { numeric: true }))
    .map((order) => {
      const trip = {
        order,
        cards: cards.get(order.id) ?? [],
        handoffs: asks.get(order.id) ?? [],
        plan: picture.plan,
        now: picture.now,
      };
      return {
        order,
        itinerary: itinerary(trip),
        occupied: occupied(trip),
        plan: picture.plan?.vehicles.find((one) => one.order === order.id),
      };
    });
}

export interface Wait {
  order: Order;
  reason: WaitReason;
  since: Ms;
  /** The department waited for; none where the wait is for somebody outside. */
  department?: string;
  card?: Card;
  /** Who asked, where it was asked for. */
  asked?: Handoff;
  /** The vehicle in the way. */
  by?: Order;
  due?: Ms;
  /** The hold that keeps it. */
  hold?: Hold | undefined;
}

const OUTSIDE: WaitReason[] = ["stopped", "away", "approval", "parts", "customer", "other"];

export interface WaitGroup {
  /** A department's id, "outside" or "unknown". */
  of: string;
  waits: Wait[];
}

/** Departments first, in the order of `rank`; then what is waited for outside; then waits without a reason. */
export function whoWaits(picture: ShopPicture, rank: (department: string) => number): WaitGroup[] {
  const groups = new Map<string, Wait[]>();
  for (const vehicle of picture.plan?.vehicles ?? []) {
    const order = picture.orders.get(vehicle.order);
    const waits = vehicle.waits;
    if (!order || !waits || order.stage === "delivered" || order.stage === "expected") continue;
    const card = waits.card ? picture.cards.get(waits.card) : undefined;
    const department = OUTSIDE.includes(waits.reason) ? undefined : (waits.department ?? card?.department ?? undefined);
    const wait: Wait = {
      order,
      reason: waits.reason,
      since: waits.since,
      department,
      card,
      asked: department === undefined ? undefined : askFor(picture, order.id, department, card),
      by: waits.by_order ? picture.orders.get(waits.by_order) : undefined,
      due: waits.due ?? undefined,
      hold: order.holds.find((one) => one.id === waits.hold),
    };
    const group = department ?? (OUTSIDE.includes(waits.reason) ? "outside" : "unknown");
    groups.set(group, [...(groups.get(group) ?? []), wait]);
  }
  const place = (of: string): number => (of === "outside" ? 1e6 : of === "unknown" ? 1e6 + 1 : rank(of));
  return [...groups]
    .map(([of, waits]) => ({ of, waits: waits.sort((a, b) => a.since - b.since) }))
    .sort((a, b) => place(a.of) - place(b.of));
}

/** Asked, and work on the vehicle goes on meanwhile: nobody stands still for it yet. */
export function askedMeanwhile(picture: ShopPicture): Handoff[] {
  const standing = new Set((picture.plan?.vehicles ?? []).filter((one) => one.waits).map((one) => one.order));
  return [...picture.handoffs.values()]
    .filter((one) => (one.life === "asked" || one.life === "taken") && !standing.has(one.order))
    .filter((one) => {
      const stage = picture.orders.get(one.order)?.stage;
      return stage !== undefined && stage !== "delivered";
    })
    .sort((a, b) => a.asked_at - b.asked_at);
}

export interface Late {
  order: Order;
  lateMinutes: number;
  finish?: Ms;
  promise?: Ms;
  /** Everything between now and the end, in the order of time. */
  chain: LateLink[];
  /** What in it is more than one thing after another: at most two, the one that comes first in front. */
  causes: LateLink[];
}

export interface LateLink {
  card: Card | undefined;
  binding: Binding;
}

/** Said of a card that merely follows another, or goes on. */
const FOLLOWS: Binding["kind"][] = ["after", "vehicle", "now", "started"];

export function late(picture: ShopPicture): Late[] {
  return (picture.plan?.vehicles ?? [])
    .filter((one) => one.late_minutes > 0)
    .flatMap((one) => list(whyLate(picture, one)))
    .sort((a, b) => b.lateMinutes - a.lateMinutes || a.order.number.localeCompare(b.order.number));
}

/** What stands between a vehicle and its end, late or not; nothing once its keys are back. */
export function whyLate(picture: ShopPicture, one: PlanVehicle): Late | undefined {
  const order = picture.orders.get(one.order);
  if (!order || order.stage === "delivered") return undefined;
  const chain = one.chain.map((link) => ({ card: picture.cards.get(link.card), binding: link.binding })).reverse();
  const causes = chain.filter((link) => !FOLLOWS.includes(link.binding.kind)).slice(0, 2);
  return {
    order,
    lateMinutes: one.late_minutes,
    finish: one.finish ?? undefined,
    promise: one.promise ?? order.promise ?? undefined,
    chain,
    causes: causes.length ? causes : chain.slice(0, 1),
  };
}

/** Somebody or something else is served before: going first would change that. */
const CONTESTED: Binding["kind"][] = ["people", "person", "equipment", "vehicle", "put_first"];

/** What can be done about what holds it: whether going first could help, and the hold that decides. */
export function helpFor({ order, causes }: Late): { first: boolean; hold: Hold | undefined } {
  const held = causes.map((link) => link.binding).find((binding) => binding.kind === "hold");
  return {
    first: causes.some((link) => CONTESTED.includes(link.binding.kind)),
    hold: held && order.holds.find((one) => one.ended == null && one.what === held.what),
  };
}

export interface Held {
  equipment: Equipment;
  /** Who has it; none: free. */
  order?: Order;
  since?: Ms;
  until?: Ms;
  open?: string;
  /** Somebody works on the vehicle now: on this. */
  working: Card[];
  /** Nobody does: the card that it waits for, and about when that is planned. */
  waitsFor?: { card: Card; at: Ms };
  outUntil?: Ms;
  outReason?: string;
  inspectionDue?: Ms;
  /** The next vehicle planned on it. */
  next?: { order: Order; at: Ms; to: Ms };
}

/** Every named piece of equipment: blocked first, then in use, then out of service, then free. */
export function whatHolds(picture: ShopPicture, all: Seen[], equipment: Iterable<Equipment>): Held[] {
  const out: Held[] = [];
  for (const tool of equipment) {
    if (tool.retired) continue;
    const owner = all.find(
      (one) =>
        one.order.open.some((open) => open.equipment === tool.id) ||
        one.occupied.some(
          (o) =>
            o.equipment === tool.id && o.from <= picture.now && picture.now < o.to && started(picture, one, tool.id),
        ),
    );
    const held: Held = { equipment: tool, working: [] };
    const away = tool.out_of_service.find((one) => one.from <= picture.now && picture.now < one.to);
    if (away) {
      held.outUntil = away.to;
      held.outReason = away.reason ?? undefined;
    }
    if (tool.inspection_due && tool.inspection_due < picture.now) held.inspectionDue = tool.inspection_due;
    if (owner) {
      const taken = owner.occupied.find((o) => o.equipment === tool.id && o.from <= picture.now && picture.now < o.to);
      const open = owner.order.open.find((one) => one.equipment === tool.id);
      const own = owner.order.cards.flatMap((id) => list(picture.cards.get(id)));
      held.order = owner.order;
      held.since = taken?.from ?? open?.since;
      held.until = taken?.to;
      held.open = open?.open;
      held.working = own.filter((card) => card.life === "working" && !card.off_vehicle);
      if (held.working.length === 0) held.waitsFor = nextCard(picture, own);
    }
    const next = (picture.plan?.rows ?? [])
      .filter((row) => row.equipment === tool.id && row.order !== held.order?.id && row.to > picture.now)
      .sort((a, b) => a.from - b.from)[0];
    const nextOrder = next && picture.orders.get(next.order);
    if (next && nextOrder) held.next = { order: nextOrder, at: next.from, to: next.to };
    out.push(held);
  }
  const weight = (one: Held): number =>
    one.order && one.working.length === 0 ? 0 : one.order ? 1 : one.outUntil !== undefined ? 2 : 3;
  return out.sort(
    (a, b) => weight(a) - weight(b) || a.equipment.id.localeCompare(b.equipment.id, "en", { numeric: true }),
  );
}

export function unanswered(exceptions: Iterable<Exception>): Exception[] {
  return [...exceptions]
    .filter((one) => !one.answered_at && !one.answered_by)
    .sort((a, b) => urgency(a) - urgency(b) || a.since - b.since);
}

/** What can hurt somebody, and undone work closed in that cannot be seen any more, come first. */
const URGENT: ReadonlySet<Exception["kind"]> = new Set([
  "closed_over_undone",
  "high_voltage",
  "left_open",
  "unsafe_lift",
]);
const urgency = (one: Exception): number => (URGENT.has(one.kind) ? 0 : 1);

/** Work in process: what is in the shop, by where it stands. */
export function inShop(all: Seen[]): { row: string; count: number }[] {
  const counts = new Map<string, number>();
  for (const one of all) {
    if (one.order.stage === "expected") continue;
    const row = one.itinerary.here ?? "";
    counts.set(row, (counts.get(row) ?? 0) + 1);
  }
  return [...counts].map(([row, count]) => ({ row, count }));
}

function started(picture: ShopPicture, one: Seen, equipment: string): boolean {
  return one.order.cards.some((id) => {
    const card = picture.cards.get(id);
    return card?.used === equipment && card.spans.length > 0;
  });
}

function nextCard(picture: ShopPicture, own: Card[]): { card: Card; at: Ms } | undefined {
  const ids = new Map(own.map((card) => [card.id, card]));
  const row = (picture.plan?.rows ?? [])
    .filter((one) => ids.has(one.card) && !ids.get(one.card)?.off_vehicle)
    .sort((a, b) => a.from - b.from)[0];
  const card = row && ids.get(row.card);
  return row && card ? { card, at: row.from } : undefined;
}

function askFor(picture: ShopPicture, order: string, department: string, card: Card | undefined): Handoff | undefined {
  const open = [...picture.handoffs.values()].filter(
    (one) => one.order === order && one.to === department && (one.life === "asked" || one.life === "taken"),
  );
  return open.find((one) => card && one.cards.includes(card.id)) ?? open[0];
}

function groupBy<T>(items: Iterable<T>, key: (item: T) => string): Map<string, T[]> {
  const out = new Map<string, T[]>();
  for (const item of items) {
    const k = key(item);
    const group = out.get(k);
    if (group) group.push(item);
    else out.set(k, [item]);
  }
  return out;
}

const list = <T>(one: T | undefined): T[] => (one === undefined ? [] : [one]);
