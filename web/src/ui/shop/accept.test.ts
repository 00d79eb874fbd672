import { describe, expect, it } from "vitest";
import type { Calendar, Card, Department, Equipment, Order, Person, Shop } from "../../api/types";
import { holdOn } from "../../core/cards";
import { closerOf, undoneInside } from "../../core/close-up";
import { deeds, needsManager, partsHours, type Docs } from "./accept";

const week = [[{ from: 420, to: 690 }, { from: 720, to: 960 }], [], [], [], [], [], []];
const calendar = (id: string, days: Calendar["days"] = {}): Calendar => ({ id, title: { text: id }, week, days });
const department = (id: string, own?: string): Department => ({ id, title: { text: id }, calendar: own ?? null, retired: false }) as unknown as Department;
const person = (id: string, home: string, more: Partial<Person> = {}): Person => ({ id, name: id, department: home, away: [], calendar: null, retired: false, ...more }) as unknown as Person;
const by = <T extends { id: string }>(...all: T[]): Map<string, T> => new Map(all.map((one) => [one.id, one]));

const docs = (more: Partial<Docs> = {}): Docs => ({
  shop: { calendar: "shop" } as unknown as Shop,
  departments: by(department("body"), department("refinish")),
  people: by(person("p", "body")),
  equipment: by({ id: "lift-1", out_of_service: [] } as unknown as Equipment),
  calendars: by(calendar("shop")),
  orders: new Map(),
  cards: new Map(),
  ...more,
});

const monday = { change: "extra_shift", department: "body", day: "2026-11-30", from: 960, to: 1020 } as const;

describe("what is accepted becomes acts", () => {
  it("takes equipment out of service, once however often it was said", () => {
    const out = [{ from: 50, to: 150, reason: { text: "belt" } }, { from: 300, to: 400 }];
    const made = deeds({ change: "out_of_service", equipment: "lift-1", until: 200 }, docs({ equipment: by({ id: "lift-1", out_of_service: out } as unknown as Equipment) }), 100);
    expect(made).toMatchObject([{ kind: "set_equipment", args: { equipment: { out_of_service: [{ from: 50, to: 100 }, { from: 100, to: 200 }, { from: 300, to: 400 }] } } }]);
  });

  it("lets somebody be away, and there after all", () => {
    expect(deeds({ change: "away", person: "p", until: 200 }, docs(), 100)).toMatchObject([{ kind: "set_person", args: { person: { id: "p", away: [{ from: 100, to: 200 }] } } }]);
    const away = docs({ people: by(person("p", "body", { away: [{ from: 50, to: 300 }] as Person["away"] })) });
    expect(deeds({ change: "back", person: "p", until: 200 }, away, 100)).toMatchObject([{ args: { person: { away: [{ from: 50, to: 100 }, { from: 200, to: 300 }] } } }]);
  });

  it("gives a department that works by the shop's hours its own, and leaves the shop's alone", () => {
    const made = deeds(monday, docs(), 0);
    expect(made).toMatchObject([
      { kind: "set_calendar", args: { calendar: { id: "body-hours", week, days: { "2026-11-30": [{ from: 420, to: 690 }, { from: 720, to: 1020 }] } } } },
      { kind: "set_department", args: { department: { id: "body", calendar: "body-hours" } } },
    ]);
    expect(partsHours(monday, docs())).toBe(true);
  });

  it("lengthens hours that are a department's own where they stand", () => {
    const own = docs({ departments: by(department("body", "early"), department("refinish")), calendars: by(calendar("shop"), calendar("early", { "2026-11-30": [] })) });
    expect(deeds(monday, own, 0)).toMatchObject([{ kind: "set_calendar", args: { calendar: { id: "early", days: { "2026-11-30": [{ from: 960, to: 1020 }] } } } }]);
    expect(deeds(monday, own, 0)).toHaveLength(1);
    expect(partsHours(monday, own)).toBe(false);
    // Shared with another department, they are not.
    const shared = docs({ ...own, departments: by(department("body", "early"), department("refinish", "early")) });
    expect(partsHours(monday, shared)).toBe(true);
  });

  it("keeps who has hours of their own there as long, and nobody of another department", () => {
    const people = by(person("p", "body", { calendar: "short" }), person("q", "refinish", { calendar: "short" }), person("r", "body", { calendar: "late" }));
    const made = deeds(monday, docs({ people, calendars: by(calendar("shop"), calendar("short"), calendar("late")) }), 0) ?? [];
    expect(made.map((deed) => deed.kind)).toEqual(["set_calendar", "set_department", "set_calendar", "set_person", "set_calendar"]);
    expect(made[3]).toMatchObject({ args: { person: { id: "p", calendar: "p-hours" } } });
    expect(made[4]).toMatchObject({ args: { calendar: { id: "late" } } });
  });

  it("moves what is waited for, which needs no manager", () => {
    const later = { change: "hold_until", order: "o", hold: "h", due: 5 } as const;
    expect(deeds(later, docs(), 0)).toEqual([{ kind: "hold_due", args: { order: "o", hold: "h", due: 5 } }]);
    expect([later, monday].map(needsManager)).toEqual([false, true]);
  });

  it("does nothing for a department that is not there", () => {
    expect(deeds({ ...monday, department: "nowhere" }, docs(), 0)).toBeUndefined();
  });
});

