import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { at, card, H, ZONE } from "../../../test/trip-fixture";
import { itinerary, occupied, type CardLike, type Trip } from "../../model/itinerary";
import { crosses, inside, overlap, placeWords, segmentsOf, type Box, type Segment } from "./labels";
import { bundled, type Move } from "./bundle";
import { drawStrings, type StringInput } from "./string-geometry";
import { drawTrip } from "./trip-geometry";
import { placeTripWords, strokesOf, takenIn, twoLines, type TripTexts } from "./trip-words";

const DEPARTMENTS = ["body", "mechanical", "refinish", "assembly", "detail"];
const TOOLS = ["lift-1", "lift-2", "booth"];
const RUNS = { numRuns: 200 };

interface Piece {
  department: number;
  gap: number;
  hours: number;
  tool: number;
  off: boolean;
}
const piece: fc.Arbitrary<Piece> = fc.record({
  department: fc.nat(DEPARTMENTS.length - 1),
  gap: fc.oneof(
    { weight: 4, arbitrary: fc.integer({ min: 0, max: 20 }) },
    { weight: 1, arbitrary: fc.integer({ min: 24, max: 260 }) },
  ),
  hours: fc.double({ min: 0.2, max: 9, noNaN: true }),
  tool: fc.nat(6),
  off: fc.boolean(),
});

/** A vehicle that comes, is worked on in some departments, waits, and has a plan, a promise and holds. */
const trips = (id = "o"): fc.Arbitrary<Trip> =>
  fc
    .record({
      done: fc.array(piece, { maxLength: 6 }),
      ahead: fc.array(piece, { maxLength: 6 }),
      promise: fc.integer({ min: -40, max: 200 }),
      holds: fc.array(fc.nat(60), { maxLength: 3 }),
    })
    .map(({ done, ahead, promise, holds }) => {
      const cards: CardLike[] = [];
      let hour = 8;
      done.forEach((one, i) => {
        const from = hour + one.gap;
        hour = one.off ? hour : from + one.hours;
        cards.push(
          card(`${id}d${i}`, DEPARTMENTS[one.department]!, [[from, from + one.hours]], {
            off_vehicle: one.off,
            used: TOOLS[one.tool],
          }),
        );
      });
      const now = Math.max(hour, ...cards.map((one) => (one.done_at! - at(0)) / H)) + 2;
      let next = now;
      const rows = ahead.map((one, i) => {
        cards.push(card(`${id}a${i}`, DEPARTMENTS[one.department]!, [], { off_vehicle: one.off }));
        const from = next + one.gap;
        next = one.off ? next : from + one.hours;
        return {
          card: `${id}a${i}`,
          order: id,
          department: DEPARTMENTS[one.department]!,
          from: at(from),
          to: at(from + one.hours),
          equipment: TOOLS[one.tool],
        };
      });
      const finish = rows.length ? Math.max(...rows.map((one) => one.to)) : undefined;
      const due = at(now + promise);
      return {
        order: {
          id,
          stage: "authorised",
          stages: [{ stage: "arrived", at: at(8) }],
          created_at: at(8),
          promise: due,
          holds: holds.map((from, i) => ({ id: `${i}`, what: "parts", since: at(8 + from) })),
        },
        cards,
        handoffs: [],
        plan: {
          rows,
          vehicles: [
            {
              order: id,
              finish,
              promise: due,
              late_minutes: finish === undefined ? 0 : Math.max(0, Math.round((finish - due) / 60_000)),
            },
          ],
        },
        now: at(now),
      };
    });

/** Nothing that stands on a line, on another word, or outside. */
function faults(words: readonly Box[], lines: readonly Segment[], taken: readonly Box[], bounds: Box): string[] {
  const out: string[] = [];
  words.forEach((box, i) => {
    if (!inside(box, bounds)) out.push(`${i} is cut off`);
    if (lines.some((line) => crosses(box, line))) out.push(`${i} is on a line`);
    if (taken.some((other) => overlap(box, other))) out.push(`${i} is on a mark`);
    words.slice(i + 1).forEach((other, j) => overlap(box, other) && out.push(`${i} is on ${i + 1 + j}`));
  });
  return out;
}

