// The shop on a wall: read from across the hall, touched by nobody. What does not fit comes in turns.
import "../kit/desk.css";
import "../kit/shop.css";
import "../kit/why.css";
import "./wall.css";
import { useEffect, useRef } from "preact/hooks";
import { now, reach, shop, t } from "../../state";
import { tongue, zone } from "../../text/names";
import { at } from "../../text/sentences";
import { Now } from "./now";
import { loadWords } from "../../text/words";

await Promise.all([loadWords("shop"), loadWords("draw"), loadWords("what-if")]);

/** Letters grow with the screen: on four thousand pixels as large as on a desk's 1 800. */
const DESIGN_WIDTH = 1800;
const TURN_MS = 12_000;
/** What a part's title takes, in the screen's pixels at the least. */
const HEAD = 60;

export default function Wall() {
  const main = useRef<HTMLElement>(null);
  useEffect(() => {
    const fit = (): void => {
      document.documentElement.style.setProperty("zoom", String(Math.max(1, window.innerWidth / DESIGN_WIDTH)));
    };
    fit();
    addEventListener("resize", fit);
    const each = (turn: (part: HTMLElement) => void): void => main.current?.querySelectorAll<HTMLElement>(".part").forEach(turn);
    const turn = setInterval(() => each(turnPage), TURN_MS);
    const watch = new MutationObserver(() => each(hideCut));
    if (main.current) watch.observe(main.current, { childList: true, subtree: true });
    each(hideCut);
    document.documentElement.classList.add("on-wall");
    return () => {
      removeEventListener("resize", fit);
      clearInterval(turn);
      watch.disconnect();
      document.documentElement.classList.remove("on-wall");
      document.documentElement.style.removeProperty("zoom");
    };
  }, []);
  const clock = new Intl.DateTimeFormat(tongue.value, { weekday: "long", day: "numeric", month: "long", hour: "numeric", minute: "2-digit", timeZone: zone.value });
  const { live, why, since } = reach.value;
  return (
    <>
      <header class="wall-head">
        <h1>{shop.value?.name}</h1>
        <p>{clock.format(now.value)}</p>
      </header>
      {/* An old picture that looks new is worse than none. */}
      {!live && (
        <p class="wall-old" role="status">
          {t(why === "sign_in" ? "wall-signed-out" : "not-reached-since", { at: at(since) })}
        </p>
      )}
      <main id="main" class="shop wall" ref={main}>
        <Now onWall />
      </main>
    </>
  );
}

const rowsOf = (part: HTMLElement): HTMLElement[] => [...part.querySelectorAll<HTMLElement>(".rows > li")];

/** On to the first row that was not whole on this page; after the last one, from the beginning. */
function turnPage(part: HTMLElement): void {
  const { top, bottom } = part.getBoundingClientRect();
  const next = rowsOf(part).find((row) => row.getBoundingClientRect().bottom > bottom);
  // Rectangles are in the screen's pixels, scrolling in the page's: between them lies the zoom.
  const zoom = part.offsetHeight / Math.max(1, bottom - top);
  part.scrollTop = next ? part.scrollTop + (next.getBoundingClientRect().top - top) * zoom : 0;
  hideCut(part);
}

/** A row that is only half there is not there. */
function hideCut(part: HTMLElement): void {
  const { top, bottom } = part.getBoundingClientRect();
  for (const row of rowsOf(part)) {
    const is = row.getBoundingClientRect();
    // One that is higher than its place is there all the same, as far as it goes.
    row.classList.toggle("cut", is.bottom > bottom + 1 && (is.height < bottom - top - HEAD || is.top > top + HEAD * 2));
  }
  // How many are on other pages, so that nobody takes this one for all.
  const cut = part.querySelectorAll(".rows > .cut").length + rowsOf(part).filter((row) => row.getBoundingClientRect().bottom < top).length;
  const title = part.querySelector("h2");
  if (title) title.dataset["elsewhere"] = cut > 0 ? `+ ${cut}` : "";
  // Nor is the name of those who wait without them.
  for (const group of part.querySelectorAll(".group")) group.classList.toggle("cut", !group.querySelector(".rows > li:not(.cut)"));
}
