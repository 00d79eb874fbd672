// Asking another department: the routing becomes linked cards and a hand-off, on the phone at once and
// with the same names as on the server. Work inside a state that is open, or will be, joins it; the
// asker's own card takes the place of the routing's step inside, or comes after the hand-back.
import type { Ask, Card, Handoff, Link, Order, Routing, Step } from "../api/types";
import type { Docs } from "./docs";
import { cardsOf, changeCondition, isOver, settleReady, whole } from "./effects";
import { closerOf } from "./close-up";
import { partOf } from "./ids";
import { isOpen, linkIfSound, opensLater, plain, same, stoodFor } from "./inside";
import type { At } from "./overlay";

interface Laid {
  cards: Card[];
  joined: boolean;
  own: Own;
  /** Cards that close, with links still to be made where they were there already. */
  closers: { card: string; after: Link[] }[];
}

/** Where the asker's own card goes: after what, and what of the step it stands for. */
interface Own {
  after: Link[];
  step: Pick<Step, "inside" | "checks" | "cautions">;
}

const NOWHERE: Own = { after: [], step: { checks: [], cautions: [] } };

export function ask(docs: Docs, args: Ask, { op, me, now }: At): void {
  const routing = docs.get("routing", args.routing);
  if (!canBeLaidOut(routing, (id) => docs.get("department", id))) return;
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

/** What a routing lays out is somebody's work: no department that it names is gone. */
export const canBeLaidOut = (
  routing: Routing | undefined,
  department: (id: string) => { retired?: boolean } | undefined,
): boolean => !routing?.steps.some((step) => department(step.department)?.retired);

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
  const ownStep = own && stoodFor(routing, args.from, own);
  for (const step of routing.steps) {
    const opened = thereAlready(docs, order, step);
    joined ||= opened !== undefined;
    const follows = step.after.some((link) => shared.has(link.step));
    const there = opened ?? (follows ? laidAlready(docs, order, routing, step) : undefined);
    if (there !== undefined && !step.opens) shared.add(step.step);
    stands.set(step.step, there ?? (own && step === ownStep ? own.id : partOf(op, step.step)));
  }
  const place = own && !ownStep ? besideTheRouting(own, routing, stands) : NOWHERE;
  const laid: Laid = { cards: [], joined, own: place, closers: [] };
  for (const step of routing.steps) {
    const id = stands.get(step.step) ?? partOf(op, step.step);
    const after = step.after.flatMap(({ step: before, ...lag }) => {
      const card = stands.get(before);
      return card ? [{ card, ...lag }] : [];
    });
    if (id === own?.id) {
      laid.own = { after, step };
      continue;
    }
    const there = docs.get("card", id) !== undefined;
    if (step.closes) {
      // It waits for the asker's card too, where no step stands for that.
      const waits = own && !ownStep && laid.own.step.inside === step.closes;
      laid.closers.push({ card: id, after: [...(there ? after : []), ...(waits ? [plain(own.id)] : [])] });
    }
    if (!there)
      laid.cards.push(cardFrom(args, routing, step, id, after.length ? after : (args.after ?? []).map(whole), op, now));
  }
  return laid;
}

/** What is opened on no equipment is opened for others to work in: inside. A booth is not: after everything. */
function besideTheRouting(own: Card, routing: Routing, stands: ReadonlyMap<string, string>): Own {
  const of = (step: Step): string => stands.get(step.step) ?? "";
  const opener = routing.steps.find((step) => step.opens && !step.equipment);
  if (opener) return { after: [plain(of(opener))], step: { inside: opener.opens ?? null, checks: [], cautions: [] } };
  const named = new Set(routing.steps.flatMap((step) => step.after.map((link) => link.step)));
  const last = routing.steps.filter((step) => !named.has(step.step)).map(of);
  return { ...NOWHERE, after: last.filter((id) => id !== own.id).map(plain) };
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

function cardFrom(args: Ask, routing: Routing, step: Step, id: string, after: Link[], op: string, now: number): Card {
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
  const { after, step } = laid.own;
  const closers = new Set(laid.closers.map(({ card }) => card));
  const later = cardsOf(docs, own.order).filter(
    (card) => card.after.some((link) => link.card === own.id) && !closers.has(card.id),
  );
  // One card is inside one state; of two, the links alone say the other.
  const kept =
    own.inside != null &&
    (isOpen(docs, own.order, own.inside) || opensLater(docs, own.order, own.inside) !== undefined);
  docs.change("card", own.id, (card) => ({
    ...(step.inside && !kept ? { inside: step.inside } : {}),
    checks: [...card.checks, ...step.checks.filter((check) => !own.checks.some((one) => same(one, check)))],
    cautions: [...card.cautions, ...step.cautions.filter((caution) => !own.cautions.includes(caution))],
  }));
  for (const link of after) linkIfSound(docs, own.id, link);
  if (!step.inside) return;
  for (const { card } of laid.closers) for (const next of later) linkIfSound(docs, next.id, plain(card));
}
