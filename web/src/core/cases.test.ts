// One story per piece of work: what is told, what is not told twice, and what is offered next.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import type { Card, ExceptionKind, Kind, Op, OpResult } from "../api/types";
import { JOINED, RECORDED, verdict, wasRefused, type TrayRow } from "./cases";
import { broken, nextSteps, stands } from "./next";

let n = 0;
const op = (kind: Kind, args: object, device_at = 100): Op =>
  ({ n: ++n, id: `op${n}`, session: "s", v: 1, kind, args, device_at, seen: 0 }) as unknown as Op;
const applied = (exceptions?: ExceptionKind[]): OpResult => ({
  n,
  seq: 1,
  verdict: "applied",
  ...(exceptions ? { exceptions } : {}),
});
const lost: OpResult = { n: 0, seq: 1, verdict: "refused", code: "taken", by: "tova", at: 90 };

class Kept {
  rows: TrayRow[] = [];
  hear(made: Op, result: OpResult, person = "bruno"): this {
    const { put, drop } = verdict(this.rows, { client: "c", person, op: made }, result, 500);
    for (const row of put) this.rows = [...this.rows.filter((other) => other.id !== row.id), row];
    this.rows = this.rows.filter((row) => !drop.includes(row.id));
    return this;
  }
}

const card = (over: Partial<Card> = {}): Card =>
  ({ id: "k", order: "o", life: "taken", helpers: [], spans: [], taken_by: "tova", ...over }) as Card;

describe("take, start, finish made offline, the take lost", () => {
  const [take, start, finish] = [
    op("take", { card: "k" }, 100),
    op("start", { card: "k" }, 200),
    op("finish", { card: "k", checks: [] }, 300),
  ];
  const kept = new Kept()
    .hear(take, lost)
    .hear(start, applied())
    .hear(finish, applied(["done_by_another"]));

  it("are one case, which knows who was first and what stands", () => {
    expect(kept.rows).toHaveLength(1);
    expect(kept.rows[0]).toMatchObject({ id: take.id, code: "taken", by: "tova", at: 90 });
    expect(stands(kept.rows[0]!)).toEqual({ from: 200, to: 300, finished: true });
    expect(broken(kept.rows[0]!)).toEqual(["done_by_another"]);
    expect(wasRefused(kept.rows[0]!)).toBe(false);
  });

  it("are told once, however often the verdicts come", () => {
    expect(
      new Kept().hear(take, lost).hear(take, lost).hear(start, applied()).hear(start, applied()).rows,
    ).toMatchObject([{ did: [{ op: start }] }]);
  });

  it("leave the case of another card and of another person alone", () => {
    const other = new Kept()
      .hear(take, lost)
      .hear(op("start", { card: "other" }), applied())
      .hear(op("start", { card: "k" }), applied(), "ines");
    expect(other.rows).toHaveLength(1);
    expect(other.rows[0]?.did).toBeUndefined();
  });
});

describe("what is offered next", () => {
  const row = (over: Partial<TrayRow>): TrayRow => ({
    id: "x",
    person: "bruno",
    op: op("take", { card: "k" }),
    code: "taken",
    since: 1,
    ...over,
  });

  it("to the loser of a take: help, leave it, tell the planner", () => {
    expect(nextSteps(row({}), card(), "bruno")).toEqual(["help", "leave", "tell"]);
  });

  it("to the loser who works on it: help or hand over", () => {
    const did = [{ op: op("start", { card: "k" }), exceptions: [] }];
    expect(nextSteps(row({ did }), card({ life: "working" }), "bruno")).toEqual(["help", "hand_over", "tell"]);
    expect(nextSteps(row({ did }), card({ life: "done" }), "bruno")).toEqual(["tell", "look"]);
    expect(nextSteps(row({ did }), card({ helpers: ["bruno"] }), "bruno")).toEqual(["tell", "look"]);
  });

  it("to who runs work that had better stop: pause", () => {
    const running = card({
      life: "working",
      spans: [{ id: "s", person: "bruno", from: 1, uncertain: false, corrected: false }],
    });
    const held = row({
      code: RECORDED,
      op: op("start", { card: "k" }),
      did: [{ op: op("start", { card: "k" }), exceptions: ["during_hold"] }],
    });
    expect(nextSteps(held, running, "bruno")[0]).toBe("pause");
    expect(nextSteps(held, card(), "bruno")).toEqual(["tell", "look"]);
  });

  it("never a step about a vehicle that is not known", () => {
    for (const code of ["forbidden", "unknown_card", "not_ready", "anything"]) {
      expect([
        code,
        nextSteps(row({ code }), undefined, "bruno").filter((step) => step === "tell" || step === "look"),
      ]).toEqual([code, []]);
    }
  });
});

