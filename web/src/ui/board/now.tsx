// The shop at this moment: who waits for whom, what is late and why, what holds which equipment, what
// is to be answered, and the strings.
import { signal, useComputed, useSignalEffect } from "@preact/signals";
import type { ComponentChildren } from "preact";
import type { Ms } from "../../api/types";
import { plans } from "../../core/cards";
import { canCloseUp } from "../../core/close-up";
import { mayAnswer } from "../../core/roles";
import { freshen, outlook } from "../../outlook";
import { cards, cursor, departments, equipment, exceptions, handoffs, me, now as clock, orders, plan, t, touched, words } from "../../state";
import { departmentName, departmentRank, equipmentName, inSentence, tongue, zone } from "../../text/names";
import { clock as clockOf, dayShort, length } from "../../text/time";
import { rowName } from "../charts/row-name";
import { StringDiagram } from "../charts/string-diagram";
import { binding, named } from "../../text/sentences";
import { LateHelp } from "./help";
import { Plate } from "../kit/plate";
import { Print } from "../kit/print";
import { openAnswer } from "../sheets/open";
import { askedMeanwhile, inShop, late, seen, unanswered, whatHolds, whoWaits, type Held, type Late, type LateLink, type ShopPicture, type Wait } from "../../model/waits";
import { about, exceptionSentence, lateWords, personName, said, waitSentence } from "../kit/shop-sentences";

// What is in trouble and why comes first, then the picture where there is room for it. Placed in the document, not by
// style, so that the keyboard goes the way the eye goes.
const query = matchMedia("(min-width: 64rem)");
const wide = signal(query.matches);
query.addEventListener("change", () => (wide.value = query.matches));

