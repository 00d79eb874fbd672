import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { at, card, H, pickup, wagon } from "../../test/trip-fixture";
import { AWAY, itinerary, occupied, type CardLike, type Trip } from "./itinerary";

const words = (trip: Trip) =>
  itinerary(trip).main.map((stay) => `${stay.kind} ${stay.row} ${(stay.from - at(0)) / H}-${(stay.to - at(0)) / H}`);

describe("the trip of one vehicle", () => {
  it("turns to the lift when it was asked for, comes back, and goes on as planned", () => {
    expect(words(wagon())).toEqual([
      "waiting body 8-9",
      "worked body 9-12",
      "waiting body 12-14",
      "waiting mechanical 14-32",
      "worked mechanical 32-34",
      "waiting mechanical 34-36",
      "worked body 36-37",
      "planned body 37-38",
      "planned_wait body 38-39",
      "planned mechanical 39-41",
      "planned_wait mechanical 41-104",
      "planned refinish 104-114",
    ]);
  });

  it("puts work on a loose part on the second strand", () => {
    expect(itinerary(wagon()).second).toMatchObject([{ row: "refinish", from: at(33), to: at(35), card: "jambs" }]);
  });

  it("says where it is, when it ends, and how late", () => {
    expect(itinerary(wagon())).toMatchObject({ here: "body", finish: at(114), lateMinutes: 120, over: false });
  });

  it("waits for the department that the plan names", () => {
    expect(words(pickup())).toContain("waiting body 278-279");
    const asked = pickup();
    asked.handoffs = [{ id: "x", order: "o2", from: "body", to: "refinish", asked_at: at(278.5), life: "asked" }];
    expect(words(asked)).toContain("waiting refinish 278.5-279");
  });

  it("keeps a stay at a sublet on its own level", () => {
    const trip = pickup();
    trip.order.stages.push({ stage: "away", at: at(30) }, { stage: "authorised", at: at(60) });
    const away = itinerary(trip).main.filter((stay) => stay.row === AWAY);
    expect(away).toMatchObject([{ from: at(30), to: at(60), kind: "waiting" }]);
  });

  it("ends when the keys are back, late against the promise, and plans nothing more", () => {
    const trip = wagon();
    trip.order.stage = "delivered";
    trip.order.promise = at(36);
    trip.order.stages.push({ stage: "delivered", at: at(36.5) });
    const it = itinerary(trip);
    expect(it).toMatchObject({ over: true, end: at(36.5), lateMinutes: 30 });
    expect(it.here).toBeUndefined();
    expect(it.main.some((stay) => stay.kind.startsWith("planned"))).toBe(false);
  });

  it("draws a vehicle that is only expected", () => {
    const trip: Trip = {
      order: {
        id: "o3",
        stage: "expected",
        stages: [{ stage: "expected", at: at(0) }],
        expected_at: at(50),
        created_at: at(0),
      },
      cards: [card("c", "body", [])],
      handoffs: [],
      plan: { rows: [{ card: "c", order: "o3", department: "body", from: at(51), to: at(53) }], vehicles: [] },
      now: at(10),
    };
    expect(words(trip)).toEqual(["planned_wait body 50-51", "planned body 51-53"]);
    expect(itinerary(trip).here).toBeUndefined();
  });

  it("never overlaps and leaves no hole, whatever people did at once", () => {
    const span = fc.tuple(fc.integer({ min: 0, max: 60 }), fc.integer({ min: 1, max: 20 }));
    const cards = fc.array(
      fc.record({
        dep: fc.constantFrom("body", "mechanical", "refinish"),
        spans: fc.array(span, { maxLength: 4 }),
        off: fc.boolean(),
      }),
      { maxLength: 7 },
    );
    fc.assert(
      fc.property(cards, fc.integer({ min: 0, max: 90 }), (made, now) => {
        const trip: Trip = {
          order: { id: "o", stage: "arrived", stages: [{ stage: "arrived", at: at(0) }], created_at: at(0) },
          cards: made.map((one, i): CardLike =>
            card(
              `c${i}`,
              one.dep,
              one.spans.map(([f, d]): [number, number] => [f, f + d]),
              { off_vehicle: one.off },
            ),
          ),
          handoffs: [],
          plan: null,
          now: at(now),
        };
        const { main } = itinerary(trip);
        let cursor = main[0]?.from;
        for (const stay of main) {
          expect(stay.from).toBe(cursor);
          expect(stay.to).toBeGreaterThan(stay.from);
          expect(stay.to).toBeLessThanOrEqual(Math.max(at(now), at(0)));
          cursor = stay.to;
        }
        // Every minute in which somebody worked at the vehicle is drawn as worked.
        for (let hour = 0; hour < now; hour++) {
          const mid = at(hour + 0.5);
          const someone = trip.cards.some(
            (c) => !c.off_vehicle && c.spans.some((s) => s.from <= mid && mid < Math.min(s.to!, at(now))),
          );
          const drawn = main.some((s) => s.kind === "worked" && s.from <= mid && mid < s.to);
          expect(drawn).toBe(someone);
        }
      }),
      { seed: 7, numRuns: 300 },
    );
  });
});

describe("what a vehicle takes up", () => {
  it("keeps the lift held up to now while it is open and the closing is not planned", () => {
    const trip = wagon();
    trip.plan = null;
    expect(occupied(trip)[0]).toMatchObject({ equipment: "lift-2", from: at(32), to: at(37) });
    // No card closes it at all, but the vehicle stands open.
    trip.cards = trip.cards.filter((one) => one.id !== "refit");
    trip.order.open = [{ open: "suspension-down", by: "down" }];
    expect(occupied(trip)[0]).toMatchObject({ to: at(37) });
    trip.order.open = [];
    expect(occupied(trip)[0]).toMatchObject({ to: at(34) });
  });

  it("holds the lift from opening to closing, and blocks it while nobody works", () => {
    const [lift] = occupied(wagon());
    expect(lift).toMatchObject({ equipment: "lift-2", from: at(32), to: at(41) });
    expect(lift!.blocked).toEqual([
      { from: at(35), to: at(36) },
      { from: at(38), to: at(39) },
    ]);
  });
});
