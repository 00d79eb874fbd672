// One vehicle's trip: thick = worked, thin = waiting, dashed = planned, the circle = now.
// A thin shell: the geometry comes from trip-geometry, the words beside it from the same itinerary.
import "./charts.css";
import { useLayoutEffect, useRef } from "preact/hooks";
import type { Card, Handoff, Ms, Order, Plan } from "../../api/types";
import { cards as allCards, people, words } from "../../state";
import { t } from "../../text/words";
import { itinerary, type Itinerary, type Stay } from "../../model/itinerary";
import { departmentRank, equipmentName, tongue, zone } from "../../text/names";
import { breakLength, clock, dayShort, length, roughly, when } from "../../text/time";
import { rowName } from "./row-name";
import { drawTrip, type TripDrawing } from "./trip-geometry";
import { wide } from "./labels";
import { LETTERS, placeTripWords, twoLines, type TripTexts } from "./trip-words";
import { useWidth } from "./use-width";

export interface TripLineProps {
  order: Order;
  /** Those of other orders are passed over. Arrays: a map's iterator would be empty when drawn again. */
  cards: readonly Card[];
  handoffs: readonly Handoff[];
  plan: Plan | null | undefined;
  now: Ms;
}

const STROKES = {
  worked: "worked",
  waiting: "waiting",
  turn: "waiting",
  planned: "planned",
  planned_wait: "planned-wait",
  planned_turn: "planned-wait",
} as const;

export function TripLine({ order, cards, handoffs, plan, now }: TripLineProps) {
  const { ref, width } = useWidth<HTMLDivElement>(358);
  const trip = itinerary({
    order,
    cards: cards.filter((card) => card.order === order.id),
    handoffs: handoffs.filter((one) => one.order === order.id),
    plan,
    now,
  });
  // The longest name decides how wide the names' column is; on a phone a long one stands on two lines.
  const rows = new Set([...trip.main, ...trip.second].map((stay) => rowName(stay.row)));
  const most = width.value < 600 ? 84 : 150;
  const gutter =
    Math.max(0, ...[...rows].flatMap((name) => twoLines(name, most)).map((line) => wide(line, LETTERS.size))) + 4;
  const drawing = drawTrip(trip, { width: width.value, zone: zone.value, now, rank: departmentRank, gutter });
  // Where it is longer than the screen, now is what one wants to see first.
  const scrolled = useRef(false);
  useLayoutEffect(() => {
    const box = ref.current;
    if (box && !scrolled.current && drawing.now && drawing.width > box.clientWidth) {
      box.scrollLeft = drawing.now.x - box.clientWidth * 0.6;
      scrolled.current = true;
    }
  });
  return (
    <figure class="trip">
      <div
        class="drawing-scroll"
        ref={ref}
        {...(drawing.width > width.value ? { tabIndex: 0, role: "group", "aria-label": t("draw-trip") } : {})}
      >
        <Picture drawing={drawing} gutter={gutter} trip={trip} now={now} summary={summary(order.number, trip, now)} />
      </div>
      <details class="in-words">
        <summary>{t("draw-in-words")}</summary>
        <WordsTable trip={trip} now={now} />
      </details>
    </figure>
  );
}

