// The shop at this moment: what is to be answered, the strings, which promises are in trouble, what stands on the
// lifts, who is waited for. One screen of a desk; on a phone one part below the other, the strings last.
import "./board.css";
import { signal } from "@preact/signals";
import { cursor, equipment, exceptions, language, orders, plan, t } from "../../state";
import { look } from "../../text/looks";
import { departmentRank, tongue, zone } from "../../text/names";
import { clock as clockOf, dayShort } from "../../text/time";
import { rowName } from "../charts/row-name";
import { StringDiagram } from "../charts/string-diagram";
import { worthShowing } from "../charts/string-geometry";
import { media } from "../kit/media";
import { Print } from "../kit/print";
import { shownFirst } from "../../model/glance";
import { askedMeanwhile, inShop, unanswered, whatHolds, whoWaits, type Seen } from "../../model/waits";
import { Answers } from "./answers";
import { MoreButton, Part } from "./part";
import { useShop } from "./shop-picture";
import { Strips, taken } from "./strips";
import { TroubleList } from "./trouble";
import { Waiting } from "./waiting";

// Placed in the document, not by style, so that the keyboard goes the way the eye goes.
const wide = media("(min-width: 64rem)");
const high = signal(innerHeight);
addEventListener("resize", () => (high.value = innerHeight));

/** A string for each vehicle in trouble or on a lift, and never so many that none can be followed. */
const STRINGS = 15;

/** Chosen by touch: its plan is drawn, and everything about it stands below its row. */
const chosen = signal<string | undefined>(undefined);
const everyTrouble = signal(false);
const everyStrip = signal(false);

export function Now() {
  const { now, picture, all, chances, trouble } = useShop();
  if (orders.value.size === 0) {
    return (
      <div class="stack">
        <p>{t(cursor.value === 0 ? "shop-loading" : "shop-empty")}</p>
        {cursor.value > 0 && (
          <p class="buttons">
            <a class="button" href="/setup/order">
              {t("shop-new-order")}
            </a>
            <a class="button" href="/setup/import">
              {t("shop-import")}
            </a>
          </p>
        )}
      </div>
    );
  }
  const groups = whoWaits(picture, departmentRank);
  const held = whatHolds(picture, all, equipment.value.values());
  const open = unanswered(exceptions.value.values());
  const picturesHeight = wide.value ? Math.max(240, Math.round(high.value * 0.36)) : undefined;
  const room = wide.value ? Math.max(5, Math.floor((high.value - 375 - Math.max(345, picturesHeight ?? 0)) / 37)) : 8;
  const firstRows = shownFirst(trouble, room);
  const first = firstRows.map((one) => one.order.id);
  const busy = held.filter(taken);
  const counts = new Map(inShop(all).map((one) => [one.row, one.count]));
  const strings = (
    <section class="part part-strings" aria-labelledby="part-strings">
      <StringDiagram
        title={t("shop-strings")}
        vehicles={all.map((one) => {
          const chance = chances.get(one.order.id);
          return {
            order: one.order.id,
            number: one.order.number,
            vehicle: look(one.order.vehicle, language.value).said,
            itinerary: one.itinerary,
            occupied: one.occupied,
            sure: chance && { from: chance.p10, to: chance.p90 },
          };
        })}
        now={now}
        first={[
          ...new Set([
            ...first,
            ...worthShowing(
              all.map((one) => ({ ...one, order: one.order.id })),
              now,
            ),
          ]),
        ].slice(0, Math.max(STRINGS, first.length))}
        planned={new Set(first)}
        chosen={chosen.value}
        height={picturesHeight}
        counts={counts}
        beside={<Print />}
      />
    </section>
  );
  return (
    <>
      {!plan.value && <p class="notice-line">{t("shop-no-plan")}</p>}
      {open.length > 0 && <Answers open={open} now={now} />}
      {wide.value && strings}
      <div class="shop-three">
        <Part
          title={t("shop-trouble")}
          name="late"
          count={trouble.length}
          beside={<MoreButton rest={trouble.length - firstRows.length} every={everyTrouble} />}
        >
          {trouble.length === 0 ? (
            <p class="quiet">{t(plan.value ? "shop-late-none" : "shop-late-unknown")}</p>
          ) : (
            <TroubleList
              all={everyTrouble.value ? trouble : firstRows}
              first={firstRows}
              now={now}
              chosen={chosen.value}
              choose={(order) => (chosen.value = order)}
            />
          )}
        </Part>
        <Part
          title={t("shop-holds")}
          name="holds"
          beside={<MoreButton rest={held.length - busy.length} every={everyStrip} />}
        >
          {held.length === 0 ? (
            <p class="quiet">
              {t("shop-holds-none")} <a href="/setup/equipment">{t("shop-to-setup")}</a>
            </p>
          ) : (
            <Strips held={everyStrip.value ? held : busy} now={now} />
          )}
        </Part>
        <Part title={t("shop-waits")} name="waits">
          {groups.length === 0 && <p class="quiet">{t("shop-waits-none")}</p>}
          <Waiting groups={groups} meanwhile={askedMeanwhile(picture)} now={now} />
        </Part>
      </div>
      {!wide.value && strings}
      {/* On the screen the names of the rows say it. */}
      <p class="counts small">
        {`${t("shop-today", { day: dayShort(now, tongue.value, zone.value), time: clockOf(now, tongue.value, zone.value) })} `}
        {countsSentence(all)}
      </p>
    </>
  );
}

function countsSentence(all: Seen[]): string {
  const counts = inShop(all).sort((a, b) => departmentRank(a.row) - departmentRank(b.row));
  const total = counts.reduce((sum, one) => sum + one.count, 0);
  const where = counts
    .filter((one) => one.row)
    .map((one) => `${rowName(one.row)} ${one.count}`)
    .join(", ");
  const expected = all.filter((one) => one.order.stage === "expected").length;
  return [t("shop-counts", { count: total, where }), expected ? t("shop-counts-expected", { count: expected }) : ""]
    .filter(Boolean)
    .join(" ");
}
