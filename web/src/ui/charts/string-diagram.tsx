// The shop over time: one string for each vehicle over departments and named equipment.
// A thin shell over string-geometry; the table beside it says the same in words.
import "./charts.css";
import { signal, useSignal } from "@preact/signals";
import type { ComponentChildren, JSX } from "preact";
import { useLayoutEffect } from "preact/hooks";
import type { Ms } from "../../api/types";
import { departments, equipment } from "../../state";
import { go } from "../kit/router";
import { t } from "../../text/words";
import { AWAY } from "../../model/itinerary";
import { equipmentName, tongue, zone } from "../../text/names";
import { rowName } from "./row-name";
import { clock, dayShort, length, roughly, when } from "../../text/time";
import { drawStrings, LABEL, type RowInput, type StringDrawing, type StringInput } from "./string-geometry";
import { summary } from "./trip-line";
import { useHand } from "./use-hand";
import { useWidth } from "./use-width";
import { isView, moved, VIEWS, zoomed, type View } from "./view";
import { startOfDay } from "../../text/zone";

export interface StringVehicle extends StringInput {
  vehicle: string;
}

type Zoom = keyof typeof VIEWS;

const ZOOM_WORDS: Record<Zoom, string> = { day: "draw-zoom-day", three: "draw-zoom-three", week: "draw-zoom-week" };

// Kept while the app runs: who comes back from a vehicle finds the picture as it was left.
const view = signal<View>(VIEWS.three);
const all = signal(false);
const words = signal(false);
const key = signal(false);

/** Below this a phone begins with one day. */
const NARROW = 560;

interface StringsProps {
  vehicles: StringVehicle[];
  now: Ms;
  title: string;
  /** Which are drawn unless all are asked for, the most important first. */
  first: readonly string[];
  /** Whose plan is drawn as well; everybody's where all are. */
  planned: ReadonlySet<string>;
  /** Chosen elsewhere on the page. */
  chosen?: string | undefined;
  /** About how high it may be. */
  height?: number | undefined;
  /** How many stand at each row now. */
  counts?: ReadonlyMap<string, number>;
  /** More to press, at the end of the tools. */
  beside?: ComponentChildren;
}

export function StringDiagram({ vehicles, now, title, first, planned, chosen, height, counts, beside }: StringsProps) {
  const { ref, width } = useWidth<HTMLDivElement>(1000);
  const under = useSignal<string | undefined>(undefined);
  const shown = under.value ?? chosen;
  const tz = zone.value;
  const { shift, span } = view.value;
  const from = startOfDay(now, tz) + shift;

  const inPicture = new Set(first);
  if (chosen !== undefined) inPicture.add(chosen);
  const place = new Map(first.map((order, i) => [order, i]));
  const strings = vehicles
    .filter((one) => all.value || inPicture.has(one.order))
    .map((one) => ({ ...one, past: !all.value && !planned.has(one.order) && one.order !== chosen }))
    .map((one) => (one.past ? { ...one, sure: undefined } : one))
    .sort((a, b) => (place.get(a.order) ?? 999) - (place.get(b.order) ?? 999));
  const rows = rowsFor(strings, from, from + span, now);
  // The longest name decides how wide the names' column is.
  const narrow = width.value < NARROW;
  const left = Math.min(
    200,
    (narrow ? 12 : 44) +
      Math.max(60, ...rows.map((row) => (row.equipment ? 12 : 0) + (narrow ? 6.8 : 7.6) * titleOf(row).length)),
  );
  const drawing = drawStrings(strings, rows, {
    from,
    to: from + span,
    now,
    width: Math.max(width.value - left, 160),
    left: 6,
    zone: tz,
    height: all.value ? undefined : height,
  });
  useHand(ref, view, left);
  useLayoutEffect(() => {
    if (narrow && view.peek() === VIEWS.three) view.value = VIEWS.day;
  }, [narrow]);

  const tool = (word: string, what: () => void, sign?: string): JSX.Element => (
    <button class="button small-button" onClick={what} {...(sign ? { "aria-label": t(word), title: t(word) } : {})}>
      {sign ?? t(word)}
    </button>
  );
  return (
    <figure class="strings">
      <div class="strings-head">
        <h2 id="part-strings">{title}</h2>
        <div class="beside no-print strings-tools">
          <div class="beside" role="group" aria-label={t("draw-zoom")}>
            {tool("draw-further", () => (view.value = zoomed(view.value, 2)), "−")}
            {tool("draw-closer", () => (view.value = zoomed(view.value, 0.5)), "+")}
            {(Object.keys(VIEWS) as Zoom[]).map((one) => (
              <button
                key={one}
                class="button small-button"
                aria-pressed={isView(view.value, VIEWS[one])}
                onClick={() => (view.value = VIEWS[one])}
              >
                {t(ZOOM_WORDS[one])}
              </button>
            ))}
          </div>
          <div class="beside" role="group" aria-label={t("draw-move")}>
            {tool("draw-earlier", () => (view.value = moved(view.value, -0.25)))}
            {tool("draw-later", () => (view.value = moved(view.value, 0.25)))}
          </div>
          {vehicles.length > first.length && (
            <button class="button small-button" aria-pressed={all.value} onClick={() => (all.value = !all.value)}>
              {t("draw-all-vehicles", { count: vehicles.length })}
            </button>
          )}
          <button class="button small-button" aria-pressed={words.value} onClick={() => (words.value = !words.value)}>
            {t("draw-table")}
          </button>
          <button class="button small-button" aria-pressed={key.value} onClick={() => (key.value = !key.value)}>
            {t("draw-key")}
          </button>
          {beside}
        </div>
      </div>
      {key.value && <Key sure={strings.some((one) => one.sure)} />}
      <div class="strings-beside">
        <div class="strings-picture">
          <div
            class="drawing-scroll strings-scroll"
            ref={ref}
            tabIndex={0}
            role="group"
            aria-label={t("draw-strings-keys")}
          >
            <RowNames drawing={drawing} width={left} counts={narrow ? undefined : counts} />
            <Picture
              drawing={drawing}
              strings={strings}
              now={now}
              shown={shown}
              show={(order) => (under.value = order)}
            />
          </div>
        </div>
        <div
          class={words.value ? "strings-table" : "strings-table visually-hidden"}
          tabIndex={words.value ? 0 : -1}
          role="group"
          aria-label={t("draw-strings-table")}
        >
          <StringTable strings={strings} now={now} shown={shown} show={(order) => (under.value = order)} />
        </div>
      </div>
    </figure>
  );
}

