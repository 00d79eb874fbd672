// What planners and managers say: holds, promises, put first, who; and corrections and answers.
import { useSignal } from "@preact/signals";
import type { Blocks, Card, Exception, Hold, HoldKind, Ms, Order, Span, Stage } from "../../api/types";
import { isOver, worksIn } from "../../core/effects";
import { cards, departments, now, people, shop, t, words } from "../../state";
import { addDays, isoMinute, parseLocal, startOfDay } from "../../text/zone";
import { Consequences } from "../kit/what-if-answer";
import { AnyOf, OneOf } from "../kit/choices";
import { perform } from "../kit/do";
import { useDraft } from "../kit/draft";
import { at, holding, named, person, stageLine, title } from "../../text/sentences";
import { WhatIsLeft } from "./equipment";
import { Line, Text } from "./vehicle";

const zone = (): string => shop.value?.time_zone ?? "UTC";
const HOUR = 3_600_000;

export function When({
  label,
  value,
  onChange,
  max,
}: {
  label: string;
  value: number | undefined;
  onChange: (to: number | undefined) => void;
  max?: number;
}) {
  return (
    <div class="field">
      <label>
        <span class="label">{label}</span>
        <input
          type="datetime-local"
          value={value === undefined ? "" : isoMinute(value, zone())}
          {...(max === undefined ? {} : { max: isoMinute(max, zone()) })}
          onChange={(event) => onChange(parseLocal(event.currentTarget.value, zone()))}
        />
      </label>
    </div>
  );
}

const HOLDS: HoldKind[] = ["approval", "parts", "customer", "sublet", "other"];

export function HoldIt({ order }: { order: Order }) {
  const draft = useDraft<{ what: HoldKind; blocks: Blocks; cards: string[]; note: string; due?: number }>(
    `hold:${order.id}`,
    {
      what: "parts",
      blocks: "start",
      cards: [],
      note: "",
    },
  );
  const { what, blocks, cards: chosen, note, due } = draft.value.value;
  const open = order.cards.map((id) => cards.value.get(id)).filter((card) => card !== undefined && !isOver(card));
  const send = async (): Promise<void> => {
    const args = {
      order: order.id,
      what,
      cards: chosen,
      blocks,
      ...(due === undefined ? {} : { due }),
      ...(note.trim() ? { note: note.trim() } : {}),
    };
    if (await perform("hold", args, t("did-hold", { number: order.number }))) await draft.done();
  };
  return (
    <div class="stack">
      <OneOf
        legend={t("hold-what")}
        of={HOLDS}
        words={(one) => t(`hold-${one}`)}
        value={what}
        onChange={(to) => draft.set({ what: to })}
      />
      <AnyOf
        legend={t("hold-cards")}
        of={open.map((card) => card?.id ?? "")}
        words={(one) => title(one)}
        value={chosen}
        onChange={(to) => draft.set({ cards: to })}
      />
      <OneOf<Blocks>
        legend={t("hold-blocks")}
        of={["start", "finish"]}
        words={(one) => t(`hold-blocks-${one}`)}
        value={blocks}
        onChange={(to) => draft.set({ blocks: to })}
      />
      <When label={t("hold-due")} value={due} onChange={(to) => draft.set({ due: to as never })} />
      <Text label={t("note")} value={note} onInput={(to) => draft.set({ note: to })} />
      <button class="button main" onClick={() => void send()}>
        {t("hold-set")}
      </button>
    </div>
  );
}

/** What is waited for comes on another day. */
export function HoldDue({ order, hold }: { order: Order; hold: Hold }) {
  const due = useSignal<number | undefined>(hold.due ?? undefined);
  const send = (to: number): unknown =>
    perform(
      "hold_due",
      { order: order.id, hold: hold.id, due: to },
      t("did-hold-due", { number: order.number, due: at(to) }),
    );
  return (
    <div class="stack">
      <p>{holding(hold.what, hold.due)}</p>
      <When label={t("hold-due")} value={due.value} onChange={(to) => (due.value = to)} />
      <button
        class="button main"
        disabled={due.value === undefined || due.value === hold.due}
        onClick={() => due.value !== undefined && void send(due.value)}
      >
        {t("hold-due-set")}
      </button>
    </div>
  );
}

