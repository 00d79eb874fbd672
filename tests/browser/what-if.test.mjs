// The desk of the manager: where the shop jams, what an hour there would do, and how it becomes so.
import assert from "node:assert/strict";
import { test } from "node:test";
import { Api, OUT, browser, openAs, start, until } from "./support.mjs";
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

test("a vehicle that blocks the lift is closed up so that it rolls: looked at first, then two cards", async () => {
  const server = await start("serve");
  const chrome = await browser();
  try {
    const admin = await Api.join(server.base, server.links.admin);
    const manager = await admin.person("Mara Lindqvist", "assembly", "manager");
    await admin.person("Tomas Okafor", "body", "technician");
    await admin.person("Ines Duarte", "mechanical", "technician");
    const { docs } = await admin.pull();
    await admin.act("set_equipment", { equipment: { ...docs["equipment/lift-2"], retired: true } });
    const order = await admin.act("open_order", { number: "2041", vehicle: "grey wagon", stage: "authorised" });
    const card = (department, title, more, before) =>
      admin.act("add_card", { order, department, title: { text: title }, planned_minutes: 60, after: before ? [{ card: before }] : [], ...more });
    const down = "suspension-down-rear";
    const drop = await card("mechanical", "Take it down", { equipment: "lift", opens: down });
    const seal = await card("body", "Seal the seam", { inside: down }, drop);
    const refit = await card("mechanical", "Refit it", { equipment: "lift", closes: down }, seal);
    await admin.act("finish", { card: drop });
    await admin.act("hold", { order, what: "parts", due: Date.now() + 5 * 86_400_000 });
    const other = await admin.act("open_order", { number: "2042", vehicle: "red pickup", stage: "authorised" });
    await admin.act("add_card", { order: other, department: "mechanical", title: { text: "Drain the tank" }, planned_minutes: 120, equipment: "lift" });

    const { page, errors } = await openAs(chrome, manager.link, { viewport: SIZES.desktop });
    await page.goto(`${server.base}/shop`);
    await page.getByRole("link", { name: "Try: close up to roll" }).click();
    await page.getByRole("heading", { name: "If 2041 is closed so that it rolls (suspension down, rear)" }).waitFor();
    await page.locator("tr", { hasText: "2042" }).getByText("earlier").waitFor();
    await page.screenshot({ path: `${OUT}close-up.png`, fullPage: true });
    await page.getByRole("button", { name: "Close it, and open it again later" }).click();
    await page.getByText("Entered. The order follows in a moment.").waitFor();
    const made = await until("both cards", async () => {
      const all = Object.values((await admin.pull()).docs).filter((one) => one?.order === order && one.planned_minutes && ![drop, seal, refit].includes(one.id));
      return all.length === 2 && all;
    });
    const [close, reopen] = ["closes", "opens"].map((does) => made.find((one) => one[does] === down));
    assert.deepEqual(reopen.after.map((link) => link.card), [close.id]);
    assert.ok((await admin.pull()).docs[`card/${seal}`].after.some((link) => link.card === reopen.id));
    // The vehicle waits as a whole, and is closed all the same; then nothing blocks the lift and nothing is forgotten.
    await admin.act("finish", { card: close.id });
    const after = (await admin.pull()).docs;
    assert.deepEqual(after[`order/${order}`].open, []);
    assert.deepEqual(Object.keys(after).filter((key) => key.startsWith("exception/")), []);
    assert.deepEqual(errors, []);
  } finally {
    await chrome.close();
    server.stop();
  }
});
