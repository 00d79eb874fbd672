// What is typed in the setup forms, read and checked. Messages are keys; the screen puts them in words.
// Pure. Must not know: the DOM, signals, languages.

import type { Absence, Calendar, Department, Equipment, Person, Place, Routing, Shift, Words } from "../api/types";

/** Field → message key and what goes into it. */
export type Wrong = Record<string, { key: string; args?: Record<string, string | number> }>;

export const TITLE_MAX = 120;

/** A short word for a log line and an address: small letters, digits, hyphens, at most 40, not taken. */
export function shortWord(text: string, taken: ReadonlySet<string> = new Set(), fallback = "new"): string {
  const plain = text
    .normalize("NFKD")
    .replace(/\p{M}/gu, "")
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, "-")
    .slice(0, 36)
    .replace(/^-+|-+$/g, "");
  const base = plain || fallback;
  if (!taken.has(base)) return base;
  let n = 2;
  while (taken.has(`${base}-${n}`)) n++;
  return `${base}-${n}`;
}

/**
 * Shifts as people write them: "7-11:30, 12:00–16:00", "7.00 a 16.00". Empty means closed.
 * Returns a message key where it cannot be read.
 */
export function parseShifts(text: string): Shift[] | { wrong: string; part: string } {
  const parts = text
    .split(/[,;\n]|\s+y\s+|\s+and\s+/i)
    .map((part) => part.trim())
    .filter(Boolean);
  const shifts: Shift[] = [];
  for (const part of parts) {
    const match = /^(\d{1,2})(?:[:.h](\d{2}))?\s*(?:-|–|—|a|to|bis|hasta)\s*(\d{1,2})(?:[:.h](\d{2}))?$/i.exec(part);
    if (!match) return { wrong: "setup-wrong-shift", part };
    const from = Number(match[1]) * 60 + Number(match[2] ?? 0);
    const to = Number(match[3]) * 60 + Number(match[4] ?? 0);
    if (Number(match[2] ?? 0) > 59 || Number(match[4] ?? 0) > 59 || from > 1440 || to > 1440) return { wrong: "setup-wrong-shift-clock", part };
    if (from >= to) return { wrong: "setup-wrong-shift-backwards", part };
    const last = shifts.at(-1);
    if (last && last.to > from) return { wrong: "setup-wrong-shift-overlap", part };
    shifts.push({ from, to });
  }
  return shifts;
}

export function showShifts(shifts: readonly Shift[]): string {
  return shifts.map((shift) => `${clockText(shift.from)}–${clockText(shift.to)}`).join(", ");
}

export function clockText(minutes: number): string {
  return `${String(Math.floor(minutes / 60)).padStart(2, "0")}:${String(minutes % 60).padStart(2, "0")}`;
}

export const workMinutes = (shifts: readonly Shift[]): number => shifts.reduce((sum, shift) => sum + shift.to - shift.from, 0);

/** "90", "1:30", "1.5 h", "1,5h", "45 min" → minutes; undefined where it is none of these. */
export function parseMinutes(text: string): number | undefined {
  const plain = text.trim().toLowerCase().replace(",", ".");
  const clock = /^(\d{1,3}):([0-5]\d)$/.exec(plain);
  if (clock) return Number(clock[1]) * 60 + Number(clock[2]);
  const number = /^(\d+(?:\.\d+)?)\s*(h|hr|hrs|hours?|horas?|min|mins|minutes?|minutos?|m)?$/.exec(plain);
  if (!number) return undefined;
  const value = Number(number[1]);
  const minutes = number[2]?.startsWith("h") ? value * 60 : value;
  return Math.round(minutes);
}