export function Promised({ order, offer }: { order: Order; offer?: Ms | undefined }) {
  const due = useSignal<number | undefined>(offer ?? order.promise ?? undefined);
  const reason = useSignal("");
  // What stood there when it was opened: who promises otherwise meanwhile is not overruled unawares.
  const seen = useSignal<number | null>(order.promise ?? null);
  const send = (to: number | null): unknown =>
    perform(
      "promise",
      { order: order.id, due: to, ...(reason.value.trim() ? { reason: reason.value.trim() } : {}) },
      t(to === null ? "did-unpromise" : "did-promise", { number: order.number, at: to === null ? "" : at(to) }),
      undefined,
      { expect: [{ that: "promise", order: order.id, due: seen.value }] },
    );
  const past = due.value !== undefined && due.value < now.value;
  return (
    <div class="stack">
      {offer !== undefined && (
        <p>
          {order.promise != null && t("promised", { at: at(order.promise) })} {t("promise-offer")}
        </p>
      )}
      <When label={t("promise-when")} value={due.value} onChange={(to) => (due.value = to)} />
      {past && <p class="notice-line bad">{t("promise-past")}</p>}
      <Line label={t("promise-why")} value={reason.value} onInput={(to) => (reason.value = to)} />
      <button
        class="button main"
        disabled={due.value === undefined || past}
        onClick={() => void send(due.value ?? null)}
      >
        {t("promise-it")}
      </button>
      {order.promise != null && (
        <button class="button full" onClick={() => void send(null)}>
          {t("promise-take-back")}
        </button>
      )}
    </div>
  );
}

const NEXT: Record<Stage, Stage[]> = {
  expected: ["arrived"],
  arrived: ["authorised", "away", "stopped"],
  authorised: ["away", "ready", "stopped"],
  away: ["authorised"],
  ready: ["delivered", "authorised"],
  delivered: [],
  stopped: ["authorised", "delivered"],
};

export function Stages({ order }: { order: Order }) {
  const undone = order.cards.filter((id) => {
    const card = cards.value.get(id);
    return card && !isOver(card) && card.life !== "proposed";
  });
  return (
    <div class="stack">
      <p>{stageLine(order)}</p>
      {NEXT[order.stage].map((stage) =>
        stage === "stopped" ? (
          <Stopping key={stage} order={order} />
        ) : (
          <div class="stack" key={stage}>
            {(stage === "ready" || stage === "delivered") && undone.length > 0 && (
              <p class="notice-line bad">{t("stage-undone", { count: undone.length, card: title(undone[0]) })}</p>
            )}
            {(stage === "ready" || stage === "delivered") && <WhatIsLeft order={order} />}
            <button
              class="button full"
              onClick={() =>
                void perform(
                  "stage",
                  { order: order.id, stage },
                  t("did-stage", { number: order.number, stage: t(`stage-${stage}`) }),
                )
              }
            >
              {t(`stage-${stage}-button`)}
            </button>
          </div>
        ),
      )}
      {!NEXT[order.stage].length && <p class="quiet">{t("stage-no-more")}</p>}
      {order.stage === "delivered" && <KeysNotBack order={order} />}
    </div>
  );
}

/** Said of the wrong vehicle, or too early: why is asked, and beside it stands what comes of it. */
function KeysNotBack({ order }: { order: Order }) {
  const draft = useDraft(`not-back:${order.id}`, { reason: "" });
  const reason = draft.value.value.reason.trim();
  const send = async (): Promise<void> => {
    const args = { order: order.id, stage: order.stage, reason };
    if (await perform("stage_back", args, t("did-stage_back", { number: order.number }))) await draft.done();
  };
  return (
    <div class="stack">
      <h3>{t("not-back-title")}</h3>
      <p>{t("not-back-what")}</p>
      <Line label={t("stop-why")} value={draft.value.value.reason} onInput={(to) => draft.set({ reason: to })} />
      <button class="button main" disabled={!reason} onClick={() => void send()}>
        {t("not-back")}
      </button>
    </div>
  );
}