describe("a vehicle is closed up so that it rolls", () => {
  const card = (id: string, more: object): Card => ({ id, order: "o", department: "mechanical", title: { text: id }, planned_minutes: 60, life: "waiting", after: [], spans: [], checks: [], cautions: ["lift"], ...more }) as unknown as Card;
  const after = (...ids: string[]) => ids.map((id) => ({ card: id, lag_minutes: 0 }));
  const all = [
    card("drop", { opens: "down", equipment: "lift", life: "done" }),
    card("seal", { inside: "down", department: "body", after: after("drop") }),
    card("refit", { closes: "down", equipment: "lift", after: after("seal") }),
  ];
  const order = { id: "o", number: "2041", cards: all.map((one) => one.id), open: [{ open: "down", by: "drop", since: 1 }], holds: [] } as unknown as Order;
  const change = { change: "close_up", order: "o", open: "down" } as const;
  const made = (cards: Card[], more: object = {}) => deeds(change, docs({ cards: by(...cards), orders: by({ ...order, cards: cards.map((one) => one.id), ...more } as Order) }), 0);

  it("by two cards: closed now, opened again before all that waits inside and before it is closed for good", () => {
    const [close, open] = made(all) ?? [];
    expect(close).toMatchObject({ kind: "add_card", args: { closes: "down", equipment: "lift", cautions: ["lift"], title: { text: "refit" }, after: [], before: [] } });
    expect(open).toMatchObject({ kind: "add_card", args: { opens: "down", equipment: "lift", title: { text: "drop" }, after: [{ card: close?.id }], before: ["seal", "refit"] } });
    expect(close?.args).not.toHaveProperty("opens");
  });

  it("once, and only where nobody works and something waits", () => {
    expect(made([all[0], { ...all[1], life: "working" }, all[2]] as Card[])).toBeUndefined();
    expect(made([all[0], { ...all[1], life: "done" }, all[2]] as Card[])).toBeUndefined();
    expect(made(all, { open: [] })).toBeUndefined();
    const again = [card("close", { closes: "down" }), card("reopen", { opens: "down", after: after("close") })];
    const being = [all[0], { ...all[1], after: after("drop", "reopen") }, { ...all[2], after: after("seal", "reopen") }, ...again] as Card[];
    expect(made(being)).toBeUndefined();
    // A hold of the whole vehicle keeps it from being closed for good, not from being closed meanwhile.
    const hold = { id: "h", what: "parts", cards: [], blocks: "start", since: 1 };
    const held = { ...order, cards: being.map((one) => one.id), holds: [hold] } as unknown as Order;
    expect(being.filter((one) => one.closes).map((one) => [one.id, holdOn(one, held, by(...being), "start")?.id])).toEqual([["refit", "h"], ["close", undefined]]);
    // Then nothing is forgotten by closing it, and the last closing is the one that others join.
    expect(undoneInside(by(...being), { ...order, cards: being.map((one) => one.id) } as Order, "down")).toEqual([]);
    expect(closerOf(by(...being), being, "down")?.id).toBe("refit");
    expect(undoneInside(by(...all), order, "down").map((one) => one.id)).toEqual(["seal"]);
  });
});
