// How sure the dates are, and what could be promised to somebody who asks today.
import { Looks } from "../kit/looks";
import "./outlook.css";
import { useSignal, useSignalEffect } from "@preact/signals";
import { Failure, request } from "../../api/client";
import type { components } from "../../api/schema";
import { accuracy, freshen, lookBack, outlook, type VehicleOutlook } from "../../outlook";
import { now as clock, orders, routings, t, words } from "../../state";
import { tongue, zone } from "../../text/names";
import { at as moment } from "../../text/sentences";
import { date } from "../../text/time";
import { number } from "./measure-names";
import { addDays, isoDay, parseLocal } from "../../text/zone";

type Answer = components["schemas"]["Promise"];

export function OutlookPart() {
  useSignalEffect(() => freshen(clock.value));
  const { found, failed, unreached } = outlook.value;
  return (
    <div class="outlook-page">
      <section class="part" aria-labelledby="outlook-dates">
        <h2 id="outlook-dates">{t("outlook-dates")}</h2>
        <p class="to-ask no-print">
          <a href="#outlook-ask" onClick={goToAsk}>
            {t("outlook-ask")}
          </a>
        </p>
        {(failed ?? unreached) && (
          <p class="late" role="alert">
            {failed ?? t("outlook-unreached")}
          </p>
        )}
        {!found && !failed && !unreached && (
          <p class="quiet" role="status">
            {t("outlook-loading")}
          </p>
        )}
        {found && (
          <>
            <p class="quiet small">
              {t("outlook-definition", { runs: found.runs })}{" "}
              {found.learnt.cards > 0
                ? t("outlook-learnt", {
                    cards: found.learnt.cards,
                    ratio: percent(found.learnt.ratio),
                    ratio90: percent(found.learnt.ratio90),
                  })
                : t("outlook-prior")}{" "}
              {found.learnt.vehicles > 0
                ? t("outlook-slip", { count: found.learnt.vehicles })
                : t("outlook-slip-prior")}
            </p>
            <Dates vehicles={found.vehicles} />
          </>
        )}
      </section>
      <CameTrue />
      <Ask />
    </div>
  );
}

/** The app's own router would take the link for another page. */
function goToAsk(event: Event): void {
  event.preventDefault();
  event.stopPropagation();
  document.getElementById("outlook-ask")?.scrollIntoView();
}

const percent = (share: number): string =>
  new Intl.NumberFormat(tongue.value === "es" ? "es-US" : "en-US", {
    style: "percent",
    maximumFractionDigits: 0,
  }).format(share);