/** `onWall`: nobody answers or enters anything there. */
export function Now({ onWall = false }: { onWall?: boolean }) {
  const picture = useComputed<ShopPicture>(() => ({
    orders: orders.value,
    cards: cards.value,
    handoffs: handoffs.value,
    plan: plan.value,
    now: clock.value,
  }));
  const all = useComputed(() => seen(picture.value));
  const now = clock.value;
  useSignalEffect(() => freshen(clock.value));
  const sure = new Map(outlook.value.found?.vehicles.map((one) => [one.order, { from: one.p10, to: one.p90 }]));

  if (orders.value.size === 0) {
    return (
      <div class="stack">
        <p>{t(cursor.value === 0 ? "shop-loading" : "shop-empty")}</p>
        {cursor.value > 0 && !onWall && (
          <p class="buttons">
            <a class="button" href="/setup/order">{t("shop-new-order")}</a>
            <a class="button" href="/setup/import">{t("shop-import")}</a>
          </p>
        )}
      </div>
    );
  }
  const groups = whoWaits(picture.value, departmentRank);
  const meanwhile = askedMeanwhile(picture.value);
  const behind = late(picture.value);
  const held = whatHolds(picture.value, all.value, equipment.value.values());
  const open = onWall ? [] : unanswered(exceptions.value.values());
  const strings = (
    <Part title={t("shop-strings")} name="strings">
        <StringDiagram
          vehicles={all.value.map((one) => ({
            order: one.order.id,
            number: one.order.number,
            vehicle: one.order.vehicle,
            itinerary: one.itinerary,
            occupied: one.occupied,
            sure: sure.get(one.order.id),
          }))}
          now={now}
          fill={onWall}
        />
      </Part>
  );
  return (
    <>
      <div class="apart counts">
        <p class="quiet">
          {!onWall && `${t("shop-today", { day: dayShort(now, tongue.value, zone.value), time: clockOf(now, tongue.value, zone.value) })} `}
          {countsSentence(all.value)}
        </p>
        {!onWall && <Print />}
      </div>
      {!plan.value && <p class="notice-line">{t("shop-no-plan")}</p>}
      {open.length > 0 && (
        <Part title={t("shop-exceptions")} name="exceptions">
          <ul class="rows">
            {open.map((one) => (
              <li key={one.id} class="line-row">
                <Plate order={orders.value.get(one.order)} />
                <div class="stack-small">
                  <p>{exceptionSentence(one)}</p>
                  <p class="quiet small">
                    {t(one.owner ? "shop-exception-owner" : "shop-exception-planner", { since: said(one.since, now), owner: personName(one.owner) })}
                  </p>
                  {mayAnswer(one, me.value) && !touched.value.has(`exception/${one.id}`) && (
                    <button class="button small-button no-print" onClick={() => openAnswer(one)}>
                      {t("answer")}
                    </button>
                  )}
                </div>
              </li>
            ))}
          </ul>
        </Part>
      )}
      <div class="shop-columns">
          <Part title={t("shop-late")} name="late" count={behind.length}>
            {behind.length === 0 && <p class="quiet">{t(plan.value ? "shop-late-none" : "shop-late-unknown")}</p>}
            <ul class="rows">
              {behind.map((one) => (
                <LateRow key={one.order.id} late={one} now={now} by90={sure.get(one.order.id)?.to} />
              ))}
            </ul>
          </Part>
      <Part title={t("shop-waits")} name="waits" count={groups.reduce((sum, group) => sum + group.waits.length, 0)}>
        {groups.length === 0 && <p class="quiet">{t("shop-waits-none")}</p>}
        <div class="groups">
        {groups.map((group) => (
          <div key={group.of} class="group">
            <h3>{groupTitle(group.of)}</h3>
            <ul class="rows">
              {group.waits.map((wait) => (
                <WaitRow key={wait.order.id} wait={wait} now={now} />
              ))}
            </ul>
          </div>
        ))}
        {meanwhile.length > 0 && (
          <div class="group">
            <h3>{t("shop-asked-meanwhile")}</h3>
            <ul class="rows">
              {meanwhile.map((one) => (
                <li key={one.id} class="line-row">
                  <Plate order={orders.value.get(one.order)} />
                  <p>
                    {t("shop-asked-sentence", {
                      from: inSentence(departmentName(one.from)),
                      to: inSentence(departmentName(one.to)),
                      what: words(one.title),
                      time: said(one.asked_at, now),
                    })}
                  </p>
                </li>
              ))}
            </ul>
          </div>
        )}
        </div>
      </Part>
      </div>
      {wide.value && strings}
          <Part title={t("shop-holds")} name="holds" count={held.length}>
            {held.length === 0 && (
              <p class="quiet">
                {t("shop-holds-none")} {!onWall && <a href="/setup/equipment">{t("shop-to-setup")}</a>}
              </p>
            )}
            <ul class="rows">
              {held.map((one) => (
                <HeldRow key={one.equipment.id} held={one} now={now} />
              ))}
            </ul>
          </Part>
      {!wide.value && strings}
    </>
  );
}

/** `count`: how many there are, for where not all are seen at once. */
function Part({ title, name, count = 0, children }: { title: string; name: string; count?: number; children: ComponentChildren }) {
  return (
    <section class={`part part-${name}`} aria-labelledby={`part-${name}`}>
      <h2 id={`part-${name}`}>
        {title}
        {count > 0 && <span class="quiet">: {count}</span>}
      </h2>
      {children}
    </section>
  );
}

function WaitRow({ wait, now }: { wait: Wait; now: Ms }) {
  return (
    <li class="line-row">
      <Plate order={wait.order} />
      <p>
        {waitSentence(wait, now)}
        {wait.card && <span class="quiet"> {words(wait.card.title)}.</span>}
      </p>
      <p class="figure-end">{length(now - wait.since)}</p>
    </li>
  );
}

