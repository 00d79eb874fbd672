// Moves between rows that meet are drawn as one: a dozen dashed lines side by side are a grey patch, and one line into
// which strings run and out of which they come again can be followed.
// Pure. Must not know: what moves.

export interface Move {
  x1: number;
  y1: number;
  x2: number;
  y2: number;
}

/** Moves nearer to each other than this cannot be told apart. */
const NEAR = 11;
/** How far before its row a string leaves the common line. */
const LEAVE = 8;

export interface Bundled {
  /** By string: what it draws alone. */
  own: string[];
  /** By string: the common lines it goes along. */
  shared: string[];
  /** Every common line, once. */
  bundles: string[];
}

/** `strings`: the moves of each string. */
export function bundled(strings: readonly (readonly Move[])[]): Bundled {
  const out: Bundled = { own: strings.map(() => ""), shared: strings.map(() => ""), bundles: [] };
  const all = strings
    .flatMap((moves, of) =>
      moves.map((move) => ({
        ...move,
        of,
        x: (move.x1 + move.x2) / 2,
        top: Math.min(move.y1, move.y2),
        bottom: Math.max(move.y1, move.y2),
      })),
    )
    .sort((a, b) => a.x - b.x || a.top - b.top || a.of - b.of);
  const groups: (typeof all)[] = [];
  for (const move of all) {
    // The first of a group says where it is, so that a group does not creep along.
    const group = groups.findLast(
      ([first, ...rest]) =>
        first &&
        move.x - first.x < NEAR &&
        [first, ...rest].some((one) => one.top + LEAVE < move.bottom && move.top + LEAVE < one.bottom),
    );
    if (group) group.push(move);
    else groups.push([move]);
  }
  for (const group of groups) {
    if (group.length === 1 || new Set(group.map((one) => one.of)).size === 1) {
      for (const { of, x1, y1, x2, y2 } of group) out.own[of] += `M${r1(x1)} ${r1(y1)}L${r1(x2)} ${r1(y2)}`;
      continue;
    }
    const x = r1(group.reduce((sum, one) => sum + one.x, 0) / group.length);
    const parts: [number, number][] = [];
    for (const { of, x1, y1, x2, y2, top, bottom } of group) {
      const leave = Math.min(LEAVE, (bottom - top) / 3) * Math.sign(y2 - y1);
      out.own[of] += `M${r1(x1)} ${r1(y1)}L${x} ${r1(y1 + leave)}M${x} ${r1(y2 - leave)}L${r1(x2)} ${r1(y2)}`;
      out.shared[of] += `M${x} ${r1(y1 + leave)}V${r1(y2 - leave)}`;
      parts.push([top + Math.abs(leave), bottom - Math.abs(leave)]);
    }
    for (const [top, bottom] of united(parts)) out.bundles.push(`M${x} ${r1(top)}V${r1(bottom)}`);
  }
  return out;
}

function united(parts: [number, number][]): [number, number][] {
  const out: [number, number][] = [];
  for (const [from, to] of parts.sort((a, b) => a[0] - b[0])) {
    const last = out.at(-1);
    if (last && from <= last[1]) last[1] = Math.max(last[1], to);
    else out.push([from, to]);
  }
  return out;
}

const r1 = (n: number): number => Math.round(n * 10) / 10;
