// The shop over time: one string for each vehicle over departments and named equipment.
// A thin shell over string-geometry; the table beside it says the same in words.
import "./charts.css";
import { signal, useSignal } from "@preact/signals";
import type { RefObject } from "preact";
import { useLayoutEffect, useRef } from "preact/hooks";
import type { Ms } from "../../api/types";
import { departments, equipment } from "../../state";
import { go } from "../kit/router";
import { t } from "../../text/words";
import { AWAY } from "../../model/itinerary";
import { equipmentName, tongue, zone } from "../../text/names";
import { rowName } from "./row-name";
import { clock, dayShort, length, roughly, when } from "../../text/time";
import { drawStrings, LANE, worthShowing, ZOOMS, type RowInput, type StringDrawing, type StringInput } from "./string-geometry";
import { summary } from "./trip-line";
import { useWidth } from "./use-width";
import { addDays, startOfDay } from "../../text/zone";

export interface StringVehicle extends StringInput {
  vehicle: string;
}

/** What the marks below the drawing take. */
const KEY_ROOM = 135;

type Zoom = keyof typeof ZOOMS;

const ZOOM_WORDS: Record<Zoom, string> = { day: "draw-zoom-day", three: "draw-zoom-three", week: "draw-zoom-week" };

// Kept while the app runs: who comes back from a vehicle finds the picture as it was left.
const zoom = signal<Zoom>("three");
const days = signal(0);
const all = signal(false);

/** `fill`: strings stand as far apart as the height around the diagram allows. */
export function StringDiagram({ vehicles, now, fill = false }: { vehicles: StringVehicle[]; now: Ms; fill?: boolean }) {
  const { ref, width } = useWidth<HTMLDivElement>(1000);
  const room = useRoom(ref, fill);
  const shown = useSignal<string | undefined>(undefined);

  const span = ZOOMS[zoom.value];
  const tz = zone.value;
  // Whole days, so that midnights stay where they are while time passes: a third of it has been.
  const first = startOfDay(now, tz);
  const back = zoom.value === "day" ? 0 : zoom.value === "three" ? 1 : 3;
  const from = addDays(first + 12 * 3_600_000, days.value - back, tz);
  const to = zoom.value === "day" ? addDays(from + 12 * 3_600_000, 1, tz) : from + span;

  const worth = worthShowing(vehicles, now);
  const chosen = all.value ? vehicles.map((one) => one.order) : worth;
  const strings = vehicles.filter((one) => chosen.includes(one.order));
  const rows = rowsFor(strings);
  // The longest name decides how wide the names' column is.
  const left = Math.min(180, 20 + Math.max(60, ...rows.map((row) => (row.equipment ? 12 : 0) + 7.6 * titleOf(row).length)));
  const wish = { from, to, now, width: Math.max(width.value - left, 560), left: 6, zone: tz };
  const close = drawStrings(strings, rows, wish);
  const drawing = room.value > close.height ? drawStrings(strings, rows, { ...wish, lane: widerLane(close, room.value) }) : close;
  // Where it is wider than the screen, now is what one wants to see first.
  const placed = useRef("");
  useLayoutEffect(() => {
    const box = ref.current;
    const view = `${zoom.value} ${days.value} ${drawing.width}`;
    if (!box || placed.current === view || drawing.width + left <= box.clientWidth) return;
    placed.current = view;
    if (drawing.nowX !== undefined) box.scrollLeft = drawing.nowX - (box.clientWidth - left) * 0.6;
  });
  const step = zoom.value === "week" ? 7 : 1;

  return (
    <figure class="strings">
      <div class="beside no-print strings-tools">
        <div class="beside" role="group" aria-label={t("draw-zoom")}>
          {(Object.keys(ZOOMS) as Zoom[]).map((one) => (
            <button key={one} class="button small-button" aria-pressed={zoom.value === one} onClick={() => (zoom.value = one)}>
              {t(ZOOM_WORDS[one])}
            </button>
          ))}
        </div>
        <div class="beside" role="group" aria-label={t("draw-move")}>
          <button class="button small-button" onClick={() => (days.value -= step)}>
            {t("draw-earlier")}
          </button>
          <button class="button small-button" disabled={days.value === 0} onClick={() => (days.value = 0)}>
            {t("draw-now")}
          </button>
          <button class="button small-button" onClick={() => (days.value += step)}>
            {t("draw-later")}
          </button>
        </div>
        {vehicles.length > worth.length && (
          <button class="button small-button" aria-pressed={all.value} onClick={() => (all.value = !all.value)}>
            {t("draw-all-vehicles", { count: vehicles.length })}
          </button>
        )}
      </div>
      <p class="quiet small">{all.value ? t("draw-shown-all", { count: strings.length }) : t("draw-shown-worth", { count: strings.length })}</p>
      <div class="strings-beside">
        <div class="strings-picture">
        <div class="drawing-scroll strings-scroll" ref={ref} tabIndex={0} role="group" aria-label={t("draw-strings")}>
          <RowNames drawing={drawing} width={left} />
          <Picture drawing={drawing} strings={strings} now={now} shown={shown.value} show={(order) => (shown.value = order)} />
        </div>
        <Key sure={strings.some((one) => one.sure)} />
        </div>
        <div class="strings-table" tabIndex={0} role="group" aria-label={t("draw-strings-table")}>
          <StringTable strings={strings} now={now} shown={shown.value} show={(order) => (shown.value = order)} />
        </div>
      </div>
    </figure>
  );
}

const LANE_MOST = 44;

