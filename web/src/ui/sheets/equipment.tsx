// What keeps a vehicle from leaving unseen: calling off with a reason, what is left on it, which lift it is on
// and whether that may be used, and high voltage.
import { useSignal } from "@preact/signals";
import type { Card, Energy, Equipment, Order } from "../../api/types";
import { plans } from "../../core/cards";
import { against, occupant, outOfService, toChoose } from "../../core/equipment";
import { graveToCancel, left, type Left } from "../../core/leaving";
import { cards, equipment, exceptions, handoffs, me, notes, now, orders, places, t, words } from "../../state";
import { OneOf } from "../kit/choices";
import { perform, start } from "../kit/do";
import { at, named } from "../../text/sentences";
import { Line, Text } from "./vehicle";

const shop = () => ({ equipment: equipment.value, orders: orders.value, places: places.value });

export function CancelCard({ card }: { card: Card }) {
  const reason = useSignal("");
  const order = orders.value.get(card.order);
  const handoff = card.handoff ? handoffs.value.get(card.handoff) : undefined;
  const grave = order !== undefined && graveToCancel(card, order, cards.value, handoff?.for_card);
  const why = reason.value.trim();
  return (
    <div class="stack">
      <p>{words(card.title)}</p>
      {grave && <p class="notice-line bad">{t("cancel-grave")}</p>}
      {card.opens && handoff && <p>{t("cancel-rest")}</p>}
      <Line
        label={t(grave ? "cancel-why-needed" : "cancel-why")}
        value={reason.value}
        onInput={(to) => (reason.value = to)}
      />
      <button
        class="button main"
        disabled={grave && !why}
        onClick={() => void perform("cancel_card", { card: card.id, ...(why ? { reason: why } : {}) }, t("did-cancel"))}
      >
        {t("cancel-card")}
      </button>
    </div>
  );
}

function leftWords(one: Left): string {
  switch (one.is) {
    case "open":
      return t("open-line", { open: named("open", one.open) });
    case "isolated":
      return t("energy-isolated");
    case "loose":
      return t(`loose-${one.loose}-line`);
    case "no_brakes":
      return t("fact-brakes-no");
    case "no_steering":
      return t("fact-steers-no");
    case "owed":
      return `${t(`found-${one.found}`)}.`;
    case "unanswered":
      return t("left-unanswered", { count: one.count });
  }
}

/** Said before it is called ready, or the keys go back. */
export function WhatIsLeft({ order }: { order: Order }) {
  const all = left(order, cards.value, notes.value.values(), exceptions.value.values());
  if (!all.length) return null;
  return (
    <div class="notice-line bad" role="alert">
      <p>
        <strong>{t("left-title")}</strong>
      </p>
      <ul>
        {all.map((one) => (
          <li key={leftWords(one)}>{leftWords(one)}</li>
        ))}
      </ul>
      <p>{t("left-then")}</p>
    </div>
  );
}

function Against({ order, one }: { order: Order; one: Equipment }) {
  const kinds = against(order, one, now.value);
  return kinds.length ? <span class="late">{kinds.map((kind) => t(`against-${kind}`)).join(" ")}</span> : null;
}

/** One tap: the likeliest stands first. */
export function StartOn({ card }: { card: Card }) {
  const order = orders.value.get(card.order);
  if (!order) return null;
  return (
    <div class="stack">
      {toChoose(shop(), order, card, now.value).map((one) => {
        const other = occupant(shop(), one.id);
        return (
          <button class="button full left" key={one.id} onClick={() => void start(card, one.id)}>
            <span>{words(one.title)}</span>{" "}
            <span class="quiet small">
              {other && other.id !== order.id ? t("start-on-held", { number: other.number }) : t("start-on-free")}
            </span>{" "}
            <Against order={order} one={one} />
          </button>
        );
      })}
      <button class="button full" onClick={() => void start(card)}>
        {t("start-on-none")}
      </button>
    </div>
  );
}

