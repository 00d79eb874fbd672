// One line of a queue: place, number, work and clock; under it what one sees, how long until then and how long
// the work, to one scale for the list, and what keeps it, as one mark with its object. The sentence is one tap away.
import type { Ms, PlanRow } from "../../api/types";
import type { QueueEntry } from "../../core/cards";
import { now, orders, plan, t, words } from "../../state";
import { Bound, bound } from "../kit/bound";
import { Elapsed } from "./elapsed";
import type { HeldEntry } from "./held";
import { openWhy } from "../sheets/open";
import { about, life, person, reason } from "../../text/sentences";
import { minutes } from "../../text/time";
import { NotSent } from "../kit/card-head";
import { Looks } from "../kit/looks";

const MINUTE_MS = 60_000;

/** The scale of a list: from now to the end of its last work, as far as that is one day. */
export function spanOf(entries: readonly QueueEntry[]): Ms {
  const ends = entries.map(({ row }) => (row ? row.to - now.value : 0));
  return Math.min(24 * 60 * MINUTE_MS, Math.max(4 * 60 * MINUTE_MS, ...ends));
}

export function Row({ entry: { card, row, gone }, span }: { entry: HeldEntry; span: Ms }) {
  const order = orders.value.get(card.order);
  const begun = card.life !== "waiting";
  const late = (plan.value?.vehicles.find((one) => one.order === card.order)?.late_minutes ?? 0) > 0;
  const what = row && !begun ? bound(row.reason.binding) : undefined;
  return (
    <li class="line">
      <button class="line-in" disabled={gone} onClick={() => openWhy(card)}>
        <span class="line-place">{!begun && row?.place ? row.place : ""}</span>
        <span class="line-top">
          <span class="line-what">
            <strong>{order?.number ?? "?"}</strong>{" "}
            {begun && card.taken_by ? (
              <span class="quiet">{person(card.taken_by)}</span>
            ) : (
              <Looks of={order?.vehicle} />
            )}
          </span>
          <span class="line-time">
            {late && <span class="late">{t("row-late")} </span>}
            {row && !begun ? about(row.from) : minutes(card.planned_minutes)}
          </span>
        </span>
        <span class="line-top">
          <span class="line-work">{words(card.title)}</span>
          <Bound what={what} />
        </span>
        {begun ? <Elapsed card={card} /> : row && <Gap row={row} span={span} />}
        <span class="visually-hidden">{row && !begun ? reason(row) : life(card)}</span>
      </button>
      <NotSent of={`card/${card.id}`} />
    </li>
  );
}

/**
 * How long until then, thin, and how long the work, thick. What is beyond the scale is broken off. The tick is the latest end
 * with which the vehicle still keeps its promise; what lies beyond it is drawn open.
 */
function Gap({ row: { from, to, reason }, span }: { row: PlanRow; span: Ms }) {
  const share = (ms: Ms): number => Math.max(0, Math.min(100, (ms / span) * 100));
  const breaks = from - now.value > span * 0.8;
  const start = breaks ? 80 : share(from - now.value);
  const end = Math.min(100, start + Math.max(4, share(to - from)));
  const spare = reason.slack_minutes == null ? undefined : end + (reason.slack_minutes * MINUTE_MS * 100) / span;
  const tick = spare !== undefined && spare <= 100 ? Math.max(start + 1, spare) : undefined;
  return (
    <svg class="marks" viewBox="0 0 100 12" preserveAspectRatio="none" aria-hidden="true">
      {start > 1 && <line x1="0" y1="6" x2={start} y2="6" class="gap" />}
      {breaks && <path d="M38 2 35 10M44 2 41 10" class="gap" />}
      <line x1={start} y1="6" x2={tick !== undefined && tick < end ? tick : end} y2="6" class="thick" />
      {tick !== undefined && tick < end && <line x1={tick} y1="6" x2={end} y2="6" class="beyond" />}
      {tick !== undefined && <path d={`M${tick} 0V12`} class="promise" />}
    </svg>
  );
}
