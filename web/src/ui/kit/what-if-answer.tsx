// The answer to a question about the plan, for the desk as a table and for a phone as a few sentences.
import { Looks } from "./looks";
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { Failure, request } from "../../api/client";
import { cards, now, orders, t } from "../../state";
import { length } from "../../text/time";
import { about } from "../../text/sentences";
import { loadWords } from "../../text/words";
import { missed, parted, promised, type Change, type WhatIf, type WhatIfRow } from "../../model/what-if";

export async function ask(change: Change): Promise<WhatIf> {
  return request<WhatIf>("POST", "/api/v1/what-if", { changes: [change] });
}

export const why = (error: unknown): string =>
  error instanceof Failure && error.status === 0
    ? t("what-if-unreached")
    : error instanceof Error
      ? error.message
      : String(error);

const by = (row: WhatIfRow): string =>
  t(row.later_minutes > 0 ? "what-if-later-by" : "what-if-earlier-by", {
    length: length(Math.abs(row.later_minutes) * 60_000),
  });

function PromiseLine({ row }: { row: WhatIfRow }) {
  const is = promised(row);
  const args = { length: length(row.late_after_minutes * 60_000) };
  if (is === "none") return <>{t("what-if-promise-none")}</>;
  return (
    <span class={is === "late" || is === "late_now" ? "late" : undefined}>{t(`what-if-promise-${is}`, args)}</span>
  );
}

/** Everything in one sentence. */
export function summary(answer: WhatIf): string {
  const { later, earlier, same } = answer;
  if (!later && !earlier) return t("what-if-nobody");
  return [
    t("what-if-later", { count: later }),
    t("what-if-earlier", { count: earlier }),
    t("what-if-same", { count: same }),
  ].join(" ");
}

/** The vehicle that the question is about. */
function own(change: Change): string | undefined {
  if (change.change === "vehicle_first" || change.change === "hold_until" || change.change === "close_up")
    return change.order;
  return change.change === "card_first" ? cards.value.get(change.card)?.order : undefined;
}

/** What the question was asked for, and what it costs, before everything that moves with it. */
function Verdict({ change, answer }: { change: Change; answer: WhatIf }) {
  const order = own(change);
  const row = answer.rows.find((one) => one.order === order);
  const number = order ? orders.value.get(order)?.number : undefined;
  const late = missed(answer);
  return (
    <div class="stack-small verdict">
      {number && (
        <p>
          <strong>
            {row
              ? t("what-if-own", {
                  number,
                  by: by(row),
                  after: about(row.finish_after),
                  before: about(row.finish_before),
                })
              : t("what-if-own-same", { number })}
          </strong>
        </p>
      )}
      {answer.rows.length > 0 && (
        <p class={late.length ? "late" : undefined}>
          {late.length
            ? t("what-if-missed", { count: late.length, numbers: late.join(", ") })
            : t("what-if-missed-none")}
        </p>
      )}
      <p>{summary(answer)}</p>
    </div>
  );
}

/** Whose promise breaks by it first. */
const others = (change: Change, answer: WhatIf): WhatIfRow[] =>
  answer.rows
    .filter((row) => row.order !== own(change))
    .sort((a, b) => Number(promised(b) === "late_now") - Number(promised(a) === "late_now"));

/** Of all promises together: the number that the plan is made to keep low. */
function weighed({ before, after }: WhatIf): string {
  const args = {
    before: length(before.weighted_minutes * 60_000),
    after: length(after.weighted_minutes * 60_000),
    late: before.late_vehicles,
    then: after.late_vehicles,
  };
  return t(before.weighted_minutes === after.weighted_minutes ? "what-if-weighed-same" : "what-if-weighed", args);
}

export function AnswerTable({ change, answer }: { change: Change; answer: WhatIf }) {
  const [rows, small] = parted(others(change, answer));
  return (
    <>
      <Verdict change={change} answer={answer} />
      {rows.length > 0 && <Rows rows={rows} />}
      {small.length > 0 && (
        <details class="no-print">
          <summary>{t("what-if-small", { count: small.length })}</summary>
          <Rows rows={small} />
        </details>
      )}
      <p class="quiet">
        {weighed(answer)} {t("what-if-weighed-is")}
      </p>
    </>
  );
}

function Rows({ rows }: { rows: WhatIfRow[] }) {
  return (
    <div class="what-if-scroll">
      <table class="what-if-table">
        <thead>
          <tr>
            <th scope="col">{t("what-if-vehicle")}</th>
            <th scope="col">{t("what-if-change")}</th>
            <th scope="col">{t("what-if-before")}</th>
            <th scope="col">{t("what-if-after")}</th>
            <th scope="col">{t("what-if-promise")}</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={row.order}>
              <th scope="row">
                <a class="plate" href={`/vehicle/${row.order}`}>
                  <b>{row.number}</b>
                  <Looks of={orders.value.get(row.order)?.vehicle} />
                </a>
              </th>
              <td>
                <strong>{by(row)}</strong>
              </td>
              <td>{about(row.finish_before)}</td>
              <td>{about(row.finish_after)}</td>
              <td>
                <PromiseLine row={row} />
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

const SHOWN = 5;

/** Before something is put first: who pays for it. Asked when it is shown; nothing depends on the answer. */
export function Consequences({ change }: { change: Change }) {
  const state = useSignal<{ answer?: WhatIf; failed?: unknown }>({});
  const key = JSON.stringify(change);
  useEffect(() => {
    let current = true;
    state.value = {};
    // The words are needed for the failure, too.
    void loadWords("what-if")
      .then(() => ask(JSON.parse(key) as Change))
      .then(
        (answer) => current && (state.value = { answer }),
        (failed: unknown) => current && (state.value = { failed }),
      );
    return () => {
      current = false;
    };
  }, [key, state]);
  const { answer, failed } = state.value;
  if (failed !== undefined) return <p class="notice-line">{why(failed)}</p>;
  if (!answer) {
    return (
      <p class="quiet" role="status">
        {t("loading")}
      </p>
    );
  }
  const rows = others(change, answer);
  const rest = rows.length - SHOWN;
  return (
    <section class="stack consequences" aria-labelledby="consequences" aria-live="polite">
      <h3 id="consequences">{t("what-if-then")}</h3>
      <Verdict change={change} answer={answer} />
      <ul class="rows">
        {rows.slice(0, SHOWN).map((row) => (
          <li key={row.order}>
            <p class="apart">
              <span>
                <strong>{row.number}</strong> <Looks of={orders.value.get(row.order)?.vehicle} />
              </span>
              <strong>{by(row)}</strong>
            </p>
            <p>
              {t("what-if-ready", { at: about(row.finish_after) })} <PromiseLine row={row} />
            </p>
          </li>
        ))}
      </ul>
      {rest > 0 && <p class="quiet">{t("what-if-more", { count: rest })}</p>}
    </section>
  );
}

export const asOf = (answer: WhatIf): string => t("what-if-as-of", { at: about(Math.min(answer.at, now.value)) });
