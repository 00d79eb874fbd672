// What is to be answered, in one line until somebody wants all of it: what can hurt somebody stands first.
import { useSignal } from "@preact/signals";
import type { Exception, Ms } from "../../api/types";
import { mayAnswer } from "../../core/roles";
import { me, orders, t, touched } from "../../state";
import { exceptionSentence, personName, said } from "../kit/shop-sentences";
import { openAnswer } from "../sheets/open";

export function Answers({ open, now }: { open: Exception[]; now: Ms }) {
  const every = useSignal(false);
  const shown = every.value ? open : open.slice(0, 1);
  return (
    <section class="part part-exceptions" aria-labelledby="part-exceptions">
      <h2 id="part-exceptions">
        {t("shop-exceptions")}
        <span class="quiet">: {open.length}</span>
      </h2>
      <ul class="answers">
        {shown.map((one) => (
          <li key={one.id} class="answer-row">
            <a href={`/vehicle/${one.order}`}>
              <b>{orders.value.get(one.order)?.number ?? "?"}</b>
            </a>
            <p
              title={t(one.owner ? "shop-exception-owner" : "shop-exception-planner", {
                since: said(one.since, now),
                owner: personName(one.owner),
              })}
            >
              {exceptionSentence(one)} <span class="quiet small">{said(one.since, now)}</span>
            </p>
            {mayAnswer(one, me.value) && !touched.value.has(`exception/${one.id}`) && (
              <button class="button small-button no-print" onClick={() => openAnswer(one)}>
                {t("answer")}
              </button>
            )}
          </li>
        ))}
      </ul>
      {open.length > 1 && (
        <button
          class="button small-button plain no-print answers-more"
          aria-expanded={every.value}
          onClick={() => (every.value = !every.value)}
        >
          {every.value ? t("shop-fewer") : t("shop-more", { count: open.length - 1 })}
        </button>
      )}
    </section>
  );
}
