// One vehicle. First what one looks for: place, condition, what is open, the promise, the main act; then its trip,
// what is to be done, what was said about it.
import "../kit/picture.css";
import type { Handoff, Note, Order } from "../../api/types";
import { plans } from "../../core/cards";
import { isOver } from "../../core/effects";
import { mayAnswer } from "../../core/roles";
import { notYetOf } from "../../model/asking";
import {
  cards,
  cursor,
  exceptions,
  handoffs,
  me,
  notes,
  now,
  orders,
  photos,
  plan,
  t,
  touched,
  words,
} from "../../state";
import { TripLine } from "../charts";
import { inSentence } from "../../text/names";
import type { ScreenProps } from "../kit/lazy";
import { perform } from "../kit/do";
import {
  openAddCard,
  openAnswer,
  openAsk,
  openCancel,
  openCondition,
  openEnergy,
  openEquipment,
  openFound,
  openHold,
  openHoldDue,
  openMove,
  openNote,
  openPromise,
  openStage,
} from "../sheets/open";
import { Picture } from "../kit/picture";
import { at, department, facts, handoffLife, holding, person, title, whereabouts } from "../../text/sentences";
import { Camera } from "../kit/camera";
import { VehicleHead } from "../kit/vehicle-head";
import { NotSent } from "../kit/card-head";
import { Signs } from "../kit/signs";
import { Dates, Loops, Pending } from "./vehicle-top";
import { First, firstOf, leftOf, WorkLeft } from "./vehicle-work";

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
  const first = firstOf(order, leftOf(all));
  const need = (
    <button class="button full need" onClick={() => openAsk(order)}>
      {t("need-something")}
    </button>
  );
  return (
    <section class="page vehicle">
      <div class="first-screen">
        <div class="stack first-facts">
          <VehicleHead order={order} level={1} />
          <div class="stack tight">
            <p>
              {whereabouts(order)} <NotSent of={`order/${order.id}`} />
            </p>
            {order.holds
              .filter((hold) => hold.ended == null)
              .map((hold) => (
                <p key={hold.id}>
                  <strong>{holding(hold.what, hold.due)}</strong> {hold.note}
                </p>
              ))}
            {order.energy.high_voltage !== "none" && (
              <p>
                <strong>{t(`energy-${order.energy.high_voltage}`)}</strong>
              </p>
            )}
            {(order.taken_back ?? []).map((one) => (
              <p key={one.reached_at}>
                {t("taken-back-line", { person: person(one.by), at: at(one.at), said: at(one.reached_at) })}{" "}
                <span class="typed">{one.reason}</span>
              </p>
            ))}
            {order.weight_reason && (
              <p>{t(order.weight > 2 ? "urgent" : "less-urgent", { reason: order.weight_reason })}</p>
            )}
          </div>
          <Signs of={order.condition} />
          <Loops order={order} all={all} />
          <Pending asks={asks} />
          <Dates order={order} planner={planner} />
        </div>
        <div class="first-act">{first ? <First card={first} order={order} planner={planner} /> : need}</div>
        <div class="stack first-trip">
          <Exceptions order={order} />
          <TripLine order={order} cards={all} handoffs={asks} plan={plan.value} now={now.value} />
          {first && need}
        </div>
      </div>
      <div class="two">
        <div class="stack">
          <FoundHere order={order} />
          <WorkLeft order={order} all={all} first={first} planner={planner} />
        </div>
        <div class="stack">
          <Said order={order} />
          <Pictures order={order} />
          <FactsOf order={order} />
          <Asks asks={asks} />
          {(planner || me.value?.role === "parts") && <Holds order={order} planner={planner} />}
          {planner && <Planning order={order} />}
        </div>
      </div>
    </section>
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
                {t("asked-line", {
                  person: person(one.asked_by),
                  from: department(one.from),
                  to: inSentence(department(one.to)),
                  at: at(one.asked_at),
                })}{" "}
                {handoffLife(one)}
              </p>
              {one.joined && <p class="quiet">{t("asked-joined")}</p>}
              {one.for_card && <p class="quiet">{t("asked-for-card", { card: title(one.for_card) })}</p>}
              {one.not_yet && (
                <p>
                  <strong>{t("not-yet-line")}</strong> {notYet(one.not_yet)}
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

/** Chosen phrases in the reader's language, what was typed as it was typed. */
function notYet(text: string): string {
  const { chosen, typed } = notYetOf(text);
  return [...chosen.map((one) => `${t(`do-not-${one}`)}.`), typed].filter(Boolean).join(" ");
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

const saidOf = (order: Order): Note[] =>
  [...notes.value.values()].filter((one) => one.order === order.id).sort((a, b) => b.at - a.at);

function OneNote({ note }: { note: Note }) {
  return (
    <li>
      {note.found && <strong>{t(`found-${note.found}`)}. </strong>}
      <span class="typed">{note.body}</span>
      <p class="quiet small">
        {person(note.by)}, {at(note.at)}
        {note.card && `, ${title(note.card)}`} <NotSent of={`note/${note.id}`} />
      </p>
    </li>
  );
}

/** What was found changes the work, and what was said last is news: both stand before it. */
const before = (note: Note, i: number): boolean => i === 0 || note.found != null;

function FoundHere({ order }: { order: Order }) {
  const found = saidOf(order).filter(before);
  if (!found.length) return null;
  return (
    <section class="stack">
      <h2>{t("found-here")}</h2>
      <ul class="rows found-line">
        {found.map((note) => (
          <OneNote key={note.id} note={note} />
        ))}
      </ul>
    </section>
  );
}

function Said({ order }: { order: Order }) {
  return (
    <section class="stack">
      <h2>{t("notes")}</h2>
      <ul class="rows">
        {saidOf(order)
          .filter((one, i) => !before(one, i))
          .map((note) => (
            <OneNote key={note.id} note={note} />
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
  const taken = [...photos.value.values()]
    .filter((one) => one.order === order.id)
    .sort((a, b) => b.taken_at - a.taken_at);
  return (
    <section class="stack">
      <h2>{t("photos")}</h2>
      {taken.length > 0 && (
        <div class="strip">
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
              <button
                class="button"
                onClick={() =>
                  void perform("unhold", { order: order.id, hold: hold.id }, t("did-unhold", { number: order.number }))
                }
              >
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
