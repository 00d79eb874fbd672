// The trip line's geometry: from an itinerary to strokes with coordinates.
// Grammar: thick = worked, thin = waiting, dashed = planned; one level for each department; the only
// circle is now. Pure. Must not know: languages (labels are made by the component), the DOM.

import { AWAY, type Itinerary, type Stay } from "../../model/itinerary";
import { HOUR, makeScale, scaleBar, ticks, type Scale, type Tick } from "./scale";

export type Stroke = "worked" | "waiting" | "planned" | "planned_wait" | "turn" | "planned_turn";

export interface Line {
  d: string;
  stroke: Stroke;
  late: boolean;
}

export interface Level {
  row: string;
  y: number;
}

export interface TripDrawing {
  width: number;
  height: number;
  scale: Scale;
  levels: Level[];
  lines: Line[];
  second: Line[];
  ticks: Tick[];
  axisY: number;
  /** Marked breaks: where the "//" stands and how long the wait is; off the line it stands on the axis. */
  breaks: { x: number; y: number; ms: number; onLine: boolean }[];
  keysIn: { x: number; y: number };
  /** Keys back, or the planned end; none while nothing is planned. */
  end?: { x: number; y: number; over: boolean };
  promise?: { x: number; top: number; bottom: number };
  /** From the promise to the end beyond it. */
  late?: { x1: number; x2: number; y: number };
  now?: { x: number; y: number };
  holds: { x: number; y: number; what: string }[];
  /** Equipment names under the line, where there is room. */
  equipment: { x: number; y: number; id: string }[];
  bar: { ms: number; width: number };
}

export interface TripWish {
  width: number;
  zone: string;
  now: number;
  /** Rows in the order in which the shop shows its departments. */
  rank: (row: string) => number;
  /** Room at the left for the names of the levels. */
  gutter?: number;
  pitch?: number;
}

/** Three lines of words stand above the first level: keys in, the promise, and what has no room beside its line. */
const TOP = 68;
/** How far below its level the strand of loose parts runs, and each further one. */
const LOOSE = 12;
const LOOSE_NEXT = 8;
const WORKED_MIN = 3;
const PLANNED_MIN = 5;
/** Half of what the words of a break take: the line is left out there. */
const BREAK_HALF = 21;

export function drawTrip(trip: Itinerary, wish: TripWish): TripDrawing {
  const left = (wish.gutter ?? 0) + 8;
  const right = Math.max(wish.width - 14, left + 60);
  const from = Math.min(trip.begin, trip.main[0]?.from ?? trip.begin, ...trip.second.map((s) => s.from));
  const to = Math.max(trip.end, trip.promise ?? 0, trip.over ? 0 : wish.now, from + 8 * HOUR);
  const scale = makeScale({
    from,
    to,
    left,
    right,
    quiet: quietTimes(trip, to, trip.over ? undefined : wish.now),
    perHourWanted: wish.width > 700 ? 6 : 4,
    perHourMin: wish.width > 700 ? 1 : 0.5,
  });
  const main = worthDrawing(trip.main, scale);

  const loose = looseLanes(trip.second);
  const lanes = Math.max(0, ...loose.map((one) => one.lane + 1));
  const pitch = (wish.pitch ?? 36) + (lanes ? 4 + (lanes - 1) * LOOSE_NEXT : 0);
  const rows = levelsOf([...main, ...trip.second], wish.rank);
  const levels = rows.map((row, i) => ({ row, y: TOP + 18 + i * pitch }));
  const yOf = (row: string) => levels.find((level) => level.row === row)?.y ?? levels[0]?.y ?? TOP;
  const bottom = (levels.at(-1)?.y ?? TOP) + 38 + (lanes ? lanes * LOOSE_NEXT : 0);

  const drawn = strand(main, scale, yOf, trip.promise);
  const second = loose.flatMap((one) =>
    looseStrand(
      one.stays,
      scale,
      (at) => yOf(rowAt(main, at) ?? one.row),
      yOf(one.row) + LOOSE + one.lane * LOOSE_NEXT,
    ),
  );
  const first = main[0];
  const lastStay = main.at(-1);
  const promiseX = trip.promise === undefined ? undefined : scale.x(trip.promise);
  const endX = scale.x(trip.end);
  const endY = yOf(lastStay?.row ?? rows[0] ?? "");
  const hasEnd = trip.over || trip.finish !== undefined;
  // With no end in sight it is late by as much as has passed.
  const lateX = hasEnd ? endX : scale.x(wish.now);
  const here = trip.over ? undefined : trip.here;

  return {
    width: Math.max(wish.width, Math.ceil(scale.right + 14)),
    height: bottom + 34,
    scale,
    levels,
    lines: drawn,
    second,
    ticks: ticks(scale, wish.zone),
    axisY: bottom,
    breaks: scale.breaks.map((one) => {
      const row = rowAt(trip.main, (one.from + one.to) / 2);
      return {
        x: (one.x1 + one.x2) / 2,
        y: row === undefined ? bottom : yOf(row),
        ms: one.to - one.from,
        onLine: row !== undefined,
      };
    }),
    keysIn: { x: scale.x(trip.begin), y: yOf(first?.row ?? rows[0] ?? "") },
    end: hasEnd ? { x: endX, y: endY, over: trip.over } : undefined,
    promise: promiseX === undefined ? undefined : { x: promiseX, top: TOP - 6, bottom },
    late:
      promiseX !== undefined && trip.lateMinutes > 0 && lateX > promiseX
        ? { x1: promiseX, x2: lateX, y: TOP - 6 }
        : undefined,
    now: here === undefined || wish.now < trip.begin ? undefined : { x: scale.x(wish.now), y: yOf(here) },
    holds: trip.holds
      .filter((hold) => hold.from >= from && hold.from <= to)
      .map((hold) => ({
        x: scale.x(hold.from),
        y: yOf(rowAt(trip.main, hold.from) ?? rows[0] ?? ""),
        what: hold.what,
      })),
    equipment: equipmentNames(main, scale, yOf),
    bar: scaleBar(scale, Math.min(110, wish.width / 3)),
  };
}

