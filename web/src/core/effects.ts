// What single happenings do to cards, vehicles and hand-offs, so far as a phone can foresee it.
// Invariant: effects only, no rules: whether something is allowed the server alone decides.
// Must not know: operations, storage, the screen.
import type { Acts, Card, Condition, ConditionChange, Handoff, Link, Ms, PauseWhy, Person } from "../api/types";
import type { Docs } from "./docs";

const MINUTE = 60_000;

export const isOver = (card: Card): boolean => card.life === "done" || card.life === "cancelled";

export function cardsOf(docs: Docs, order: string): Card[] {
  const ids = docs.get("order", order)?.cards ?? [];
  return ids.map((id) => docs.get("card", id)).filter((card) => card !== undefined);
}

/** When the card could begin as far as what comes before it goes: none while something is undone. */
export function readyAt(docs: Docs, card: Card): Ms | undefined {
  let latest = card.created_at;
  for (const link of card.after) {
    const before = docs.get("card", link.card);
    if (!before || before.life === "cancelled") continue;
    if (before.life !== "done" || before.done_at == null) return undefined;
    latest = Math.max(latest, before.done_at + link.lag_minutes * MINUTE);
  }
  return latest;
}

/** Brings the card and those directly after it into line with what is done. */
export function settleReady(docs: Docs, card: Card): void {
  const touched = cardsOf(docs, card.order).filter((next) => next.after.some((link) => link.card === card.id));
  for (const { id } of [...touched, card]) {
    const now = docs.get("card", id);
    if (!now) continue;
    const ready = readyAt(docs, now);
    if ((now.ready_at ?? undefined) === ready) continue;
    docs.set("card", id, { ...now, ready_at: ready });
    const handoff = docs.get("handoff", now.handoff);
    if (handoff && handoff.cards[0] === id && handoff.started_at == null) {
      docs.set("handoff", handoff.id, { ...handoff, ready_at: ready });
    }
  }
}

export function taken(docs: Docs, id: string, by: string, at: Ms, op: string): void {
  docs.change("card", id, (card) => ({
    last_act: op,
    taken_by: by,
    taken_at: at,
    helpers: card.helpers.filter((helper) => helper !== by),
    life: card.life === "waiting" ? "taken" : card.life,
  }));
  own(docs, id, (handoff) => (handoff.taken_at == null ? { life: "taken", taken_by: by, taken_at: at } : undefined));
}

export function givenBack(docs: Docs, id: string): void {
  docs.change("card", id, (card) => ({
    taken_by: undefined,
    taken_at: undefined,
    last_act: undefined,
    life: card.life === "taken" ? "waiting" : card.life,
  }));
  const handoff = docs.get("handoff", docs.get("card", id)?.handoff);
  if (handoff?.life === "taken") {
    docs.set("handoff", handoff.id, { ...handoff, life: "asked", taken_by: undefined, taken_at: undefined });
  }
}

export function started(docs: Docs, id: string, by: string, at: Ms, op: string, used: string | undefined): void {
  docs.change("card", id, (card) => ({
    life: isOver(card) ? card.life : "working",
    paused_why: undefined,
    last_act: op,
    ...(used ? { used } : {}),
    spans: [...card.spans, { id: op, person: by, from: at, uncertain: false, corrected: false }],
  }));
  own(docs, id, (handoff) => {
    if (handoff.started_at != null) return undefined;
    const life = handoff.life === "asked" || handoff.life === "taken" ? "started" : handoff.life;
    return { life, started_at: at };
  });
}

export function paused(docs: Docs, id: string, by: string, at: Ms, why: PauseWhy | undefined, op: string): void {
  docs.change("card", id, (card): Partial<Card> => {
    const spans = endSpans(card, by, at);
    const still = card.life !== "working" || spans.some((span) => span.to == null);
    return still ? { spans, last_act: op } : { spans, last_act: op, life: "paused", paused_why: why };
  });
}

export function finished(
  docs: Docs,
  id: string,
  by: string,
  at: Ms,
  checks: number[],
  wetUntil: Ms | undefined,
  op: string,
): void {
  docs.change("card", id, (card): Partial<Card> => {
    const spans = endSpans(card, undefined, at);
    if (isOver(card)) return { spans };
    return {
      spans,
      last_act: op,
      life: "done",
      done_at: at,
      done_by: by,
      checks_done: checks,
      put_first: undefined,
    };
  });
  const card = docs.get("card", id);
  if (!card) return;
  settleReady(docs, card);
  if (wetUntil !== undefined) {
    docs.change("order", card.order, (order) => ({ condition: { ...order.condition, wet_until: wetUntil } }));
  }
  const handoff = docs.get("handoff", card.handoff);
  if (handoff && allOver(docs, handoff)) {
    docs.set("handoff", handoff.id, { ...handoff, life: "handed_back", handed_back_at: at });
  }
}

