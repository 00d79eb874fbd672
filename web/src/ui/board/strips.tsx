// Lifts, bench, booth: one strip each over today and tomorrow. What stands there, since when, until when, what comes next.
import type { Ms } from "../../api/types";
import { plans } from "../../core/cards";
import { canCloseUp } from "../../core/close-up";
import { placeIn, stripOf, type Stretch } from "../../model/glance";
import type { Held } from "../../model/waits";
import { cards, me, t, words } from "../../state";
import { departmentName, equipmentName, inSentence, zone } from "../../text/names";
import { hour, named } from "../../text/sentences";
import { addDays, startOfDay } from "../../text/zone";
import { about, personName, said } from "../kit/shop-sentences";
import { percent, TimeAxis } from "./time-axis";

export const stripSpan = (now: Ms): Stretch => {
  const from = startOfDay(now, zone.value) + 6 * 3_600_000;
  return { from, to: addDays(from, 1, zone.value) + 12 * 3_600_000 };
};

/** Something stands on it, or it is out of service. */
export const taken = (one: Held): boolean => one.order !== undefined || one.outUntil !== undefined;

export function Strips({ held, now, onWall = false }: { held: Held[]; now: Ms; onWall?: boolean }) {
  const span = stripSpan(now);
  return (
    <ul class={onWall ? "strips on-the-wall" : "strips"}>
      <li class="strip strip-head" aria-hidden="true">
        <span class="strip-axis">
          <TimeAxis span={span} now={now} />
        </span>
      </li>
      {held.map((one) => (
        <Strip key={one.equipment.id} held={one} span={span} now={now} onWall={onWall} />
      ))}
    </ul>
  );
}

function Strip({ held, span, now, onWall }: { held: Held; span: Stretch; now: Ms; onWall: boolean }) {
  const { order, next } = held;
  const close = order && held.open && plans(me.value?.role) && canCloseUp(cards.value, order, held.open);
  const until = held.until !== undefined && held.until > now ? held.until : undefined;
  return (
    <li class="strip">
      <span class="strip-name">
        {equipmentName(held.equipment.id)}
        {held.inspectionDue !== undefined && !onWall && (
          <span class="late small"> {t("shop-inspection-due", { time: said(held.inspectionDue, now) })}</span>
        )}
      </span>
      <span class="strip-who">
        {order ? (
          onWall ? (
            <b>{order.number}</b>
          ) : (
            <a href={`/vehicle/${order.id}`}>
              <b>{order.number}</b>
            </a>
          )
        ) : (
          <span class="quiet">{t(held.outUntil !== undefined ? "shop-out" : "shop-empty-now")}</span>
        )}
      </span>
      <Line held={held} span={span} now={now} />
      <span class="strip-next">
        {next &&
          (onWall ? <span>{next.order.number}</span> : <a href={`/vehicle/${next.order.id}`}>{next.order.number}</a>)}
      </span>
      {!onWall && (
        <span class="strip-times">
          {[
            held.since !== undefined && `${said(held.since, now)} – ${until === undefined ? "?" : about(until, now)}`,
            held.outUntil !== undefined && `– ${said(held.outUntil, now)}`,
          ]
            .filter(Boolean)
            .join(" · ")}
          {close && (
            <a class="no-print" href={`/shop/what-if?close=${order.id}/${held.open}`}>
              {t("shop-help-close")}
            </a>
          )}
          {next && <span class="strip-then">{aboutShort(Math.max(next.at, now), now)}</span>}
        </span>
      )}
      <span class="visually-hidden">{spoken(held, now)}</span>
    </li>
  );
}

const DAY = 24 * 3_600_000;
/** Within a day the hour says it. */
const aboutShort = (at: Ms, now: Ms): string => (at - now < DAY / 2 ? hour(at) : about(at, now));

/** Held: filled, hatched while nobody works there; dashed outline: who comes next. */
function Line({ held, span, now }: { held: Held; span: Stretch; now: Ms }) {
  const at = (time: Ms): number => placeIn(span, time).share;
  const id = `idle-${held.equipment.id}`;
  return (
    <svg class="strip-line" width="100%" height="22" aria-hidden="true">
      <defs>
        <pattern id={id} width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <path class="hatch" d="M0 0V7" />
        </pattern>
      </defs>
      <line class="level" x1="0" x2="100%" y1="18" y2="18" />
      {stripOf(held, span, now).map((part) => {
        const [x, width] = [percent(at(part.from)), percent(Math.max(0.012, at(part.to) - at(part.from)))];
        return (
          <g key={`${part.kind}${part.from}`} class={`strip-part ${part.kind}`}>
            <rect x={x} width={width} y="4" height="14" />
            {part.idle && <rect class="idle" x={x} width={width} y="4" height="14" fill={`url(#${id})`} />}
          </g>
        );
      })}
      <line class="now" x1={percent(at(now))} x2={percent(at(now))} y1="0" y2="22" />
    </svg>
  );
}

function spoken(held: Held, now: Ms): string {
  const said_: string[] = [];
  if (held.order) {
    if (held.open) said_.push(t("shop-held-open", { open: named("open", held.open) }));
    for (const card of held.working) {
      said_.push(
        t("shop-held-working", {
          card: words(card.title),
          person: personName(card.spans.findLast((span) => !span.to)?.person ?? card.taken_by),
        }),
      );
    }
    if (held.working.length === 0) {
      said_.push(
        held.waitsFor
          ? t("shop-held-waits", {
              card: words(held.waitsFor.card.title),
              department: inSentence(departmentName(held.waitsFor.card.department)),
              time: about(Math.max(held.waitsFor.at, now), now),
            })
          : t("shop-held-idle"),
      );
    }
    if (held.until !== undefined && held.until > now)
      said_.push(t("shop-held-until", { time: about(held.until, now) }));
  } else if (held.outUntil !== undefined) {
    said_.push(t("shop-out-of-service", { time: said(held.outUntil, now), reason: held.outReason ?? "" }).trim());
  } else said_.push(t("shop-held-free"));
  if (held.next)
    said_.push(t("shop-held-next", { number: held.next.order.number, time: about(Math.max(held.next.at, now), now) }));
  return said_.join(" ");
}
