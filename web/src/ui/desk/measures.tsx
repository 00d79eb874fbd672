// Where time goes, from the log: each measure with its unit, its clock, its count and its definition.
import "./measures.css";
import { useSignal, useSignalEffect } from "@preact/signals";
import type { ComponentType } from "preact";
import { Failure, request } from "../../api/client";
import { departments, now as clock, t } from "../../state";
import { departmentName, departmentRank, tongue, zone } from "../../text/names";
import { date } from "../../text/time";
import { addDays, firstOfLast, isoDay, parseLocal } from "../../text/zone";
import { grouped, measureRows, readMeasures, type Measure, type Together } from "../../model/figures";
import type { Asked } from "./control";
import { measureName, partName } from "./measure-names";
import { MeasureTable } from "./measure-table";
import { Print } from "../kit/print";
import { take } from "./download";

const LENGTHS = [30, 90, 365] as const;
const CLASSES = ["rolling", "towed_in", "small", "medium", "large"] as const;

export function Measures() {
  const tz = zone.value;
  const today = isoDay(clock.peek(), tz);
  const from = useSignal(firstOfLast(90, clock.peek(), tz));
  const upto = useSignal(today);
  const department = useSignal("");
  const kind = useSignal("");
  const state = useSignal<{ measures?: Measure[]; mine?: Measure[]; failed?: string; asked?: Asked }>({});
  const again = useSignal(0);

  const range = { from: parseLocal(from.value, tz), to: parseLocal(upto.value, tz) };
  const wrong =
    range.from === undefined || range.to === undefined
      ? t("shop-range-no-day")
      : range.from > range.to
        ? t("shop-range-backwards")
        : undefined;

  useSignalEffect(() => {
    void again.value;
    const begin = parseLocal(from.value, zone.value);
    const last = parseLocal(upto.value, zone.value);
    if (begin === undefined || last === undefined || begin > last) return;
    // The last day counts whole.
    const only = `${department.value && `&department=${department.value}`}${kind.value && `&class=${kind.value}`}`;
    const query = `from=${begin}&to=${addDays(last, 1, zone.value)}${only}`;
    const name = [from.value, upto.value, department.value, kind.value].filter(Boolean).join("_");
    // Own figures are asked for by themselves: nobody else gets them, and the page stands without them.
    const own = request<unknown>("GET", `/api/v1/measures/own?from=${begin}&to=${addDays(last, 1, zone.value)}`).then(
      readMeasures,
      () => [],
    );
    Promise.all([request<unknown>("GET", `/api/v1/measures?${query}`), own]).then(
      ([answer, mine]) => {
        state.value = { measures: readMeasures(answer), mine, asked: { query, name } };
      },
      (error: unknown) => {
        state.value = {
          ...state.peek(),
          failed:
            error instanceof Failure && error.status === 0
              ? t("shop-measures-unreached")
              : String((error as Error).message),
        };
      },
    );
  });

  const choose = (days: number): void => {
    from.value = firstOfLast(days, clock.peek(), tz);
    upto.value = today;
  };
  const { measures, mine = [], failed, asked } = state.value;
  const groups = measures ? grouped(measures) : [];
  return (
    <div class="measures">
      <form class="beside range no-print" onSubmit={(event) => event.preventDefault()}>
        <div class="field">
          <label for="measure-from">{t("shop-range-from")}</label>
          <input
            id="measure-from"
            type="date"
            value={from.value}
            max={upto.value}
            onChange={(e) => (from.value = e.currentTarget.value)}
            aria-describedby={wrong ? "range-wrong" : undefined}
          />
        </div>
        <div class="field">
          <label for="measure-to">{t("shop-range-to")}</label>
          <input
            id="measure-to"
            type="date"
            value={upto.value}
            min={from.value}
            onChange={(e) => (upto.value = e.currentTarget.value)}
            aria-describedby={wrong ? "range-wrong" : undefined}
          />
        </div>
        <div class="beside lengths">
          {LENGTHS.map((days) => (
            <button key={days} class="button" type="button" onClick={() => choose(days)}>
              {t("shop-range-last", { days })}
            </button>
          ))}
        </div>
        <div class="field">
          <label for="measure-department">{t("measure-department")}</label>
          <select
            id="measure-department"
            value={department.value}
            onChange={(e) => (department.value = e.currentTarget.value)}
          >
            <option value="">{t("measure-all-departments")}</option>
            {[...departments.value.keys()]
              .sort((a, b) => departmentRank(a) - departmentRank(b))
              .map((id) => (
                <option key={id} value={id}>
                  {departmentName(id)}
                </option>
              ))}
          </select>
        </div>
        <div class="field">
          <label for="measure-class">{t("measure-class")}</label>
          <select id="measure-class" value={kind.value} onChange={(e) => (kind.value = e.currentTarget.value)}>
            <option value="">{t("measure-all-classes")}</option>
            {CLASSES.map((one) => (
              <option key={one} value={one}>
                {t(`shop-part-${one}`)}
              </option>
            ))}
          </select>
        </div>
        {measures && measures.length > 0 && (
          <button class="button" type="button" onClick={() => takeMeasures(measures, asked?.name ?? "")}>
            {t("shop-csv")}
          </button>
        )}
        <Print />
      </form>
      {wrong && (
        <p id="range-wrong" class="late" role="alert">
          {wrong}
        </p>
      )}
      {failed && (
        <p class="notice-line bad" role="alert">
          {failed}{" "}
          <button
            class="button small-button"
            onClick={() => ((state.value = { measures, mine, asked }), again.value++)}
          >
            {t("try-again")}
          </button>
        </p>
      )}
      {!measures && !failed && (
        <p class="quiet" role="status">
          {t("shop-measures-loading")}
        </p>
      )}
      {measures && (
        <>
          <p class="quiet">{t("shop-measures-span", { from: spoken(range.from), to: spoken(range.to) })}</p>
          {groups.map(({ group, tables }) => (
            <Group key={group} group={group} tables={tables} />
          ))}
          {mine.some((one) => one.count > 0) && <Group group="own" tables={mine.map((one) => [one])} />}
          {asked && <Later asked={asked} />}
        </>
      )}
    </div>
  );
}

