// Measures as the server gives them, read without trust; in which order and beside which other they
// stand; and as a table that can be taken away as CSV.
// Pure. Must not know: languages, the DOM.

export type Unit = "days" | "hours" | "vehicles" | "hours_per_day" | "share" | "ratio" | "moves";
export type Clock = "calendar" | "working" | "none";

export interface Figure {
  count: number;
  value?: number;
  p90?: number;
}

export interface Part extends Figure {
  key: string;
}

export interface Measure extends Figure {
  id: string;
  unit: Unit;
  clock: Clock;
  by: Part[];
}

/** The order of the page: each group answers one question. Measures of one line share a table, the first leads. */
export const GROUPS: [string, string[][]][] = [
  [
    "how-long",
    [
      ["keys_to_keys"],
      ["keys_to_authorised"],
      ["authorised_to_ready"],
      ["ready_to_keys"],
      ["keys_to_keys_working"],
      ["promise_kept", "promise_last_kept", "promise_moves"],
    ],
  ],
  ["hand-off", [["asked_to_taken"], ["asked_to_started"], ["asked_to_handed_back"]]],
  [
    "where-time-goes",
    [
      ["wait_by_reason_working", "wait_by_reason"],
      ["wait_by_department_working", "wait_by_department"],
      ["flow_efficiency"],
      ["touch_sold", "touch_clocked_per_day"],
      ["waited"],
    ],
  ],
  ["equipment", [["equipment_time"], ["equipment_held", "equipment_blocked"]]],
  ["planned", [["touch_clocked"], ["clocked_to_planned", "planned_done", "clocked_done"], ["clocked_doubtful"]]],
  ["how-much", [["throughput", "throughput_sold"], ["in_process"], ["in_shop"], ["age"]]],
  ["came-back", [["comebacks"], ["comebacks_caused"], ["rework"], ["rework_clocked"]]],
];

/** Measures of the answer, whichever way round its outer braces are; unknown ones are kept. */
export function readMeasures(answer: unknown): Measure[] {
  const list = Array.isArray(answer)
    ? answer
    : isRecord(answer) && Array.isArray(answer["measures"])
      ? answer["measures"]
      : [];
  return list.flatMap((one): Measure[] => {
    if (!isRecord(one) || typeof one["id"] !== "string") return [];
    const whole = isRecord(one["all"]) ? one["all"] : one;
    return [
      {
        id: one["id"],
        unit: one["unit"] as Unit,
        clock: (one["clock"] as Clock | undefined) ?? "none",
        ...figure(whole),
        by: parts(one["by"]),
      },
    ];
  });
}

/** Measures of one table: the first leads, the others are further columns. */
export type Together = [Measure, ...Measure[]];

/** Tables of a group in the page's order; measures the page does not know come in a last group of their own. */
export function grouped(measures: Measure[]): { group: string; tables: Together[] }[] {
  const known = new Set(GROUPS.flatMap(([, tables]) => tables.flat()));
  const out = GROUPS.map(([group, tables]) => ({
    group,
    tables: tables.flatMap((ids): Together[] => {
      const [first, ...rest] = ids.flatMap((id) => measures.filter((one) => one.id === id));
      return first ? [[first, ...rest]] : [];
    }),
  }));
  const more = measures.filter((one) => !known.has(one.id));
  out.push({ group: "more", tables: more.map((one) => [one]) });
  return out.filter((one) => one.tables.length > 0);
}

/** One line of a table: a figure of each measure in it, as far as it has one. */
export interface Row {
  key: string;
  figures: (Figure | undefined)[];
  /** The same, apart once more ("body/parts" under "body"). */
  parts: Row[];
}

const CLASSES = ["rolling", "towed_in", "small", "medium", "large"];

/** Classes and months in their own order; whatever else with the most in front. */
export function rowsOf(together: Together): Row[] {
  const keys = new Set(together.flatMap((one) => one.by.map((part) => part.key)));
  const figures = (key: string): (Figure | undefined)[] =>
    together.map((one) => one.by.find((part) => part.key === key));
  const weight = (row: Row): number => row.figures[0]?.value ?? row.figures[1]?.value ?? 0;
  const ordered = (rows: Row[]): Row[] =>
    rows.sort((a, b) => {
      const [first, second] = [CLASSES.indexOf(a.key), CLASSES.indexOf(b.key)];
      if (first >= 0 && second >= 0) return first - second;
      if (isMonth(a.key) && isMonth(b.key)) return a.key < b.key ? -1 : 1;
      return weight(b) - weight(a) || (a.key < b.key ? -1 : 1);
    });
  const below = (of: string): Row[] =>
    ordered(
      [...keys].filter((key) => key.startsWith(`${of}/`)).map((key) => ({ key, figures: figures(key), parts: [] })),
    );
  return ordered(
    [...keys].filter((key) => !key.includes("/")).map((key) => ({ key, figures: figures(key), parts: below(key) })),
  );
}

