import { useSignalEffect } from "@preact/signals";
import type { Order } from "../../api/types";
import { freshen, outlook } from "../../outlook";
import { now, plan, t } from "../../state";
import { language } from "../../text/words";
import { length } from "../../text/time";
import { about, at, named } from "../../text/sentences";
import { Looks } from "./looks";

/** The vehicle as one looks for it: its number and what one sees. */
export function VehicleHead({ order, time, level = 3 }: { order: Order | undefined; time?: string | undefined; level?: 1 | 2 | 3 }) {
  const Heading = `h${level}` as const;
  return (
    <div class="apart vehicle-head">
      <Heading class="bare">
        <span class="number">{order?.number ?? "?"}</span> <Looks of={order?.vehicle} />
      </Heading>
      {time && <span class="time">{time}</span>}
    </div>
  );
}

/** "Open: suspension down." */
export function OpenStates({ order }: { order: Order }) {
  return (
    <>
      {order.open.map((open) => (
        <p key={open.open}>
          <strong>{t("open-line", { open: named("open", open.open) })}</strong> <span class="quiet">{t("since", { time: at(open.since) })}</span>
        </p>
      ))}
    </>
  );
}

/** Promise and what the plan says of it; late is said by a word. */
export function PromiseLine({ order }: { order: Order }) {
  const vehicle = plan.value?.vehicles.find((one) => one.order === order.id);
  if (order.promise == null && vehicle?.finish == null) return null;
  return (
    <p>
      {order.promise != null ? t("promised", { at: at(order.promise) }) : t("not-promised")}{" "}
      {vehicle?.finish != null && t("ready-about", { at: about(vehicle.finish) })}{" "}
      {vehicle && vehicle.late_minutes > 0 && <span class="late">{t("late-by", { length: length(vehicle.late_minutes * 60_000) })}</span>}
    </p>
  );
}

/** How likely that is, for who promises; nothing while the server is not reached, for an old probability is worth less than none. */
export function HowSure({ order }: { order: Order }) {
  useSignalEffect(() => freshen(now.value));
  const found = outlook.value.found?.vehicles.find((one) => one.order === order.id);
  if (!found) return null;
  const share = new Intl.NumberFormat(language.value === "es" ? "es-US" : "en-US", { style: "percent", maximumFractionDigits: 0 });
  return (
    <p class="quiet">
      {t("how-sure-dates", { half: at(found.p50), nine: at(found.p90) })} {found.kept != null && t("how-sure-kept", { share: share.format(found.kept) })}
    </p>
  );
}
