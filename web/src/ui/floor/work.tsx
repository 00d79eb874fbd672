// One card as its holder or a passer-by sees it: what, how long, what it waits for, what can be done.
import { useSignal } from "@preact/signals";
import type { Card, PauseWhy } from "../../api/types";
import { can, rowOf } from "../../core/cards";
import { undoneInside } from "../../core/close-up";
import { against, certain, toChoose } from "../../core/equipment";
import { cards, equipment, myself, now, orders, places, plan, reach, t, touched, words } from "../../state";
import { CardHead, NotSent } from "../kit/card-head";
import { Cautions } from "../kit/caution";
import { finish, giveBack, help, pause, start, take } from "../kit/do";
import { openStartOn } from "../sheets/open";
import { Elapsed } from "./elapsed";
import { life, named, reason, title } from "../../text/sentences";
import { closeSheet, openSheet } from "../kit/sheet";

/** The card with everything one can do to it. `lead`: its next act is the largest thing on the screen; `bare`: title and state stand above it already. */
export function Work({ card, lead = false, bare = false }: { card: Card; lead?: boolean; bare?: boolean }) {
  const order = orders.value.get(card.order);
  const may = can(card, order, cards.value, myself.value, now.value);
  const row = rowOf(plan.value, card.id);
  const main = lead ? "button main" : "button";
  const begun = card.life === "working";
  return (
    <div class="work stack">
      <div>
        {!bare && <CardHead card={card} />}
        {(!bare || touched.value.has(`card/${card.id}`)) && (
          <p>
            {!bare && life(card)} <NotSent of={`card/${card.id}`} />
          </p>
        )}
        {begun && lead && <Elapsed card={card} />}
        {row && !begun && !lead && <p class="quiet">{reason(row)}</p>}
        {card.put_first && !row && <p class="quiet">{t("is-put-first", { reason: card.put_first.reason })}</p>}
        {!lead && opensOrCloses(card)}
      </div>
      {!lead && (may.start || may.take || may.finish) && <Cautions of={card.cautions} />}
      {(may.start || may.take) && <Against card={card} />}
      {may.take && (
        <button class={main} onClick={() => void take(card)}>
          {t("take")}
        </button>
      )}
      {(may.start || may.pause || may.finish || may.giveBack) && (
        <div class="begin-end">
          {may.start && (
            <button class={`begin ${may.finish ? "button" : main}`} onClick={() => begin(card)}>
              {t(card.spans.length ? "go-on" : "start")}
            </button>
          )}
          {may.pause && (
            <button class="begin button" onClick={() => openSheet(t("pause-title"), <Pauses card={card} />)}>
              {t("pause")}
            </button>
          )}
          {may.finish && (
            <button class={`end ${main}`} onClick={() => void askFinish(card)}>
              {t("finish")}
            </button>
          )}
          {may.giveBack && (
            <button class="end button" onClick={() => void giveBack(card)}>
              {t("give-back")}
            </button>
          )}
        </div>
      )}
      {lead && opensOrCloses(card)}
      {lead && <Cautions of={card.cautions} folded={!begun} />}
      {may.help && (
        <button class="button full" onClick={() => void help(card)}>
          {t("help")}
        </button>
      )}
    </div>
  );
}

/** Which lift is asked where more than one fits and none is certain; work that goes on is where it was. */
function begin(card: Card): unknown {
  const order = orders.peek().get(card.order);
  const shop = { equipment: equipment.peek(), orders: orders.peek(), places: places.peek() };
  const choice = order ? toChoose(shop, order, card, now.peek()) : [];
  if (!choice.length) return start(card);
  const goesOn = card.spans.length > 0 && choice[0]?.id === card.used;
  return goesOn ? start(card, card.used ?? undefined) : openStartOn(card);
}

/** What should keep the vehicle off the equipment it would be worked on. */
function Against({ card }: { card: Card }) {
  const order = orders.value.get(card.order);
  const shop = { equipment: equipment.value, orders: orders.value, places: places.value };
  const on = order && equipment.value.get(certain(shop, order, card) ?? "");
  const kinds = order && on ? against(order, on, now.value) : [];
  return kinds.length && on ? (
    <p class="notice-line bad">
      {words(on.title)}: {kinds.map((kind) => t(`against-${kind}`)).join(" ")}
    </p>
  ) : null;
}

function opensOrCloses(card: Card) {
  const said: string[] = [];
  if (card.opens) said.push(t("card-opens", { open: named("open", card.opens) }));
  if (card.inside) said.push(t("card-inside", { open: named("open", card.inside) }));
  if (card.closes) said.push(t("card-closes", { open: named("open", card.closes) }));
  if (card.one_go) said.push(t("card-one-go"));
  if (card.qualification)
    said.push(t("card-qualification", { qualification: named("qualification", card.qualification) }));
  return said.length ? <p class="quiet small">{said.join(" ")}</p> : null;
}

const WHYS: PauseWhy[] = ["break", "end_of_shift", "parts", "help", "question", "other_work"];

function Pauses({ card }: { card: Card }) {
  return (
    <div class="stack">
      {WHYS.map((why) => (
        <button class="button full" key={why} onClick={() => void pause(card, why)}>
          {t(`pause-${why}-button`)}
        </button>
      ))}
    </div>
  );
}

function askFinish(card: Card): unknown {
  if (!card.checks.length && !card.closes && !card.opens) return finish(card, []);
  return openSheet(t("finish-title", { card: words(card.title) }), <Finish card={card} />);
}

/** Before it is called done: what was looked at, and that nothing hidden is forgotten. */
function Finish({ card }: { card: Card }) {
  const done = useSignal<readonly number[]>([]);
  const order = orders.value.get(card.order);
  const undone = card.closes && order ? undoneInside(cards.value, order, card.closes) : [];
  const send = (): unknown =>
    finish(
      card,
      [...done.value].sort((a, b) => a - b),
    );
  return (
    <div class="stack">
      <Cautions of={card.cautions} />
      {undone.length > 0 && (
        <div class="notice-line bad" role="alert">
          <p>
            <strong>{t("closing-over-undone")}</strong>
          </p>
          <ul>
            {undone.map((inside) => (
              <li key={inside.id}>{title(inside.id)}</li>
            ))}
          </ul>
          <p>{t(reach.value.live ? "closing-stopped" : "closing-offline")}</p>
        </div>
      )}
      {card.opens && <p>{t("finish-opens", { open: named("open", card.opens) })}</p>}
      {card.checks.length > 0 && (
        <fieldset class="choices">
          <legend>{t("checks")}</legend>
          {card.checks.map((check, i) => (
            <label class="choice" key={i}>
              <input
                type="checkbox"
                checked={done.value.includes(i)}
                onChange={() =>
                  (done.value = done.value.includes(i) ? done.value.filter((one) => one !== i) : [...done.value, i])
                }
              />
              {words(check)}
            </label>
          ))}
        </fieldset>
      )}
      {done.value.length < card.checks.length && (
        <p class="quiet">{t("checks-left", { count: card.checks.length - done.value.length })}</p>
      )}
      {undone.length ? (
        <div class="stack">
          <button class="button main" onClick={closeSheet}>
            {t("close-not-yet")}
          </button>
          <button class="button full" onClick={() => void send()}>
            {t("closed-all-the-same")}
          </button>
        </div>
      ) : (
        <div class="begin-end">
          <button class="begin button" onClick={closeSheet}>
            {t("close-not-yet")}
          </button>
          <button class="end button main" onClick={() => void send()}>
            {t("finish")}
          </button>
        </div>
      )}
    </div>
  );
}
