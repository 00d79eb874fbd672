// Measures as the server gives them, read without trust, and as a table that can be taken away as CSV.
// Pure. Must not know: languages, the DOM.

export type Unit = "days" | "hours" | "vehicles" | "hours_per_day" | "share";
export type Clock = "calendar" | "working" | "none";

export interface Figure {
  count: number;
  value?: number;
  p90?: number;
}

export interface Measure extends Figure {
  id: string;
  unit: Unit;
  clock: Clock;
  by: (Figure & { key: string })[];
}

/** The order of the page: three groups, each answering one question. */
export const GROUPS: [string, string[]][] = [
  ["how-long", ["keys_to_keys", "keys_to_authorised", "authorised_to_ready", "ready_to_keys", "promise_kept"]],
  ["hand-off", ["asked_to_taken", "asked_to_started", "asked_to_handed_back"]],
  ["where-time-goes", ["touch_clocked", "touch_sold", "waited", "wait_by_reason", "equipment_held", "equipment_blocked"]],
  ["how-much", ["throughput", "throughput_sold", "in_process"]],
];

/** Measures of the answer, whichever way round its outer braces are; unknown ones are kept. */
export function readMeasures(answer: unknown): Measure[] {
  const list = Array.isArray(answer) ? answer : isRecord(answer) && Array.isArray(answer["measures"]) ? answer["measures"] : [];
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

/** Measures of a group in the page's order; those the page does not know come in a last group of their own. */
export function grouped(measures: Measure[]): { group: string; measures: Measure[] }[] {
  const known = new Set(GROUPS.flatMap(([, ids]) => ids));
  const out = GROUPS.map(([group, ids]) => ({
    group,
    measures: ids.flatMap((id) => measures.filter((one) => one.id === id)),
  }));
  out.push({ group: "more", measures: measures.filter((one) => !known.has(one.id)) });
  return out.filter((one) => one.measures.length > 0);
}

/** Sums and shares have no spread; medians come with their 90th percentile. */
export const isMedian = (measure: Measure): boolean => measure.p90 !== undefined || measure.by.some((one) => one.p90 !== undefined);

/** How exactly a value is worth showing. */
export function digits(unit: Unit, value: number): number {
  if (unit === "share") return 0;
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

export function measureRows(measures: Measure[], name: (measure: Measure) => string, part: (key: string) => string, head: string[]): (string | number | undefined)[][] {
  const row = (m: Measure, f: Figure, key: string) => [name(m), key, m.unit, m.clock, f.count, f.value, f.p90];
  return [head, ...measures.flatMap((m) => [row(m, m, ""), ...m.by.map((one) => row(m, one, part(one.key)))])];
}

function parts(by: unknown): Measure["by"] {
  if (Array.isArray(by)) {
    return by.flatMap((one) => {
      if (!isRecord(one)) return [];
      const key = [one["key"], one["department"], one["equipment"], one["class"], one["reason"]].find((k) => typeof k === "string");
      return typeof key === "string" ? [{ key, ...figure(one) }] : [];
    });
  }
  if (isRecord(by)) return Object.entries(by).flatMap(([key, one]) => (isRecord(one) ? [{ key, ...figure(one) }] : []));
  return [];
}

function figure(one: Record<string, unknown>): Figure {
  const number = (value: unknown): number | undefined => (typeof value === "number" && Number.isFinite(value) ? value : undefined);
  return { count: number(one["count"]) ?? 0, value: number(one["value"]), p90: number(one["p90"]) };
}

const isRecord = (value: unknown): value is Record<string, unknown> => typeof value === "object" && value !== null && !Array.isArray(value);
