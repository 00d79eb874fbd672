// The width a drawing has, as it changes: turned phones, resized screens.
import { useSignal, type Signal } from "@preact/signals";
import { useLayoutEffect, useRef } from "preact/hooks";
import type { RefObject } from "preact";

export function useWidth<E extends HTMLElement>(first: number): { ref: RefObject<E | null>; width: Signal<number> } {
  const ref = useRef<E>(null);
  const width = useSignal(first);
  useLayoutEffect(() => {
    const box = ref.current;
    if (!box) return;
    const measure = (): void => {
      if (box.clientWidth > 0) width.value = box.clientWidth;
    };
    measure();
    const watch = new ResizeObserver(measure);
    watch.observe(box);
    return () => watch.disconnect();
  }, []);
  return { ref, width };
}
