// The shop on a wall: read from across the hall, touched by nobody. Few words in large letters: which promises are in
// trouble, what stands on the lifts, which three vehicles each department takes up next. Nothing turns pages: whatever
// is late is there all the time.
import "../kit/desk.css";
import "../kit/shop.css";
import "./board.css";
import "./wall.css";
import { useSignal } from "@preact/signals";
import { useEffect, useLayoutEffect, useRef } from "preact/hooks";
import { cursor, departments, equipment, now, orders, plan, reach, shop, t } from "../../state";
import { departmentName, tongue, zone } from "../../text/names";
import { at } from "../../text/sentences";
import { loadWords } from "../../text/words";
import { departmentsNext, shownFirst } from "../../model/glance";
import { whatHolds } from "../../model/waits";
import { Part } from "./part";
import { useShop } from "./shop-picture";
import { Strips } from "./strips";
import { TroubleList } from "./trouble";

await Promise.all([loadWords("shop"), loadWords("draw")]);

/** More equipment than this is the business of the shop's page; what stands somewhere comes first. */
const STRIPS = 7;

/** On a screen this wide strokes are as thick as on the shop's page. */
const STROKES_FOR = 1300;

export default function Wall() {
  useEffect(() => {
    const { classList, style } = document.documentElement;
    // Strokes grow with the letters, which grow with the screen.
    const fit = (): void => style.setProperty("--wall-strokes", String(Math.max(1, innerWidth / STROKES_FOR)));
    fit();
    addEventListener("resize", fit);
    classList.add("on-wall");
    return () => {
      removeEventListener("resize", fit);
      classList.remove("on-wall");
    };
  }, []);
  const clock = new Intl.DateTimeFormat(tongue.value === "es" ? "es-US" : "en-US", {
    weekday: "short",
    hour: "numeric",
    minute: "2-digit",
    timeZone: zone.value,
  });
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
      <main id="main" class="shop wall">
        <Board />
      </main>
    </>
  );
}

function Board() {
  const { now, picture, all, trouble } = useShop();
  const list = useRef<HTMLDivElement>(null);
  const room = useSignal(6);
  // As many rows as there is height for; what is late is there however many that are.
  useLayoutEffect(() => {
    const box = list.current;
    if (!box) return;
    const look = (): void => {
      const row = box.querySelector<HTMLElement>(".trouble[data-order]")?.offsetHeight ?? 0;
      const head = box.querySelector<HTMLElement>(".trouble-head")?.offsetHeight ?? 0;
      const part = box.closest<HTMLElement>(".part");
      if (row > 0 && part)
        room.value = Math.max(1, Math.floor((part.offsetTop + part.clientHeight - box.offsetTop - head) / row));
    };
    look();
    const watch = new ResizeObserver(look);
    watch.observe(box.closest(".part") ?? box);
    return () => watch.disconnect();
  }, [trouble.length > 0]);
  if (orders.value.size === 0) return <p class="wall-empty">{t(cursor.value === 0 ? "shop-loading" : "shop-empty")}</p>;
  const first = shownFirst(trouble, room.value);
  const held = whatHolds(picture, all, equipment.value.values()).filter(
    (one) => one.order ?? one.outUntil ?? (one.equipment.kind === "lift" ? one.next : undefined),
  );
  return (
    <>
      <Part
        title={t("shop-trouble")}
        name="late"
        count={trouble.length}
        beside={trouble.length > first.length && <span class="quiet">+ {trouble.length - first.length}</span>}
      >
        <div ref={list}>
          {trouble.length === 0 ? (
            <p>{t(plan.value ? "shop-late-none" : "shop-late-unknown")}</p>
          ) : (
            <TroubleList all={first} first={first} now={now} onWall />
          )}
        </div>
      </Part>
      <Part title={t("shop-holds-short")} name="holds">
        <Strips held={held.slice(0, STRIPS)} now={now} onWall />
      </Part>
      <Part title={t("shop-next")} name="next">
        <ul class="nexts">
          {departmentsNext(picture, departments.value.values()).map(({ department, next }) => (
            <li key={department.id} class="next-row">
              <span class="next-of">{departmentName(department.id)}</span>
              {next.map((one) => (
                <b key={one.order}>{orders.value.get(one.order)?.number}</b>
              ))}
            </li>
          ))}
        </ul>
      </Part>
    </>
  );
}
