// The order of one department's work, each place with its reason; a tapped reason shows the chain.
import { useSignal } from "@preact/signals";
import type { Card, PlanRow, PlanVehicle } from "../../api/types";
import { can, queue, rowOf, waiting, type QueueEntry } from "../../core/cards";
import { cards, cursor, departments, loadWords, myself, now, orders, plan, t, words } from "../../state";
import { lazy, type ScreenProps } from "../lazy";
import { go } from "../router";
import { take } from "./do";
import { length } from "../draw/say";
import { about, askedFor, at, binding, department, life, minutes, number, reason, title } from "./say";
import { openSheet } from "./sheet";
import { OpenStates, VehicleHead } from "./vehicle-head";
import { NotSent } from "./work";

// Whoever paints plans the booth by loads, not by cards.
const Booth = lazy(async () => {
  const [part] = await Promise.all([import("./booth"), loadWords("what-if")]);
  return part.Booth;
});

export function Queue({ params }: ScreenProps) {
  const of = params["department"] ?? "";
  const entries = queue(cards.value, orders.value, plan.value, of);
  const begun = entries.filter(({ card }) => card.life !== "waiting");
  const coming = entries.filter(({ card }) => card.life === "waiting");
  const all = [...departments.value.values()].filter((one) => !one.retired).sort((a, b) => a.rank - b.rank);
  return (
    <section class="page">
      <h1>{t("queue-of", { department: department(of) })}</h1>
      <div class="field no-print">
        <label for="queue-of">{t("department")}</label>
        <select id="queue-of" value={of} onChange={(event) => go(`/queue/${event.currentTarget.value}`, true)}>
          {all.map((one) => (
            <option value={one.id} key={one.id}>
              {words(one.title)}
            </option>
          ))}
        </select>
      </div>
      {begun.length > 0 && (
        <section class="stack">
          <h2>{t("begun")}</h2>
          <ul class="rows">
            {begun.map((entry) => (
              <Row key={entry.card.id} entry={entry} />
            ))}
          </ul>
        </section>
      )}
      {entries.some(({ card }) => card.equipment === "booth") && <Booth params={{}} />}
      <section class="stack">
        <h2>{t("in-order")}</h2>
        {coming.length ? (
          <ol class="rows">
            {coming.map((entry) => (
              <Row key={entry.card.id} entry={entry} />
            ))}
          </ol>
        ) : (
          <p class="quiet">{t(cursor.value ? "nothing-comes" : "first-copy-wait")}</p>
        )}
      </section>
    </section>
  );
}

/** One place in a queue: vehicle, what, about when, and why here. */
export function Row({ entry: { card, row } }: { entry: QueueEntry }) {
  const order = orders.value.get(card.order);
  const may = can(card, order, cards.value, myself.value, now.value);
  const begun = card.life !== "waiting";
  return (
    <li class="queue-row">
      <a class="row" href={`/vehicle/${card.order}`}>
        <VehicleHead order={order} time={row && !begun ? t("about", { at: about(row.from) }) : undefined} />
        <p class="apart">
          <span>{words(card.title)}</span>
          <span class="quiet">{minutes(card.planned_minutes)}</span>
        </p>
      </a>
      {row && !begun && <Marks row={row} />}
      {order && <OpenStates order={order} />}
      {begun || !row ? (
        <p>
          {life(card)} {!row && !begun && t("no-place-yet")} <NotSent of={`card/${card.id}`} />
        </p>
      ) : (
        <>
          <button class="reason" onClick={() => openSheet(t("why-title"), <Chain card={card} />)}>
            {reason(row)}
          </button>
          <NotSent of={`card/${card.id}`} />
        </>
      )}
      {may.take && !askedFor(card) && (
        <button class="button" onClick={() => void take(card)}>
          {t("take")}
          <span class="visually-hidden">
            : {order?.number} {words(card.title)}
          </span>
        </button>
      )}
    </li>
  );
}

const DAY_MS = 86_400_000;

/** Two marks to one scale, a day across: how long until then, how long the work. Longer waits break. */
function Marks({ row }: { row: PlanRow }) {
  const share = (ms: number): number => Math.max(0, Math.min(100, (ms / DAY_MS) * 100));
  const wait = row.from - now.value;
  const breaks = wait > DAY_MS * 0.7;
  const start = breaks ? 72 : share(wait);
  const end = Math.min(100, start + Math.max(1.5, share(row.to - row.from)));
  return (
    <svg class="marks" viewBox="0 0 100 8" preserveAspectRatio="none" width="100%" height="10" aria-hidden="true">
      {start > 0.5 && <line x1="0" y1="4" x2={start} y2="4" class="gap" />}
      {breaks && <path d="M34 1 32.5 7M36.5 1 35 7" class="gap" />}
      <line x1={start} y1="4" x2={end} y2="4" class="thick" />
    </svg>
  );
}

/** Why here: from this card back to what it all hangs on. */
export function Chain({ card }: { card: Card }) {
  const vehicle = plan.value?.vehicles.find((one) => one.order === card.order);
  const row = rowOf(plan.value, card.id);
  const steps = chainOf(card);
  // What is late asks for the whole story.
  const all = useSignal((vehicle?.late_minutes ?? 0) > 0);
  return (
    <div class="stack">
      {row && <p>{reason(row)}</p>}
      <h3>{t("why-chain")}</h3>
      <ol class="rows">
        {steps.map((step) => (
          <li key={step.card.id}>
            <strong>
              {orders.value.get(step.card.order)?.number} {title(step.card.id)}
            </strong>
            <p>{step.why}</p>
          </li>
        ))}
      </ol>
      {vehicle && vehicle.chain.length > 0 && (
        <details open={all.value}>
          <summary>{t("why-finish")}</summary>
          <p>
            <strong>{finish(vehicle)}</strong>
          </p>
          <ol class="rows">
            {vehicle.chain.map((link) => (
              <li key={link.card}>
                <strong>
                  {number(cards.value.get(link.card)?.order)} {title(link.card)}
                </strong>
                <p>{binding(link.binding, cards.value.get(link.card))}</p>
              </li>
            ))}
          </ol>
        </details>
      )}
      <a class="button full" href={`/vehicle/${card.order}`}>
        {t("to-vehicle", { number: orders.value.get(card.order)?.number ?? "" })}
      </a>
    </div>
  );
}

/** What the chain is the story of. */
function finish({ finish, promise, late_minutes }: PlanVehicle): string {
  return [
    finish == null ? "" : t("ready-about", { at: about(finish) }),
    promise == null ? "" : t("promised", { at: at(promise) }),
    late_minutes > 0 ? t("why-late", { length: length(late_minutes * 60_000) }) : "",
  ]
    .filter(Boolean)
    .join(" ");
}

/** Follows what kept each card from being earlier, as far as the plan says. */
function chainOf(from: Card): { card: Card; why: string }[] {
  const steps: { card: Card; why: string }[] = [];
  const seen = new Set<string>();
  let card: Card | undefined = from;
  while (card && !seen.has(card.id) && steps.length < 12) {
    seen.add(card.id);
    const row = rowOf(plan.value, card.id);
    steps.push({ card, why: row ? binding(row.reason.binding, card) : life(card) });
    const bound = row?.reason.binding;
    if (bound && (bound.kind === "after" || bound.kind === "vehicle")) card = cards.value.get(bound.card);
    else if (!row) {
      const is = waiting(card, orders.value.get(card.order), cards.value, now.value);
      card = is.is === "after" ? cards.value.get(is.cards[0] ?? "") : undefined;
    } else card = undefined;
  }
  return steps;
}
