// The string diagram's geometry: one string for each vehicle over departments and named equipment.
// Past is solid, plan is thin, how far its end may fall is a bar; equipment that is taken up is a band, hatched while nobody works there.
// Pure. Must not know: languages, the DOM.

import { AWAY, type Itinerary, type Occupied, type Stay } from "../../model/itinerary";
import { bundled, type Move } from "./bundle";
import { placeWords, segmentsOf, wide, type Box, type Segment, type Word } from "./labels";
import { makeScale, ticks, type Scale, type Tick } from "./scale";

export interface StringInput {
  order: string;
  number: string;
  itinerary: Itinerary;
  occupied: Occupied[];
  /** One of ten runs of a forecast is finished by `from`, nine of ten by `to`. */
  sure?: { from: number; to: number };
  /** Only what has been is drawn. */
  past?: boolean;
}

export interface RowInput {
  id: string;
  /** Equipment stands below its department. */
  equipment: boolean;
}

export interface StringRow extends RowInput {
  y: number;
  height: number;
  lanes: number;
}

export interface DrawnString {
  order: string;
  /** What has been. */
  past: string;
  /** Moves between rows that have been: slopes, finer than the stays. */
  moves: string;
  worked: string;
  /** What is planned. */
  plan: string;
  /** Its part of the moves that several strings share. */
  shared: string;
  /** Where the number stands: clear of every line and of each other. */
  labels: Box[];
  late: boolean;
  /** Where the promise falls on the string: what lies beyond it is late. */
  promise?: { x: number; y: number };
  /** Where its end may fall. */
  sure?: { x: number; y: number; width: number };
}

export interface Band {
  x: number;
  y: number;
  width: number;
  height: number;
  equipment: string;
  order: string;
  planned: boolean;
  blocked: boolean;
}

export interface StringDrawing {
  width: number;
  height: number;
  scale: Scale;
  rows: StringRow[];
  strings: DrawnString[];
  bands: Band[];
  /** Planned moves that meet, each drawn once for all of their strings. */
  bundles: string[];
  ticks: Tick[];
  axisY: number;
  nowX?: number;
  left: number;
}

export interface StringWish {
  from: number;
  to: number;
  now: number;
  width: number;
  left: number;
  zone: string;
  lane?: number;
  /** Lanes become as narrow as this asks for, but never too narrow for a number. */
  height?: number;
}

export const LANE = 20;
const LANE_LEAST = 17;
const LANE_MOST = 44;
const LABEL_ROOM = 46;
/** Figures of a number on its string: they have no part below the line. */
export const LABEL = { size: 13, height: 10 };
/** The axis with its words above, and now below. */
const TOP = 34;
const RUN_MIN = 7;

export function drawStrings(inputs: StringInput[], rows: RowInput[], wish: StringWish): StringDrawing {
  const scale = makeScale({ from: wish.from, to: wish.to, left: wish.left, right: wish.width - 8 });
  const known = new Set(rows.map((row) => row.id));

  const runs = inputs.flatMap((input) => {
    const own = longEnough(runsOf(input, known, wish), scale);
    const last = own.at(-1);
    // No other string on the bar.
    if (last && input.sure) last.until = Math.max(last.to, input.sure.to);
    return own;
  });
  const laneOf = new Map<Run, number>();
  const lanes = new Map<string, number>();
  for (const row of rows) {
    const here = runs.filter((run) => run.row === row.id).sort((a, b) => a.from - b.from || a.to - b.to);
    lanes.set(row.id, Math.max(1, dealLanes(here, laneOf)));
  }

  const all = [...lanes.values()].reduce((sum, count) => sum + count, 0);
  const room =
    wish.height === undefined ? undefined : (wish.height - TOP - FOOT - rows.length * PAD) / Math.max(1, all);
  const lane = room === undefined ? (wish.lane ?? LANE) : Math.min(LANE_MOST, Math.max(LANE_LEAST, room));

  let y = TOP;
  const placed: StringRow[] = rows.map((row) => {
    const count = lanes.get(row.id) ?? 1;
    const height = count * lane + PAD;
    const one = { ...row, y, height, lanes: count };
    y += height;
    return one;
  });
  const rowOf = new Map(placed.map((row) => [row.id, row]));
  const yOf = (run: Run) => {
    return (rowOf.get(run.row)?.y ?? 0) + PAD / 2 + ((laneOf.get(run) ?? 0) + 0.5) * lane;
  };

  const drawn = inputs.map((input) => {
    const own = runs.filter((run) => run.order === input.order).sort((a, b) => a.from - b.from);
    return { own, string: drawString(input, own, scale, yOf, wish), moves: planMoves(own, scale, yOf, wish) };
  });
  const meets = bundled(drawn.map((one) => one.moves));
  drawn.forEach(({ string }, i) => {
    string.plan += meets.own[i] ?? "";
    string.shared = meets.shared[i] ?? "";
  });
  const nowX = wish.now >= wish.from && wish.now <= wish.to ? scale.x(wish.now) : undefined;
  number(
    drawn,
    meets.bundles,
    scale,
    yOf,
    { x: wish.left, y: TOP - 12, width: wish.width - wish.left - 2, height: y - TOP + 12 },
    nowX,
    inputs,
  );
  const strings = drawn.map((one) => one.string);
  const bands = inputs.flatMap((input) => bandsOf(input, rowOf, scale, wish));
  return {
    width: wish.width,
    height: y + FOOT,
    scale,
    rows: placed,
    strings,
    bands,
    bundles: meets.bundles,
    ticks: ticks(scale, wish.zone, 64),
    axisY: y,
    nowX,
    left: wish.left,
  };
}

