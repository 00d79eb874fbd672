// The types are the server's: made from its document, and made anew when that changes (`npm run api`).
import { readFileSync } from "node:fs";
import { join } from "node:path";
import openapiTS, { astToString } from "openapi-typescript";
import { expect, it } from "vitest";

it("src/api/schema.d.ts is what the server's document says", async () => {
  const document = readFileSync(join(import.meta.dirname, "../../tests/http/openapi.json"), "utf8");
  const made = astToString(await openapiTS(document));
  const kept = readFileSync(join(import.meta.dirname, "../src/api/schema.d.ts"), "utf8");
  expect(kept.slice(kept.indexOf("export interface paths")).trim()).toBe(
    made.slice(made.indexOf("export interface paths")).trim(),
  );
}, 30_000);