const titleOf = (row: RowInput): string => (row.equipment ? equipmentName(row.id) : rowName(row.id));

/** Equipment that is taken up for a smaller part of the picture has no row: its department's row will do. */
const ROW_FROM = 0.2;

/** Departments in the shop's order, each with its equipment that much stands on; away only while somebody is. */
function rowsFor(strings: StringVehicle[], from: Ms, to: Ms, now: Ms): RowInput[] {
  const within = (one: { from: Ms; to: Ms }, past: boolean | undefined): boolean =>
    one.to > from && one.from < (past ? Math.min(to, now) : to);
  const taken = new Map<string, number>();
  for (const one of strings) {
    for (const o of one.occupied)
      if (within(o, one.past))
        taken.set(o.equipment, (taken.get(o.equipment) ?? 0) + Math.min(o.to, to) - Math.max(o.from, from));
  }
  const used = new Set([...taken].flatMap(([id, time]) => (time >= (to - from) * ROW_FROM ? [id] : [])));
  const passed = new Set(
    strings.flatMap((one) => one.itinerary.main.filter((stay) => within(stay, one.past)).map((stay) => stay.row)),
  );
  const rows: RowInput[] = [];
  const sorted = [...departments.value.values()].filter((one) => !one.retired).sort((a, b) => a.rank - b.rank);
  for (const department of sorted) {
    const own = [...equipment.value.values()].filter(
      (one) => one.department === department.id && !one.retired && used.has(one.id),
    );
    if (!passed.has(department.id) && own.length === 0) continue;
    rows.push({ id: department.id, equipment: false });
    for (const one of own.sort((a, b) => a.id.localeCompare(b.id, "en", { numeric: true }))) {
      rows.push({ id: one.id, equipment: true });
    }
  }
  if (passed.has(AWAY)) rows.push({ id: AWAY, equipment: false });
  return rows;
}

/** Stays where it is while the picture is moved beneath it. */
function RowNames({
  drawing,
  width,
  counts,
}: {
  drawing: StringDrawing;
  width: number;
  counts: ReadonlyMap<string, number> | undefined;
}) {
  return (
    <svg
      class="string-diagram row-names"
      width={width}
      height={drawing.height + 18}
      viewBox={`0 0 ${width} ${drawing.height + 18}`}
      aria-hidden="true"
    >
      {drawing.rows.map((row) => (
        <g key={row.id} class={row.equipment ? "row equipment" : "row"}>
          <path class="level" d={`M0 ${row.y}H${width}`} />
          <text x={row.equipment ? 14 : 2} y={row.y + Math.min(row.height / 2 + 5, 20)}>
            {titleOf(row)}
          </text>
          {counts?.get(row.id) !== undefined && (
            <text class="count" x={width - 10} y={row.y + Math.min(row.height / 2 + 5, 20)} text-anchor="end">
              {counts.get(row.id)}
            </text>
          )}
        </g>
      ))}
    </svg>
  );
}

