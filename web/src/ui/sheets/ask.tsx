// Asking another department for something: what, and it can be sent; everything else is there already
// or may be said. A draft is kept all the while, and before the camera opens.
import { useSignal } from "@preact/signals";
import type { Card, ConditionChange, Order, Routing } from "../../api/types";
import { canBeLaidOut } from "../../core/ask";
import { changeCondition, isOver } from "../../core/effects";
import { newId } from "../../core/ids";
import { act, cards, departments, handoffs, myself, routings, t, words } from "../../state";
import { keep, type Picture } from "../../photos/take";
import { inSentence } from "../../text/names";
import { OneOf } from "../kit/choices";
import { orSay, perform } from "../kit/do";
import { useDraft } from "../kit/draft";
import { CameraButton, sayNotKept } from "../kit/picture";
import { department, facts, named, title } from "../../text/sentences";
import { Facts, Text } from "./vehicle";

interface Draft {
  routing?: string;
  forCard?: string;
  note: string;
  notYet: string;
  change: ConditionChange;
  pictures: Picture[];
}

export function Ask({ order, card }: { order: Order; card?: Card | undefined }) {
  const me = myself.value;
  const own = ownCards(order, me?.department, card);
  const draft = useDraft<Draft>(`ask:${order.id}`, {
    note: "",
    notYet: "",
    change: {},
    pictures: [],
    // Nothing but the card in hand: what else waits for it the person says.
    ...(card && own.includes(card) ? { forCard: card.id } : {}),
  });
  const { routing: chosen, forCard, note, notYet, change, pictures } = draft.value.value;
  const routing = chosen ? routings.value.get(chosen) : undefined;
  const more = useSignal(false);
  if (!me) return null;

  const send = async (): Promise<void> => {
    if (!routing) return;
    const id = newId();
    const asked = await perform(
      "ask",
      {
        order: order.id,
        routing: routing.id,
        from: me.department,
        ...(forCard ? { for_card: forCard } : {}),
        after: [],
        ...(note.trim() ? { note: note.trim() } : {}),
        ...(notYet.trim() ? { not_yet: notYet.trim() } : {}),
        condition: change,
        minutes: {},
      },
      t("did-ask", { what: words(routing.title), department: inSentence(department(routing.steps[0]?.department)) }),
      undefined,
      { id },
    );
    if (!asked) return;
    for (const picture of pictures) await act("photo", { order: order.id, handoff: id, ...picture });
    await draft.done();
  };

  if (!routing) {
    return <Library order={order} onChoose={(to) => draft.set({ routing: to.id })} />;
  }
  const said = facts(changeCondition(order.condition, change));
  return (
    <div class="stack">
      <div class="apart">
        <strong>{words(routing.title)}</strong>
        <button class="button plain" onClick={() => draft.set({ routing: undefined as never })}>
          {t("ask-other")}
        </button>
      </div>
      <ol class="steps">
        {routing.steps.map((step) => (
          <li key={step.step}>
            {department(step.department)}: {words(step.title)}
          </li>
        ))}
      </ol>
      <Joins order={order} routing={routing} />
      {own.length > 0 && (
        <OneOf
          legend={t("ask-for-card")}
          of={[...own.map((one) => one.id), "none"]}
          words={(one) => (one === "none" ? t("ask-for-none") : title(one))}
          value={forCard ?? "none"}
          onChange={(to) => draft.set({ forCard: to === "none" ? (undefined as never) : to })}
        />
      )}
      <div>
        <p>
          <strong>{t("facts-now")}</strong> {said.length ? said.join(" ") : t("facts-none")}
        </p>
        <button class="button" aria-expanded={more.value} onClick={() => (more.value = !more.value)}>
          {t("facts-change")}
        </button>
      </div>
      {more.value && <Facts order={order} change={change} set={(to) => draft.set({ change: to })} />}
      <Text label={t("not-yet")} value={notYet} onInput={(to) => draft.set({ notYet: to })} />
      <Text label={t("note")} value={note} onInput={(to) => draft.set({ note: to })} />
      <div class="beside">
        <CameraButton
          onPicture={(file) =>
            void keep(file).then(
              (picture) => draft.set({ pictures: [...draft.value.peek().pictures, picture] }),
              sayNotKept,
            )
          }
        />
        {pictures.length > 0 && <span role="status">{t("photos-kept", { count: pictures.length })}</span>}
      </div>
      <button class="button main stick" onClick={() => orSay(send())}>
        {t("ask")}
      </button>
    </div>
  );
}

/** The shop's own library; what this shop asks for most stands first. */
function Library({ order, onChoose }: { order: Order; onChoose: (to: Routing) => void }) {
  const asked = new Map<string, number>();
  for (const one of handoffs.value.values()) asked.set(one.routing, (asked.get(one.routing) ?? 0) + 1);
  const mine = myself.value?.department;
  const elsewhere = (one: Routing): number => Number(one.steps[0]?.department === mine);
  const all = [...routings.value.values()]
    .filter((one) => !one.retired && one.steps.length && canBeLaidOut(one, (id) => departments.value.get(id)))
    .sort((a, b) => elsewhere(a) - elsewhere(b) || (asked.get(b.id) ?? 0) - (asked.get(a.id) ?? 0) || words(a.title).localeCompare(words(b.title)));
  if (!all.length) return <p>{t("no-library")}</p>;
  return (
    <div class="stack">
      <p class="quiet">{t("ask-what", { number: order.number })}</p>
      {all.map((one) => (
        <button class="button full left" key={one.id} onClick={() => onChoose(one)}>
          <span>{words(one.title)}</span>
          <span class="quiet small">{inSentence(department(one.steps[0]?.department))}</span>
        </button>
      ))}
    </div>
  );
}

/** Said before sending: what is open already is joined, what was open goes up a second time. */
function Joins({ order, routing }: { order: Order; routing: Routing }) {
  const opens = routing.steps.map((step) => step.opens).filter((open) => open != null);
  const of = [...cards.value.values()].filter((card) => card.order === order.id && card.opens && opens.includes(card.opens));
  const open = opens.find((name) => order.open.some((now) => now.open === name));
  const toCome = of.find((card) => !isOver(card))?.opens;
  const before = of.find((card) => card.life === "done")?.opens;
  if (open ?? toCome) return <p class="notice-line">{t(open ? "ask-joins-open" : "ask-joins", { open: named("open", open ?? toCome ?? "") })}</p>;
  if (before) return <p class="notice-line bad">{t("ask-twice", { open: named("open", before) })}</p>;
  return null;
}

/** Own cards that may be what waits for the answer: the one in hand first. */
function ownCards(order: Order, of: string | undefined, first: Card | undefined): Card[] {
  const rank = (card: Card): number => (card.id === first?.id ? 0 : card.life === "working" ? 1 : card.life === "paused" || card.life === "taken" ? 2 : 3);
  return order.cards
    .map((id) => cards.value.get(id))
    .filter((card) => card !== undefined)
    .filter((card) => (card.department === of || card.id === first?.id) && !isOver(card) && card.life !== "proposed")
    .sort((a, b) => rank(a) - rank(b))
    .slice(0, 6);
}
