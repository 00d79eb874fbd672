import { describe, expect, it } from "vitest";
import type { Card, Handoff, Plan, Routing, Step } from "../api/types";
import * as fixture from "../../test/shop-fixture";
import { backAt, byAsked, DO_NOTS, markOf, notYetOf, notYetText, placeOf, withdrawal } from "./asking";

const step = (more: Partial<Step>): Step =>
  ({
    step: "one",
    department: "mechanical",
    title: { text: "One" },
    planned_minutes: 60,
    after: [],
    off_vehicle: false,
    beside: false,
    one_go: false,
    checks: [],
    cautions: [],
    ...more,
  }) as Step;
const routing = (id: string, ...steps: Partial<Step>[]): Routing => ({
  id,
  title: { text: id },
  steps: steps.map(step),
  retired: false,
  version: 1,
});

const SCAN = routing("scan", {});
const OWN = routing("own", { department: "body", opens: "on-the-bench" });
const DOWN = routing("down", { opens: "suspension-down-rear" }, { department: "body", inside: "suspension-down-rear" });
const TANK = routing("tank", { opens: "tank-out" });
const ids = (list: Routing[]) => list.map((one) => one.id);

describe("what is asked for most stands first", () => {
  const asks = (from: string, ...routings: string[]) => routings.map((routing) => ({ from, routing }));

  it("counts the department's own asks before everybody's", () => {
    const all = [...asks("paint", "tank", "tank", "tank"), ...asks("body", "scan", "scan", "down")];
    expect(ids(byAsked([OWN, TANK, DOWN, SCAN], all, "body"))).toEqual(["scan", "down", "tank", "own"]);
  });

  it("without asks: what another department opens, the rest, and one's own last, each in the given order", () => {
    expect(ids(byAsked([OWN, SCAN, TANK, DOWN], [], "body"))).toEqual(["tank", "down", "scan", "own"]);
    expect(ids(byAsked([OWN, SCAN, DOWN, TANK], [], undefined))).toEqual(["own", "down", "tank", "scan"]);
  });
});

describe("the mark of what is asked for", () => {
  it("is that of what is opened, else of what is needed, else neutral", () => {
    expect(markOf(DOWN)).toBe("suspension-down-rear");
    expect(markOf(routing("aim", { equipment: "alignment" }))).toBe("alignment");
    expect(markOf(routing("radar", { qualification: "calibration" }))).toBe("calibration");
    expect(markOf(routing("typed", { opens: "axle-off" }))).toBe("other");
    expect(markOf(SCAN)).toBe("other");
    // What is opened is seen on the vehicle: it goes before the place it is done at.
    expect(markOf(routing("both", { equipment: "alignment" }, { opens: "cradle-down" }))).toBe("cradle-down");
  });
});

describe("what must not be done meanwhile", () => {
  it("comes back as it was chosen and typed, whatever was chosen", () => {
    for (let bits = 0; bits < 2 ** DO_NOTS.length; bits++) {
      const chosen = DO_NOTS.filter((_, i) => bits & (1 << i));
      for (const typed of ["", "Leave the plugs in.\nAll of them."])
        expect(notYetOf(notYetText(chosen, typed))).toEqual({ chosen, typed });
    }
  });

  it("is a promise: asks are kept with these words", () => {
    expect(notYetText(DO_NOTS, "")).toBe("Move it\nLower it\nClose it up\nSwitch power on");
    expect(notYetOf("Do not move it yet")).toEqual({ chosen: [], typed: "Do not move it yet" });
  });
});

const shop = () => {
  const order = { ...(fixture.orders.find((one) => one.number === "2052") ?? fixture.orders[0]!) };
  const own = fixture.cards.filter((one) => one.order === order.id);
  const tank = own.find((one) => one.id.endsWith("tank"))!;
  const ask: Handoff = { ...fixture.handoffs.find((one) => one.order === order.id)! };
  return { order, cards: new Map(own.map((one) => [one.id, one])), tank, ask };
};
const altered = (cards: ReadonlyMap<string, Card>, ...changed: Card[]) =>
  new Map([...cards, ...changed.map((one) => [one.id, one] as const)]);

describe("taking an ask back", () => {
  it("calls off what it laid out, until somebody has taken it", () => {
    const { order, cards, tank, ask } = shop();
    expect(withdrawal(ask, order, cards)).toEqual([{ kind: "cancel_card", card: tank.id }]);
    expect(withdrawal(ask, order, altered(cards, { ...tank, life: "taken", taken_by: "p-oren" }))).toEqual([]);
    expect(withdrawal({ ...ask, life: "cancelled" }, order, altered(cards, { ...tank, life: "cancelled" }))).toEqual(
      [],
    );
  });

  it("calls off what opens, and with it goes what follows; what does not follow by itself", () => {
    const { order, cards, tank, ask } = shop();
    const opener = { ...tank, opens: "tank-out" };
    const refit = { ...tank, id: "refit", closes: "tank-out", after: [{ card: opener.id, lag_minutes: 0 }] };
    const aim = { ...tank, id: "aim", after: [{ card: "refit", lag_minutes: 0 }] };
    const beside = { ...tank, id: "beside", after: [] };
    const of = { ...ask, cards: [opener.id, "refit", "aim", "beside"] };
    const all = altered(cards, opener, refit, aim, beside);
    const on = { ...order, cards: [...order.cards, "refit", "aim", "beside"] };
    expect(withdrawal(of, on, all)).toEqual([opener.id, "beside"].map((card) => ({ kind: "cancel_card", card })));
  });

  it("that only joined another's is called off by itself", () => {
    const { order, cards, ask } = shop();
    expect(withdrawal({ ...ask, cards: [], joined: true }, order, cards)).toEqual([{ kind: "call_off" }]);
    expect(withdrawal({ ...ask, cards: [] }, order, cards)).toEqual([]);
  });

  it("asks for a reason where something is open: then it is not one tap", () => {
    const { order, cards, tank, ask } = shop();
    const open = { ...order, open: [{ open: "tank-out", since: 0, by: "somebody" }] };
    expect(withdrawal(ask, open, altered(cards, { ...tank, inside: "tank-out" }))).toEqual([]);
  });
});

it("where it stands is what the plan says of the first work that is left", () => {
  const { cards, tank, ask } = shop();
  expect(placeOf(ask, cards, fixture.plan)).toMatchObject({ card: tank.id, place: 2, equipment: "lift-1" });
  expect(placeOf(ask, cards, undefined)).toBeUndefined();
  const begun: Plan = {
    ...fixture.plan,
    rows: fixture.plan.rows.map((row) => (row.card === tank.id ? { ...row, place: 0 } : row)),
  };
  expect(placeOf(ask, cards, begun)).toBeUndefined();
});

it("the vehicle is back when the last of it is done, as planned", () => {
  const { tank, ask } = shop();
  const row = fixture.plan.rows.find((one) => one.card === tank.id)!;
  expect(backAt(ask, fixture.plan)).toBe(row.to);
  const later: Plan = { ...fixture.plan, rows: [{ ...row, card: "refit", to: row.to + 1 }, ...fixture.plan.rows] };
  expect(backAt({ ...ask, cards: [...ask.cards, "refit"] }, later)).toBe(row.to + 1);
  expect(backAt(ask, undefined)).toBeUndefined();
});
