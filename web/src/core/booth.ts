// The booth's loads as planned: what is in it when, and which loose parts are ready by then, so that they could
// go in with it. Whether they may is not known here: data sheets and makers' procedures say that.
import type { Card, Equipment, Ms, Order, Plan, PlanRow } from "../api/types";
import { holdOn } from "./cards";
import { isOver } from "./effects";

export interface Load {
  card: Card;
  /** The booth by name, where the plan has given one. */
  booth: string | undefined;
  from: Ms;
  /** When it is free again: for a vehicle after cure and unloading. */
  to: Ms;
  loose: boolean;
  /** Loose parts planned for later that are ready when this begins. */
  with: Card[];
}

interface Shop {
  cards: ReadonlyMap<string, Card>;
  orders: ReadonlyMap<string, Order>;
  equipment: ReadonlyMap<string, Equipment>;
  plan: Plan | undefined;
}

export const BOOTH = "booth";

/** Cards that are painted in a booth, not those that only clear it again. */
const sprayed = (card: Card): boolean => card.equipment === BOOTH && (card.closes == null || card.opens != null);

/** Loads that are in the booth between two moments, in the order of time. */
export function loads(shop: Shop, from: Ms, to: Ms): Load[] {
  const rows = new Map((shop.plan?.rows ?? []).map((row) => [row.card, row]));
  const all: Load[] = [];
  for (const row of rows.values()) {
    const card = shop.cards.get(row.card);
    if (!card || isOver(card) || !sprayed(card)) continue;
    all.push({
      card,
      booth: named(row, shop),
      from: row.from,
      to: until(card, row, rows, shop),
      loose: card.off_vehicle,
      with: [],
    });
  }
  // Painted and not yet out: what clears the booth is all that is left of that load.
  for (const row of rows.values()) {
    const card = shop.cards.get(row.card);
    if (!card || isOver(card) || card.equipment !== BOOTH || sprayed(card)) continue;
    const order = shop.orders.get(card.order);
    const opened = order?.open.find((one) => one.open === card.closes);
    if (opened)
      all.push({
        card,
        booth: opened.equipment ?? named(row, shop),
        from: opened.since,
        to: row.to,
        loose: false,
        with: [],
      });
  }
  all.sort((a, b) => a.from - b.from || (a.card.id < b.card.id ? -1 : 1));
  const parts = all.filter((load) => load.loose && load.card.life !== "working");
  for (const load of all) {
    // What is being baked already is not opened again.
    if (load.card.life === "working" || !sprayed(load.card)) continue;
    load.with = parts
      .filter((part) => part.from > load.from && readyAt(part.card, rows, shop) <= load.from)
      .map((part) => part.card);
  }
  return all.filter((load) => load.from < to && load.to > from);
}

const named = (row: PlanRow, shop: Shop): string | undefined =>
  row.equipment && shop.equipment.get(row.equipment)?.kind === BOOTH ? row.equipment : undefined;

function until(card: Card, row: PlanRow, rows: ReadonlyMap<string, PlanRow>, shop: Shop): Ms {
  if (card.opens == null) return row.to;
  const order = shop.orders.get(card.order);
  for (const id of order?.cards ?? []) {
    const closer = shop.cards.get(id);
    if (closer?.closes === card.opens && !isOver(closer)) return Math.max(row.to, rows.get(id)?.to ?? row.to);
  }
  return row.to;
}

/** When everything before it is done as planned; never, if that is not planned. */
export function readyAt(card: Card, rows: ReadonlyMap<string, PlanRow>, shop: Shop): Ms {
  const order = shop.orders.get(card.order);
  const hold = order && holdOn(card, order, shop.cards, "start");
  let ready = hold ? (hold.due ?? Infinity) : (card.ready_at ?? -Infinity);
  for (const link of card.after) {
    const before = shop.cards.get(link.card);
    if (!before || before.life === "cancelled") continue;
    const end = before.life === "done" ? (before.done_at ?? -Infinity) : (rows.get(before.id)?.to ?? Infinity);
    ready = Math.max(ready, end + link.lag_minutes * 60_000);
  }
  return ready;
}

/** What is entered of a vehicle with high voltage on board; undefined for any other. */
export function bakeLimit(order: Order): "whole" | "half" | "missing" | undefined {
  const { high_voltage, bake_limit_celsius, bake_limit_minutes } = order.energy;
  if (high_voltage === "none") return undefined;
  const entered = [bake_limit_celsius, bake_limit_minutes].filter((one) => one != null).length;
  return entered === 2 ? "whole" : entered === 1 ? "half" : "missing";
}
