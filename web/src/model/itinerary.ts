// The trip of one vehicle as stays on a line: worked, waiting, planned. Both drawings and their tables
// are made from it, so that picture and words cannot disagree.
//
// Invariants: the stays of `main` touch each other and never overlap; everything before `now` is past;
// work on a loose part or beside other work goes on `second`. Pure. Must not know: pixels, languages.

export interface SpanLike {
  person: string;
  from: number;
  to?: number | null;
}

export interface CardLike {
  id: string;
  department: string;
  life: string;
  spans: SpanLike[];
  off_vehicle?: boolean;
  opens?: string | null;
  closes?: string | null;
  used?: string | null;
  done_at?: number | null;
}

export interface OrderLike {
  id: string;
  stage: string;
  stages: { stage: string; at: number }[];
  expected_at?: number | null;
  promise?: number | null;
  created_at: number;
  open?: { open: string; by: string }[];
  holds?: { id: string; what: string; since: number; ended?: number | null; due?: number | null }[];
}

export interface HandoffLike {
  id: string;
  order: string;
  from: string;
  to: string;
  asked_at: number;
  life: string;
  started_at?: number | null;
}

export interface PlanRowLike {
  card: string;
  order: string;
  department: string;
  from: number;
  to: number;
  equipment?: string | null;
}

export interface PlanVehicleLike {
  order: string;
  finish?: number | null;
  promise?: number | null;
  late_minutes: number;
  waits?: { reason: string; since: number; department?: string | null } | null;
}

export interface PlanLike {
  rows: PlanRowLike[];
  vehicles: PlanVehicleLike[];
}

export type StayKind = "worked" | "waiting" | "planned" | "planned_wait";

export interface Stay {
  from: number;
  to: number;
  /** A department's id, or AWAY. */
  row: string;
  kind: StayKind;
  card?: string;
  person?: string;
  equipment?: string;
}

export interface Itinerary {
  order: string;
  /** Keys in, or when it is expected. */
  begin: number;
  /** Keys back, planned end, or now where neither is known. */
  end: number;
  /** The keys are back. */
  over: boolean;
  main: Stay[];
  second: Stay[];
  /** Where the line is now; none before keys in and after keys back. */
  here?: string;
  finish?: number;
  promise?: number;
  lateMinutes: number;
  holds: { what: string; from: number; to: number }[];
}

/** The level of a vehicle at a sublet. */
export const AWAY = "~away";

export interface Trip {
  order: OrderLike;
  cards: CardLike[];
  handoffs: HandoffLike[];
  plan?: PlanLike | null;
  now: number;
}

export function itinerary({ order, cards, handoffs, plan, now }: Trip): Itinerary {
  const rows = (plan?.rows ?? []).filter((row) => row.order === order.id);
  const vehicle = plan?.vehicles.find((one) => one.order === order.id);
  const live = cards.filter((card) => card.life !== "cancelled" && card.life !== "proposed");
  const byId = new Map(live.map((card) => [card.id, card]));

  const arrived = order.stages.find((s) => s.stage !== "expected")?.at;
  const begin = arrived ?? (order.stage === "expected" ? (order.expected_at ?? order.created_at) : order.created_at);
  const delivered = order.stage === "delivered" ? last(order.stages, "delivered")?.at : undefined;
  const pastEnd = Math.min(delivered ?? now, now);
  const away = awayTimes(order, pastEnd);

  const walk = new Walk(begin, away);
  for (const piece of worked(live, now)) {
    if (piece.off) walk.second.push(piece.stay);
    else walk.work(piece.stay, (from, to, row) => askedAt(handoffs, from, to, row));
  }
  if (pastEnd > walk.at) {
    const waitsFor =
      delivered === undefined ? (vehicle?.waits?.department ?? openAsk(handoffs)?.to ?? undefined) : undefined;
    walk.wait(pastEnd, waitsFor, (from, to, row) => askedAt(handoffs, from, to, row));
  }
  const here = delivered === undefined && begin <= now ? walk.row : undefined;

  if (delivered === undefined) {
    const planned = rows
      .filter((row) => byId.has(row.card) && row.to > now)
      .sort((a, b) => a.from - b.from || a.to - b.to);
    walk.at = Math.max(walk.at, Math.min(begin, now), now);
    if (begin > now) walk.at = begin;
    for (const row of planned) {
      const stay: Stay = {
        from: Math.max(row.from, walk.floor(now)),
        to: row.to,
        row: row.department,
        kind: "planned",
        card: row.card,
        equipment: row.equipment ?? byId.get(row.card)?.used ?? undefined,
      };
      if (byId.get(row.card)?.off_vehicle) walk.second.push(stay);
      else walk.plan(stay);
    }
    const finish = vehicle?.finish ?? undefined;
    if (finish && finish > walk.at) walk.push({ from: walk.at, to: finish, row: walk.row, kind: "planned_wait" });
  }

  const main = walk.stays();
  const finish = vehicle?.finish ?? undefined;
  const end = delivered ?? Math.max(finish ?? 0, main.at(-1)?.to ?? 0, ...walk.second.map((s) => s.to), begin);
  return {
    order: order.id,
    begin,
    end,
    over: delivered !== undefined,
    main,
    second: walk.second.sort((a, b) => a.from - b.from),
    here,
    finish: delivered === undefined ? finish : undefined,
    promise: order.promise ?? undefined,
    lateMinutes: delivered === undefined ? Math.max(0, vehicle?.late_minutes ?? 0) : lateAtKeysBack(order, delivered),
    holds: (order.holds ?? []).map((hold) => ({
      what: hold.what,
      from: hold.since,
      to: hold.ended ?? hold.due ?? now,
    })),
  };
}

