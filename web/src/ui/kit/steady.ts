// No spot of the screen acts on something that has just come to be there. A finger that taps twice, or a
// list that moves up under it, would else finish what it meant to start, or take the next vehicle too.
//
// Whatever is pressed must have stood there, saying the same, for a moment; before that a press is nothing.
// The same holds for keys: they press whatever has the focus. Until then a button says that it cannot be used.

/** Longer than a double tap, shorter than it takes to read what is new. */
export const STEADY_MS = 700;
/** Half of a finger: what moves less is still under it. */
const MOVED_PX = 24;
const PRESSED = 'button, input[type="checkbox"]';

export interface Seen {
  /** What it says, without numbers: a clock in it runs on. */
  says: string;
  /** In the window and on the page: one of both stays when somebody scrolls. */
  window: { x: number; y: number };
  page: { x: number; y: number };
  since: number;
}

const apart = (a: { x: number; y: number }, b: { x: number; y: number }): boolean =>
  Math.abs(a.x - b.x) > MOVED_PX || Math.abs(a.y - b.y) > MOVED_PX;

/** Since when it stands there and says so, as it was seen before and is seen now. */
export function sinceWhen(before: Seen | undefined, now: Omit<Seen, "since">, at: number): number {
  if (!before || before.says !== now.says) return at;
  return apart(before.window, now.window) && apart(before.page, now.page) ? at : before.since;
}

function look(of: Element): Omit<Seen, "since"> | undefined {
  const { x, y, width } = of.getBoundingClientRect();
  if (!width) return undefined;
  const says = `${of.getAttribute("aria-label") ?? ""} ${of.textContent}`.replace(/\d+/g, "");
  return { says, window: { x, y }, page: { x: x + scrollX, y: y + scrollY } };
}

/** Watches the whole page from now on. */
export function keepSteady(): void {
  let seen = new Map<Element, Seen>();
  let dirty = true;
  let ripe: ReturnType<typeof setTimeout> | undefined;

  const survey = (): void => {
    dirty = false;
    const at = performance.now();
    const found = new Map<Element, Seen>();
    for (const of of document.querySelectorAll(PRESSED)) {
      const now = look(of);
      if (now) found.set(of, { ...now, since: sinceWhen(seen.get(of), now, at) });
    }
    seen = found;
    show();
  };

  const show = (): void => {
    clearTimeout(ripe);
    const at = performance.now();
    let next = Infinity;
    for (const [of, { since }] of seen) {
      const left = since + STEADY_MS - at;
      if (left > 0) {
        of.setAttribute("aria-disabled", "true");
        next = Math.min(next, left);
      } else if (of.hasAttribute("aria-disabled")) {
        of.removeAttribute("aria-disabled");
        of.removeAttribute("data-early");
      }
    }
    if (next < Infinity) ripe = setTimeout(show, next + 1);
  };

  const soon = (): void => {
    if (!dirty) requestAnimationFrame(() => dirty && survey());
    dirty = true;
  };

  new MutationObserver(soon).observe(document, {
    subtree: true,
    childList: true,
    characterData: true,
    attributeFilter: ["open", "hidden", "aria-label"],
  });
  survey();

  document.addEventListener(
    "click",
    (event) => {
      const of = event.target instanceof Element ? event.target.closest(PRESSED) : null;
      // What the app presses by itself is meant.
      if (!of || !event.isTrusted) return;
      if (dirty) survey();
      const since = seen.get(of)?.since;
      if (since !== undefined && performance.now() - since >= STEADY_MS) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      of.setAttribute("data-early", "");
    },
    true,
  );
}
