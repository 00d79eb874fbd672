// The documents that names and sentences speak of. Whoever has them says so once, so that words do not
// know where documents come from.
import type { ReadonlySignal } from "@preact/signals";
import type { Card, Department, Equipment, Ms, Op, Order, Person, Place, Shop, SignedIn } from "../api/types";

type All<T> = ReadonlySignal<ReadonlyMap<string, T>>;

export interface Documents {
  cards: All<Card>;
  departments: All<Department>;
  equipment: All<Equipment>;
  orders: All<Order>;
  people: All<Person>;
  places: All<Place>;
  shop: ReadonlySignal<Shop | undefined>;
  me: ReadonlySignal<SignedIn | undefined>;
  now: ReadonlySignal<Ms>;
  unsent: ReadonlySignal<readonly { op: Op; person: string }[]>;
}

export const documents = {} as Documents;

export function speakOf(these: Documents): void {
  Object.assign(documents, these);
}
