// Sentences of the shop view, from the records of waits.ts.
import type { Exception, Ms } from "../../api/types";
import { cards, people, words } from "../../state";
import { departmentName, inSentence, tongue, zone } from "../../text/names";
import { length, roughly, when } from "../../text/time";
import { t } from "../../text/words";
import type { Wait } from "../../model/waits";

export const said = (at: Ms, now: Ms): string => when(at, now, tongue.value, zone.value);
export const about = (at: Ms, now: Ms): string => when(roughly(at), now, tongue.value, zone.value);

export const personName = (id: string | null | undefined): string =>
  (id && people.value.get(id)?.name) || t("shop-somebody");
export const cardTitle = (id: string | null | undefined): string => {
  const card = id ? cards.value.get(id) : undefined;
  return card ? words(card.title) : t("shop-some-card");
};

/** What follows the number: "waits for mechanical since 09:10 (asked by body)." */
export function waitSentence(wait: Wait, now: Ms): string {
  const args = {
    department: inSentence(departmentName(wait.department)),
    since: said(wait.since, now),
    card: wait.card ? words(wait.card.title) : t("shop-some-card"),
    person: personName(wait.card?.taken_by),
    number: wait.by?.number ?? "",
    due: wait.due === undefined ? "" : said(wait.due, now),
    note: wait.hold?.note ?? t("shop-wait-other-bare"),
  };
  const dated = wait.due === undefined ? "" : wait.due < now ? "-overdue" : "-due";
  switch (wait.reason) {
    case "approval":
    case "parts":
    case "customer":
    case "other":
    case "away":
      return t(`shop-wait-${wait.reason}${dated}`, args);
    case "curing":
      return t(dated ? "shop-wait-curing-due" : "shop-wait-curing", args);
    case "no_equipment":
      return t(wait.by ? "shop-wait-no_equipment-by" : "shop-wait-no_equipment", args);
    case "nobody_free":
      if (wait.asked && wait.asked.from !== wait.department) {
        return t("shop-wait-asked", {
          ...args,
          since: said(Math.max(wait.asked.asked_at, wait.since), now),
          from: inSentence(departmentName(wait.asked.from)),
        });
      }
      return t("shop-wait-nobody_free", args);
    case "no_reason":
      return t(wait.department ? "shop-wait-no_reason-department" : "shop-wait-no_reason", args);
    case "stopped":
    case "nobody_qualified":
    case "taken_not_started":
      return t(`shop-wait-${wait.reason}`, args);
  }
}

export function exceptionSentence(one: Exception): string {
  return t(`shop-exception-${one.kind}`, {
    card: cardTitle(one.card),
    person: personName(one.by),
    about: one.about.length ? one.about.map(cardTitle).join(", ") : t("shop-some-card"),
  });
}

/** What is late already, as a fact; what will be, as planned. */
export function lateWords(promise: Ms | undefined, minutes: number, now: Ms): string {
  return promise !== undefined && promise <= now
    ? t("shop-overdue", { time: said(promise, now) })
    : t("shop-late-by", { length: length(minutes * 60_000) });
}
