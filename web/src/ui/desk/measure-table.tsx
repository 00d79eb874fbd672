// One table of measures: its name and its one number in a line that opens, what it is, and its parts.
import { useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { t } from "../../state";
import { equipmentName } from "../../text/names";
import { has } from "../../text/words";
import { isMedian, pieceRows, rowsOf, type Figure, type Measure, type Row, type Together } from "../../model/figures";
import { media } from "../kit/media";
import { columnName, measureName, number, partName, pieceWait, sized } from "./measure-names";

// On a phone the numbers alone are a page; the tables are opened one at a time.
const wide = media("(min-width: 48rem)");

export function MeasureTable({ together, most }: { together: Together; most: number }) {
  const [measure] = together;
  return (
    <details class="measure" open={wide.value}>
      <summary>
        <h3>{measureName(measure.id)}</h3>
        <p class="headline">
          <b>{headline(measure)}</b>
          {measure.p90 !== undefined && (
            <span class="quiet small">{t("measure-p90-is", { value: sized(measure, measure.p90) })}</span>
          )}
        </p>
      </summary>
      <Definition together={together} />
      {measure.id === "equipment_time" ? <Pieces measure={measure} /> : <Parts together={together} most={most} />}
    </details>
  );
}

/** Of equipment the part that was worked says more than how many hours there were. */
function headline(measure: Measure): string {
  if (measure.id !== "equipment_time" || !measure.value) return sized(measure);
  const worked = pieceRows(measure).reduce((sum, one) => sum + one.worked * one.hours, 0);
  return t("measure-worked-share", { share: number("share", worked / measure.value) });
}

function Definition({ together }: { together: Together }) {
  const said = together
    .map((one) => `measure-${one.id}-is`)
    .filter(has)
    .map((key) => t(key));
  return (
    <p class="quiet small definition">
      {said.join(" ")} {t(`shop-clock-${together[0].clock}`)}
    </p>
  );
}

function Parts({ together, most }: { together: Together; most: number }) {
  const apart = useSignal(false);
  const [measure, ...others] = together;
  const spread = isMedian(measure);
  const rows = rowsOf(together);
  const deeper = rows.some((row) => row.parts.length > 0);
  const line = (row: Row, name: string, kind?: string) => {
    const [own] = row.figures;
    return (
      <tr key={row.key} class={kind}>
        <th scope="row">{name}</th>
        <td class="stroke">{own && (own.p90 ?? own.value ?? 0) <= most && <Stroke figure={own} most={most} />}</td>
        <td class="figure">{number(measure.unit, own?.value)}</td>
        {spread && <td class="figure">{number(measure.unit, own?.p90)}</td>}
        {others.map((other, n) => (
          <td key={other.id} class="figure">
            {number(other.unit, row.figures[n + 1]?.value)}
          </td>
        ))}
        <td class="figure">{own?.count ?? 0}</td>
      </tr>
    );
  };
  return (
    <>
      <Scroll of={measure}>
        <table>
          <thead>
            <tr>
              <th scope="col">{t(`shop-unit-${measure.unit}`)}</th>
              <td class="stroke" />
              <th scope="col" class="figure">
                {others.length ? columnName(measure.id) : t(spread ? "shop-median" : "shop-value")}
              </th>
              {spread && (
                <th scope="col" class="figure">
                  {t("shop-p90")}
                </th>
              )}
              {others.map((other) => (
                <th key={other.id} scope="col" class="figure">
                  {columnName(other.id)}
                </th>
              ))}
              <th scope="col" class="figure">
                {t("shop-count")}
              </th>
            </tr>
          </thead>
          <tbody>
            {line({ key: "", figures: together, parts: [] }, t("shop-whole"), "whole")}
            {rows.flatMap((row) => [
              line(row, partName(measure.id, row.key)),
              ...(apart.value ? row.parts.map((part) => line(part, partName(measure.id, part.key), "below")) : []),
            ])}
          </tbody>
        </table>
      </Scroll>
      {deeper && (
        <Apart shown={apart} word={measure.id.startsWith("wait") ? "measure-by-reason" : "measure-by-routing"} />
      )}
    </>
  );
}

/** Long words of a narrow phone: the table moves sideways, the page does not. */
function Scroll({ of, children }: { of: Measure; children: ComponentChildren }) {
  return (
    <div class="measure-scroll" tabIndex={0} role="group" aria-label={measureName(of.id)}>
      {children}
    </div>
  );
}

function Apart({ shown, word }: { shown: { value: boolean }; word: string }) {
  return (
    <p class="no-print">
      <button
        class="button plain small"
        type="button"
        aria-expanded={shown.value}
        onClick={() => (shown.value = !shown.value)}
      >
        {t(shown.value ? "measure-together" : word)}
      </button>
    </p>
  );
}

/** Open hours of each piece: thick worked, dashed curing, thin waited; the rest was empty. */
function Pieces({ measure }: { measure: Measure }) {
  const apart = useSignal(false);
  const share = (value: number): string => number("share", value);
  return (
    <>
      <Scroll of={measure}>
        <table class="pieces">
          <thead>
            <tr>
              <th scope="col">{t("measure-of-open-hours")}</th>
              <td class="stroke" />
              {(["worked", "curing", "waiting", "empty"] as const).map((part) => (
                <th key={part} scope="col" class={part === "curing" ? "figure wide-only" : "figure"}>
                  {t(`measure-part-${part}`)}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {pieceRows(measure).flatMap((row) => [
              <tr key={row.key}>
                <th scope="row">{equipmentName(row.key)}</th>
                <td class="stroke">
                  <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
                    <path class="thick" d={`M0 5H${row.worked * 100}`} />
                    <path class="dashed" d={`M${row.worked * 100} 5H${(row.worked + row.curing) * 100}`} />
                    <path class="thin" d={`M${(row.worked + row.curing) * 100} 5H${(1 - row.empty) * 100}`} />
                  </svg>
                </td>
                <td class="figure">{share(row.worked)}</td>
                <td class="figure wide-only">{share(row.curing)}</td>
                <td class="figure">{share(row.waiting)}</td>
                <td class="figure">{share(row.empty)}</td>
              </tr>,
              ...(apart.value
                ? row.waits
                    .filter((one) => one.hours >= 0.05)
                    .map((one) => (
                      <tr key={`${row.key}/${one.key}`} class="below">
                        <th scope="row">{pieceWait(one.key)}</th>
                        <td class="stroke" />
                        <td class="figure" />
                        <td class="figure wide-only" />
                        <td class="figure">{share(one.hours / row.hours)}</td>
                        <td class="figure" />
                      </tr>
                    ))
                : []),
            ])}
          </tbody>
        </table>
      </Scroll>
      <Apart shown={apart} word="measure-waited-for" />
    </>
  );
}

/** The grammar of the drawings: thick up to the median, thin up to the 90th percentile. */
function Stroke({ figure, most }: { figure: Figure; most: number }) {
  const width = (value: number) => Math.max(1, (value / most) * 100);
  if (!figure.value || most <= 0) return null;
  return (
    <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
      {figure.p90 !== undefined && <path class="thin" d={`M0 5H${width(figure.p90)}`} />}
      <path class="thick" d={`M0 5H${width(figure.value)}`} />
    </svg>
  );
}
