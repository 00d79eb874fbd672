// The order of one department's work in three stretches: what can be taken now, what comes within a day and what it
// waits for, and the rest, folded.
import { useEffect } from "preact/hooks";
import type { Card, Department } from "../../api/types";
import { can, queue, stretches, type QueueEntry } from "../../core/cards";
import { cards, cursor, departments, loadWords, me, myself, now, orders, plan, t, words } from "../../state";
import { lazy, type ScreenProps } from "../kit/lazy";
import { take } from "../kit/do";
import { arranged, useHeld, type HeldEntry } from "./held";
import { Bound, bound } from "../kit/bound";
import { Row, spanOf } from "./row";
import { openWhy } from "../sheets/open";
import { about, askedFor, department, reason } from "../../text/sentences";
import { minutes } from "../../text/time";
import { OpenStates, VehicleHead } from "../kit/vehicle-head";
import { NotSent } from "../kit/card-head";

// Whoever paints plans the booth by loads, not by cards.
const Booth = lazy(async () => {
  const [part] = await Promise.all([import("./booth"), loadWords("what-if")]);
  return part.Booth;
});

const remembered = (): string => `queue/${me.peek()?.person ?? ""}`;

/** The department whose queue was looked at last, else one's own. */
export const queueOf = (own: string): string => {
  const last = localStorage.getItem(remembered());
  return last && departments.value.get(last)?.retired === false ? last : own;
};

export function Queue({ params }: ScreenProps) {
  const of = params["department"] ?? "";
  useEffect(() => localStorage.setItem(remembered(), of), [of]);
  const entries = queue(cards.value, orders.value, plan.value, of);
  const begun = entries.filter(({ card }) => card.life !== "waiting");
  const coming = entries.filter(({ card }) => card.life === "waiting");
  return (
    <section class="page queue">
      <h1 class="visually-hidden">{t("queue-of", { department: department(of) })}</h1>
      <Tabs of={of} />
      {entries.some(({ card }) => card.equipment === "booth") && <Booth params={{}} />}
      <Stretches key={of} entries={coming} />
      {begun.length > 0 && (
        <section class="stack">
          <h2>{t("begun")}</h2>
          <ul class="lines">
            {begun.map((entry) => (
              <Row key={entry.card.id} entry={entry} span={0} />
            ))}
          </ul>
        </section>
      )}
    </section>
  );
}

function Tabs({ of }: { of: string }) {
  const own = myself.value?.department;
  const rank = (one: Department): number => (one.id === own ? -1 : one.rank);
  const all = [...departments.value.values()]
    .filter((one) => !one.retired || one.id === of)
    .sort((a, b) => rank(a) - rank(b));
  return (
    <nav class="tabs no-print" aria-label={t("department")}>
      {all.map((one) => (
        <a key={one.id} href={`/queue/${one.id}`} {...(one.id === of ? { "aria-current": "page" as const } : {})}>
          {words(one.title)}
        </a>
      ))}
    </nav>
  );
}

/** `most`: as many lines as this before what is folded; the rest is not shown at all. `under`: a heading stands above it already. */
export function Stretches({
  entries,
  most,
  large = true,
  under = false,
}: {
  entries: QueueEntry[];
  most?: number;
  large?: boolean;
  under?: boolean;
}) {
  const takeable = ({ card }: QueueEntry): boolean =>
    can(card, orders.value.get(card.order), cards.value, myself.value, now.value).take;
  const fresh = arranged(stretches(entries, orders.value, cards.value, now.value), (entry) => large && takeable(entry));
  const { shown, changed, show } = useHeld(fresh);
  const { first, now: free, soon, later } = shown;
  const some = soon.slice(0, most === undefined ? undefined : Math.max(0, most - free.length - (first ? 1 : 0)));
  if (!entries.length && !changed) return <p class="quiet">{t(cursor.value ? "nothing-comes" : "first-copy-wait")}</p>;
  return (
    <>
      {(first || free.length > 0) && (
        <section class="stack">
          <h2 {...(under ? { class: "visually-hidden" } : {})}>{t("stretch-now")}</h2>
          {first && <First entry={first} free={!first.gone && takeable(first)} />}
          {free.length > 0 && <Lines entries={free} />}
        </section>
      )}
      {some.length > 0 && (
        <section class="stack">
          <h2>{t("stretch-soon")}</h2>
          <Lines entries={some} />
        </section>
      )}
      {most === undefined && later.length > 0 && (
        <details>
          <summary>
            <h2 class="bare in-line">{t("stretch-later", { count: later.length })}</h2>
          </summary>
          <Lines entries={later} />
        </details>
      )}
      {changed && (
        <p class="changed" role="status">
          <button class="button" onClick={show}>
            {t("order-changed")}
          </button>
        </p>
      )}
    </>
  );
}

function Lines({ entries }: { entries: HeldEntry[] }) {
  const span = spanOf(entries);
  return (
    <ol class="lines">
      {entries.map((entry) => (
        <Row key={entry.card.id} entry={entry} span={span} />
      ))}
    </ol>
  );
}

/** The one thing to take next; `free` no longer, it stays where it is and cannot be taken. */
function First({ entry: { card, row }, free }: { entry: HeldEntry; free: boolean }) {
  const order = orders.value.get(card.order);
  return (
    <div class="stack-small queue-first">
      <a class="row" href={`/vehicle/${card.order}`}>
        <VehicleHead order={order} time={row ? t("about", { at: about(row.from) }) : undefined} />
        <p class="apart">
          <strong>{words(card.title)}</strong>
          <span class="quiet">{minutes(card.planned_minutes)}</span>
        </p>
      </a>
      {order && <OpenStates order={order} />}
      {row && (
        <p class="apart">
          <Bound what={bound(row.reason.binding)} />
          <button class="reason" onClick={() => openWhy(card)}>
            {t("why-title")}
            <span class="visually-hidden">: {reason(row)}</span>
          </button>
        </p>
      )}
      <NotSent of={`card/${card.id}`} />
      {!askedFor(card) && <Take card={card} free={free} />}
    </div>
  );
}

const Take = ({ card, free }: { card: Card; free: boolean }) => (
  <button class="button main" disabled={!free} onClick={() => void take(card)}>
    {t("take")}
    <span class="visually-hidden">
      : {orders.value.get(card.order)?.number} {words(card.title)}
    </span>
  </button>
);
