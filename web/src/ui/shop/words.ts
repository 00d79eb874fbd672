// Sentences of the shop view, from the records of waits.ts.
import type { Binding, Exception, Ms } from "../../api/types";
import { cards, orders, people, words } from "../../state";
import { departmentName, equipmentName, inSentence, tongue, zone } from "../draw/names";
import { length, roughly, when } from "../draw/say";
import { has, t } from "../words";
import type { Wait } from "./waits";

export const said = (at: Ms, now: Ms): string => when(at, now, tongue.value, zone.value);
export const about = (at: Ms, now: Ms): string => when(roughly(at), now, tongue.value, zone.value);

/** A word of the shop's own making ("suspension-down-rear"): translated where we know it, else as typed. */
export function named(prefix: "open" | "kind" | "qualification", id: string | null | undefined): string {
  if (!id) return "";
  const key = `${prefix}-${id}`;
  return has(key) ? t(key) : id.replaceAll("-", " ");
}

export const personName = (id: string | null | undefined): string => (id && people.value.get(id)?.name) || t("shop-somebody");
export const orderNumber = (id: string | null | undefined): string => (id && orders.value.get(id)?.number) || "?";
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
  };
  const dated = wait.due === undefined ? "" : "-due";
  switch (wait.reason) {
    case "approval":
    case "parts":
    case "customer":
    case "away":
    case "curing":
      return t(`shop-wait-${wait.reason}${dated}`, args);
    case "no_equipment":
      return t(wait.by ? "shop-wait-no_equipment-by" : "shop-wait-no_equipment", args);
    case "nobody_free":
      if (wait.asked && wait.asked.from !== wait.department) {
        return t("shop-wait-asked", { ...args, since: said(Math.max(wait.asked.asked_at, wait.since), now), from: inSentence(departmentName(wait.asked.from)) });
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

/** What kept a card from being earlier. */
export function bindingSentence(binding: Binding, now: Ms): string {
  const until = "until" in binding ? about(binding.until, now) : "";
  switch (binding.kind) {
    case "now":
    case "started":
      return t(`shop-why-${binding.kind}`);
    case "after":
    case "vehicle":
      return t(`shop-why-${binding.kind}`, { card: cardTitle(binding.card), until });
    case "curing":
    case "shift":
    case "expected":
      return t(`shop-why-${binding.kind}`, { until });
    case "people":
      return t("shop-why-people", { department: departmentName(binding.department), until });
    case "equipment":
      return binding.order
        ? t("shop-why-equipment-order", { equipment: equipmentName(binding.equipment), number: orderNumber(binding.order), until })
        : t("shop-why-equipment", { equipment: equipmentName(binding.equipment), until });
    case "hold":
      return binding.due
        ? t("shop-why-hold-due", { what: t(`shop-hold-${binding.what}`), due: said(binding.due, now) })
        : t("shop-why-hold", { what: t(`shop-hold-${binding.what}`) });
    case "qualified":
      return t("shop-why-qualified", { qualification: named("qualification", binding.qualification) });
  }
}

export function exceptionSentence(one: Exception): string {
  return t(`shop-exception-${one.kind}`, {
    card: cardTitle(one.card),
    person: personName(one.by),
    about: one.about.length ? one.about.map(cardTitle).join(", ") : t("shop-some-card"),
  });
}

export const lateWords = (minutes: number): string => t("shop-late-by", { length: length(minutes * 60_000) });
