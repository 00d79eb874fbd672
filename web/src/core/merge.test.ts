import { describe, expect, it } from "vitest";
import type { Plan, PlanChange } from "../api/types";
import { follow, merge } from "./merge";

describe("a merge patch", () => {
  // RFC 7396, appendix A, all rows: target, patch, result.
  it.each([
    [{ a: "b" }, { a: "c" }, { a: "c" }],
    [{ a: "b" }, { b: "c" }, { a: "b", b: "c" }],
    [{ a: "b" }, { a: null }, {}],
    [{ a: "b", b: "c" }, { a: null }, { b: "c" }],
    [{ a: ["b"] }, { a: "c" }, { a: "c" }],
    [{ a: "c" }, { a: ["b"] }, { a: ["b"] }],
    [{ a: { b: "c" } }, { a: { b: "d", c: null } }, { a: { b: "d" } }],
    [{ a: [{ b: "c" }] }, { a: [1] }, { a: [1] }],
    [
      ["a", "b"],
      ["c", "d"],
      ["c", "d"],
    ],
    [{ a: "b" }, ["c"], ["c"]],
    [{ a: "foo" }, null, null],
    [{ a: "foo" }, "bar", "bar"],
    [{ e: null }, { a: 1 }, { e: null, a: 1 }],
    [[1, 2], { a: "b", c: null }, { a: "b" }],
    [{}, { a: { bb: { ccc: null } } }, { a: { bb: {} } }],
  ])("on %j by %j gives %j", (onto, patch, result) => {
    const before = JSON.stringify(onto);
    expect(merge(onto, patch)).toEqual(result);
    expect(JSON.stringify(onto)).toBe(before);
  });
});

// OWASP ASVS 5.0.0, 15.3.6. JSON.parse makes an own property of the name, as a body from the network would.
describe("names that objects come with", () => {
  it.each(["__proto__", "constructor", "prototype"])("%s is a name like any other", (name) => {
    const patch: unknown = JSON.parse(`{"a": {"${name}": {"polluted": true}}, "${name}": {"polluted": true}}`);
    const merged = merge(JSON.parse('{"a": {"b": 1}}'), patch) as { a: object };
    expect(({} as { polluted?: boolean }).polluted).toBeUndefined();
    expect(Object.getPrototypeOf(merged)).toBe(Object.prototype);
    expect(Object.getPrototypeOf(merged.a)).toBe(Object.prototype);
    expect(Object.keys(merged).sort()).toEqual([name, "a"].sort());
    expect((merged as { polluted?: boolean }).polluted).toBeUndefined();
  });
});

describe("a change of the plan", () => {
  const row = (card: string, place: number): Plan["rows"][number] => ({
    card,
    order: "o1",
    department: "body",
    place,
    from: 0,
    to: 1,
    reason: { binding: { kind: "now" } },
  });
  const plan: Plan = { rev: 4, at_seq: 1, at_time: 1, rows: [row("a", 1), row("b", 2), row("c", 3)], vehicles: [] };
  const change: PlanChange = {
    rev: 9,
    base: 4,
    at_seq: 2,
    at_time: 2,
    rows: [row("c", 1), row("d", 3)],
    gone: ["a"],
    vehicles: [],
    left: [],
  };

  it("takes in what is new and leaves the rest", () => {
    expect(follow(plan, change)).toEqual({
      rev: 9,
      at_seq: 2,
      at_time: 2,
      rows: [row("b", 2), row("c", 1), row("d", 3)],
      vehicles: [],
    });
  });
  it("is not taken in by a phone that has another plan", () => {
    expect(follow({ ...plan, rev: 5 }, change)).toBeUndefined();
    expect(follow(undefined, change)).toBeUndefined();
  });
});
