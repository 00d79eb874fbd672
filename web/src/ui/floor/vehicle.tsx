// One vehicle: where it stands, its trip, what is open, what is to be done, what was said about it.
import "../kit/picture.css";
import { useSignal } from "@preact/signals";
import type { Card, Handoff, Order } from "../../api/types";
import { can, plans, standing } from "../../core/cards";
import { isOver } from "../../core/effects";
import { mayAnswer } from "../../core/roles";
import {
  cards, cursor, departments, exceptions, handoffs, me, myself, notes, now, orders, photos, plan, t, touched, words,
} from "../../state";
import { TripLine } from "../charts";
import { inSentence } from "../../text/names";
import type { ScreenProps } from "../kit/lazy";
import { perform } from "../kit/do";
import { openAddCard, openAnswer, openAsk, openAssign, openCancel, openCondition, openCorrect, openEnergy, openEquipment, openFound, openHold, openHoldDue, openMove, openNote, openPromise, openPutFirst, openStage } from "../sheets/open";
import { Picture } from "../kit/picture";
import { at, department, facts, handoffLife, holding, hour, life, person, title, whereabouts } from "../../text/sentences";
import { minutes } from "../../text/time";
import { Camera } from "../kit/camera";
import { HowSure, OpenStates, PromiseLine, VehicleHead } from "../kit/vehicle-head";
import { NotSent } from "../kit/card-head";
import { Work } from "./work";

export function Vehicle({ params }: ScreenProps) {
  const order = orders.value.get(params["id"] ?? "");
  if (!order) {
    return (
      <section class="page">
        <h1>{t("no-vehicle")}</h1>
        <p>{t(cursor.value ? "no-vehicle-here" : "first-copy-wait")}</p>
        <a class="button" href="/vehicles">
          {t("vehicles")}
        </a>
      </section>
    );
  }
  const all = order.cards.map((id) => cards.value.get(id)).filter((card) => card !== undefined);
  const asks = [...handoffs.value.values()].filter((one) => one.order === order.id);
  const planner = plans(me.value?.role);
  return (
    <section class="page vehicle">
      <VehicleHead order={order} level={1} />
      <div class="stack tight">
        <p>
          {whereabouts(order)} <NotSent of={`order/${order.id}`} />
        </p>
        <OpenStates order={order} />
        {order.holds
          .filter((hold) => hold.ended == null)
          .map((hold) => (
            <p key={hold.id}>
              <strong>{holding(hold.what, hold.due)}</strong> {hold.note}
            </p>
          ))}
        <PromiseLine order={order} />
        {planner && <HowSure order={order} />}
        {order.energy.high_voltage !== "none" && <p><strong>{t(`energy-${order.energy.high_voltage}`)}</strong></p>}
        {(order.taken_back ?? []).map((one) => (
          <p key={one.reached_at}>
            {t("taken-back-line", { person: person(one.by), at: at(one.at), said: at(one.reached_at) })} <span class="typed">{one.reason}</span>
          </p>
        ))}
        {order.weight_reason && <p>{t(order.weight > 2 ? "urgent" : "less-urgent", { reason: order.weight_reason })}</p>}
      </div>
      <TripLine order={order} cards={all} handoffs={asks} plan={plan.value} now={now.value} />
      <div class="two">
        <div class="stack">
          <Exceptions order={order} />
          <Cards order={order} all={all} planner={planner} />
          <button class="button full need" onClick={() => openAsk(order)}>
            {t("need-something")}
          </button>
        </div>
        <div class="stack">
          <FactsOf order={order} />
          <Asks asks={asks} />
          {(planner || me.value?.role === "parts") && <Holds order={order} planner={planner} />}
          <Said order={order} />
          <Pictures order={order} />
          {planner && <Planning order={order} />}
        </div>
      </div>
    </section>
  );
}

