// The question of the desk, from what is typed; and its answer in the order in which it is read. Pure: time and
// zone are arguments.
import type { components } from "../api/schema";
import type { Ms } from "../api/types";
import { addDays, isoDay, isoMinute, parseLocal, startOfDay } from "../text/zone";

export type Change = components["schemas"]["WhatIfChange"];
export type WhatIf = components["schemas"]["WhatIf"];
export type WhatIfRow = components["schemas"]["WhatIfRow"];

export const WHATS = [
  "vehicle_first",
  "out_of_service",
  "away",
  "back",
  "joins",
  "extra_shift",
  "hold_until",
  "close_up",
] as const;
export type What = (typeof WHATS)[number];

/** As it stands in the fields; what another kind of question asks for stays typed. */
export interface Typed {
  what: What;
  order: string;
  equipment: string;
  person: string;
  department: string;
  /** "order/hold" */
  hold: string;
  /** "order/open" */
  open: string;
  until: string;
  day: string;
  from: string;
  to: string;
}

/** Until tomorrow's noon; a Saturday morning. */
export function fresh(now: Ms, zone: string): Typed {
  const tomorrow = addDays(startOfDay(now, zone), 1, zone);
  let saturday = tomorrow;
  while (new Date(`${isoDay(saturday, zone)}T12:00Z`).getUTCDay() !== 6) saturday = addDays(saturday, 1, zone);
  return {
    what: "vehicle_first",
    order: "",
    equipment: "",
    person: "",
    department: "",
    hold: "",
    open: "",
    until: isoMinute(tomorrow + 12 * 3_600_000, zone),
    day: isoDay(saturday, zone),
    from: "07:00",
    to: "12:00",
  };
}

/** What is to be asked of the server, or the message that says what is missing. */
export function question(typed: Typed, now: Ms, zone: string): Change | string {
  const until = parseLocal(typed.until, zone);
  const later = (made: (until: Ms) => Change): Change | string => {
    if (until === undefined) return "what-if-needs-moment";
    return until <= now ? "what-if-past" : made(until);
  };
  switch (typed.what) {
    case "vehicle_first":
      return typed.order ? { change: "vehicle_first", order: typed.order } : "what-if-needs-vehicle";
    case "out_of_service":
      if (!typed.equipment) return "what-if-needs-equipment";
      return later((at) => ({ change: "out_of_service", equipment: typed.equipment, until: at }));
    case "away":
    case "back": {
      const change = typed.what;
      if (!typed.person) return "what-if-needs-person";
      return later((at) => ({ change, person: typed.person, until: at }));
    }
    case "joins":
      if (!typed.department) return "what-if-needs-department";
      return later((at) => ({ change: "joins", department: typed.department, until: at }));
    case "extra_shift": {
      const [from, to] = [minuteOf(typed.from), minuteOf(typed.to)];
      if (!typed.department) return "what-if-needs-department";
      if (parseLocal(typed.day, zone) === undefined || from === undefined || to === undefined)
        return "what-if-needs-moment";
      if (from >= to) return "what-if-backwards";
      const over = parseLocal(`${typed.day}T${typed.to}`, zone);
      if (over !== undefined && over <= now) return "what-if-past";
      return { change: "extra_shift", department: typed.department, day: typed.day, from, to };
    }
    case "hold_until": {
      const [order = "", hold = ""] = typed.hold.split("/");
      if (!order || !hold) return "what-if-needs-hold";
      return later((at) => ({ change: "hold_until", order, hold, due: at }));
    }
    case "close_up": {
      const [order = "", open = ""] = typed.open.split("/");
      return order && open ? { change: "close_up", order, open } : "what-if-needs-open";
    }
  }
}

/** "07:30" as minutes of the day. */
function minuteOf(text: string): number | undefined {
  const match = /^(\d{2}):(\d{2})$/.exec(text);
  return match ? Number(match[1]) * 60 + Number(match[2]) : undefined;
}

/** 450 as "07:30". */
export const clockOf = (minute: number): string =>
  `${String(Math.floor(minute / 60)).padStart(2, "0")}:${String(minute % 60).padStart(2, "0")}`;

/** What becomes of its promise. */
export function promised(row: WhatIfRow): "none" | "kept" | "late" | "late_now" | "late_no_more" {
  if (row.promise == null) return "none";
  if (row.late_after_minutes > 0) return row.late_before_minutes > 0 ? "late" : "late_now";
  return row.late_before_minutes > 0 ? "late_no_more" : "kept";
}

/** Numbers of the vehicles that would break a promise which is kept as planned now. */
export const missed = (answer: WhatIf): string[] =>
  answer.rows.filter((row) => promised(row) === "late_now").map((row) => row.number);

/** Nobody plans by less than this. */
const SMALL_MINUTES = 30;

/** Rows that somebody would act on, and the rest: small moves that break or mend no promise. */
export function parted(rows: WhatIfRow[]): [WhatIfRow[], WhatIfRow[]] {
  const small = (row: WhatIfRow): boolean => {
    const is = promised(row);
    return Math.abs(row.later_minutes) < SMALL_MINUTES && is !== "late_now" && is !== "late_no_more";
  };
  return [rows.filter((row) => !small(row)), rows.filter(small)];
}
