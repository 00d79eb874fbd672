// What a department asks others for: what stands first, how it is drawn, what must not be done meanwhile, how it
// is taken back, and where in the queue it has come to stand.
// Pure. Must not know: languages, the DOM.
import type { Card, Handoff, Order, Plan, PlanRow, Routing } from "../api/types";
import { isOver } from "../core/effects";
import { graveToCancel } from "../core/leaving";

/**
 * What can be asked for, what `mine` asks for most first: its own asks count before those of the whole shop.
 * Where nobody asked yet, what is opened elsewhere and comes back stands before the rest, each in the given order.
 */
export function byAsked(
  routings: Iterable<Routing>,
  asks: Iterable<Pick<Handoff, "routing" | "from">>,
  mine: string | undefined,
): Routing[] {
  const own = new Map<string, number>();
  const all = new Map<string, number>();
  for (const { routing, from } of asks) {
    if (from === mine) own.set(routing, (own.get(routing) ?? 0) + 1);
    all.set(routing, (all.get(routing) ?? 0) + 1);
  }
  const rank = (one: Routing): number =>
    (one.steps[0]?.department === mine ? 2 : 0) + (one.steps.some((step) => step.opens) ? 0 : 1);
  return [...routings].sort(
    (a, b) =>
      (own.get(b.id) ?? 0) - (own.get(a.id) ?? 0) || (all.get(b.id) ?? 0) - (all.get(a.id) ?? 0) || rank(a) - rank(b),
  );
}

const MARKS = [
  "suspension-down-rear",
  "suspension-down-front",
  "cradle-down",
  "tank-out",
  "interior-out",
  "refrigerant-out",
  "high-voltage-off",
  "on-the-bench",
  "in-the-booth",
  "alignment",
  "calibration",
] as const;
export type AskMark = (typeof MARKS)[number] | "other";

/** By what it opens, else by what it needs; what a shop named itself has the neutral mark. */
export function markOf(routing: Routing): AskMark {
  const said = routing.steps
    .flatMap((step) => step.opens ?? [])
    .concat(routing.steps.flatMap((step) => [step.equipment ?? [], step.qualification ?? []].flat()));
  return MARKS.find((mark) => mark === said.find((one) => (MARKS as readonly string[]).includes(one))) ?? "other";
}

/**
 * What is chosen rather than typed must read in the reader's language. An ask keeps one text of what must not be
 * done: chosen phrases stand in it as lines in these words, and are known again by them. Older apps and mails
 * show them as they stand. Never change one: asks that are kept hold them.
 */
const DO_NOT = { move: "Move it", lower: "Lower it", close: "Close it up", power: "Switch power on" } as const;
export type DoNot = keyof typeof DO_NOT;
export const DO_NOTS = Object.keys(DO_NOT) as DoNot[];

export const notYetText = (chosen: readonly DoNot[], typed: string): string =>
  [...DO_NOTS.filter((one) => chosen.includes(one)).map((one) => DO_NOT[one]), typed.trim()].filter(Boolean).join("\n");

export function notYetOf(text: string): { chosen: DoNot[]; typed: string } {
  const lines = text.split("\n");
  const phrase = (line: string): DoNot | undefined => DO_NOTS.find((one) => DO_NOT[one] === line.trim());
  return {
    chosen: DO_NOTS.filter((one) => lines.some((line) => phrase(line) === one)),
    typed: lines
      .filter((line) => !phrase(line))
      .join("\n")
      .trim(),
  };
}

export type Withdrawal = { kind: "call_off" } | { kind: "cancel_card"; card: string };

/**
 * What takes the whole ask back, in this order. None once somebody has taken or begun any of it, or where calling
 * it off needs a reason of somebody who answers for that.
 */
export function withdrawal(ask: Handoff, order: Order, cards: ReadonlyMap<string, Card>): Withdrawal[] {
  const own = ask.cards.flatMap((id) => cards.get(id) ?? []);
  const left = own.filter((card) => !isOver(card));
  if (ask.life === "cancelled" || ask.life === "handed_back") return [];
  if (own.some((card) => card.taken_by || card.spans.length > 0 || card.life === "done")) return [];
  if (!left.length) return ask.joined ? [{ kind: "call_off" }] : [];
  // With what opens goes what was asked for inside.
  const opener = left.find((card) => card.opens);
  const called = opener ? [opener, ...left.filter((card) => card !== opener && !leadsTo(opener.id, card, left))] : left;
  if (called.some((card) => graveToCancel(card, order, cards, ask.for_card))) return [];
  return called.map((card) => ({ kind: "cancel_card", card: card.id }));
}

function leadsTo(from: string, card: Card, among: readonly Card[]): boolean {
  return card.after.some((link) => {
    if (link.card === from) return true;
    const before = among.find((one) => one.id === link.card);
    return before !== undefined && leadsTo(from, before, among);
  });
}

/** Where the first of it that is not done has come to stand; none until a plan knows it. */
export function placeOf(ask: Handoff, cards: ReadonlyMap<string, Card>, plan: Plan | undefined): PlanRow | undefined {
  const first = ask.cards.find((id) => {
    const card = cards.get(id);
    return card !== undefined && !isOver(card);
  });
  const row = first === undefined ? undefined : plan?.rows.find((one) => one.card === first);
  return row && row.place > 0 ? row : undefined;
}

/** When the plan has all of it done, and the vehicle is the asker's again. */
export function backAt(ask: Handoff, plan: Plan | undefined): number | undefined {
  const ends = plan?.rows.filter((row) => ask.cards.includes(row.card)).map((row) => row.to) ?? [];
  return ends.length ? Math.max(...ends) : undefined;
}