/** Cards in order: what can be done now is open, what is done is folded away. */
function Cards({ order, all, planner }: { order: Order; all: readonly Card[]; planner: boolean }) {
  const done = all.filter(isOver);
  const left = all.filter((card) => !isOver(card));
  const first = left.find((card) => {
    const may = can(card, order, cards.value, myself.value, now.value);
    return may.finish || may.start;
  });
  return (
    <section class="stack">
      {first && (
        <>
          <h2>{t("for-you-now")}</h2>
          <OneCard key={first.id} card={first} order={order} planner={planner} lead />
        </>
      )}
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
                    {t("cancelled-line", { person: person(card.cancelled.by), at: at(card.cancelled.at) })} <span class="typed">{card.cancelled.reason}</span>
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

function OneCard({ card, order, lead = false, planner }: { card: Card; order: Order; lead?: boolean; planner: boolean }) {
  const may = can(card, order, cards.value, myself.value, now.value);
  const active = may.finish || may.start || may.take;
  const open = useSignal<boolean | undefined>(undefined);
  const is = standing(card, order, cards.value, now.value).is;
  return (
    <details open={open.value ?? active} onToggle={(event) => (open.value = event.currentTarget.open)}>
      <summary class="card-line">
        <span class="apart">
          <strong>{words(card.title)}</strong>
          <span class="quiet">{minutes(card.planned_minutes)}</span>
        </span>
        <span class="quiet">
          {department(card.department)}. {life(card)}
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
            <button class="button" onClick={() => void perform("edit_card", { card: card.id, change: { approved: true } }, t("did-approve"))}>
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

function FactsOf({ order }: { order: Order }) {
  const said = facts(order.condition);
  return (
    <section class="stack">
      <h2>{t("state-of-vehicle")}</h2>
      {said.length ? (
        <ul class="plain-list">
          {said.map((fact) => (
            <li key={fact}>{fact}</li>
          ))}
        </ul>
      ) : (
        <p class="quiet">{t("facts-none")}</p>
      )}
      <div class="buttons">
        <button class="button" onClick={() => openMove(order)}>
          {t("move")}
        </button>
        <button class="button" onClick={() => openCondition(order)}>
          {t("facts-change")}
        </button>
        <button class="button" onClick={() => openEquipment(order)}>
          {t("equipment-title")}
        </button>
        <button class="button" onClick={() => openEnergy(order)}>
          {t("energy")}
        </button>
      </div>
    </section>
  );
}

function Asks({ asks }: { asks: readonly Handoff[] }) {
  if (!asks.length) return null;
  return (
    <section class="stack">
      <h2>{t("asked-for")}</h2>
      <ul class="rows">
        {[...asks]
          .sort((a, b) => b.asked_at - a.asked_at)
          .map((one) => (
            <li key={one.id}>
              <p>
                <strong>{words(one.title)}</strong> <NotSent of={`handoff/${one.id}`} />
              </p>
              <p>
                {t("asked-line", { person: person(one.asked_by), from: department(one.from), to: inSentence(department(one.to)), at: at(one.asked_at) })}{" "}
                {handoffLife(one)}
              </p>
              {one.joined && <p class="quiet">{t("asked-joined")}</p>}
              {one.for_card && <p class="quiet">{t("asked-for-card", { card: title(one.for_card) })}</p>}
              {one.not_yet && (
                <p>
                  <strong>{t("not-yet-line")}</strong> {one.not_yet}
                </p>
              )}
              {one.note && <p>{one.note}</p>}
              <CallOff ask={one} />
              {facts(one.condition).length > 0 && (
                <details>
                  <summary>{t("facts-then")}</summary>
                  <p>{facts(one.condition).join(" ")}</p>
                </details>
              )}
            </li>
          ))}
      </ul>
    </section>
  );
}

/** The whole of it, as long as nothing of it is open or done: with what opens goes the rest. */
function CallOff({ ask }: { ask: Handoff }) {
  const parts = ask.cards.flatMap((id) => cards.value.get(id) ?? []);
  const first = parts.find((card) => card.opens) ?? parts[0];
  const begun = parts.some((card) => card.spans.length > 0 || card.life === "done");
  if (ask.asked_by !== me.value?.person && !plans(me.value?.role)) return null;
  if (ask.joined && parts.every(isOver) && ask.life !== "cancelled" && ask.life !== "handed_back") {
    return (
      <button class="button" onClick={() => void perform("call_off", { handoff: ask.id }, t("did-call-off"))}>
        {t("cancel-ask")}
      </button>
    );
  }
  if (!first || begun || isOver(first)) return null;
  return (
    <button class="button" onClick={() => openCancel(first)}>
      {t("cancel-ask")}
    </button>
  );
}

function Said({ order }: { order: Order }) {
  const said = [...notes.value.values()].filter((one) => one.order === order.id).sort((a, b) => b.at - a.at);
  return (
    <section class="stack">
      <h2>{t("notes")}</h2>
      <ul class="rows">
        {said.map((note) => (
          <li key={note.id}>
            {note.found && <strong>{t(`found-${note.found}`)}. </strong>}
            <span class="typed">{note.body}</span>
            <p class="quiet small">
              {person(note.by)}, {at(note.at)}
              {note.card && `, ${title(note.card)}`} <NotSent of={`note/${note.id}`} />
            </p>
          </li>
        ))}
      </ul>
      <div class="buttons">
        <button class="button" onClick={() => openNote(order)}>
          {t("note")}
        </button>
        <button class="button" onClick={() => openFound(order)}>
          {t("found")}
        </button>
      </div>
    </section>
  );
}

function Pictures({ order }: { order: Order }) {
  const taken = [...photos.value.values()].filter((one) => one.order === order.id).sort((a, b) => b.taken_at - a.taken_at);
  return (
    <section class="stack">
      <h2>{t("photos")}</h2>
      {taken.length > 0 && (
        <div class="pictures">
          {taken.map((photo) => (
            <Picture key={photo.id} photo={photo} />
          ))}
        </div>
      )}
      <Camera order={order.id} />
    </section>
  );
}

function Exceptions({ order }: { order: Order }) {
  const open = [...exceptions.value.values()].filter((one) => one.order === order.id && one.answered_at == null);
  return (
    <>
      {open.map((one) => (
        <div class="notice-line bad stack tight" key={one.id}>
          <p>
            <strong>{t(`exception-${one.kind}`)}</strong>
            {one.card && ` ${title(one.card)}.`}
          </p>
          {one.about.length > 0 && <p>{one.about.map((id) => title(id)).join("; ")}.</p>}
          <p class="quiet">
            {person(one.by)}, {at(one.since)}
          </p>
          {mayAnswer(one, me.value) ? (
            !touched.value.has(`exception/${one.id}`) && (
              <button class="button" onClick={() => openAnswer(one)}>
                {t("answer")}
              </button>
            )
          ) : (
            <p class="quiet">{t("answers", { person: one.owner ? person(one.owner) : t("a-planner") })}</p>
          )}
        </div>
      ))}
    </>
  );
}

/** What keeps it, for who sees to that: parts come, or on another day. */
function Holds({ order, planner }: { order: Order; planner: boolean }) {
  return (
    <section class="stack no-print">
      <h2>{t("holds-title")}</h2>
      {order.holds
        .filter((hold) => hold.ended == null && (planner || hold.what !== "approval"))
        .map((hold) => (
          <div class="stack" key={hold.id}>
            <p>{holding(hold.what, hold.due)}</p>
            <div class="buttons">
              <button class="button" onClick={() => void perform("unhold", { order: order.id, hold: hold.id }, t("did-unhold", { number: order.number }))}>
                {t("unhold")}
              </button>
              <button class="button" onClick={() => openHoldDue(order, hold)}>
                {t("hold-due-other")}
              </button>
            </div>
          </div>
        ))}
      <p>
        <button class="button" onClick={() => openHold(order)}>
          {t("hold")}
        </button>
      </p>
    </section>
  );
}

function Planning({ order }: { order: Order }) {
  return (
    <section class="stack no-print">
      <h2>{t("planning")}</h2>
      {order.vin && (
        <p>
          {t("vin")} {order.vin} {order.vin_doubtful && <strong>{t("vin-doubtful")}</strong>}
        </p>
      )}
      <div class="buttons">
        <button class="button" onClick={() => openPromise(order)}>
          {t("promise")}
        </button>
        <button class="button" onClick={() => openStage(order)}>
          {t("stage")}
        </button>
        <button class="button" onClick={() => openAddCard(order)}>
          {t("add-card")}
        </button>
      </div>
    </section>
  );
}
