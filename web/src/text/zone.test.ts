import { describe, expect, it } from "vitest";
import { addDays, firstOfLast, isoDay, isoMinute, local, moment, parseLocal, startOfDay } from "./zone";

describe("the wall clock of a zone", () => {
  // Dates of change: 15 U.S.C. 260a (second Sunday of March, first of November, 2 a.m.) and
  // Directive 2000/84/EC (last Sunday of March and October, 01:00 UTC).
  it.each([
    ["America/Chicago", "2026-03-08T01:59", Date.UTC(2026, 2, 8, 7, 59)],
    ["America/Chicago", "2026-03-08T03:00", Date.UTC(2026, 2, 8, 8, 0)],
    ["America/Chicago", "2026-11-01T00:59", Date.UTC(2026, 10, 1, 5, 59)],
    ["America/Chicago", "2026-11-01T02:00", Date.UTC(2026, 10, 1, 8, 0)],
    ["Europe/Madrid", "2026-03-29T01:59", Date.UTC(2026, 2, 29, 0, 59)],
    ["Europe/Madrid", "2026-03-29T03:00", Date.UTC(2026, 2, 29, 1, 0)],
    ["Europe/Madrid", "2026-10-25T03:00", Date.UTC(2026, 9, 25, 2, 0)],
  ])("%s %s", (zone, wall, utc) => {
    expect(parseLocal(wall, zone)).toBe(utc);
    expect(isoMinute(utc, zone)).toBe(wall);
  });

  it("reads a skipped hour as the same length after the change", () => {
    expect(isoMinute(parseLocal("2026-03-08T02:30", "America/Chicago")!, "America/Chicago")).toBe("2026-03-08T03:30");
  });

  it("reads an hour that comes twice as the first", () => {
    expect(parseLocal("2026-11-01T01:30", "America/Chicago")).toBe(Date.UTC(2026, 10, 1, 6, 30));
  });

  it("steps by days of 23 and 25 hours", () => {
    const zone = "America/Chicago";
    const spring = moment({ year: 2026, month: 3, day: 8, hour: 0, minute: 0 }, zone);
    expect(addDays(spring, 1, zone) - spring).toBe(23 * 3_600_000);
    const autumn = moment({ year: 2026, month: 11, day: 1, hour: 0, minute: 0 }, zone);
    expect(addDays(autumn, 1, zone) - autumn).toBe(25 * 3_600_000);
    expect(startOfDay(autumn + 20 * 3_600_000, zone)).toBe(autumn);
    expect(isoDay(addDays(autumn, -1, zone), zone)).toBe("2026-10-31");
    expect(local(autumn, zone).hour).toBe(0);
  });

  it("counts today among the last days", () => {
    const zone = "America/Chicago";
    const noon = moment({ year: 2026, month: 3, day: 30, hour: 12, minute: 0 }, zone);
    expect(firstOfLast(30, noon, zone)).toBe("2026-03-01");
    expect(firstOfLast(1, noon, zone)).toBe("2026-03-30");
  });

  it("refuses what is no day or no time", () => {
    for (const text of ["", "tomorrow", "2026-02-30", "2026-13-01", "2026-01-01T25:00"]) {
      expect(parseLocal(text, "America/Chicago")).toBeUndefined();
    }
  });
});
