// Lifts, benches, booths: which fit a card, and what should keep a vehicle off one.
// Must not know: words, storage, the screen.
import type { Card, Equipment, ExceptionKind, Ms, Order } from "../api/types";

/** Until somebody says that it is back: as far as dates reach. */
export const REACH = 5 * 366 * 24 * 3_600_000;
const LIFT = "lift";

type Absence = Equipment["out_of_service"][number];

/** The stretch in which it can not be used at this moment. */
export const outOfService = (absences: readonly Absence[], now: Ms): Absence | undefined =>
  absences.find((one) => one.from <= now && now < one.to);

interface Shop {
  equipment: ReadonlyMap<string, Equipment>;
  orders: ReadonlyMap<string, Order>;
  places: ReadonlyMap<string, { equipment?: string | null }>;
}

/** Which vehicle is on it, as far as it is noted. */
export function occupant(shop: Shop, id: string): Order | undefined {
  for (const order of shop.orders.values()) {
    if (order.stage === "delivered") continue;
    const stands = order.condition.place == null ? undefined : shop.places.get(order.condition.place)?.equipment;
    if (stands === id || order.open.some((now) => now.equipment === id)) return order;
  }
  return undefined;
}

/** The piece a card is on where that is certain: where the vehicle is open, else where it stands. */
export function certain(shop: Shop, order: Order, card: Card): string | undefined {
  const fits = (id: string | null | undefined): id is string => {
    const found = id == null ? undefined : shop.equipment.get(id);
    return found !== undefined && found.kind === card.equipment && !found.retired;
  };
  const stands = order.condition.place == null ? undefined : shop.places.get(order.condition.place)?.equipment;
  return order.open.map((now) => now.equipment).find(fits) ?? (fits(stands) ? stands : undefined);
}

/** What to ask at the start: every piece that fits, the likeliest first. None if it is known, or only one fits. */
export function toChoose(shop: Shop, order: Order, card: Card, now: Ms): Equipment[] {
  if (!card.equipment || certain(shop, order, card) !== undefined) return [];
  const rank = (one: Equipment): number =>
    (one.id === card.used ? 0 : 1) +
    (outOfService(one.out_of_service, now) ? 8 : 0) +
    (occupant(shop, one.id) ? 4 : 0) +
    (one.department === card.department ? 0 : 2);
  const fit = [...shop.equipment.values()].filter((one) => one.kind === card.equipment && !one.retired);
  return fit.length > 1 ? fit.sort((a, b) => rank(a) - rank(b) || (a.id < b.id ? -1 : 1)) : [];
}

/** What should keep this vehicle off this piece, before anybody begins. */
export function against(order: Order, one: Equipment, now: Ms): ExceptionKind[] {
  const { lifting_points, weight_off } = order.condition;
  const hangs = order.open.some((open) => open.equipment === one.id);
  const unfit = lifting_points === "damaged" || weight_off.length > 0;
  const kinds: ExceptionKind[] = [];
  if (outOfService(one.out_of_service, now)) kinds.push("out_of_service");
  if (one.inspection_due != null && one.inspection_due < now) kinds.push("inspection_overdue");
  if (one.kind === LIFT && unfit && !hangs) kinds.push("unsafe_lift");
  return kinds;
}
