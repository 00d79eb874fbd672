// Nothing moves under a thumb: while a list is touched or scrolled, and for a moment after, every row stays where it stands. What
// is known of it is shown there; what left the list stays as a row that does nothing; what came waits with the new order.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import type { QueueEntry, Stretches } from "../../core/cards";

/** Long enough to look up from the steel and back. */
const HELD_MS = 4_000;

let touched = -Infinity;
const touch = (): void => void (touched = performance.now());
for (const kind of ["pointerdown", "pointermove", "touchmove", "scroll", "keydown"])
  globalThis.addEventListener?.(kind, touch, { passive: true, capture: true });

export interface HeldEntry extends QueueEntry {
  /** It is not in the list any more. */
  gone?: boolean;
}

export interface Held {
  /** Shown large, above the rest of what can be taken. */
  first: HeldEntry | undefined;
  now: HeldEntry[];
  soon: HeldEntry[];
  later: HeldEntry[];
}

export const arranged = ({ now, soon, later }: Stretches, large: (entry: QueueEntry) => boolean): Held => {
  const first = now[0] && large(now[0]) ? now[0] : undefined;
  return { first, now: first ? now.slice(1) : now, soon, later };
};

const all = ({ first, now, soon, later }: Held): HeldEntry[] => [...(first ? [first] : []), ...now, ...soon, ...later];
const order = (held: Held): string =>
  JSON.stringify([
    held.first?.card.id,
    ...[held.now, held.soon, held.later].map((stretch) => stretch.map(({ card }) => card.id)),
  ]);

/** As it stood, with what is known now. */
export function inPlace(old: Held, fresh: Held): Held {
  const known = new Map(all(fresh).map((entry) => [entry.card.id, entry]));
  const there = (entry: HeldEntry): HeldEntry => known.get(entry.card.id) ?? { ...entry, gone: true };
  return {
    first: old.first && there(old.first),
    now: old.now.map(there),
    soon: old.soon.map(there),
    later: old.later.map(there),
  };
}

/** What may be shown now; `changed`: there is another order, `show` goes over to it. */
export function useHeld(fresh: Held): { shown: Held; changed: boolean; show: () => void } {
  const stood = useRef<Held | undefined>(undefined);
  const again = useSignal(0);
  void again.value;
  const left = touched + HELD_MS - performance.now();
  const shown = stood.current && left > 0 ? inPlace(stood.current, fresh) : fresh;
  const changed = order(shown) !== order(fresh) || all(shown).some((entry) => entry.gone);
  stood.current = shown;
  useEffect(() => {
    if (!changed) return undefined;
    const timer = setTimeout(() => again.value++, Math.max(100, left));
    return () => clearTimeout(timer);
  });
  const show = (): void => {
    touched = -Infinity;
    again.value++;
  };
  return { shown, changed, show };
}
