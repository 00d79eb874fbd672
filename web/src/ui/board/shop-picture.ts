// What every part of the shop's page and of the wall looks at: the documents, the plan, and what is forecast.
import { useComputed, useSignalEffect } from "@preact/signals";
import type { Ms } from "../../api/types";
import { freshen, outlook, type VehicleOutlook } from "../../outlook";
import { cards, handoffs, now as clock, orders, plan } from "../../state";
import { inTrouble, type Trouble } from "../../model/glance";
import { seen, type Seen, type ShopPicture } from "../../model/waits";

export interface Looked {
  now: Ms;
  picture: ShopPicture;
  all: Seen[];
  chances: ReadonlyMap<string, VehicleOutlook>;
  trouble: Trouble[];
}

export function useShop(): Looked {
  const picture = useComputed<ShopPicture>(() => ({
    orders: orders.value,
    cards: cards.value,
    handoffs: handoffs.value,
    plan: plan.value,
    now: clock.value,
  }));
  const all = useComputed(() => seen(picture.value));
  useSignalEffect(() => freshen(clock.value));
  const chances = new Map(outlook.value.found?.vehicles.map((one) => [one.order, one]));
  return {
    now: clock.value,
    picture: picture.value,
    all: all.value,
    chances,
    trouble: inTrouble(picture.value, chances),
  };
}
