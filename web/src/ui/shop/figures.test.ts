import { describe, expect, it } from "vitest";
import { csv, digits, grouped, measureRows, readMeasures } from "./figures";

const answer = {
  measures: [
    { id: "keys_to_keys", unit: "days", clock: "calendar", count: 12, value: 8.25, p90: 15.5, by: [{ key: "rolling", count: 9, value: 7, p90: 12 }] },
    { id: "waited", unit: "hours", clock: "calendar", count: 0, by: [{ department: "body", count: 3, value: 4.5 }] },
    { id: "something_later", unit: "hours", clock: "none", count: 1, value: 2, by: [] },
  ],
};

describe("measures as they come", () => {
  it("keeps an empty one empty: no value is not zero", () => {
    const [, waited] = readMeasures(answer);
    expect(waited).toMatchObject({ count: 0, value: undefined, by: [{ key: "body", value: 4.5 }] });
  });

  it("reads a bare list and parts by name too", () => {
    const [one] = readMeasures([{ id: "x", unit: "hours", clock: "working", all: { count: 2, value: 1 }, by: { "lift-2": { count: 2, value: 1 } } }]);
    expect(one).toMatchObject({ count: 2, value: 1, clock: "working", by: [{ key: "lift-2", count: 2 }] });
  });

  it("drops what is no measure and shows what it does not know last", () => {
    expect(readMeasures({ measures: [null, 4, { id: 7 }] })).toEqual([]);
    expect(readMeasures("nothing")).toEqual([]);
    expect(grouped(readMeasures(answer)).map((g) => [g.group, g.measures.map((m) => m.id)])).toEqual([
      ["how-long", ["keys_to_keys"]],
      ["where-time-goes", ["waited"]],
      ["more", ["something_later"]],
    ]);
  });

  it("shows no more digits than are worth showing", () => {
    expect([digits("days", 8.25), digits("days", 15.5), digits("share", 0.8), digits("vehicles", 12), digits("vehicles", 12.4)]).toEqual([1, 0, 0, 0, 1]);
  });
});

describe("CSV", () => {
  // Quoting and line ends: RFC 4180, section 2. The leading apostrophe: [CP] against formulas in cells.
  it("quotes commas, quotes and line ends, doubles quotes, ends lines with CRLF", () => {
    expect(csv([["a,b", 'say "x"', "two\nlines", 1.5, undefined]])).toBe('"a,b","say ""x""","two\nlines",1.5,\r\n');
  });

  it("does not let a name become a formula", () => {
    expect(csv([["=1+1", "-x"]])).toBe("'=1+1,'-x\r\n");
  });

  it("has one line for the whole and one for each part", () => {
    const rows = measureRows(readMeasures(answer), (m) => m.id, (k) => k, ["measure", "part", "unit", "clock", "count", "value", "p90"]);
    expect(rows).toHaveLength(1 + 2 + 2 + 1);
    expect(rows[2]).toEqual(["keys_to_keys", "rolling", "days", "calendar", 9, 7, 12]);
  });
});
