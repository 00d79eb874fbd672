// The forms take what the server takes, and refuse what it refuses (tests/vectors/setup; its README says how
// a case is read).
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { made } from "../../scripts/limits.mjs";
import type { Calendar, Ms } from "../api/types";
import {
  checkDepartment,
  checkEquipment,
  checkOpenOrder,
  checkPerson,
  checkPlace,
  checkRouting,
  type Wrong,
} from "./checks";
import { calendarText, readCalendar, vinDoubt } from "./forms";

const read = (name: string): unknown =>
  JSON.parse(readFileSync(join(import.meta.dirname, "../../../tests/vectors/setup", name), "utf8"));

type Json = Record<string, unknown>;
const isObject = (value: unknown): value is Json =>
  typeof value === "object" && value !== null && !Array.isArray(value);

/** RFC 7396. */
function changed(base: unknown, change: unknown): unknown {
  if (!isObject(change)) return change;
  const whole: Json = isObject(base) ? { ...base } : {};
  for (const [name, value] of Object.entries(change)) {
    if (value === null) Reflect.deleteProperty(whole, name);
    else whole[name] = changed(whole[name], value);
  }
  return whole;
}

function expanded(value: unknown, now: Ms): unknown {
  if (Array.isArray(value)) return value.map((item) => expanded(item, now));
  if (!isObject(value)) return value;
  const { letters, of = "x", from_now, times, item } = value;
  if (typeof letters === "number") return String(of).repeat(letters);
  if (typeof from_now === "number") return now + from_now;
  if (typeof times === "number") {
    const one = JSON.stringify(expanded(item, now));
    return Array.from({ length: times }, (_, n) => JSON.parse(one.replaceAll("#", String(n))) as unknown);
  }
  return Object.fromEntries(Object.entries(value).map(([name, field]) => [name, expanded(field, now)]));
}

const NOW = Date.UTC(2026, 2, 2, 14);
const CHECKS: Record<string, (document: never) => Wrong> = {
  person: (one) => checkPerson(one, NOW),
  department: (one) => checkDepartment(one),
  equipment: (one) => checkEquipment(one, NOW),
  place: (one) => checkPlace(one),
  calendar: (one: Calendar) => readCalendar("short", calendarText(one), NOW, "America/Chicago").wrong,
  routing: (one) => checkRouting(one),
  order: (one) => checkOpenOrder(one, NOW),
};

const { bases, cases } = read("checks.json") as {
  bases: Json;
  cases: { of: string; name: string; change: Json; wrong?: string }[];
};

it.each(cases)("$of, $name", ({ of, change, wrong }) => {
  const document = expanded(changed(bases[of], change), NOW);
  expect(Object.keys(CHECKS[of]?.(document as never) ?? { none: {} })).toEqual(wrong === undefined ? [] : [wrong]);
});

it.each(read("vin.json") as { vin: string; doubt?: string }[])("VIN «$vin»: $doubt", ({ vin, doubt }) =>
  expect(vinDoubt(vin)).toBe(doubt),
);

it.each(Object.entries(made()))("src/api/%s is what the server's document says", (name, text) => {
  expect(readFileSync(join(import.meta.dirname, "../api", name), "utf8")).toBe(text);
});