/** Nothing is stopped by a slip: why is asked first, and beside it stands what comes of it. */
function Stopping({ order }: { order: Order }) {
  const draft = useDraft(`stop:${order.id}`, { reason: "" });
  const asks = useSignal(false);
  const reason = draft.value.value.reason.trim();
  const send = async (): Promise<void> => {
    const done = t("did-stage", { number: order.number, stage: t("stage-stopped-why", { reason }) });
    if (await perform("stage", { order: order.id, stage: "stopped", reason }, done)) await draft.done();
  };
  if (!asks.value && !reason) {
    return (
      <button class="button full" onClick={() => (asks.value = true)}>
        {t("stage-stopped-button")}
      </button>
    );
  }
  return (
    <div class="stack">
      <p class="notice-line bad">{t("stop-what")}</p>
      <Line label={t("stop-why")} value={draft.value.value.reason} onInput={(to) => draft.set({ reason: to })} />
      <button class="button main" disabled={!reason} onClick={() => void send()}>
        {t("stop-it")}
      </button>
    </div>
  );
}

type Until = "two_hours" | "today" | "tomorrow" | "week";

export function PutFirst({ card }: { card: Card }) {
  const reason = useSignal("");
  const until = useSignal<Until>("today");
  const ends = (): number => {
    const today = startOfDay(now.value, zone());
    const days = { two_hours: 0, today: 1, tomorrow: 2, week: 7 }[until.value];
    return days ? addDays(today, days, zone()) : now.value + 2 * HOUR;
  };
  return (
    <div class="stack">
      <p>{words(card.title)}</p>
      <Consequences change={{ change: "card_first", card: card.id }} />
      <Line label={t("put-first-why")} value={reason.value} onInput={(to) => (reason.value = to)} />
      <OneOf<Until>
        legend={t("put-first-until")}
        of={["two_hours", "today", "tomorrow", "week"]}
        words={(one) => t(`until-${one}`)}
        value={until.value}
        onChange={(to) => (until.value = to)}
      />
      <button
        class="button main"
        disabled={!reason.value.trim()}
        onClick={() =>
          void perform("put_first", { card: card.id, reason: reason.value.trim(), until: ends() }, t("did-put-first"))
        }
      >
        {t("put-first")}
      </button>
      {!reason.value.trim() && <p class="quiet">{t("reason-needed")}</p>}
    </div>
  );
}

export function Assign({ card }: { card: Card }) {
  const able = [...people.value.values()].filter((one) => !one.retired && worksIn(one, card.department));
  return (
    <div class="stack">
      {able.map((one) => (
        <button
          class="button full"
          key={one.id}
          onClick={() => void perform("assign", { card: card.id, to: one.id }, t("did-assign", { person: one.name }))}
        >
          {one.name}
        </button>
      ))}
      {!able.length && <p class="quiet">{t("nobody-there")}</p>}
    </div>
  );
}

/** Own work noted too late or too early is set right; that it was set right stays to be seen. */
export function Correct({ card, span }: { card: Card; span: Span }) {
  const from = useSignal<number | undefined>(span.from);
  const to = useSignal<number | undefined>(span.to ?? undefined);
  const wrong =
    from.value === undefined ||
    from.value > now.value ||
    (to.value !== undefined && (to.value < from.value || to.value > now.value));
  return (
    <div class="stack">
      <p>
        {words(card.title)}: {person(span.person)}
      </p>
      <When label={t("correct-from")} value={from.value} onChange={(at) => (from.value = at)} max={now.value} />
      {span.to != null && (
        <When label={t("correct-to")} value={to.value} onChange={(at) => (to.value = at)} max={now.value} />
      )}
      {wrong && <p class="notice-line bad">{t("correct-wrong")}</p>}
      <button
        class="button main"
        disabled={wrong}
        onClick={() =>
          void perform(
            "correct",
            {
              card: card.id,
              span: span.id,
              from: from.value ?? span.from,
              to: span.to == null ? null : (to.value ?? span.to),
            },
            t("did-correct"),
          )
        }
      >
        {t("save")}
      </button>
    </div>
  );
}

