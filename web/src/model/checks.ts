// Whether a document of the setup, or a new repair order, would be taken as it stands: the server's rules
// (`domain`, decide/setup.rs, job.rs), before it is sent. tests/vectors/setup holds both to the same cases.
// Messages are keys under the names of fields, in the order of the screen.
// Pure. Must not know: the DOM, signals, languages; what depends on other documents of the shop.
import {
  ABSENCES_MAX,
  BAKE_CELSIUS,
  BAKE_MINUTES,
  CARD_MINUTES_MAX,
  LAG_MINUTES_MAX,
  LOAD_KG_MAX,
  NAME_CHARS_MAX,
  NUMBER_CHARS_MAX,
  REACH_MS,
  ROUTINGS_MAX,
  SOLD_MINUTES_MAX,
  SPECIAL_DAYS_MAX,
  STEPS_MAX,
  TITLE_CHARS_MAX,
  VIN_CHARS_MAX,
  WEIGHTS,
} from "../api/limits";
import type { Absence, Department, Equipment, Ms, OpenOrder, Person, Place, Routing, Step, Words } from "../api/types";
import { isoDay } from "../text/zone";

/** Field → message key and what goes into it. */
export type Wrong = Record<string, { key: string; args?: Record<string, string | number> }>;

const empty = { key: "setup-wrong-empty" };
const choose = { key: "setup-wrong-choose" };
const atMost = (most: number) => ({ key: "setup-wrong-long", args: { most } });
const tooMany = (most: number) => ({ key: "setup-wrong-many", args: { most } });
const outOfReach = { key: "setup-wrong-reach" };

/** As the server counts: a letter outside the basic plane is one. */
const letters = (text: string): number => [...text].length;

function checkText(wrong: Wrong, field: string, text: string, most: number): void {
  if (!text.trim()) wrong[field] = empty;
  else if (letters(text) > most) wrong[field] = atMost(most);
}

export function checkWords(wrong: Wrong, field: string, words: Words): void {
  checkText(wrong, field, words.text, TITLE_CHARS_MAX);
  if (!wrong[field] && words.es != null) checkText(wrong, field, words.es, TITLE_CHARS_MAX);
}

/** Nothing lies before 1970, and nothing is set up further away than five years: the year is a slip. */
const reached = (at: Ms, now: Ms): boolean => at >= 0 && at <= now + REACH_MS;

function checkTime(wrong: Wrong, field: string, at: Ms | null | undefined, now: Ms): void {
  if (at != null && !reached(at, now)) wrong[field] = outOfReach;
}

function checkAbsences(wrong: Wrong, field: string, absences: readonly Absence[], now: Ms): void {
  absences.forEach((one, i) => {
    if (!(one.from < one.to)) wrong[`${field}-${i}`] = { key: "setup-wrong-absence" };
    else if (!reached(one.from, now) || !reached(one.to, now)) wrong[`${field}-${i}`] = outOfReach;
  });
  const most = ABSENCES_MAX;
  if (absences.length > most) wrong[`${field}-${most}`] = tooMany(most);
}

export function checkPerson(person: Person, now: Ms): Wrong {
  const wrong: Wrong = {};
  checkText(wrong, "name", person.name, NAME_CHARS_MAX);
  if (!person.department) wrong["department"] = choose;
  for (const [word, until] of Object.entries(person.qualifications))
    checkTime(wrong, `qualification-${word}`, until, now);
  checkAbsences(wrong, "away", person.away, now);
  return wrong;
}

export function checkDepartment(department: Department): Wrong {
  const wrong: Wrong = {};
  checkWords(wrong, "title", department.title);
  return wrong;
}

export function checkEquipment(equipment: Equipment, now: Ms): Wrong {
  const wrong: Wrong = {};
  checkWords(wrong, "title", equipment.title);
  if (!equipment.kind.trim()) wrong["kind"] = empty;
  if (!equipment.department) wrong["department"] = choose;
  const load = equipment.rated_load_kg;
  if (load != null && !(load >= 1 && load <= LOAD_KG_MAX)) wrong["rated_load_kg"] = { key: "setup-wrong-load" };
  checkTime(wrong, "inspection_due", equipment.inspection_due, now);
  checkAbsences(wrong, "out_of_service", equipment.out_of_service, now);
  return wrong;
}

export function checkPlace(place: Place): Wrong {
  const wrong: Wrong = {};
  checkWords(wrong, "title", place.title);
  return wrong;
}

/** A special day of a calendar: there is such a day, and it is within reach. */
export function checkDay(wrong: Wrong, field: string, day: string, now: Ms, zone: string): void {
  const at = /^\d{4}-\d{2}-\d{2}$/.test(day) ? Date.parse(`${day}T00:00:00Z`) : Number.NaN;
  if (Number.isNaN(at) || new Date(at).toISOString().slice(0, 10) !== day) wrong[field] = { key: "setup-wrong-date" };
  else if (at < 0 || day > isoDay(now + REACH_MS, zone)) wrong[field] = outOfReach;
}

