// What waits to be sent, and what is still to be told about what was: nothing typed is lost.
import { useSignal } from "@preact/signals";
import { NUMBER_CHARS_MAX } from "../../api/limits";
import type { Acts, Kind, Op } from "../../api/types";
import { cardOf, type TrayRow } from "../../core/cases";
import { nextSteps, type Next } from "../../core/next";
import { db, type OutboxRow } from "../../db";
import { act, cards, held, me, offset, orders, reach, t, told, tray, unsent } from "../../state";
import { wakeSync } from "../../sync";
import { copy } from "../kit/copy";
import { orderIn, raised, story, typed, what } from "./cases";
import { help, orSay, pause } from "../kit/do";
import { openAnswer, openPromise, openPutFirst } from "../sheets/open";
import { at, person } from "../../text/sentences";
import { say } from "../kit/sheet";

export default function Tray() {
  const own = unsent.value.filter((row) => row.person === me.value?.person);
  const others = unsent.value.filter((row) => row.person !== me.value?.person);
  const locked = others.filter((row) => held.value.has(row.client)).length;
  const rows = [...told.value].sort((a, b) => b.since - a.since);
  const waiting = <Waiting key="waiting" own={own} others={others.length - locked} locked={locked} />;
  const cases = <Cases key="cases" rows={rows} />;
  return (
    <section class="page">
      <h1>{t("tray")}</h1>
      {unsent.value.length ? [waiting, cases] : [cases, waiting]}
    </section>
  );
}

function Waiting({ own, others, locked }: { own: readonly OutboxRow[]; others: number; locked: number }) {
  const count = own.length + others;
  // Of somebody who signed in on this browser with another number before: it waits for a sign-in too.
  const ownHeld = own.filter((row) => held.value.has(row.client)).length;
  return (
    <section class="stack">
      <h2>{t("waiting-to-send")}</h2>
      {ownHeld > 0 && <p class="notice-line">{t("held-own", { count: ownHeld })}</p>}
      {locked > 0 && <p class="notice-line">{t("held-others", { count: locked })}</p>}
      {count > 0 ? (
        <>
          <p>
            {t(reach.value.why === "sign_in" ? "sign-in-to-send" : reach.value.live ? "sending" : "sent-when-reached", {
              count,
            })}
          </p>
          <ul class="rows">
            {own.map((row) => (
              <li key={row.op.id}>
                <strong>{what(row.op)}</strong>
                <p class="quiet">{at(row.op.device_at + offset.value)}</p>
              </li>
            ))}
          </ul>
          {others > 0 && <p class="quiet">{t("others-wait", { count: others })}</p>}
          <button class="button" onClick={wakeSync}>
            {t("send-now")}
          </button>
        </>
      ) : (
        locked === 0 && <p class="quiet">{t("all-sent")}</p>
      )}
    </section>
  );
}

function Cases({ rows }: { rows: readonly TrayRow[] }) {
  return (
    <section class="stack">
      <h2>{t("to-look-at")}</h2>
      {rows.length ? (
        <ul class="rows">
          {rows.map((row) => (
            <Case key={row.id} row={row} />
          ))}
        </ul>
      ) : (
        <p class="quiet">{t("nothing-to-look-at")}</p>
      )}
    </section>
  );
}

async function putAway(row: TrayRow): Promise<void> {
  await db.removeFromTray(row.id);
  tray.value = tray.value.filter((other) => other.id !== row.id);
}

function Case({ row }: { row: TrayRow }) {
  const { title, said, then } = story(row);
  const text = typed(row);
  const card = cards.value.get(cardOf(row.op) ?? "");
  return (
    <li class="stack">
      <div class="stack tight">
        <strong>{title}</strong>
        {said.map((sentence) => (
          <p key={sentence}>{sentence}</p>
        ))}
        {then.map((sentence) => (
          <p key={sentence}>
            <strong>{sentence}</strong>
          </p>
        ))}
        {text && <p class="typed">{text}</p>}
        <p class="quiet small">{at(row.since + offset.value)}</p>
      </div>
      <div class="buttons">
        {nextSteps(row, card, row.person).map((step) => (
          <Step key={step} step={step} row={row} />
        ))}
        {text && (
          <button class="button" onClick={() => void copy(text).then((done) => done && say(t("copied")))}>
            {t("copy")}
          </button>
        )}
        <button class="button" onClick={() => orSay(putAway(row))}>
          {t("put-away")}
        </button>
      </div>
    </li>
  );
}

