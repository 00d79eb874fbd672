import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import type { Card, Equipment, Exception, Note, Order } from "../api/types";
import { against, toChoose } from "./equipment";
import { graveToCancel, left } from "./leaving";

const card = (id: string, more: Partial<Card> = {}): Card =>
  ({
    id,
    order: "o",
    department: "mechanical",
    title: { text: id },
    after: [],
    checks: [],
    cautions: [],
    life: "waiting",
    helpers: [],
    spans: [],
    ...more,
  }) as unknown as Card;
const order = (more: Partial<Order> = {}): Order =>
  ({
    id: "o",
    stage: "authorised",
    open: [],
    cards: [],
    condition: { loose: [], weight_off: [] },
    energy: { high_voltage: "none" },
    ...more,
  }) as unknown as Order;
const by = (cards: Card[]): Map<string, Card> => new Map(cards.map((one) => [one.id, one]));

describe("what is left on a vehicle", () => {
  const said = (
    of: Order,
    cards: Card[] = [],
    notes: Partial<Note>[] = [],
    exceptions: Partial<Exception>[] = [],
  ): string[] =>
    left({ ...of, cards: cards.map((one) => one.id) }, by(cards), notes as Note[], exceptions as Exception[]).map(
      (one) => one.is,
    );

  it("is nothing where all is in order", () =>
    expect(said(order({ condition: { loose: ["trim_out"], weight_off: [], brakes: true } as never }))).toEqual([]));

  it("is what is open, isolated, loose, without brakes or steering", () => {
    const condition = { loose: ["airbags_off", "battery_off"], weight_off: [], brakes: false, steers: false } as never;
    const all = order({ open: [{ open: "down", since: 1, by: "d" }], energy: { high_voltage: "isolated" }, condition });
    expect(said(all)).toEqual(["open", "isolated", "loose", "no_brakes", "no_steering"]);
  });

  it("is what was found owed and is not done since, and what nobody has answered for", () => {
    const note = { order: "o", at: 10, found: "alignment_owed" as const };
    const done = (at: number) => [card("Alineación", { life: "done", done_at: at })];
    expect(said(order(), done(9), [note])).toEqual(["owed"]);
    expect(said(order(), done(10), [note])).toEqual([]);
    expect(said(order(), [], [{ ...note, order: "other" }], [{ order: "o" }, { order: "o", answered_at: 5 }])).toEqual([
      "unanswered",
    ]);
  });
});

describe("cancelling is grave", () => {
  interface Vector {
    docs: Record<string, unknown>;
    op: { args: { card: string } };
    then: { refused?: string };
  }
  const vector = JSON.parse(
    readFileSync(join(import.meta.dirname, "../../../tests/vectors/decide/cancel-closing-without-reason.json"), "utf8"),
  ) as Vector;
  const docs = (kind: string): unknown[] =>
    Object.entries(vector.docs).flatMap(([key, body]) => (key.startsWith(`${kind}/`) ? [body] : []));

  it("where the server asks why", () => {
    expect(vector.then.refused).toBe("reason_needed");
    const cards = by(docs("card") as Card[]);
    const closing = cards.get(vector.op.args.card) as Card;
    const vehicle = (docs("order") as Order[]).find((one) => one.id === closing.order) as Order;
    expect(graveToCancel(closing, vehicle, cards, undefined)).toBe(true);
  });

  const down = card("down", { opens: "s", routing: "r", handoff: "h" });
  const inside = card("inside", { inside: "s" });
  const up = card("up", { closes: "s", routing: "r", handoff: "h" });
  const grave = (one: Card, open: boolean, all: Card[], forCard?: string): boolean =>
    graveToCancel(
      one,
      order({ cards: all.map((other) => other.id), open: open ? [{ open: "s", since: 1, by: "down" }] : [] }),
      by(all),
      forCard,
    );

  it.each([
    ["what closes what is open", up, true, [up], true],
    ["what closes what will be", up, false, [down, up], true],
    ["one of two that close", up, true, [up, card("up2", { closes: "s" })], false],
    ["what closes nothing any more", up, false, [up], false],
    ["what is undone inside", inside, true, [inside, up], true],
    ["the same before it is open", inside, false, [down, inside, up], false],
    ["what opens for others", down, false, [down, inside, up], true],
  ] as const)("%s", (_, one, open, all, is) => expect(grave(one, open, [...all])).toBe(is));

  it("not where it opens for the asker alone", () =>
    expect(grave(down, false, [down, inside, up], "inside")).toBe(false));
});

describe("which lift", () => {
  const lift = (id: string, more: Partial<Equipment> = {}): Equipment =>
    ({
      id,
      title: { text: id },
      kind: "lift",
      department: "mechanical",
      out_of_service: [],
      retired: false,
      ...more,
    }) as Equipment;
  const choose = (lifts: Equipment[], of: Order, one: Card, others: Order[] = []): string[] => {
    const places = new Map([
      ["stall", {}],
      ["lift-1", { equipment: "lift-1" }],
    ]);
    const shop = {
      equipment: new Map(lifts.map((each) => [each.id, each])),
      orders: new Map([of, ...others].map((each) => [each.id, each])),
      places,
    };
    return toChoose(shop, of, one, 100).map((each) => each.id);
  };
  const down = card("down", { equipment: "lift" });
  const at = (place: string, more: Partial<Order> = {}): Order =>
    order({ condition: { place, loose: [], weight_off: [] } as never, ...more });

  it("is not asked where it is known, or only one fits", () => {
    expect(choose([lift("lift-1"), lift("lift-2")], at("lift-1"), down)).toEqual([]);
    expect(choose([lift("lift-1")], at("stall"), down)).toEqual([]);
    expect(choose([lift("lift-1"), lift("lift-2")], at("stall"), card("x"))).toEqual([]);
  });

  it("is asked with the likeliest first: free, in service, of the same department", () => {
    const out = lift("lift-0", { out_of_service: [{ from: 50, to: 200 }] });
    const away = lift("lift-2", { department: "body" });
    const other = at("lift-1", { id: "p" });
    expect(choose([out, lift("lift-1"), away, lift("lift-3")], at("stall"), down, [other])).toEqual([
      "lift-3",
      "lift-2",
      "lift-1",
      "lift-0",
    ]);
    expect(choose([lift("lift-1"), lift("lift-2")], at("stall"), { ...down, used: "lift-2" })).toEqual([
      "lift-2",
      "lift-1",
    ]);
  });

  it("is spoken against where it may not be used", () => {
    expect(
      against(at("stall"), lift("l", { out_of_service: [{ from: 50, to: 200 }], inspection_due: 99 }), 100),
    ).toEqual(["out_of_service", "inspection_overdue"]);
    const heavy = order({ condition: { loose: [], weight_off: ["front"] } as never });
    expect(against(heavy, lift("l"), 100)).toEqual(["unsafe_lift"]);
    expect(against({ ...heavy, open: [{ open: "s", since: 1, by: "d", equipment: "l" }] }, lift("l"), 100)).toEqual([]);
    expect(against(heavy, lift("b", { kind: "bench" }), 100)).toEqual([]);
  });
});
