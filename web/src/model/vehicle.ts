// What is seen of a vehicle before anybody reads: its work in the order of the trip, what is open and until when,
// and the promise against the likely and the safe date.
// Pure. Must not know: languages, the DOM.
import type { Card, Ms, Order, Plan } from "../api/types";
import { isOver } from "../core/effects";

/** Work that is left: what runs first, then what was begun, then by the plan; what no plan knows stays after what it waits for. */
export function inTripOrder(left: readonly Card[], plan: Plan | undefined): Card[] {
  const planned = new Map(plan?.rows.map((row) => [row.card, row.from]));
  const begun = (card: Card): number => (card.life === "working" ? 0 : card.spans.length ? 1 : 2);
  const stand = new Map(left.map((card, i) => [card.id, i]));
  const seen = new Map<string, Ms>();
  /** When it begins as far as is known: by its own row, else not before what it waits for. */
  const from = (card: Card): Ms => {
    const own = planned.get(card.id) ?? seen.get(card.id);
    if (own !== undefined) return own;
    // Whatever leads back to itself ends here.
    seen.set(card.id, Infinity);
    const before = card.after.flatMap((link) => left.filter((one) => one.id === link.card));
    const latest = before.length ? Math.max(...before.map(from)) : Infinity;
    seen.set(card.id, latest);
    return latest;
  };
  const depths = new Map<string, number>();
  /** How many stand before it, one after the other. */
  const depth = (card: Card): number => {
    const known = depths.get(card.id);
    if (known !== undefined) return known;
    depths.set(card.id, 0);
    const before = left.filter((one) => card.after.some((link) => link.card === one.id));
    const found = Math.max(0, ...before.map((one) => 1 + depth(one)));
    depths.set(card.id, found);
    return found;
  };
  const keys = new Map(
    left.map((card) => [
      card.id,
      [begun(card), from(card), planned.has(card.id) ? 0 : depth(card) + 1, stand.get(card.id) ?? 0],
    ]),
  );
  return [...left].sort((a, b) => {
    const [one, other] = [keys.get(a.id) ?? [], keys.get(b.id) ?? []];
    const i = one.findIndex((key, at) => key !== other[at]);
    return i < 0 ? 0 : (one[i] ?? 0) < (other[i] ?? 0) ? -1 : 1;
  });
}

export interface OpenLoop {
  open: string;
  since: Ms;
  equipment: string | undefined;
  /** Who works in it now. */
  people: string[];
  /** When the plan has it closed; none where no plan says so. */
  until: Ms | undefined;
}

/** What is open, the longest first. */
export function openLoops(order: Order, cards: readonly Card[], plan: Plan | undefined, now: Ms): OpenLoop[] {
  return [...order.open]
    .sort((a, b) => a.since - b.since)
    .map(({ open, since, equipment }) => {
      const inside = cards.filter((card) => (card.inside === open || card.closes === open) && !isOver(card));
      const running = inside.flatMap((card) => card.spans.filter((span) => span.to == null).map((span) => span.person));
      const closer = inside.find((card) => card.closes === open);
      const to = closer && plan?.rows.find((row) => row.card === closer.id)?.to;
      return {
        open,
        since,
        equipment: equipment ?? undefined,
        people: [...new Set(running)],
        until: to === undefined ? undefined : Math.max(to, now),
      };
    });
}

export type DateName = "promise" | "likely" | "safe";
export interface PromiseLine {
  /** By time, each with its place on the line in per cent. */
  dates: { name: DateName; at: Ms; x: number }[];
  /** The way to the first of them is broken off: it is longer than all that matters behind it. */
  broken: boolean;
  /** The stretch from likely to safe. */
  band: [number, number] | undefined;
  /** What of the band lies beyond the promise. */
  beyond: [number, number] | undefined;
}

/** Where the first date stands after a break, and the last one; in per cent. */
const BREAK = 20;
const LAST = 96;
const HOUR = 3_600_000;

/** One scale from now to the last of them; undefined where there is nothing to say. */
export function promiseLine(
  now: Ms,
  promise: Ms | undefined,
  likely: Ms | undefined,
  safe: Ms | undefined,
): PromiseLine | undefined {
  const given: [DateName, Ms | undefined][] = [
    ["promise", promise],
    ["likely", likely],
    ["safe", safe],
  ];
  const dates = given.flatMap(([name, at]) => (at === undefined ? [] : [{ name, at }])).sort((a, b) => a.at - b.at);
  const [first, last] = [dates[0]?.at, dates.at(-1)?.at];
  if (first === undefined || last === undefined) return undefined;
  const broken = first - now > 2 * Math.max(last - first, 6 * HOUR);
  const begin = broken ? first : Math.min(now, first);
  const left = broken ? BREAK : 0;
  const x = (at: Ms): number => left + ((at - begin) / Math.max(1, last - begin)) * (LAST - left);
  const band: [number, number] | undefined =
    likely === undefined ? undefined : [x(likely), x(Math.max(likely, safe ?? likely))];
  const from = band && promise !== undefined ? Math.max(band[0], x(promise)) : undefined;
  return {
    dates: dates.map((one) => ({ ...one, x: x(one.at) })),
    broken,
    band,
    beyond: band && from !== undefined && from < band[1] ? [from, band[1]] : undefined,
  };
}
