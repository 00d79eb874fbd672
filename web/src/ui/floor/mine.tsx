// What one person does next: own work first, the running one largest; then what comes to the department.
import type { Card, Order } from "../../api/types";
import { mine, queue } from "../../core/cards";
import { worksIn } from "../../core/effects";
import {
  cards,
  copying,
  cursor,
  departments,
  exceptions,
  handoffs,
  me,
  myself,
  now,
  orders,
  plan,
  t,
} from "../../state";
import { TripLine } from "../charts";
import { Stretches } from "./queue";
import { openAsk } from "../sheets/open";
import { department } from "../../text/sentences";
import { OpenStates, VehicleHead } from "../kit/vehicle-head";
import { Asked } from "./asked";
import { Work } from "./work";

const COMING_MAX = 8;

export function Mine() {
  const person = myself.value;
  const id = me.value?.person;
  if (!cursor.value && !cards.value.size) return <FirstCopy />;
  const own = id ? mine(cards.value.values(), plan.value, id) : [];
  const [first, ...others] = own;
  const toAnswer = [...exceptions.value.values()].filter((one) => one.owner === id && one.answered_at == null);
  return (
    <section class="page">
      <h1 class="visually-hidden">{t("mine")}</h1>
      {toAnswer.map((one) => (
        <a class="notice-line row" href={`/vehicle/${one.order}`} key={one.id}>
          {t("answer-line", { number: orders.value.get(one.order)?.number ?? "?", what: t(`exception-${one.kind}`) })}
        </a>
      ))}
      {first ? <Lead card={first} /> : <Nothing />}
      <Asked />
      {others.length > 0 && (
        <section class="stack">
          <h2>{t("also-mine")}</h2>
          <ul class="rows">
            {others.map((card) => (
              <li key={card.id}>
                <a class="row" href={`/vehicle/${card.order}`}>
                  <VehicleHead order={orders.value.get(card.order)} />
                </a>
                <Work card={card} />
              </li>
            ))}
          </ul>
        </section>
      )}
      {person &&
        [...departments.value.values()]
          .filter((one) => !one.retired && worksIn(person, one.id))
          .sort((a, b) => Number(b.id === person.department) - Number(a.id === person.department) || a.rank - b.rank)
          .map((one) => <Coming key={one.id} of={one.id} large={!first && one.id === person.department} />)}
    </section>
  );
}

/** The one thing to do next. */
function Lead({ card }: { card: Card }) {
  const order = orders.value.get(card.order);
  return (
    <section class="lead stack">
      <a class="row" href={`/vehicle/${card.order}`}>
        <VehicleHead order={order} level={2} />
      </a>
      <Work key={card.id} card={card} lead />
      {order && <OpenStates order={order} />}
      {order && (
        <button class="button full need" onClick={() => openAsk(order, card)}>
          {t("need-something")}
        </button>
      )}
      {order && <Trip order={order} />}
    </section>
  );
}

function Trip({ order }: { order: Order }) {
  const all = order.cards.map((id) => cards.value.get(id)).filter((card) => card !== undefined);
  const asks = [...handoffs.value.values()].filter((one) => one.order === order.id);
  return <TripLine order={order} cards={all} handoffs={asks} plan={plan.value} now={now.value} />;
}

function Nothing() {
  return <p class="quiet">{t("nothing-taken")}</p>;
}

function FirstCopy() {
  return (
    <section class="page">
      <h1>{t("first-copy")}</h1>
      <p role="status">{copying.value ? t("first-copy-count", { count: copying.value }) : t("first-copy-wait")}</p>
    </section>
  );
}

function Coming({ of, large }: { of: string; large: boolean }) {
  const coming = queue(cards.value, orders.value, plan.value, of).filter(
    ({ card }) => !card.taken_by && card.life === "waiting",
  );
  return (
    <section class="stack">
      <h2>{t("comes-to", { department: department(of) })}</h2>
      <Stretches under entries={coming} most={COMING_MAX} large={large} />
      <a class="button full" href={`/queue/${of}`}>
        {t("whole-queue", { department: department(of) })}
      </a>
    </section>
  );
}
