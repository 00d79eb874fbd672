// What is planned for the booth on the next day on which it is used, what could go in together, and the limits
// of vehicles with high voltage on board.
import "./booth.css";
import { bakeLimit, loads, type Load } from "../../core/booth";
import type { Order } from "../../api/types";
import { cards, equipment, language, now, orders, plan, t, words } from "../../state";
import { zone } from "../../text/names";
import { dayShort } from "../../text/time";
import { addDays, startOfDay } from "../../text/zone";
import { Sign } from "../kit/caution";
import { Looks } from "../kit/looks";
import { hour } from "../../text/sentences";

const AHEAD_DAYS = 7;

export function Booth() {
  const today = startOfDay(now.value, zone.value);
  const shop = { cards: cards.value, orders: orders.value, equipment: equipment.value, plan: plan.value };
  const all = loads(shop, now.value, addDays(today, AHEAD_DAYS, zone.value));
  if (!all[0]) return null;
  const day = Math.max(today, startOfDay(all[0].from, zone.value));
  const own = all.filter((load) => load.from < addDays(day, 1, zone.value));
  const limits = own
    .filter((load) => !load.loose)
    .map((load) => orders.value.get(load.card.order))
    .filter((order): order is Order => order !== undefined && bakeLimit(order) !== undefined);
  return (
    <section class="stack" aria-labelledby="booth">
      <h2 id="booth">
        {day === today ? t("booth-title") : t("booth-title-day", { day: dayShort(day, language.value, zone.value) })}
      </h2>
      <table class="booth">
        <thead>
          <tr>
            <th scope="col">{t("booth-when")}</th>
            <th scope="col">{t("booth-what")}</th>
            <th scope="col">{t("booth-with")}</th>
          </tr>
        </thead>
        <tbody>
          {own.map((load) => (
            <Row key={load.card.id} load={load} />
          ))}
        </tbody>
      </table>
      {[...new Set(limits)].map((order) => (
        <Limit key={order.id} order={order} />
      ))}
      <p class="quiet">{t("booth-note")}</p>
    </section>
  );
}

function Row({ load }: { load: Load }) {
  const several = [...equipment.value.values()].filter((one) => one.kind === "booth" && !one.retired).length > 1;
  const booth = load.booth ? equipment.value.get(load.booth) : undefined;
  return (
    <tr>
      <td>
        {t("booth-time", { from: hour(Math.max(load.from, startOfDay(now.value, zone.value))), to: hour(load.to) })}
        {several && booth && <span class="quiet"> {words(booth.title)}</span>}
      </td>
      <th scope="row">
        <Vehicle order={orders.value.get(load.card.order)} loose={load.loose} />
      </th>
      <td>
        {load.with.length === 0 && <span class="quiet">{t("booth-alone")}</span>}
        {load.with.length > 0 && <p class="quiet phone-only">{t("booth-with")}:</p>}
        {load.with.map((card) => (
          <p key={card.id}>
            <Vehicle order={orders.value.get(card.order)} loose />
          </p>
        ))}
      </td>
    </tr>
  );
}

function Vehicle({ order, loose }: { order: Order | undefined; loose: boolean }) {
  if (!order) return null;
  return (
    <a href={`/vehicle/${order.id}`}>
      <b>{order.number}</b> <Looks of={order.vehicle} />
      {loose && <span class="quiet">, {t("booth-loose")}</span>}
    </a>
  );
}

function Limit({ order }: { order: Order }) {
  const { bake_limit_celsius, bake_limit_minutes } = order.energy;
  const args = { number: order.number, celsius: bake_limit_celsius ?? "?", minutes: bake_limit_minutes ?? "?" };
  const limit = bakeLimit(order);
  return (
    <div class="cautions">
      <Sign />
      <p>
        {limit === "whole"
          ? t("booth-limit", args)
          : t(limit === "half" ? "booth-limit-half" : "booth-limit-missing", args)}
      </p>
    </div>
  );
}