const FOOT = 14;
const PAD = 5;

/** A stretch of one string in one row. */
interface Run {
  order: string;
  row: string;
  from: number;
  to: number;
  /** Its lane is taken until then. */
  until?: number;
  stays: Stay[];
}

function runsOf(input: StringInput, known: Set<string>, wish: StringWish): Run[] {
  const runs: Run[] = [];
  const end = input.past ? Math.min(wish.to, Math.max(wish.now, wish.from)) : wish.to;
  for (const stay of input.itinerary.main) {
    if (stay.to <= wish.from || stay.from >= end) continue;
    const row = rowFor(stay, input.occupied, known);
    if (row === undefined) continue;
    const cut = { ...stay, from: Math.max(stay.from, wish.from), to: Math.min(stay.to, end) };
    const open = runs.at(-1);
    if (open && open.row === row && open.to === cut.from) {
      open.to = cut.to;
      open.stays.push(cut);
    } else runs.push({ order: input.order, row, from: cut.from, to: cut.to, stays: [cut] });
  }
  return runs;
}

/** A visit too short to be seen would only draw a stroke across the rows and back: a closer zoom shows it. */
function longEnough(runs: Run[], scale: Scale): Run[] {
  const seen = runs.filter((run) => scale.x(run.to) - scale.x(run.from) >= RUN_MIN);
  // Two stretches of one row with only something unseen between them are one.
  const out: Run[] = [];
  for (const run of seen.length ? seen : runs.slice(0, 1)) {
    const before = out.at(-1);
    if (before && before.row === run.row) {
      before.to = run.to;
      before.stays.push(...run.stays);
    } else out.push({ ...run, stays: [...run.stays] });
  }
  return out;
}

/** On equipment the string runs in the equipment's row, also while it waits there. */
function rowFor(stay: Stay, held: Occupied[], known: Set<string>): string | undefined {
  if (stay.row !== AWAY) {
    const on = stay.equipment ?? held.find((one) => one.from <= stay.from && stay.to <= one.to)?.equipment;
    if (on && known.has(on)) return on;
  }
  return known.has(stay.row) ? stay.row : undefined;
}

/** First free lane for each stretch; the number of lanes used. */
export function dealLanes<T extends { from: number; to: number; until?: number }>(
  sorted: T[],
  laneOf: Map<T, number>,
): number {
  const free: number[] = [];
  for (const run of sorted) {
    let lane = free.findIndex((until) => until <= run.from);
    if (lane < 0) lane = free.push(0) - 1;
    free[lane] = run.until ?? run.to;
    laneOf.set(run, lane);
  }
  return free.length;
}