export function opened(docs: Docs, card: Card, open: string, equipment: string | undefined, at: Ms): void {
  docs.change("order", card.order, (order) => ({
    open: [...order.open, { open, since: at, by: card.id, ...(equipment ? { equipment } : {}) }],
  }));
  docs.change("handoff", card.handoff, (): Partial<Handoff> => ({ life: "open", opened_at: at }));
}

export function closed(docs: Docs, order: string, open: string): void {
  docs.change("order", order, (body) => ({ open: body.open.filter((now) => now.open !== open) }));
}

export function cancelled(docs: Docs, id: string, by: string, at: Ms, reason: string | undefined): void {
  docs.change("card", id, (): Partial<Card> => ({
    life: "cancelled",
    put_first: undefined,
    cancelled: { by, at, ...(reason ? { reason } : {}) },
  }));
  const card = docs.get("card", id);
  if (!card) return;
  settleReady(docs, card);
  if (card.opens) cancelJoined(docs, card.order, card.opens);
  const handoff = docs.get("handoff", card.handoff);
  if (!handoff || !allOver(docs, handoff)) return;
  const done = handoff.cards.flatMap((part) => docs.get("card", part)?.done_at ?? []);
  if (!done.length) docs.set("handoff", handoff.id, { ...handoff, life: "cancelled" });
  else if (handoff.life !== "handed_back") {
    docs.set("handoff", handoff.id, { ...handoff, life: "handed_back", handed_back_at: Math.max(...done) });
  }
}

/** Nobody will open the state any more: what joined it, and has no work of its own left, is asked for in vain. */
function cancelJoined(docs: Docs, id: string, open: string): void {
  const order = docs.get("order", id);
  const toCome = cardsOf(docs, id).some((card) => card.opens === open && !isOver(card));
  if (!order || toCome || order.open.some((one) => one.open === open)) return;
  for (const one of docs.all("handoff")) {
    const waits = one.order === id && one.joined && (one.life === "asked" || one.life === "taken");
    if (waits && joins(docs, one, open) && allOver(docs, one))
      docs.set("handoff", one.id, { ...one, life: "cancelled" });
  }
}

function joins(docs: Docs, handoff: Handoff, open: string): boolean {
  const inside = [handoff.for_card, ...handoff.cards].some((id) => docs.get("card", id)?.inside === open);
  return inside || (docs.get("routing", handoff.routing)?.steps.some((step) => step.opens === open) ?? false);
}

/** The piece of equipment a card is worked on, where it is certain: where the vehicle is open or stands. */
export function equipmentFor(docs: Docs, card: Card): string | undefined {
  const order = docs.get("order", card.order);
  if (!card.equipment || !order) return undefined;
  const fits = (id: string | null | undefined): id is string => {
    const found = docs.get("equipment", id);
    return found !== undefined && found.kind === card.equipment && !found.retired;
  };
  const held = order.open.map((now) => now.equipment).find(fits);
  const stands = docs.get("place", order.condition.place)?.equipment;
  return held ?? (fits(stands) ? stands : undefined);
}

/** Cards on which the person has a running span. */
export function running(docs: Docs, person: string): Card[] {
  const mine = (card: Card): boolean =>
    card.life === "working" && card.spans.some((span) => span.person === person && span.to == null);
  return [...docs.all("card")].filter(mine);
}

export function changeCondition(condition: Condition, change: ConditionChange): Condition {
  const next: Condition = { ...condition };
  for (const [field, value] of Object.entries(change)) {
    if (value !== undefined && value !== null) Object.assign(next, { [field]: value });
  }
  return next;
}

/** A link as it is kept: what was left out of it is there. */
export const whole = ({ card, lag_minutes, lag_minutes_max }: Acts["link"]["after"]): Link => ({
  card,
  lag_minutes: lag_minutes ?? 0,
  ...(lag_minutes_max == null ? {} : { lag_minutes_max }),
});

export const worksIn = (person: Person, department: string): boolean =>
  person.department === department || person.also.includes(department);

function endSpans(card: Card, person: string | undefined, at: Ms): Card["spans"] {
  return card.spans.map((span) =>
    span.to == null && (person === undefined || span.person === person)
      ? { ...span, to: Math.max(at, span.from) }
      : span,
  );
}

/** Changes the hand-off of a card that is work of the department asked. */
function own(docs: Docs, id: string, change: (handoff: Handoff) => Partial<Handoff> | undefined): void {
  const card = docs.get("card", id);
  const handoff = docs.get("handoff", card?.handoff);
  if (!card || !handoff || card.department !== handoff.to) return;
  const changed = change(handoff);
  if (changed) docs.set("handoff", handoff.id, { ...handoff, ...changed });
}

function allOver(docs: Docs, handoff: Handoff): boolean {
  return handoff.cards.every((id) => {
    const card = docs.get("card", id);
    return !card || isOver(card);
  });
}
