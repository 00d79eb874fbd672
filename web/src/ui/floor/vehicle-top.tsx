// What one sees of a vehicle in two seconds: its condition as signs, what is open with its lift, who and until when,
// and the promise against the likely and the safe date.
import "./vehicle.css";
import { useEffect } from "preact/hooks";
import { useSignalEffect } from "@preact/signals";
import type { Card, Handoff, Ms, Order } from "../../api/types";
import { backAt, placeOf } from "../../model/asking";
import { openLoops, promiseLine, type OpenLoop } from "../../model/vehicle";
import { freshen, outlook } from "../../outlook";
import { cards, now, plan, t, words } from "../../state";
import { equipmentName, zone } from "../../text/names";
import { about, at, handoffLife, named, person } from "../../text/sentences";
import { date, length } from "../../text/time";
import { language } from "../../text/words";
import { placed } from "../kit/placed";

export function Loops({ order, all }: { order: Order; all: readonly Card[] }) {
  return (
    <>
      {openLoops(order, all, plan.value, now.value).map((one) => (
        <Loop key={one.open} one={one} />
      ))}
    </>
  );
}

/** Asked for and not open yet: at which place it stands, or who has it, and when the vehicle is back. */
export function Pending({ asks }: { asks: readonly Handoff[] }) {
  return (
    <>
      {asks
        .filter((one) => one.life === "asked" || one.life === "taken" || one.life === "started")
        .map((one) => {
          const row = placeOf(one, cards.value, plan.value);
          const back = backAt(one, plan.value);
          return (
            <div class="open-loop" key={one.id}>
              <svg viewBox="0 0 56 40" width="56" height="40" aria-hidden="true">
                <path class="been" d={one.life === "asked" ? "M2 6H8" : "M2 6H14"} />
                <path d="M14 9V34H42V6H54" />
              </svg>
              <p>
                <strong>{words(one.title)}</strong>
                <br />
                {one.life === "asked" && row ? placed(row) : handoffLife(one)}{" "}
                {back !== undefined && t("ask-back", { at: about(Math.max(back, now.value)) })}
              </p>
            </div>
          );
        })}
    </>
  );
}

/** Down into the open state, and the way back as it is planned. */
function Loop({ one }: { one: OpenLoop }) {
  const said = [
    one.people.length ? t("loop-inside", { people: one.people.map(person).join(", ") }) : t("loop-nobody"),
    one.until === undefined ? t("loop-no-end") : t("loop-until", { at: about(one.until) }),
  ];
  return (
    <div class="open-loop">
      <svg viewBox="0 0 56 40" width="56" height="40" aria-hidden="true">
        <path class="been" d="M2 6H14V34H30" />
        <path d="M33 34H42V6H54" />
      </svg>
      <p>
        <strong>{t("open-line", { open: named("open", one.open) })}</strong>
        {one.equipment && <> · {equipmentName(one.equipment)}</>}
        <br />
        {said.join(" · ")} <span class="visually-hidden">{t("since", { time: at(one.since) })}</span>
      </p>
    </div>
  );
}

const FAR_MS = 3 * 24 * 3_600_000;
/** Days away nobody knows the hour. */
const reckoned = (time: Ms): string =>
  time - now.value > FAR_MS ? date(time, language.value, zone.value, now.value) : about(time);

/** Whoever plans sees it anew each minute; others as it was when they looked, for making it costs the server seconds. */
export function Dates({ order, planner }: { order: Order; planner: boolean }) {
  useSignalEffect(() => {
    if (planner) freshen(now.value);
  });
  useEffect(() => freshen(now.peek()), [order.id]);
  const vehicle = plan.value?.vehicles.find((one) => one.order === order.id);
  if (order.stage === "delivered") return null;
  const found = outlook.value.found?.vehicles.find((one) => one.order === order.id);
  const line = promiseLine(
    now.value,
    order.promise ?? undefined,
    found?.p50 ?? vehicle?.finish ?? undefined,
    found?.p90,
  );
  if (!line) return null;
  const late =
    vehicle && vehicle.late_minutes > 0 ? t("late-by", { length: length(vehicle.late_minutes * 60_000) }) : undefined;
  const share = new Intl.NumberFormat(language.value === "es" ? "es-US" : "en-US", {
    style: "percent",
    maximumFractionDigits: 0,
  });
  return (
    <div class="dates-line">
      <svg viewBox="0 0 100 22" preserveAspectRatio="none" aria-hidden="true">
        <path d={line.broken ? "M0 11H7M11 11H100" : "M0 11H100"} />
        {line.broken && <path class="tick" d="M6.5 17 8.5 5M9.5 17 11.5 5" />}
        <path class="tick" d="M0.4 4V18" />
        {line.band && <path class="band" d={`M${line.band[0]} 11H${Math.max(line.band[1], line.band[0] + 1)}`} />}
        {line.beyond && <path class="beyond" d={`M${line.beyond[0]} 11H${line.beyond[1]}`} />}
        {line.dates.map(({ name, x }) => (
          <path key={name} class={`tick ${name}`} d={name === "promise" ? `M${x} 0V22` : `M${x} 4V18`} />
        ))}
      </svg>
      <ol class={line.broken ? "after-break" : ""}>
        {line.dates.map(({ name, at: time }) => (
          <li key={name} class={`of-${name}`}>
            <span>{t(name === "likely" && !found ? "date-planned" : `date-${name}`)}</span>
            <span>{name === "promise" ? at(time) : reckoned(time)}</span>
          </li>
        ))}
        {late && <li class="late">{late}</li>}
        {planner && found?.kept != null && (
          <li class="quiet">{t("how-sure-kept", { share: share.format(found.kept) })}</li>
        )}
      </ol>
      {order.promise == null && <p class="quiet">{t("not-promised")}</p>}
    </div>
  );
}
