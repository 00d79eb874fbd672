// Work inside an open state: what closes comes after it, what opens before it; and an ask that is called off
// leaves the asker's own card as it was. As on the server (`decide::handoff`, `decide::cancel`).
// Must not know: operations, storage, the screen.
import type { Card, Link, Routing, Step } from "../api/types";
import { closerOf, leadsTo } from "./close-up";
import type { Docs } from "./docs";
import { cancelled, cardsOf, isOver, settleReady } from "./effects";

export const plain = (card: string): Link => ({ card, lag_minutes: 0 });

type Check = Step["checks"][number];
export const same = (a: Check, b: Check): boolean => a.text === b.text && (a.es ?? undefined) === (b.es ?? undefined);

const lookUp = (docs: Docs) => ({ get: (id: string): Card | undefined => docs.get("card", id) });

export const isOpen = (docs: Docs, order: string, open: string): boolean =>
  docs.get("order", order)?.open.some((now) => now.open === open) ?? false;

/** The card still to come that opens it. */
export const opensLater = (docs: Docs, order: string, open: string): Card | undefined =>
  cardsOf(docs, order).find((card) => card.opens === open && !isOver(card));

/** The step inside that the asker's own card stands for: one for its department, else the first. */
export function stoodFor(routing: Routing, from: string, own: Card): Step | undefined {
  const inside = routing.steps.filter((step) => step.inside != null);
  return inside.find((step) => step.department === own.department || step.department === from) ?? inside[0];
}

export function linkIfSound(docs: Docs, id: string, after: Link): void {
  const card = docs.get("card", id);
  if (!card || isOver(card)) return;
  // A cure that is there already is not made shorter.
  if (card.after.some((link) => link.card === after.card && link.lag_minutes >= after.lag_minutes)) return;
  if (leadsTo(lookUp(docs), id, after.card)) return;
  docs.set("card", id, { ...card, after: [...card.after.filter((link) => link.card !== after.card), after] });
  const linked = docs.get("card", id);
  if (linked) settleReady(docs, linked);
}

/** Nothing waits for what is not approved. */
export function closingWaitsFor(docs: Docs, id: string): void {
  const card = docs.get("card", id);
  if (!card?.inside || card.life === "proposed") return;
  const { inside, order } = card;
  const opener = opensLater(docs, order, inside);
  if (opener && !isOpen(docs, order, inside)) linkIfSound(docs, id, plain(opener.id));
  const closer = closerOf(lookUp(docs), cardsOf(docs, order), inside);
  if (closer) linkIfSound(docs, closer.id, plain(id));
}

/** Calls a card off, and with the card that opens all that was asked for with it and is not begun. */
export function callOff(docs: Docs, id: string, by: string, at: number, reason: string | undefined): void {
  const card = docs.get("card", id);
  if (!card || isOver(card) || card.life === "working") return;
  cancelled(docs, id, by, at, reason);
  const handoff = docs.get("handoff", card.handoff);
  if (!handoff) return;
  const opens =
    card.opens && !isOpen(docs, card.order, card.opens) && !opensLater(docs, card.order, card.opens)
      ? card.opens
      : undefined;
  if (opens) {
    const rest = handoff.cards.filter((other) => {
      const part = docs.get("card", other);
      return part && !isOver(part) && !part.spans.length && leadsTo(lookUp(docs), id, other);
    });
    for (const other of rest) cancelled(docs, other, by, at, reason);
  }
  const over = handoff.cards.every((part) => (docs.get("card", part)?.life ?? "cancelled") === "cancelled");
  if (opens || over) letGo(docs, handoff.id, opens);
  // What had joined the opening, and nothing else, was asked for in vain.
  if (!opens) return;
  for (const one of docs.all("handoff")) {
    if (one.order === card.order && one.joined && one.life === "cancelled") letGo(docs, one.id, opens);
  }
}

/** An ask that only joined another's: the asker's own card goes out of it, the rest stays. */
export function callOffAsk(docs: Docs, id: string): void {
  const handoff = docs.get("handoff", id);
  if (!handoff?.joined || handoff.life === "handed_back" || undone(docs, handoff.cards)) return;
  docs.change("handoff", id, () => ({ life: "cancelled" as const }));
  const own = docs.get("card", handoff.for_card);
  if (!own?.inside || [...docs.all("handoff")].some((one) => one.for_card === own.id && one.life !== "cancelled"))
    return;
  letGo(docs, id, own.inside);
  for (const closer of cardsOf(docs, own.order)) {
    if (closer.closes !== own.inside || isOver(closer)) continue;
    docs.change("card", closer.id, ({ after }) => ({ after: after.filter((link) => link.card !== own.id) }));
    settleReady(docs, closer);
  }
}

const undone = (docs: Docs, cards: readonly string[]): boolean =>
  cards.some((id) => {
    const card = docs.get("card", id);
    return card && !isOver(card);
  });

/** The asker's own card is as if it had not been asked. */
function letGo(docs: Docs, id: string, open: string | undefined): void {
  const handoff = docs.get("handoff", id);
  const own = docs.get("card", handoff?.for_card);
  if (!handoff || !own || isOver(own)) return;
  if (open && own.inside === open) {
    const asked = docs.get("routing", handoff.routing);
    const step = asked && stoodFor(asked, handoff.from, own);
    // What the card's own routing looks at stays, also where the step had it too.
    const laid = docs.get("routing", own.routing)?.steps.find((one) => one.step === own.step);
    const has = (checks: readonly Check[] | undefined, check: Check): boolean =>
      checks?.some((one) => same(one, check)) ?? false;
    docs.change("card", own.id, () => ({
      inside: undefined,
      checks: own.checks.filter((check) => !has(step?.checks, check) || has(laid?.checks, check)),
      cautions: own.cautions.filter((one) => !step?.cautions.includes(one) || laid?.cautions.includes(one)),
    }));
  }
  const opened = (link: Link): boolean => open !== undefined && docs.get("card", link.card)?.opens === open;
  docs.change("card", own.id, (card) => ({
    after: card.after.filter((link) => !handoff.cards.includes(link.card) && !opened(link)),
  }));
  const freed = docs.get("card", own.id);
  if (freed) settleReady(docs, freed);
}
