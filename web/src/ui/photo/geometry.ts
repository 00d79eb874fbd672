// Marks on a photo as lines: pure geometry, in a picture 1,000 units wide.
// Must not know: the screen, fingers, words.
import type { Mark, MarkKind } from "../../api/types";

export const WIDE = 1_000;
const EDGE = 10_000;
/** Length of an arrow's head; a finger's breadth on a phone. */
const HEAD = 45;
const HEAD_ANGLE = (28 / 180) * Math.PI;
export const LETTER = 50;
const LINE_CHARS = 26;

export interface Point {
  x: number;
  y: number;
}
export type End = 1 | 2;

const clamp = (value: number): number => Math.round(Math.min(EDGE, Math.max(0, value)));

/** Where a finger is in the picture, in ten-thousandths. */
export const placed = (share: Point): Point => ({ x: clamp(share.x * EDGE), y: clamp(share.y * EDGE) });

export const end = (mark: Mark, which: End): Point =>
  which === 1 ? { x: mark.x1, y: mark.y1 } : { x: mark.x2, y: mark.y2 };

export function withEnd(mark: Mark, which: End, { x, y }: Point): Mark {
  const to = { x: clamp(x), y: clamp(y) };
  return which === 1 ? { ...mark, x1: to.x, y1: to.y } : { ...mark, x2: to.x, y2: to.y };
}

/** All of it, kept inside the picture. */
export function moved(mark: Mark, dx: number, dy: number): Mark {
  const inside = (low: number, high: number, by: number): number => Math.min(EDGE - high, Math.max(-low, by));
  const x = inside(Math.min(mark.x1, mark.x2), Math.max(mark.x1, mark.x2), dx);
  const y = inside(Math.min(mark.y1, mark.y2), Math.max(mark.y1, mark.y2), dy);
  return { ...mark, x1: clamp(mark.x1 + x), y1: clamp(mark.y1 + y), x2: clamp(mark.x2 + x), y2: clamp(mark.y2 + y) };
}

/** Shorter than this was a tap. */
const TAP = 250;

/** From a finger that went from one point to another; a tap gives a mark of a size that can be taken hold of. */
export function drawn(kind: MarkKind, from: Point, to: Point): Mark {
  const tapped = Math.hypot(to.x - from.x, to.y - from.y) < TAP;
  if (kind === "text") return { kind, x1: from.x, y1: from.y, x2: from.x, y2: from.y };
  if (!tapped) return { kind, x1: from.x, y1: from.y, x2: to.x, y2: to.y };
  if (kind === "circle") return moved({ kind, x1: 0, y1: 0, x2: 2_000, y2: 2_000 }, from.x - 1_000, from.y - 1_000);
  // Its head where the finger was, its tail towards the middle: it stays in the picture.
  const [dx, dy] = [from.x < EDGE / 2 ? 1_800 : -1_800, from.y < EDGE / 2 ? 1_800 : -1_800];
  return { kind, x1: clamp(from.x + dx), y1: clamp(from.y + dy), x2: from.x, y2: from.y };
}

/** `tall`: height of the picture in units. */
const unit = ({ x, y }: Point, tall: number): Point => ({ x: (x / EDGE) * WIDE, y: (y / EDGE) * tall });

const round = (value: number): number => Math.round(value * 10) / 10;

export function arrowPath(mark: Mark, tall: number): string {
  const [tail, head] = [unit(end(mark, 1), tall), unit(end(mark, 2), tall)];
  const back = Math.atan2(tail.y - head.y, tail.x - head.x);
  const length = Math.min(HEAD, Math.max(HEAD / 2, Math.hypot(head.x - tail.x, head.y - tail.y) * 0.6));
  const wing = (turn: number): string =>
    `${round(head.x + length * Math.cos(back + turn))} ${round(head.y + length * Math.sin(back + turn))}`;
  const tip = `${round(head.x)} ${round(head.y)}`;
  return `M${round(tail.x)} ${round(tail.y)}L${tip}M${wing(HEAD_ANGLE)}L${tip}L${wing(-HEAD_ANGLE)}`;
}

export function ellipse(mark: Mark, tall: number): { cx: number; cy: number; rx: number; ry: number } {
  const [a, b] = [unit(end(mark, 1), tall), unit(end(mark, 2), tall)];
  return {
    cx: round((a.x + b.x) / 2),
    cy: round((a.y + b.y) / 2),
    rx: round(Math.abs(a.x - b.x) / 2),
    ry: round(Math.abs(a.y - b.y) / 2),
  };
}

export interface Lettering extends Point {
  lines: string[];
  /** Written towards the left where the right edge is near. */
  anchor: "start" | "end";
}

export function lettering(mark: Mark, tall: number): Lettering {
  const lines: string[] = [];
  for (const word of (mark.text ?? "").trim().split(/\s+/)) {
    const last = lines.at(-1);
    if (last !== undefined && last.length + 1 + word.length <= LINE_CHARS) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  const at = unit(end(mark, 1), tall);
  const height = lines.length * LETTER * 1.15;
  return {
    x: round(at.x),
    // The first line's foot; all of them inside the picture.
    y: round(Math.min(Math.max(at.y, LETTER), Math.max(LETTER, tall - height + LETTER))),
    lines,
    anchor: at.x > WIDE * 0.6 ? "end" : "start",
  };
}

/** The mark nearest to a point, if one is near enough to be meant. */
export function nearest(marks: readonly Mark[], at: Point): number | undefined {
  const REACH = 500;
  let best: { i: number; far: number } | undefined;
  marks.forEach((mark, i) => {
    const far = Math.min(
      ...([1, 2] as const).map((which) => Math.hypot(end(mark, which).x - at.x, end(mark, which).y - at.y)),
    );
    if (far <= REACH && (!best || far < best.far)) best = { i, far };
  });
  return best?.i;
}
