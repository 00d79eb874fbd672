import { describe, expect, it } from "vitest";
import type { Routing, Step } from "../api/types";
import { checkPerson, checkRouting } from "./checks";
import {
  calendarText,
  leftOpen,
  moveStep,
  parseMinutes,
  parseShifts,
  readCalendar,
  shortWord,
  showMinutes,
  showShifts,
  vinDoubt,
  workMinutes,
} from "./forms";

const NOW = Date.UTC(2026, 2, 2, 12);

describe("short words", () => {
  it.each([
    ["Lift 2", "lift-2"],
    ["Elevador nº 3 (atrás)", "elevador-no-3-atras"],
    ["  ", "new"],
    ["日本", "new"],
    ["A".repeat(80), "a".repeat(36)],
  ])("%s → %s", (text, word) => {
    expect(shortWord(text)).toBe(word);
    expect(shortWord(text)).toMatch(/^[a-z0-9-]{1,40}$/);
  });

  it("never takes one that is taken", () => {
    expect(shortWord("Lift", new Set(["lift", "lift-2"]))).toBe("lift-3");
  });
});

describe("shifts as people write them", () => {
  it.each([
    ["07:00–11:30, 12:00–16:00", "07:00–11:30, 12:00–16:00"],
    ["7-11:30 , 12-16", "07:00–11:30, 12:00–16:00"],
    ["7.30 a 16.00", "07:30–16:00"],
    ["7 to 12 and 12:30 to 15", "07:00–12:00, 12:30–15:00"],
    ["", ""],
    ["18-24", "18:00–24:00"],
  ])("%s", (text, shown) => {
    const shifts = parseShifts(text);
    expect(Array.isArray(shifts) && showShifts(shifts)).toBe(shown);
  });

  it.each([
    ["7 o'clock", "setup-wrong-shift"],
    ["7-25", "setup-wrong-shift-clock"],
    ["7:75-9", "setup-wrong-shift-clock"],
    ["16-7", "setup-wrong-shift-backwards"],
    ["7-12, 11-16", "setup-wrong-shift-overlap"],
  ])("%s is wrong", (text, wrong) => {
    expect(parseShifts(text)).toMatchObject({ wrong });
  });

  it("counts work without the break", () => {
    expect(
      workMinutes([
        { from: 420, to: 690 },
        { from: 720, to: 960 },
      ]),
    ).toBe(510);
  });
});

describe("lengths as people write them", () => {
  it.each([
    ["90", 90],
    ["1:30", 90],
    ["1.5 h", 90],
    ["1,5h", 90],
    ["45 min", 45],
    ["2 horas", 120],
    ["soon", undefined],
    ["", undefined],
    ["-5", undefined],
    ["1:75", undefined],
  ])("%s", (text, minutes) => expect(parseMinutes(text)).toBe(minutes));

  it("reads what it shows", () => {
    for (const minutes of [5, 60, 61, 150, 600]) expect(parseMinutes(showMinutes(minutes))).toBe(minutes);
  });
});

describe("calendars", () => {
  const calendar = {
    id: "c",
    title: { text: "Weekdays" },
    week: [[{ from: 420, to: 960 }], [], [], [], [], [], []],
    days: { "2026-12-25": [], "2026-12-24": [{ from: 420, to: 720 }] },
  };

  it("come back as they were typed", () => {
    expect(readCalendar("c", calendarText(calendar), NOW, "UTC")).toEqual({ calendar, wrong: {} });
  });

  it("name the line that cannot be read, and a day that stands twice", () => {
    const text = calendarText(calendar);
    text.week[2] = "mornings";
    text.days.push({ date: "2026-12-25", shifts: "" }, { date: "", shifts: "" });
    expect(Object.keys(readCalendar("c", text, NOW, "UTC").wrong)).toEqual(["week-2", "day-2", "day-3"]);
  });
});

const step = (word: string, more: Partial<Step> = {}): Step => ({
  step: word,
  department: "body",
  title: { text: word },
  planned_minutes: 30,
  after: [],
  off_vehicle: false,
  beside: false,
  one_go: false,
  checks: [],
  cautions: [],
  ...more,
});
const routing = (...steps: Step[]): Routing => ({ id: "r", version: 1, title: { text: "R" }, steps, retired: false });

describe("routings", () => {
  it("accept a round trip", () => {
    const trip = routing(
      step("down", { opens: "suspension-down" }),
      step("seal", { inside: "suspension-down", after: [{ step: "down", lag_minutes: 0 }] }),
      step("up", { closes: "suspension-down", after: [{ step: "seal", lag_minutes: 60 }] }),
    );
    expect(checkRouting(trip)).toEqual({});
    expect(leftOpen(trip)).toEqual([]);
  });

  it("refuse a step after one that stands below it, so that nothing turns in a circle", () => {
    const circle = routing(
      step("a", { after: [{ step: "b", lag_minutes: 0 }] }),
      step("b", { after: [{ step: "a", lag_minutes: 0 }] }),
    );
    expect(Object.keys(checkRouting(circle))).toEqual(["step-0-after"]);
  });

  it("say what is worked in or closed but never opened, and what stays open", () => {
    expect(Object.keys(checkRouting(routing(step("seal", { inside: "x" }), step("up", { closes: "y" }))))).toEqual([
      "step-0-inside",
      "step-1-closes",
    ]);
    expect(leftOpen(routing(step("down", { opens: "x" })))).toEqual(["x"]);
  });

  it("refuse no steps, no title, no time, and a shorter most than least", () => {
    expect(checkRouting({ ...routing(), title: { text: " " } })).toMatchObject({ title: {}, steps: {} });
    const bad = routing(
      step("a"),
      step("b", {
        title: { text: "" },
        planned_minutes: 0,
        after: [{ step: "a", lag_minutes: 60, lag_minutes_max: 30 }],
      }),
    );
    expect(Object.keys(checkRouting(bad))).toEqual(["step-1-title", "step-1-minutes", "step-1-after"]);
  });

  it("move a step and stay whole at the ends", () => {
    expect(moveStep(["a", "b", "c"], 0, 1)).toEqual(["b", "a", "c"]);
    expect(moveStep(["a", "b"], 0, -1)).toEqual(["a", "b"]);
    expect(moveStep(["a", "b"], 1, 2)).toEqual(["a", "b"]);
  });
});

describe("people", () => {
  it("have a name, a department and absences that end after they begin", () => {
    const person = {
      id: "p",
      name: " ",
      department: "",
      also: [],
      role: "technician" as const,
      language: "en",
      qualifications: {},
      away: [{ from: 5, to: 5 }],
      retired: false,
    };
    expect(Object.keys(checkPerson(person, NOW))).toEqual(["name", "department", "away-0"]);
  });
});

describe("VIN", () => {
  // 49 CFR 565.15, its sample calculation: 1G4AH59H?5G118341, products sum to 411, 411 mod 11 = 4.
  it("accepts the rule's own sample and doubts every other digit in its place", () => {
    expect(vinDoubt("1G4AH59H45G118341")).toBeUndefined();
    for (const digit of "012356789X") expect(vinDoubt(`1G4AH59H${digit}5G118341`)).toBe("digit");
  });

  it("doubts wrong lengths and letters that no VIN has", () => {
    expect(vinDoubt("1G4AH59H45G11834")).toBe("length");
    expect(vinDoubt("IG4AH59H45G118341")).toBe("letters");
  });
});
