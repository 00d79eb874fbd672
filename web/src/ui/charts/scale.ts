// Time to pixels, to one scale. A long wait becomes a marked break: it keeps a fixed width and a
// number in words, so that it never shrinks to nothing and never crowds out the work.
// Pure. Must not know: documents, languages.

import { addDays, DAY, local, moment, startOfDay } from "../../text/zone";

const HOUR = 3_600_000;

export interface Break {
  from: number;
  to: number;
  x1: number;
  x2: number;
}

export interface Scale {
  from: number;
  to: number;
  left: number;
  right: number;
  /** Pixels an hour wherever there is no break. */
  perHour: number;
  breaks: Break[];
  x(at: number): number;
  /** The moment under a pixel; inside a break the proportional one. */
  at(x: number): number;
}

export interface ScaleWish {
  from: number;
  to: number;
  left: number;
  right: number;
  /** Waits that may be broken. */
  quiet?: { from: number; to: number }[];
  /** Breaks are made, longest wait first, until an hour has this many pixels. */
  perHourWanted?: number;
  /** Below this the drawing grows beyond `right` (and scrolls) instead. */
  perHourMin?: number;
  /** Waits up to this long are never broken. */
  breakFrom?: number;
  breakWidth?: number;
}

export function makeScale(wish: ScaleWish): Scale {
  const { from, left } = wish;
  const to = Math.max(wish.to, from + HOUR);
  const breakWidth = wish.breakWidth ?? 46;
  const breakFrom = wish.breakFrom ?? 30 * HOUR;
  const wanted = wish.perHourWanted ?? 4;
  const width = Math.max(wish.right - left, 40);
  const waits = (wish.quiet ?? [])
    .map((one) => ({ from: Math.max(one.from, from), to: Math.min(one.to, to) }))
    .filter((one) => one.to - one.from > breakFrom)
    .sort((a, b) => b.to - b.from - (a.to - a.from) || a.from - b.from);

  const broken: { from: number; to: number }[] = [];
  const perHour = () => {
    const hours = (to - from - broken.reduce((sum, one) => sum + one.to - one.from, 0)) / HOUR;
    return (width - broken.length * breakWidth) / Math.max(hours, 0.5);
  };
  for (const wait of waits) {
    const now = perHour();
    // Broken only where that gives room; and never so many that breaks fill the drawing.
    if (now >= wanted || ((wait.to - wait.from) / HOUR) * now <= breakWidth) break;
    if ((broken.length + 1) * breakWidth > width / 2) break;
    broken.push(wait);
  }
  broken.sort((a, b) => a.from - b.from);
  const scale = Math.max(perHour(), wish.perHourMin ?? 0);

  const knots: { at: number; x: number }[] = [{ at: from, x: left }];
  const breaks: Break[] = [];
  let x = left;
  let at = from;
  for (const one of broken) {
    x += ((one.from - at) / HOUR) * scale;
    knots.push({ at: one.from, x });
    breaks.push({ ...one, x1: x, x2: x + breakWidth });
    x += breakWidth;
    knots.push({ at: one.to, x });
    at = one.to;
  }
  x += ((to - at) / HOUR) * scale;
  knots.push({ at: to, x });

  return {
    from,
    to,
    left,
    right: x,
    perHour: scale,
    breaks,
    x: (when) => between(knots, when, "at", "x"),
    at: (px) => between(knots, px, "x", "at"),
  };
}

function between(knots: { at: number; x: number }[], value: number, by: "at" | "x", get: "at" | "x"): number {
  let a: { at: number; x: number } | undefined;
  for (const b of knots) {
    if (value <= b[by]) {
      if (!a) return b[get];
      const share = b[by] === a[by] ? 0 : (value - a[by]) / (b[by] - a[by]);
      return a[get] + share * (b[get] - a[get]);
    }
    a = b;
  }
  return a ? a[get] : 0;
}

export interface Tick {
  at: number;
  x: number;
  /** A day begins here (else an hour of it). */
  day: boolean;
  /** There is room to write it. */
  named: boolean;
}

/** Midnights of the shop, and hours where there is room; none inside a break. */
export function ticks(scale: Scale, zone: string, room = 58): Tick[] {
  const out: Tick[] = [];
  const hourStep = [1, 2, 3, 6, 12].find((h) => h * scale.perHour >= room);
  let written = -Infinity;
  for (let day = startOfDay(scale.from, zone); day <= scale.to; day = addDays(day, 1, zone)) {
    const hours = hourStep ? range(0, 24, hourStep) : [0];
    for (const hour of hours) {
      const wall = { ...local(day + 2 * HOUR, zone), hour, minute: 0 };
      const at = hour === 0 ? day : moment(wall, zone);
      if (at < scale.from || at > scale.to) continue;
      if (scale.breaks.some((one) => at > one.from && at < one.to)) continue;
      const x = scale.x(at);
      const named = x - written >= room;
      if (named) written = x;
      out.push({ at, x, day: hour === 0, named });
    }
  }
  return out;
}

/** The longest round stretch of time that takes at most `px` pixels: what the scale bar shows. */
export function scaleBar(scale: Scale, px: number): { ms: number; width: number } {
  const rounds = [1, 2, 4, 8, 12, 24, 48, 7 * 24, 14 * 24].map((h) => h * HOUR);
  const fits = rounds.filter((ms) => (ms / HOUR) * scale.perHour <= px);
  const ms = fits.at(-1) ?? HOUR;
  return { ms, width: (ms / HOUR) * scale.perHour };
}

function range(from: number, to: number, step: number): number[] {
  const out: number[] = [];
  for (let n = from; n < to; n += step) out.push(n);
  return out;
}

export { DAY, HOUR };
