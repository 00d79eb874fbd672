// A question that is made so, as acts. Pure: documents are arguments.
import type { Absence, Acts, Calendar, Card, Department, Equipment, Kind, Ms, Order, Person, Shop } from "../../api/types";
import { closeUp } from "../../core/close-up";
import { newId } from "../../core/ids";
import type { Change } from "./what-if";

/** `id`: where another names what it makes. */
export type Deed = { [K in Kind]: { kind: K; args: Acts[K]; id?: string } }[Kind];

export interface Docs {
  shop: Shop | undefined;
  departments: ReadonlyMap<string, Department>;
  people: ReadonlyMap<string, Person>;
  equipment: ReadonlyMap<string, Equipment>;
  calendars: ReadonlyMap<string, Calendar>;
  orders: ReadonlyMap<string, Order>;
  cards: ReadonlyMap<string, Card>;
}

/** Who may enter it: calendars are a manager's, what is waited for and what is done on a vehicle is a planner's, too. */
export const needsManager = (change: Change): boolean => change.change !== "hold_until" && change.change !== "close_up";

/** The acts, in order; undefined where there are none. */
export function deeds(change: Change, docs: Docs, now: Ms): Deed[] | undefined {
  switch (change.change) {
    case "out_of_service": {
      const tool = docs.equipment.get(change.equipment);
      const gap = { from: change.from ?? now, to: change.until };
      return tool && [{ kind: "set_equipment", args: { equipment: { ...tool, out_of_service: joined(tool.out_of_service, gap) } } }];
    }
    case "away": {
      const person = docs.people.get(change.person);
      const gap = { from: change.from ?? now, to: change.until };
      return person && [{ kind: "set_person", args: { person: { ...person, away: joined(person.away, gap) } } }];
    }
    case "back": {
      const person = docs.people.get(change.person);
      const there = { from: now, to: change.until };
      return person && [{ kind: "set_person", args: { person: { ...person, away: cut(person.away, there) } } }];
    }
    case "hold_until":
      return [{ kind: "hold_due", args: { order: change.order, hold: change.hold, due: change.due } }];
    case "extra_shift":
      return longer(change, docs);
    case "close_up": {
      const order = docs.orders.get(change.order);
      const id = newId();
      const two = order && closeUp(docs.cards, order, change.open, id);
      return two && [{ kind: "add_card", args: two[0], id }, { kind: "add_card", args: two[1] }];
    }
    default:
      return undefined;
  }
}

/** One more absence, none overlapping another. */
const joined = (absences: readonly Absence[], more: Absence): Absence[] => [...cut(absences, more), more].sort((a, b) => a.from - b.from);

/** Absences without the stretch in which there is none. */
const cut = (absences: readonly Absence[], there: { from: Ms; to: Ms }): Absence[] =>
  absences.flatMap((one) => [
    ...(one.from < Math.min(one.to, there.from) ? [{ ...one, to: Math.min(one.to, there.from) }] : []),
    ...(Math.max(one.from, there.to) < one.to ? [{ ...one, from: Math.max(one.from, there.to) }] : []),
  ]);

type Extra = Extract<Change, { change: "extra_shift" }>;

function longer(change: Extra, docs: Docs): Deed[] | undefined {
  const department = docs.departments.get(change.department);
  const id = department && (department.calendar ?? docs.shop?.calendar);
  const found = id != null ? docs.calendars.get(id) : undefined;
  if (!department || !found) return undefined;
  const taken = new Set(docs.calendars.keys());
  // Those who keep their own hours stay, too: they are at home there.
  const owners: Deed[] = [];
  const made = (calendar: Calendar, owner: Owner): string => {
    const own = alone(calendar.id, owner, docs);
    const to = own ? calendar.id : free(`${owner.id}-hours`, taken);
    taken.add(to);
    const title = own ? calendar.title : owner.title;
    owners.push({ kind: "set_calendar", args: { calendar: { ...calendar, id: to, title, days: { ...calendar.days, [change.day]: withShift(calendar, change) } } } });
    return to;
  };
  const to = made(found, { id: department.id, title: department.title });
  if (to !== department.calendar) owners.push({ kind: "set_department", args: { department: { ...department, calendar: to } } });
  for (const person of docs.people.values()) {
    const own = person.calendar != null ? docs.calendars.get(person.calendar) : undefined;
    if (!own || person.department !== department.id || person.retired) continue;
    const hers = made(own, { id: person.id, title: { text: person.name } });
    if (hers !== person.calendar) owners.push({ kind: "set_person", args: { person: { ...person, calendar: hers } } });
  }
  return owners;
}

interface Owner {
  id: string;
  title: Calendar["title"];
}

/** Whether nobody else works by this calendar. */
function alone(id: string, owner: Owner, { shop, departments, people }: Docs): boolean {
  const others = [...departments.values(), ...people.values()].filter((one) => one.calendar === id && one.id !== owner.id && !one.retired);
  return shop?.calendar !== id && others.length === 0;
}

function free(wish: string, taken: ReadonlySet<string>): string {
  let id = wish;
  for (let n = 2; taken.has(id); n++) id = `${wish}-${n}`;
  return id;
}

/** The day's shifts with one more; those that meet become one. */
function withShift(calendar: Calendar, { day, from, to }: Extra): Calendar["week"][number] {
  const monday = (new Date(`${day}T12:00Z`).getUTCDay() + 6) % 7;
  const all = [...(calendar.days[day] ?? calendar.week[monday] ?? []), { from, to }].sort((a, b) => a.from - b.from);
  const shifts: Calendar["week"][number] = [];
  for (const shift of all) {
    const last = shifts.at(-1);
    if (last && shift.from <= last.to) shifts[shifts.length - 1] = { from: last.from, to: Math.max(last.to, shift.to) };
    else shifts.push(shift);
  }
  return shifts;
}

/** Whether accepting gives the department hours of its own, which later changes of the shared ones do not reach. */
export const partsHours = (change: Change, docs: Docs): boolean =>
  change.change === "extra_shift" && (deeds(change, docs, 0) ?? []).some((deed) => deed.kind === "set_department");
