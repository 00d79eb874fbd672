// High voltage on board: moved by what qualified people do or say, as on the server (`decide::energy`).
// Must not know: operations, storage, the screen.
import type { Acts, Card, Ms, Order, Role } from "../api/types";
import { plans } from "./cards";
import type { Docs } from "./docs";

type Energy = Order["energy"];
type HighVoltage = Energy["high_voltage"];

/** As the library of a new shop calls it, for shops whose own names none. */
const QUALIFIED = "high-voltage";

function holds(docs: Docs, person: string, qualification: string, now: Ms): boolean {
  const held = docs.get("person", person)?.qualifications as Record<string, Ms | null> | undefined;
  const until = held?.[qualification];
  return until !== undefined && (until === null || until > now);
}

/** Whether the person may do what the shop's own routings ask of who isolates. */
function knows(docs: Docs, person: string, now: Ms): boolean {
  const asked = [...docs.all("routing")]
    .filter((routing) => !routing.retired)
    .flatMap((routing) => routing.steps)
    .filter((step) => step.opens && step.cautions.includes("high_voltage"))
    .flatMap((step) => step.qualification ?? []);
  return (asked.length ? asked : [QUALIFIED]).some((one) => holds(docs, person, one, now));
}

/** What is said of it, as far as this person's word goes. */
export function saidEnergy(docs: Docs, order: Order, said: Acts["energy"]["energy"], person: string, now: Ms): Energy {
  const [was, is] = [order.energy.high_voltage, said.high_voltage ?? "none"] as const;
  const role: Role | undefined = docs.get("person", person)?.role;
  const counts = was === is || knows(docs, person, now) || (is === "none" && plans(role));
  const believed: HighVoltage = counts ? is : is === "none" ? was : "live";
  return { ...said, high_voltage: believed };
}

/** The card is done: it may have been what isolates or reconnects. */
export function energyAfter(docs: Docs, card: Card, person: string, now: Ms): void {
  if (!card.cautions.includes("high_voltage")) return;
  const move = (high_voltage: HighVoltage): void =>
    docs.change("order", card.order, ({ energy }) => ({ energy: { ...energy, high_voltage } }));
  const able = card.qualification ? holds(docs, person, card.qualification, now) : knows(docs, person, now);
  if (card.closes) move("live");
  else if (card.opens && able) move("isolated");
}
