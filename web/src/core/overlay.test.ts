// The same vectors run through the server's rules: what a phone foresees is what the server does.
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Body, DocKind, Op } from "../api/types";
import { Docs } from "./docs";
import { apply, applyAll } from "./overlay";

interface Vector {
  name: string;
  docs: Record<string, Body>;
  op: Op;
  me: string;
  now: number;
  after: Record<string, Body>;
}

const folder = join(import.meta.dirname, "../../../tests/vectors/overlay");
const vectors = readdirSync(folder)
  .filter((name) => name.endsWith(".json"))
  .flatMap((name) => {
    const read = JSON.parse(readFileSync(join(folder, name), "utf8")) as Vector | Vector[];
    return Array.isArray(read) ? read : [read];
  });

function over(docs: Record<string, Body>): Docs {
  return new Docs({
    get: (kind, id) => docs[`${kind}/${id}`],
    ids: (kind: DocKind) =>
      Object.keys(docs)
        .filter((key) => key.startsWith(`${kind}/`))
        .map((key) => key.slice(kind.length + 1)),
  });
}

/** As it would travel: what is not set is not there. */
const wire = (body: unknown): unknown => JSON.parse(JSON.stringify(body));

describe("shared vectors", () => {
  it("are there", () => expect(vectors.length).toBeGreaterThan(10));

  it.each(vectors.map((vector) => [vector.name, vector] as const))("%s", (_, { docs, op, me, now, after }) => {
    const overlay = over(docs);
    apply(overlay, op, me, now);
    const changed: Record<string, unknown> = {};
    for (const [key, body] of overlay.patches) {
      if (JSON.stringify(body) !== JSON.stringify(docs[key])) changed[key] = wire(body);
    }
    expect(changed).toEqual(after);
  });
});

describe("any operation on any of the vectors' documents", () => {
  it("changes no document in place and never throws", () => {
    fc.assert(
      fc.property(fc.nat(vectors.length - 1), fc.array(fc.nat(vectors.length - 1), { maxLength: 6 }), (on, which) => {
        const { docs, me, now } = vectors[on] as Vector;
        const before = JSON.stringify(docs);
        const overlay = over(docs);
        applyAll(
          overlay,
          which.map((i) => ({ op: (vectors[i] as Vector).op, person: me, at: now })),
        );
        return JSON.stringify(docs) === before;
      }),
    );
  });

  it("laid twice over the same documents gives the same picture", () => {
    fc.assert(
      fc.property(fc.nat(vectors.length - 1), (on) => {
        const { docs, op, me, now } = vectors[on] as Vector;
        const [once, again] = [over(docs), over(docs)];
        apply(once, op, me, now);
        apply(again, op, me, now);
        expect([...again.patches]).toEqual([...once.patches]);
      }),
    );
  });
});

describe("undo", () => {
  it("leaves out an act that is not sent yet", () => {
    const take = vectors.find(({ op }) => op.kind === "take") as Vector;
    const undo: Op = {
      ...take.op,
      n: 2,
      id: "01980000-0000-7000-8000-0000000000ff",
      kind: "undo",
      args: { op: take.op.id, card: (take.op.args as { card: string }).card },
    };
    const overlay = over(take.docs);
    applyAll(
      overlay,
      [take.op, undo].map((op) => ({ op, person: take.me, at: take.now })),
    );
    expect(overlay.patches.size).toBe(0);
  });
});
