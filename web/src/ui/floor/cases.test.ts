// The sentences a person reads when things went another way than hoped, in both languages.
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import type { Body, Card, ExceptionKind, Op, OpResult } from "../../api/types";
import { verdict, type TrayRow } from "../../core/cases";
import { nextSteps } from "../../core/next";
import { loadWords, me, setDocs, setLanguage, setRows, touched } from "../../state";
import { has } from "../../text/words";
import { story } from "./cases";
import { handoffLife, life } from "../../text/sentences";

const vectors = join(import.meta.dirname, "../../../../tests/vectors/decide");
interface Vector {
  docs: Record<string, Body>;
  op: Op;
  me: string;
  now: number;
  then: {
    refused?: string;
    other?: { by?: string; at?: number } | null;
    after?: Record<string, { kind?: ExceptionKind; about?: string[] }>;
  };
}
const read = (name: string): Vector => JSON.parse(readFileSync(join(vectors, name), "utf8")) as Vector;

/** What the app would know and be told after the vector's operation. */
function told({ docs, op, me: person, then, now }: Vector, before: readonly TrayRow[] = []): TrayRow[] {
  const all = { ...docs, ...(then.after ?? {}) } as Record<string, Body>;
  setDocs(Object.entries(all).map(([key, body]) => ({ key, seq: 1, body })));
  const raised = Object.entries(then.after ?? {}).flatMap(([key, body]) =>
    key.startsWith("exception/") && body.kind ? [body.kind] : [],
  );
  const result: OpResult = then.refused
    ? {
        n: 1,
        seq: 1,
        verdict: "refused",
        code: then.refused,
        ...(then.other?.by ? { by: then.other.by } : {}),
        ...(then.other?.at ? { at: then.other.at } : {}),
      }
    : { n: 1, seq: 1, verdict: "applied", exceptions: raised };
  return verdict(before, { client: "c", person, op }, result, now).put;
}

beforeAll(async () => {
  vi.stubGlobal("document", { documentElement: { lang: "" } });
  for (const area of ["app", "draw", "tray"] as const) await loadWords(area);
});
beforeEach(() => setLanguage("en"));

const speak = (row: TrayRow): string => {
  const { title, said, then } = story(row);
  return [`${title}.`, ...said, ...then].join(" ");
};

describe("the shared cases of the server's rules", () => {
  const files = readdirSync(vectors).filter(
    (name) => "refused" in read(name).then || JSON.stringify(read(name).then).includes('"exception/'),
  );

  it.each(["en", "es"] as const)("are told without a gap in %s", async (to) => {
    await setLanguage(to);
    expect(files.length).toBeGreaterThan(6);
    for (const file of files) {
      const rows = told(read(file));
      expect([file, rows.length]).toEqual([file, 1]);
      for (const row of rows) {
        const said = speak(row);
        // A missing message would show its name.
        expect(said).not.toMatch(/(recorded|refused|then|act|case|lost|kept)-[a-z_]+/);
        expect(said.length).toBeGreaterThan(20);
      }
    }
  });

  it("the loser of a take learns who, when and what to do next", () => {
    const [row] = told(read("take-taken.json"));
    expect(speak(row!)).toBe(
      "2041: down. milo took it before you, 2 Mar 08:00. Ask whether a second pair of hands helps, or leave it.",
    );
  });

  it("closing over undone work names what is undone, and that an alarm stands", () => {
    const [row] = told(read("close-over-undone.json"));
    expect(speak(row!)).toMatch(
      /closed over work that is not done: Seal wheelhouse seam\. .*An alarm stands until a planner answers\./,
    );
  });

  it("a start before its predecessor names it", () => {
    const [row] = told(read("start-early.json"));
    expect(speak(row!)).toMatch(/begun before this was done: .*Look whether you can go on\. If not, pause\./);
  });

  it("every word of refusal that the server knows has its own sentence", () => {
    const rust = readFileSync(join(import.meta.dirname, "../../../../server/domain/src/decide/mod.rs"), "utf8");
    const codes = [...(/codes! \{([^}]*)\}/.exec(rust)?.[1] ?? "").matchAll(/"(\w+)"/g)].map((found) => found[1] ?? "");
    expect(codes.length).toBeGreaterThan(20);
    expect(codes.filter((code) => !has(`refused-${code}`))).toEqual([]);
  });
});

