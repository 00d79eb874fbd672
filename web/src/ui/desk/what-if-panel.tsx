// What if: one thing that would be otherwise, and who would be finished when. Looking changes nothing; what is
// accepted becomes an act like any other.
import "./what-if.css";
import { useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useEffect } from "preact/hooks";
import type { Acts, Kind } from "../../api/types";
import { canCloseUp } from "../../core/close-up";
import { isOver } from "../../core/effects";
import { isAtLeast } from "../../core/roles";
import { act, cards, language, me, now, orders, people, t } from "../../state";
import { look } from "../../text/looks";
import { departmentName, equipmentName, inSentence, zone } from "../../text/names";
import { at, holding, named } from "../../text/sentences";
import { departmentOptions, equipmentOptions, peopleOptions } from "../kit/options";
import { loadWords } from "../../text/words";
import { JamFinder } from "./jam";
import { Print } from "../kit/print";
import {
  clockOf,
  fresh,
  question,
  WHATS,
  type Change,
  type Typed,
  type What,
  type WhatIf as Answer,
} from "../../model/what-if";
import { AnswerTable, asOf, ask, why } from "../kit/what-if-answer";

await loadWords("what-if");

type Option = [string, string];

const inWork = (): Option[] =>
  [...orders.value.values()]
    .filter((one) => one.stage !== "delivered" && one.cards.some((id) => open(id)))
    .map((one): Option => [one.id, `${one.number} ${look(one.vehicle, language.value).said}`])
    .sort((a, b) => a[1].localeCompare(b[1], undefined, { numeric: true }));

const open = (id: string): boolean => {
  const card = cards.value.get(id);
  return card !== undefined && !isOver(card) && card.life !== "proposed";
};

const holds = (): Option[] =>
  [...orders.value.values()]
    .filter((one) => one.stage !== "delivered")
    .flatMap((one) =>
      one.holds
        .filter((hold) => hold.ended == null)
        .map((hold): Option => [`${one.id}/${hold.id}`, `${one.number}: ${holding(hold.what, hold.due)}`]),
    )
    .sort((a, b) => a[1].localeCompare(b[1], undefined, { numeric: true }));

/** Open vehicles in which something waits and nobody works. */
const opened = (): Option[] =>
  [...orders.value.values()]
    .filter((one) => one.stage !== "delivered")
    .flatMap((one) =>
      one.open
        .filter(({ open }) => canCloseUp(cards.value, one, open))
        .map(({ open }): Option => [`${one.id}/${open}`, `${one.number}: ${named("open", open)}`]),
    )
    .sort((a, b) => a[1].localeCompare(b[1], undefined, { numeric: true }));

interface Asked {
  change: Change;
  answer: Answer;
}

