// What the shop's page and the wall answer at one glance: which promises are in trouble, in which order; what stands
// on each lift and what comes next; how many hours lie with each department.
// Pure. Must not know: languages, the DOM.
//
// Invariants: the smallest chance to keep the promise comes first; nothing that is late is ever left out of what is
// shown first, however little room there is.
import type { Department, Ms } from "../api/types";
import { queue } from "../core/cards";
import { whyLate, type Held, type Late, type ShopPicture, type WaitGroup } from "./waits";

/** What a forecast says of one vehicle. */
export interface Chance {
  /** Share of the tries that keep the promise. */
  kept?: number | null;
  p50: Ms;
  p90: Ms;
}

export interface Trouble extends Late {
  /** Unknown while nothing is forecast. */
  kept: number | undefined;
  /** Half of the tries are finished by then … */
  likely: Ms | undefined;
  /** … and nine of ten by then. */
  safe: Ms | undefined;
  /** As planned it is late, or the promise has passed. */
  late: boolean;
}

/** A promise that is rather broken than kept. */
const TROUBLE_BELOW = 0.5;

export function inTrouble(picture: ShopPicture, chances: ReadonlyMap<string, Chance>): Trouble[] {
  return (picture.plan?.vehicles ?? [])
    .flatMap((one): Trouble[] => {
      const why = whyLate(picture, one);
      if (!why) return [];
      const chance = chances.get(one.order);
      const late = why.lateMinutes > 0 || (why.promise !== undefined && why.promise <= picture.now);
      const kept = chance?.kept ?? undefined;
      if (!late && (kept === undefined || kept >= TROUBLE_BELOW)) return [];
      return [{ ...why, kept, likely: chance?.p50, safe: chance?.p90, late }];
    })
    .sort(
      (a, b) =>
        // What is late as planned has no better chance than that.
        (a.kept ?? 0) - (b.kept ?? 0) ||
        b.lateMinutes - a.lateMinutes ||
        (a.promise ?? Infinity) - (b.promise ?? Infinity) ||
        a.order.number.localeCompare(b.order.number, "en", { numeric: true }),
    );
}

/** The first `room` of them, and whatever else is late: room is found for that. */
export function shownFirst(all: readonly Trouble[], room: number): Trouble[] {
  const late = all.filter((one) => one.late).length;
  let free = Math.max(room - late, 0);
  return all.filter((one) => one.late || free-- > 0);
}

export interface Stretch {
  from: Ms;
  to: Ms;
}

/** One scale for all: a little of the past, then as far as the last promise or likely end of them. */
export function troubleSpan(rows: readonly Trouble[], now: Ms): Stretch {
  const ends = rows
    .flatMap((one) => [one.promise, one.likely ?? one.finish])
    .filter((at): at is Ms => at !== undefined);
  const to = Math.max(now + DAY, ...ends);
  return { from: now - (to - now) / 12, to: to + (to - now) / 12 };
}

const DAY = 24 * 3_600_000;

/** Where a moment lies between 0 and 1; what lies outside stands at the end, and is said to be beyond it. */
export function placeIn(span: Stretch, at: Ms): { share: number; beyond: boolean } {
  const share = (at - span.from) / (span.to - span.from);
  return { share: Math.min(1, Math.max(0, share)), beyond: share < 0 || share > 1 };
}

export interface StripPart extends Stretch {
  kind: "held" | "next" | "out";
  /** Nobody works on what stands there. */
  idle: boolean;
  /** It goes on beyond the strip, or nobody knows until when. */
  open: boolean;
}

/** What is drawn of one piece of equipment between two moments. */
export function stripOf(held: Held, span: Stretch, now: Ms): StripPart[] {
  const parts: StripPart[] = [];
  const add = (kind: StripPart["kind"], from: Ms, to: Ms, idle: boolean, open: boolean): void => {
    const cut = { from: Math.max(from, span.from), to: Math.min(to, span.to) };
    if (cut.to > cut.from) parts.push({ kind, ...cut, idle, open: open || to > span.to });
  };
  if (held.order) {
    const known = held.until !== undefined && held.until > now;
    // Held, and nobody has planned until when: it is there now.
    add("held", held.since ?? now, known ? (held.until ?? now) : now, held.working.length === 0, !known);
  } else if (held.outUntil !== undefined) add("out", span.from, held.outUntil, false, false);
  if (held.next) add("next", Math.max(held.next.at, now), Math.max(held.next.to, now), false, false);
  return parts;
}

/** Hours that vehicles have stood for each department until now, as the groups are ordered. */
export function waitedHours(groups: readonly WaitGroup[], now: Ms): { of: string; hours: number; count: number }[] {
  return groups.map(({ of, waits }) => ({
    of,
    count: waits.length,
    hours: waits.reduce((sum, one) => sum + Math.max(0, now - one.since), 0) / 3_600_000,
  }));
}

/** The next vehicles a department takes up, each once: not what somebody works on already. */
export function nextVehicles(
  picture: ShopPicture,
  department: string,
  count = 3,
): { order: string; card: string; at: Ms }[] {
  const found: { order: string; card: string; at: Ms }[] = [];
  const begun = new Set<string>();
  for (const { card } of queue(picture.cards, picture.orders, picture.plan, department))
    if (card.life === "working") begun.add(card.order);
  for (const { card, row } of queue(picture.cards, picture.orders, picture.plan, department)) {
    if (found.length === count) break;
    if (!row || card.life === "working" || begun.has(card.order) || found.some((one) => one.order === card.order))
      continue;
    found.push({ order: card.order, card: card.id, at: row.from });
  }
  return found;
}

/** Departments that have somebody waiting or to come, in the shop's order. */
export function departmentsNext(
  picture: ShopPicture,
  departments: Iterable<Department>,
): { department: Department; next: ReturnType<typeof nextVehicles> }[] {
  return [...departments]
    .filter((one) => !one.retired)
    .sort((a, b) => a.rank - b.rank)
    .map((department) => ({ department, next: nextVehicles(picture, department.id) }))
    .filter((one) => one.next.length > 0);
}