const TEXTS = [
  {
    keysIn: "keys in 23 Nov 08:00",
    promise: "promise 27 Nov 16:00",
    late: "2 d 4 h late",
    end: "ready about 28 Nov 10:05",
    hold: "parts",
    tool: "Alignment rack",
  },
  {
    keysIn: "llaves recibidas 23 nov 08:00",
    promise: "promesa 27 nov 16:00",
    late: "2 d 4 h tarde",
    end: "listo hacia 28 nov 10:05",
    hold: "trabajo externo",
    tool: "Banco de enderezado",
  },
];

describe("words of a trip line", () => {
  it.each([
    [360, 0],
    [360, 1],
    [390, 1],
    [1100, 0],
  ])("at %i px stand on no line and on no other word, on 200 trips (language %i)", (width, language) => {
    const say = TEXTS[language]!;
    fc.assert(
      fc.property(trips(), (trip) => {
        const gutter = 88;
        const drawing = drawTrip(itinerary(trip), {
          width,
          zone: ZONE,
          now: trip.now,
          rank: (row) => DEPARTMENTS.indexOf(row),
          gutter,
        });
        const texts: TripTexts = {
          keysIn: say.keysIn,
          promise: drawing.promise && say.promise,
          late: drawing.late && say.late,
          end: drawing.end && say.end,
          holds: drawing.holds.map(() => say.hold),
          equipment: drawing.equipment.map(() => say.tool),
          breaks: drawing.breaks.map(() => "11 d"),
        };
        const words = placeTripWords(drawing, texts, gutter);
        expect(
          faults([...words.values()], strokesOf(drawing), takenIn(drawing, texts), {
            x: 0,
            y: 0,
            width: drawing.width,
            height: drawing.axisY,
          }),
        ).toEqual([]);
        // What a person looks for is always there, however full it is.
        for (const id of ["keysIn", "promise", "late", "end"] as const)
          if (texts[id]) expect([id, words.has(id)]).toEqual([id, true]);
      }),
      RUNS,
    );
  });

  it("put a long name of a department on two lines", () => {
    expect(twoLines("Body", 84)).toEqual(["Body"]);
    expect(twoLines("Paint and refinish", 84)).toEqual(["Paint and", "refinish"]);
  });
});

describe("numbers on strings", () => {
  const shop = fc
    .array(fc.nat(), { minLength: 3, maxLength: 14 })
    .chain((list) => fc.tuple(...list.map((_, i) => trips(`o${i}`))));
  const rows = [
    ...DEPARTMENTS.map((id) => ({ id, equipment: false })),
    ...TOOLS.map((id) => ({ id, equipment: true })),
  ];

  it("stand on no line and on no other number, in 200 shops", () => {
    let [strings, without] = [0, 0];
    fc.assert(
      fc.property(shop, fc.constantFrom(360, 900, 1300), fc.integer({ min: 12, max: 200 }), (list, width, hour) => {
        const inputs: StringInput[] = list.map((trip, i) => ({
          order: `o${i}`,
          number: `620${String(i).padStart(2, "0")}`,
          itinerary: itinerary(trip),
          occupied: occupied(trip),
          past: i % 3 === 0,
        }));
        const now = at(hour);
        const drawing = drawStrings(inputs, rows, {
          from: now - 36 * H,
          to: now + 36 * H,
          now,
          width,
          left: 6,
          zone: ZONE,
          height: 330,
        });
        const lines = drawing.strings.flatMap((one) => [
          ...segmentsOf(one.past, 2),
          ...segmentsOf(one.moves, 1),
          ...segmentsOf(one.worked, 5),
          ...segmentsOf(one.plan, 1.25),
        ]);
        lines.push(...drawing.bundles.flatMap((d) => segmentsOf(d, 1.25)));
        if (drawing.nowX !== undefined)
          lines.push({ x1: drawing.nowX, y1: 0, x2: drawing.nowX, y2: drawing.height, thick: 2 });
        const taken = drawing.strings.flatMap((one) =>
          one.promise ? [{ x: one.promise.x - 6, y: one.promise.y - 13, width: 12, height: 19 }] : [],
        );
        expect(
          faults(
            drawing.strings.flatMap((one) => one.labels),
            lines,
            taken,
            { x: 0, y: 0, width, height: drawing.height },
          ),
        ).toEqual([]);
        for (const one of drawing.strings) {
          if (!(one.past || one.plan || one.worked)) continue;
          strings++;
          if (one.labels.length === 0) without++;
        }
      }),
      RUNS,
    );
    // Where a picture is so full that a number has no place, the table has it.
    expect(strings).toBeGreaterThan(800);
    expect(without / strings).toBeLessThan(0.03);
  });
});

