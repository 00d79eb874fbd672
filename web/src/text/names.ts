// Names of rows for both drawings: departments and equipment by their titles, in the shop's order.
import { computed } from "@preact/signals";
import { departments, equipment, language, shop, words } from "../state";
import { t } from "./words";
import { AWAY } from "../model/itinerary";

export const zone = computed(() => shop.value?.time_zone ?? "UTC");
export const tongue = language;

export function departmentName(id: string | null | undefined): string {
  if (!id) return "";
  if (id === AWAY) return t("draw-away");
  const found = departments.value.get(id);
  return found ? words(found.title) : id;
}

export function equipmentName(id: string | null | undefined): string {
  if (!id) return "";
  const found = equipment.value.get(id);
  return found ? words(found.title) : id;
}

export function departmentRank(id: string): number {
  return departments.value.get(id)?.rank ?? 1_000;
}

/** "body" within a sentence: the title as the shop wrote it, without its capital. */
export function inSentence(name: string): string {
  const [first = "", second = ""] = name;
  // Abbreviations ("ADAS") keep theirs.
  return second && second === second.toUpperCase() && second !== second.toLowerCase()
    ? name
    : first.toLowerCase() + name.slice(1);
}
