// What is left on a vehicle that is to be driven, or to leave; and what calling a card off would leave open. As
// on the server (`domain::leaving`, `domain::open`), to be said before it happens.
// Must not know: words, storage, the screen.
import type { Card, Exception, Loose, Note, Order } from "../api/types";
import { isOver } from "./effects";

export type Left =
  | { is: "open"; open: string }
  | { is: "isolated" | "no_brakes" | "no_steering" }
  | { is: "loose"; loose: Loose }
  | { is: "owed"; found: "alignment_owed" | "calibration_owed" }
  | { is: "unanswered"; count: number };

/** Trim and refrigerant can be owed; without a battery or fuel nobody drives off. */
const MATTERS: ReadonlySet<Loose> = new Set<Loose>([
  "airbags_off",
  "high_voltage_off",
  "coolant_drained",
  "brakes_open",
  "suspension_loose",
  "steering_loose",
  "seats_out",
  "glass_out",
]);

export function left(
  order: Order,
  cards: ReadonlyMap<string, Card>,
  notes: Iterable<Note>,
  exceptions: Iterable<Exception>,
): Left[] {
  const { condition } = order;
  const all: Left[] = order.open.map(({ open }) => ({ is: "open", open }));
  if (order.energy.high_voltage === "isolated") all.push({ is: "isolated" });
  for (const loose of condition.loose) if (MATTERS.has(loose)) all.push({ is: "loose", loose });
  if (condition.brakes === false) all.push({ is: "no_brakes" });
  if (condition.steers === false) all.push({ is: "no_steering" });
  const owed = new Set(
    [...notes].filter((note) => note.order === order.id).flatMap((note) => owes(note, order, cards) ?? []),
  );
  for (const found of owed) all.push({ is: "owed", found });
  const count = [...exceptions].filter((one) => one.order === order.id && one.answered_at == null).length;
  if (count) all.push({ is: "unanswered", count });
  return all;
}

function owes(
  note: Note,
  order: Order,
  cards: ReadonlyMap<string, Card>,
): "alignment_owed" | "calibration_owed" | undefined {
  const { found } = note;
  if (found !== "alignment_owed" && found !== "calibration_owed") return undefined;
  const done = order.cards.some((id) => {
    const card = cards.get(id);
    return card?.life === "done" && (card.done_at ?? 0) >= note.at && settles(card, found);
  });
  return done ? undefined : found;
}

/** What a person typed has nothing but its title to be known by. */
function settles(card: Card, found: "alignment_owed" | "calibration_owed"): boolean {
  const words = found === "alignment_owed" ? ["align", "aline"] : ["calibr"];
  return [card.step, card.routing, card.equipment, card.qualification, card.title.text, card.title.es]
    .map((said) => said?.toLowerCase() ?? "")
    .some((said) => words.some((word) => said.includes(word)));
}

/** Whether cancelling it needs a reason: it closes what is open or will be, is undone inside, or opens for others. */
export function graveToCancel(
  card: Card,
  order: Order,
  cards: ReadonlyMap<string, Card>,
  forCard: string | null | undefined,
): boolean {
  const others = order.cards
    .flatMap((id) => (id === card.id ? [] : (cards.get(id) ?? [])))
    .filter((one) => !isOver(one));
  const isOpen = (open: string): boolean => order.open.some((now) => now.open === open);
  if (card.closes) {
    const openings = Number(isOpen(card.closes)) + others.filter((one) => one.opens === card.closes).length;
    if (openings > others.filter((one) => one.closes === card.closes).length) return true;
  }
  if (card.inside && isOpen(card.inside) && card.life !== "proposed") return true;
  if (!card.opens || isOpen(card.opens) || others.some((one) => one.opens === card.opens)) return false;
  // What was laid out or asked for together is one thing.
  const own = (one: Card): boolean =>
    one.id === forCard ||
    (card.routing != null && one.routing === card.routing && (one.handoff ?? null) === (card.handoff ?? null));
  return others.some((one) => one.inside === card.opens && !own(one));
}