/** Every lift, bench and booth; what is under this vehicle stands first. */
export function EquipmentState({ order }: { order?: Order | undefined }) {
  const own = new Set(order?.open.map((open) => open.equipment));
  own.add(places.value.get(order?.condition.place ?? "")?.equipment);
  const rank = (one: Equipment): number => (own.has(one.id) ? 0 : 1);
  const all = [...equipment.value.values()]
    .filter((one) => !one.retired)
    .sort((a, b) => rank(a) - rank(b) || a.id.localeCompare(b.id, "en", { numeric: true }));
  return (
    <ul class="rows">
      {all.map((one) => (
        <li key={one.id}>
          <OneEquipment one={one} />
        </li>
      ))}
      {!all.length && <li class="quiet">{t("equipment-none")}</li>}
    </ul>
  );
}

function OneEquipment({ one }: { one: Equipment }) {
  const asked = useSignal(false);
  const note = useSignal("");
  const out = outOfService(one.out_of_service, now.value);
  const on = occupant(shop(), one.id);
  const title = { equipment: words(one.title) };
  const send = (): unknown =>
    perform(
      "equipment_out",
      { equipment: one.id, ...(note.value.trim() ? { note: note.value.trim() } : {}) },
      t("did-equipment-out", title),
    );
  return (
    <div class="stack tight">
      <p class="apart">
        <strong>{words(one.title)}</strong>
        <span class="quiet">{on ? t("start-on-held", { number: on.number }) : t("start-on-free")}</span>
      </p>
      {out && (
        <p class="notice-line bad">
          {t("equipment-out-line", { since: at(out.from) })} <span class="typed">{out.reason}</span>
        </p>
      )}
      {one.inspection_due != null && one.inspection_due < now.value && (
        <p class="late">{t("against-inspection_overdue")}</p>
      )}
      {asked.value && !out && (
        <>
          <Text label={t("equipment-out-why")} value={note.value} onInput={(to) => (note.value = to)} />
          <button class="button main" onClick={() => void send()}>
            {t("equipment-out")}
          </button>
        </>
      )}
      {!out && !asked.value && (
        <button class="button" onClick={() => (asked.value = true)}>
          {t("equipment-out-ask")}
        </button>
      )}
      {out && plans(me.value?.role) && (
        <button
          class="button"
          onClick={() => void perform("equipment_back", { equipment: one.id }, t("did-equipment-back", title))}
        >
          {t("equipment-back")}
        </button>
      )}
    </div>
  );
}

type Voltage = "none" | "live" | "isolated";

/** Out of these nobody bakes a vehicle; the server holds to the same. */
const within = (text: string, from: number, to: number): boolean =>
  text.trim() === "" || (Number(text) >= from && Number(text) <= to && Number.isInteger(Number(text)));

export function HighVoltage({ order }: { order: Order }) {
  const { high_voltage, bake_limit_celsius, bake_limit_minutes } = order.energy;
  const voltage = useSignal<Voltage>(high_voltage);
  const celsius = useSignal(bake_limit_celsius == null ? "" : String(bake_limit_celsius));
  const minutes = useSignal(bake_limit_minutes == null ? "" : String(bake_limit_minutes));
  const sound = within(celsius.value, 30, 100) && within(minutes.value, 1, 240);
  const limit = (text: string): number | null => (text.trim() === "" ? null : Number(text));
  const energy: Energy = {
    high_voltage: voltage.value,
    bake_limit_celsius: limit(celsius.value),
    bake_limit_minutes: limit(minutes.value),
  };
  return (
    <div class="stack">
      <p>{t("energy-cards")}</p>
      <OneOf<Voltage>
        legend={t("energy")}
        of={["none", "live", "isolated"]}
        words={(one) => t(`energy-is-${one}`)}
        value={voltage.value}
        onChange={(to) => (voltage.value = to)}
      />
      {voltage.value !== high_voltage && voltage.value !== "live" && (
        <p class="notice-line bad">{t("energy-qualified")}</p>
      )}
      <Line label={t("energy-celsius")} value={celsius.value} onInput={(to) => (celsius.value = to)} />
      <Line label={t("energy-minutes")} value={minutes.value} onInput={(to) => (minutes.value = to)} />
      {!sound && <p class="notice-line bad">{t("energy-limits")}</p>}
      <button
        class="button main"
        disabled={!sound}
        onClick={() => void perform("energy", { order: order.id, energy }, t("did-energy", { number: order.number }))}
      >
        {t("save")}
      </button>
    </div>
  );
}