export function checkSpecialDays(wrong: Wrong, count: number): void {
  const most = SPECIAL_DAYS_MAX;
  if (count > most) wrong[`day-${most}`] = tooMany(most);
}

export function checkRouting(routing: Routing): Wrong {
  const wrong: Wrong = {};
  checkWords(wrong, "title", routing.title);
  if (routing.steps.length === 0) wrong["steps"] = { key: "setup-wrong-no-steps" };
  if (routing.steps.length > STEPS_MAX) wrong["steps"] = tooMany(STEPS_MAX);
  const above = new Set<string>();
  const opened = new Set<string>();
  routing.steps.forEach((step, i) => {
    checkStep(wrong, `step-${i}`, step, above);
    const after = links(step, above, routing.steps);
    if (after) wrong[`step-${i}-after`] = after;
    // One of an older log can be taken out of use as it is.
    if (!routing.retired) {
      if (step.inside && !opened.has(step.inside)) wrong[`step-${i}-inside`] = { key: "setup-wrong-inside" };
      if (step.closes && !opened.has(step.closes)) wrong[`step-${i}-closes`] = { key: "setup-wrong-closes" };
    }
    if (step.opens) opened.add(step.opens);
    above.add(step.step);
  });
  return wrong;
}

function checkStep(wrong: Wrong, field: string, step: Step, above: ReadonlySet<string>): void {
  checkWords(wrong, `${field}-title`, step.title);
  const word = step.step;
  if (!word.trim() || letters(word) > NUMBER_CHARS_MAX || above.has(word))
    wrong[`${field}-title`] ??= { key: "setup-wrong-step-word", args: { most: NUMBER_CHARS_MAX } };
  if (!step.department) wrong[`${field}-department`] = choose;
  if (!(step.planned_minutes >= 1)) wrong[`${field}-minutes`] = { key: "setup-wrong-minutes" };
  else if (step.planned_minutes > CARD_MINUTES_MAX)
    wrong[`${field}-minutes`] = { key: "setup-wrong-minutes-most", args: { hours: CARD_MINUTES_MAX / 60 } };
  (step.checks ?? []).forEach((check, i) => checkWords(wrong, `${field}-check-${i}`, check));
}

/** What is wrong with what a step follows. */
function links(step: Step, above: ReadonlySet<string>, all: readonly Step[]): Wrong[string] | undefined {
  const below = step.after.find((link) => !above.has(link.step));
  if (below)
    return {
      key: "setup-wrong-after",
      args: { step: all.find((one) => one.step === below.step)?.title.text ?? below.step },
    };
  for (const { lag_minutes: least, lag_minutes_max: most } of step.after) {
    if (Math.max(least, most ?? 0) > LAG_MINUTES_MAX)
      return { key: "setup-wrong-lag-most", args: { days: LAG_MINUTES_MAX / (24 * 60) } };
    if (most != null && most < least) return { key: "setup-wrong-lag" };
  }
  return undefined;
}

const within = (value: number | null | undefined, [least, most]: readonly [number, number]): boolean =>
  value == null || (value >= least && value <= most);

/** A new repair order. That its number is free and its promise lies ahead, the screen knows. */
export function checkOpenOrder(order: OpenOrder, now: Ms): Wrong {
  const wrong: Wrong = {};
  checkText(wrong, "number", order.number, NUMBER_CHARS_MAX);
  if (!order.vehicle.trim()) wrong["vehicle"] = { key: "setup-wrong-vehicle" };
  else checkText(wrong, "vehicle", order.vehicle, TITLE_CHARS_MAX);
  if (letters(order.vin ?? "") > VIN_CHARS_MAX) wrong["vin"] = atMost(VIN_CHARS_MAX);
  checkTime(wrong, "expected", order.expected_at, now);
  checkTime(wrong, "promise", order.promise, now);
  if ((order.routings ?? []).length > ROUTINGS_MAX) wrong["routings"] = tooMany(ROUTINGS_MAX);
  if ((order.sold_minutes ?? 0) > SOLD_MINUTES_MAX)
    wrong["sold"] = { key: "setup-wrong-sold", args: { hours: SOLD_MINUTES_MAX / 60 } };
  if (order.weight !== undefined && !(WEIGHTS as readonly number[]).includes(order.weight)) wrong["weight"] = choose;
  if (!within(order.energy?.bake_limit_celsius, BAKE_CELSIUS)) wrong["bakeCelsius"] = { key: "setup-wrong-bake" };
  if (!within(order.energy?.bake_limit_minutes, BAKE_MINUTES)) wrong["bakeMinutes"] = { key: "setup-wrong-bake" };
  return wrong;
}
