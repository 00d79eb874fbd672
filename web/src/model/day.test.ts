// The day against what is counted by hand in the invented shop.
import { describe, expect, it } from "vitest";
import type { Exception, Handoff } from "../api/types";
import { dayOf, middle, type DayPicture } from "./day";
import * as shop from "../../test/shop-fixture";

const H = 3_600_000;
/** Wednesday of the fixture's week, from midnight to midnight. */
const FROM = shop.at(48);
const TO = shop.at(72);

const byId = <T extends { id: string }>(all: T[]): Map<string, T> => new Map(all.map((one) => [one.id, one]));

function made(): DayPicture {
  const delivered = shop.order("9001", "blue hatchback", 20, {
    stage: "delivered",
    first_promise: shop.at(58),
    promise: shop.at(64),
    stages: [
      { stage: "arrived", at: shop.at(20) },
      { stage: "authorised", at: shop.at(49) },
      { stage: "delivered", at: shop.at(60) },
    ],
  });
  const open = shop.order("9002", "white van", 50, { promise: shop.at(57) });
  const cards = [
    // Two hours of Tuesday, three of Wednesday, finished then.
    shop.card(delivered, "a", "body", "Pull rail", "Tirar", [
      [38, 40],
      [49, 52],
    ]),
    // Begun on Wednesday and still running at noon.
    shop.card(open, "b", "body", "Fit", "Montar", [[59]]),
    shop.card(open, "c", "refinish", "Prime", "Fondo", [[30, 31]]),
  ];
  const ask = (id: string, asked: number, more: Partial<Handoff>): Handoff =>
    ({
      id,
      order: open.id,
      from: "body",
      to: "mechanical",
      asked_at: shop.at(asked),
      life: "asked",
      cards: [],
      title: { text: "Down" },
      ...more,
    }) as Handoff;
  const handoffs = [
    ask("begun", 40, { life: "started", ready_at: shop.at(48.5), started_at: shop.at(50) }),
    ask("also begun", 50, { life: "started", started_at: shop.at(50.5) }),
    ask("waits", 51, {}),
    ask("called off", 51, { life: "cancelled" }),
    ask("back", 20, { life: "handed_back", started_at: shop.at(30), handed_back_at: shop.at(55) }),
  ];
  const exception = (id: string, since: number, more: Partial<Exception> = {}) =>
    ({
      id,
      order: open.id,
      kind: "two_spans",
      since: shop.at(since),
      about: [],
      by: "p",
      ...more,
    }) as unknown as Exception;
  const exceptions = [exception("old", 10, { answered_at: shop.at(50) }), exception("new", 50), exception("later", 80)];
  return {
    orders: byId([delivered, open]),
    cards: byId(cards),
    handoffs: byId(handoffs),
    exceptions: byId(exceptions),
    now: shop.at(60),
  };
}

describe("the day", () => {
  const day = dayOf(made(), FROM, TO, shop.at(96));

  it("says what came and went, against the first promise and not the moved one", () => {
    expect(day.passed.map((one) => [one.order.number, one.stage, one.late])).toEqual([
      ["9001", "authorised", undefined],
      ["9002", "arrived", undefined],
      ["9002", "authorised", undefined],
      ["9001", "delivered", 2 * H],
    ]);
  });

  it("counts hours of the day only, and cards finished on it", () => {
    expect(day.done).toEqual([{ department: "body", cards: 1, plannedMinutes: 90, clocked: 4 * H }]);
  });

  it("measures asking from the later of asked and really ready, and keeps who still waits", () => {
    expect(day.asked.asked).toBe(3);
    expect(day.asked.begun).toBe(2);
    expect(day.asked.back).toBe(1);
    // An hour and a half after it was ready, and half an hour after it was asked.
    expect(day.asked.untilBegun).toBe(1 * H);
    expect(day.asked.waiting.map((one) => one.id)).toEqual(["waits"]);
  });

  it("knows of a day that is over what waited then, also if it has been begun since", () => {
    const before = dayOf(made(), shop.at(24), FROM, TO);
    expect(before.asked.waiting.map((one) => one.id)).toEqual(["begun"]);
  });

  it("counts what was raised and what was answered, and what is due", () => {
    expect(day.raised.map((one) => one.id)).toEqual(["new"]);
    expect(day.answered).toBe(1);
    expect(day.due.map((one) => one.order.number)).toEqual(["9002"]);
  });

  it("has an empty answer for an empty day", () => {
    const empty = dayOf(
      { orders: new Map(), cards: new Map(), handoffs: new Map(), exceptions: new Map(), now: FROM },
      FROM,
      TO,
      TO,
    );
    expect(empty).toEqual({
      passed: [],
      done: [],
      asked: { asked: 0, begun: 0, back: 0, waiting: [], untilBegun: undefined },
      raised: [],
      answered: 0,
      due: [],
    });
  });
});

// NIST/SEMATECH e-Handbook 1.3.5.1 defines the median as the middle value, or the mean of the two in the middle.
describe("middle", () => {
  it.each([
    [[], undefined],
    [[3], 3],
    [[9, 1, 4], 4],
    [[1, 9, 4, 2], 3],
  ])("of %j is %j", (values, expected) => expect(middle(values)).toBe(expected));
});