interface PictureProps {
  drawing: StringDrawing;
  strings: StringVehicle[];
  now: Ms;
  shown: string | undefined;
  show: (order: string | undefined) => void;
}

function Picture({ drawing, strings, now, shown, show }: PictureProps) {
  const lang = tongue.value;
  const tz = zone.value;
  const W = drawing.width;
  const byOrder = new Map(strings.map((one) => [one.order, one]));
  return (
    <svg
      class={shown ? "string-diagram one" : "string-diagram"}
      width={W}
      height={drawing.height + 18}
      viewBox={`0 0 ${W} ${drawing.height + 18}`}
      role="group"
      aria-label={t("draw-strings")}
    >
      <defs>
        <pattern id="blocked" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <path class="hatch" d="M0 0V6" />
        </pattern>
      </defs>
      {drawing.rows.map((row) => (
        <path key={row.id} class="level" d={`M0 ${row.y}H${W}`} />
      ))}
      {drawing.ticks.map((tick) => (
        <g key={tick.at} class={tick.day ? "tick day" : "tick"}>
          <path d={`M${tick.x} 24V${drawing.axisY}`} />
          {tick.named && tick.x < W - 30 && (
            <text x={tick.x + 3} y={18}>
              {tick.day ? dayShort(tick.at, lang, tz) : clock(tick.at, lang, tz)}
            </text>
          )}
        </g>
      ))}
      {drawing.bands.map((band, i) => (
        <rect
          key={i}
          class={`band${band.planned ? " planned" : ""}${band.blocked ? " blocked" : ""}`}
          x={band.x}
          y={band.y}
          width={Math.max(band.width, 1)}
          height={band.height}
          fill={band.blocked ? "url(#blocked)" : undefined}
        />
      ))}
      {drawing.nowX !== undefined && (
        <g class="now-line">
          <path d={`M${drawing.nowX} 8V${drawing.axisY + 4}`} />
          <text x={drawing.nowX} y={drawing.axisY + 18} text-anchor="middle">
            {t("draw-now-at", { time: clock(now, lang, tz) })}
          </text>
        </g>
      )}
      {drawing.bundles.map((d) => (
        <path key={d} class="bundle" d={d} />
      ))}
      {drawing.strings.map((string) => {
        const one = byOrder.get(string.order);
        if (!one) return null;
        return (
          <a
            key={string.order}
            class={`string${shown === string.order ? " shown" : ""}`}
            href={`/vehicle/${string.order}`}
            aria-label={`${one.vehicle}. ${summary(one.number, one.itinerary, now)}`}
            onClick={(event) => {
              // The router follows links of the page; a link inside a drawing is another kind of element.
              if (event.metaKey || event.ctrlKey || event.shiftKey) return;
              event.preventDefault();
              go(`/vehicle/${string.order}`);
            }}
            onMouseEnter={() => show(string.order)}
            onMouseLeave={() => show(undefined)}
            onFocus={() => show(string.order)}
            onBlur={() => show(undefined)}
          >
            {string.sure && (
              <rect
                class="sure"
                x={string.sure.x}
                y={string.sure.y - 5}
                width={Math.max(string.sure.width, 2)}
                height={10}
              />
            )}
            <path class="reach" d={string.past + string.moves + string.plan} />
            <path class="plan" d={string.plan} />
            {shown === string.order && <path class="plan" d={string.shared} />}
            <path class="moves" d={string.moves} />
            <path class="past" d={string.past} />
            <path class="worked" d={string.worked} />
            {string.promise && (
              <path
                class="promise-mark"
                d={`M${string.promise.x - 6} ${string.promise.y - 13}h12l-6 11zM${string.promise.x} ${string.promise.y - 6}v12`}
              />
            )}
            {string.labels.map((label, i) => (
              <text key={i} x={label.x} y={label.y + LABEL.height}>
                {one.number}
              </text>
            ))}
          </a>
        );
      })}
    </svg>
  );
}

