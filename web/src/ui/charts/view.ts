// Which part of time the string diagram shows: closer, further, earlier, later. Measured from the midnight before now,
// so that midnights stay where they are while time passes.
// Pure. Must not know: pixels, the DOM.

const HOUR = 3_600_000;
const DAY = 24 * HOUR;

export interface View {
  /** From the midnight before now to the beginning of the picture. */
  shift: number;
  span: number;
}

export const VIEWS = {
  day: { shift: 0, span: DAY },
  three: { shift: -12 * HOUR, span: 3 * DAY },
  week: { shift: -2.5 * DAY, span: 7 * DAY },
} as const satisfies Record<string, View>;

const SHORTEST = 2 * HOUR;
const LONGEST = 28 * DAY;
const FARTHEST = 90 * DAY;

const between = (least: number, at: number, most: number): number => Math.min(most, Math.max(least, at));

/** `share`: the place that stays where it is, from 0 at the left to 1 at the right; `factor` below 1 is closer. */
export function zoomed(view: View, factor: number, share = 0.5): View {
  const span = between(SHORTEST, view.span * factor, LONGEST);
  return { span, shift: between(-FARTHEST, view.shift + (view.span - span) * share, FARTHEST) };
}

/** By a part of what is shown; above 0 is later. */
export const moved = (view: View, part: number): View => ({
  ...view,
  shift: between(-FARTHEST, view.shift + part * view.span, FARTHEST),
});

export const isView = (view: View, other: View): boolean => view.shift === other.shift && view.span === other.span;

const KEYS: Record<string, (view: View) => View> = {
  ArrowLeft: (view) => moved(view, -0.25),
  ArrowRight: (view) => moved(view, 0.25),
  "+": (view) => zoomed(view, 0.5),
  "=": (view) => zoomed(view, 0.5),
  "-": (view) => zoomed(view, 2),
  "0": () => VIEWS.three,
};

/** What a key does to the picture, if anything. */
export const keyed = (view: View, key: string): View | undefined => KEYS[key]?.(view);
