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

/** Earlier versions kept those of the setup in the tab's session. */
function ofTheSession<T>(key: string): Partial<T> | undefined {
  try {
    const kept = sessionStorage.getItem(`draft/${key}`);
    sessionStorage.removeItem(`draft/${key}`);
    return kept === null ? undefined : (JSON.parse(kept) as { value: Partial<T> }).value;
  } catch {
    return undefined;
  }
}

export interface Draft<T> {
  value: Signal<T>;
  /** Differs from what it began with. */
  readonly changed: boolean;
  set(change: Partial<T>): void;
  /** Sent, saved or thrown away: what was kept is forgotten. With `to` the form begins again from there. */
  done(to?: T): Promise<void>;
}

/**
 * A form's content under a name: what was begun before is there again. Two tabs with the same form each have
 * their own text: the second begins as `initial` and keeps its own under another name, found again when neither
 * is open.
 */
export function useDraft<T extends object>(of: string, initial: T): Draft<T> {
  const value = useSignal<T>(initial);
  const initially = JSON.stringify(initial);
  const began = useRef(initially);
  const changed = useRef(false);
  /** Typed or done already: what comes out of the database only now is too late. */
  const touched = useRef(false);
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
    const show = (kept: Partial<T>): void => {
      if (!closed && !touched.current) value.value = { ...initial, ...kept };
    };
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
        return show(kept);
      }
      const before = ofTheSession<T>(key);
      if (before) show(before);
    };
    void begin().catch(() => undefined);
    // Locked, closed or loaded again within the last quarter of a second: the last letters count too.
    addEventListener("pagehide", keep);
    return () => {
      removeEventListener("pagehide", keep);
      keep();
      closed = true;
      release?.();
    };
  }, [key]);
  // Somebody else changed it meanwhile and nothing was typed here: show theirs.
  useEffect(() => {
    if (initially !== began.current && JSON.stringify(value.peek()) === began.current) value.value = initial;
    if (JSON.stringify(value.peek()) === initially) began.current = initially;
  }, [initially]);
  useEffect(() => {
    if (!changed.current) return undefined;
    const timer = setTimeout(keep, KEEP_AFTER_MS);
    return () => clearTimeout(timer);
  }, [value.value]);
  return {
    value,
    get changed() {
      return JSON.stringify(value.value) !== began.current;
    },
    set(change) {
      changed.current = touched.current = true;
      value.value = { ...value.peek(), ...change };
    },
    async done(to) {
      changed.current = false;
      touched.current = true;
      if (to) {
        began.current = JSON.stringify(to);
        value.value = to;
      }
      await keeping.current;
      // What cannot be taken out stands there again: better than the other way round.
      await Promise.all(
        [name.current, ...stale.current].map((one) => db.putDraft(one, undefined, 0).catch(() => undefined)),
      );
    },
  };
}