/** The ones in danger first; those that nobody promised stand last. */
function Dates({ vehicles }: { vehicles: VehicleOutlook[] }) {
  const sorted = [...vehicles].sort((a, b) => (a.kept ?? 2) - (b.kept ?? 2) || a.p50 - b.p50);
  return (
    <div class="measure-scroll" tabIndex={0} role="group" aria-label={t("outlook-dates")}>
      <table class="outlook">
        <thead>
          <tr>
            <th scope="col">{t("outlook-vehicle")}</th>
            <th scope="col" class="figure">
              {t("outlook-kept")}
            </th>
            <th scope="col">{t("outlook-promise")}</th>
            <th scope="col">{t("outlook-half")}</th>
            <th scope="col">{t("outlook-ninety")}</th>
          </tr>
        </thead>
        <tbody>
          {sorted.map((one) => (
            <tr key={one.order}>
              <th scope="row">
                <a href={`/vehicle/${one.order}`}>
                  <span class="number">{one.number}</span>
                </a>{" "}
                <Looks of={orders.value.get(one.order)?.vehicle} />
              </th>
              <td class={`figure kept${one.kept != null && one.kept < 0.5 ? " late" : ""}`}>
                {one.kept == null ? "–" : percent(one.kept)}
              </td>
              <td data-label={t("outlook-promise")}>{one.promise == null ? t("outlook-none") : moment(one.promise)}</td>
              <td data-label={t("outlook-half")}>{moment(one.p50)}</td>
              <td data-label={t("outlook-ninety")}>{moment(one.p90)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

/** Too few cases are no share. */
const SHARE_FROM = 10;

/** Whether to believe the dates above: what the same reckoning would have said of vehicles whose end is known. */
function CameTrue() {
  useSignalEffect(() => lookBack(clock.value));
  const { found, failed } = accuracy.value;
  const share = (part: number, of: number): string => (of < SHARE_FROM ? "–" : percent(part / of));
  const best =
    found?.moments.find((one) => one.at === "authorised" && one.vehicles >= SHARE_FROM) ??
    found?.moments.find((one) => one.vehicles >= SHARE_FROM);
  return (
    <section class="part" aria-labelledby="outlook-true">
      <h2 id="outlook-true">{t("outlook-true")}</h2>
      <p class="quiet small">{t("outlook-true-intro")}</p>
      {failed && (
        <p class="quiet" role="status">
          {t("outlook-true-failed")}
        </p>
      )}
      {!found && !failed && (
        <p class="quiet" role="status">
          {t("outlook-true-loading")}
        </p>
      )}
      {found && !best && <p>{t("outlook-true-few")}</p>}
      {best && (
        <p>
          <strong>
            {t("outlook-true-sentence", {
              count: best.vehicles,
              at: best.at,
              share: percent(best.by_p90 / best.vehicles),
            })}
          </strong>
        </p>
      )}
      {found && best && (
        <div class="measure-scroll" tabIndex={0} role="group" aria-label={t("outlook-true")}>
          <table class="outlook-true">
            <thead>
              <tr>
                <th scope="col">{t("outlook-true-at")}</th>
                <th scope="col" class="figure">
                  {t("outlook-true-vehicles")}
                </th>
                <th scope="col" class="figure">
                  {t("outlook-true-half")}
                </th>
                <th scope="col" class="figure">
                  {t("outlook-true-ninety")}
                </th>
                <th scope="col" class="figure">
                  {t("outlook-true-factor")}
                </th>
              </tr>
            </thead>
            <tbody>
              {found.moments.map((one) => (
                <tr key={one.at}>
                  <th scope="row">{t(`outlook-true-${one.at}`)}</th>
                  <td class="figure">{one.vehicles}</td>
                  <td class="figure">{share(one.by_p50, one.vehicles)}</td>
                  <td class="figure">{share(one.by_p90, one.vehicles)}</td>
                  <td class="figure">{number("ratio", one.factor)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
      {found && best && <p class="quiet small">{t("outlook-true-is")}</p>}
    </section>
  );
}

function Ask() {
  const chosen = useSignal<string[]>([]);
  const day = useSignal(isoDay(clock.peek(), zone.value));
  const state = useSignal<{ answer?: Answer; failed?: string; busy?: boolean }>({});
  const all = [...routings.value.values()].filter((one) => !one.retired);
  const ask = (event: Event): void => {
    event.preventDefault();
    const arriving = parseLocal(day.value, zone.value);
    if (chosen.value.length === 0) {
      state.value = { failed: t("outlook-needs-work") };
      return;
    }
    if (arriving === undefined || addDays(arriving, 1, zone.value) <= clock.peek()) {
      state.value = { failed: t("outlook-needs-day") };
      return;
    }
    state.value = { busy: true };
    request<Answer>("POST", "/api/v1/forecast/promise", {
      routings: chosen.value,
      arriving: Math.max(arriving, clock.peek()),
    }).then(
      (answer) => (state.value = { answer }),
      (error: unknown) =>
        (state.value = {
          failed:
            error instanceof Failure && error.status === 0 ? t("outlook-unreached") : String((error as Error).message),
        }),
    );
  };
  const toggle = (id: string): void => {
    chosen.value = chosen.value.includes(id) ? chosen.value.filter((one) => one !== id) : [...chosen.value, id];
  };
  const { answer, failed, busy } = state.value;
  return (
    <section class="part no-print" aria-labelledby="outlook-ask">
      <h2 id="outlook-ask">{t("outlook-ask")}</h2>
      <p class="quiet small">{t("outlook-ask-intro")}</p>
      <form class="stack" onSubmit={ask}>
        <fieldset class="choices">
          <legend>{t("outlook-work")}</legend>
          {all.map((one) => (
            <label key={one.id} class="choice">
              <input type="checkbox" checked={chosen.value.includes(one.id)} onChange={() => toggle(one.id)} />{" "}
              {words(one.title)}
              {chosen.value.includes(one.id) && chosen.value.length > 1 && (
                <span class="quiet"> ({chosen.value.indexOf(one.id) + 1})</span>
              )}
            </label>
          ))}
        </fieldset>
        <div class="field">
          <label for="outlook-day">{t("outlook-arriving")}</label>
          <input
            id="outlook-day"
            type="date"
            value={day.value}
            min={isoDay(clock.peek(), zone.value)}
            onChange={(e) => (day.value = e.currentTarget.value)}
          />
        </div>
        <button class="button" disabled={busy}>
          {t("outlook-look")}
        </button>
      </form>
      {failed && (
        <p class="late" role="alert">
          {failed}
        </p>
      )}
      {busy && (
        <p class="quiet" role="status">
          {t("outlook-busy")}
        </p>
      )}
      {answer && (
        <div role="status">
          <p>
            <strong>{t("outlook-answer", { at: said(answer.p90) })}</strong>
          </p>
          <p>{t("outlook-answer-less", { p80: moment(answer.p80), p50: moment(answer.p50) })}</p>
          {answer.endangered.length > 0 && (
            <>
              <p>{t("outlook-endangered")}</p>
              <ul>
                {answer.endangered.map((one) => (
                  <li key={one.order}>
                    <span class="number">{one.number}</span>{" "}
                    {t("outlook-endangered-by", { before: percent(one.kept_before), after: percent(one.kept_after) })}
                  </li>
                ))}
              </ul>
            </>
          )}
        </div>
      )}
    </section>
  );
}

const said = (at: number): string => `${date(at, tongue.value, zone.value, clock.value)} (${moment(at)})`;
