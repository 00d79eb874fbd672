import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { isView, keyed, moved, VIEWS, zoomed, type View } from "./view";

const H = 3_600_000;
const view = fc
  .record({ shift: fc.integer({ min: -20 * 24, max: 20 * 24 }), span: fc.integer({ min: 4, max: 14 * 24 }) })
  .map(({ shift, span }): View => ({ shift: shift * H, span: span * H }));
const at = (one: View, share: number): number => one.shift + one.span * share;

describe("what part of time is shown", () => {
  it("keeps the moment under the finger where it is", () => {
    fc.assert(
      fc.property(
        view,
        fc.double({ min: 0.5, max: 2, noNaN: true }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        (one, factor, share) => {
          expect(Math.abs(at(zoomed(one, factor, share), share) - at(one, share))).toBeLessThan(1);
        },
      ),
    );
  });

  it("comes back by the way it went", () => {
    fc.assert(
      fc.property(view, fc.double({ min: -1, max: 1, noNaN: true }), (one, part) => {
        expect(Math.abs(moved(moved(one, part), -part).shift - one.shift)).toBeLessThan(1);
        const back = zoomed(zoomed(one, 0.5), 2);
        expect(Math.abs(back.shift - one.shift) + Math.abs(back.span - one.span)).toBeLessThan(1);
      }),
    );
  });

  it("ends: neither closer than two hours nor further than four weeks", () => {
    let [close, far]: View[] = [VIEWS.day, VIEWS.day];
    for (let n = 0; n < 20; n++) [close, far] = [zoomed(close!, 0.5), zoomed(far!, 2)];
    expect([close!.span, far!.span]).toEqual([2 * H, 28 * 24 * H]);
  });

  it("listens to arrows, plus, minus and nothing else", () => {
    expect(keyed(VIEWS.day, "ArrowRight")!.shift).toBeGreaterThan(VIEWS.day.shift);
    expect(keyed(VIEWS.day, "ArrowLeft")!.shift).toBeLessThan(VIEWS.day.shift);
    expect(keyed(VIEWS.day, "+")!.span).toBeLessThan(VIEWS.day.span);
    expect(keyed(VIEWS.day, "-")!.span).toBeGreaterThan(VIEWS.day.span);
    expect(isView(keyed(VIEWS.day, "0")!, VIEWS.three)).toBe(true);
    expect(keyed(VIEWS.day, "Tab")).toBeUndefined();
  });
});
