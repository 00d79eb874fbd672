// What is typed is kept while it is typed: the camera or a call may end the page at any moment, a shared
// tablet may lock. Each person has their own.
import { useEffect, useRef } from "preact/hooks";
import { useSignal, type Signal } from "@preact/signals";
import { db } from "../../db";
import { me } from "../../state";
import { shared } from "../session";

const KEEP_AFTER_MS = 250;

/** A form's content under a name: what was begun before is there again. */
export function useDraft<T extends object>(of: string, empty: T): { value: Signal<T>; set: (change: Partial<T>) => void; done: () => Promise<void> } {
  const value = useSignal<T>(empty);
  const changed = useRef(false);
  const keeping = useRef<Promise<void>>(Promise.resolve());
  const key = `${me.peek()?.person ?? ""}/${of}`;
  useEffect(() => {
    const show = (kept: Partial<T> | undefined): void => {
      if (kept && !changed.current) value.value = { ...empty, ...kept };
    };
    // Earlier versions kept them without a person.
    void db.draft<Partial<T>>(key).then((kept) => (kept || shared.peek() ? show(kept) : db.draft<Partial<T>>(of).then(show)));
  }, [key]);
  /** Not after it is done: what was sent would stand in the next empty form. */
  const keep = (): void => {
    if (changed.current) keeping.current = db.putDraft(key, value.peek(), Date.now()).catch(() => undefined);
  };
  useEffect(() => {
    if (!changed.current) return undefined;
    const timer = setTimeout(keep, KEEP_AFTER_MS);
    return () => clearTimeout(timer);
  }, [value.value]);
  // Locked or closed within the last quarter of a second: the last letters count too.
  useEffect(() => keep, [key]);
  return {
    value,
    set(change) {
      changed.current = true;
      value.value = { ...value.peek(), ...change };
    },
    async done() {
      changed.current = false;
      await keeping.current;
      await Promise.all([db.putDraft(key, undefined, 0), db.putDraft(of, undefined, 0)]);
    },
  };
}
