// The screen on the wall, on the demo of a fixed day: read from three metres, so large letters and few words; nothing turns
// pages, and whatever is late is there.
import { AxeBuilder } from "@axe-core/playwright";
import assert from "node:assert/strict";
import { mkdirSync } from "node:fs";
import { after, before, test } from "node:test";
import { cutIn, planned, smallestIn, wordsIn } from "./looks.mjs";
import { onWall, wallLink } from "./screens.mjs";
import { browser, OUT, start } from "./support.mjs";

let server, chrome;
before(async () => {
  mkdirSync(OUT, { recursive: true });
  server = await start("demo", { args: ["--date", "2026-11-25", "--seed", "1"] });
  chrome = await browser();
});
after(async () => {
  await chrome?.close();
  server?.stop();
});

const link = (who) => Object.entries(server.links).find(([key]) => key.endsWith(who))[1];
const shown = (page) => page.locator(".trouble[data-order]").evaluateAll((all) => all.map((one) => ({ number: one.dataset.order, late: one.dataset.late !== undefined })));

test("large letters, few words, all that is late, in every shape of screen and both languages", { timeout: 180_000 }, async () => {
  const signed = await wallLink(chrome, link("manager"));
  const { page, errors } = await onWall(chrome, signed, { viewport: { width: 1920, height: 1080 }, reducedMotion: "reduce" });
  for (const language of ["en", "es"]) {
    await page.evaluate((chosen) => localStorage.setItem("language", chosen), language);
    await page.goto(server.base);
    await page.locator(".trouble-band .sure").first().waitFor({ state: "attached" });
    const late = (await planned(page)).filter((one) => one.late).map((one) => one.number);
    assert.ok(late.length > 1, "something is late");
    for (const [width, height] of [
      [1920, 1080],
      [3840, 2160],
      [1080, 1920],
    ]) {
      const where = `${width}x${height}, ${language}`;
      await page.setViewportSize({ width, height });
      await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
      const [words, least] = [await wordsIn(page, "body"), await smallestIn(page)];
      console.log(`wall ${where}: ${words} words, ${((least.size / width) * 100).toFixed(2)} % “${least.text}”`);
      assert.ok(words <= 120, `${where}: ${words} words`);
      assert.ok(least.size >= width * 0.024, `${where}: ${least.text} has ${least.size} px`);
      const there = await shown(page);
      for (const number of late) assert.ok(there.some((one) => one.number === number), `${where}: ${number} is not there`);
      assert.deepEqual(await cutIn(page, ".trouble[data-order], .trouble .bound, .strip, .strip-name, .next-row, .wall-head > *"), [], where);
      // A number stands on one line.
      const broken = await page.locator(".next-row b, .trouble-number, .strip-who b, .strip-next").evaluateAll((all) => all.filter((one) => one.offsetHeight > parseFloat(getComputedStyle(one).fontSize) * 1.7).map((one) => one.textContent));
      assert.deepEqual(broken, [], where);
      await page.screenshot({ path: `${OUT}wall-${width}-${language}.png` });
    }
    const { violations } = await new AxeBuilder({ page }).withTags(["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]).analyze();
    assert.deepEqual(violations.map(({ id, nodes }) => `${id}: ${nodes.map((one) => one.target).join("; ")}`), []);
  }
  // Nothing turns: what is there stays there.
  const before = await shown(page);
  await page.clock.install();
  await page.clock.fastForward(13_000);
  assert.deepEqual((await shown(page)).slice(0, 3), before.slice(0, 3));
  assert.deepEqual(errors, []);
});