/** How wide a lane may be for the drawing to be about as high as there is room. */
function widerLane(drawing: StringDrawing, room: number): number {
  const lanes = drawing.rows.reduce((sum, row) => sum + row.lanes, 0);
  return Math.min(LANE_MOST, LANE + (room - drawing.height) / Math.max(1, lanes));
}

/** From the drawing's top to the end of the part it stands in; 0 where nobody wants to know. */
function useRoom(ref: RefObject<HTMLElement | null>, wanted: boolean) {
  const room = useSignal(0);
  useLayoutEffect(() => {
    const part = ref.current?.closest<HTMLElement>(".part");
    if (!wanted || !part) return;
    const look = (): void => {
      const [inner, outer] = [ref.current?.getBoundingClientRect(), part.getBoundingClientRect()];
      const zoom = part.offsetHeight / Math.max(1, outer.height);
      if (inner) room.value = Math.max(0, (outer.bottom - inner.top) * zoom - KEY_ROOM);
    };
    const watch = new ResizeObserver(look);
    watch.observe(part);
    return () => watch.disconnect();
  }, [wanted]);
  return room;
}

const titleOf = (row: RowInput): string => (row.equipment ? equipmentName(row.id) : rowName(row.id));

/** Departments in the shop's order, their equipment below each; away only while somebody is. */
function rowsFor(strings: StringVehicle[]): RowInput[] {
  const used = new Set(strings.flatMap((one) => one.occupied.map((o) => o.equipment)));
  const rows: RowInput[] = [];
  const sorted = [...departments.value.values()].filter((one) => !one.retired).sort((a, b) => a.rank - b.rank);
  const passed = new Set(strings.flatMap((one) => one.itinerary.main.map((stay) => stay.row)));
  for (const department of sorted) {
    const own = [...equipment.value.values()].filter((one) => one.department === department.id && !one.retired);
    if (!passed.has(department.id) && !own.some((one) => used.has(one.id))) continue;
    rows.push({ id: department.id, equipment: false });
    for (const one of own.sort((a, b) => a.id.localeCompare(b.id, "en", { numeric: true }))) {
      rows.push({ id: one.id, equipment: true });
    }
  }
  if (passed.has(AWAY)) rows.push({ id: AWAY, equipment: false });
  return rows;
}

/** Stays where it is while the picture is moved beneath it. */
function RowNames({ drawing, width }: { drawing: StringDrawing; width: number }) {
  return (
    <svg class="string-diagram row-names" width={width} height={drawing.height + 18} viewBox={`0 0 ${width} ${drawing.height + 18}`} aria-hidden="true">
      {drawing.rows.map((row) => (
        <g key={row.id} class={row.equipment ? "row equipment" : "row"}>
          <path class="level" d={`M0 ${row.y}H${width}`} />
          <text x={row.equipment ? 14 : 2} y={row.y + Math.min(row.height / 2 + 5, 20)}>
            {titleOf(row)}
          </text>
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
    <svg class={shown ? "string-diagram one" : "string-diagram"} width={W} height={drawing.height + 18} viewBox={`0 0 ${W} ${drawing.height + 18}`} role="group" aria-label={t("draw-strings")}>
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
            {string.sure && <rect class="sure" x={string.sure.x} y={string.sure.y - 5} width={Math.max(string.sure.width, 2)} height={10} />}
            <path class="reach" d={string.past + string.moves + string.plan} />
            <path class="plan" d={string.plan} />
            <path class="moves" d={string.moves} />
            <path class="past" d={string.past} />
            <path class="worked" d={string.worked} />
            {string.promise && <path class="promise-mark" d={`M${string.promise.x - 6} ${string.promise.y - 13}h12l-6 11zM${string.promise.x} ${string.promise.y - 6}v12`} />}
            {string.labels.map((label, i) => (
              <text key={i} x={label.x} y={label.y}>
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

function StringTable({ strings, now, shown, show }: { strings: StringVehicle[]; now: Ms; shown: string | undefined; show: (order: string | undefined) => void }) {
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
          <th scope="col" class="figure">{t("draw-late-head")}</th>
        </tr>
      </thead>
      <tbody>
        {strings.map((one) => {
          const stay = one.itinerary.main.findLast((s) => s.from < now);
          const held = one.occupied.filter((o) => o.from <= now && now < o.to).map((o) => equipmentName(o.equipment));
          return (
            <tr key={one.order} class={shown === one.order ? "shown" : ""} onMouseEnter={() => show(one.order)} onMouseLeave={() => show(undefined)}>
              <th scope="row">
                <a href={`/vehicle/${one.order}`}>{one.number}</a> <span class="quiet">{one.vehicle}</span>
              </th>
              <td>
                {one.itinerary.here ? rowName(one.itinerary.here) : t("draw-expected")}
                {held.length > 0 && `, ${held.join(", ")}`}
                {stay && one.itinerary.here && <span class="quiet"> {t(stay.kind === "worked" ? "draw-working-since" : "draw-waits-since", { time: at(stay.from) })}</span>}
              </td>
              <td>{one.itinerary.finish === undefined ? "–" : at(roughly(one.itinerary.finish))}</td>
              {sure && <td>{at(one.sure?.to)}</td>}
              <td>{at(one.itinerary.promise)}</td>
              <td class="figure">{one.itinerary.lateMinutes > 0 ? <span class="late">{length(one.itinerary.lateMinutes * 60_000)}</span> : ""}</td>
            </tr>
          );
        })}
      </tbody>
    </table>
  );
}
