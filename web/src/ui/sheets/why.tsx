// Why a card stands where it stands: the sentence, what can be done, and the chain back to what it all hangs on.
import { useSignal } from "@preact/signals";
import type { Card, PlanVehicle } from "../../api/types";
import { can, rowOf, waiting } from "../../core/cards";
import { cards, myself, now, orders, plan, t } from "../../state";
import { length } from "../../text/time";
import { take } from "../kit/do";
import { about, askedFor, at, binding, life, number, reason, title } from "../../text/sentences";
import { closeSheet } from "../kit/sheet";
import { OpenStates, VehicleHead } from "../kit/vehicle-head";
import { CardHead } from "../kit/card-head";

export function Why({ card: { id } }: { card: Card }) {
  const card = cards.value.get(id);
  return card ? <Of card={card} /> : null;
}

function Of({ card }: { card: Card }) {
  const order = orders.value.get(card.order);
  const may = can(card, order, cards.value, myself.value, now.value);
  const vehicle = plan.value?.vehicles.find((one) => one.order === card.order);
  const row = rowOf(plan.value, card.id);
  const steps = chainOf(card);
  // What is late asks for the whole story.
  const all = useSignal((vehicle?.late_minutes ?? 0) > 0);
  return (
    <div class="stack">
      <VehicleHead
        order={order}
        time={row && card.life === "waiting" ? t("about", { at: about(row.from) }) : undefined}
      />
      <CardHead card={card} />
      {order && <OpenStates order={order} />}
      <p>{row && card.life === "waiting" ? reason(row) : life(card)}</p>
      {may.take && !askedFor(card) && (
        <button class="button main" onClick={() => (closeSheet(), void take(card))}>
          {t("take")}
        </button>
      )}
      <h3>{t("why-chain")}</h3>
      <ol class="rows">
        {steps.map((step) => (
          <li key={step.card.id}>
            <strong>
              {orders.value.get(step.card.order)?.number} {title(step.card.id)}
            </strong>
            <p>{step.why}</p>
          </li>
        ))}
      </ol>
      {vehicle && vehicle.chain.length > 0 && (
        <details open={all.value}>
          <summary>{t("why-finish")}</summary>
          <p>
            <strong>{finish(vehicle)}</strong>
          </p>
          <ol class="rows">
            {vehicle.chain.map((link) => (
              <li key={link.card}>
                <strong>
                  {number(cards.value.get(link.card)?.order)} {title(link.card)}
                </strong>
                <p>{binding(link.binding, cards.value.get(link.card))}</p>
              </li>
            ))}
          </ol>
        </details>
      )}
      <a class="button full" href={`/vehicle/${card.order}`}>
        {t("to-vehicle", { number: order?.number ?? "" })}
      </a>
    </div>
  );
}

/** What the chain is the story of. */
function finish({ finish, promise, late_minutes }: PlanVehicle): string {
  return [
    finish == null ? "" : t("ready-about", { at: about(finish) }),
    promise == null ? "" : t("promised", { at: at(promise) }),
    late_minutes > 0 ? t("why-late", { length: length(late_minutes * 60_000) }) : "",
  ]
    .filter(Boolean)
    .join(" ");
}

/** Follows what kept each card from being earlier, as far as the plan says. */
function chainOf(from: Card): { card: Card; why: string }[] {
  const steps: { card: Card; why: string }[] = [];
  const seen = new Set<string>();
  let card: Card | undefined = from;
  while (card && !seen.has(card.id) && steps.length < 12) {
    seen.add(card.id);
    const row = rowOf(plan.value, card.id);
    steps.push({ card, why: row ? binding(row.reason.binding, card) : life(card) });
    const bound = row?.reason.binding;
    if (bound && (bound.kind === "after" || bound.kind === "vehicle")) card = cards.value.get(bound.card);
    else if (!row) {
      const is = waiting(card, orders.value.get(card.order), cards.value, now.value);
      card = is.is === "after" ? cards.value.get(is.cards[0] ?? "") : undefined;
    } else card = undefined;
  }
  return steps;
}
