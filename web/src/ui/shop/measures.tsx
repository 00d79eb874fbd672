// Where time goes, from the log: each measure with its unit, its clock, its count and its definition.
import { useSignal, useSignalEffect } from "@preact/signals";
import { Failure, request } from "../../api/client";
import { departments, equipment, now as clock, t } from "../../state";
import { departmentName, equipmentName, tongue, zone } from "../draw/names";
import { date } from "../draw/say";
import { addDays, isoDay, parseLocal } from "../draw/zone";
import { has } from "../words";
import { csv, digits, grouped, isMedian, measureRows, readMeasures, type Figure, type Measure } from "./figures";
import { Print } from "./print";

const LENGTHS = [30, 90, 365] as const;

export function Measures() {
  const tz = zone.value;
  const today = isoDay(clock.peek(), tz);
  const from = useSignal(isoDay(addDays(clock.peek(), -90, tz), tz));
  const upto = useSignal(today);
  const state = useSignal<{ measures?: Measure[]; failed?: string; range?: string }>({});
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
    const asked = `${begin}-${last}`;
    const end = addDays(last, 1, zone.value);
    request<unknown>("GET", `/api/v1/measures?from=${begin}&to=${end}`).then(
      (answer) => {
        state.value = { measures: readMeasures(answer), range: asked };
      },
      (error: unknown) => {
        state.value = { ...state.peek(), failed: error instanceof Failure && error.status === 0 ? t("shop-measures-unreached") : String((error as Error).message) };
      },
    );
  });

  const choose = (days: number): void => {
    from.value = isoDay(addDays(clock.peek(), -days, tz), tz);
    upto.value = today;
  };
  const { measures, failed } = state.value;
  return (
    <div class="measures">
      <form class="beside range no-print" onSubmit={(event) => event.preventDefault()}>
        <div class="field">
          <label for="measure-from">{t("shop-range-from")}</label>
          <input id="measure-from" type="date" value={from.value} max={upto.value} onChange={(e) => (from.value = e.currentTarget.value)} aria-describedby={wrong ? "range-wrong" : undefined} />
        </div>
        <div class="field">
          <label for="measure-to">{t("shop-range-to")}</label>
          <input id="measure-to" type="date" value={upto.value} min={from.value} onChange={(e) => (upto.value = e.currentTarget.value)} aria-describedby={wrong ? "range-wrong" : undefined} />
        </div>
        {LENGTHS.map((days) => (
          <button key={days} class="button" type="button" onClick={() => choose(days)}>
            {t("shop-range-last", { days })}
          </button>
        ))}
        {measures && measures.length > 0 && (
          <button class="button" type="button" onClick={() => download(measures, `${from.value}_${upto.value}`)}>
            {t("shop-csv")}
          </button>
        )}
        <Print />
      </form>
      {wrong && <p id="range-wrong" class="late" role="alert">{wrong}</p>}
      {failed && (
        <p class="notice-line bad" role="alert">
          {failed}{" "}
          <button class="button small-button" onClick={() => ((state.value = { measures }), again.value++)}>
            {t("try-again")}
          </button>
        </p>
      )}
      {!measures && !failed && <p class="quiet" role="status">{t("shop-measures-loading")}</p>}
      {measures && (
        <>
          <p class="quiet">
            {t("shop-measures-span", { from: spoken(range.from), to: spoken(range.to) })}
          </p>
          {grouped(measures).map(({ group, measures: own }) => (
            <Group key={group} group={group} measures={own} />
          ))}
        </>
      )}
    </div>
  );
}

const spoken = (at: number | undefined): string => (at === undefined ? "?" : date(at, tongue.value, zone.value, clock.value));

function Group({ group, measures }: { group: string; measures: Measure[] }) {
  return (
    <section class="part" aria-labelledby={`group-${group}`}>
      <h2 id={`group-${group}`}>{t(`shop-measure-group-${group}`)}</h2>
      <div class="measure-grid">
        {measures.map((measure) => (
          <MeasureTable key={measure.id} measure={measure} most={mostOf(TOGETHER.includes(group) ? measures : [measure], measure.unit)} />
        ))}
      </div>
    </section>
  );
}

