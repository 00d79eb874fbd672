// What a person is still to be told about what they did: a wish that lost, and facts that met something
// else than they expected. One case per piece of work: take, start and finish made offline whose take
// lost are one message, and the work stands.
// Invariants: pure; nothing of a case is lost but by putting it away; a taken-back act leaves no case.
// Must not know: words, storage, the screen.
import type { Card, ExceptionKind, Kind, Ms, Op, OpResult } from "../api/types";
import { isOver } from "./effects";

export interface TrayRow {
  /** The operation it began with. */
  id: string;
  person: string;
  /** Absent in rows kept by earlier versions. */
  client?: string;
  op: Op;
  /** The server's word for a refusal, or one of `TOLD`. */
  code: string;
  message?: string;
  by?: string;
  at?: Ms;
  since: Ms;
  /** What was recorded all the same, oldest first. */
  did?: Did[];
  /** What was refused with it, because it was about what this would have made. */
  also?: Op[];
}

export interface Did {
  op: Op;
  exceptions: ExceptionKind[];
}

/** Codes of cases in which nothing was refused. */
export const RECORDED = "recorded";
export const JOINED = "joined";
const TOLD: ReadonlySet<string> = new Set([RECORDED, JOINED]);

/** Something the person wanted is not so. */
export const wasRefused = (row: TrayRow): boolean => !TOLD.has(row.code) && !row.did?.length;

export interface Made {
  client: string;
  person: string;
  op: Op;
}

export interface CaseChange {
  put: TrayRow[];
  drop: string[];
}

const ON_CARD: ReadonlySet<Kind> = new Set<Kind>(["start", "pause", "finish"]);
/** Wishes to have a card: what was done on it afterwards belongs to the same story. */
const FOR_CARD: ReadonlySet<Kind> = new Set<Kind>(["take", "help"]);

/** What one verdict changes about the cases kept so far. */
export function verdict(kept: readonly TrayRow[], { client, person, op }: Made, result: OpResult, since: Ms): CaseChange {
  const own = kept.filter((row) => row.person === person);
  // Said once, however often it is sent.
  if (own.some((row) => row.id === op.id || [...(row.did ?? []).map((did) => did.op), ...(row.also ?? [])].some((known) => known.id === op.id))) return NOTHING;
  if (op.kind === "undo") return undone(own, { client, person, op }, result, since);
  const exceptions = result.exceptions ?? [];
  if (result.verdict === "refused") {
    const given = op.kind === "give_back" ? own.find((row) => FOR_CARD.has(row.op.kind) && cardOf(row.op) === op.args.card) : undefined;
    // Given back what was never got: nothing to say about either.
    if (given) return given.did?.length ? NOTHING : { put: [], drop: [given.id] };
    const maker = own.find((row) => row.op.kind === "open_order" && row.id === orderOf(op));
    if (maker) return { put: [{ ...maker, also: [...(maker.also ?? []), op] }], drop: [] };
    return { put: [refused({ client, person, op }, result, since)], drop: [] };
  }
  const story = own.find((row) => belongs(row, op));
  if (story && result.verdict === "applied" && (exceptions.length > 0 || ON_CARD.has(op.kind))) {
    return { put: [{ ...story, did: [...(story.did ?? []), { op, exceptions }] }], drop: [] };
  }
  if (!exceptions.length) return NOTHING;
  return { put: [{ id: op.id, person, client, op, code: RECORDED, since, did: [{ op, exceptions }] }], drop: [] };
}

const NOTHING: CaseChange = { put: [], drop: [] };

function refused({ client, person, op }: Made, result: OpResult, since: Ms): TrayRow {
  return {
    id: op.id,
    person,
    client,
    op,
    code: result.code ?? "refused",
    since,
    ...(result.message ? { message: result.message } : {}),
    ...(result.by ? { by: result.by } : {}),
    ...(result.at ? { at: result.at } : {}),
  };
}

/** Whether an act that was recorded goes on with this case. */
function belongs(row: TrayRow, op: Op): boolean {
  const card = cardOf(op);
  if (row.code === JOINED) return false;
  if (card && ON_CARD.has(op.kind)) return cardOf(row.op) === card && (row.code === RECORDED || FOR_CARD.has(row.op.kind));
  const order = orderOf(op);
  return row.code === RECORDED && order !== undefined && orderOf(row.op) === order && row.op.kind === op.kind;
}

/** An act taken back takes its part of the case along; an Undo of what was refused asks for nothing. */
function undone(own: readonly TrayRow[], made: Made, result: OpResult, since: Ms): CaseChange {
  const target = (made.op.args as { op: string }).op;
  const wish = own.find((row) => row.id === target && row.code !== RECORDED);
  if (wish) return wish.did?.length ? NOTHING : { put: [], drop: [wish.id] };
  if (result.verdict === "refused") return { put: [refused(made, result, since)], drop: [] };
  const story = own.find((row) => row.did?.some(({ op }) => op.id === target));
  if (!story) return NOTHING;
  const did = (story.did ?? []).filter(({ op }) => op.id !== target);
  const still = story.code !== RECORDED || did.some(({ exceptions }) => exceptions.length > 0);
  return still ? { put: [{ ...story, did }], drop: [] } : { put: [], drop: [story.id] };
}

export const cardOf = (op: Op): string | undefined => (op.args as { card?: string | null }).card ?? undefined;
export const orderOf = (op: Op): string | undefined => (op.args as { order?: string | null }).order ?? undefined;

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
  return GRAVEST_FIRST.filter((kind) => kinds.has(kind));
}

const GRAVEST_FIRST: ExceptionKind[] = [
  "high_voltage", "closed_over_undone", "moved_open", "occupied", "unqualified", "not_open", "during_hold", "after_end", "two_at_once",
  "started_early", "finished_early", "opened_twice", "out_of_turn", "done_by_another",
];

export type Next = "help" | "hand_over" | "leave" | "pause" | "answer" | "promise" | "put_first" | "open_again" | "tell" | "look";

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
    return AFTER_REFUSAL[row.code]?.filter((step) => (step !== "tell" && step !== "look") || about.length > 0) ?? withPlanner;
  }
  const kinds = broken(row);
  const stop: Next[] = runs && kinds.some((kind) => STOP.has(kind)) ? ["pause"] : [];
  const answer: Next[] = kinds.includes("two_at_once") ? ["answer"] : [];
  return [...stop, ...answer, ...withPlanner];
}

/** Better not gone on with until somebody has looked. */
const STOP: ReadonlySet<ExceptionKind> = new Set<ExceptionKind>([
  "high_voltage", "unqualified", "not_open", "during_hold", "after_end", "started_early", "occupied",
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
  put_first_past: ["put_first", "look"],
  duplicate_number: ["open_again"],
  too_large: ["look"],
  invalid: ["look"],
};
