// A case of the tray as sentences: who was first and when, what counts all the same, what to do next.
// Must not know: how acts are done.
import type { Exception, ExceptionKind, Op } from "../../api/types";
import { cardOf, JOINED, orderOf, RECORDED, type TrayRow } from "../../core/cases";
import { isOver } from "../../core/effects";
import { broken, stands } from "../../core/next";
import { cards, exceptions, handoffs, offset, orders, t } from "../../state";
import { has } from "../../text/words";
import { at, number, person, title } from "../../text/sentences";

export interface Story {
  title: string;
  /** What happened, most important first. */
  said: string[];
  /** What to do now. */
  then: string[];
}

export function story(row: TrayRow): Story {
  const lost = row.op.kind === "take" && row.code === "taken";
  if (row.code === JOINED) return { title: what(row.op), said: [joined(row)], then: [] };
  if (row.code === RECORDED || lost) {
    const card = cardOf(row.op);
    return {
      title: card ? t("case-title", { number: number(cards.value.get(card)?.order), card: title(card) }) : what(row.op),
      said: [...(lost ? lostTake(row) : []), ...kept(row), ...recorded(row, lost)],
      then: next(row, lost),
    };
  }
  return {
    title: what(row.op),
    said: [why(row), ...kept(row), ...recorded(row, true), ...also(row)],
    then: row.did?.length ? next(row, true) : [],
  };
}

function lostTake(row: TrayRow): string[] {
  if (!row.by || !row.at) return [t("lost-take-nobody")];
  return [t("lost-take", { person: person(row.by), at: at(row.at) })];
}

/** The phone's own times: what is shown on the card may be set right by the server. */
function kept(row: TrayRow): string[] {
  const did = stands(row);
  if (!did || row.code === RECORDED) return [];
  const time = (ms: number | undefined): string => (ms === undefined ? "" : at(ms + offset.peek()));
  const args = { from: time(did.from), to: time(did.to) };
  if (did.finished) return [t(did.from === undefined ? "kept-done-only" : "kept-done", args)];
  return [t(did.to === undefined ? "kept-running" : "kept-worked", args)];
}

/** Done by somebody who had not taken it goes without saying where the take is told as lost. */
const kinds = (row: TrayRow, lost: boolean): ExceptionKind[] =>
  broken(row).filter((kind) => !(lost && kind === "done_by_another"));

function recorded(row: TrayRow, lost: boolean): string[] {
  return kinds(row, lost).map((kind) => {
    const found = raised(row, kind);
    const card = cards.value.get(cardOf(row.op) ?? "");
    const about = (found?.about ?? []).map((id) => title(id)).join("; ");
    if (kind === "after_end" && card?.life === "cancelled") return t("recorded-after_end-cancelled");
    if (kind === "after_end" && card?.done_by && card.done_by !== row.person && card.done_at) {
      return t("recorded-after_end-done", { person: person(card.done_by), at: at(card.done_at) });
    }
    const key = about && has(`recorded-${kind}-about`) ? `recorded-${kind}-about` : `recorded-${kind}`;
    return t(key, { about, person: person(card?.taken_by) });
  });
}

function next(row: TrayRow, lost: boolean): string[] {
  const card = cards.value.get(cardOf(row.op) ?? "");
  const gravest = kinds(row, lost)[0];
  const answered = gravest && raised(row, gravest);
  if (answered?.answered_at != null) {
    return [
      t("answered", {
        person: person(answered.answered_by),
        at: at(answered.answered_at),
        reason: answered.reason ?? "",
      }),
    ];
  }
  if (gravest) return [t(`then-${gravest}`, { person: person(card?.taken_by) })];
  if (!lost || !card) return [];
  const args = { person: person(card.taken_by ?? row.by) };
  if (stands(row)?.finished) return [t("then-taken-done", args)];
  if (card.helpers.includes(row.person)) return [t("then-taken-helping")];
  if (isOver(card)) return [];
  return [t(stands(row) ? "then-taken-running" : "then-taken", args)];
}

/** The server's document of the broken rule, when it has come. */
export function raised(row: TrayRow, kind: ExceptionKind): Exception | undefined {
  const card = cardOf(row.op);
  const order = orderOf(row.op);
  let latest: Exception | undefined;
  for (const one of exceptions.value.values()) {
    if (one.kind !== kind || one.by !== row.person) continue;
    if (card ? one.card !== card : one.order !== order) continue;
    if (!latest || one.since > latest.since) latest = one;
  }
  return latest;
}

function joined(row: TrayRow): string {
  const handoff = handoffs.value.get(row.id);
  return t(handoff?.life === "open" ? "joined-open" : "joined-asked", {
    number: number(handoff?.order ?? orderOf(row.op)),
  });
}

const also = (row: TrayRow): string[] => (row.also?.length ? [t("refused-also", { count: row.also.length })] : []);

/** Why it was not accepted, in the person's language where we know the reason. */
function why(row: TrayRow): string {
  const args = {
    person: row.by ? person(row.by) : t("somebody"),
    at: row.at ? at(row.at) : "",
    number: (row.op.args as { number?: string }).number ?? "",
    message: row.message ?? "",
  };
  return has(`refused-${row.code}`) ? t(`refused-${row.code}`, args) : (row.message ?? t("refused-other"));
}

/** What the person did, as words. */
export function what(op: Op): string {
  const args = op.args as { card?: string | null; order?: string | null; number?: string };
  const of =
    args.number ?? (args.order ? number(args.order) : args.card ? number(cards.value.get(args.card)?.order) : "");
  const said = has(`act-${op.kind}`) ? t(`act-${op.kind}`) : t("act-other");
  return [of, said, args.card ? title(args.card) : ""].filter(Boolean).join(" · ");
}

/** Whatever was typed into it: nothing of that is lost. */
export function typed(row: TrayRow): string {
  const texts = [row.op, ...(row.also ?? [])].map((op) => {
    const args = op.args as {
      body?: string;
      note?: string | null;
      reason?: string | null;
      not_yet?: string | null;
      why?: string;
    };
    return args.body ?? args.note ?? args.reason ?? args.not_yet ?? (op.args as { vehicle?: string }).vehicle ?? "";
  });
  return texts.filter(Boolean).join("\n");
}

/** The vehicle it is about. */
export const orderIn = (row: TrayRow): string | undefined => {
  const id = orderOf(row.op) ?? cards.value.get(cardOf(row.op) ?? "")?.order ?? handoffs.value.get(row.id)?.order;
  return id && orders.value.has(id) ? id : undefined;
};
