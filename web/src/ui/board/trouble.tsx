// Promises in trouble, the smallest chance first: where the promise stands against the likely and the safe date, the
// first thing that keeps the vehicle, and one act. Everything else about it is one touch below.
import type { Ms } from "../../api/types";
import { placeIn, troubleSpan, type Stretch, type Trouble } from "../../model/glance";
import { helpFor, type LateLink } from "../../model/waits";
import { plans } from "../../core/cards";
import { me, t, words } from "../../state";
import { departmentName, inSentence, tongue } from "../../text/names";
import { binding } from "../../text/sentences";
import { length } from "../../text/time";
import { openHoldDue, openPromise } from "../sheets/open";
import { Looks } from "../kit/looks";
import { Bound, bound, type Kept } from "../kit/bound";
import { about, lateWords, said } from "../kit/shop-sentences";
import { LateHelp, sayable } from "./help";
import { percent, TimeAxis } from "./time-axis";

interface ListProps {
  all: Trouble[];
  now: Ms;
  /** Those of them that give the scale. */
  first: Trouble[];
  /** On a wall nobody opens or enters anything. */
  onWall?: boolean;
  chosen?: string | undefined;
  choose?: (order: string | undefined) => void;
}

export function TroubleList({ all, first, now, onWall = false, chosen, choose }: ListProps) {
  const span = troubleSpan(first, now);
  return (
    <ul class={onWall ? "troubles on-the-wall" : "troubles"}>
      <li class="trouble trouble-head" aria-hidden="true">
        <span class="trouble-axis">
          <TimeAxis span={span} now={now} />
        </span>
      </li>
      {all.map((one) => (
        <Row
          key={one.order.id}
          one={one}
          span={span}
          now={now}
          onWall={onWall}
          open={chosen === one.order.id}
          choose={choose}
        />
      ))}
    </ul>
  );
}

const share = (kept: number): string =>
  new Intl.NumberFormat(tongue.value === "es" ? "es-US" : "en-US", {
    style: "percent",
    maximumFractionDigits: 0,
  }).format(kept);

/** The first cause that has a mark; what merely follows something has none worth drawing. */
const firstCause = (one: Trouble): LateLink | undefined =>
  one.causes.find((link) => bound(link.binding)) ?? one.chain.find((link) => bound(link.binding));

/** In a queue it is clear who is not free; here it is said. On a wall a person's whole name would be cut. */
function markOf({ binding: what, card }: LateLink, onWall: boolean): Kept | undefined {
  const named = bound(what);
  if (named && what.kind === "people") return { ...named, object: departmentName(what.department) };
  if (named && what.kind === "person" && onWall) return { ...named, object: departmentName(card?.department) };
  return named;
}

interface RowProps {
  one: Trouble;
  span: Stretch;
  now: Ms;
  onWall: boolean;
  open: boolean;
  choose: ListProps["choose"];
}

function Row({ one, span, now, onWall, open, choose }: RowProps) {
  const { order } = one;
  const cause = firstCause(one);
  const what = cause && markOf(cause, onWall);
  const chance = one.late ? t("row-late") : one.kept === undefined ? "" : share(one.kept);
  const spoken = [
    one.kept !== undefined && t("shop-chance-said", { share: share(one.kept) }),
    one.promise !== undefined && t("shop-promised", { time: said(one.promise, now) }),
    one.likely !== undefined &&
      t("shop-likely-said", { likely: about(one.likely, now), safe: about(one.safe ?? one.likely, now) }),
    cause && binding(cause.binding, cause.card),
  ]
    .filter(Boolean)
    .join(" ");
  const body = (
    <>
      <Band one={one} span={span} now={now} />
      <span class={one.late ? "trouble-chance late" : "trouble-chance"} aria-hidden="true">
        {chance}
      </span>
      <Bound what={what} />
      <span class="visually-hidden">{spoken}</span>
    </>
  );
  return (
    <li class="trouble" data-order={order.number} data-late={one.late ? "" : undefined}>
      {onWall ? (
        <b class="trouble-number">{order.number}</b>
      ) : (
        <a class="trouble-number" href={`/vehicle/${order.id}`}>
          <b>{order.number}</b> <Looks of={order.vehicle} />
        </a>
      )}
      {onWall ? (
        <span class="trouble-look">{body}</span>
      ) : (
        <button class="trouble-look" aria-expanded={open} onClick={() => choose?.(open ? undefined : order.id)}>
          {body}
        </button>
      )}
      {!onWall && <Act one={one} />}
      {open && !onWall && <More one={one} now={now} />}
    </li>
  );
}

