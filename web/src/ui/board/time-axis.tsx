// Dates above rows that share one scale: now, and as many days as have room.
import type { Ms } from "../../api/types";
import { placeIn, type Stretch } from "../../model/glance";
import { tongue, zone } from "../../text/names";
import { date, dayShort } from "../../text/time";
import { addDays, startOfDay } from "../../text/zone";
import { t } from "../../state";
import { useWidth } from "../charts/use-width";

const DAY = 24 * 3_600_000;
/** Room for one date, in widths of a letter M. */
const ROOM_EM = 4.4;

export const percent = (share: number): string => `${Math.round(share * 10_000) / 100}%`;

/** Midnights with room for their names; none too near to now or to the end. */
function datesIn(span: Stretch, now: Ms, room: number): Ms[] {
  const days = (span.to - span.from) / DAY;
  const step = [1, 2, 3, 7, 14, 28].find((one) => one / days >= room) ?? 56;
  const out: Ms[] = [];
  for (
    let at = addDays(startOfDay(now, zone.value), 1, zone.value);
    at < span.to;
    at = addDays(at, out.length > 0 ? step : 1, zone.value)
  ) {
    const { share } = placeIn(span, at);
    if (share - placeIn(span, now).share >= room * 0.75 && share <= 1 - room) out.push(at);
  }
  return out;
}

export function TimeAxis({ span, now }: { span: Stretch; now: Ms }) {
  const { ref, width } = useWidth<HTMLSpanElement>(240);
  const em = ref.current ? parseFloat(getComputedStyle(ref.current).fontSize) : 16;
  return (
    <span ref={ref} class="time-axis-box">
      <svg class="time-axis" width="100%" height="1.4em" aria-hidden="true">
        <text x={percent(placeIn(span, now).share)} y="1.05em" class="now-word">
          {t("shop-axis-now")}
        </text>
        {datesIn(span, now, (ROOM_EM * em) / Math.max(width.value, 1)).map((at) => (
          <g key={at}>
            <line x1={percent(placeIn(span, at).share)} x2={percent(placeIn(span, at).share)} y1="0.2em" y2="1.4em" />
            <text x={percent(placeIn(span, at).share)} dx="5" y="1.05em">
              {/* A weekday alone must not be taken for this week's. */}
              {at - now < 6 * DAY ? dayShort(at, tongue.value, zone.value) : date(at, tongue.value, zone.value, now)}
            </text>
          </g>
        ))}
      </svg>
    </span>
  );
}
