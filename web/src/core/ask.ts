// Asking another department: the routing becomes linked cards and a hand-off, on the phone at once and
// with the same names as on the server. Work inside a state that is open, or will be, joins it; the
// asker's own card takes the place of the routing's step for the asking department.
import type { Ask, Card, Handoff, Link, Order, Routing, Step } from "../api/types";
import type { Docs } from "./docs";
import { cardsOf, changeCondition, isOver, settleReady, whole } from "./effects";
import { closerOf, leadsTo } from "./close-up";
import { partOf } from "./ids";
import type { At } from "./overlay";

interface Laid {
  cards: Card[];
  joined: boolean;
  /** What the asker's own card comes after, and inside what it is worked. */
  ownAfter: Link[];
  ownInside: string | undefined;
  /** Cards that close, with links still to be made where they were there already. */
  closers: { card: string; after: Link[] }[];
}

export function ask(docs: Docs, args: Ask, { op, me, now }: At): void {
  const routing = docs.get("routing", args.routing);
  docs.change("order", args.order, (order) => ({ condition: changeCondition(order.condition, args.condition ?? {}) }));
  const order = docs.get("order", args.order);
  if (!order || !routing) return;
  const own = docs.get("card", args.for_card);

  const laid = layOut(docs, args, order, routing, own, op, now);
  docs.set("handoff", op, handoff(args, order, routing, laid, { op, me, now }));
  for (const card of laid.cards) {
    docs.set("card", card.id, card);
    docs.change("order", order.id, ({ cards }) => (cards.includes(card.id) ? {} : { cards: [...cards, card.id] }));
    settleReady(docs, card);
  }
  // A card that closes and was there already waits for what is asked for now, too.
  const inside = new Set([own?.id, ...laid.cards.map((card) => card.id)]);
  for (const { card, after } of laid.closers) {
    for (const link of after) if (inside.has(link.card)) linkIfSound(docs, card, link);
  }
  if (own) waitFor(docs, own, laid);
}

function layOut(
  docs: Docs,
  args: Ask,
  order: Order,
  routing: Routing,
  own: Card | undefined,
  op: string,
  now: number,
): Laid {
  const stands = new Map<string, string>();
  let joined = false;
  const shared = new Set<string>();
  for (const step of routing.steps) {
    const opened = thereAlready(docs, order, step);
    joined ||= opened !== undefined;
    const follows = step.after.some((link) => shared.has(link.step));
    const there = opened ?? (follows ? laidAlready(docs, order, routing, step) : undefined);
    if (there !== undefined && !step.opens) shared.add(step.step);
    const fits = own && step.department === args.from && step.inside != null && ![...stands.values()].includes(own.id);
    stands.set(step.step, there ?? (fits ? own.id : partOf(op, step.step)));
  }
  const laid: Laid = { cards: [], joined, ownAfter: [], ownInside: undefined, closers: [] };
  for (const step of routing.steps) {
    const id = stands.get(step.step) ?? partOf(op, step.step);
    const after = step.after.flatMap(({ step: before, ...lag }) => {
      const card = stands.get(before);
      return card ? [{ card, ...lag }] : [];
    });
    if (id === own?.id) {
      laid.ownAfter = after;
      laid.ownInside = step.inside ?? undefined;
    } else if (docs.get("card", id)) {
      if (step.closes) laid.closers.push({ card: id, after });
    } else {
      if (step.closes) laid.closers.push({ card: id, after: [] });
      laid.cards.push(cardFrom(args, routing, step, id, after.length ? after : (args.after ?? []).map(whole), op, now));
    }
  }
  return laid;
}

/** A card of the vehicle that already opens, or will close, what this step opens or closes. */
function thereAlready(docs: Docs, order: Order, step: Step): string | undefined {
  const cards = cardsOf(docs, order.id);
  const toCome = (open: string): Card | undefined => cards.find((card) => card.opens === open && !isOver(card));
  const open = (name: string): string | undefined => order.open.find((now) => now.open === name)?.by;
  if (step.opens) return open(step.opens) ?? toCome(step.opens)?.id;
  const closes = step.closes;
  if (!closes || (open(closes) === undefined && !toCome(closes))) return undefined;
  return closerOf({ get: (id) => docs.get("card", id) }, cards, closes)?.id;
}

/** What follows a closing that is joined is done once too: the vehicle is not aligned twice. */
function laidAlready(docs: Docs, order: Order, routing: Routing, step: Step): string | undefined {
  if (step.inside || step.opens || step.closes) return undefined;
  const same = (card: Card): boolean => card.routing === routing.id && card.step === step.step && !isOver(card);
  return cardsOf(docs, order.id).find(same)?.id;
}

function cardFrom(
  args: Ask,
  routing: Routing,
  step: Step,
  id: string,
  after: Link[],
  op: string,
  now: number,
): Card {
  const { step: word, department, title, planned_minutes, after: _, ...needs } = step;
  return {
    ...needs,
    id,
    order: args.order,
    department,
    title,
    planned_minutes: args.minutes?.[word] ?? planned_minutes,
    after,
    life: "waiting",
    helpers: [],
    spans: [],
    checks_done: [],
    handoff: op,
    step: word,
    routing: routing.id,
    routing_version: routing.version,
    created_at: now,
  };
}

function handoff(args: Ask, order: Order, routing: Routing, laid: Laid, { op, me, now }: At): Handoff {
  const openAlready =
    laid.joined && routing.steps.some((step) => step.opens && order.open.some((open) => open.open === step.opens));
  return {
    id: op,
    order: order.id,
    routing: routing.id,
    title: routing.title,
    from: args.from,
    to: routing.steps[0]?.department ?? args.from,
    asked_by: me,
    asked_at: now,
    life: openAlready ? "open" : "asked",
    ...(openAlready ? { opened_at: now } : {}),
    cards: laid.cards.map((card) => card.id),
    ...(args.for_card ? { for_card: args.for_card } : {}),
    joined: laid.joined,
    ...(args.note ? { note: args.note } : {}),
    ...(args.not_yet ? { not_yet: args.not_yet } : {}),
    condition: order.condition,
  };
}

/** The asker's own card comes after what opens; what came after it comes after the closing. */
function waitFor(docs: Docs, own: Card, laid: Laid): void {
  const closers = new Set(laid.closers.map(({ card }) => card));
  const later = cardsOf(docs, own.order).filter(
    (card) => card.after.some((link) => link.card === own.id) && !closers.has(card.id),
  );
  const inside = laid.ownInside;
  if (inside) docs.change("card", own.id, () => ({ inside }));
  for (const link of laid.ownAfter) linkIfSound(docs, own.id, link);
  for (const { card } of laid.closers) {
    for (const next of later) linkIfSound(docs, next.id, { card, lag_minutes: 0 });
  }
}

function linkIfSound(docs: Docs, id: string, after: Link): void {
  const card = docs.get("card", id);
  if (!card || isOver(card) || leadsTo({ get: (one) => docs.get("card", one) }, id, after.card)) return;
  docs.set("card", id, { ...card, after: [...card.after.filter((link) => link.card !== after.card), after] });
  const linked = docs.get("card", id);
  if (linked) settleReady(docs, linked);
}
