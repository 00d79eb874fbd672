// Is the shop steady? Individuals charts, cumulative flow, bands, Little's law, waits week by week. Every
// picture is a table too, and can be taken away.
import { useSignal, useSignalEffect } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { request } from "../../api/client";
import type { components } from "../../api/schema";
import { now as clock, t } from "../../state";
import { departmentName, tongue, zone } from "../../text/names";
import { date } from "../../text/time";
import { useWidth } from "../charts/use-width";
import { across, apart, axis, between, polyline, some, type Frame } from "../charts/axes";
import { number, partName } from "./measure-names";
import { take } from "./download";

type Schemas = components["schemas"];
type Answer = Schemas["Control"];
type Chart = Schemas["Chart"];

export interface Asked {
  /** As in an address. */
  query: string;
  /** As in the name of a file. */
  name: string;
}

export function Control({ asked }: { asked: Asked }) {
  const state = useSignal<{ answer?: Answer; failed?: boolean; of?: string }>({});
  const query = useSignal(asked.query);
  query.value = asked.query;
  useSignalEffect(() => {
    const of = query.value;
    request<Answer>("GET", `/api/v1/measures/control?${of}`).then(
      (answer) => (state.value = { answer, of }),
      () => (state.value = { failed: true }),
    );
  });
  const { answer, failed } = state.value;
  if (failed) return <p class="quiet">{t("shop-measures-unreached")}</p>;
  if (!answer)
    return (
      <p class="quiet" role="status">
        {t("shop-measures-loading")}
      </p>
    );
  return (
    <section class="part control" aria-labelledby="group-control">
      <h2 id="group-control">{t("shop-measure-group-control")}</h2>
      <div class="control-grid">
        <Individuals charts={answer.charts} name={asked.name} />
        <Flow days={answer.flow} name={asked.name} />
        <Bands bands={answer.bands} name={asked.name} />
        <Weeks weeks={answer.waits} name={asked.name} />
        <Unexplained all={answer.unexplained} name={asked.name} />
      </div>
      <Law little={answer.little} />
    </section>
  );
}

const day = (at: number): string => date(at, tongue.value, zone.value, clock.value);
const days = (value: number): string => number("days", value);

interface FigureProps {
  title: string;
  is: string;
  rows: (string | number | undefined)[][];
  file: string;
  children: ComponentChildren;
}

/** A picture, what it is, the same as a table, and the way to take it along. The first row is the head. */
function Picture({ title, is, rows, file, children }: FigureProps) {
  const [head = [], ...body] = rows;
  const open = useSignal(false);
  return (
    <figure class="measure chart">
      <figcaption>
        <h3>{title}</h3>
        <p class="quiet small definition">{is}</p>
      </figcaption>
      {body.length === 0 ? <p>{t("measure-nothing")}</p> : children}
      {body.length > 0 && (
        <>
          <p class="buttons no-print">
            <button
              class="button small-button"
              type="button"
              aria-expanded={open.value}
              onClick={() => (open.value = !open.value)}
            >
              {t(open.value ? "measure-no-table" : "measure-as-table")}
            </button>
            <button class="button small-button" type="button" onClick={() => take(rows, file)}>
              {t("shop-csv")}
            </button>
          </p>
          {open.value && (
            <div class="measure-scroll" tabIndex={0} role="group" aria-label={title}>
              <table class="data">
                <thead>
                  <tr>
                    {head.map((cell, n) => (
                      <th key={n} scope="col" class={n ? "figure" : undefined}>
                        {cell}
                      </th>
                    ))}
                  </tr>
                </thead>
                <tbody>
                  {body.map((row, n) => (
                    <tr key={n}>
                      {row.map((cell, column) =>
                        column ? (
                          <td key={column} class="figure">
                            {shown(cell)}
                          </td>
                        ) : (
                          <th key={column} scope="row">
                            {cell}
                          </th>
                        ),
                      )}
                    </tr>
                  ))}
                </tbody>
              </table>
            </div>
          )}
        </>
      )}
    </figure>
  );
}

const shown = (cell: string | number | undefined): string =>
  typeof cell === "number" && !Number.isInteger(cell) ? days(cell) : String(cell ?? "");

function useFrame(
  height: number,
  right: number,
): { ref: ReturnType<typeof useWidth<HTMLDivElement>>["ref"]; frame: Frame } {
  const { ref, width } = useWidth<HTMLDivElement>(640);
  return {
    ref,
    frame: { width: width.value, height, left: 40, right: width.value - right, top: 16, bottom: height - 30 },
  };
}