describe("take, start and finish made offline whose take lost", () => {
  const vector = read("take-taken.json");
  const { card } = vector.op.args as { card: string };
  const act = (kind: "start" | "finish", device_at: number): Op =>
    ({ ...vector.op, id: kind, kind, args: { card }, device_at }) as Op;
  const rows = (): TrayRow[] => {
    let row = told(vector);
    for (const [op, exceptions] of [
      [act("start", vector.now + 600_000), []],
      [act("finish", vector.now + 2_400_000), ["done_by_another"]],
    ] as const) {
      row = verdict(
        row,
        { client: "c", person: vector.me, op },
        { n: 2, seq: 2, verdict: "applied", exceptions: [...exceptions] },
        vector.now,
      ).put;
    }
    return row;
  };

  it("read as one message; the work stands", () => {
    const [row, ...more] = rows();
    expect(more).toEqual([]);
    expect(speak(row!)).toBe(
      "2041: down. milo took it before you, 2 Mar 08:00. What you did counts: begun 2 Mar 08:10, done 2 Mar 08:40, by you. A planner looks at it. Tell milo that it is done.",
    );
  });

  it("read so in Spanish too", async () => {
    await setLanguage("es");
    expect(speak(rows()[0]!)).toMatch(
      /milo lo tomó antes que usted, .* Lo que hizo cuenta: empezado .* Dígale a milo que ya está hecho\./,
    );
  });

  it("while the take is unsent it is asked for, not taken: on the card and on the hand-off", () => {
    const before = read("undo-take.json");
    const [key, held] = Object.entries(before.docs).find(
      ([, body]) => (body as Card).life === "taken" && "spans" in (body as object),
    ) as [string, Card];
    const free = {
      ...held,
      life: "waiting",
      taken_by: undefined,
      taken_at: undefined,
      last_act: undefined,
    } as unknown as Card;
    setDocs(Object.entries({ ...before.docs, [key]: free }).map(([name, body]) => ({ key: name, seq: 1, body })));
    me.value = { person: before.me } as never;
    const op = { ...before.op, id: "t", kind: "take", args: { card: held.id } } as Op;
    const view = async () => {
      const { cards, handoffs } = await import("../../state");
      return { card: cards.value.get(held.id) as Card, handoff: [...handoffs.value.values()][0] };
    };
    return view().then(async () => {
      setRows([{ client: "c", n: 1, person: before.me, op }]);
      const now = await view();
      expect(now.card.life).toBe("taken");
      expect(life(now.card)).toBe("Asked for by you; the server has not said yes yet.");
      expect(touched.value.has(`card/${held.id}`)).toBe(true);
      if (now.handoff)
        expect(handoffLife({ ...now.handoff, life: "taken", taken_at: 5, cards: [held.id] })).toMatch(
          /^Asked for by you/,
        );
      // Somebody else's, on a tablet that several people use.
      setRows([
        {
          client: "c",
          n: 1,
          person: Object.keys(before.docs)
            .find((id) => id.startsWith("person/") && !id.endsWith(before.me))!
            .slice(7),
          op,
        },
      ]);
      expect(life((await view()).card)).toMatch(/^Asked for by \w+;/);
      // The verdict is there, its documents are not: it is taken now.
      setRows([{ client: "c", n: 1, person: before.me, op, result: { n: 1, seq: 9, verdict: "applied" } }]);
      expect(life((await view()).card)).toMatch(/^Taken by/);
      setRows([]);
    });
  });
});

describe("a finish that met a cancelled card", () => {
  it("is recorded, and says that the card stays cancelled", () => {
    const vector = read("done-by-another.json");
    const { card } = vector.op.args as { card: string };
    const cancelled = { ...(vector.docs[`card/${card}`] as Card), life: "cancelled" } as Card;
    const rows = told({
      ...vector,
      docs: { ...vector.docs, [`card/${card}`]: cancelled },
      then: { after: { "exception/e": { kind: "after_end" } } },
    });
    expect(speak(rows[0]!)).toMatch(
      /It had been cancelled\. What you did is recorded; it stays cancelled\. Say what was done/,
    );
    expect(nextSteps(rows[0]!, cancelled, vector.me)).toEqual(["tell", "look"]);
  });
});
