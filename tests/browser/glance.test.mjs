// What a glance has to find, measured on the invented shop of a fixed day: rows on the first screen, words, the main button, what
// two panes show, and that nothing moves under a finger.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { Api, browser, openAs, start, touchSignIn, until } from "./support.mjs";

const SIZES = { small: [360, 640], phone: [390, 844], side: [844, 390], tablet: [768, 1024] };
const ROW_PX_MAX = 88;
const ROWS_MIN = 8;
const QUEUE_WORDS_MAX = 700;

let server, chrome, mechanic, technician, planner;

before(async () => {
  server = await start("demo", { args: ["--date", "2026-03-18"] });
  chrome = await browser();
  mechanic = await openAs(chrome, server.links["technician, mechanical"]);
  technician = await openAs(chrome, server.links["technician, body"]);
  planner = await Api.join(server.base, server.links.planner);
});
after(async () => {
  await chrome?.close();
  server?.stop();
});

const size = (page, name) => page.setViewportSize({ width: SIZES[name][0], height: SIZES[name][1] });

async function to(page, path) {
  await page.goto(server.base + path);
  await page.locator("main .line, main .lead, main .vehicle-head").first().waitFor();
}

/** Words that can be seen: a word has a letter; names for readers of the screen and what is folded do not count. */
const words = (page) =>
  page.evaluate(() => {
    const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    let [all, first] = [0, 0];
    while (texts.nextNode()) {
      const inside = texts.currentNode.parentElement;
      if (inside.closest(".visually-hidden, script, style, details:not([open]) > :not(summary)")) continue;
      const range = document.createRange();
      range.selectNodeContents(texts.currentNode);
      const box = range.getBoundingClientRect();
      if (!box.width) continue;
      const count = (texts.currentNode.data.match(/\S*\p{L}\S*/gu) ?? []).length;
      all += count;
      if (box.bottom <= innerHeight) first += count;
    }
    return { all, first };
  });

/** The lowest edge that is not covered by the way around. */
const usable = (page) =>
  page.evaluate(() => {
    const bar = document.querySelector("nav.bar").getBoundingClientRect();
    return bar.top > innerHeight / 2 ? bar.top : innerHeight;
  });

test("a row is two lines and its bar, and eight of them are on a phone's first screen", async () => {
  const { page } = mechanic;
  await size(page, "phone");
  await to(page, "/queue/body");
  await page.evaluate(() => document.querySelector(".line").scrollIntoView({ block: "start" }));
  const rows = await page.locator(".line").evaluateAll((all) => all.map((row) => row.getBoundingClientRect().height).filter(Boolean));
  assert.ok(rows.length > ROWS_MIN && Math.max(...rows) <= ROW_PX_MAX, `${rows}`);
  const bottom = await usable(page);
  const whole = await page.locator(".line").evaluateAll((all, below) => all.filter((row) => row.getBoundingClientRect().height && row.getBoundingClientRect().top >= 0 && row.getBoundingClientRect().bottom <= below).length, bottom);
  assert.ok(whole >= ROWS_MIN, `${whole} rows`);
  const { all } = await words(page);
  assert.ok(all <= QUEUE_WORDS_MAX, `${all} words`);
});

test("what can be taken is on the first screen, and so is the button", async () => {
  const { page } = mechanic;
  for (const path of ["/", "/queue/mechanical"])
    for (const name of Object.keys(SIZES)) {
      await size(page, name);
      await to(page, path);
      const take = await page.locator(path === "/" ? ".lead .button.main, .queue-first .button.main" : ".queue-first .button.main").first().boundingBox();
      assert.ok(take.y + take.height <= (await usable(page)), `${path} ${name}: ${take.y + take.height}`);
    }
});

test("the main button of running work is on every first screen, also with letters twice as large", async () => {
  const { page } = technician;
  for (const name of Object.keys(SIZES)) {
    await size(page, name);
    for (const percent of [100, 200]) {
      await to(page, "/");
      await page.evaluate((share) => (document.documentElement.style.fontSize = `${share}%`), percent);
      const main = await page.locator(".lead .button.main").boundingBox();
      assert.ok(main.y + main.height <= (await usable(page)), `${name} ${percent} %: ${main.y + main.height} of ${await usable(page)}`);
    }
  }
  await size(page, "phone");
});

test("whoever waits for a vehicle sees when it comes without touching anything", async () => {
  const { page } = technician;
  await size(page, "phone");
  await to(page, "/");
  const times = await page.locator(".loop .points li span").allTextContents();
  assert.ok(times.some((text) => /\d/.test(text)), `${times}`);
});

test("where there is room, the list stays beside the vehicle, and nothing is wider than the screen", async () => {
  const { page } = mechanic;
  for (const name of ["side", "tablet"]) {
    await size(page, name);
    await to(page, "/queue/mechanical");
    await page.locator(".queue-first a").first().click();
    await page.locator(".panes .pane .queue-first").waitFor();
    await page.locator(".panes .page.vehicle").waitFor();
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), name);
  }
  await size(page, "phone");
  await page.locator(".pane").waitFor({ state: "detached" });
});