function Grid({ ticks, y, frame }: { ticks: number[]; y: (value: number) => number; frame: Frame }) {
  return (
    <g class="grid">
      {ticks.map((tick) => (
        <g key={tick}>
          <path d={`M${frame.left} ${y(tick)}H${frame.right}`} />
          <text x={frame.left - 8} y={y(tick) + 5} text-anchor="end">
            {tick}
          </text>
        </g>
      ))}
    </g>
  );
}

/** Dates below the picture: as many as have room, the outer ones turned inwards. */
function Dates({ places, frame }: { places: { x: number; at: number }[]; frame: Frame }) {
  const named = some(places.length, Math.max(2, Math.floor((frame.right - frame.left) / 110)));
  return (
    <g>
      {named.map((n, order) => {
        const place = places[n];
        const anchor = order === 0 ? "start" : order === named.length - 1 ? "end" : "middle";
        return (
          place && (
            <text key={n} x={place.x} y={frame.height - 8} text-anchor={anchor}>
              {day(place.at)}
            </text>
          )
        );
      })}
    </g>
  );
}

function Individuals({ charts, name }: { charts: Chart[]; name: string }) {
  const wanted = useSignal("");
  const chart =
    charts.find((one) => one.class === wanted.value) ??
    charts.reduce<Chart | undefined>(
      (most, one) => (most && most.points.length >= one.points.length ? most : one),
      undefined,
    );
  const { ref, frame } = useFrame(260, 84);
  const points = chart?.points ?? [];
  const limits = chart?.limits;
  const rule = (signal: string): string => t(`measure-signal-${signal}`);
  const rows = [
    [t("measure-column-order"), t("measure-column-came"), t("measure-keys_to_keys"), t("measure-column-signal")],
    ...points.map((point) => [point.number, day(point.start), point.days, (point.signals ?? []).map(rule).join(", ")]),
  ];
  const { ticks, y } = axis(Math.max(1, limits?.upper ?? 0, ...points.map((point) => point.days)), frame);
  const x = across(points.length, frame);
  const odd = points.flatMap((point, n) => ((point.signals ?? []).length ? [{ point, n }] : []));
  // Where many follow each other, the first of each run is named.
  const named = odd.filter(
    ({ n, point }) => point.signals?.includes("beyond") || !odd.some((other) => other.n === n - 1),
  );
  const marks = limits
    ? [
        { key: "upper", value: limits.upper, word: t("measure-limit-upper") },
        { key: "mean", value: limits.mean, word: t("measure-limit-mean") },
        ...(limits.lower > 0 ? [{ key: "lower", value: limits.lower, word: t("measure-limit-lower") }] : []),
      ]
    : [];
  const places = apart(
    marks.map((mark) => y(mark.value) + 5),
    18,
    frame.top,
    frame.bottom,
  );
  const title = t("measure-individuals");
  return (
    <Picture
      title={title}
      is={t("measure-individuals-is")}
      rows={rows}
      file={`individuals_${chart?.class ?? ""}_${name}`}
    >
      <div class="field">
        <label for="chart-class">{t("measure-class")}</label>
        <select id="chart-class" value={chart?.class} onChange={(e) => (wanted.value = e.currentTarget.value)}>
          {charts.map((one) => (
            <option key={one.class} value={one.class}>
              {t("measure-class-count", { class: partName("keys_to_keys", one.class), count: one.points.length })}
            </option>
          ))}
        </select>
      </div>
      {!limits || odd.length === 0 ? (
        <p>{t(limits ? "measure-signals-none" : "measure-limits-none")}</p>
      ) : (
        <p>
          {t("measure-signals", { count: odd.length })}{" "}
          {odd.slice(0, 24).map(({ point, n }) => (
            <a key={n} class="signal" href={`/vehicle/${point.order}`}>
              {point.number}
            </a>
          ))}{" "}
          <span class="quiet small">{t("measure-signals-rule")}</span>
        </p>
      )}
      <div ref={ref}>
        <svg width={frame.width} height={frame.height} role="img" aria-label={title}>
          <Grid ticks={ticks} y={y} frame={frame} />
          {marks.map((mark, n) => (
            <g key={mark.key}>
              <path class={`limit ${mark.key}`} d={`M${frame.left} ${y(mark.value)}H${frame.right}`} />
              <text class="limit-name" x={frame.right + 6} y={places[n]}>
                {mark.word} {days(mark.value)}
              </text>
            </g>
          ))}
          <path class="series" d={polyline(points.map((point, n) => [x(n), y(point.days)]))} />
          {odd.map(({ point, n }) => (
            <path key={n} class="odd" d={`M${x(n) - 5} ${y(point.days) - 5}l10 10m0 -10l-10 10`} />
          ))}
          {named.map(({ point, n }) => (
            <text
              key={n}
              class="odd-name"
              x={Math.min(x(n), frame.right - 20)}
              y={y(point.days) - 10}
              text-anchor="middle"
            >
              {point.number}
            </text>
          ))}
          <Dates places={points.map((point, n) => ({ x: x(n), at: point.start }))} frame={frame} />
        </svg>
      </div>
    </Picture>
  );
}

