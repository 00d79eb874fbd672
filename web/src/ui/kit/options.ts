// Lists to choose from, in the shop's order.
import type { Routing } from "../../api/types";
import { canBeLaidOut } from "../../core/ask";
import { calendars, departments, equipment, people, places, routings, words } from "../../state";
import { named } from "../../text/sentences";

type Option = [string, string];

const byNumber = (a: Option, b: Option): number => a[1].localeCompare(b[1], undefined, { numeric: true });

export const departmentOptions = (): Option[] =>
  [...departments.value.values()]
    .filter((one) => !one.retired)
    .sort((a, b) => a.rank - b.rank)
    .map((one) => [one.id, words(one.title)]);

export const calendarOptions = (): Option[] =>
  [...calendars.value.values()].map((one): Option => [one.id, words(one.title)]).sort(byNumber);

export const equipmentOptions = (): Option[] =>
  [...equipment.value.values()]
    .filter((one) => !one.retired)
    .map((one): Option => [one.id, words(one.title)])
    .sort(byNumber);

export const placeOptions = (): Option[] =>
  [...places.value.values()]
    .filter((one) => !one.retired)
    .map((one): Option => [one.id, words(one.title)])
    .sort(byNumber);

export const peopleOptions = (): Option[] =>
  [...people.value.values()]
    .filter((one) => !one.retired)
    .map((one): Option => [one.id, one.name])
    .sort(byNumber);

/** Those that can be laid out now: a department that is gone does no step. */
export const liveRouting = (one: Routing): boolean =>
  !one.retired && canBeLaidOut(one, (id) => departments.value.get(id));

export const routingOptions = (): Option[] =>
  [...routings.value.values()]
    .filter(liveRouting)
    .map((one): Option => [one.id, words(one.title)])
    .sort(byNumber);

/** Kinds, open states and qualifications are words that exist because something uses them. */
export function kindOptions(): Option[] {
  const ids = new Set<string>(["lift", "alignment", "bench", "stands", "prep", "booth"]);
  for (const one of equipment.value.values()) ids.add(one.kind);
  for (const step of steps()) if (step.equipment) ids.add(step.equipment);
  return [...ids].map((id): Option => [id, named("kind", id)]).sort(byNumber);
}

export function openOptions(): Option[] {
  const ids = new Set<string>();
  for (const step of steps()) for (const id of [step.opens, step.inside, step.closes]) if (id) ids.add(id);
  return [...ids].map((id): Option => [id, named("open", id)]).sort(byNumber);
}

export function qualificationOptions(): Option[] {
  const ids = new Set<string>(["high-voltage", "refrigerant", "spray-trained", "calibration"]);
  for (const step of steps()) if (step.qualification) ids.add(step.qualification);
  for (const person of people.value.values()) for (const id of Object.keys(person.qualifications)) ids.add(id);
  return [...ids].map((id): Option => [id, named("qualification", id)]).sort(byNumber);
}

function* steps() {
  for (const routing of routings.value.values()) yield* routing.steps;
}