/** One next step, one tap. */
function Step({ step, row }: { step: Next; row: TrayRow }) {
  const card = cards.value.get(cardOf(row.op) ?? "");
  const order = orders.value.get(orderIn(row) ?? "");
  const holder = person(card?.taken_by ?? row.by);
  const button = (words: string, go: () => unknown) => (
    <button class="button" onClick={() => orSay(Promise.resolve(go()))}>
      {words}
    </button>
  );
  switch (step) {
    case "help":
      return card ? button(t("next-help"), () => help(card).then(() => putAway(row))) : null;
    case "hand_over":
      return card ? button(t("next-hand-over", { person: holder }), () => handOver(row, holder)) : null;
    case "leave":
      return button(t("next-leave", { person: holder }), () => putAway(row));
    case "pause":
      return card ? button(t("pause"), () => pause(card, "question")) : null;
    case "answer": {
      const own = raised(row, "two_at_once");
      return own && own.answered_at == null ? button(t("answer"), () => openAnswer(own)) : null;
    }
    case "promise":
      return order ? button(t("promise"), () => openPromise(order)) : null;
    case "put_first":
      return card ? button(t("put-first"), () => openPutFirst(card)) : null;
    case "again":
      return button(t("next-again"), () => again(row));
    case "open_again":
      return <OpenAgain row={row} />;
    case "tell":
      return order ? button(t("next-tell"), () => tellPlanner(row, order.id)) : null;
    case "look":
      return order ? (
        <a class="button" href={`/vehicle/${order.id}`}>
          {t("to-vehicle", { number: order.number })}
        </a>
      ) : null;
  }
}

/** Stops the own work where it runs, and leaves a word on the card for whoever has it. */
async function handOver(row: TrayRow, to: string): Promise<void> {
  const card = cards.value.get(cardOf(row.op) ?? "");
  if (!card) return;
  const runs = card.spans.some((span) => span.person === row.person && span.to == null);
  if (runs) await act("pause", { card: card.id, why: "other_work" });
  await act("note", { order: card.order, card: card.id, body: t("handed-over-note", { person: to }) });
  await putAway(row);
  say(t("did-hand-over", { person: to }));
}

async function tellPlanner(row: TrayRow, order: string): Promise<void> {
  const { title, said } = story(row);
  const card = cardOf(row.op);
  await act("note", {
    order,
    ...(card ? { card } : {}),
    body: t("tell-planner-note", { what: [title, ...said].join(". ") }),
  });
  await putAway(row);
  say(t("did-tell-planner"));
}

/** The same act in the sign-in of now: what was typed and chosen is not asked for twice. */
async function again(row: TrayRow): Promise<void> {
  await act(row.op.kind, row.op.args as Acts[Kind]);
  await putAway(row);
  say(t("did-again"));
}

/** The same order under another number, and on it what had been noted on the refused one. */
function OpenAgain({ row }: { row: TrayRow }) {
  const number = useSignal("");
  if (row.op.kind !== "open_order") return null;
  const args = row.op.args;
  const send = async (): Promise<void> => {
    const order = await act("open_order", { ...args, number: number.value.trim() });
    for (const op of row.also ?? []) {
      if (GOES_ALONG.has(op.kind)) await act(op.kind, { ...op.args, order } as Acts[Kind]);
    }
    await putAway(row);
    say(t("did-open-again", { number: number.value.trim() }));
  };
  return (
    <form
      class="stack"
      onSubmit={(event) => {
        event.preventDefault();
        orSay(send());
      }}
    >
      <div class="field">
        <label>
          <span class="label">{t("other-number")}</span>
          <input
            value={number.value}
            maxLength={NUMBER_CHARS_MAX}
            onInput={(event) => (number.value = event.currentTarget.value)}
          />
        </label>
      </div>
      <button class="button full" disabled={!number.value.trim() || number.value.trim() === args.number}>
        {t("next-open-again")}
      </button>
    </form>
  );
}

/** What was said about the vehicle itself; its cards had names that are gone with it. */
const GOES_ALONG: ReadonlySet<Op["kind"]> = new Set<Op["kind"]>([
  "note",
  "found",
  "photo",
  "move",
  "condition",
  "edit_order",
  "promise",
  "stage",
  "energy",
]);