/** What the marks mean, drawn with the marks themselves. */
function Key({ sure }: { sure: boolean }) {
  return (
    <ul class="key small">
      <li>
        <svg width="40" height="14" aria-hidden="true" class="string-diagram">
          <g class="string">
            <path class="past" d="M0 7H40" />
            <path class="worked" d="M8 7H28" />
          </g>
        </svg>
        {t("draw-key-worked")}
      </li>
      <li>
        <svg width="40" height="14" aria-hidden="true" class="string-diagram">
          <g class="string">
            <path class="plan" d="M0 7H40" />
          </g>
        </svg>
        {t("draw-key-plan")}
      </li>
      {sure && (
        <li>
          <svg width="40" height="26" aria-hidden="true" class="trouble-band">
            <line class="missing" x1="6" x2="20" y1="15" y2="15" />
            <rect class="sure" x="20" width="19" y="9" height="12" />
            <line class="likely" x1="20" x2="20" y1="6" y2="24" />
            <g class="due">
              <path d="M0 0h12l-6 9z" />
              <line x1="6" x2="6" y1="8" y2="26" />
            </g>
          </svg>
          {t("draw-key-trouble")}
        </li>
      )}
      {sure && (
        <li>
          <svg width="40" height="14" aria-hidden="true" class="string-diagram">
            <g class="string">
              <rect class="sure" x="10" y="2" width="29" height="10" />
              <path class="plan" d="M0 7H24" />
            </g>
          </svg>
          {t("draw-key-sure")}
        </li>
      )}
      <li>
        <svg width="40" height="14" aria-hidden="true" class="string-diagram">
          <rect class="band" x="1" y="1" width="38" height="12" />
          <rect class="band blocked" x="20" y="1" width="19" height="12" fill="url(#blocked)" />
        </svg>
        {t("draw-key-band")}
      </li>
      <li>
        <svg width="40" height="20" aria-hidden="true" class="string-diagram">
          <g class="string">
            <path class="plan" d="M0 14H40" />
            <path class="promise-mark" d="M14 1h12l-6 11zM20 8v12" />
          </g>
        </svg>
        {t("draw-key-promise")}
      </li>
    </ul>
  );
}

function StringTable({
  strings,
  now,
  shown,
  show,
}: {
  strings: StringVehicle[];
  now: Ms;
  shown: string | undefined;
  show: (order: string | undefined) => void;
}) {
  const lang = tongue.value;
  const tz = zone.value;
  const sure = strings.some((one) => one.sure);
  const at = (ms: number | undefined): string => (ms === undefined ? "–" : when(ms, now, lang, tz));
  return (
    <table>
      <caption class="visually-hidden">{t("draw-strings")}</caption>
      <thead>
        <tr>
          <th scope="col">{t("draw-vehicle")}</th>
          <th scope="col">{t("draw-where")}</th>
          <th scope="col">{t("draw-ready-head")}</th>
          {sure && <th scope="col">{t("draw-sure-head")}</th>}
          <th scope="col">{t("draw-promise-head")}</th>
          <th scope="col" class="figure">
            {t("draw-late-head")}
          </th>
        </tr>
      </thead>
      <tbody>
        {strings.map((one) => {
          const stay = one.itinerary.main.findLast((s) => s.from < now);
          const held = one.occupied.filter((o) => o.from <= now && now < o.to).map((o) => equipmentName(o.equipment));
          return (
            <tr
              key={one.order}
              class={shown === one.order ? "shown" : ""}
              onMouseEnter={() => show(one.order)}
              onMouseLeave={() => show(undefined)}
            >
              <th scope="row">
                <a href={`/vehicle/${one.order}`}>{one.number}</a> <span class="quiet">{one.vehicle}</span>
              </th>
              <td>
                {one.itinerary.here ? rowName(one.itinerary.here) : t("draw-expected")}
                {held.length > 0 && `, ${held.join(", ")}`}
                {stay && one.itinerary.here && (
                  <span class="quiet">
                    {" "}
                    {t(stay.kind === "worked" ? "draw-working-since" : "draw-waits-since", { time: at(stay.from) })}
                  </span>
                )}
              </td>
              <td>{one.itinerary.finish === undefined ? "–" : at(roughly(one.itinerary.finish))}</td>
              {sure && <td>{at(one.sure?.to)}</td>}
              <td>{at(one.itinerary.promise)}</td>
              <td class="figure">
                {one.itinerary.lateMinutes > 0 ? (
                  <span class="late">{length(one.itinerary.lateMinutes * 60_000)}</span>
                ) : (
                  ""
                )}
              </td>
            </tr>
          );
        })}
      </tbody>
    </table>
  );
}