const spoken = (at: number | undefined): string =>
  at === undefined ? "?" : date(at, tongue.value, zone.value, clock.value);

function Group({ group, tables }: { group: string; tables: Together[] }) {
  const leading = tables.map(([first]) => first);
  return (
    <section class="part" aria-labelledby={`group-${group}`}>
      <h2 id={`group-${group}`}>{t(`shop-measure-group-${group}`)}</h2>
      <div class="measure-grid">
        {tables.map((together) => (
          <MeasureTable
            key={together[0].id}
            together={together}
            most={mostOf(TOGETHER.includes(group) ? leading : [together[0]], together[0].unit)}
          />
        ))}
      </div>
    </section>
  );
}

/** Groups whose measures are parts of one way, so that their lengths can be compared. */
const TOGETHER = ["how-long", "hand-off"];

/** Measures of one unit beside each other are drawn to one scale; sums by their largest part. */
function mostOf(measures: Measure[], unit: Measure["unit"]): number {
  const same = measures.filter((one) => one.unit === unit);
  const parts = same.flatMap((one) =>
    isSum(one) ? one.by.filter((part) => !part.key.includes("/")) : [one, ...one.by],
  );
  return Math.max(0, ...parts.map((one) => one.p90 ?? one.value ?? 0), unit === "share" ? 1 : 0);
}

const isSum = (measure: Measure): boolean =>
  measure.p90 === undefined && (measure.unit === "hours" || measure.unit === "vehicles") && measure.by.length > 0;

/** Charts come when the page that has them is open, not before. */
function Later({ asked }: { asked: Asked }) {
  const part = useSignal<{ Control?: ComponentType<{ asked: Asked }> }>({});
  useSignalEffect(() => {
    void import("./control").then(
      (loaded) => (part.value = { Control: loaded.Control }),
      () => undefined,
    );
  });
  const { Control } = part.value;
  return Control ? <Control asked={asked} /> : null;
}

function takeMeasures(measures: Measure[], name: string): void {
  const head = [
    "shop-csv-measure",
    "shop-csv-part",
    "shop-csv-unit",
    "shop-csv-clock",
    "shop-count",
    "shop-value",
    "shop-p90",
  ].map((id) => t(id));
  const part = (measure: Measure, key: string): string => {
    const [first = "", second] = key.split("/");
    return second === undefined
      ? partName(measure.id, first)
      : `${partName(measure.id, first)} / ${partName(measure.id, key)}`;
  };
  take(
    measureRows(measures, (measure) => measureName(measure.id), part, head),
    name,
  );
}