export function WhatIf() {
  const typed = useSignal<Typed>(fresh(now.peek(), zone.peek()));
  const wrong = useSignal<string | undefined>(undefined);
  const busy = useSignal(false);
  const asked = useSignal<Asked | undefined>(undefined);
  const plans = isAtLeast(me.value?.role, "planner");
  const set = (to: Partial<Typed>): void => {
    typed.value = { ...typed.value, ...to };
    // An answer never stands under another question.
    asked.value = undefined;
    wrong.value = undefined;
  };
  const send = async (event?: Event): Promise<void> => {
    event?.preventDefault();
    const change = question(typed.value, now.value, zone.value);
    if (typeof change === "string") {
      wrong.value = t(change);
      return;
    }
    busy.value = true;
    wrong.value = undefined;
    asked.value = undefined;
    const about = typed.value;
    try {
      const answer = await ask(change);
      if (typed.value === about) asked.value = { change, answer };
    } catch (error) {
      wrong.value = why(error);
    } finally {
      busy.value = false;
    }
  };
  const look = (about: Partial<Typed>): void => {
    set(about);
    // The answer stands above what it was asked from.
    document.getElementById("what-if-what")?.scrollIntoView();
    void send();
  };
  useEffect(() => {
    // Asked from beside a late vehicle, or one that blocks a lift.
    const about = new URLSearchParams(location.search);
    const [first, close] = [about.get("first"), about.get("close")];
    if (first && inWork().some(([id]) => id === first)) look({ what: "vehicle_first", order: first });
    if (close && opened().some(([id]) => id === close)) look({ what: "close_up", open: close });
  }, []);
  const { what } = typed.value;
  const answered = asked.value;
  return (
    <div class="what-if stack">
      <p class="quiet">{t("what-if-intro")}</p>
      <form class="beside range no-print" onSubmit={(event) => void send(event)}>
        <Select
          id="what"
          label={t("what-if-what")}
          value={what}
          options={(plans ? WHATS : WHATS.slice(0, 1)).map((one): Option => [one, t(`what-if-${one}`)])}
          set={(to) => set({ what: to as What })}
        />
        {what === "vehicle_first" && (
          <Select
            id="order"
            label={t("what-if-vehicle")}
            value={typed.value.order}
            none
            options={inWork()}
            set={(order) => set({ order })}
          />
        )}
        {what === "out_of_service" && (
          <Select
            id="equipment"
            label={t("what-if-equipment")}
            value={typed.value.equipment}
            none
            options={equipmentOptions()}
            set={(to) => set({ equipment: to })}
          />
        )}
        {(what === "away" || what === "back") && (
          <Select
            id="person"
            label={t("what-if-person")}
            value={typed.value.person}
            none
            options={peopleOptions()}
            set={(person) => set({ person })}
          />
        )}
        {what === "hold_until" && (
          <Select
            id="hold"
            label={t("what-if-hold")}
            value={typed.value.hold}
            none
            options={holds()}
            set={(hold) => set({ hold })}
          />
        )}
        {what === "close_up" && (
          <Select
            id="open"
            label={t("what-if-open")}
            value={typed.value.open}
            none
            options={opened()}
            set={(open) => set({ open })}
          />
        )}
        {(what === "extra_shift" || what === "joins") && (
          <Select
            id="department"
            label={t("department")}
            value={typed.value.department}
            none
            options={departmentOptions()}
            set={(department) => set({ department })}
          />
        )}
        {what === "extra_shift" && (
          <>
            <Input id="day" type="date" label={t("what-if-day")} value={typed.value.day} set={(day) => set({ day })} />
            <Input
              id="from"
              type="time"
              label={t("what-if-from")}
              value={typed.value.from}
              set={(from) => set({ from })}
            />
            <Input id="to" type="time" label={t("what-if-to")} value={typed.value.to} set={(to) => set({ to })} />
          </>
        )}
        {what !== "vehicle_first" && what !== "extra_shift" && what !== "close_up" && (
          <Input
            id="until"
            type="datetime-local"
            label={t(what === "hold_until" ? "what-if-due" : "what-if-until")}
            value={typed.value.until}
            set={(until) => set({ until })}
          />
        )}
        <button class="button main" type="submit" disabled={busy.value}>
          {t("what-if-look")}
        </button>
      </form>
      {wrong.value && (
        <p class="notice-line bad" role="alert">
          {wrong.value}
        </p>
      )}
      {busy.value && (
        <p class="quiet" role="status">
          {t("what-if-busy")}
        </p>
      )}
      {answered && (
        <section class="stack" aria-live="polite" aria-labelledby="what-if-answer">
          <div class="apart">
            <h2 id="what-if-answer">{sentence(answered.change)}</h2>
            <Print />
          </div>
          <p class="quiet">{asOf(answered.answer)}</p>
          <AnswerTable change={answered.change} answer={answered.answer} />
          {plans && <Accept key={JSON.stringify(answered.change)} change={answered.change} answer={answered.answer} />}
        </section>
      )}
      {plans && <JamFinder look={look} />}
    </div>
  );
}

/** The question again, above its answer: a printed page must say what it answers. */
function sentence(change: Change): string {
  switch (change.change) {
    case "vehicle_first":
      return t("what-if-said-vehicle_first", { number: orders.value.get(change.order)?.number ?? "?" });
    case "card_first":
      return t("what-if-said-vehicle_first", {
        number: orders.value.get(cards.value.get(change.card)?.order ?? "")?.number ?? "?",
      });
    case "out_of_service":
      return t("what-if-said-out_of_service", { equipment: equipmentName(change.equipment), until: at(change.until) });
    case "away":
    case "back":
      return t(`what-if-said-${change.change}`, {
        person: people.value.get(change.person)?.name ?? "?",
        until: at(change.until),
      });
    case "joins":
      return t("what-if-said-joins", {
        department: inSentence(departmentName(change.department)),
        until: at(change.until),
      });
    case "extra_shift":
      return t("what-if-said-extra_shift", {
        department: departmentOptions().find(([id]) => id === change.department)?.[1] ?? change.department,
        day: change.day,
        from: clockOf(change.from),
        to: clockOf(change.to),
      });
    case "close_up":
      return t("what-if-said-close_up", {
        number: orders.value.get(change.order)?.number ?? "?",
        open: named("open", change.open),
      });
    case "hold_until":
      return t("what-if-said-hold_until", {
        number: orders.value.get(change.order)?.number ?? "?",
        due: at(change.due),
      });
  }
}

