import { describe, expect, it } from "vitest";
import { fresh, missed, parted, promised, question, type Typed, type WhatIf, type WhatIfRow } from "./what-if";

const zone = "America/Chicago";
/** Wednesday, 25 November 2026, 10:00 */
const now = Date.UTC(2026, 10, 25, 16);
const typed = (change: Partial<Typed>): Typed => ({ ...fresh(now, zone), ...change });

describe("what is typed becomes a question", () => {
  it("begins with tomorrow's noon and the next Saturday", () => {
    expect(fresh(now, zone)).toMatchObject({ until: "2026-11-26T12:00", day: "2026-11-28" });
    // From a Friday it is the day after.
    expect(fresh(now + 2 * 86_400_000, zone).day).toBe("2026-11-28");
  });

  it.each<[Partial<Typed>, unknown]>([
    [{ order: "o" }, { change: "vehicle_first", order: "o" }],
    [
      { what: "out_of_service", equipment: "lift-1" },
      { change: "out_of_service", equipment: "lift-1", until: Date.UTC(2026, 10, 26, 18) },
    ],
    [
      { what: "away", person: "p" },
      { change: "away", person: "p", until: Date.UTC(2026, 10, 26, 18) },
    ],
    [
      { what: "back", person: "p" },
      { change: "back", person: "p", until: Date.UTC(2026, 10, 26, 18) },
    ],
    [
      { what: "extra_shift", department: "body", from: "07:30" },
      { change: "extra_shift", department: "body", day: "2026-11-28", from: 450, to: 720 },
    ],
    [
      { what: "hold_until", hold: "o/h" },
      { change: "hold_until", order: "o", hold: "h", due: Date.UTC(2026, 10, 26, 18) },
    ],
  ])("%j", (fields, made) => expect(question(typed(fields), now, zone)).toEqual(made));

  it.each<[Partial<Typed>, string]>([
    [{}, "what-if-needs-vehicle"],
    [{ what: "out_of_service" }, "what-if-needs-equipment"],
    [{ what: "away" }, "what-if-needs-person"],
    [{ what: "extra_shift" }, "what-if-needs-department"],
    [{ what: "hold_until" }, "what-if-needs-hold"],
    [{ what: "away", person: "p", until: "" }, "what-if-needs-moment"],
    [{ what: "back", person: "p", until: "2026-11-25T10:00" }, "what-if-past"],
    [{ what: "extra_shift", department: "body", day: "" }, "what-if-needs-moment"],
    [{ what: "extra_shift", department: "body", from: "12:00" }, "what-if-backwards"],
    [{ what: "extra_shift", department: "body", day: "2026-11-24" }, "what-if-past"],
  ])("%j is not yet one", (fields, missing) => expect(question(typed(fields), now, zone)).toBe(missing));
});

describe("promises", () => {
  const row = (promise: number | undefined, before: number, after: number): WhatIfRow => ({
    order: "o",
    number: "2041",
    finish_before: 0,
    finish_after: 0,
    later_minutes: 0,
    late_before_minutes: before,
    late_after_minutes: after,
    ...(promise === undefined ? {} : { promise }),
  });
  const rows = [row(undefined, 0, 0), row(1, 0, 0), row(1, 5, 10), row(1, 0, 10), row(1, 5, 0)];

  it("are kept, late already, late only then, or no longer", () => {
    expect(rows.map(promised)).toEqual(["none", "kept", "late", "late_now", "late_no_more"]);
    // Small moves are laid apart unless a promise is broken or mended by one.
    const moved = rows.map((row, i) => ({ ...row, later_minutes: i === 1 ? -30 : 29 }));
    expect(parted(moved).map((part) => part.map(promised))).toEqual([
      ["kept", "late_now", "late_no_more"],
      ["none", "late"],
    ]);
  });

  it("are missed by those that are in time as planned now", () => {
    expect(missed({ rows } as WhatIf)).toEqual(["2041"]);
    expect(missed({ rows: rows.slice(0, 3) } as WhatIf)).toEqual([]);
  });
});
