// Waiting on: how many hours vehicles have stood for each department, as one bar each; the vehicles are one touch below.
import { useSignal } from "@preact/signals";
import type { Handoff, Ms } from "../../api/types";
import { waitedHours } from "../../model/glance";
import type { Wait, WaitGroup } from "../../model/waits";
import { departments, orders, t, words } from "../../state";
import { departmentName, inSentence } from "../../text/names";
import { length } from "../../text/time";
import { Plate } from "../kit/plate";
import { said, waitSentence } from "../kit/shop-sentences";
import { percent } from "./time-axis";

export function Waiting({ groups, meanwhile, now }: { groups: WaitGroup[]; meanwhile: Handoff[]; now: Ms }) {
  const open = useSignal<string | undefined>(undefined);
  const sums = waitedHours(groups, now);
  const most = Math.max(1, ...sums.map((one) => one.hours));
  const toggle = (of: string): void => void (open.value = open.value === of ? undefined : of);
  return (
    <>
      <ul class="waits">
        {sums.map(({ of, hours, count }, i) => (
          <li key={of}>
            <button class="wait-bar" aria-expanded={open.value === of} onClick={() => toggle(of)}>
              <span class="wait-of">{groupTitle(of)}</span>
              <svg width="100%" height="14" aria-hidden="true">
                <rect x="0" y="2" height="10" width={percent(Math.max(0.01, hours / most))} />
              </svg>
              <span class="wait-hours">{t("shop-hours", { hours: Math.round(hours) })}</span>
              <span class="visually-hidden">{t("shop-vehicles", { count })}</span>
            </button>
            {open.value === of && (
              <ul class="rows">
                {groups[i]?.waits.map((wait) => (
                  <WaitRow key={wait.order.id} wait={wait} now={now} />
                ))}
              </ul>
            )}
          </li>
        ))}
        {meanwhile.length > 0 && (
          <li>
            <button class="wait-bar" aria-expanded={open.value === "~meanwhile"} onClick={() => toggle("~meanwhile")}>
              <span class="wait-of wait-rest">{t("shop-asked-meanwhile")}</span>
              <span class="wait-hours">{meanwhile.length}</span>
            </button>
            {open.value === "~meanwhile" && (
              <ul class="rows">
                {meanwhile.map((one) => (
                  <li key={one.id} class="line-row">
                    <Plate order={orders.value.get(one.order)} />
                    <p>
                      {t("shop-asked-sentence", {
                        from: inSentence(departmentName(one.from)),
                        to: inSentence(departmentName(one.to)),
                        what: words(one.title),
                        time: said(one.asked_at, now),
                      })}
                    </p>
                  </li>
                ))}
              </ul>
            )}
          </li>
        )}
      </ul>
    </>
  );
}

function WaitRow({ wait, now }: { wait: Wait; now: Ms }) {
  return (
    <li class="line-row">
      <Plate order={wait.order} />
      <p>
        {waitSentence(wait, now)}
        {wait.card && <span class="quiet"> {words(wait.card.title)}.</span>}
      </p>
      <p class="figure-end">{length(now - wait.since)}</p>
    </li>
  );
}

function groupTitle(of: string): string {
  if (of === "outside" || of === "unknown") return t(`shop-group-${of}`);
  return departments.value.has(of) ? departmentName(of) : of;
}
