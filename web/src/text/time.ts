// Times and lengths as short words. h, d and min are the same in both languages; names of days come
// from the browser. Pure but for the language chosen, which is an argument.

import { DAY, isoDay, startOfDay } from "./zone";

const MIN = 60_000;
const HOUR = 60 * MIN;

const made = new Map<string, Intl.DateTimeFormat>();

function format(at: number, tongue: string, zone: string, options: Intl.DateTimeFormatOptions): string {
  const key = `${tongue} ${zone} ${JSON.stringify(options)}`;
  let formatter = made.get(key);
  if (!formatter) {
    formatter = new Intl.DateTimeFormat(tongue === "es" ? "es-US" : "en-US", { timeZone: zone, ...options });
    made.set(key, formatter);
  }
  return formatter.format(at);
}

/** "14:10" */
export function clock(at: number, tongue: string, zone: string): string {
  return format(at, tongue, zone, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
}

/** "Thu 26" */
export function dayShort(at: number, tongue: string, zone: string): string {
  return `${format(at, tongue, zone, { weekday: "short" }).replace(".", "")} ${format(at, tongue, zone, { day: "numeric" })}`;
}

/** "26 Nov", with the year where it is another. */
export function date(at: number, tongue: string, zone: string, now = at): string {
  const otherYear = isoDay(at, zone).slice(0, 4) !== isoDay(now, zone).slice(0, 4);
  const month = format(at, tongue, zone, { month: "short" }).replace(".", "");
  const day = format(at, tongue, zone, { day: "numeric" });
  return otherYear ? `${day} ${month} ${isoDay(at, zone).slice(0, 4)}` : `${day} ${month}`;
}

/**
 * "09:10" today, "Thu 09:10" up to three days away, "12 Nov 09:10" beyond: a weekday alone must not be
 * read as last week's or next week's.
 */
export function when(at: number, now: number, tongue: string, zone: string): string {
  const time = clock(at, tongue, zone);
  const days = Math.round((startOfDay(at, zone) - startOfDay(now, zone)) / DAY);
  if (days === 0) return time;
  if (Math.abs(days) <= 3) return `${format(at, tongue, zone, { weekday: "short" }).replace(".", "")} ${time}`;
  return `${date(at, tongue, zone, now)} ${time}`;
}

/** Times that are only reckoned, to five minutes. */
export function roughly(at: number): number {
  return Math.round(at / (5 * MIN)) * 5 * MIN;
}

/** Of work, so never in days: "1 h 15 min", as "1:15" would be taken for a time of day. */
export function minutes(count: number): string {
  const [hours, rest] = [Math.floor(Math.round(count) / 60), Math.round(count) % 60];
  return [hours > 0 ? `${hours} h` : "", rest > 0 || hours === 0 ? `${rest} min` : ""].filter(Boolean).join(" ");
}

/** "40 min", "2 h 10 min", "3 d 4 h", "11 d". */
export function length(ms: number): string {
  if (ms < DAY) return minutes(Math.max(0, ms / MIN));
  const hours = Math.round(ms / HOUR);
  const days = Math.floor(hours / 24);
  return days >= 4 || hours % 24 === 0 ? `${Math.round(hours / 24)} d` : `${days} d ${hours % 24} h`;
}

/** At a break: "2 d", "30 h". */
export function breakLength(ms: number): string {
  return ms < 2 * DAY ? `${Math.round(ms / HOUR)} h` : `${Math.floor(ms / DAY)} d`;
}