describe("facts that met something else", () => {
  it("are one case per card, the gravest first", () => {
    const kept = new Kept()
      .hear(op("start", { card: "k" }), applied(["started_early"]))
      .hear(op("finish", { card: "k", checks: [] }), applied(["finished_early", "closed_over_undone"]));
    expect(kept.rows).toHaveLength(1);
    expect(kept.rows[0]?.code).toBe(RECORDED);
    expect(broken(kept.rows[0]!)).toEqual(["closed_over_undone", "started_early", "finished_early"]);
  });

  it("about a vehicle are one case per kind of act", () => {
    const kept = new Kept()
      .hear(op("move", { order: "o", to: "a" }), applied(["moved_open"]))
      .hear(op("move", { order: "o", to: "b" }), applied(["moved_open", "occupied"]))
      .hear(op("stage", { order: "o", stage: "ready" }), applied(["out_of_turn"]));
    expect(kept.rows.map(broken)).toEqual([["moved_open", "occupied"], ["out_of_turn"]]);
  });

  it("that broke no rule are not spoken of", () => {
    expect(
      new Kept().hear(op("start", { card: "k" }), applied()).hear(op("note", { order: "o", body: "x" }), applied())
        .rows,
    ).toEqual([]);
  });
});

describe("taking back", () => {
  it("what was refused leaves nothing to say, of neither", () => {
    const take = op("take", { card: "k" });
    const nothing: OpResult = { n: 0, seq: 1, verdict: "refused", code: "nothing_to_undo" };
    expect(new Kept().hear(take, lost).hear(op("undo", { op: take.id, card: "k" }), nothing).rows).toEqual([]);
    const given = new Kept().hear(take, lost).hear(op("give_back", { card: "k" }), { ...lost, code: "not_yours" });
    expect(given.rows).toEqual([]);
  });

  it("what was recorded takes its part along", () => {
    const start = op("start", { card: "k" });
    const kept = new Kept().hear(start, applied(["started_early"]));
    expect(kept.hear(op("undo", { op: start.id, card: "k" }), applied()).rows).toEqual([]);
  });

  it("that came too late is told", () => {
    const nothing: OpResult = { n: 0, seq: 1, verdict: "refused", code: "nothing_to_undo" };
    expect(new Kept().hear(op("undo", { op: "long ago", card: "k" }), nothing).rows).toMatchObject([
      { code: "nothing_to_undo" },
    ]);
  });
});

it("what was noted on a refused order goes with it", () => {
  const open = op("open_order", { number: "2041", vehicle: "grey wagon" });
  const note = op("note", { order: open.id, body: "seized" });
  const kept = new Kept()
    .hear(open, { n: 0, seq: 1, verdict: "refused", code: "duplicate_number" })
    .hear(note, { n: 0, seq: 1, verdict: "refused", code: "unknown_order" });
  expect(kept.rows).toMatchObject([{ code: "duplicate_number", also: [{ args: { body: "seized" } }] }]);
  expect(nextSteps(kept.rows[0]!, undefined, "bruno")).toEqual(["open_again"]);
});

it("an ask that joined is told as such, and nothing is added to it", () => {
  const asked: TrayRow = { id: "h", person: "bruno", op: op("ask", { order: "o" }), code: JOINED, since: 1 };
  expect(wasRefused(asked)).toBe(false);
  expect(
    verdict([asked], { client: "c", person: "bruno", op: op("ask", { order: "o" }) }, applied(["opened_twice"]), 1).put,
  ).toMatchObject([{ code: RECORDED }]);
});

it("every broken rule of the server has its place in the order of gravity", () => {
  const rust = readFileSync(join(import.meta.dirname, "../../../server/domain/src/stored/doc.rs"), "utf8");
  const body = /pub enum ExceptionKind \{([^}]*)\}/.exec(rust)?.[1] ?? "";
  const kinds = [...body.matchAll(/^ {4}([A-Z]\w+),/gm)].map((found) =>
    (found[1] ?? "").replace(/(?!^)[A-Z]/g, "_$&").toLowerCase(),
  );
  expect(kinds.length).toBeGreaterThan(10);
  const all = [{ op: op("finish", { card: "k" }), exceptions: kinds as ExceptionKind[] }];
  expect(
    [...broken({ id: "x", person: "p", op: op("finish", { card: "k" }), code: RECORDED, since: 1, did: all })].sort(),
  ).toEqual([...kinds].sort());
});
