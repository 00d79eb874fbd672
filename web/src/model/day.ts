// One day of the shop, for who answers for it: what came and went, what was done, asked and raised, what is due next.
// Pure, from documents alone, so it is there without a network too. Must not know: languages, the DOM.
//
// Invariants: a thing belongs to the day in which it happened, whenever the phone sent it; promises are held against the first
// one; nothing here is of a person.

import type { Card, Exception, Handoff, Ms, Order, Stage } from "../api/types";

export interface DayPicture {
  orders: ReadonlyMap<string, Order>;
  cards: ReadonlyMap<string, Card>;
  handoffs: ReadonlyMap<string, Handoff>;
  exceptions: ReadonlyMap<string, Exception>;
  now: Ms;
}

export interface Passed {
  order: Order;
  stage: Stage;
  at: Ms;
  /** Keys back so long after the first promise; 0: kept; none: nothing was promised, or the keys are here. */
  late?: Ms;
  /** Why, where somebody said it. */
  reason?: string;
}

export interface Done {
  department: string;
  cards: number;
  plannedMinutes: number;
  /** Hours people clocked on that day, whether or not a card was finished. */
  clocked: Ms;
}

export interface Day {
  passed: Passed[];
  done: Done[];
  asked: {
    asked: number;
    begun: number;
    back: number;
    waiting: Handoff[];
    /** From the later of asked and really ready to begun, the middle one. */ untilBegun?: Ms;
  };
  raised: Exception[];
  answered: number;
  /** Promises of the next days, what is overdue first. */
  due: { order: Order; promise: Ms }[];
}

const SHOWN: readonly Stage[] = ["arrived", "authorised", "ready", "delivered", "stopped"];

/** `[from, to)` is the day; promises up to `dueBy` are due next. */
export function dayOf(picture: DayPicture, from: Ms, to: Ms, dueBy: Ms): Day {
  const inside = (at: Ms | null | undefined): at is Ms => at != null && from <= at && at < to;
  const end = Math.min(to, picture.now);

  const passed = [...picture.orders.values()]
    .flatMap((order) =>
      order.stages
        .filter((one) => SHOWN.includes(one.stage) && inside(one.at))
        .map((one): Passed => {
          const promise = order.first_promise;
          const late = one.stage === "delivered" && promise != null ? Math.max(0, one.at - promise) : undefined;
          return { order, stage: one.stage, at: one.at, late, ...(one.reason ? { reason: one.reason } : {}) };
        }),
    )
    .sort((a, b) => a.at - b.at);

  const done = new Map<string, Done>();
  for (const card of picture.cards.values()) {
    const finished = card.life === "done" && inside(card.done_at);
    const clocked = card.spans.reduce(
      (sum, span) => sum + Math.max(0, Math.min(span.to ?? end, end) - Math.max(span.from, from)),
      0,
    );
    if (!finished && clocked === 0) continue;
    const of = done.get(card.department) ?? { department: card.department, cards: 0, plannedMinutes: 0, clocked: 0 };
    of.clocked += clocked;
    if (finished) {
      of.cards += 1;
      of.plannedMinutes += card.planned_minutes;
    }
    done.set(card.department, of);
  }

  const asks = [...picture.handoffs.values()];
  const begun = asks.filter((one) => inside(one.started_at));
  const untilBegun = begun.map((one) => Math.max(0, (one.started_at ?? 0) - Math.max(one.asked_at, one.ready_at ?? 0)));
  const asked = asks.filter((one) => inside(one.asked_at));
  const waiting = asks.filter((one) => one.asked_at < end && waited(one, end));

  const raised = [...picture.exceptions.values()].filter((one) => inside(one.since)).sort((a, b) => a.since - b.since);
  const due = [...picture.orders.values()]
    .filter(
      (order) =>
        order.stage !== "delivered" && order.stage !== "stopped" && order.promise != null && order.promise < dueBy,
    )
    .map((order) => ({ order, promise: order.promise ?? 0 }))
    .sort((a, b) => a.promise - b.promise);
  return {
    passed,
    done: [...done.values()],
    asked: {
      asked: asked.length,
      begun: begun.length,
      back: asks.filter((one) => inside(one.handed_back_at)).length,
      waiting: waiting.sort((a, b) => a.asked_at - b.asked_at),
      untilBegun: middle(untilBegun),
    },
    raised,
    answered: [...picture.exceptions.values()].filter((one) => inside(one.answered_at)).length,
    due,
  };
}

/** Whether it had not been begun then: what has been since was waited for; what was called off is no more. */
function waited(one: Handoff, at: Ms): boolean {
  if (one.life === "cancelled") return false;
  return one.started_at != null ? one.started_at >= at : one.life === "asked" || one.life === "taken";
}

/** The middle one, between the two where there is none (NIST/SEMATECH e-Handbook 1.3.5.1). */
export function middle(values: number[]): number | undefined {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length / 2;
  const [low, high] = [sorted[Math.ceil(half) - 1], sorted[Math.floor(half)]];
  return low === undefined || high === undefined ? undefined : (low + high) / 2;
}
