// What a card is called and how long it takes, and that an act of one's own is not sent yet: the same words
// wherever either stands.
import type { Card } from "../../api/types";
import { t, touched, words } from "../../state";
import { minutes } from "../../text/time";

export function NotSent({ of }: { of: string }) {
  return touched.value.has(of) ? <strong class="not-sent">{t("not-sent")}</strong> : null;
}

export function CardHead({ card }: { card: Card }) {
  return (
    <p class="apart">
      <strong>{words(card.title)}</strong>
      <span class="quiet">
        <span class="visually-hidden">{t("planned")} </span>
        {minutes(card.planned_minutes)}
      </span>
    </p>
  );
}
