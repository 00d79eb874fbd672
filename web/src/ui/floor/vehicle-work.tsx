// The work on a vehicle, in the order of its trip, with all one can do to each of it.
import { useSignal } from "@preact/signals";
import type { Card, Order } from "../../api/types";
import { can, standing } from "../../core/cards";
import { isOver } from "../../core/effects";
import { inTripOrder } from "../../model/vehicle";
import { cards, departments, handoffs, me, myself, notes, now, plan, t, words } from "../../state";
import { perform } from "../kit/do";
import { openAssign, openCancel, openCorrect, openFound, openNote, openPutFirst } from "../sheets/open";
import { at, department, hour, life, person } from "../../text/sentences";
import { minutes } from "../../text/time";
import { Work } from "./work";

/** What is left, in the order of the trip. */
export const leftOf = (all: readonly Card[]): Card[] =>
  inTripOrder(
    all.filter((card) => !isOver(card)),
    plan.value,
  );

/** The one thing this person would do here: what they have in hand, else what they may take first. */
export function firstOf(order: Order, left: readonly Card[]): Card | undefined {
  const may = (card: Card) => can(card, order, cards.value, myself.value, now.value);
  return (
    left.find((card) => may(card).finish || may(card).pause) ??
    left.find((card) => may(card).start) ??
    left.find((card) => may(card).take)
  );
}

/** The main act, and all that goes with it behind one line. */
export function First({ card, order, planner }: { card: Card; order: Order; planner: boolean }) {
  return (
    <section class="stack tight first" key={card.id}>
      <OneCard card={card} order={order} planner={planner} lead />
    </section>
  );
}

/** Work in the order of the trip: what can be done now is open, what is done is folded away. */
export function WorkLeft({
  order,
  all,
  first,
  planner,
}: {
  order: Order;
  all: readonly Card[];
  first: Card | undefined;
  planner: boolean;
}) {
  const done = all.filter(isOver);
  const left = leftOf(all);
  return (
    <section class="stack">
      <h2>{t("work-left")}</h2>
      {!left.length && <p class="quiet">{t("nothing-left")}</p>}
      <ol class="rows">
        {left
          .filter((card) => card !== first)
          .map((card) => (
            <li key={card.id}>
              <OneCard card={card} order={order} planner={planner} />
            </li>
          ))}
      </ol>
      {done.length > 0 && (
        <details>
          <summary>{t("cards-done", { count: done.length })}</summary>
          <ol class="rows">
            {done.map((card) => (
              <li key={card.id}>
                <p class="apart">
                  <strong>{words(card.title)}</strong>
                  <span class="quiet">{department(card.department)}</span>
                </p>
                <p>{life(card)}</p>
                {card.cancelled && (
                  <p class="quiet">
                    {t("cancelled-line", { person: person(card.cancelled.by), at: at(card.cancelled.at) })}{" "}
                    <span class="typed">{card.cancelled.reason}</span>
                  </p>
                )}
                <Spans card={card} />
              </li>
            ))}
          </ol>
        </details>
      )}
    </section>
  );
}

function OneCard({
  card,
  order,
  lead = false,
  planner,
}: {
  card: Card;
  order: Order;
  lead?: boolean;
  planner: boolean;
}) {
  const may = can(card, order, cards.value, myself.value, now.value);
  const active = may.finish || may.start || may.take;
  const open = useSignal<boolean | undefined>(undefined);
  const is = standing(card, order, cards.value, now.value).is;
  const said = [...notes.value.values()].filter((note) => note.card === card.id).length;
  return (
    <details open={open.value ?? active} onToggle={(event) => (open.value = event.currentTarget.open)}>
      <summary class="card-line">
        <span class="apart">
          <strong>{words(card.title)}</strong>
          <span class="quiet">{minutes(card.planned_minutes)}</span>
        </span>
        <span class="quiet">
          {department(card.department)}. {life(card)}
          {said > 0 && <strong> {t("notes-count", { count: said })}</strong>}
        </span>
      </summary>
      <div class="stack card-body">
        <Work card={card} lead={lead} bare />
        <Spans card={card} />
        <div class="buttons">
          <button class="button" onClick={() => openNote(order, card)}>
            {t("note")}
          </button>
          <button class="button" onClick={() => openFound(order, card)}>
            {t("found")}
          </button>
          {planner && is !== "working" && (
            <button class="button" onClick={() => openPutFirst(card)}>
              {t("put-first")}
            </button>
          )}
          {planner && card.put_first && (
            <button class="button" onClick={() => void perform("put_back", { card: card.id }, t("did-put-back"))}>
              {t("put-back")}
            </button>
          )}
          {planner && (
            <button class="button" onClick={() => openAssign(card)}>
              {t("assign")}
            </button>
          )}
          {planner && card.life === "proposed" && (
            <button
              class="button"
              onClick={() => void perform("edit_card", { card: card.id, change: { approved: true } }, t("did-approve"))}
            >
              {t("approve")}
            </button>
          )}
          {mayCancel(card, planner) && (
            <button class="button" onClick={() => openCancel(card)}>
              {t("cancel-card")}
            </button>
          )}
        </div>
      </div>
    </details>
  );
}

/** A planner, who asked for it, or who answers for the department while no planner is there; the server says the rest. */
function mayCancel(card: Card, planner: boolean): boolean {
  if (card.life === "working") return false;
  const own = me.value?.person;
  const asked = card.handoff ? handoffs.value.get(card.handoff)?.asked_by : undefined;
  const deputy = departments.value.get(card.department)?.deputies.includes(own ?? "") ?? false;
  return planner || (own !== undefined && asked === own) || deputy;
}

/** Who worked when; own times can be set right. */
function Spans({ card }: { card: Card }) {
  if (!card.spans.length) return null;
  const own = me.value?.person;
  return (
    <ul class="spans">
      {card.spans.map((span) => (
        <li key={span.id} class="apart">
          <span>
            {person(span.person)} {at(span.from)}–{span.to == null ? t("running") : hour(span.to)}
            {span.corrected && ` ${t("corrected")}`}
            {span.uncertain && ` ${t("uncertain")}`}
          </span>
          {span.person === own && (
            <button class="button plain" onClick={() => openCorrect(card, span)}>
              {t("correct")}
            </button>
          )}
        </li>
      ))}
    </ul>
  );
}