/** Work on loose parts, by row; what goes on at the same time runs beside each other. */
function looseLanes(stays: Stay[]): { row: string; lane: number; stays: Stay[] }[] {
  const out: { row: string; lane: number; stays: Stay[] }[] = [];
  for (const stay of [...stays].sort((a, b) => a.from - b.from || a.to - b.to)) {
    const free = out.find((one) => one.row === stay.row && (one.stays.at(-1)?.to ?? 0) <= stay.from);
    if (free) free.stays.push(stay);
    else out.push({ row: stay.row, lane: out.filter((one) => one.row === stay.row).length, stays: [stay] });
  }
  return out;
}

/** A line of its own: it leaves the vehicle's, wherever that is then, is worked on, waits, and comes back. */
function looseStrand(stays: Stay[], scale: Scale, mainAt: (at: number) => number, y: number): Line[] {
  const out: Line[] = [];
  const planned = (stay: Stay): boolean => stay.kind === "planned" || stay.kind === "planned_wait";
  stays.forEach((stay, i) => {
    const [before, next] = [stays[i - 1], stays[i + 1]];
    const x1 = scale.x(stay.from);
    const x2 = Math.max(scale.x(stay.to), x1 + WORKED_MIN);
    const thin: Stroke = planned(stay) ? "planned_wait" : "waiting";
    if (!before)
      out.push({
        d: `M${r1(x1 - 5)} ${r1(beside(mainAt(stay.from), y))}L${r1(x1)} ${r1(y)}`,
        stroke: thin,
        late: false,
      });
    out.push({ d: flat(x1, x2, y), stroke: stay.kind, late: false });
    if (next && scale.x(next.from) > x2)
      for (const [a, b] of withoutBreaks(x2, scale.x(next.from), scale))
        out.push({ d: flat(a, b, y), stroke: planned(next) ? "planned_wait" : "waiting", late: false });
    if (!next)
      out.push({ d: `M${r1(x2)} ${r1(y)}L${r1(x2 + 5)} ${r1(beside(mainAt(stay.to), y))}`, stroke: thin, late: false });
  });
  return out;
}

/** The edge of a thick line, on the side of `y`. */
const beside = (level: number, y: number): number => level + Math.sign(y - level) * 5;

/** Only the departments the vehicle really passes, in the shop's order; away comes last. */
function levelsOf(stays: Stay[], rank: (row: string) => number): string[] {
  const seen = new Set(stays.map((stay) => stay.row).filter(Boolean));
  return [...seen].sort((a, b) => (a === AWAY ? 1 : 0) - (b === AWAY ? 1 : 0) || rank(a) - rank(b));
}

/** Waits on the line with nothing beside them, cut at now and at the promise, so that both stay in true place. */
export function quietTimes(trip: Itinerary, to: number, now?: number): { from: number; to: number }[] {
  const cuts = [now, trip.promise].filter((at): at is number => at !== undefined);
  const waits = trip.main
    .filter((stay) => stay.kind === "waiting" || stay.kind === "planned_wait")
    .map((stay) => ({ from: stay.from, to: stay.to }));
  // What lies between the end of the line and the promise is a wait as well.
  const lineEnd = trip.main.at(-1)?.to;
  if (lineEnd !== undefined && lineEnd < to) waits.push({ from: lineEnd, to });
  const pieces: { from: number; to: number }[] = [];
  for (const wait of waits) {
    let at = wait.from;
    const stops = [...cuts, ...trip.second.flatMap((stay) => [stay.from, stay.to])]
      .filter((stop) => stop > wait.from && stop < wait.to)
      .sort((a, b) => a - b);
    for (const stop of [...stops, wait.to]) {
      const inside = trip.second.some((stay) => stay.from < stop && at < stay.to);
      if (!inside) pieces.push({ from: at, to: stop });
      at = stop;
    }
  }
  return pieces;
}

