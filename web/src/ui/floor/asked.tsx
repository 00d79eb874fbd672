// What one has asked for and waits for: each ask as the loop it takes, with the clock at its next point.
import type { Handoff, Ms } from "../../api/types";
import { rowOf } from "../../core/cards";
import { isOver } from "../../core/effects";
import { cards, handoffs, me, now, plan, t, words } from "../../state";
import { about, at, number } from "../../text/sentences";

/** To each point from the one before. */
const LEGS = ["", "M2 6H32", "M32 6V28H68", "M68 28V6H98"];

/** How many points are behind it, and when each was or is reckoned to be. */
function times(one: Handoff): { points: string[]; reached: number; when: (Ms | undefined)[] } {
  const own = one.cards.map((id) => cards.value.get(id)).filter((card) => card !== undefined);
  const planned = (card: { id: string; life: string } | undefined, end: "from" | "to"): Ms | undefined => {
    const time = card && card.life !== "cancelled" ? rowOf(plan.value, card.id)?.[end] : undefined;
    return time === undefined ? undefined : Math.max(time, now.value);
  };
  const opener = own.find((card) => card.opens != null);
  const closer = own.find((card) => card.closes != null);
  const first = own.find((card) => !isOver(card));
  const there = opener ? one.life === "open" : one.life === "started";
  const reached = one.life === "asked" ? 1 : there ? 3 : 2;
  const third = opener ? (one.opened_at ?? planned(opener, "to")) : (one.started_at ?? planned(first, "from"));
  const when = [one.asked_at, one.taken_at, third, planned(closer ?? own.at(-1), "to")];
  return {
    points: ["asked", "taken", opener ? "up" : "begun", "back"],
    reached,
    when: when.map((time) => time ?? undefined),
  };
}

export function Asked() {
  const open = [...handoffs.value.values()]
    .filter((one) => one.asked_by === me.value?.person && one.life !== "cancelled" && one.life !== "handed_back")
    .sort((a, b) => a.asked_at - b.asked_at);
  if (!open.length) return null;
  return (
    <section class="stack">
      <h2>{t("i-wait-for")}</h2>
      <ul class="rows">
        {open.map((one) => (
          <Loop key={one.id} one={one} />
        ))}
      </ul>
    </section>
  );
}

function Loop({ one }: { one: Handoff }) {
  const { points, reached, when } = times(one);
  return (
    <li>
      <a class="row loop" href={`/vehicle/${one.order}`}>
        <p>
          <strong class="number">{number(one.order)}</strong> {words(one.title)}
        </p>
        <svg viewBox="0 0 100 34" preserveAspectRatio="none" aria-hidden="true">
          {LEGS.map(
            (leg, i) =>
              i > 0 && <path key={leg} d={leg} class={i < reached ? "been" : i === reached ? "next" : "far"} />,
          )}
        </svg>
        <ol class="points">
          {points.map((point, i) => (
            <li key={point} {...(i === reached ? { "aria-current": "step" as const } : {})}>
              {t(`loop-${point}`)}
              <span>
                {i < reached || when[i] === undefined
                  ? when[i] === undefined
                    ? ""
                    : at(when[i])
                  : t("about", { at: about(when[i]) })}
              </span>
            </li>
          ))}
        </ol>
      </a>
    </li>
  );
}
