// A finger that taps twice does one thing: whatever comes to lie under it does nothing for a moment.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { button, chooseWhat, docsOf, stored, toVehicle } from "./phone.mjs";
import { Api, browser, openAs, start, until } from "./support.mjs";

/** Between the taps of an impatient finger. */
const BETWEEN_MS = 150;

let server, chrome, planner, phone, order;

before(async () => {
  server = await start("serve");
  chrome = await browser();
  planner = await Api.join(server.base, server.links.admin);
  const one = await planner.person("Tomas Okafor", "body", "technician");
  order = await planner.act("open_order", { number: "2041", vehicle: "grey wagon", stage: "authorised" });
  for (const title of ["Pull rail", "Weld rail", "Dress rail"]) {
    await planner.act("add_card", { order, department: "body", title: { text: title }, planned_minutes: 90 });
  }
  phone = await openAs(chrome, one.link);
});
after(async () => {
  await chrome?.close();
  server?.stop();
});

/** Kinds of what this phone has done, oldest first. */
async function acts() {
  const { outbox, journal } = await stored(phone.page);
  const all = new Map([...journal, ...outbox].map((row) => [row.n, row.op.kind]));
  return [...all].sort(([a], [b]) => a - b).map(([, kind]) => kind);
}

/** Taps the middle of it twice, wherever the second tap lands; returns where. */
async function twice(of) {
  await of.click({ trial: true });
  const box = await of.boundingBox();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await phone.page.mouse.click(x, y);
  await new Promise((resolve) => setTimeout(resolve, BETWEEN_MS));
  await phone.page.mouse.click(x, y);
  return box;
}

const overlap = (a, b) => a.x < b.x + b.width && b.x < a.x + a.width;

test("taking, beginning, ending and asking twice is doing it once", async () => {
  const { page } = phone;
  const main = page.locator("main");
  await page.locator('nav.bar a[href="/queue/body"]').click();
  await page.locator(".queue-first").waitFor();
  await twice(button(main, /^Take/));
  await until("it to be taken", async () => (await acts()).length > 0);
  assert.deepEqual(await acts(), ["take"], "the next vehicle of the queue came up under the finger");

  await page.locator('nav.bar a[href="/"]').click();
  const begin = await twice(button(main, "Start"));
  await button(main, "Finish").click({ trial: true });
  assert.deepEqual(await acts(), ["take", "start"]);
  const end = await button(main, "Finish").boundingBox();
  assert.ok(!overlap(begin, end), `${JSON.stringify(begin)} and ${JSON.stringify(end)} have a spot in common`);
  await page.screenshot({ path: new URL("out/working.png", import.meta.url).pathname });

  // By keys: what has the focus after the first press is not what was meant.
  await button(main, "Pause").focus();
  await page.keyboard.press("Enter");
  await page.locator("dialog[open]").waitFor();
  await page.keyboard.press("Tab");
  await page.keyboard.press("Enter");
  await page.locator("dialog[open]").getByRole("button", { name: "Close" }).click();
  assert.deepEqual(await acts(), ["take", "start"], "a key that bounced paused the work");

  await twice(button(main, "Finish"));
  await until("it to be finished", async () => (await acts()).length > 2);
  await button(main, /^Take/).click({ trial: true });
  assert.deepEqual(await acts(), ["take", "start", "finish"]);
});

test("asking twice asks once", async () => {
  const { page } = phone;
  await toVehicle(page, order);
  const before = await acts();
  await button(page, "Need something …").click();
  await chooseWhat(page, /^Suspension down, rear/);
  await twice(button(page.locator("dialog"), "Ask"));
  await page.locator("dialog[open]").waitFor({ state: "hidden" });
  await until("the ask to be kept", async () => (await acts()).length > before.length);
  await button(page, "Need something …").click({ trial: true });
  assert.deepEqual((await acts()).slice(before.length), ["ask"]);
  await until("the ask to arrive", async () => docsOf(await planner.pull(), "handoff").length > 0);
  assert.equal(docsOf(await planner.pull(), "handoff").length, 1);
  assert.deepEqual(phone.errors, []);
});
