import type { Order } from "../../api/types";
import { Looks } from "./looks";

/** A vehicle as it is named in a row: its number, what it is, and the way to it. */
export function Plate({ order }: { order: Order | undefined }) {
  if (!order) return <span class="plate" />;
  return (
    <a class="plate" href={`/vehicle/${order.id}`}>
      <b>{order.number}</b>
      <Looks of={order.vehicle} />
    </a>
  );
}
