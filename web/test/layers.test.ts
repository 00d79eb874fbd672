// Rooms of src and the arrows between them (layers.js). ESLint says where an arrow is refused; here it is
// counted what all of them come to.
import { readdirSync, readFileSync } from "node:fs";
import { dirname, join, relative } from "node:path";
import { expect, it } from "vitest";
import { MAY, refused, roomOf, SCREENS } from "../layers.js";

const src = join(import.meta.dirname, "../src");
const files = readdirSync(src, { recursive: true, encoding: "utf8" })
  .filter((name) => /\.tsx?$/.test(name) && !name.includes(".test.") && !name.startsWith("api/schema"))
  .map((name) => join(src, name));

/** What a file imports of ours, also when it is asked for, also types alone. */
function imports(file: string): string[] {
  const text = readFileSync(file, "utf8");
  return [...text.matchAll(/\b(?:from|import)\s*\(?\s*"(\.[^"?]*)"/g)].map((found) => found[1] ?? "");
}

function target(file: string, what: string): string | undefined {
  const bare = join(dirname(file), what);
  return ["", ".ts", ".tsx", "/index.ts", "/index.tsx"].map((end) => bare + end).find((path) => files.includes(path));
}

const arrows = files.flatMap((file) => imports(file).map((what) => ({ file, what, to: target(file, what) })));
const short = (path: string): string => relative(src, path);

/** Groups of files that import each other, straight or by way of others (Tarjan, 1972). */
function circles(): string[][] {
  const next = new Map(
    files.map((file) => [file, arrows.flatMap((one) => (one.file === file && one.to ? [one.to] : []))]),
  );
  const index = new Map<string, number>();
  const low = new Map<string, number>();
  const open: string[] = [];
  const found: string[][] = [];
  const visit = (file: string): void => {
    index.set(file, index.size);
    low.set(file, index.get(file) ?? 0);
    open.push(file);
    for (const to of next.get(file) ?? []) {
      if (!index.has(to)) visit(to);
      if (open.includes(to)) low.set(file, Math.min(low.get(file) ?? 0, low.get(to) ?? 0));
    }
    if (low.get(file) !== index.get(file)) return;
    const circle = open.splice(open.indexOf(file)).map(short).sort();
    if (circle.length > 1) found.push(circle);
  };
  for (const file of files) if (!index.has(file)) visit(file);
  return found;
}

it("reads the imports that are there", () => {
  expect(arrows.length).toBeGreaterThan(600);
  expect(new Set(files.map((file) => roomOf(file)))).toEqual(new Set([...Object.keys(MAY), "env.d"]));
});

it("has no arrow between screens, nor another that is not in the table", () => {
  const between = arrows.filter(
    ({ file, to }) =>
      to && roomOf(file) !== roomOf(to) && SCREENS.includes(roomOf(file) ?? "") && SCREENS.includes(roomOf(to) ?? ""),
  );
  expect(between.map(({ file, to }) => `${short(file)} → ${short(to ?? "")}`)).toEqual([]);
  expect(arrows.flatMap(({ file, what }) => refused(file, what) ?? [])).toEqual([]);
});

it("has no circle but the one of acts that are part of other acts", () => {
  expect(circles()).toEqual([["core/ask.ts", "core/open-order.ts", "core/overlay.ts", "core/stop.ts"]]);
});

it("refuses what it should", () => {
  expect(refused(join(src, "ui/desk/jam.tsx"), "../floor/row")).toBe("ui/desk does not import ui/floor (layers.js)");
  expect(refused(join(src, "text/names.ts"), "../state")).toBe("text does not import state (layers.js)");
  expect(refused(join(src, "ui/desk/jam.tsx"), "../kit/print")).toBeUndefined();
});