test("while a finger is on a row, other orders of the plan leave it where it is", async () => {
  const { page } = mechanic;
  await size(page, "phone");
  await to(page, "/queue/body");
  // A browser without scroll anchoring has only what the app does.
  await page.evaluate(() => (document.documentElement.style.overflowAnchor = "none"));
  const line = page.locator(".line").nth(4);
  const box = await line.boundingBox();
  const under = () => page.evaluate(([x, y]) => document.elementFromPoint(x, y).closest(".line")?.querySelector("strong").textContent, [box.x + 60, box.y + box.height / 2]);
  const number = await under();
  await page.mouse.move(box.x + 60, box.y + box.height / 2);
  await page.mouse.down();
  const { plan } = await planner.pull();
  const waiting = plan.rows.filter((row) => row.department === "body" && row.place > 6).slice(0, 5);
  for (const [i, row] of waiting.entries()) {
    await planner.act("put_first", { card: row.card, reason: "the customer waits here", until: plan.at_time + 86_400_000 });
    await until("the phone to know", async () => (await planner.pull()).plan.rev !== plan.rev);
    await page.mouse.move(box.x + 60 + i, box.y + box.height / 2);
    await page.waitForTimeout(2_300);
    assert.equal(await under(), number, "the row under the finger");
  }
  await page.getByRole("button", { name: "Order changed: show" }).waitFor();
  await page.mouse.up();
  await page.keyboard.press("Escape");
  await until("the new order", async () => (await page.locator(".line strong").first().textContent()) !== number);
});

test("an empty shop says in five lines what it needs, and each ticks itself", async () => {
  const empty = await start("serve");
  try {
    const { page } = await openAs(chrome, empty.links.admin);
    const steps = page.locator(".begin li");
    await steps.first().waitFor();
    assert.equal(await steps.count(), 5);
    const done = page.locator(".begin li", { hasText: "done" });
    assert.equal(await done.count(), 0);
    await page.getByRole("link", { name: "Lifts, benches and booths" }).click();
    await page.locator(".page.setup").waitFor();
    await page.locator('nav.bar a[href="/"]').click();
    await until("the equipment to be ticked", async () => (await done.count()) === 1);
    await page.getByRole("link", { name: "The repair orders that are open now" }).click();
    await page.getByLabel("Number", { exact: true }).fill("2041");
    await page.getByLabel("Color").selectOption({ label: "grey" });
    await page.getByLabel("Shape").selectOption({ label: "wagon" });
    assert.equal(await page.getByLabel("Vehicle", { exact: true }).inputValue(), "grey wagon");
    await page.locator('form button[type="submit"]').click();
    await page.locator(".page.vehicle").waitFor();
    await page.locator('nav.bar a[href="/"]').click();
    await until("the first order to be ticked", async () => (await done.count()) === 2);
  } finally {
    empty.stop();
  }
});

test("whose vehicle is up is called once, with a pulse and a number on the icon", async () => {
  const shop = await start("serve");
  try {
    const admin = await Api.join(shop.base, shop.links.admin);
    const [body, lift] = [await admin.person("Tomas Okafor", "body", "technician"), await admin.person("Ada Lind", "mechanical", "technician")];
    const context = await chrome.newContext({ viewport: { width: 390, height: 844 }, locale: "en-US" });
    await context.addInitScript(() => {
      globalThis.calls = [];
      globalThis.badge = undefined;
      navigator.vibrate = (pulses) => globalThis.calls.push(pulses.length);
      navigator.setAppBadge = async (count) => void (globalThis.badge = count);
    });
    const page = await context.newPage();
    await page.goto(body.link);
    await touchSignIn(page);
    await page.locator("nav.bar").waitFor();
    const { link } = await admin.post("/api/v1/auth/invite", { person: body.id });
    const [asker, mechanic] = [await Api.join(shop.base, link), await Api.join(shop.base, lift.link)];
    const order = await admin.act("open_order", { number: "2041", vehicle: "grey wagon", stage: "authorised" });
    const seal = await asker.act("add_card", { order, department: "body", title: { text: "Seal seam" }, planned_minutes: 40 });
    await asker.act("ask", { order, routing: "suspension-down-rear", from: "body", for_card: seal, condition: { rolls: true } });
    const { docs } = await mechanic.pull();
    const drop = Object.values(docs).find((doc) => doc.order === order && doc.opens)?.id;
    await mechanic.act("take", { card: drop });
    await until("the number on the icon", () => page.evaluate(() => globalThis.badge === 1));
    assert.deepEqual(await page.evaluate(() => globalThis.calls), [], "that it is taken calls nobody");
    await mechanic.act("start", { card: drop });
    await mechanic.act("finish", { card: drop });
    await until("the call", () => page.evaluate(() => globalThis.calls.length > 0));
    await page.locator('nav.bar a[href="/me"]').click();
    await page.getByRole("radio", { name: "Neither" }).check({ force: true });
    await page.reload();
    assert.ok(await page.getByRole("radio", { name: "Neither" }).isChecked(), "kept on this browser");
    assert.deepEqual(await page.evaluate(() => globalThis.calls), [], "and not called again by opening the app");
  } finally {
    shop.stop();
  }
});

test("a vehicle's buttons for running work are on its first screen, on the smallest phone and with letters twice as large", async () => {
  const { page } = technician;
  for (const [name, percent] of [["small", 100], ["phone", 100], ["phone", 200], ["small", 200]]) {
    await size(page, name);
    await to(page, "/");
    await page.locator(".lead a.row").first().click();
    await page.locator(".vehicle .first-act .begin-end").waitFor();
    await page.evaluate((share) => (document.documentElement.style.fontSize = `${share}%`), percent);
    const main = await page.locator(".vehicle .first-act .begin-end .button.main").boundingBox();
    assert.ok(main.y + main.height <= (await usable(page)), `${name} ${percent} %: ${main.y + main.height} of ${await usable(page)}`);
  }
  await size(page, "phone");
});