function drawString(
  input: StringInput,
  runs: Run[],
  scale: Scale,
  yOf: (run: Run) => number,
  wish: StringWish,
): DrawnString {
  let past = "";
  let moves = "";
  let plan = "";
  let worked = "";
  runs.forEach((run, i) => {
    const y = yOf(run);
    const next = runs[i + 1];
    const before = runs[i - 1];
    const x1 = scale.x(run.from) + (before ? slant(scale, before, run) : 0);
    const x2 = scale.x(run.to) - (next ? slant(scale, run, next) : 0);
    const nowX = scale.x(wish.now);
    const split = run.from >= wish.now ? x1 : run.to <= wish.now ? x2 : Math.max(x1, Math.min(nowX, x2));
    if (split > x1) past += `M${r1(x1)} ${r1(y)}H${r1(split)}`;
    if (x2 > split) plan += `M${r1(split)} ${r1(y)}H${r1(x2)}`;
    for (const stay of run.stays) {
      if (stay.kind !== "worked") continue;
      const a = Math.max(scale.x(stay.from), x1);
      worked += `M${r1(a)} ${r1(y)}H${r1(Math.max(a + 2, Math.min(scale.x(stay.to), x2)))}`;
    }
    if (next) {
      const d = `M${r1(x2)} ${r1(y)}L${r1(scale.x(next.from) + slant(scale, run, next))} ${r1(yOf(next))}`;
      if (next.from <= wish.now) moves += d;
    }
  });
  const sure = input.sure && {
    from: Math.max(input.sure.from, wish.from, wish.now),
    to: Math.min(input.sure.to, wish.to),
  };
  const last = runs.at(-1);
  const due = input.itinerary.promise;
  const dueRun = due === undefined ? undefined : runs.find((run) => run.from <= due && due <= run.to);
  return {
    order: input.order,
    past,
    moves,
    worked,
    plan,
    shared: "",
    labels: [],
    late: input.itinerary.lateMinutes > 0,
    sure:
      last && sure && sure.to > sure.from
        ? { x: r1(scale.x(sure.from)), y: r1(yOf(last)), width: r1(scale.x(sure.to) - scale.x(sure.from)) }
        : undefined,
    promise: dueRun && due !== undefined ? { x: r1(scale.x(due)), y: r1(yOf(dueRun)) } : undefined,
  };
}

/** Moves to come: drawn together where they meet. */
function planMoves(runs: Run[], scale: Scale, yOf: (run: Run) => number, wish: StringWish): Move[] {
  return runs.flatMap((run, i): Move[] => {
    const next = runs[i + 1];
    if (!next || next.from <= wish.now) return [];
    const lean = slant(scale, run, next);
    return [{ x1: scale.x(run.to) - lean, y1: yOf(run), x2: scale.x(next.from) + lean, y2: yOf(next) }];
  });
}

/** How thick the strokes of a string are drawn (charts.css). */
const THICK = { past: 2, moves: 1, worked: 5, plan: 1.25 } as const;

/** One number for each string first, then one more wherever it runs long in another row. */
function number(
  drawn: { own: Run[]; string: DrawnString }[],
  bundles: string[],
  scale: Scale,
  yOf: (run: Run) => number,
  bounds: Box,
  nowX: number | undefined,
  inputs: StringInput[],
): void {
  const lines: Segment[] = bundles.flatMap((d) => segmentsOf(d, THICK.plan));
  if (nowX !== undefined) lines.push({ x1: nowX, y1: 0, x2: nowX, y2: bounds.y + bounds.height + 40, thick: 2 });
  const taken: Box[] = [];
  for (const { string } of drawn) {
    for (const kind of ["past", "moves", "worked", "plan"] as const)
      lines.push(...segmentsOf(string[kind], THICK[kind]));
    if (string.promise) taken.push({ x: string.promise.x - 6, y: string.promise.y - 13, width: 12, height: 19 });
    if (string.sure)
      taken.push({ x: string.sure.x, y: string.sure.y - 5, width: Math.max(string.sure.width, 2), height: 10 });
  }
  const [first, more]: [Word[], Word[]] = [[], []];
  drawn.forEach(({ own }, i) => {
    const width = wide(inputs[i]?.number ?? "", LABEL.size, true);
    const at = own.map((run) => ({
      run,
      from: scale.x(run.from),
      to: scale.x(run.to),
      places: placesOn(scale.x(run.from), scale.x(run.to), yOf(run), width),
    }));
    const long = at.filter((one) => one.to - one.from >= LABEL_ROOM);
    // Where it is long enough for its number, from the left; else wherever there is paper beside it.
    const [begin] = long;
    first.push({
      id: `${i}`,
      width,
      height: LABEL.height,
      places: [...(begin?.places ?? []), ...at.filter((one) => one !== begin).flatMap((one) => one.places)],
    });
    // Where a string ends, behind its end: among bars there is no paper above it.
    const last = at.at(-1);
    const { sure } = drawn[i]?.string ?? {};
    if (last && last.run !== begin?.run) {
      const x = Math.max(last.to, sure ? sure.x + sure.width : 0) + 5;
      more.push({ id: `${i} end`, width, height: LABEL.height, places: [{ x, y: yOf(last.run) - LABEL.height / 2 }] });
    }
    for (const [n, one] of long.entries())
      if (n > 0 && one !== last && one.run.row !== long[n - 1]?.run.row)
        more.push({ id: `${i} ${n}`, width, height: LABEL.height, places: one.places.slice(0, 8) });
  });
  for (const [id, box] of placeWords([...first, ...more], lines, bounds, taken))
    drawn[Number(id.split(" ")[0])]?.string.labels.push(box);
}

