import { describe, expect, it } from "vitest";
import { at, ZONE } from "../../test/trip-fixture";
import { breakLength, length, minutes, roughly, when } from "./time";

const H = 3_600_000;

describe("times in words", () => {
  const now = at(2 * 24 + 10); // a Wednesday, 10:00
  it.each([
    [at(2 * 24 + 14.5), "14:30"],
    [at(2 * 24), "00:00"],
    [at(24 + 9), "Tue 09:00"],
    [at(-1), "Sun 23:00"],
    [at(5 * 24 + 23), "Sat 23:00"],
    // Four days away the same weekday could be last week's as well.
    [at(6 * 24 + 9), "29 Nov 09:00"],
    [at(-24 * 2 - 1), "20 Nov 23:00"],
    [at(24 * 60), "22 Jan 2027 00:00"],
  ])("%i", (time, said) => expect(when(time, now, "en", ZONE)).toBe(said));

  it("never gives two days one name", () => {
    const said = Array.from({ length: 40 }, (_, i) => when(at((i - 20) * 24 + 9), now, "en", ZONE));
    expect(new Set(said).size).toBe(said.length);
  });

  it("speaks Spanish", () => expect(when(at(24 + 9), now, "es", ZONE)).toBe("mar 09:00"));

  it("rounds what is only reckoned to five minutes", () => {
    expect(roughly(at(1) + 7 * 60_000 + 31_000)).toBe(at(1) + 10 * 60_000);
  });
});

describe("lengths in words", () => {
  it.each([
    [0, "0 min"],
    [40 / 60, "40 min"],
    [1, "1 h"],
    [2 + 10 / 60, "2 h 10 min"],
    [23.999, "24 h"],
    [28, "1 d 4 h"],
    [48, "2 d"],
    [11 * 24 + 3, "11 d"],
  ])("%f h", (hours, said) => expect(length(hours * H)).toBe(said));

  it("of work stay hours, however long", () => {
    expect([0, 45, 75, 120, 59.6, 1500].map(minutes)).toEqual(["0 min", "45 min", "1 h 15 min", "2 h", "1 h", "25 h"]);
  });

  it("are whole days at a marked break", () => {
    expect([breakLength(30 * H), breakLength(11.9 * 24 * H)]).toEqual(["30 h", "11 d"]);
  });
});
