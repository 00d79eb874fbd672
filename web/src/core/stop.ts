// Stopping a vehicle, as on the server (`domain`, decide/stop.rs): what was planned is cancelled, what is
// open is put back.
// Must not know: the screen; whether the server allows it.
import { TITLE_CHARS_MAX } from "../api/core-limits";
import type { Card, Order, Step, Words } from "../api/types";
import { closerOf } from "./close-up";
import type { Docs } from "./docs";
import { cancelled, cardsOf, isOver, paused, settleReady } from "./effects";
import { partOf } from "./ids";
import type { At } from "./overlay";

export function stop(docs: Docs, order: Order, said: string | undefined, { op, me, now }: At): void {
  const own = cardsOf(docs, order.id);
  const undone = own.filter((card) => !isOver(card));
  const openers = new Map<string, string>();
  for (const card of undone) if (card.opens && card.spans.length) openers.set(card.opens, card.id);
  for (const { open, by } of order.open) openers.set(open, by);

  const kept = new Set<string>();
  const missing: Card[] = [];
  for (const [open, by] of [...openers].sort(([a], [b]) => (a < b ? -1 : 1))) {
    const closer = putBackBy(docs, own, open);
    const opener = docs.get("card", by);
    if (closer) kept.add(closer.id);
    else if (opener) missing.push(laidPutBack(docs, order, open, opener, op, now));
  }
  for (const card of undone) {
    if (kept.has(card.id)) continue;
    for (const span of card.spans) if (span.to == null) paused(docs, card.id, span.person, now, "other_work", op);
    cancelled(docs, card.id, me, now, said);
  }
  for (const card of missing) {
    docs.set("card", card.id, card);
    docs.change("order", order.id, ({ cards }) => ({ cards: [...cards, card.id] }));
    settleReady(docs, card);
  }
}

/** The card that puts it back: whoever is at one, or holds one, goes on with it. */
function putBackBy(docs: Docs, own: readonly Card[], open: string): Card | undefined {
  const closes = own.filter((card) => card.closes === open && !isOver(card));
  const held = (["working", "paused", "taken"] as const).map((life) => closes.find((card) => card.life === life));
  const last = closerOf({ get: (id) => docs.get("card", id) }, own, open);
  return held.find((card) => card !== undefined) ?? (last?.life === "proposed" ? undefined : last);
}

function laidPutBack(docs: Docs, order: Order, open: string, opener: Card, op: string, now: number): Card {
  const blank = {
    id: partOf(op, `put-back/${open}`),
    order: order.id,
    after: [],
    life: "waiting" as const,
    helpers: [],
    spans: [],
    checks_done: [],
    created_at: now,
  };
  const found = stepThatCloses(docs, open, opener.routing);
  if (found) {
    const { step: _word, after: _after, ...step } = found;
    return { ...step, ...blank };
  }
  const { department, planned_minutes, equipment, qualification, cautions } = opener;
  return {
    ...blank,
    department,
    title: putBackTitle(opener.title),
    planned_minutes,
    ...(equipment == null ? {} : { equipment }),
    closes: open,
    off_vehicle: false,
    beside: false,
    one_go: false,
    ...(qualification == null ? {} : { qualification }),
    checks: [],
    cautions,
  };
}

/** Of the routing by which it was opened, else of any other, in the order of their names. */
function stepThatCloses(docs: Docs, open: string, openedBy: string | null | undefined): Step | undefined {
  const all = [...docs.all("routing")].filter((one) => !one.retired).sort((a, b) => (a.id < b.id ? -1 : 1));
  const own = all.filter((one) => one.id === openedBy);
  const here = (id: string): boolean => docs.get("department", id)?.retired === false;
  return [...own, ...all].flatMap((one) => one.steps).find((step) => step.closes === open && here(step.department));
}

function putBackTitle({ text, es }: Words): Words {
  const titled = (what: string, title: string): string => [...`${what}: ${title}`].slice(0, TITLE_CHARS_MAX).join("");
  return { text: titled("Put back", text), ...(es == null ? {} : { es: titled("Volver a montar", es) }) };
}
