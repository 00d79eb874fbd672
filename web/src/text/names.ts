// Names of rows for both drawings: departments and equipment by their titles, in the shop's order.
import { computed } from "@preact/signals";
import { documents } from "./documents";
import { language, words } from "./words";

export const zone = computed(() => documents.shop.value?.time_zone ?? "UTC");
export const tongue = language;

export function departmentName(id: string | null | undefined): string {
  if (!id) return "";
  const found = documents.departments.value.get(id);
  return found ? words(found.title) : id;
}

export function equipmentName(id: string | null | undefined): string {
  if (!id) return "";
  const found = documents.equipment.value.get(id);
  return found ? words(found.title) : id;
}

export function departmentRank(id: string): number {
  return documents.departments.value.get(id)?.rank ?? 1_000;
}

/** "body" within a sentence: the title as the shop wrote it, without its capital. */
export function inSentence(name: string): string {
  const [first = "", second = ""] = name;
  // Abbreviations ("ADAS") keep theirs.
  return second && second === second.toUpperCase() && second !== second.toLowerCase()
    ? name
    : first.toLowerCase() + name.slice(1);
}