/** Times in which a piece of equipment is taken up by the order, and for how much of it nobody works. */
export interface Occupied {
  equipment: string;
  from: number;
  to: number;
  order: string;
  /** Parts of it in which nobody works on the vehicle: the equipment is blocked. */
  blocked: { from: number; to: number }[];
}

/** From the start of the card that opens (or uses) to the end of the card that closes. */
export function occupied(trip: Trip): Occupied[] {
  const { order, cards, plan, now } = trip;
  const planned = new Map((plan?.rows ?? []).filter((r) => r.order === order.id).map((r) => [r.card, r]));
  const inUse = cards.filter((card) => card.life !== "cancelled" && card.life !== "proposed");
  const endOf = (card: CardLike) => card.done_at ?? planned.get(card.id)?.to ?? lastSpanEnd(card, now) ?? undefined;
  const found: Occupied[] = [];
  for (const card of inUse) {
    const row = planned.get(card.id);
    const equipment = card.used ?? row?.equipment;
    const from = card.spans[0]?.from ?? row?.from;
    if (!equipment || from === undefined) continue;
    const closer = card.opens ? inUse.find((other) => other.closes === card.opens && other !== card) : undefined;
    const stillOpen = order.open?.some((one) => one.by === card.id) ?? false;
    // Open and nobody has planned the closing: held until now, and nobody knows how much longer.
    const to =
      (closer && endOf(closer)) ??
      (stillOpen || (closer && card.spans.length > 0) ? Math.max(now, from) : undefined) ??
      endOf(card) ??
      Math.max(now, from);
    const before = found.find((one) => one.equipment === equipment && one.from <= to && from <= one.to);
    if (before) {
      before.from = Math.min(before.from, from);
      before.to = Math.max(before.to, to);
    } else found.push({ equipment, from, to: Math.max(to, from), order: order.id, blocked: [] });
  }
  const work = inUse
    .flatMap((card) => [
      ...card.spans.map((span) => ({ from: span.from, to: span.to ?? now })),
      ...rowsOf(planned.get(card.id)).map((row) => ({ from: Math.max(row.from, now), to: row.to })),
    ])
    .sort((a, b) => a.from - b.from);
  for (const one of found) {
    let at = one.from;
    for (const piece of work) {
      if (piece.to <= at || piece.from >= one.to) continue;
      if (piece.from > at) one.blocked.push({ from: at, to: piece.from });
      at = Math.max(at, piece.to);
    }
    if (at < one.to) one.blocked.push({ from: at, to: one.to });
  }
  return found.sort((a, b) => a.from - b.from);
}

/** Walks along the line and keeps it in one piece. */
class Walk {
  private main: Stay[] = [];
  readonly second: Stay[] = [];
  row = "";

  constructor(
    public at: number,
    private away: { from: number; to: number }[],
  ) {}

  floor(now: number): number {
    return Math.max(this.at, now);
  }

  work(stay: Stay, asked: Asked): void {
    if (stay.to <= this.at && this.main.length) {
      // Lies wholly beside work that is on the line already.
      if (stay.row !== this.rowAt(stay.from)) this.second.push(stay);
      return;
    }
    if (stay.from < this.at) {
      if (this.main.length === 0) this.at = stay.from;
      else {
        if (stay.row !== this.row) this.second.push({ ...stay, to: this.at });
        stay = { ...stay, from: this.at };
      }
    }
    if (stay.from > this.at) this.wait(stay.from, stay.row, asked);
    this.push(stay);
  }