describe("a place for a word", () => {
  it("is the first that is free, and the same each time", () => {
    const line = segmentsOf("M0 10H100", 2);
    const word = {
      id: "a",
      width: 20,
      height: 10,
      places: [
        { x: 0, y: 4 },
        { x: 0, y: 14 },
      ],
    };
    const is = placeWords([word, { ...word, id: "b" }], line, { x: 0, y: 0, width: 100, height: 40 });
    expect([...is]).toEqual([["a", { x: 0, y: 14, width: 20, height: 10 }]]);
    expect(placeWords([word], line, { x: 0, y: 0, width: 100, height: 40 })).toEqual(is);
  });

  it("knows a line through it however it runs", () => {
    const box = { x: 10, y: 10, width: 20, height: 10 };
    const line = (x1: number, y1: number, x2: number, y2: number): Segment => ({ x1, y1, x2, y2, thick: 0 });
    expect(crosses(box, line(0, 0, 40, 30))).toBe(true);
    expect(crosses(box, line(0, 15, 40, 15))).toBe(true);
    expect(crosses(box, line(20, 0, 20, 40))).toBe(true);
    expect(crosses(box, line(0, 0, 40, 5))).toBe(false);
    expect(crosses(box, line(0, 25, 8, 9))).toBe(false);
    expect(crosses(box, line(15, 15, 16, 16))).toBe(true);
  });
});

describe("moves that meet", () => {
  const move = fc
    .record({
      x1: fc.integer({ min: 0, max: 400 }),
      y1: fc.constantFrom(20, 60, 100, 140),
      y2: fc.constantFrom(200, 40, 80, 120),
      lean: fc.nat(14),
    })
    .map(({ x1, y1, y2, lean }): Move => ({ x1, y1, x2: x1 + lean, y2 }));

  it("are one line: common lines do not lie on each other, and every string still gets from its row to the next", () => {
    fc.assert(
      fc.property(fc.array(fc.array(move, { maxLength: 4 }), { maxLength: 10 }), (strings) => {
        const { own, shared, bundles } = bundled(strings);
        strings.forEach((moves, i) => {
          const ends = segmentsOf(`${own[i]}${shared[i]}`, 1);
          for (const { x1, y1, x2, y2 } of moves) {
            expect(ends.some((one) => Math.abs(one.x1 - x1) < 0.1 && Math.abs(one.y1 - y1) < 0.1)).toBe(true);
            expect(ends.some((one) => Math.abs(one.x2 - x2) < 0.1 && Math.abs(one.y2 - y2) < 0.1)).toBe(true);
          }
        });
        // Everything a string shares is drawn.
        const drawn = bundles.flatMap((d) => segmentsOf(d, 1));
        for (const one of shared.flatMap((d) => segmentsOf(d, 1))) {
          const [top, bottom] = [Math.min(one.y1, one.y2), Math.max(one.y1, one.y2)];
          expect(drawn.some((line) => line.x1 === one.x1 && line.y1 <= top + 0.1 && line.y2 >= bottom - 0.1)).toBe(
            true,
          );
        }
      }),
      RUNS,
    );
  });

  it("five at one moment are drawn once", () => {
    const { bundles } = bundled(Array.from({ length: 5 }, (_, i) => [{ x1: 100 + i, y1: 20, x2: 104 + i, y2: 200 }]));
    expect(bundles).toHaveLength(1);
  });
});