function Picture({
  drawing,
  gutter,
  trip,
  now,
  summary: said,
}: {
  drawing: TripDrawing;
  gutter: number;
  trip: Itinerary;
  now: Ms;
  summary: string;
}) {
  const { end, promise, late } = drawing;
  const W = drawing.width;
  const lang = tongue.value;
  const tz = zone.value;
  const texts: TripTexts = {
    keysIn: `${t(trip.begin > now ? "draw-expected" : "draw-keys-in")} ${when(trip.begin, now, lang, tz)}`,
    promise:
      promise && trip.promise !== undefined ? `${t("draw-promise")} ${when(trip.promise, now, lang, tz)}` : undefined,
    late: late && t("draw-late", { length: length(trip.lateMinutes * 60_000) }),
    end:
      end && (end.over ? t("draw-keys-back") : t("draw-ready-about", { time: when(roughly(trip.end), now, lang, tz) })),
    holds: drawing.holds.map((hold) => t(`draw-hold-${hold.what}`)),
    equipment: drawing.equipment.map((one) => equipmentName(one.id)),
    breaks: drawing.breaks.map((one) => breakLength(one.ms)),
  };
  const words = placeTripWords(drawing, texts, gutter);
  const text = (id: string, said: string | undefined, name: string) => {
    const box = words.get(id);
    return (
      box &&
      said && (
        <text key={id} class={name} x={box.x} y={box.y + LETTERS.base}>
          {said}
        </text>
      )
    );
  };
  return (
    <svg
      class="trip-line"
      width={W}
      height={drawing.height}
      viewBox={`0 0 ${W} ${drawing.height}`}
      role="img"
      aria-label={said}
    >
      {drawing.levels.map((level) => (
        <path key={level.row} class="level" d={`M${gutter} ${level.y}H${W}`} />
      ))}
      {promise && <path class="promise" d={`M${promise.x} ${promise.top}V${promise.bottom}`} />}
      {promise && <path class="promise-head" d={`M${promise.x - 5} ${promise.top - 7}h10l-5 8z`} />}
      {late && <path class="late-bar" d={`M${late.x1} ${late.y + 5}H${late.x2}m0 -4v8`} />}
      {drawing.second.map((line, i) => (
        <path key={i} class={`line ${STROKES[line.stroke]} second`} d={line.d} />
      ))}
      {drawing.lines.map((line, i) => (
        <path key={i} class={`line ${STROKES[line.stroke]}${line.late ? " beyond" : ""}`} d={line.d} />
      ))}
      {drawing.holds.map((hold, i) => (
        <g key={i} class="hold">
          <path d={`M${hold.x} ${hold.y - 9}v18`} />
        </g>
      ))}
      <path class="post" d={`M${drawing.keysIn.x} ${drawing.keysIn.y - 11}v22`} />
      {end && <path class={end.over ? "post" : "post planned-post"} d={`M${end.x} ${end.y - 11}v22`} />}
      {drawing.now && (
        <g class="here">
          <circle cx={drawing.now.x} cy={drawing.now.y} r={8} />
          <circle class="dot" cx={drawing.now.x} cy={drawing.now.y} r={3.5} />
        </g>
      )}
      {drawing.levels.map((level) => {
        const lines = level.row ? twoLines(rowName(level.row), gutter - 4) : [];
        return lines.map((line, i) => (
          <text key={`${level.row}${i}`} class="level-name" x={0} y={level.y + 5 + (i - (lines.length - 1) / 2) * 16}>
            {line}
          </text>
        ));
      })}
      {drawing.equipment.map((one, i) => text(`equipment ${i}`, equipmentName(one.id), "small-name"))}
      {drawing.holds.map((_, i) => text(`hold ${i}`, texts.holds[i], "small-name"))}
      {text("keysIn", texts.keysIn, "mark")}
      {text("promise", texts.promise, "mark")}
      {text("late", texts.late, "mark late-word")}
      {text("end", texts.end, "mark")}
      <path class="axis" d={axisOf(drawing, gutter)} />
      {drawing.ticks.map((tick) => (
        <g key={tick.at} class={tick.day ? "tick day" : "tick"}>
          <path d={`M${tick.x} ${drawing.axisY}v${tick.day ? 7 : 4}`} />
          {tick.named && tick.x < W - 46 && (
            <text x={tick.x + 2} y={drawing.axisY + 17}>
              {tick.day ? dayShort(tick.at, lang, tz) : clock(tick.at, lang, tz)}
            </text>
          )}
        </g>
      ))}
      {drawing.breaks.map((one, i) => (
        <g key={one.x} class="break">
          <path d={`M${one.x - 20} ${one.y + 6}l5 -12M${one.x - 14} ${one.y + 6}l5 -12`} />
          <text x={one.x + 6} y={one.y + 5} text-anchor="middle">
            {texts.breaks[i]}
          </text>
        </g>
      ))}
      <g class="scale-bar">
        <path d={`M2 ${drawing.height - 9}v6m0 -3h${drawing.bar.width}m0 -3v6`} />
        <text x={drawing.bar.width + 8} y={drawing.height - 2}>
          {length(drawing.bar.ms)}
        </text>
      </g>
    </svg>
  );
}

/** Left out where a break stands on it. */
function axisOf({ axisY, breaks, width }: TripDrawing, from: number): string {
  let d = `M${from} ${axisY}`;
  for (const one of breaks) if (!one.onLine) d += `H${Math.max(from, one.x - 24)}M${one.x + 24} ${axisY}`;
  return `${d}H${width}`;
}

export function summary(number: string, trip: Itinerary, now: Ms): string {
  const lang = tongue.value;
  const tz = zone.value;
  const parts = [
    t(trip.begin > now ? "draw-say-expected" : "draw-say-in", { number, time: when(trip.begin, now, lang, tz) }),
  ];
  if (trip.here) parts.push(t("draw-say-here", { department: rowName(trip.here) }));
  if (trip.over) parts.push(t("draw-say-over", { time: when(trip.end, now, lang, tz) }));
  else if (trip.finish) parts.push(t("draw-say-finish", { time: when(roughly(trip.finish), now, lang, tz) }));
  if (trip.lateMinutes > 0) parts.push(t("draw-say-late", { length: length(trip.lateMinutes * 60_000) }));
  return parts.join(" ");
}

function WordsTable({ trip, now }: { trip: Itinerary; now: Ms }) {
  const lang = tongue.value;
  const tz = zone.value;
  const stays = [...trip.main, ...trip.second].sort((a, b) => a.from - b.from);
  return (
    <table>
      <thead>
        <tr>
          <th scope="col">{t("draw-from")}</th>
          <th scope="col">{t("draw-what")}</th>
          <th scope="col" class="figure">
            {t("draw-length")}
          </th>
        </tr>
      </thead>
      <tbody>
        {stays.map((stay, i) => (
          <tr key={i}>
            <td>{when(stay.kind.startsWith("planned") ? roughly(stay.from) : stay.from, now, lang, tz)}</td>
            <td>{stayWords(stay)}</td>
            <td class="figure">{length(stay.to - stay.from)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

export function stayWords(stay: Stay): string {
  const card = stay.card ? allCards.value.get(stay.card) : undefined;
  const args = {
    department: rowName(stay.row),
    card: card ? words(card.title) : "",
    person: (stay.person && people.value.get(stay.person)?.name) || "",
  };
  const where = stay.equipment ? ` (${equipmentName(stay.equipment)})` : "";
  switch (stay.kind) {
    case "worked":
      return t(args.person ? "draw-worked-by" : "draw-worked", args) + where;
    case "planned":
      return t("draw-planned", args) + where;
    case "waiting":
      return t("draw-waiting", args);
    case "planned_wait":
      return t("draw-planned-wait", args);
  }
}
