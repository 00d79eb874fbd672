// What whoever plans can do about a late vehicle, beside why it is late. What cures is only waited for.
// Must not know: how lateness is worked out.
import type { Ms } from "../../api/types";
import { plans } from "../../core/cards";
import { me, t } from "../../state";
import { openHoldDue, openPromise } from "../sheets/open";
import { helpFor, type Late } from "../../model/waits";

const QUARTER_MS = 15 * 60_000;

/** A date that can be said to a customer: no minutes that pretend to be known. */
export const sayable = (at: Ms | undefined): Ms | undefined => at && Math.ceil(at / QUARTER_MS) * QUARTER_MS;

/** `by90`: the date to offer for a promise, where it is known. */
export function LateHelp({ late, by90 }: { late: Late; by90: Ms | undefined }) {
  if (!plans(me.value?.role)) return null;
  const { order } = late;
  const { first, hold } = helpFor(late);
  const offer = sayable(by90);
  return (
    <p class="beside no-print">
      {hold && (
        <button class="button small-button" onClick={() => openHoldDue(order, hold)}>
          {t("shop-help-hold")}
        </button>
      )}
      {first && (
        <a class="button small-button" href={`/shop/what-if?first=${order.id}`}>
          {t("shop-help-first")}
        </a>
      )}
      <button class="button small-button" onClick={() => openPromise(order, offer)}>
        {t("shop-help-promise")}
      </button>
    </p>
  );
}