/** `by90`: when it is finished nine times out of ten, where that is known. */
function LateRow({ late: one, now, by90 }: { late: Late; now: Ms; by90: Ms | undefined }) {
  const overdue = one.promise !== undefined && one.promise <= now;
  const line = (link: LateLink, i: number) => (
    <li key={i}>
      {link.card && (
        <>
          {t(i === 0 ? "shop-because" : "shop-because-then")} {words(link.card.title)} <span class="quiet">({inSentence(departmentName(link.card.department))})</span>:{" "}
        </>
      )}
      {binding(link.binding, link.card)}
    </li>
  );
  return (
    <li class="line-row">
      <Plate order={one.order} />
      <div class="stack-small">
        <p>
          <span class="late">{lateWords(one.promise, one.lateMinutes, now)}</span>{" "}
          {one.promise !== undefined && !overdue && `${t("shop-promised", { time: said(one.promise, now) })} `}
          {one.finish === undefined
            ? t("shop-no-finish")
            : t(overdue ? "shop-ready-late" : "shop-ready-about", { time: about(one.finish, now), length: length(one.lateMinutes * 60_000) })}{" "}
          {by90 !== undefined && <b>{t("shop-nine-of-ten", { time: about(by90, now) })}</b>}
        </p>
        <ul class="why">{one.causes.map(line)}</ul>
        {one.chain.length > one.causes.length && (
          <details>
            <summary>{t("shop-why-more", { count: one.chain.length })}</summary>
            <ol class="why">{one.chain.map(line)}</ol>
          </details>
        )}
        <LateHelp late={one} by90={by90} />
      </div>
    </li>
  );
}

function HeldRow({ held, now }: { held: Held; now: Ms }) {
  const sentences: string[] = [];
  if (held.order) {
    if (held.open) sentences.push(t("shop-held-open", { open: named("open", held.open) }));
    for (const card of held.working) {
      sentences.push(t("shop-held-working", { card: words(card.title), person: personName(card.spans.findLast((span) => !span.to)?.person ?? card.taken_by) }));
    }
    if (held.working.length === 0) {
      sentences.push(
        held.waitsFor
          ? t("shop-held-waits", {
              card: words(held.waitsFor.card.title),
              department: inSentence(departmentName(held.waitsFor.card.department)),
              time: about(Math.max(held.waitsFor.at, now), now),
            })
          : t("shop-held-idle"),
      );
    }
    if (held.until !== undefined && held.until > now) sentences.push(t("shop-held-until", { time: about(held.until, now) }));
  } else if (held.outUntil !== undefined) {
    sentences.push(t("shop-out-of-service", { time: said(held.outUntil, now), reason: held.outReason ?? "" }).trim());
  } else sentences.push(t("shop-held-free"));
  if (held.next) sentences.push(t("shop-held-next", { number: held.next.order.number, time: about(Math.max(held.next.at, now), now) }));
  return (
    <li class="line-row">
      <span class="plate">
        <b class="tool">{equipmentName(held.equipment.id)}</b>
        {held.order && (
          <a href={`/vehicle/${held.order.id}`}>
            {held.order.number} <span class="quiet">{held.order.vehicle}</span>
          </a>
        )}
      </span>
      <p>
        {sentences.join(" ")}{" "}
        {held.order && held.open && plans(me.value?.role) && canCloseUp(cards.value, held.order, held.open) && (
          <a class="no-print" href={`/shop/what-if?close=${held.order.id}/${held.open}`}>
            {t("shop-help-close")}
          </a>
        )}
        {held.inspectionDue !== undefined && <span class="late"> {t("shop-inspection-due", { time: said(held.inspectionDue, now) })}</span>}
      </p>
      {held.since !== undefined && <p class="figure-end">{t("shop-held-for", { length: length(now - held.since) })}</p>}
    </li>
  );
}

function groupTitle(of: string): string {
  if (of === "outside" || of === "unknown") return t(`shop-group-${of}`);
  return departments.value.has(of) ? departmentName(of) : of;
}

function countsSentence(all: ReturnType<typeof seen>): string {
  const counts = inShop(all).sort((a, b) => departmentRank(a.row) - departmentRank(b.row));
  const total = counts.reduce((sum, one) => sum + one.count, 0);
  const where = counts.filter((one) => one.row).map((one) => `${rowName(one.row)} ${one.count}`).join(", ");
  const expected = all.filter((one) => one.order.stage === "expected").length;
  return [t("shop-counts", { count: total, where }), expected ? t("shop-counts-expected", { count: expected }) : ""].filter(Boolean).join(" ");
}
