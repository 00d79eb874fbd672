// Asking another department for something, in three taps: that something is needed, what, Ask. Everything else is
// there already or may be said: photo first, condition as signs, what must not be done as phrases. A draft is kept
// all the while, and before the camera opens.
import "./ask.css";
import { effect, useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import type { Card, ConditionChange, Handoff, Order, Routing } from "../../api/types";
import { canBeLaidOut } from "../../core/ask";
import { changeCondition, isOver } from "../../core/effects";
import { newId } from "../../core/ids";
import { db } from "../../db";
import { byAsked, DO_NOTS, markOf, notYetText, placeOf, withdrawal, type DoNot } from "../../model/asking";
import type { SignName } from "../../model/signs";
import { act, cards, departments, handoffs, myself, orders, plan, routings, t, unsent, words } from "../../state";
import { keep, type Picture } from "../../photos/take";
import { inSentence } from "../../text/names";
import { AnyOf, OneOf } from "../kit/choices";
import { orSay } from "../kit/do";
import { useDraft } from "../kit/draft";
import { CameraButton, sayNotKept } from "../kit/picture";
import { placed } from "../kit/placed";
import { closeSheet, say } from "../kit/sheet";
import { Signs } from "../kit/signs";
import { department, named, title } from "../../text/sentences";
import { Mark } from "./ask-marks";
import { FactChoices, Text } from "./vehicle";

interface Draft {
  routing?: string;
  forCard?: string;
  note: string;
  notYet: string;
  doNot: DoNot[];
  change: ConditionChange;
  pictures: Picture[];
}

export function Ask({ order, card }: { order: Order; card?: Card | undefined }) {
  const me = myself.value;
  const own = ownCards(order, me?.department, card);
  const draft = useDraft<Draft>(`ask:${order.id}`, {
    note: "",
    notYet: "",
    doNot: [],
    change: {},
    pictures: [],
    // Nothing but the card in hand: what else waits for it the person says.
    ...(card && own.includes(card) ? { forCard: card.id } : {}),
  });
  const { routing: chosen, forCard, note, notYet, doNot, change, pictures } = draft.value.value;
  const routing = chosen ? routings.value.get(chosen) : undefined;
  const sign = useSignal<SignName | undefined>(undefined);
  if (!me) return null;

  const send = async (): Promise<void> => {
    if (!routing) return;
    const id = newId();
    const not_yet = notYetText(doNot, notYet);
    const args = {
      order: order.id,
      routing: routing.id,
      from: me.department,
      ...(forCard ? { for_card: forCard } : {}),
      after: [],
      ...(note.trim() ? { note: note.trim() } : {}),
      ...(not_yet ? { not_yet } : {}),
      condition: change,
      minutes: {},
    };
    try {
      await act("ask", args, { id });
    } catch {
      say(t("not-kept"));
      return;
    }
    closeSheet();
    const said = t("did-ask", {
      what: words(routing.title),
      department: inSentence(department(routing.steps[0]?.department)),
    });
    const made = handoffs.peek().get(id);
    // What needs a reason to be called off has its button at the vehicle.
    const may = made && ways(made).length > 0;
    sayWhere(id, say(said, may ? () => void takeBack(id) : undefined));
    for (const picture of pictures) await act("photo", { order: order.id, handoff: id, ...picture });
    await draft.done();
  };

  if (!routing) {
    return <Library onChoose={(to) => draft.set({ routing: to.id })} />;
  }
  return (
    <div class="ask stack">
      <div class="ask-head">
        <Mark of={markOf(routing)} />
        <strong>{words(routing.title)}</strong>
        <button class="button plain" onClick={() => draft.set({ routing: undefined as never })}>
          {t("ask-other")}
        </button>
      </div>
      <Joins order={order} routing={routing} />
      <Photos pictures={pictures} of={() => draft.value.peek().pictures} set={(to) => draft.set({ pictures: to })} />
      <Signs
        of={changeCondition(order.condition, change)}
        open={sign.value}
        press={(name) => (sign.value = sign.value === name ? undefined : name)}
      />
      {sign.value && (
        <FactChoices
          key={sign.value}
          of={sign.value}
          order={order}
          change={change}
          set={(to) => draft.set({ change: to })}
        />
      )}
      <AnyOf
        legend={t("do-not")}
        of={DO_NOTS}
        words={(one) => t(`do-not-${one}`)}
        value={doNot}
        onChange={(to) => draft.set({ doNot: to })}
      />
      {own.length > 0 && (
        <details>
          <summary>{forCard ? t("ask-for", { card: title(forCard) }) : t("ask-for-card")}</summary>
          <OneOf
            legend={t("ask-for-card")}
            of={[...own.map((one) => one.id), "none"]}
            words={(one) => (one === "none" ? t("ask-for-none") : title(one))}
            value={forCard ?? "none"}
            onChange={(to) => draft.set({ forCard: to === "none" ? (undefined as never) : to })}
          />
        </details>
      )}
      <details open={Boolean(note || notYet)}>
        <summary>{t("in-own-words")}</summary>
        <div class="stack">
          <Text label={t("note")} value={note} onInput={(to) => draft.set({ note: to })} />
          <Text label={t("not-yet")} value={notYet} onInput={(to) => draft.set({ notYet: to })} />
        </div>
      </details>
      <button class="button main stick" onClick={() => orSay(send())}>
        {t("ask")}
      </button>
    </div>
  );
}

const ways = (ask: Handoff): ReturnType<typeof withdrawal> => {
  const order = orders.peek().get(ask.order);
  return order ? withdrawal(ask, order, cards.peek()) : [];
};

/** Nobody has taken it yet, or it says who did. */
async function takeBack(id: string): Promise<void> {
  const ask = handoffs.peek().get(id);
  const all = ask ? ways(ask) : [];
  if (!all.length) {
    say(t("ask-taken-already"));
    return;
  }
  try {
    for (const one of all) {
      if (one.kind === "call_off") await act("call_off", { handoff: id });
      else await act("cancel_card", { card: one.card });
    }
    say(t("did-withdraw"));
  } catch {
    say(t("not-kept"));
  }
}

const ANSWER_MS = 60_000;

/** Once a plan has it: at what, at which place, when. */
function sayWhere(id: string, instead: (text: string) => void): void {
  let end = (): void => undefined;
  const stop = (): void => queueMicrotask(() => end());
  const timer = setTimeout(stop, ANSWER_MS);
  end = effect(() => {
    const ask = handoffs.value.get(id);
    const row = ask && !unsent.value.some(({ op }) => op.id === id) ? placeOf(ask, cards.value, plan.value) : undefined;
    if (!row) return;
    instead(placed(row));
    clearTimeout(timer);
    stop();
  });
}

const MOST = 4;

/** The shop's own library; what this department asks for most stands first, large. */
function Library({ onChoose }: { onChoose: (to: Routing) => void }) {
  const may = [...routings.value.values()].filter(
    (one) => !one.retired && one.steps.length && canBeLaidOut(one, (id) => departments.value.get(id)),
  );
  const all = byAsked(may, handoffs.value.values(), myself.value?.department);
  if (!all.length) return <p>{t("no-library")}</p>;
  const others = all.slice(MOST).sort((a, b) => words(a.title).localeCompare(words(b.title)));
  return (
    <div class="stack">
      <div class="ask-most">
        {all.slice(0, MOST).map((one) => (
          <button class="button ask-what" key={one.id} onClick={() => onChoose(one)}>
            <Mark of={markOf(one)} />
            <span>{words(one.title)}</span>
          </button>
        ))}
      </div>
      {others.length > 0 && (
        <details>
          <summary>{t("ask-others", { count: others.length })}</summary>
          <div class="stack">
            {others.map((one) => (
              <button class="button full left" key={one.id} onClick={() => onChoose(one)}>
                <span>{words(one.title)}</span>
                <span class="quiet small">{inSentence(department(one.steps[0]?.department))}</span>
              </button>
            ))}
          </div>
        </details>
      )}
    </div>
  );
}

/** Shown as large as there is room; what was taken wrongly is put away again. */
function Photos({
  pictures,
  of,
  set,
}: {
  pictures: readonly Picture[];
  of: () => readonly Picture[];
  set: (to: Picture[]) => void;
}) {
  const add = (file: File): void =>
    void keep(file).then(
      (picture) => set([...of().filter((one) => one.sha256 !== picture.sha256), picture]),
      sayNotKept,
    );
  return (
    <>
      {pictures.length > 0 && (
        <div class="ask-taken">
          {pictures.map((one, i) => (
            <Taken
              key={one.sha256}
              picture={one}
              nth={i + 1}
              remove={() => set(of().filter((other) => other.sha256 !== one.sha256))}
            />
          ))}
        </div>
      )}
      <div class="ask-photos">
        <CameraButton onPicture={add} mark />
        <CameraButton onPicture={add} label={t("album")} album />
      </div>
    </>
  );
}

function Taken({ picture, nth, remove }: { picture: Picture; nth: number; remove: () => void }) {
  const src = useSignal<string | undefined>(undefined);
  useEffect(() => {
    let [url, gone]: [string | undefined, boolean] = [undefined, false];
    void db.photo(picture.sha256).then((kept) => {
      if (kept && !gone) src.value = url = URL.createObjectURL(kept.data);
    });
    return () => {
      gone = true;
      if (url) URL.revokeObjectURL(url);
    };
  }, [picture.sha256]);
  return (
    <figure>
      {src.value && <img src={src.value} alt={t("photo-nth", { nth })} />}
      <button class="button" onClick={remove}>
        {t("remove")}
      </button>
    </figure>
  );
}

/** Said before sending: what is open already is joined, what was open goes up a second time. */
function Joins({ order, routing }: { order: Order; routing: Routing }) {
  const opens = routing.steps.map((step) => step.opens).filter((open) => open != null);
  const of = [...cards.value.values()].filter(
    (card) => card.order === order.id && card.opens && opens.includes(card.opens),
  );
  const open = opens.find((name) => order.open.some((now) => now.open === name));
  const toCome = of.find((card) => !isOver(card))?.opens;
  const before = of.find((card) => card.life === "done")?.opens;
  if (open ?? toCome)
    return (
      <p class="notice-line">
        {t(open ? "ask-joins-open" : "ask-joins", { open: named("open", open ?? toCome ?? "") })}
      </p>
    );
  if (before) return <p class="notice-line bad">{t("ask-twice", { open: named("open", before) })}</p>;
  return null;
}

/** Own cards that may be what waits for the answer: the one in hand first. */
function ownCards(order: Order, of: string | undefined, first: Card | undefined): Card[] {
  const rank = (card: Card): number =>
    card.id === first?.id ? 0 : card.life === "working" ? 1 : card.life === "paused" || card.life === "taken" ? 2 : 3;
  return order.cards
    .map((id) => cards.value.get(id))
    .filter((card) => card !== undefined)
    .filter((card) => (card.department === of || card.id === first?.id) && !isOver(card) && card.life !== "proposed")
    .sort((a, b) => rank(a) - rank(b))
    .slice(0, 6);
}
