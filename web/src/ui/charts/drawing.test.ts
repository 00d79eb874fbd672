import { describe, expect, it } from "vitest";
import { at, H, pickup, wagon, ZONE } from "../../../test/trip-fixture";
import { itinerary, occupied } from "../../model/itinerary";
import { dealLanes, drawStrings, worthShowing, type StringInput } from "./string-geometry";
import { drawTrip, turn, type TripDrawing } from "./trip-geometry";

const RANK = ["body", "mechanical", "refinish"];
const rank = (row: string) => RANK.indexOf(row);
const trip = (make: typeof wagon, width: number, now = make().now): TripDrawing =>
  drawTrip(itinerary(make()), { width, zone: ZONE, now, rank });

/** Ends of a path that is made of M, H, Q, V and L only. */
function ends(d: string): { x1: number; y1: number; x2: number; y2: number } {
  const nums = d
    .match(/[A-Z][^A-Z]*/g)!
    .map((part) => ({ c: part[0]!, n: part.slice(1).trim().split(/\s+/).map(Number) }));
  let x = 0;
  let y = 0;
  const start = nums[0]!.n;
  for (const { c, n } of nums) {
    if (c === "H") x = n[0]!;
    else if (c === "V") y = n[0]!;
    else [x, y] = [n.at(-2)!, n.at(-1)!];
  }
  return { x1: start[0]!, y1: start[1]!, x2: x, y2: y };
}

describe("the trip line", () => {
  it.each([358, 1100])("is one unbroken line at %i px, but for its marked breaks", (width) => {
    for (const make of [wagon, pickup]) {
      const drawing = trip(make, width);
      const pieces = drawing.lines.map((line) => ends(line.d)).sort((a, b) => a.x1 - b.x1 || a.x2 - b.x2);
      let holes = 0;
      let reach = pieces[0]!.x2;
      for (const piece of pieces.slice(1)) {
        if (piece.x1 - reach > 0.3) holes++;
        reach = Math.max(reach, piece.x2);
      }
      expect(holes).toBe(drawing.breaks.filter((one) => one.onLine).length);
    }
  });

  it("fits a phone", () => {
    for (const make of [wagon, pickup]) expect(trip(make, 358).width).toBe(358);
  });

  it("marks the eleven days for what they are", () => {
    const drawing = trip(pickup, 358);
    expect(drawing.breaks.map((one) => Math.floor(one.ms / (24 * H)))).toContain(11);
  });

  it("stands on the level of the department where it is now", () => {
    const drawing = trip(wagon, 358);
    const body = drawing.levels.find((level) => level.row === "body")!;
    expect(drawing.now).toEqual({ x: drawing.scale.x(at(37)), y: body.y });
  });

  it("tells late by position: the end lies beyond the promise by the late time, to scale", () => {
    const drawing = trip(wagon, 1100);
    expect(drawing.late!.x2 - drawing.late!.x1).toBeCloseTo(2 * drawing.scale.perHour, 6);
    expect(drawing.end!.x).toBeGreaterThan(drawing.promise!.x);
    expect(trip(pickup, 1100).late).toBeUndefined();
  });

  it("comes back to its level: a round trip is a loop", () => {
    const turns = trip(wagon, 1100)
      .lines.filter((line) => line.stroke.endsWith("turn"))
      .map((line) => ends(line.d));
    expect(turns[0]!.y2).toBeGreaterThan(turns[0]!.y1);
    expect(turns[1]!.y2).toBe(turns[0]!.y1);
  });

  it("rounds a corner within half a level", () => {
    expect(ends(turn(100, 20, 60, 8))).toEqual({ x1: 92, y1: 20, x2: 108, y2: 60 });
  });
});

describe("the string diagram", () => {
  const input = (make: typeof wagon, number: string): StringInput => {
    const t = make();
    return { order: t.order.id, number, itinerary: itinerary(t), occupied: occupied(t) };
  };
  const rows = [
    { id: "body", equipment: false },
    { id: "mechanical", equipment: false },
    { id: "lift-2", equipment: true },
    { id: "refinish", equipment: false },
  ];
  const wish = { from: at(0), to: at(72), now: at(37), width: 1000, left: 120, zone: ZONE };

  it("runs in the lift's row while the lift is held, also while waiting there", () => {
    const drawing = drawStrings([input(wagon, "2041")], rows, wish);
    const lift = drawing.rows.find((row) => row.id === "lift-2")!;
    const bands = drawing.bands.filter((band) => band.equipment === "lift-2");
    expect(bands.every((band) => band.y >= lift.y && band.y + band.height <= lift.y + lift.height)).toBe(true);
    const sum = (blocked: boolean) => bands.filter((b) => b.blocked === blocked).reduce((w, b) => w + b.width, 0);
    expect(sum(false)).toBeCloseTo(9 * drawing.scale.perHour, 0);
    expect(sum(true)).toBeCloseTo(2 * drawing.scale.perHour, 0);
  });

  it("draws the past up to now and the plan from now", () => {
    const drawing = drawStrings([input(wagon, "2041")], rows, wish);
    const [string] = drawing.strings;
    const xs = (d: string) =>
      d
        .split("M")
        .filter(Boolean)
        .map((p) => ends(`M${p}`));
    expect(Math.max(...xs(string!.past).map((p) => p.x2))).toBeLessThanOrEqual(drawing.nowX! + 7.1);
    expect(Math.min(...xs(string!.plan).map((p) => p.x1))).toBeGreaterThanOrEqual(drawing.nowX! - 0.1);
  });

  it("numbers every string at least once", () => {
    const drawing = drawStrings([input(wagon, "2041"), input(pickup, "2052")], rows, wish);
    expect(drawing.strings.every((string) => string.labels.length > 0)).toBe(true);
  });

  it("marks the promise on the string of what will be late, and nowhere else", () => {
    const week = { ...wish, to: at(24 * 6) };
    const [wagonString] = drawStrings([input(wagon, "2041")], rows, week).strings;
    const drawing = drawStrings([input(wagon, "2041")], rows, week);
    expect(wagonString?.promise?.x).toBeCloseTo(drawing.scale.x(at(4 * 24 + 16)), 0);
    const early = input(wagon, "2041");
    early.itinerary.promise = at(24 * 5 + 20);
    expect(drawStrings([early], rows, week).strings[0]?.promise).toBeUndefined();
  });

  it("gives two vehicles in one row two lanes, and reuses a lane that is free again", () => {
    const lanes = new Map<{ from: number; to: number }, number>();
    const runs = [
      { from: 0, to: 5 },
      { from: 1, to: 3 },
      { from: 3, to: 9 },
      { from: 5, to: 6 },
    ];
    expect(dealLanes(runs, lanes)).toBe(2);
    expect(runs.map((run) => lanes.get(run))).toEqual([0, 1, 1, 0]);
  });

  it("shows first what is late or holds equipment, the latest on top, at most so many", () => {
    const all = [input(pickup, "2052"), input(wagon, "2041")];
    expect(worthShowing(all, at(37))).toEqual(["o1"]);
    const many = Array.from({ length: 20 }, (_, i) => {
      const one = input(wagon, String(i));
      return { ...one, order: String(i), itinerary: { ...one.itinerary, lateMinutes: i } };
    });
    expect(worthShowing(many, at(37))).toHaveLength(15);
    expect(worthShowing(many, at(37))[0]).toBe("19");
  });
});
