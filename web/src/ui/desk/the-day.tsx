// The day on one page, for whoever answers for the shop. Works without a network: everything on it is in the phone's own copy.
import { useComputed, useSignal, useSignalEffect } from "@preact/signals";
import { freshen, outlook } from "../../outlook";
import { cards, cursor, exceptions, handoffs, now as clock, orders, plan, t, words } from "../../state";
import { departmentName, departmentRank, inSentence, tongue, zone } from "../../text/names";
import { clock as time, length } from "../../text/time";
import { addDays, startOfDay } from "../../text/zone";
import { loadWords } from "../../text/words";
import { dayOf, type Passed } from "../../model/day";
import { number } from "./measure-names";
import { Plate } from "../kit/plate";
import { Print } from "../kit/print";
import { about, exceptionSentence, said } from "../kit/shop-sentences";

await loadWords("day");

/** Promises so many days ahead are due next. */
const AHEAD_DAYS = 2;

export function TheDay() {
  const back = useSignal(0);
  const tz = zone.value;
  const now = clock.value;
  const from = addDays(startOfDay(now, tz), -back.value, tz);
  const to = addDays(from, 1, tz);
  const today = back.value === 0;
  const day = useComputed(() =>
    dayOf(
      {
        orders: orders.value,
        cards: cards.value,
        handoffs: handoffs.value,
        exceptions: exceptions.value,
        now: clock.value,
      },
      from,
      to,
      addDays(startOfDay(now, tz), AHEAD_DAYS, tz),
    ),
  ).value;
  useSignalEffect(() => freshen(clock.value));
  const kept = new Map(outlook.value.found?.vehicles.map((one) => [one.order, one.kept]));
  const finish = new Map(plan.value?.vehicles.map((one) => [one.order, one.finish]));
  const title = new Intl.DateTimeFormat(tongue.value, {
    weekday: "long",
    day: "numeric",
    month: "long",
    year: "numeric",
    timeZone: tz,
  }).format(from);
  if (cursor.value === 0) return <p role="status">{t("shop-loading")}</p>;
  const done = [...day.done].sort((a, b) => departmentRank(a.department) - departmentRank(b.department));
  return (
    <div class="day-page stack">
      <div class="beside day-head">
        <p class="day-date" aria-live="polite">
          <strong>{title}</strong>
        </p>
        <div class="beside no-print" role="group" aria-label={t("day-move")}>
          <button class="button small-button" onClick={() => (back.value += 1)}>
            {t("day-before")}
          </button>
          <button class="button small-button" disabled={today} onClick={() => (back.value -= 1)}>
            {t("day-after")}
          </button>
          <Print />
        </div>
      </div>
      {/* Of now: it says nothing of another day. */}
      {today && (
        <section class="part" aria-labelledby="day-due">
          <h2 id="day-due">{t("day-due")}</h2>
          <p class="quiet small">{t(day.due.length === 0 ? "day-due-none" : "day-due-is")}</p>
          <ul class="rows">
            {day.due.map(({ order, promise }) => {
              const share = kept.get(order.id);
              const end = finish.get(order.id);
              return (
                <li key={order.id} class="line-row">
                  <Plate order={order} />
                  <p>
                    {t("shop-promised", { time: said(promise, now) })}{" "}
                    {order.stage === "ready"
                      ? t("day-due-ready")
                      : end == null
                        ? t("shop-no-finish")
                        : t("shop-ready-about", { time: about(end, now) })}{" "}
                    {order.stage !== "ready" && promise >= now && share != null && (
                      <span class={share < 0.5 ? "share late" : "share"}>
                        {t("day-due-kept", { share: number("share", share) })}
                      </span>
                    )}
                  </p>
                  {promise < now && <p class="figure-end late">{t("day-overdue")}</p>}
                </li>
              );
            })}
          </ul>
        </section>
      )}
      <section class="part" aria-labelledby="day-passed">
        <h2 id="day-passed">{t("day-passed")}</h2>
        {day.passed.length === 0 && <p class="quiet">{t("day-passed-none")}</p>}
        <ul class="rows">
          {day.passed.map((one) => (
            <li key={`${one.order.id}${one.stage}${one.at}`} class="line-row">
              <Plate order={one.order} />
              <p>{passedSentence(one)}</p>
              <p class="figure-end">{time(one.at, tongue.value, tz)}</p>
            </li>
          ))}
        </ul>
      </section>
      <section class="part" aria-labelledby="day-done">
        <h2 id="day-done">{t("day-done")}</h2>
        {done.length === 0 && <p class="quiet">{t("day-done-none")}</p>}
        {done.length > 0 && (
          <div class="measure-scroll" tabIndex={0} role="group" aria-label={t("day-done")}>
            <table>
              <thead>
                <tr>
                  <th scope="col">{t("day-department")}</th>
                  <th scope="col" class="figure">
                    {t("day-cards")}
                  </th>
                  <th scope="col" class="figure">
                    {t("day-planned")}
                  </th>
                  <th scope="col" class="figure">
                    {t("day-clocked")}
                  </th>
                </tr>
              </thead>
              <tbody>
                {done.map((one) => (
                  <tr key={one.department}>
                    <th scope="row">{departmentName(one.department)}</th>
                    <td class="figure">{one.cards}</td>
                    <td class="figure">{hours(one.plannedMinutes * 60_000)}</td>
                    <td class="figure">{hours(one.clocked)}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        )}
        <p class="quiet small">{t("day-done-is")}</p>
      </section>
      <section class="part" aria-labelledby="day-asked">
        <h2 id="day-asked">{t("day-asked")}</h2>
        <p>
          {t("day-asked-counts", { asked: day.asked.asked, begun: day.asked.begun, back: day.asked.back })}{" "}
          {day.asked.untilBegun !== undefined && t("day-asked-until", { length: length(day.asked.untilBegun) })}
        </p>
        {day.asked.waiting.length > 0 && (
          <p>{t(today ? "day-asked-waiting" : "day-asked-waited", { count: day.asked.waiting.length })}</p>
        )}
        <ul class="rows">
          {day.asked.waiting.map((one) => (
            <li key={one.id} class="line-row">
              <Plate order={orders.value.get(one.order)} />
              <p>
                {t("shop-asked-sentence", {
                  from: inSentence(departmentName(one.from)),
                  to: inSentence(departmentName(one.to)),
                  what: words(one.title),
                  time: said(one.asked_at, now),
                })}
              </p>
            </li>
          ))}
        </ul>
      </section>
      <section class="part" aria-labelledby="day-raised">
        <h2 id="day-raised">{t("day-raised")}</h2>
        <p class={day.raised.length ? "" : "quiet"}>
          {t("day-raised-counts", { raised: day.raised.length, answered: day.answered })}
        </p>
        <ul class="rows">
          {day.raised.map((one) => (
            <li key={one.id} class="line-row">
              <Plate order={orders.value.get(one.order)} />
              <p>
                {exceptionSentence(one)}{" "}
                <span class="quiet">{t(one.answered_at == null ? "day-unanswered" : "day-answered")}</span>
              </p>
            </li>
          ))}
        </ul>
      </section>
    </div>
  );
}

function passedSentence(one: Passed) {
  const stage = t(`day-stage-${one.stage}`);
  if (one.stage === "stopped" && one.reason) return t("stage-stopped-why", { reason: one.reason });
  if (one.stage !== "delivered") return stage;
  if (one.late === undefined) return `${stage} ${t("day-nothing-promised")}`;
  return one.late === 0 ? (
    `${stage} ${t("day-promise-kept")}`
  ) : (
    <>
      {stage} <span class="late">{t("shop-late-by", { length: length(one.late) })}</span>
    </>
  );
}

const hours = (ms: number): string => number("hours", ms / 3_600_000);
