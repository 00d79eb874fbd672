// Unsent operations laid over the documents: one small function per kind of operation.
// Invariants: pure; shows what the server will most likely answer and decides nothing; an operation
// about something unknown changes nothing; held to the same vectors as the server's rules.
// Must not know: whether or how an operation is sent.
import type { Acts, Card, Kind, Ms, Op } from "../api/types";
import { ask } from "./ask";
import type { Docs } from "./docs";
import { energyAfter, saidEnergy } from "./energy";
import { outOfService, REACH } from "./equipment";
import {
  changeCondition,
  closed,
  equipmentFor,
  finished,
  givenBack,
  isOver,
  opened,
  paused,
  running,
  settleReady,
  started,
  taken,
  whole,
} from "./effects";
import { callOff, callOffAsk, closingWaitsFor } from "./inside";
import { openOrder } from "./open-order";
import { stop } from "./stop";

export interface At {
  op: string;
  me: string;
  now: Ms;
}

type Overlay = { [K in Kind]: (docs: Docs, args: Acts[K], at: At) => void };

const MINUTE = 60_000;

const nothing = (): void => {};

const overlay: Overlay = {
  start(docs, { card: id, on }, { op, me, now }) {
    const card = docs.get("card", id);
    if (!card || card.spans.some((span) => span.person === me && span.to == null)) return;
    for (const other of running(docs, me)) {
      if (other.id !== id) paused(docs, other.id, me, now, "other_work", op);
    }
    if (!card.taken_by && !isOver(card)) taken(docs, id, me, now, op);
    started(docs, id, me, now, op, on ?? equipmentFor(docs, card));
  },

  pause(docs, { card: id, why }, { op, me, now }) {
    const card = docs.get("card", id);
    if (!card?.spans.some((span) => span.person === me && span.to == null)) return;
    paused(docs, id, me, now, why ?? undefined, op);
  },

  finish(docs, { card: id, checks, wet_minutes }, { op, me, now }) {
    const card = docs.get("card", id);
    if (!card) return;
    const was = isOver(card);
    finished(docs, id, me, now, checks ?? [], wet_minutes == null ? undefined : now + wet_minutes * MINUTE, op);
    const order = docs.get("order", card.order);
    if (was || !order) return;
    const isOpen = (name: string): boolean => order.open.some((open) => open.open === name);
    if (card.opens && !isOpen(card.opens)) {
      opened(docs, card, card.opens, card.used ?? equipmentFor(docs, card), now);
    }
    if (card.closes && isOpen(card.closes)) closed(docs, card.order, card.closes);
    energyAfter(docs, card, me, now);
  },

  found(docs, { order, card, what, note }, { op, me, now }) {
    docs.set("note", op, { id: op, order, ...(card ? { card } : {}), by: me, at: now, found: what, body: note ?? "" });
  },

  note(docs, { order, card, body }, { op, me, now }) {
    docs.set("note", op, { id: op, order, ...(card ? { card } : {}), by: me, at: now, body });
  },

  photo(docs, { order, card, handoff, sha256, mime, bytes, taken_at }, { op, me, now }) {
    const here = [...docs.all("photo")].some((photo) => photo.sha256 === sha256 && photo.here);
    docs.set("photo", op, {
      id: op,
      order,
      ...(card ? { card } : {}),
      ...(handoff ? { handoff } : {}),
      by: me,
      taken_at: Math.min(taken_at, now),
      sha256,
      mime,
      bytes,
      here,
    });
  },

  mark_photo(docs, { photo, marks }, { me, now }) {
    docs.change("photo", photo, (body) => {
      const others = (body.marks ?? []).filter((one) => one.by !== me);
      const all = marks.length
        ? [...others, { by: me, at: now, marks: marks.map((mark) => given(mark)) as never }]
        : others;
      return { marks: all.length ? all : undefined };
    });
  },

  move(docs, { order: id, to, on }, { me, now }) {
    const order = docs.get("order", id);
    if (!order || (order.condition.place === to && (on == null || order.condition.on === on))) return;
    const stood = [...order.stood, { place: to, from: now, by: me }].sort((a, b) => a.from - b.from);
    const place = stood.at(-1)?.place;
    docs.set("order", id, { ...order, stood, condition: { ...order.condition, place, ...(on ? { on } : {}) } });
  },

  condition(docs, { order, change }) {
    docs.change("order", order, (body) => ({ condition: changeCondition(body.condition, change) }));
  },

  stage(docs, { order: id, stage, reason }, at) {
    const { now } = at;
    const order = docs.get("order", id);
    if (!order || order.stage === stage) return;
    const said = reason == null ? {} : { reason: reason.trim() };
    docs.change("order", id, (body) => ({
      stage,
      stages: [...body.stages, { stage, at: now, ...said }].sort((a, b) => a.at - b.at),
      ...(stage === "authorised" && body.first_promise == null && body.promise != null
        ? { first_promise: body.promise }
        : {}),
    }));
    if (stage === "stopped") stop(docs, order, reason?.trim() || undefined, at);
  },

  stage_back(docs, { order, stage, reason }, { me, now }) {
    docs.change("order", order, (body) => {
      const last = body.stages.findLastIndex((one) => one.stage === stage);
      const was = body.stages[last];
      if (body.stage !== stage || !was) return {};
      const stages = body.stages.filter((_, n) => n !== last);
      const one = { stage, reached_at: was.at, by: me, at: now, reason: reason.trim() };
      return { stage: stages.at(-1)?.stage ?? "expected", stages, taken_back: [...(body.taken_back ?? []), one] };
    });
  },

  energy(docs, { order, energy }, { me, now }) {
    docs.change("order", order, (body) => ({ energy: saidEnergy(docs, body, energy, me, now) }));
  },

  equipment_out(docs, { equipment, note }, { now }) {
    docs.change("equipment", equipment, ({ out_of_service }) => {
      if (outOfService(out_of_service, now)) return {};
      const reason = note?.trim();
      return { out_of_service: [...out_of_service, { from: now, to: now + REACH, ...(reason ? { reason } : {}) }] };
    });
  },

  equipment_back(docs, { equipment }, { now }) {
    docs.change("equipment", equipment, ({ out_of_service }) => ({
      out_of_service: out_of_service
        .map((one) => (one.from <= now && now < one.to ? { ...one, to: now } : one))
        .filter((one) => one.from < one.to),
    }));
  },

  ask,

  take(docs, { card: id }, { op, me, now }) {
    const card = docs.get("card", id);
    // A card somebody else holds stays theirs; the server answers with who and when.
    if (!card || isOver(card) || card.taken_by) return;
    taken(docs, id, me, now, op);
  },

  give_back(docs, { card: id }, { op, now }) {
    const card = docs.get("card", id);
    if (!card?.taken_by || isOver(card)) return;
    for (const span of card.spans) {
      if (span.to == null) paused(docs, id, span.person, now, "other_work", op);
    }
    givenBack(docs, id);
  },

  help(docs, { card }, { me }) {
    docs.change("card", card, (body) =>
      isOver(body) || body.taken_by === me || body.helpers.includes(me) ? {} : { helpers: [...body.helpers, me] },
    );
  },

  assign(docs, { card: id, to }, at) {
    const card = docs.get("card", id);
    if (!card || isOver(card) || card.taken_by === to) return;
    if (card.taken_by) overlay.give_back(docs, { card: id }, at);
    taken(docs, id, to, at.now, at.op);
  },

  lead(docs, { order, department, person }) {
    docs.change("order", order, (body) => {
      const { [department]: _, ...others } = body.leads;
      return { leads: person ? { ...others, [department]: person } : others };
    });
  },

  open_order: openOrder,

  edit_order(docs, { order, change }) {
    docs.change("order", order, () => given(change));
  },

  promise(docs, { order, due }, { me, now }) {
    docs.change("order", order, (body) => {
      if ((body.promise ?? null) === due) return {};
      const authorised = body.stage !== "expected" && body.stage !== "arrived";
      const moved = authorised && body.first_promise != null && (body.promise ?? null) !== due;
      return {
        promise: due ?? undefined,
        promised_by: me,
        promised_at: now,
        promise_moves: body.promise_moves + (moved ? 1 : 0),
        ...(authorised && body.first_promise == null && due !== null ? { first_promise: due } : {}),
      };
    });
  },

  add_card(docs, args, { op, now }) {
    const { before = [], proposed, ...rest } = args;
    docs.set("card", op, {
      off_vehicle: false,
      beside: false,
      one_go: false,
      checks: [],
      cautions: [],
      ...rest,
      id: op,
      after: (args.after ?? []).map(whole),
      life: proposed ? "proposed" : "waiting",
      helpers: [],
      spans: [],
      checks_done: [],
      created_at: now,
    });
    docs.change("order", args.order, (order) => ({ cards: [...order.cards, op] }));
    for (const id of before) overlay.link(docs, { card: id, after: { card: op, lag_minutes: 0 } }, { op, me: "", now });
    const card = docs.get("card", op);
    if (card) settleReady(docs, card);
    closingWaitsFor(docs, op);
  },

  edit_card(docs, { card, change }) {
    const { needs, approved, ...rest } = change;
    docs.change("card", card, (body): Partial<Card> => ({
      ...given(rest),
      ...(needs ?? {}),
      life: approved && body.life === "proposed" ? "waiting" : body.life,
    }));
    if (needs || approved) closingWaitsFor(docs, card);
  },

  call_off(docs, { handoff }) {
    callOffAsk(docs, handoff);
  },

  cancel_card(docs, { card, reason }, { me, now }) {
    callOff(docs, card, me, now, reason?.trim() || undefined);
  },

  link(docs, { card: id, after }) {
    docs.change("card", id, (card) => ({
      after: [...card.after.filter((link) => link.card !== after.card), whole(after)],
    }));
    const card = docs.get("card", id);
    if (card) settleReady(docs, card);
  },

  unlink(docs, { card: id, after }) {
    docs.change("card", id, (card) => ({ after: card.after.filter((link) => link.card !== after) }));
    const card = docs.get("card", id);
    if (card) settleReady(docs, card);
  },

  hold(docs, { order, what, cards, blocks, due, note }, { op, now }) {
    docs.change("order", order, (body) => ({
      holds: [
        ...body.holds,
        {
          id: op,
          what,
          cards: cards ?? [],
          blocks: blocks ?? "start",
          since: now,
          ...(due == null ? {} : { due }),
          ...(note == null ? {} : { note }),
        },
      ],
    }));
  },

  hold_due(docs, { order, hold, due }) {
    docs.change("order", order, (body) => ({
      holds: body.holds.map((held) => {
        if (held.id !== hold || held.ended != null || held.due === due) return held;
        const first = held.first_due ?? held.due;
        return { ...held, due, ...(first == null ? {} : { first_due: first }) };
      }),
    }));
  },

  unhold(docs, { order, hold }, { now }) {
    docs.change("order", order, (body) => ({
      holds: body.holds.map((held) => (held.id === hold && held.ended == null ? { ...held, ended: now } : held)),
    }));
  },

  put_first(docs, { card, reason, until }, { me }) {
    docs.change("card", card, () => ({ put_first: { by: me, reason, until } }));
  },

  put_back(docs, { card }) {
    docs.change("card", card, () => ({ put_first: undefined }));
  },

  correct(docs, { card, span, from, to }) {
    docs.change("card", card, (body) => {
      const spans = body.spans.map((own) =>
        own.id === span ? { ...own, from, to: to ?? undefined, corrected: true } : own,
      );
      const ends = spans.map((own) => own.to).filter((end) => end != null);
      return { spans, ...(body.life === "done" && ends.length ? { done_at: Math.max(...ends) } : {}) };
    });
    const body = docs.get("card", card);
    if (body) settleReady(docs, body);
  },

  // What an undone act had changed only the server knows exactly. While both are unsent the act is left
  // out instead (see `without`); after that the phone waits for the documents.
  undo: nothing,

  answer(docs, { exception, reason }, { me, now }) {
    docs.change("exception", exception, () => ({ answered_by: me, answered_at: now, reason }));
  },

  dropped: nothing,

  set_shop: (docs, { shop }) => docs.set("shop", "shop", shop),
  set_department: (docs, { department }) => docs.set("department", department.id, department),
  set_person: (docs, { person }) => docs.set("person", person.id, person),
  // What goes is gone once the server has done it.
  erase_person: nothing,
  set_equipment: (docs, { equipment }) => docs.set("equipment", equipment.id, equipment),
  set_place: (docs, { place }) => docs.set("place", place.id, place),
  set_calendar: (docs, { calendar }) => docs.set("calendar", calendar.id, calendar),
  set_routing: (docs, { routing }) => docs.set("routing", routing.id, routing),
};

/** Lays one operation over the documents. */
export function apply(docs: Docs, op: Op, me: string, now: Ms): void {
  const act = overlay[op.kind] as ((docs: Docs, args: Op["args"], at: At) => void) | undefined;
  act?.(docs, op.args, { op: op.id, me, now });
}

/** Ids of acts that a later unsent Undo takes back: neither is laid over the screen. */
export function without(ops: readonly Op[]): ReadonlySet<string> {
  const gone = new Set<string>();
  for (const op of ops) if (op.kind === "undo") gone.add(op.args.op);
  return gone;
}

/** All of them in their order. */
export function applyAll(docs: Docs, ops: readonly { op: Op; person: string; at: Ms }[]): void {
  const gone = without(ops.map(({ op }) => op));
  for (const { op, person, at } of ops) if (!gone.has(op.id)) apply(docs, op, person, at);
}

/** Fields that were given: absent ones stay. */
function given<T extends object>(change: T): { [P in keyof T]: NonNullable<T[P]> } {
  return Object.fromEntries(Object.entries(change).filter(([, value]) => value != null)) as never;
}
