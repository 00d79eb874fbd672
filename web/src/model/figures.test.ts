import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { csv, digits, grouped, GROUPS, measureRows, pieceRows, readMeasures, rowsOf } from "./figures";

const answer = {
  measures: [
    {
      id: "keys_to_keys",
      unit: "days",
      clock: "calendar",
      count: 12,
      value: 8.25,
      p90: 15.5,
      by: [{ key: "rolling", count: 9, value: 7, p90: 12 }],
    },
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
    const [one] = readMeasures([
      {
        id: "x",
        unit: "hours",
        clock: "working",
        all: { count: 2, value: 1 },
        by: { "lift-2": { count: 2, value: 1 } },
      },
    ]);
    expect(one).toMatchObject({ count: 2, value: 1, clock: "working", by: [{ key: "lift-2", count: 2 }] });
  });

  it("drops what is no measure and shows what it does not know last", () => {
    expect(readMeasures({ measures: [null, 4, { id: 7 }] })).toEqual([]);
    expect(readMeasures("nothing")).toEqual([]);
    expect(grouped(readMeasures(answer)).map((g) => [g.group, g.tables.map((t) => t.map((m) => m.id))])).toEqual([
      ["how-long", [["keys_to_keys"]]],
      ["where-time-goes", [["waited"]]],
      ["more", [["something_later"]]],
    ]);
  });

  it("shows no more digits than are worth showing", () => {
    expect([
      digits("days", 8.25),
      digits("days", 15.5),
      digits("share", 0.8),
      digits("vehicles", 12),
      digits("vehicles", 12.4),
      digits("share", 0.034),
      digits("ratio", 1.113),
    ]).toEqual([1, 0, 0, 0, 1, 1, 2]);
  });
});

describe("tables", () => {
  it("leave no measure out: every one of the page that says what each is has its place and its words", () => {
    const page = readFileSync("../server/domain/src/measure/MEASURES.md", "utf8");
    const ids = [...page.matchAll(/^\| `(\w+)` \|/gm)].map((found) => found[1] ?? "");
    expect(ids.length).toBeGreaterThan(30);
    expect(GROUPS.flatMap(([, tables]) => tables.flat()).sort()).toEqual([...ids].sort());
    for (const language of ["en", "es"]) {
      const words = readFileSync(`locales/${language}/shop.ftl`, "utf8");
      for (const id of ids)
        for (const key of [`measure-${id}`, `measure-${id}-is`])
          expect([key, words.includes(`\n${key} = `)]).toEqual([key, true]);
    }
  });

  it("put classes and months in their order, the rest with the most in front, parts below", () => {
    const keys = (by: Record<string, number>) => {
      const measure = {
        id: "x",
        unit: "hours",
        clock: "none",
        count: 1,
        value: 1,
        by: Object.fromEntries(Object.entries(by).map(([key, value]) => [key, { count: 1, value }])),
      };
      const [read] = readMeasures([measure]);
      return read ? rowsOf([read]).map((row) => [row.key, ...row.parts.map((part) => part.key)]) : [];
    };
    expect(keys({ large: 9, rolling: 1, small: 3, towed_in: 7 })).toEqual([
      ["rolling"],
      ["towed_in"],
      ["small"],
      ["large"],
    ]);
    expect(keys({ "2026-03": 1, "2025-12": 2 })).toEqual([["2025-12"], ["2026-03"]]);
    expect(keys({ body: 1, paint: 5, "body/parts": 0.2, "body/curing": 0.8 })).toEqual([
      ["paint"],
      ["body", "body/curing", "body/parts"],
    ]);
  });

  it("hold what belongs together side by side, also where one has nothing", () => {
    const [a, b] = readMeasures([
      { id: "a", unit: "hours", clock: "none", count: 2, value: 3, by: { body: { count: 2, value: 3 } } },
      { id: "b", unit: "hours", clock: "none", count: 1, value: 9, by: { paint: { count: 1, value: 9 } } },
    ]);
    const rows = a && b ? rowsOf([a, b]) : [];
    expect(rows.map((row) => [row.key, ...row.figures.map((figure) => figure?.value)])).toEqual([
      ["paint", undefined, 9],
      ["body", 3, undefined],
    ]);
  });

  it("say of each piece what its open hours went to, and all of them", () => {
    const [time] = readMeasures([
      {
        id: "equipment_time",
        unit: "hours",
        clock: "working",
        count: 1,
        value: 10,
        by: {
          "lift-2": { count: 1, value: 10 },
          "lift-2/worked": { count: 3, value: 4 },
          "lift-2/for:body": { count: 2, value: 3 },
          "lift-2/parts": { count: 1, value: 1 },
          "lift-2/empty": { count: 0, value: 2 },
          "lift-10": { count: 1, value: 0 },
        },
      },
    ]);
    const [two, ten] = time ? pieceRows(time) : [];
    expect(two).toMatchObject({
      key: "lift-2",
      worked: 0.4,
      waiting: 0.4,
      empty: 0.2,
      curing: 0,
      waits: [
        { key: "for:body", hours: 3, vehicles: 2 },
        { key: "parts", hours: 1 },
      ],
    });
    expect([ten?.key, ten?.worked, ten?.empty]).toEqual(["lift-10", 0, 0]);
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
    const rows = measureRows(
      readMeasures(answer),
      (m) => m.id,
      (_, k) => k,
      ["measure", "part", "unit", "clock", "count", "value", "p90"],
    );
    expect(rows).toHaveLength(1 + 2 + 2 + 1);
    expect(rows[2]).toEqual(["keys_to_keys", "rolling", "days", "calendar", 9, 7, 12]);
  });
});