export const isMonth = (key: string): boolean => /^\d{4}-\d\d$/.test(key);

/** What the open hours of one piece of equipment went to, as parts of them. */
export interface PieceRow {
  key: string;
  hours: number;
  worked: number;
  curing: number;
  empty: number;
  /** All the rest. */
  waiting: number;
  /** What for: "reason", "for:department" or "ready", in hours, the most in front. */
  waits: { key: string; hours: number; vehicles: number }[];
}

export function pieceRows(measure: Measure): PieceRow[] {
  return rowsOf([measure])
    .map((row) => {
      const parts = new Map(row.parts.map((part) => [part.key.slice(row.key.length + 1), part.figures[0]]));
      const share = (key: string): number => (parts.get(key)?.value ?? 0) / Math.max(hours, 1e-9);
      const hours = row.figures[0]?.value ?? 0;
      const waits = [...parts]
        .filter(([key]) => !["worked", "curing", "empty"].includes(key))
        .map(([key, figure]) => ({ key, hours: figure?.value ?? 0, vehicles: figure?.count ?? 0 }));
      const waiting = waits.reduce((sum, one) => sum + one.hours, 0) / Math.max(hours, 1e-9);
      return {
        key: row.key,
        hours,
        worked: share("worked"),
        curing: share("curing"),
        empty: share("empty"),
        waiting,
        waits,
      };
    })
    .sort((a, b) => a.key.localeCompare(b.key, "en", { numeric: true }));
}

/** Sums and shares have no spread; medians come with their 90th percentile. */
export const isMedian = (measure: Measure): boolean =>
  measure.p90 !== undefined || measure.by.some((one) => one.p90 !== undefined);

/** How exactly a value is worth showing. */
export function digits(unit: Unit, value: number): number {
  if (unit === "share") return value > 0 && value < 0.095 ? 1 : 0;
  if (unit === "ratio") return 2;
  if (unit === "vehicles") return Number.isInteger(value) ? 0 : 1;
  return Math.abs(value) < 10 ? 1 : 0;
}

/** RFC 4180: quoted where needed, CRLF, so that spreadsheets read it. */
export function csv(rows: (string | number | undefined)[][]): string {
  return rows.map((row) => row.map(cell).join(",")).join("\r\n") + "\r\n";
}

function cell(value: string | number | undefined): string {
  if (value === undefined) return "";
  if (typeof value === "number") return String(value);
  // A cell that begins like a formula would be run by a spreadsheet: names are people's own words.
  const safe = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

export function measureRows(
  measures: Measure[],
  name: (measure: Measure) => string,
  part: (measure: Measure, key: string) => string,
  head: string[],
): (string | number | undefined)[][] {
  const row = (m: Measure, f: Figure, key: string) => [name(m), key, m.unit, m.clock, f.count, f.value, f.p90];
  return [head, ...measures.flatMap((m) => [row(m, m, ""), ...m.by.map((one) => row(m, one, part(m, one.key)))])];
}

function parts(by: unknown): Part[] {
  if (Array.isArray(by)) {
    return by.flatMap((one) => {
      if (!isRecord(one)) return [];
      const key = [one["key"], one["department"], one["equipment"], one["class"], one["reason"]].find(
        (k) => typeof k === "string",
      );
      return typeof key === "string" ? [{ key, ...figure(one) }] : [];
    });
  }
  if (isRecord(by)) return Object.entries(by).flatMap(([key, one]) => (isRecord(one) ? [{ key, ...figure(one) }] : []));
  return [];
}

function figure(one: Record<string, unknown>): Figure {
  const number = (value: unknown): number | undefined =>
    typeof value === "number" && Number.isFinite(value) ? value : undefined;
  return { count: number(one["count"]) ?? 0, value: number(one["value"]), p90: number(one["p90"]) };
}

const isRecord = (value: unknown): value is Record<string, unknown> =>
  typeof value === "object" && value !== null && !Array.isArray(value);
