// What the server's document says of limits (`x-limits`), as constants for the app: `npm run api`.
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";

/** @param {string} path */
const read = (path) => readFileSync(join(import.meta.dirname, path), "utf8");

const from =
  "// Made from the server's document by `npm run api`; the reasons stand in server/domain/src/decide/limits.rs.";

/** What the core reads, and with it the first screen: apart, so that the first load carries no more of it. */
const OF_THE_CORE = ["roles", "title_chars_max"];

/** The files by their names. */
export function made() {
  const limits = JSON.parse(read("../../tests/http/openapi.json"))["x-limits"];
  /** @param {boolean} core */
  const lines = (core) =>
    Object.entries(limits)
      .filter(([name]) => OF_THE_CORE.includes(name) === core)
      .map(([name, value]) => {
        const is = Array.isArray(value) ? `${JSON.stringify(value).replaceAll(",", ", ")} as const` : String(value);
        return `export const ${name.toUpperCase()} = ${is};`;
      });
  return {
    "core-limits.ts": [from, ...lines(true), ""].join("\n"),
    "limits.ts": [from, ...lines(false), 'export * from "./core-limits";', ""].join("\n"),
  };
}

if (process.argv[1] === import.meta.filename) {
  for (const [name, text] of Object.entries(made())) writeFileSync(join(import.meta.dirname, "../src/api", name), text);
}
