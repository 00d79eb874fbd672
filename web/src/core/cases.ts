// What a person is still to be told about what they did: a wish that lost, and facts that met something
// else than they expected. One case per piece of work: take, start and finish made offline whose take
// lost are one message, and the work stands.
// Invariants: pure; nothing of a case is lost but by putting it away; a taken-back act leaves no case.
// Must not know: words, storage, the screen.
import type { ExceptionKind, Kind, Ms, Op, OpResult } from "../api/types";

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

export const ON_CARD: ReadonlySet<Kind> = new Set<Kind>(["start", "pause", "finish"]);
/** Wishes to have a card: what was done on it afterwards belongs to the same story. */
export const FOR_CARD: ReadonlySet<Kind> = new Set<Kind>(["take", "help"]);

/** What one verdict changes about the cases kept so far. */
export function verdict(
  kept: readonly TrayRow[],
  { client, person, op }: Made,
  result: OpResult,
  since: Ms,
): CaseChange {
  const own = kept.filter((row) => row.person === person);
  // Said once, however often it is sent.
  if (
    own.some(
      (row) =>
        row.id === op.id ||
        [...(row.did ?? []).map((did) => did.op), ...(row.also ?? [])].some((known) => known.id === op.id),
    )
  )
    return NOTHING;
  if (op.kind === "undo") return undone(own, { client, person, op }, result, since);
  const exceptions = result.exceptions ?? [];
  if (result.verdict === "refused") {
    const given =
      op.kind === "give_back"
        ? own.find((row) => FOR_CARD.has(row.op.kind) && cardOf(row.op) === op.args.card)
        : undefined;
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
  if (card && ON_CARD.has(op.kind))
    return cardOf(row.op) === card && (row.code === RECORDED || FOR_CARD.has(row.op.kind));
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
