// Nothing axe-core finds on any screen, by its rules for WCAG 2.0, 2.1 and 2.2, levels A and AA (W3C).
import { AxeBuilder } from "@axe-core/playwright";
import assert from "node:assert/strict";
import { test } from "node:test";
import { eachScreen, SCREENS } from "./screens.mjs";

const RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];
/** In Spanish the words are longer: the screens with most of them in little room. */
const SPANISH = SCREENS.filter(([name]) => ["vehicle", "queue", "setup-people"].includes(name));

for (const [size, language, screens] of [
  ["phone", "en", SCREENS],
  ["desktop", "en", SCREENS],
  ["phone", "es", SPANISH],
]) {
  test(`axe: ${size}, ${language}, light and dark`, { timeout: 300_000 }, async () => {
    const wrong = [];
    let looked = 0;
    await eachScreen(
      { size, language },
      async (name, theme, page) => {
        const { violations, passes } = await new AxeBuilder({ page }).withTags(RULES).analyze();
        looked += Number(passes.length > 0);
        for (const { id, nodes } of violations) wrong.push(`${name}, ${theme}: ${id} at ${nodes.map((one) => one.target).join("; ")}`);
      },
      screens,
    );
    assert.deepEqual(wrong, []);
    assert.equal(looked, screens.length * 2);
  });
}
