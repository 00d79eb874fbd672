import { describe, expect, it } from "vitest";
import { at, H, ZONE } from "../../../test/trip-fixture";
import { makeScale, scaleBar, ticks } from "./scale";

describe("one visible scale", () => {
  it("gives equal lengths to equal times outside breaks", () => {
    const scale = makeScale({
      from: at(0),
      to: at(24 * 20),
      left: 0,
      right: 358,
      quiet: [{ from: at(10), to: at(10 + 11 * 24) }],
    });
    expect(scale.breaks).toHaveLength(1);
    const hour = scale.x(at(1)) - scale.x(at(0));
    expect(scale.x(at(24 * 15 + 1)) - scale.x(at(24 * 15))).toBeCloseTo(hour, 6);
    expect(hour).toBeCloseTo(scale.perHour, 6);
    expect(scale.right).toBeCloseTo(358, 6);
  });

  it("breaks the longest wait first and no more than it needs", () => {
    const quiet = [
      { from: at(20), to: at(60) },
      { from: at(100), to: at(340) },
    ];
    const scale = makeScale({ from: at(0), to: at(360), left: 0, right: 800, quiet, perHourWanted: 4 });
    expect(scale.breaks.map((one) => one.from)).toEqual([at(100)]);
  });

  it("never breaks a night", () => {
    const scale = makeScale({
      from: at(0),
      to: at(24 * 30),
      left: 0,
      right: 300,
      quiet: [{ from: at(17), to: at(31) }],
      perHourWanted: 9,
    });
    expect(scale.breaks).toEqual([]);
  });

  it("grows beyond the screen rather than shrink work to nothing", () => {
    const scale = makeScale({ from: at(0), to: at(24 * 40), left: 0, right: 300, perHourMin: 1 });
    expect(scale.right).toBe(960);
  });

  it("finds the moment under a pixel", () => {
    const scale = makeScale({ from: at(0), to: at(72), left: 20, right: 320 });
    for (const hours of [0, 1, 30, 71.5]) expect(scale.at(scale.x(at(hours)))).toBeCloseTo(at(hours), -1);
  });

  it("ticks at the shop's midnights, not at UTC's, and leaves breaks alone", () => {
    const scale = makeScale({
      from: at(-3),
      to: at(24 * 12),
      left: 0,
      right: 300,
      quiet: [{ from: at(30), to: at(24 * 11) }],
      perHourWanted: 4,
    });
    const days = ticks(scale, ZONE, 30).filter((tick) => tick.day);
    expect(days.map((tick) => (tick.at - at(0)) / H)).toEqual([0, 24, 264, 288]);
  });

  it("writes tick words with room between them", () => {
    const scale = makeScale({ from: at(0), to: at(24 * 14), left: 0, right: 340 });
    const named = ticks(scale, ZONE, 44).filter((tick) => tick.named);
    named.slice(1).forEach((tick, i) => expect(tick.x - named[i]!.x).toBeGreaterThanOrEqual(44));
  });

  it("has a bar of a round time that is true to the scale", () => {
    const scale = makeScale({ from: at(0), to: at(24 * 6), left: 0, right: 340 });
    const bar = scaleBar(scale, 110);
    expect(bar.ms).toBe(24 * H);
    expect(bar.width).toBeCloseTo(scale.x(at(24)) - scale.x(at(0)), 6);
  });
});
