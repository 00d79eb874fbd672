// Plain series to pixels: axes with round steps, polylines, who is labelled where.
// Pure. Must not know: languages, the DOM.

export interface Frame {
  width: number;
  height: number;
  left: number;
  right: number;
  top: number;
  bottom: number;
}

export interface Axis {
  /** Round values, from the bottom up. */
  ticks: number[];
  y(value: number): number;
}

/** From zero to a round number above `most`; about five steps of 1, 2 or 5. */
export function axis(most: number, frame: Frame): Axis {
  const rough = Math.max(most, 1e-6) / 4;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((n) => n * power).find((n) => n >= rough) ?? rough;
  const count = Math.max(1, Math.ceil(most / step - 1e-9));
  const ticks = Array.from({ length: count + 1 }, (_, n) => n * step);
  const top = count * step;
  return { ticks, y: (value) => frame.bottom - (Math.max(0, value) / top) * (frame.bottom - frame.top) };
}

/** Places of `count` points side by side, from edge to edge. */
export function across(count: number, frame: Frame): (place: number) => number {
  const room = frame.right - frame.left;
  return (place) => frame.left + (count < 2 ? room / 2 : (place / (count - 1)) * room);
}

export function polyline(points: [number, number][]): string {
  return points.map(([x, y], n) => `${n === 0 ? "M" : "L"}${round(x)} ${round(y)}`).join("");
}

/** The band between two lines, closed. */
export function between(above: [number, number][], below: [number, number][]): string {
  return above.length ? `${polyline([...above, ...below.slice().reverse()])}Z` : "";
}

/** Labels pushed apart so that each has its height; they keep their order. */
export function apart(wanted: number[], height: number, top: number, bottom: number): number[] {
  const order = wanted.map((y, n) => ({ y, n })).sort((a, b) => a.y - b.y || a.n - b.n);
  let last = top - height;
  for (const one of order) last = one.y = Math.max(one.y, last + height);
  let next = bottom + height;
  for (const one of order.reverse()) next = one.y = Math.min(one.y, next - height);
  const out = wanted.slice();
  for (const one of order) out[one.n] = one.y;
  return out;
}

/** At most `most` of `count` places, the first and the last among them. */
export function some(count: number, most: number): number[] {
  if (count <= most) return Array.from({ length: count }, (_, n) => n);
  const steps = Math.max(1, most - 1);
  return [...new Set(Array.from({ length: steps + 1 }, (_, n) => Math.round((n / steps) * (count - 1))))];
}

const round = (value: number): number => Math.round(value * 10) / 10;
