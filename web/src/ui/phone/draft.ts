// What is typed is kept while it is typed: the camera or a call may end the page at any moment.
import { useEffect } from "preact/hooks";
import { useSignal, type Signal } from "@preact/signals";
import { db } from "../../db";

const KEEP_AFTER_MS = 250;

/** A form's content under a name: what was begun before is there again. */
export function useDraft<T extends object>(key: string, empty: T): { value: Signal<T>; set: (change: Partial<T>) => void; done: () => Promise<void> } {
  const value = useSignal<T>(empty);
  const touched = useSignal(false);
  useEffect(() => {
    void db.draft<Partial<T>>(key).then((kept) => {
      if (kept && !touched.peek()) value.value = { ...empty, ...kept };
    });
  }, [key]);
  useEffect(() => {
    if (!touched.value) return undefined;
    const timer = setTimeout(() => void db.putDraft(key, value.peek(), Date.now()), KEEP_AFTER_MS);
    return () => clearTimeout(timer);
  }, [value.value]);
  return {
    value,
    set(change) {
      touched.value = true;
      value.value = { ...value.peek(), ...change };
    },
    async done() {
      touched.value = false;
      await db.putDraft(key, undefined, 0);
    },
  };
}
