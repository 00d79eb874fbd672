// Nothing moves under a thumb: while a list is touched or scrolled, and for a moment after, a new order waits.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import type { QueueEntry } from "../../core/cards";

/** Long enough to look up from the steel and back. */
const HELD_MS = 4_000;

let touched = -Infinity;
const touch = (): void => void (touched = performance.now());
for (const kind of ["pointerdown", "pointermove", "touchmove", "scroll", "keydown"]) globalThis.addEventListener?.(kind, touch, { passive: true, capture: true });

/** In the old order, with what is new behind; what is gone is gone. Pure. */
export function inOldOrder(entries: QueueEntry[], old: readonly string[]): QueueEntry[] {
  const place = new Map(old.map((id, i) => [id, i]));
  return [...entries].sort((a, b) => (place.get(a.card.id) ?? Infinity) - (place.get(b.card.id) ?? Infinity) || 0);
}

/** Entries as they may be shown now; `changed`: there is another order, `show` goes over to it. */
export function useHeld(entries: QueueEntry[]): { shown: QueueEntry[]; changed: boolean; show: () => void } {
  const ids = useRef<string[] | undefined>(undefined);
  const again = useSignal(0);
  void again.value;
  const left = touched + HELD_MS - performance.now();
  const held = ids.current && left > 0 ? inOldOrder(entries, ids.current) : entries;
  const changed = held.some((entry, i) => entry !== entries[i]);
  if (!changed) ids.current = entries.map(({ card }) => card.id);
  useEffect(() => {
    if (!changed) return undefined;
    const timer = setTimeout(() => again.value++, Math.max(100, left));
    return () => clearTimeout(timer);
  });
  const show = (): void => {
    touched = -Infinity;
    again.value++;
  };
  return { shown: held, changed, show };
}
