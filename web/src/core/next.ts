// What stands of a case, which rules were broken in it, and what to offer next. Read when somebody looks.
// Must not know: words, storage, the screen.
import type { Card, ExceptionKind, Ms } from "../api/types";
import { FOR_CARD, JOINED, ON_CARD, orderOf, RECORDED, type TrayRow } from "./cases";
import { isOver } from "./effects";

/** What was done, in the words of the trade. */
export interface Stands {
  from: Ms | undefined;
  to: Ms | undefined;
  /** Told as finished by this person. */
  finished: boolean;
}

/** The work that stands in spite of the lost wish; none if nothing was done. */
export function stands(row: TrayRow): Stands | undefined {
  const ops = (row.did ?? []).map(({ op }) => op).filter((op) => ON_CARD.has(op.kind));
  if (!ops.length) return undefined;
  const last = ops.at(-1);
  return {
    from: ops.find((op) => op.kind === "start")?.device_at,
    to: last && last.kind !== "start" ? last.device_at : undefined,
    finished: ops.some((op) => op.kind === "finish"),
  };
}

/** Every rule that was broken, the gravest first, each once. */
export function broken(row: TrayRow): ExceptionKind[] {
  const kinds = new Set((row.did ?? []).flatMap(({ exceptions }) => exceptions));
  return [...kinds].sort((a, b) => GRAVITY[a] - GRAVITY[b]);
}

/** Every kind has its place: one that is missing here would never be told. */
const GRAVITY: Record<ExceptionKind, number> = {
  high_voltage: 0,
  left_open: 1,
  unsafe_lift: 2,
  closed_over_undone: 3,
  cancelled_open: 4,
  moved_open: 5,
  out_of_service: 6,
  occupied: 7,
  inspection_overdue: 8,
  unqualified: 9,
  not_open: 10,
  during_hold: 11,
  after_end: 12,
  two_at_once: 13,
  started_early: 14,
  too_late: 15,
  finished_early: 16,
  opened_twice: 17,
  out_of_turn: 18,
  no_keys_in: 19,
  unproved: 20,
  done_by_another: 21,
};

export type Next =
  | "help"
  | "hand_over"
  | "leave"
  | "pause"
  | "answer"
  | "promise"
  | "put_first"
  | "open_again"
  | "again"
  | "tell"
  | "look";

/** What to offer next, the most likely first. `me` is whose case it is. */
export function nextSteps(row: TrayRow, card: Card | undefined, me: string): Next[] {
  const runs = card?.spans.some((span) => span.person === me && span.to == null) ?? false;
  const about: Next[] = card || orderOf(row.op) ? ["look"] : [];
  const withPlanner: Next[] = card || orderOf(row.op) ? ["tell", "look"] : [];
  if (row.code === JOINED) return about;
  if (row.code !== RECORDED) {
    if (row.code === "taken" && card && FOR_CARD.has(row.op.kind)) {
      if (isOver(card)) return withPlanner;
      if (card.helpers.includes(me)) return withPlanner;
      return ["help", stands(row) ? "hand_over" : "leave", "tell"];
    }
    return (
      AFTER_REFUSAL[row.code]?.filter((step) => (step !== "tell" && step !== "look") || about.length > 0) ?? withPlanner
    );
  }
  const kinds = broken(row);
  const stop: Next[] = runs && kinds.some((kind) => STOP.has(kind)) ? ["pause"] : [];
  const answer: Next[] = kinds.includes("two_at_once") ? ["answer"] : [];
  return [...stop, ...answer, ...withPlanner];
}

/** Better not gone on with until somebody has looked. */
const STOP: ReadonlySet<ExceptionKind> = new Set<ExceptionKind>([
  "high_voltage",
  "unqualified",
  "not_open",
  "during_hold",
  "after_end",
  "started_early",
  "occupied",
  "out_of_service",
  "too_late",
  "left_open",
  "unsafe_lift",
]);

const AFTER_REFUSAL: Partial<Record<string, Next[]>> = {
  taken: ["look", "tell"],
  done: ["look"],
  cancelled: ["look", "tell"],
  not_ready: ["look", "tell"],
  expectation: ["look"],
  delivered: ["look"],
  nothing_to_undo: ["look"],
  cycle: ["look"],
  promise_past: ["promise", "look"],
  promise_closed: ["promise", "look"],
  promised_otherwise: ["promise", "look"],
  reason_needed: ["look"],
  put_first_past: ["put_first", "look"],
  duplicate_number: ["open_again"],
  signed_out: ["again"],
  unproved: ["again"],
  too_large: ["look"],
  invalid: ["look"],
};
