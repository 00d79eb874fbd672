// Marks stand where the finger was, inside the picture, at every size of it.
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Mark, MarkKind } from "../../api/types";
import { arrowPath, drawn, ellipse, lettering, moved, nearest, placed, withEnd } from "./geometry";

const place = fc.integer({ min: 0, max: 10_000 });
const point = fc.record({ x: place, y: place });
const kinds: MarkKind[] = ["arrow", "circle", "text"];
const inside = (mark: Mark): boolean =>
  [mark.x1, mark.y1, mark.x2, mark.y2].every((one) => Number.isInteger(one) && one >= 0 && one <= 10_000);

describe("any mark", () => {
  it("stands inside the picture however it was drawn, moved or pulled", () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...kinds),
        point,
        point,
        fc.integer({ min: -30_000, max: 30_000 }),
        (kind, from, to, by) => {
          const mark = drawn(kind, from, to);
          return inside(mark) && inside(moved(mark, by, -by)) && inside(withEnd(mark, 2, { x: by, y: by + 0.5 }));
        },
      ),
    );
  });

  it("keeps its shape when moved", () => {
    fc.assert(
      fc.property(point, point, fc.integer({ min: -9_000, max: 9_000 }), (from, to, by) => {
        const mark: Mark = { kind: "arrow", x1: from.x, y1: from.y, x2: to.x, y2: to.y };
        const there = moved(mark, by, by);
        expect([there.x2 - there.x1, there.y2 - there.y1]).toEqual([mark.x2 - mark.x1, mark.y2 - mark.y1]);
      }),
    );
  });
});

describe("a finger", () => {
  it("is where it is in the picture, and no further than its edge", () => {
    expect(placed({ x: 0.5, y: 0.12345 })).toEqual({ x: 5_000, y: 1_235 });
    expect(placed({ x: -0.1, y: 1.2 })).toEqual({ x: 0, y: 10_000 });
  });

  it("that taps makes something to take hold of: an arrow points to it, a circle is around it", () => {
    expect(drawn("arrow", { x: 9_000, y: 1_000 }, { x: 9_050, y: 1_000 })).toEqual({
      kind: "arrow",
      x1: 7_200,
      y1: 2_800,
      x2: 9_000,
      y2: 1_000,
    });
    expect(drawn("circle", { x: 5_000, y: 5_000 }, { x: 5_000, y: 5_000 })).toEqual({
      kind: "circle",
      x1: 4_000,
      y1: 4_000,
      x2: 6_000,
      y2: 6_000,
    });
  });

  it("takes the mark that is near, none that is far", () => {
    const marks = [
      drawn("arrow", { x: 1_000, y: 1_000 }, { x: 4_000, y: 4_000 }),
      drawn("circle", { x: 6_000, y: 6_000 }, { x: 8_000, y: 8_000 }),
    ];
    expect(nearest(marks, { x: 4_100, y: 4_100 })).toBe(0);
    expect(nearest(marks, { x: 7_900, y: 8_000 })).toBe(1);
    expect(nearest(marks, { x: 5_000, y: 9_900 })).toBeUndefined();
  });
});

describe("lines", () => {
  it("an arrow goes from tail to head, its wings back from the head on both sides", () => {
    expect(arrowPath({ kind: "arrow", x1: 0, y1: 5_000, x2: 5_000, y2: 5_000 }, 500)).toBe(
      "M0 250L500 250M460.3 228.9L500 250L460.3 271.1",
    );
  });

  it("a circle fills the box of its two corners, whichever came first", () => {
    const one = { cx: 500, cy: 375, rx: 100, ry: 75 };
    expect(ellipse({ kind: "circle", x1: 4_000, y1: 4_000, x2: 6_000, y2: 6_000 }, 750)).toEqual(one);
    expect(ellipse({ kind: "circle", x1: 6_000, y1: 6_000, x2: 4_000, y2: 4_000 }, 750)).toEqual(one);
  });

  it("words break into lines, and stay inside: near the right edge they are written towards the left", () => {
    const long = lettering(
      { kind: "text", x1: 9_000, y1: 9_900, x2: 0, y2: 0, text: "this bolt is seized, call before you heat it" },
      750,
    );
    expect(long.lines).toEqual(["this bolt is seized, call", "before you heat it"]);
    expect(long.anchor).toBe("end");
    expect(long.y).toBe(685);
    expect(lettering({ kind: "text", x1: 0, y1: 0, x2: 0, y2: 0, text: "here" }, 750)).toEqual({
      x: 0,
      y: 50,
      lines: ["here"],
      anchor: "start",
    });
  });
});