/**
 * Planned work too short to be seen at this scale would only draw a stroke across the levels and back: the
 * table names it. What has been is drawn however short.
 */
function worthDrawing(stays: Stay[], scale: Scale): Stay[] {
  const out: Stay[] = [];
  stays.forEach((stay, i) => {
    const before = out.at(-1);
    const planned = stay.kind === "planned" || stay.kind === "planned_wait";
    const tiny = scale.x(stay.to) - scale.x(stay.from) < PLANNED_MIN;
    if (before && planned && tiny && i < stays.length - 1 && before.kind !== "worked" && before.kind !== "waiting") {
      out[out.length - 1] = { ...before, to: stay.to };
    } else out.push(stay);
  });
  return out;
}

/** One strand in one piece: straight stays, rounded turns between levels. */
function strand(stays: Stay[], scale: Scale, yOf: (row: string) => number, promise?: number): Line[] {
  const lines: Line[] = [];
  stays.forEach((stay, i) => {
    const next = stays[i + 1];
    const before = stays[i - 1];
    const y = yOf(stay.row);
    let x1 = scale.x(stay.from);
    let x2 = scale.x(stay.to);
    const rIn = before && yOf(before.row) !== y ? radius(scale, before, stay) : 0;
    const rOut = next && yOf(next.row) !== y ? radius(scale, stay, next) : 0;
    const late = promise !== undefined && stay.to > promise && stay.kind !== "worked" && stay.kind !== "waiting";
    x1 += rIn;
    x2 -= rOut;
    if (stay.kind === "worked" && x2 - x1 < WORKED_MIN) x2 = x1 + WORKED_MIN;
    for (const [a, b] of withoutBreaks(x1, x2, scale)) lines.push({ d: flat(a, b, y), stroke: stay.kind, late });
    if (next && rOut >= 0 && yOf(next.row) !== y) {
      const planned = next.kind === "planned" || next.kind === "planned_wait";
      lines.push({
        d: turn(scale.x(stay.to), y, yOf(next.row), rOut),
        stroke: planned ? "planned_turn" : "turn",
        late: late && planned,
      });
    }
  });
  return lines;
}

function radius(scale: Scale, a: Stay, b: Stay): number {
  const lengths = [scale.x(a.to) - scale.x(a.from), scale.x(b.to) - scale.x(b.from)];
  return Math.max(0, Math.min(9, ...lengths.map((length) => length / 2)));
}

/** The gap that the words of a break need is left free of line. */
function withoutBreaks(x1: number, x2: number, scale: Scale): [number, number][] {
  let parts: [number, number][] = [[x1, x2]];
  for (const one of scale.breaks) {
    const middle = (one.x1 + one.x2) / 2;
    const [a, b] = [middle - BREAK_HALF, middle + BREAK_HALF];
    parts = parts.flatMap(([from, to]): [number, number][] =>
      b <= from || a >= to
        ? [[from, to]]
        : (
            [
              [from, a],
              [b, to],
            ] as [number, number][]
          ).filter(([p, q]) => q > p),
    );
  }
  return parts;
}

function flat(x1: number, x2: number, y: number): string {
  return `M${r1(x1)} ${r1(y)}H${r1(x2)}`;
}

/** From level `y1` to level `y2` at `x`, with rounded corners. */
export function turn(x: number, y1: number, y2: number, r: number): string {
  const way = Math.sign(y2 - y1);
  const bend = Math.min(9, Math.abs(y2 - y1) / 2);
  return (
    `M${r1(x - r)} ${r1(y1)}Q${r1(x)} ${r1(y1)} ${r1(x)} ${r1(y1 + way * bend)}` +
    `V${r1(y2 - way * bend)}Q${r1(x)} ${r1(y2)} ${r1(x + r)} ${r1(y2)}`
  );
}

function equipmentNames(stays: Stay[], scale: Scale, yOf: (row: string) => number) {
  const out: { x: number; y: number; id: string }[] = [];
  let clear = -Infinity;
  let named: string | undefined;
  for (const stay of stays) {
    if (!stay.equipment) {
      named = undefined;
      continue;
    }
    const x = scale.x(stay.from) + 12;
    const told = out.at(-1);
    if (told?.id === stay.equipment && x - told.x < 220) continue;
    const roomTo = scale.x(stay.to) + 60;
    if (scale.breaks.some((one) => one.x1 < roomTo && x < one.x2)) continue;
    if (stay.equipment !== named && x >= clear) {
      out.push({ x, y: yOf(stay.row) + 20, id: stay.equipment });
      clear = x + 80;
    }
    named = stay.equipment;
  }
  return out;
}

export function rowAt(stays: Stay[], at: number): string | undefined {
  return stays.find((stay) => stay.from <= at && at <= stay.to)?.row;
}

const r1 = (n: number) => Math.round(n * 10) / 10;
