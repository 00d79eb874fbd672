// Open states of a vehicle that are closed and opened again, as on the server (`domain::open`).
// Must not know: the screen; whether the server allows it.
import type { Card, Order } from "../api/types";
import { isOver } from "./effects";

type Cards = { get(id: string): Card | undefined };

/** Whether `before` follows, directly or not, from `card`. */
export function leadsTo(cards: Cards, card: string, before: string): boolean {
  const seen = new Set<string>();
  const open = [before];
  for (let next = open.pop(); next !== undefined; next = open.pop()) {
    if (next === card) return true;
    if (seen.has(next)) continue;
    seen.add(next);
    for (const link of cards.get(next)?.after ?? []) open.push(link.card);
  }
  return false;
}

/** The card still to come that closes it; of several, for it may be closed meanwhile, the last. */
export function closerOf(cards: Cards, own: readonly Card[], open: string): Card | undefined {
  const closers = own.filter((card) => card.closes === open && !isOver(card));
  return closers.find((card) => closers.every((other) => other.id === card.id || !leadsTo(cards, card.id, other.id)));
}

/** A closing after which it is opened again: the vehicle rolls meanwhile. */
export function isMeanwhile(cards: Cards, order: Order, card: Card): boolean {
  if (card.closes == null) return false;
  const opens = (id: string): boolean => {
    const other = cards.get(id);
    return other !== undefined && other.opens === card.closes && !isOver(other) && leadsTo(cards, card.id, id);
  };
  return order.cards.some(opens);
}

/** Cards that should be done inside an open state before it closes, and for which it is not to be opened again. */
export function undoneInside(cards: Cards, order: Order, open: string): Card[] {
  const own = order.cards.map((id) => cards.get(id)).filter((card) => card !== undefined);
  const now = order.open.find((one) => one.open === open);
  const again = now ? own.filter((card) => card.opens === open && !isOver(card) && card.id !== now.by) : [];
  return own
    .filter((card) => card.inside === open && !isOver(card) && card.life !== "proposed")
    .filter((card) => !again.some((opener) => leadsTo(cards, opener.id, card.id)));
}

/** Whether it can be closed up so that it rolls: something waits inside, somebody is to close it, and nobody works there now. */
export function canCloseUp(cards: Cards, order: Order, open: string): boolean {
  const now = order.open.find((one) => one.open === open);
  const closer = closerOf(
    cards,
    order.cards.map((id) => cards.get(id)).filter((card) => card !== undefined),
    open,
  );
  const inside = undoneInside(cards, order, open);
  return (
    !!closer &&
    !!now &&
    cards.get(now.by) !== undefined &&
    inside.length > 0 &&
    ![...inside, closer].some((card) => card.life === "working")
  );
}