  /** Waiting until `to`; it moves to the row it waits for when that was asked. */
  wait(to: number, next: string | undefined, asked: Asked): void {
    const row = this.row || next || "";
    const turn = next && next !== row ? (asked(this.at, to, next) ?? undefined) : undefined;
    const parts: Stay[] = [];
    if (turn !== undefined && turn > this.at) parts.push({ from: this.at, to: turn, row, kind: "waiting" });
    const from = turn ?? this.at;
    parts.push({ from, to, row: turn !== undefined && next ? next : row, kind: "waiting" });
    for (const part of parts) this.withAway(part);
  }

  plan(stay: Stay): void {
    if (stay.to <= this.at) {
      if (stay.row !== this.row) this.second.push(stay);
      return;
    }
    const from = Math.max(stay.from, this.at);
    if (from > this.at) this.push({ from: this.at, to: from, row: this.row || stay.row, kind: "planned_wait" });
    this.push({ ...stay, from });
  }

  push(stay: Stay): void {
    if (stay.to < stay.from) return;
    const before = this.main.at(-1);
    this.row = stay.row;
    this.at = stay.to;
    if (
      before &&
      before.row === stay.row &&
      before.kind === stay.kind &&
      before.card === stay.card &&
      before.person === stay.person
    ) {
      before.to = stay.to;
      return;
    }
    this.main.push({ ...stay });
  }

  stays(): Stay[] {
    return this.main.filter((stay) => stay.to > stay.from);
  }

  private rowAt(at: number): string | undefined {
    return this.main.find((stay) => stay.from <= at && at < stay.to)?.row;
  }

  private withAway(stay: Stay): void {
    let at = stay.from;
    for (const gone of this.away) {
      const from = Math.max(gone.from, at);
      const to = Math.min(gone.to, stay.to);
      if (from >= to) continue;
      if (from > at) this.push({ ...stay, from: at, to: from });
      this.push({ from, to, row: AWAY, kind: "waiting" });
      at = to;
    }
    if (at < stay.to) this.push({ ...stay, from: at });
  }
}

type Asked = (from: number, to: number, row: string) => number | undefined;

function worked(cards: CardLike[], now: number): { stay: Stay; off: boolean }[] {
  const pieces = cards.flatMap((card) =>
    card.spans
      .filter((span) => span.from <= now)
      .map((span) => ({
        off: card.off_vehicle ?? false,
        stay: {
          from: span.from,
          to: Math.max(span.from, Math.min(span.to ?? now, now)),
          row: card.department,
          kind: "worked" as const,
          card: card.id,
          person: span.person,
          equipment: card.used ?? undefined,
        },
      })),
  );
  return pieces.sort((a, b) => a.stay.from - b.stay.from || b.stay.to - a.stay.to);
}

/** When the next row was asked for, if that was inside this wait (or before it: then at once). */
function askedAt(handoffs: HandoffLike[], from: number, to: number, row: string): number | undefined {
  const asked = handoffs
    .filter((one) => one.to === row && one.asked_at < to && one.life !== "cancelled")
    .filter((one) => (one.started_at ?? Infinity) >= from);
  if (asked.length === 0) return undefined;
  return Math.max(from, Math.min(...asked.map((one) => one.asked_at)));
}

function openAsk(handoffs: HandoffLike[]): HandoffLike | undefined {
  return handoffs.find((one) => one.life === "asked" || one.life === "taken");
}

function awayTimes(order: OrderLike, end: number): { from: number; to: number }[] {
  return order.stages.flatMap((one, i) =>
    one.stage === "away" ? [{ from: one.at, to: order.stages[i + 1]?.at ?? end }] : [],
  );
}

function last(stages: OrderLike["stages"], stage: string): OrderLike["stages"][number] | undefined {
  return stages.filter((one) => one.stage === stage).at(-1);
}

const rowsOf = (row: PlanRowLike | undefined): PlanRowLike[] => (row ? [row] : []);

function lastSpanEnd(card: CardLike, now: number): number | undefined {
  const span = card.spans.at(-1);
  return span ? (span.to ?? now) : undefined;
}

function lateAtKeysBack(order: OrderLike, delivered: number): number {
  return order.promise ? Math.max(0, Math.round((delivered - order.promise) / 60_000)) : 0;
}
