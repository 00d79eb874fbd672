import type { Order } from "../../api/types";
import { t } from "../../state";
import { at, named } from "../../text/sentences";
import { Looks } from "./looks";

/** The vehicle as one looks for it: its number and what one sees. */
export function VehicleHead({
  order,
  time,
  level = 3,
}: {
  order: Order | undefined;
  time?: string | undefined;
  level?: 1 | 2 | 3;
}) {
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
          <strong>{t("open-line", { open: named("open", open.open) })}</strong>{" "}
          <span class="quiet">{t("since", { time: at(open.since) })}</span>
        </p>
      ))}
    </>
  );
}
