// Local days and hours of the shop's time zone, from the browser's own zone data.
// Pure: no clock is read here; the zone is an argument. Must not know: documents, the screen.

const HOUR = 3_600_000;
export const DAY = 24 * HOUR;

export interface Local {
  year: number;
  month: number;
  day: number;
  hour: number;
  minute: number;
}

// Making a formatter costs more than using it a thousand times.
const formatters = new Map<string, Intl.DateTimeFormat>();

function formatter(zone: string): Intl.DateTimeFormat {
  let made = formatters.get(zone);
  if (!made) {
    made = new Intl.DateTimeFormat("en-US", {
      timeZone: zone,
      hourCycle: "h23",
      year: "numeric",
      month: "numeric",
      day: "numeric",
      hour: "numeric",
      minute: "numeric",
    });
    formatters.set(zone, made);
  }
  return made;
}

/** What clock and calendar on the wall show at `at`. */
export function local(at: number, zone: string): Local {
  const out: Local = { year: 0, month: 0, day: 0, hour: 0, minute: 0 };
  for (const part of formatter(zone).formatToParts(at)) {
    if (part.type in out) out[part.type as keyof Local] = Number(part.value);
  }
  return out;
}

/**
 * The moment at which the wall shows `wall`. A time that a spring change skips becomes the same
 * length after the change; one that comes twice in autumn becomes the first.
 */
export function moment(wall: Local, zone: string): number {
  const wanted = Date.UTC(wall.year, wall.month - 1, wall.day, wall.hour, wall.minute);
  const shown = (at: number) => {
    const w = local(at, zone);
    return Date.UTC(w.year, w.month - 1, w.day, w.hour, w.minute);
  };
  const offset = (at: number) => shown(at) - Math.floor(at / 60_000) * 60_000;
  // Offsets the day before and the day after bracket any change; the earlier match wins.
  const before = wanted - offset(wanted - DAY);
  const after = wanted - offset(wanted + DAY);
  const fits = [before, after].filter((at) => shown(at) === wanted);
  return fits.length ? Math.min(...fits) : before;
}

export function startOfDay(at: number, zone: string): number {
  return moment({ ...local(at, zone), hour: 0, minute: 0 }, zone);
}

/** Midnight `days` later, however long those days are. */
export function addDays(at: number, days: number, zone: string): number {
  const w = local(at, zone);
  const moved = new Date(Date.UTC(w.year, w.month - 1, w.day + days));
  return moment(
    {
      year: moved.getUTCFullYear(),
      month: moved.getUTCMonth() + 1,
      day: moved.getUTCDate(),
      hour: 0,
      minute: 0,
    },
    zone,
  );
}

/** The first of the last `days` days, of which the day of `now` is one. */
export function firstOfLast(days: number, now: number, zone: string): string {
  return isoDay(addDays(now, 1 - days, zone), zone);
}

/** "2026-11-25" of the local day. */
export function isoDay(at: number, zone: string): string {
  const w = local(at, zone);
  return `${w.year}-${two(w.month)}-${two(w.day)}`;
}

/** "2026-11-25T14:30", as a date-and-time input wants it. */
export function isoMinute(at: number, zone: string): string {
  const w = local(at, zone);
  return `${isoDay(at, zone)}T${two(w.hour)}:${two(w.minute)}`;
}

/** Reads "2026-11-25" or "2026-11-25T14:30"; none when it is neither or no such day. */
export function parseLocal(text: string, zone: string): number | undefined {
  const match = /^(\d{4})-(\d{2})-(\d{2})(?:T(\d{2}):(\d{2}))?/.exec(text.trim());
  if (!match) return undefined;
  const [year, month, day, hour, minute] = match.slice(1).map((part) => Number(part ?? 0)) as [
    number,
    number,
    number,
    number,
    number,
  ];
  const check = new Date(Date.UTC(year, month - 1, day));
  if (check.getUTCMonth() !== month - 1 || check.getUTCDate() !== day) return undefined;
  if (hour > 23 || minute > 59) return undefined;
  return moment({ year, month, day, hour, minute }, zone);
}

const two = (n: number) => String(n).padStart(2, "0");