/** Makes it so: with the act where there is one, else by the screen where it is entered. */
function Accept({ change, answer: { acts, role } }: Asked) {
  const reason = useSignal("");
  const said = useSignal<string | undefined>(undefined);
  const perform = async (what: () => Promise<unknown>, done: string): Promise<void> => {
    try {
      await what();
      said.value = done;
    } catch (error) {
      said.value = why(error);
    }
  };
  if (said.value) {
    return (
      <p class="notice-line" role="status">
        {said.value}
      </p>
    );
  }
  if (change.change === "vehicle_first") {
    const first = acts.map((one) => one.act).filter((one) => one.kind === "put_first");
    const until = first[0]?.args.until ?? now.value;
    const accept = async (): Promise<void> => {
      for (const { kind, args } of first) await act(kind, { ...args, reason: reason.value.trim() });
    };
    return (
      <form
        class="stack no-print accept"
        onSubmit={(event) => (event.preventDefault(), void perform(accept, t("what-if-did-first")))}
      >
        <p>{t("what-if-accept-first", { count: first.length, until: at(until) })}</p>
        <Field id="reason" label={t("put-first-why")}>
          <input
            id="what-if-reason"
            value={reason.value}
            onInput={(event) => (reason.value = event.currentTarget.value)}
          />
        </Field>
        <p>
          <button class="button" type="submit" disabled={!reason.value.trim() || first.length === 0}>
            {t("put-first")}
          </button>
        </p>
      </form>
    );
  }
  if (acts.length > 0 && isAtLeast(me.value?.role, role)) {
    const accept = async (): Promise<void> => {
      for (const one of acts) {
        const { kind, args } = one.act as { kind: Kind; args: Acts[Kind] };
        await act(kind, args, { id: one.op });
      }
    };
    return (
      <div class="stack no-print accept">
        {change.change === "close_up" && <p class="notice-line">{t("what-if-close_up-care")}</p>}
        {change.change === "extra_shift" && acts.some((one) => one.act.kind === "set_department") && (
          <p>{t("what-if-accept-shift-own", { department: departmentName(change.department) })}</p>
        )}
        <p>
          <button class="button" onClick={() => void perform(accept, t("what-if-did"))}>
            {t(`what-if-accept-${change.change}`)}
          </button>
        </p>
      </div>
    );
  }
  if (change.change === "joins" && isAtLeast(me.value?.role, "manager")) {
    return (
      <p class="no-print accept">
        <a class="button" href="/setup/people">
          {t("what-if-accept-joins")}
        </a>
      </p>
    );
  }
  return <p class="quiet no-print">{t("what-if-accept-manager")}</p>;
}

interface FieldProps {
  id: string;
  label: string;
  value: string;
  set: (to: string) => void;
}

function Field({ id, label, children }: { id: string; label: string; children: ComponentChildren }) {
  return (
    <div class="field">
      <label for={`what-if-${id}`}>{label}</label>
      {children}
    </div>
  );
}

function Select({ id, label, value, set, options, none }: FieldProps & { options: Option[]; none?: boolean }) {
  return (
    <Field id={id} label={label}>
      <select id={`what-if-${id}`} value={value} onChange={(event) => set(event.currentTarget.value)}>
        {none && <option value="">{t("choose")}</option>}
        {options.map(([key, word]) => (
          <option key={key} value={key}>
            {word}
          </option>
        ))}
      </select>
    </Field>
  );
}

function Input({ id, label, value, set, type }: FieldProps & { type: "date" | "time" | "datetime-local" }) {
  return (
    <Field id={id} label={label}>
      <input id={`what-if-${id}`} type={type} value={value} onInput={(event) => set(event.currentTarget.value)} />
    </Field>
  );
}