/** Above the stroke from its beginning on, then below it, then over its ends. */
function placesOn(from: number, to: number, y: number, width: number): { x: number; y: number }[] {
  const xs: number[] = [];
  for (let x = from + 3; x + width <= to; x += 8) xs.push(x);
  for (let x = from + 3; x > from - width; x -= 8) xs.push(x);
  for (let x = Math.max(from + 3, to - width); x < to; x += 8) xs.push(x);
  const [above, below] = [y - LABEL.height - 4, y + 4];
  return [...xs.map((x) => ({ x, y: above })), ...xs.map((x) => ({ x, y: below }))];
}

/** Half of how far a move between rows leans: moves are drawn as slopes, as in a graphic timetable. */
function slant(scale: Scale, a: Run, b: Run): number {
  const lengths = [a, b].map((run) => scale.x(run.to) - scale.x(run.from));
  return Math.max(0, Math.min(7, ...lengths.map((length) => length / 3)));
}

function bandsOf(input: StringInput, rowOf: Map<string, StringRow>, scale: Scale, wish: StringWish): Band[] {
  const out: Band[] = [];
  for (const one of input.occupied) {
    const row = rowOf.get(one.equipment);
    if (!row || (input.past && one.from > wish.now)) continue;
    const add = (from: number, to: number, blocked: boolean) => {
      const a = Math.max(from, wish.from);
      const b = Math.min(to, wish.to);
      // Past and plan are two bands, for they are drawn unlike.
      for (const [p, q] of [
        [a, Math.min(b, wish.now)],
        [Math.max(a, wish.now), b],
      ] as const) {
        if (q <= p) continue;
        out.push({
          x: r1(scale.x(p)),
          y: row.y + 2,
          width: r1(scale.x(q) - scale.x(p)),
          height: row.height - 4,
          equipment: one.equipment,
          order: input.order,
          planned: p >= wish.now,
          blocked,
        });
      }
    };
    add(one.from, one.to, false);
    for (const gap of one.blocked) add(gap.from, gap.to, true);
  }
  return out;
}

/** Vehicles worth a string by default: late or holding equipment, worst first, at most `most`. */
export function worthShowing(
  inputs: { order: string; itinerary: Itinerary; occupied: Occupied[] }[],
  now: number,
  most = 15,
): string[] {
  const holds = (one: { occupied: Occupied[] }) => one.occupied.some((o) => o.from <= now && now < o.to);
  return inputs
    .filter((one) => !one.itinerary.over && (one.itinerary.lateMinutes > 0 || holds(one)))
    .sort(
      (a, b) =>
        b.itinerary.lateMinutes - a.itinerary.lateMinutes ||
        Number(holds(b)) - Number(holds(a)) ||
        (a.itinerary.finish ?? Infinity) - (b.itinerary.finish ?? Infinity),
    )
    .slice(0, most)
    .map((one) => one.order);
}

const r1 = (n: number) => Math.round(n * 10) / 10;
