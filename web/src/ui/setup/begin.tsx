// The first minutes of a shop: what is still to be said, in the order in which it is of use. Each line goes to its screen and
// ticks itself.
import "./setup.css";
import { useSignal } from "@preact/signals";
import { cards, me, orders, people, shop, t } from "../../state";
import { firstSteps } from "../../model/first-steps";
import { note, noted } from "../kit/prefs";

export default function Begin() {
  const later = useSignal(noted("begin/later"));
  const steps = firstSteps({
    shop: shop.value,
    people: people.value.values(),
    orders: orders.value,
    cards: cards.value.values(),
    me: me.value?.person ?? "",
    looked: noted("begin/equipment"),
  });
  const put = (): void => {
    note("begin/later");
    later.value = true;
  };
  if (later.value || steps.every((step) => step.done)) return null;
  return (
    <section class="page">
      <h2>{t("begin-title")}</h2>
      <ol class="rows begin">
        {steps.map(({ what, to, done }) => (
          <li key={what}>
            <a class="row" href={to} onClick={() => what === "equipment" && note("begin/equipment")}>
              <svg viewBox="0 0 20 20" width="20" height="20" aria-hidden="true">
                <path d={done ? "M3 11 8 16 17 4" : "M3 10H17"} />
              </svg>
              <span>
                {t(`begin-${what}`)}
                {done && <span class="visually-hidden"> {t("begin-done")}</span>}
              </span>
            </a>
          </li>
        ))}
      </ol>
      <button class="button" onClick={put}>
        {t("begin-later")}
      </button>
    </section>
  );
}
