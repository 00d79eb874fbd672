// Taking hold of a picture of time: drag it by mouse or finger, draw two fingers apart, turn the wheel with Ctrl held,
// arrow keys and + and -. Whatever a hand does here has a button beside the picture that does the same.
import type { Signal } from "@preact/signals";
import type { RefObject } from "preact";
import { useLayoutEffect } from "preact/hooks";
import { keyed, moved, zoomed, type View } from "./view";

/** Fewer pixels are a touch that was not quite still. */
const STILL = 5;

/** `left`: what stands left of the picture and does not move. */
export function useHand(box: RefObject<HTMLElement | null>, view: Signal<View>, left: number): void {
  useLayoutEffect(() => {
    const held = box.current;
    if (!held) return;
    const fingers = new Map<number, { x: number; y: number }>();
    let dragged = false;
    const width = (): number => Math.max(held.clientWidth - left, 1);
    const share = (x: number): number =>
      Math.min(1, Math.max(0, (x - held.getBoundingClientRect().left - left) / width()));
    const apart = (): number => {
      const [a, b] = [...fingers.values()];
      return a && b ? Math.max(24, Math.abs(a.x - b.x)) : 0;
    };
    const middle = (): number => [...fingers.values()].reduce((sum, one) => sum + one.x, 0) / Math.max(1, fingers.size);
    const down = (event: PointerEvent): void => {
      if (event.pointerType === "mouse" && event.button !== 0) return;
      if (fingers.size === 0) dragged = false;
      fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    };
    const move = (event: PointerEvent): void => {
      const before = fingers.get(event.pointerId);
      if (!before) return;
      const [wasApart, was] = [apart(), middle()];
      if (!dragged && fingers.size === 1 && Math.abs(event.clientX - before.x) < STILL) return;
      dragged = true;
      held.setPointerCapture(event.pointerId);
      fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
      const next = moved(view.peek(), -(middle() - was) / width());
      view.value = wasApart > 0 ? zoomed(next, wasApart / apart(), share(middle())) : next;
    };
    const up = (event: PointerEvent): void => void fingers.delete(event.pointerId);
    // Letting go of the picture over a string does not open its vehicle.
    const click = (event: MouseEvent): void => {
      if (!dragged) return;
      dragged = false;
      event.preventDefault();
      event.stopPropagation();
    };
    const wheel = (event: WheelEvent): void => {
      const sideways = Math.abs(event.deltaX) > Math.abs(event.deltaY);
      if (!event.ctrlKey && !sideways) return;
      event.preventDefault();
      view.value = event.ctrlKey
        ? zoomed(view.peek(), Math.exp(event.deltaY / 300), share(event.clientX))
        : moved(view.peek(), event.deltaX / width());
    };
    const key = (event: KeyboardEvent): void => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const next = keyed(view.peek(), event.key);
      if (!next) return;
      event.preventDefault();
      view.value = next;
    };
    const still = (event: Event): void => event.preventDefault();
    held.addEventListener("pointerdown", down);
    held.addEventListener("pointermove", move);
    held.addEventListener("pointerup", up);
    held.addEventListener("pointercancel", up);
    held.addEventListener("click", click, { capture: true });
    held.addEventListener("wheel", wheel, { passive: false });
    held.addEventListener("keydown", key);
    held.addEventListener("dragstart", still);
    return () => {
      held.removeEventListener("pointerdown", down);
      held.removeEventListener("pointermove", move);
      held.removeEventListener("pointerup", up);
      held.removeEventListener("pointercancel", up);
      held.removeEventListener("click", click, { capture: true });
      held.removeEventListener("wheel", wheel);
      held.removeEventListener("keydown", key);
      held.removeEventListener("dragstart", still);
    };
  }, [left]);
}
