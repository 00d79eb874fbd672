// What is being typed, kept in the browser's session until it is saved: leaving the screen, a reload or
// a sign-in again loses nothing. Must not know: what is typed.
import { signal, type Signal } from "@preact/signals";
import { useEffect, useMemo } from "preact/hooks";
import { me } from "../../state";

/** Each person on a shared tablet has their own. */
const under = (key: string): string => `draft/${me.peek()?.person ?? ""}/${key}`;

function read(key: string): unknown {
  try {
    const kept = sessionStorage.getItem(under(key));
    return kept === null ? undefined : (JSON.parse(kept) as unknown);
  } catch {
    return undefined;
  }
}

export function keepDraft(key: string, value: unknown): void {
  try {
    sessionStorage.setItem(under(key), JSON.stringify(value));
  } catch {
    // Too large or not allowed: it is still on the screen.
  }
}

export function dropDraft(key: string): void {
  try {
    sessionStorage.removeItem(under(key));
  } catch {
    // Nothing kept, nothing to drop.
  }
}

export interface Draft<T> {
  value: Signal<T>;
  /** Differs from what it began with. */
  changed: boolean;
  set(change: Partial<T>): void;
  /** Saved or thrown away: begin again from `to`. */
  reset(to: T): void;
}

/** A draft that begins as `initial`, or as what was typed before under the same key. */
export function useDraft<T extends object>(key: string, initial: T): Draft<T> {
  const began = JSON.stringify(initial);
  const state = useMemo(() => {
    const kept = read(key) as { began: string; value: T } | undefined;
    return { value: signal<T>(kept ? kept.value : initial), began: kept ? kept.began : began };
  }, [key]);
  // Somebody else changed it meanwhile and nothing was typed here: show theirs.
  useEffect(() => {
    if (JSON.stringify(state.value.peek()) === state.began && began !== state.began) {
      state.began = began;
      state.value.value = initial;
    }
  }, [began]);
  return {
    value: state.value,
    changed: JSON.stringify(state.value.value) !== state.began,
    set(change) {
      state.value.value = { ...state.value.peek(), ...change };
      keepDraft(key, { began: state.began, value: state.value.peek() });
    },
    reset(to) {
      state.began = JSON.stringify(to);
      state.value.value = to;
      dropDraft(key);
    },
  };
}
