// What is typed in the setup forms, read. Messages are keys; the screen puts them in words.
// Pure. Must not know: the DOM, signals, languages.

import type { Calendar, Ms, Routing, Shift, Words } from "../api/types";
import { checkDay, checkSpecialDays, checkWords, type Wrong } from "./checks";

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
    if (Number(match[2] ?? 0) > 59 || Number(match[4] ?? 0) > 59 || from > 1440 || to > 1440)
      return { wrong: "setup-wrong-shift-clock", part };
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

export const workMinutes = (shifts: readonly Shift[]): number =>
  shifts.reduce((sum, shift) => sum + shift.to - shift.from, 0);

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
export const showMinutes = (minutes: number): string =>
  `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;

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

export function readCalendar(
  id: string,
  text: CalendarText,
  now: Ms,
  zone: string,
): { calendar: Calendar; wrong: Wrong } {
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
    checkDay(wrong, `day-${i}`, day.date, now, zone);
    if (days[day.date]) wrong[`day-${i}`] = { key: "setup-wrong-day-twice" };
    const shifts = read(`day-${i}`, day.shifts);
    days[day.date] = shifts;
  });
  checkSpecialDays(wrong, text.days.length);
  return { calendar: { id, title: text.title, week, days }, wrong };
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
