// Every screen, in the hand: no sideways scrolling, no error, nothing axe finds (WCAG 2.2 A and AA), both themes, both languages.
import { AxeBuilder } from "@axe-core/playwright";
import assert from "node:assert/strict";
import { test } from "node:test";
import { eachScreen } from "./screens.mjs";

for (const look of [
  { size: "phone", theme: "light", language: "en" },
  { size: "phone", theme: "dark", language: "es" },
  { size: "desktop", theme: "dark", language: "en" },
]) {
  test(`screens: ${Object.values(look).join(", ")}`, { timeout: 240_000 }, async () => {
    const wrong = [];
    await eachScreen(look, async (name, page, errors) => {
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      if (wide > 0) wrong.push(`${name}: ${wide} px wider than the screen`);
      const { violations } = await new AxeBuilder({ page }).withTags(["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]).analyze();
      for (const one of violations) wrong.push(`${name}: ${one.id} at ${one.nodes[0].target}`);
      wrong.push(...errors.splice(0).map((error) => `${name}: ${error}`));
    });
    assert.deepEqual(wrong, []);
  });
}