export function Answer({ exception }: { exception: Exception }) {
  const draft = useDraft(`answer:${exception.id}`, { reason: "" });
  const { reason } = draft.value.value;
  const send = async (): Promise<void> => {
    if (await perform("answer", { exception: exception.id, reason: reason.trim() }, t("did-answer")))
      await draft.done();
  };
  return (
    <div class="stack">
      <p>{t(`exception-${exception.kind}`)}</p>
      {exception.about.length > 0 && (
        <ul>
          {exception.about.map((id) => (
            <li key={id}>{title(id)}</li>
          ))}
        </ul>
      )}
      <Text label={t("answer-reason")} value={reason} onInput={(to) => draft.set({ reason: to })} />
      <button class="button main" disabled={!reason.trim()} onClick={() => void send()}>
        {t("answer")}
      </button>
    </div>
  );
}

export function AddCard({ order }: { order: Order }) {
  // At an open vehicle one means inside, unless one says otherwise; of several states the one opened last.
  const open = [...order.open].sort((a, b) => b.since - a.since).map((now) => now.open);
  const draft = useDraft<{ text: string; department: string; minutes: string; after?: string; inside: string }>(
    `card:${order.id}`,
    {
      text: "",
      department: "",
      minutes: "60",
      inside: open[0] ?? "",
    },
  );
  const { text, department, minutes, after } = draft.value.value;
  const inside = open.includes(draft.value.value.inside) ? draft.value.value.inside : "";
  const count = Number(minutes);
  const sound = text.trim() !== "" && department !== "" && Number.isFinite(count) && count > 0;
  const all = [...departments.value.values()].filter((one) => !one.retired).sort((a, b) => a.rank - b.rank);
  const before = order.cards.map((id) => cards.value.get(id)).filter((card) => card !== undefined && !isOver(card));
  const send = async (): Promise<void> => {
    const args = {
      order: order.id,
      department,
      title: { text: text.trim() },
      planned_minutes: Math.round(count),
      after: after ? [{ card: after, lag_minutes: 0 }] : [],
      ...(inside ? { inside } : {}),
    };
    if (await perform("add_card", args, t("did-add-card"))) await draft.done();
  };
  return (
    <div class="stack">
      <Line label={t("card-what")} value={text} onInput={(to) => draft.set({ text: to })} />
      <div class="field">
        <label>
          <span class="label">{t("department")}</span>
          <select value={department} onChange={(event) => draft.set({ department: event.currentTarget.value })}>
            <option value="">{t("choose")}</option>
            {all.map((one) => (
              <option value={one.id} key={one.id}>
                {words(one.title)}
              </option>
            ))}
          </select>
        </label>
      </div>
      <div class="field">
        <label>
          <span class="label">{t("planned-minutes")}</span>
          <input
            inputMode="numeric"
            value={minutes}
            onInput={(event) => draft.set({ minutes: event.currentTarget.value })}
          />
        </label>
      </div>
      <div class="field">
        <label>
          <span class="label">{t("card-after")}</span>
          <select
            value={after ?? ""}
            onChange={(event) => draft.set({ after: event.currentTarget.value || (undefined as never) })}
          >
            <option value="">{t("at-once")}</option>
            {before.map((card) => (
              <option value={card?.id} key={card?.id}>
                {title(card?.id)}
              </option>
            ))}
          </select>
        </label>
      </div>
      {open.length > 0 && (
        <OneOf
          legend={t("add-card-inside")}
          of={[...open, ""]}
          words={(one) => (one ? t("add-card-inside-one", { open: named("open", one) }) : t("add-card-inside-none"))}
          value={inside}
          onChange={(to) => draft.set({ inside: to })}
        />
      )}
      <button class="button main" disabled={!sound} onClick={() => void send()}>
        {t("add-card")}
      </button>
    </div>
  );
}
