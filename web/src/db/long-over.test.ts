import { describe, expect, it } from "vitest";
import { KEEP_DAYS, longOver } from "./long-over";
import type { OutboxRow, StoredDoc } from "./open";

const NOW = 1_800_000_000_000;
const LONG_AGO = NOW - KEEP_DAYS * 86_400_000 - 1;

const doc = (key: string, body: object): StoredDoc => ({ key, seq: 1, body: body as StoredDoc["body"] });
const order = (id: string, stage: string, at: number): StoredDoc =>
  doc(`order/${id}`, {
    id,
    stage,
    stages: [
      { stage: "arrived", at: at - 1 },
      { stage, at },
    ],
  });
const visit = (id: string, stage: string, at: number): StoredDoc[] => [
  order(id, stage, at),
  doc(`card/c-${id}`, { id: `c-${id}`, order: id }),
  doc(`note/n-${id}`, { id: `n-${id}`, order: id }),
];
const keys = (...names: string[]): Set<string> => new Set(names);

describe("what a phone need no longer hold", () => {
  it("is a visit that was delivered long ago, with everything on it", () => {
    const docs = [
      ...visit("old", "delivered", LONG_AGO),
      ...visit("new", "delivered", LONG_AGO + 2),
      ...visit("here", "authorised", LONG_AGO),
      doc("person/p", { id: "p" }),
    ];
    expect(longOver(docs, [], NOW)).toEqual(keys("order/old", "card/c-old", "note/n-old"));
  });

  it("is nothing that waits for an answer", () => {
    const asked = doc("exception/e", { id: "e", order: "old" });
    expect(longOver([...visit("old", "delivered", LONG_AGO), asked], [], NOW)).toEqual(keys());
    const answered = doc("exception/e", { id: "e", order: "old", answered_at: 5 });
    expect(longOver([...visit("old", "delivered", LONG_AGO), answered], [], NOW).has("exception/e")).toBe(true);
  });

  it("is nothing that something unsent is about", () => {
    const unsent = [
      { client: "c", n: 1, person: "p", op: { kind: "note", args: { order: "x", card: "c-old" } } },
    ] as unknown as OutboxRow[];
    expect(longOver(visit("old", "delivered", LONG_AGO), unsent, NOW)).toEqual(keys());
  });
});
