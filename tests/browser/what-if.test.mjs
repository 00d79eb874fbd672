// The desk of the manager: where the shop jams, what an hour there would do, and how it becomes so.
import assert from "node:assert/strict";
import { test } from "node:test";
import { browser, openAs, start, until } from "./support.mjs";
import { SIZES } from "./screens.mjs";

/** What the server has, by key. */
const held = (page) =>
  page.evaluate(async () => {
    const docs = {};
    for (let after = 0, more = true; more; ) {
      const pulled = await fetch(`/api/v1/sync/pull?after=${after}`).then((answer) => answer.json());
      for (const doc of pulled.docs) docs[doc.key] = doc.body;
      [after, more] = [pulled.to, pulled.more];
    }
    return docs;
  });

test("a manager finds where an hour helps most, looks at it and enters it", async () => {
  const server = await start("demo", { args: ["--date", "2026-11-25", "--seed", "1"] });
  const chrome = await browser();
  try {
    const link = Object.entries(server.links).find(([who]) => /manager/i.test(who))[1];
    const { page, errors } = await openAs(chrome, link, { viewport: SIZES.desktop });
    await page.goto(`${server.base}/shop/what-if`);
    await page.getByRole("button", { name: "Look where an hour helps most" }).click();
    const verdict = page.locator(".jam [aria-live] strong").first();
    await verdict.waitFor({ timeout: 120_000 });
    assert.match(await verdict.textContent(), /saves most|no single hour|No vehicle is late/);
    // Whether an hour helps depends on the minute; where none does, one is asked for by hand.
    const look = page.getByRole("button", { name: "Who gets earlier?" }).first();
    if (await look.count()) await look.click();
    else {
      await page.locator("#what-if-what").selectOption("extra_shift");
      await page.locator("#what-if-department").selectOption("body");
      await page.getByRole("button", { name: "Who gets later?" }).click();
    }
    await page.locator("#what-if-answer").waitFor({ timeout: 60_000 });
    const department = await page.locator("#what-if-department").inputValue();
    const day = await page.locator("#what-if-day").inputValue();
    const to = await page.locator("#what-if-to").inputValue();
    await page.getByRole("button", { name: "Enter the hours" }).click();
    await page.getByText("Entered. The order follows in a moment.").waitFor();
    const kept = await until("the longer day", async () => {
      const docs = await held(page);
      return docs[`calendar/${docs[`department/${department}`].calendar}`]?.days?.[day];
    });
    const [hours, minutes] = to.split(":").map(Number);
    assert.equal(kept?.at(-1).to, hours * 60 + minutes, JSON.stringify(kept));
    // An absence, too.
    await page.locator("#what-if-what").selectOption("away");
    await page.locator("#what-if-person").selectOption({ index: 1 });
    const person = await page.locator("#what-if-person").inputValue();
    await page.getByRole("button", { name: "Who gets later?" }).click();
    await page.getByRole("button", { name: "Enter the absence" }).click({ timeout: 60_000 });
    await page.getByText("Entered. The order follows in a moment.").waitFor();
    await until("the absence", async () => (await held(page))[`person/${person}`].away.length > 0);
    assert.deepEqual(errors, []);
  } finally {
    await chrome.close();
    server.stop();
  }
});
