// What a card is waiting for and what a person can do with it, for the screen to offer.
// Invariant: offers only; whether it is allowed the server decides.
// Must not know: languages, the screen.
import type { Card, Hold, Ms, Order, Person, Plan, PlanRow, Role } from "../api/types";
import { isMeanwhile } from "./close-up";
import { isAtLeast } from "./roles";
import { isOver, worksIn } from "./effects";

export type Standing =
  | { is: "proposed" | "cancelled" | "ready" }
  | { is: "done"; by: string | undefined; at: Ms | undefined }
  | { is: "working"; since: Ms; people: string[] }
  | { is: "paused"; since: Ms | undefined }
  | { is: "taken"; by: string; at: Ms | undefined }
  | { is: "held"; hold: Hold }
  | { is: "curing"; until: Ms }
  | { is: "after"; cards: string[] };

export function standing(card: Card, order: Order | undefined, cards: ReadonlyMap<string, Card>, now: Ms): Standing {
  switch (card.life) {
    case "proposed":
    case "cancelled":
      return { is: card.life };
    case "done":
      return { is: "done", by: card.done_by ?? undefined, at: card.done_at ?? undefined };
    case "working": {
      const running = card.spans.filter((span) => span.to == null);
      return {
        is: "working",
        since: Math.min(...running.map((span) => span.from)),
        people: running.map((span) => span.person),
      };
    }
    case "paused":
      return { is: "paused", since: card.spans.at(-1)?.to ?? undefined };
    case "taken":
      if (card.taken_by) return { is: "taken", by: card.taken_by, at: card.taken_at ?? undefined };
  }
  return waiting(card, order, cards, now);
}

/** What keeps a card nobody has begun from beginning. */
export function waiting(card: Card, order: Order | undefined, cards: ReadonlyMap<string, Card>, now: Ms): Standing {
  const undone = card.after
    .map((link) => link.card)
    .filter((id) => {
      const before = cards.get(id);
      return before !== undefined && !isOver(before);
    });
  if (undone.length) return { is: "after", cards: undone };
  const hold = order && holdOn(card, order, cards, "start");
  if (hold) return { is: "held", hold };
  if (card.ready_at != null && card.ready_at > now) return { is: "curing", until: card.ready_at };
  return { is: "ready" };
}

export function holdOn(
  card: Card,
  order: Order,
  cards: ReadonlyMap<string, Card>,
  blocks: Hold["blocks"],
): Hold | undefined {
  // A vehicle that waits as a whole may still be closed meanwhile, so that it rolls and leaves the lift; a
  // stopped one waits for nothing as a whole, and is put back.
  const whole = order.stage !== "stopped" && !isMeanwhile(cards, order, card);
  return order.holds
    .filter(
      (hold) =>
        hold.ended == null && hold.blocks === blocks && (hold.cards.length ? hold.cards.includes(card.id) : whole),
    )
    .sort((a, b) => FIRST[a.what] - FIRST[b.what])[0];
}

/** Of several the one that the shop names first, here as in every report (`domain::waiting`). */
const FIRST: Record<Hold["what"], number> = { sublet: 0, approval: 1, parts: 2, customer: 3, other: 4 };

export interface Can {
  take: boolean;
  start: boolean;
  pause: boolean;
  finish: boolean;
  giveBack: boolean;
  help: boolean;
}

const NONE: Can = { take: false, start: false, pause: false, finish: false, giveBack: false, help: false };

export function can(
  card: Card,
  order: Order | undefined,
  cards: ReadonlyMap<string, Card>,
  me: Person | undefined,
  now: Ms,
): Can {
  if (!me || isOver(card) || card.life === "proposed") return NONE;
  const mine = card.taken_by === me.id;
  const helps = card.helpers.includes(me.id);
  const runs = card.spans.some((span) => span.person === me.id && span.to == null);
  const free = waiting(card, order, cards, now).is;
  const ready = free === "ready" || free === "curing";
  const department = worksIn(me, card.department);
  return {
    take: department && !card.taken_by && ready,
    start: (mine || helps) && !runs,
    pause: runs,
    finish: (mine || helps) && card.life === "working",
    giveBack: mine && card.life !== "working",
    help: department && card.taken_by != null && !mine && !helps,
  };
}

export const plans = (role: Role | undefined): boolean => isAtLeast(role, "planner");

export const rowOf = (plan: Plan | undefined, card: string): PlanRow | undefined =>
  plan?.rows.find((row) => row.card === card);

/** Cards a person holds or helps with and has not finished: running work first, then by plan. */
export function mine(cards: Iterable<Card>, plan: Plan | undefined, me: string): Card[] {
  const rank = (card: Card): number => {
    if (card.spans.some((span) => span.person === me && span.to == null)) return 0;
    return card.life === "paused" ? 1 : 2;
  };
  const planned = new Map(plan?.rows.map((row) => [row.card, row.from]));
  return [...cards]
    .filter((card) => !isOver(card) && (card.taken_by === me || card.helpers.includes(me)))
    .sort((a, b) => rank(a) - rank(b) || (planned.get(a.id) ?? a.created_at) - (planned.get(b.id) ?? b.created_at));
}

export interface QueueEntry {
  card: Card;
  /** None until the next plan knows the card. */
  row: PlanRow | undefined;
}

export interface Stretches {
  /** Can be taken. */
  now: QueueEntry[];
  /** Planned to begin within a day. */
  soon: QueueEntry[];
  later: QueueEntry[];
}

const DAY_MS = 86_400_000;

/** A queue in three stretches, each in its order: what can be done stands above what cannot. */
export function stretches(
  entries: readonly QueueEntry[],
  orders: ReadonlyMap<string, Order>,
  cards: ReadonlyMap<string, Card>,
  now: Ms,
): Stretches {
  const found: Stretches = { now: [], soon: [], later: [] };
  for (const entry of entries) {
    const is = waiting(entry.card, orders.get(entry.card.order), cards, now).is;
    const free = (is === "ready" || is === "curing") && !entry.card.taken_by;
    const soon = entry.row !== undefined && entry.row.from - now < DAY_MS;
    (free ? found.now : soon ? found.soon : found.later).push(entry);
  }
  return found;
}

/** What waits for a department: in the order of the plan, then what the plan does not know yet. */
export function queue(
  cards: ReadonlyMap<string, Card>,
  orders: ReadonlyMap<string, Order>,
  plan: Plan | undefined,
  department: string,
): QueueEntry[] {
  const entries: QueueEntry[] = [];
  const known = new Set<string>();
  for (const row of plan?.rows ?? []) {
    if (row.department !== department) continue;
    const card = cards.get(row.card);
    if (!card || isOver(card)) continue;
    known.add(card.id);
    entries.push({ card, row });
  }
  entries.sort((a, b) => (a.row?.place ?? 0) - (b.row?.place ?? 0));
  for (const card of cards.values()) {
    if (card.department !== department || known.has(card.id) || isOver(card) || card.life === "proposed") continue;
    const order = orders.get(card.order);
    if (!order || order.stage === "delivered") continue;
    entries.push({ card, row: undefined });
  }
  return entries;
}
