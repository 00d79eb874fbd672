import { describe, expect, it } from "vitest";
import { across, apart, axis, between, polyline, some, type Frame } from "./axes";

const frame: Frame = { width: 300, height: 200, left: 40, right: 290, top: 10, bottom: 180 };

describe("axes", () => {
  it("has round steps that reach above the most", () => {
    expect(axis(23, frame).ticks).toEqual([0, 10, 20, 30]);
    expect(axis(4, frame).ticks).toEqual([0, 1, 2, 3, 4]);
    expect(axis(0.7, frame).ticks.map((n) => n.toFixed(1))).toEqual(["0.0", "0.2", "0.4", "0.6", "0.8"]);
  });

  it("begins at zero, ends at the top, and answers for nothing too", () => {
    const { y, ticks } = axis(23, frame);
    expect([y(0), y(ticks.at(-1) ?? 0), y(-5)]).toEqual([180, 10, 180]);
    for (const most of [0, 1e-9, 1e9]) expect(axis(most, frame).ticks.every(Number.isFinite)).toBe(true);
  });

  it("spreads points from edge to edge; a single one stands in the middle", () => {
    expect([across(3, frame)(0), across(3, frame)(1), across(3, frame)(2)]).toEqual([40, 165, 290]);
    expect(across(1, frame)(0)).toBe(165);
  });
});

describe("lines", () => {
  it("are drawn in order, bands are closed", () => {
    expect(
      polyline([
        [0, 1],
        [2.04, 3],
      ]),
    ).toBe("M0 1L2 3");
    expect(
      between(
        [
          [0, 1],
          [2, 1],
        ],
        [
          [0, 5],
          [2, 5],
        ],
      ),
    ).toBe("M0 1L2 1L2 5L0 5Z");
    expect(polyline([]) + between([], [])).toBe("");
  });

  it("have labels that do not touch and keep their order", () => {
    const placed = apart([50, 52, 51, 170], 18, 10, 180);
    const sorted = placed.slice().sort((a, b) => a - b);
    expect(sorted.slice(1).every((y, n) => y - (sorted[n] ?? 0) >= 18)).toBe(true);
    expect(placed[0]).toBeLessThan(placed[2] ?? 0);
    expect(placed[2]).toBeLessThan(placed[1] ?? 0);
    expect(Math.max(...placed)).toBeLessThanOrEqual(180);
  });

  it("name the first, the last and some between", () => {
    expect(some(3, 5)).toEqual([0, 1, 2]);
    expect(some(100, 3)).toEqual([0, 50, 99]);
    expect(some(0, 3)).toEqual([]);
  });
});
