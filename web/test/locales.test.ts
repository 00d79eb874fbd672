// Both languages say everything, with the same blanks; what the screens ask for is there; no word that
// the trade uses for something else.
import { readdirSync, readFileSync, statSync } from "node:fs";
import { join } from "node:path";
import { FluentBundle, FluentResource } from "@fluent/bundle";
import { describe, expect, it } from "vitest";

const root = join(import.meta.dirname, "..");
const areas = readdirSync(join(root, "locales/en")).filter((name) => name.endsWith(".ftl"));
const read = (language: string, area: string): string => readFileSync(join(root, "locales", language, area), "utf8");

function messages(text: string): Map<string, Set<string>> {
  const found = new Map<string, Set<string>>();
  for (const part of text.split(/^(?=[a-z][\w-]* =)/m)) {
    const id = /^([a-z][\w-]*) =/.exec(part)?.[1];
    if (id) found.set(id, new Set([...part.matchAll(/\{\s*\$(\w+)/g)].map((blank) => blank[1] ?? "")));
  }
  return found;
}

function sources(at: string): string[] {
  return readdirSync(at).flatMap((name) => {
    const path = join(at, name);
    if (statSync(path).isDirectory()) return sources(path);
    return /\.tsx?$/.test(name) && !name.includes(".test.") ? [readFileSync(path, "utf8")] : [];
  });
}

describe.each(areas)("%s", (area) => {
  const [en, es] = [messages(read("en", area)), messages(read("es", area))];

  it("has the same messages with the same blanks in both languages", () => {
    expect([...es.keys()].sort()).toEqual([...en.keys()].sort());
    for (const [id, blanks] of en) expect([id, [...(es.get(id) ?? [])].sort()]).toEqual([id, [...blanks].sort()]);
  });

  it.each(["en", "es"])("is understood by the language library (%s)", (language) => {
    const bundle = new FluentBundle(language, { useIsolating: false });
    expect(bundle.addResource(new FluentResource(read(language, area)))).toEqual([]);
    for (const id of (language === "en" ? en : es).keys()) {
      const errors: Error[] = [];
      const value = bundle.getMessage(id)?.value;
      const args = Object.fromEntries([...(en.get(id) ?? [])].map((blank) => [blank, 2]));
      if (value) bundle.formatPattern(value, args, errors);
      expect([id, value !== undefined, errors]).toEqual([id, true, []]);
    }
  });

  it("keeps the words of the trade", () => {
    expect(read("en", area)).not.toMatch(/\bclaim|\bflag/i);
    expect(read("es", area)).not.toMatch(/reclam/i);
  });
});

interface Described {
  enum?: string[];
  oneOf?: { properties?: { kind?: { enum?: string[] } } }[];
}
const document = JSON.parse(readFileSync(join(root, "../tests/http/openapi.json"), "utf8")) as {
  components: { schemas: Record<string, Described> };
};

describe("the screens", () => {
  const all = new Set(areas.flatMap((area) => [...messages(read("en", area)).keys()]));

  it("ask only for messages that are there", () => {
    const asked = sources(join(root, "src")).flatMap((text) =>
      [...text.matchAll(/\bt\(\s*"([\w-]+)"/g)].map((call) => call[1] ?? ""),
    );
    expect(asked.length).toBeGreaterThan(100);
    expect([...new Set(asked)].filter((id) => !all.has(id))).toEqual([]);
  });

  it("have a message for every word of the wire that they show", () => {
    const union = (name: string): string[] => document.components.schemas[name]?.enum ?? [];
    const kinds = (document.components.schemas["Binding"]?.oneOf ?? []).flatMap(
      (one) => one.properties?.kind?.enum ?? [],
    );
    const wanted: [string, string[]][] = [
      ["why-$", kinds.filter((kind) => kind !== "hold")],
      ["exception-$", union("ExceptionKind")],
      ["notice-$", union("NoticeKind")],
      ["caution-$", union("Caution")],
      ["loose-$", union("Loose")],
      ["loose-$-line", union("Loose")],
      ["found-$", union("Found")],
      ["pause-$", union("PauseWhy")],
      ["pause-$-button", union("PauseWhy")],
      ["stage-$", union("Stage")],
      ["hold-$", union("HoldKind")],
      ["hold-$-line", union("HoldKind")],
      ["role-$", union("Role")],
      ["security-$", union("What")],
      ["on-$", union("StandsOn")],
      ["fact-on-$", union("StandsOn")],
      ["points-$", union("LiftingPoints")],
      ["fact-points-$", union("LiftingPoints")],
      ["fact-weight-$", union("End")],
    ];
    const missing = wanted.flatMap(([pattern, of]) => {
      expect([pattern, of.length > 1]).toEqual([pattern, true]);
      return of.map((word) => pattern.replace("$", word)).filter((id) => !all.has(id));
    });
    expect(missing).toEqual([]);
  });
});

it("addresses nobody as a friend in one place and formally in the next: usted", () => {
  const familiar =
    /(?<![\p{L}])(tú|tu|tus|ti|contigo|eres|tienes|puedes|vienes|quieres|debes|estás|has|pregunta a|acércate|(?:intén|cópia|péga|míra|hazl|dil)(?:ta)?l[oa])(?![\p{L}])/iu;
  for (const area of areas) {
    const lines = read("es", area)
      .split("\n")
      .filter((line) => !line.startsWith("#"));
    expect(lines.filter((line) => familiar.test(line.replace(/^[\w-]+ = /, "")))).toEqual([]);
  }
});
