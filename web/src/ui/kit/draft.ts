// What is typed is kept while it is typed: the camera or a call may end the page at any moment, a shared
// tablet may lock. Each person has their own.
import { useEffect, useRef } from "preact/hooks";
import { useSignal, type Signal } from "@preact/signals";
import { db } from "../../db";
import { me, shared } from "../../state";

const KEEP_AFTER_MS = 250;

/** Holds `name` until the answer is called; undefined while another tab has the same form open. */
function hold(name: string): Promise<(() => void) | undefined> {
  if (!("locks" in navigator)) return Promise.resolve(() => undefined);
  return new Promise((given) => {
    const asked = navigator.locks.request(name, { ifAvailable: true }, (lock) => {
      if (!lock) return given(undefined);
      return new Promise<void>((release) => given(release));
    });
    asked.catch(() => given(() => undefined));
  });
}

/**
 * A form's content under a name: what was begun before is there again. Two tabs with the same form each have
 * their own text: the second begins empty and keeps its own under another name, found again when neither is open.
 */
export function useDraft<T extends object>(of: string, empty: T): { value: Signal<T>; set: (change: Partial<T>) => void; done: () => Promise<void> } {
  const value = useSignal<T>(empty);
  const changed = useRef(false);
  const keeping = useRef<Promise<void>>(Promise.resolve());
  const key = `${me.peek()?.person ?? ""}/${of}`;
  const second = `${key}/second`;
  const name = useRef(key);
  const stale = useRef<string[]>([]);
  /** Not after it is done: what was sent would stand in the next empty form. */
  const keep = (): void => {
    if (changed.current) keeping.current = db.putDraft(name.current, value.peek(), Date.now()).catch(() => undefined);
  };
  useEffect(() => {
    let closed = false;
    let release: (() => void) | undefined;
    const begin = async (): Promise<void> => {
      release = await hold(`draft/${key}`);
      if (closed) return release?.();
      if (!release) {
        name.current = second;
        return;
      }
      for (const from of [key, second, ...(shared.peek() ? [] : [of])]) {
        // Earlier versions kept them without a person.
        const kept = await db.draft<Partial<T>>(from);
        if (!kept) continue;
        stale.current = [from];
        if (!closed && !changed.current) value.value = { ...empty, ...kept };
        return;
      }
    };
    void begin().catch(() => undefined);
    return () => {
      // Locked or closed within the last quarter of a second: the last letters count too.
      keep();
      closed = true;
      release?.();
    };
  }, [key]);
  useEffect(() => {
    if (!changed.current) return undefined;
    const timer = setTimeout(keep, KEEP_AFTER_MS);
    return () => clearTimeout(timer);
  }, [value.value]);
  return {
    value,
    set(change) {
      changed.current = true;
      value.value = { ...value.peek(), ...change };
    },
    async done() {
      changed.current = false;
      await keeping.current;
      await Promise.all([name.current, ...stale.current].map((one) => db.putDraft(one, undefined, 0)));
    },
  };
}