/** Promise tick, band from likely to safe, and what lies between the promise and likely: so much is missing. */
function Band({ one, span, now }: { one: Trouble; span: Stretch; now: Ms }) {
  const at = (time: Ms): string => percent(placeIn(span, time).share);
  const { promise, likely = one.finish, safe = likely } = one;
  const end = safe === undefined ? undefined : placeIn(span, safe);
  const due = promise === undefined ? undefined : placeIn(span, promise);
  return (
    <svg class="trouble-band" width="100%" height="26" aria-hidden="true">
      <line class="now" x1={at(now)} x2={at(now)} y1="0" y2="26" />
      {promise !== undefined && likely !== undefined && likely > promise && (
        <line class="missing" x1={at(promise)} x2={at(likely)} y1="15" y2="15" />
      )}
      {likely !== undefined && end && (
        <>
          <rect
            class="sure"
            x={at(likely)}
            width={percent(Math.max(0.012, end.share - placeIn(span, likely).share))}
            y="9"
            height="12"
          />
          <line class="likely" x1={at(likely)} x2={at(likely)} y1="6" y2="24" />
          {end.beyond && end.share - placeIn(span, likely).share > 0.08 && (
            <svg x="100%" y="0" overflow="visible">
              <path class="beyond" d="M-14 22l5 -14M-8 22l5 -14" />
            </svg>
          )}
        </>
      )}
      {due && (
        <svg x={percent(due.share)} y="0" overflow="visible" class="due">
          <path d={due.beyond ? "M8 0h-6l-2 0M0 5l8 -5v10zM0 5" : "M-6 0h12l-6 9z"} />
          {!due.beyond && <line x1="0" x2="0" y1="8" y2="26" />}
        </svg>
      )}
    </svg>
  );
}

/** The one thing most likely to help; the others stand below. */
function Act({ one }: { one: Trouble }) {
  if (!plans(me.value?.role)) return <span class="trouble-act" />;
  const { order } = one;
  const { first, hold } = helpFor(one);
  const of = t("shop-act-of", { number: order.number });
  return (
    <span class="trouble-act no-print">
      {hold ? (
        <button class="button small-button" onClick={() => openHoldDue(order, hold)}>
          {t("shop-act-hold")} <span class="visually-hidden">{of}</span>
        </button>
      ) : first ? (
        <a class="button small-button" href={`/shop/what-if?first=${order.id}`}>
          {t("shop-act-first")} <span class="visually-hidden">{of}</span>
        </a>
      ) : (
        <button class="button small-button" onClick={() => openPromise(order, sayable(one.safe))}>
          {t("shop-act-promise")} <span class="visually-hidden">{of}</span>
        </button>
      )}
    </span>
  );
}

/** The sentences, the chain, and whatever else can be done. */
function More({ one, now }: { one: Trouble; now: Ms }) {
  const overdue = one.promise !== undefined && one.promise <= now;
  const line = (link: LateLink, i: number) => (
    <li key={i}>
      {link.card && (
        <>
          {words(link.card.title)} <span class="quiet">({inSentence(departmentName(link.card.department))})</span>:{" "}
        </>
      )}
      {binding(link.binding, link.card)}
    </li>
  );
  return (
    <div class="trouble-more stack-small">
      <p>
        {one.late && <span class="late">{lateWords(one.promise, one.lateMinutes, now)} </span>}
        {one.promise !== undefined && !overdue && `${t("shop-promised", { time: said(one.promise, now) })} `}
        {one.finish === undefined
          ? t("shop-no-finish")
          : t(one.lateMinutes > 0 && !overdue ? "shop-ready-late" : "shop-ready-about", {
              time: about(one.finish, now),
              length: length(one.lateMinutes * 60_000),
            })}{" "}
        {one.safe !== undefined && <b>{t("shop-nine-of-ten", { time: about(one.safe, now) })}</b>}
      </p>
      <ul class="why">{one.causes.map(line)}</ul>
      {one.chain.length > one.causes.length && (
        <details>
          <summary>{t("shop-why-more", { count: one.chain.length })}</summary>
          <ol class="why">{one.chain.map(line)}</ol>
        </details>
      )}
      <LateHelp late={one} by90={one.safe} />
    </div>
  );
}