/** As it is typed in the field of a length, which is said beside it. */
export const showMinutes = (minutes: number): string => `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;

// Checks of whole documents, in the order of the fields on the screen

export function checkWords(wrong: Wrong, field: string, words: Words): void {
  if (!words.text.trim()) wrong[field] = { key: "setup-wrong-empty" };
  else if (words.text.length > TITLE_MAX || (words.es ?? "").length > TITLE_MAX) wrong[field] = { key: "setup-wrong-long", args: { most: TITLE_MAX } };
}

export function checkAbsences(wrong: Wrong, field: string, absences: readonly Absence[]): void {
  absences.forEach((one, i) => {
    if (!(one.from < one.to)) wrong[`${field}-${i}`] = { key: "setup-wrong-absence" };
  });
}

export function checkPerson(person: Person): Wrong {
  const wrong: Wrong = {};
  if (!person.name.trim()) wrong["name"] = { key: "setup-wrong-empty" };
  else if (person.name.length > 80) wrong["name"] = { key: "setup-wrong-long", args: { most: 80 } };
  if (!person.department) wrong["department"] = { key: "setup-wrong-choose" };
  checkAbsences(wrong, "away", person.away);
  return wrong;
}

export function checkDepartment(department: Department): Wrong {
  const wrong: Wrong = {};
  checkWords(wrong, "title", department.title);
  return wrong;
}

export function checkEquipment(equipment: Equipment): Wrong {
  const wrong: Wrong = {};
  checkWords(wrong, "title", equipment.title);
  if (!equipment.kind.trim()) wrong["kind"] = { key: "setup-wrong-empty" };
  if (!equipment.department) wrong["department"] = { key: "setup-wrong-choose" };
  if (equipment.rated_load_kg !== undefined && equipment.rated_load_kg !== null && !(equipment.rated_load_kg > 0 && equipment.rated_load_kg < 100_000)) {
    wrong["rated_load_kg"] = { key: "setup-wrong-load" };
  }
  checkAbsences(wrong, "out_of_service", equipment.out_of_service);
  return wrong;
}

export function checkPlace(place: Place): Wrong {
  const wrong: Wrong = {};
  checkWords(wrong, "title", place.title);
  return wrong;
}

/** A calendar as it is typed: a line for each day. */
export interface CalendarText {
  title: Words;
  week: string[];
  days: { date: string; shifts: string }[];
}

export function calendarText(calendar: Calendar): CalendarText {
  return {
    title: calendar.title,
    week: [0, 1, 2, 3, 4, 5, 6].map((day) => showShifts(calendar.week[day] ?? [])),
    days: Object.entries(calendar.days)
      .sort(([a], [b]) => a.localeCompare(b))
      .map(([date, shifts]) => ({ date, shifts: showShifts(shifts) })),
  };
}

export function readCalendar(id: string, text: CalendarText): { calendar: Calendar; wrong: Wrong } {
  const wrong: Wrong = {};
  checkWords(wrong, "title", text.title);
  const read = (field: string, line: string): Shift[] => {
    const shifts = parseShifts(line);
    if (Array.isArray(shifts)) return shifts;
    wrong[field] = { key: shifts.wrong, args: { part: shifts.part } };
    return [];
  };
  const week = text.week.map((line, day) => read(`week-${day}`, line));
  const days: Calendar["days"] = {};
  text.days.forEach((day, i) => {
    if (!/^\d{4}-\d{2}-\d{2}$/.test(day.date)) wrong[`day-${i}`] = { key: "setup-wrong-date" };
    else if (days[day.date]) wrong[`day-${i}`] = { key: "setup-wrong-day-twice" };
    const shifts = read(`day-${i}`, day.shifts);
    days[day.date] = shifts;
  });
  return { calendar: { id, title: text.title, week, days }, wrong };
}

export function checkRouting(routing: Routing): Wrong {
  const wrong: Wrong = {};
  checkWords(wrong, "title", routing.title);
  if (routing.steps.length === 0) wrong["steps"] = { key: "setup-wrong-no-steps" };
  const above = new Set<string>();
  const opened = new Set<string>();
  routing.steps.forEach((step, i) => {
    checkWords(wrong, `step-${i}-title`, step.title);
    if (!step.department) wrong[`step-${i}-department`] = { key: "setup-wrong-choose" };
    if (!(step.planned_minutes > 0)) wrong[`step-${i}-minutes`] = { key: "setup-wrong-minutes" };
    const below = step.after.find((link) => !above.has(link.step));
    if (below) {
      const other = routing.steps.find((one) => one.step === below.step);
      wrong[`step-${i}-after`] = { key: "setup-wrong-after", args: { step: other?.title.text ?? below.step } };
    }
    for (const link of step.after) {
      const most = link.lag_minutes_max;
      if (most !== undefined && most !== null && most < link.lag_minutes) wrong[`step-${i}-after`] = { key: "setup-wrong-lag" };
    }
    if (step.inside && !opened.has(step.inside)) wrong[`step-${i}-inside`] = { key: "setup-wrong-inside" };
    if (step.closes && !opened.has(step.closes)) wrong[`step-${i}-closes`] = { key: "setup-wrong-closes" };
    if (step.opens) opened.add(step.opens);
    above.add(step.step);
  });
  return wrong;
}

/** What a routing opens and never closes: kept, but said, for a lift would be held for good. */
export function leftOpen(routing: Routing): string[] {
  const closed = new Set(routing.steps.map((step) => step.closes).filter(Boolean));
  return routing.steps.flatMap((step) => (step.opens && !closed.has(step.opens) ? [step.opens] : []));
}

/** A step may stand only below those it follows. */
export function moveStep<T>(list: readonly T[], from: number, to: number): T[] {
  if (to < 0 || to >= list.length) return [...list];
  const out = [...list];
  const [taken] = out.splice(from, 1);
  if (taken !== undefined) out.splice(to, 0, taken);
  return out;
}

/**
 * The check digit in position 9 (49 CFR 565.15). "length" and "letters" say what cannot be a VIN at all,
 * "digit" that the sum does not come out: other countries' need not, so it is a warning.
 */
export function vinDoubt(vin: string): "length" | "letters" | "digit" | undefined {
  const word = vin.trim().toUpperCase();
  if (word.length !== 17) return "length";
  if (!/^[A-HJ-NPR-Z0-9]{17}$/.test(word)) return "letters";
  const values = "0123456789.ABCDEFGH..JKLMN.P.R..STUVWXYZ";
  const weights = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];
  const sum = [...word].reduce((total, letter, i) => total + (values.indexOf(letter) % 10) * (weights[i] ?? 0), 0);
  const digit = sum % 11 === 10 ? "X" : String(sum % 11);
  return word[8] === digit ? undefined : "digit";
}