const STAGES = ["arrived", "authorised", "away", "ready", "stopped"] as const;

function Flow({ days: flow, name }: { days: Answer["flow"]; name: string }) {
  const { ref, frame } = useFrame(260, 112);
  const rows = [
    [
      t("measure-column-day"),
      ...STAGES.map((stage) => t(`measure-stage-${stage}`)),
      t("measure-came"),
      t("measure-left"),
    ],
    ...flow.map((one) => [day(one.at - 1), ...STAGES.map((stage) => one[stage]), one.came, one.left]),
  ];
  // Lines from below: those that left; then, one on the other, what stands in each stage, the last stage first.
  const shownStages = (["ready", "away", "authorised", "arrived", "stopped"] as const).filter((stage) =>
    flow.some((one) => one[stage] > 0),
  );
  const sums = flow.map((one) => {
    let sum = one.left;
    return [sum, ...shownStages.map((stage) => (sum += one[stage]))];
  });
  const { ticks, y } = axis(Math.max(1, ...sums.map((row) => row.at(-1) ?? 0)), frame);
  const x = across(flow.length, frame);
  const line = (level: number): [number, number][] => sums.map((row, n) => [x(n), y(row[level] ?? 0)]);
  const names = [t("measure-left"), ...shownStages.map((stage) => t(`measure-stage-${stage}`))];
  const last = sums.at(-1) ?? [];
  const middles = last.map((sum, level) => y((sum + (last[level - 1] ?? 0)) / 2) + 5);
  const places = apart(middles, 18, frame.top + 10, frame.bottom);
  const title = t("measure-flow");
  return (
    <Picture title={title} is={t("measure-flow-is")} rows={rows} file={`flow_${name}`}>
      <div ref={ref}>
        <svg width={frame.width} height={frame.height} role="img" aria-label={title}>
          <Grid ticks={ticks} y={y} frame={frame} />
          <path class="band" d={between(line(last.length - 1), line(0))} />
          {names.map((word, level) => (
            <g key={word}>
              <path
                class={level === 0 || level === last.length - 1 ? "series" : "series inner"}
                d={polyline(line(level))}
              />
              <text x={frame.right + 8} y={places[level]}>
                {word}
              </text>
            </g>
          ))}
          <Dates places={flow.map((one, n) => ({ x: x(n), at: one.at - 1 }))} frame={frame} />
        </svg>
      </div>
    </Picture>
  );
}

const SHARES = ["p10", "p25", "p50", "p75", "p90"] as const;