/** Groups whose measures are parts of one way, so that their lengths can be compared. */
const TOGETHER = ["how-long", "hand-off"];

/** Measures of one unit beside each other are drawn to one scale. */
function mostOf(measures: Measure[], unit: Measure["unit"]): number {
  const same = measures.filter((one) => one.unit === unit).flatMap((one) => [one, ...one.by]);
  return Math.max(0, ...same.map((one) => one.p90 ?? one.value ?? 0), unit === "share" ? 1 : 0);
}

function MeasureTable({ measure, most }: { measure: Measure; most: number }) {
  const spread = isMedian(measure);
  const definition = `measure-${measure.id}-is`;
  const line = (figure: Figure, name: string, whole: boolean) => (
    <tr key={name} class={whole ? "whole" : undefined}>
      <th scope="row">{name}</th>
      <td class="stroke">{most > 0 && <Stroke figure={figure} most={most} />}</td>
      <td class="figure">{number(measure, figure.value)}</td>
      {spread && <td class="figure">{number(measure, figure.p90)}</td>}
      <td class="figure">{figure.count}</td>
    </tr>
  );
  return (
    <div class="measure">
      <h3>{measureName(measure)}</h3>
      <p class="quiet small definition">
        {has(definition) ? t(definition) : ""} {t(`shop-clock-${measure.clock}`)}
      </p>
      <div class="measure-scroll" tabIndex={0} role="group" aria-label={measureName(measure)}>
        <table>
          <thead>
            <tr>
              <th scope="col">{t(`shop-unit-${measure.unit}`)}</th>
              <td class="stroke" />
              <th scope="col" class="figure">{t(spread ? "shop-median" : "shop-value")}</th>
              {spread && <th scope="col" class="figure">{t("shop-p90")}</th>}
              <th scope="col" class="figure">{t("shop-count")}</th>
            </tr>
          </thead>
          <tbody>
            {line(measure, t("shop-whole"), true)}
            {measure.by.length > 0 && measure.by.map((one) => line(one, partName(one.key), false))}
          </tbody>
        </table>
      </div>
    </div>
  );
}

/** The grammar of the drawings: thick up to the median, thin up to the 90th percentile. */
function Stroke({ figure, most }: { figure: Figure; most: number }) {
  const width = (value: number) => Math.max(1, (value / most) * 100);
  if (figure.value === undefined) return null;
  return (
    <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
      {figure.p90 !== undefined && <path class="thin" d={`M0 5H${width(figure.p90)}`} />}
      <path class="thick" d={`M0 5H${width(figure.value)}`} />
    </svg>
  );
}

function number(measure: Measure, value: number | undefined): string {
  if (value === undefined) return "–";
  const places = digits(measure.unit, value);
  const lang = tongue.value === "es" ? "es-US" : "en-US";
  return new Intl.NumberFormat(lang, {
    minimumFractionDigits: places,
    maximumFractionDigits: places,
    ...(measure.unit === "share" ? { style: "percent" as const } : {}),
  }).format(value);
}

const measureName = (measure: Measure): string => {
  const key = `measure-${measure.id}`;
  return has(key) ? t(key) : measure.id.replaceAll("_", " ");
};

/** A part is a department, a piece of equipment, a class of vehicles or a reason. */
function partName(key: string): string {
  if (departments.value.has(key)) return departmentName(key);
  if (equipment.value.has(key)) return equipmentName(key);
  for (const prefix of ["shop-part-", "shop-reason-"]) if (has(prefix + key)) return t(prefix + key);
  return key.replaceAll(/[_-]/g, " ");
}

function download(measures: Measure[], name: string): void {
  const head = ["shop-csv-measure", "shop-csv-part", "shop-csv-unit", "shop-csv-clock", "shop-count", "shop-value", "shop-p90"].map((id) => t(id));
  const text = csv(measureRows(measures, measureName, partName, head));
  // A spreadsheet takes it for UTF-8 only with the mark in front.
  const url = URL.createObjectURL(new Blob(["\ufeff", text], { type: "text/csv;charset=utf-8" }));
  const link = document.createElement("a");
  link.href = url;
  link.download = `turnbuckle_${name}.csv`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}
