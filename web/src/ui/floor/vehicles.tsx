// Finding a vehicle: by its number or by what one sees.
import { useSignal } from "@preact/signals";
import { cursor, language, me, orders, plan, t } from "../../state";
import { look } from "../../text/looks";
import { plans } from "../../core/cards";
import { length } from "../../text/time";
import { whereabouts } from "../../text/sentences";
import { OpenStates, VehicleHead } from "../kit/vehicle-head";
import { NotSent } from "../kit/card-head";

export function Vehicles() {
  const wanted = useSignal("");
  const all = useSignal(false);
  const word = wanted.value.trim().toLowerCase();
  const late = new Map(plan.value?.vehicles.map((one) => [one.order, one.late_minutes]));
  const found = [...orders.value.values()]
    .filter(
      (order) =>
        (all.value || order.stage !== "delivered") &&
        (!word ||
          `${order.number} ${order.vehicle} ${look(order.vehicle, language.value).said} ${order.vin ?? ""}`
            .toLowerCase()
            .includes(word)),
    )
    .sort((a, b) => a.number.localeCompare(b.number, undefined, { numeric: true }));
  return (
    <section class="page">
      <h1>{t("vehicles")}</h1>
      <div class="field">
        <label>
          <span class="label">{t("find-vehicle")}</span>
          <input type="search" value={wanted.value} onInput={(event) => (wanted.value = event.currentTarget.value)} />
        </label>
      </div>
      <label class="choice">
        <input type="checkbox" checked={all.value} onChange={() => (all.value = !all.value)} />
        {t("with-delivered")}
      </label>
      {!found.length && (
        <p class="quiet">{t(cursor.value ? (word ? "none-found" : "no-vehicles") : "first-copy-wait")}</p>
      )}
      {!found.length && !word && plans(me.value?.role) && (
        <a class="button" href="/setup">
          {t("to-setup")}
        </a>
      )}
      <ul class="rows">
        {found.map((order) => {
          const minutes = late.get(order.id) ?? 0;
          return (
            <li key={order.id}>
              <a class="row" href={`/vehicle/${order.id}`}>
                <VehicleHead order={order} level={2} />
                <p>
                  {whereabouts(order)}{" "}
                  {minutes > 0 && <span class="late">{t("late-by", { length: length(minutes * 60_000) })}</span>}{" "}
                  <NotSent of={`order/${order.id}`} />
                </p>
                <OpenStates order={order} />
              </a>
            </li>
          );
        })}
      </ul>
    </section>
  );
}
