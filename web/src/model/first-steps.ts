// What a shop that has just begun still has to say about itself, told by what is there. Pure.
import type { Card, Order, Person, Shop } from "../api/types";

/** What an empty directory begins with (server/src/serve.rs). */
const BEGUN_AS = "New shop";

export interface FirstStep {
  what: "shop" | "people" | "equipment" | "order" | "phones";
  to: string;
  done: boolean;
}

export interface Beginning {
  shop: Shop | undefined;
  people: Iterable<Person>;
  orders: ReadonlyMap<string, Order>;
  cards: Iterable<Card>;
  me: string;
  /** Whether somebody has looked through the equipment: the starter set may be right as it is. */
  looked: boolean;
}

export function firstSteps({ shop, people, orders, cards, me, looked }: Beginning): FirstStep[] {
  const others = [...people].some((one) => one.id !== me && !one.retired);
  const used = [...cards].some((card) => (card.taken_by ?? me) !== me);
  return [
    { what: "shop", to: "/setup/shop", done: shop !== undefined && shop.name !== BEGUN_AS },
    { what: "people", to: "/setup/people", done: others },
    { what: "equipment", to: "/setup/equipment", done: looked },
    { what: "order", to: orders.size ? "/vehicles" : "/setup/order", done: orders.size > 0 },
    { what: "phones", to: "/setup/people", done: used },
  ];
}
