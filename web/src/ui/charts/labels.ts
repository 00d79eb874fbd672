// Where words stand in a drawing: never on a line, never on each other, never outside. Each word brings the places it
// would take, best first; whoever comes first chooses first. No chance in it: the same drawing twice is the same.
// Pure. Must not know: what the words say, the DOM.

export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** A stroke: its middle from end to end, and how thick it is. */
export interface Segment {
  x1: number;
  y1: number;
  x2: number;
  y2: number;
  thick: number;
}

export interface Word {
  id: string;
  width: number;
  height: number;
  /** Upper left corners. */
  places: readonly { x: number; y: number }[];
}

/** Paper between a word and whatever it stands beside. */
const CLEAR = 1;

export function placeWords(
  words: readonly Word[],
  lines: readonly Segment[],
  bounds: Box,
  taken: readonly Box[] = [],
): Map<string, Box> {
  const placed = new Map<string, Box>();
  const boxes = [...taken];
  for (const { id, width, height, places } of words) {
    for (const at of places) {
      const box = { ...at, width, height };
      if (
        !inside(box, bounds) ||
        boxes.some((other) => overlap(box, other)) ||
        lines.some((line) => crosses(box, line))
      )
        continue;
      placed.set(id, box);
      boxes.push(box);
      break;
    }
  }
  return placed;
}

export const inside = (box: Box, of: Box): boolean =>
  box.x >= of.x && box.y >= of.y && box.x + box.width <= of.x + of.width && box.y + box.height <= of.y + of.height;

export const overlap = (a: Box, b: Box): boolean =>
  a.x < b.x + b.width + CLEAR &&
  b.x < a.x + a.width + CLEAR &&
  a.y < b.y + b.height + CLEAR &&
  b.y < a.y + a.height + CLEAR;

/** Whether a stroke touches the box (Liang and Barsky, 1984: the part of a line that lies within). */
export function crosses(box: Box, line: Segment): boolean {
  const half = line.thick / 2 + CLEAR;
  const [left, right, top, bottom] = [box.x - half, box.x + box.width + half, box.y - half, box.y + box.height + half];
  const [dx, dy] = [line.x2 - line.x1, line.y2 - line.y1];
  let [from, to] = [0, 1];
  for (const [p, q] of [
    [-dx, line.x1 - left],
    [dx, right - line.x1],
    [-dy, line.y1 - top],
    [dy, bottom - line.y1],
  ] as const) {
    if (p === 0) {
      if (q < 0) return false;
    } else if (p < 0) from = Math.max(from, q / p);
    else to = Math.min(to, q / p);
    if (from > to) return false;
  }
  return true;
}

/** The strokes of a path made of M, L, H, V and Q; a bend counts as the way to its corner and on from there. */
export function segmentsOf(d: string, thick: number): Segment[] {
  const out: Segment[] = [];
  let [x, y] = [0, 0];
  const to = (x2: number, y2: number): void => {
    out.push({ x1: x, y1: y, x2, y2, thick });
    [x, y] = [x2, y2];
  };
  for (const [, letter, rest] of d.matchAll(/([MLHVQ])([^MLHVQ]*)/g)) {
    const n = (rest ?? "")
      .trim()
      .split(/[\s,]+/)
      .map(Number);
    if (letter === "M") [x, y] = [n[0] ?? 0, n[1] ?? 0];
    else if (letter === "H") to(n[0] ?? 0, y);
    else if (letter === "V") to(x, n[0] ?? 0);
    else for (let i = 0; i + 1 < n.length; i += 2) to(n[i] ?? 0, n[i + 1] ?? 0);
  }
  return out;
}

/** About how wide words are in this size; drawings need no more, as long as it is not too little. */
export const wide = (text: string, size: number, bold = false): number =>
  Math.ceil(text.length * size * (bold ? 0.62 : 0.56));