/** One line a month: thin from the 10th to the 90th percentile, thick from the 25th to the 75th, a tick at the median. */
function Bands({ bands, name }: { bands: Answer["bands"]; name: string }) {
  const most = Math.max(1, ...bands.map((one) => one.p90));
  const at = (value: number): number => (value / most) * 100;
  const month = (key: string): string => partName("comebacks", key);
  const rows = [
    [
      t("measure-column-month"),
      t("shop-count"),
      ...SHARES.map((share) => t("measure-percentile", { share: Number(share.slice(1)) })),
    ],
    ...bands.map((one) => [month(one.month), one.count, ...SHARES.map((share) => one[share])]),
  ];
  return (
    <Picture title={t("measure-bands")} is={t("measure-bands-is")} rows={rows} file={`bands_${name}`}>
      <table class="strokes">
        <thead>
          <tr>
            <th scope="col">{t("shop-unit-days")}</th>
            <td class="stroke" />
            <th scope="col" class="figure">
              {t("shop-median")}
            </th>
            <th scope="col" class="figure">
              {t("measure-p90-short")}
            </th>
            <th scope="col" class="figure">
              {t("shop-count")}
            </th>
          </tr>
        </thead>
        <tbody>
          {bands.map((one) => (
            <tr key={one.month}>
              <th scope="row">{month(one.month)}</th>
              <td class="stroke">
                <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
                  <path class="thin" d={`M${at(one.p10)} 5H${at(one.p90)}`} />
                  <path class="thick" d={`M${at(one.p25)} 5H${at(one.p75)}`} />
                  <path class="thin tick" d={`M${at(one.p50)} 0V10`} />
                </svg>
              </td>
              <td class="figure">{days(one.p50)}</td>
              <td class="figure">{days(one.p90)}</td>
              <td class="figure">{one.count}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </Picture>
  );
}

/** One line a week: how long vehicles waited in all, and what for the most. */
function Weeks({ weeks, name }: { weeks: Answer["waits"]; name: string }) {
  const reasons = [...new Set(weeks.flatMap((one) => Object.keys(one.hours)))];
  const sum = (one: Answer["waits"][number]): number => Object.values(one.hours).reduce((all, hours) => all + hours, 0);
  const most = Math.max(1, ...weeks.map(sum));
  const word = (reason: string): string => partName("wait_by_reason", reason);
  // At night nobody is free anywhere: what else was waited for says more.
  const first = (one: Answer["waits"][number]): [string, number] | undefined =>
    Object.entries(one.hours)
      .filter(([reason]) => reason !== "nobody_free")
      .sort((a, b) => b[1] - a[1])[0];
  const rows = [
    [t("measure-column-week"), ...reasons.map(word)],
    ...weeks.map((one) => [day(one.from), ...reasons.map((reason) => one.hours[reason] ?? 0)]),
  ];
  return (
    <Picture title={t("measure-weeks")} is={t("measure-weeks-is")} rows={rows} file={`waits_${name}`}>
      <table class="strokes weeks">
        <thead>
          <tr>
            <th scope="col">{t("measure-column-week")}</th>
            <td class="stroke" />
            <th scope="col" class="figure">
              {t("shop-unit-hours")}
            </th>
            <th scope="col">{t("measure-weeks-first")}</th>
          </tr>
        </thead>
        <tbody>
          {weeks.map((one) => {
            const [reason, hours] = first(one) ?? ["", 0];
            return (
              <tr key={one.from}>
                <th scope="row">{day(one.from)}</th>
                <td class="stroke">
                  <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
                    <path class="thin" d={`M0 5H${(sum(one) / most) * 100}`} />
                    <path class="thick" d={`M0 5H${(hours / most) * 100}`} />
                  </svg>
                </td>
                <td class="figure">{number("hours", sum(one))}</td>
                <td>{reason && t("measure-weeks-reason", { reason: word(reason), hours: number("hours", hours) })}</td>
              </tr>
            );
          })}
        </tbody>
      </table>
    </Picture>
  );
}

/** Who was free and did not come: named, the longest in front. */
function Unexplained({ all, name }: { all: Answer["unexplained"]; name: string }) {
  const most = Math.max(1e-9, ...all.map((one) => one.hours));
  const whose = (one: Answer["unexplained"][number]): string =>
    one.department ? departmentName(one.department) : t("measure-nothing-laid-out");
  const rows = [
    [t("measure-column-order"), t("measure-department"), t("shop-unit-hours")],
    ...all.map((one) => [one.number, whose(one), one.hours]),
  ];
  return (
    <Picture title={t("measure-unexplained")} is={t("measure-unexplained-is")} rows={rows} file={`unexplained_${name}`}>
      <table class="strokes weeks">
        <thead>
          <tr>
            <th scope="col">{t("measure-column-order")}</th>
            <td class="stroke" />
            <th scope="col" class="figure">
              {t("shop-unit-hours")}
            </th>
            <th scope="col">{t("measure-department")}</th>
          </tr>
        </thead>
        <tbody>
          {all.map((one) => (
            <tr key={`${one.order} ${one.department}`}>
              <th scope="row">
                <a href={`/vehicle/${one.order}`}>{one.number}</a>
              </th>
              <td class="stroke">
                <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
                  <path class="thin" d={`M0 5H${(one.hours / most) * 100}`} />
                </svg>
              </td>
              <td class="figure">{number("hours", one.hours)}</td>
              <td>{whose(one)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </Picture>
  );
}

function Law({ little }: { little: Answer["little"] }) {
  if (!little) return null;
  const off = Math.abs(little.number - little.rate_times_time) / Math.max(little.number, 1e-9);
  const said = {
    number: number("hours", little.number),
    product: number("hours", little.rate_times_time),
    rate: number("ratio", little.rate_per_day),
    time: days(little.mean_days),
    begin: little.at_begin,
    end: little.at_end,
  };
  return (
    <div class="measure law">
      <h3>{t("measure-little")}</h3>
      <p>
        {t("measure-little-said", said)} {t(off < 0.1 ? "measure-little-fits" : "measure-little-off", said)}
      </p>
      <p class="quiet small">{t("measure-little-is")}</p>
    </div>
  );
}
