// By touch, half of the time without a network: keys said to be back of the wrong car, an ask that only joined
// another's, and open orders brought over with another program's words. In both languages, each looked at.
import assert from "node:assert/strict";
import { mkdirSync } from "node:fs";
import { after, before, test } from "node:test";
import { Api, OUT, away, browser, openAs, start, until } from "./support.mjs";

let server, chrome, admin;

before(async () => {
  mkdirSync(OUT, { recursive: true });
  server = await start("serve");
  admin = await Api.join(server.base, server.links.admin);
  chrome = await browser();
});

after(async () => {
  await chrome?.close();
  server?.stop();
});

const invite = async (person) => (await admin.post("/api/v1/auth/invite", { person: person.id })).link;
const touch = { hasTouch: true, isMobile: true };
const doc = async (kind, id) => (await admin.pull()).docs[`${kind}/${id}`];
const tap = (where, name) => where.getByRole("button", { name, exact: true }).first().tap();

/** On a phone and on a desk, by day and by night. */
async function look(page, name) {
  for (const [size, viewport] of [["phone", { width: 390, height: 844 }], ["desktop", { width: 1440, height: 900 }]]) {
    for (const colorScheme of ["light", "dark"]) {
      await page.setViewportSize(viewport);
      await page.emulateMedia({ colorScheme });
      await page.screenshot({ path: `${OUT}/edges-${name}-${size}-${colorScheme}.png` });
    }
  }
  const wide = await page.evaluate(() => document.documentElement.scrollWidth > document.documentElement.clientWidth);
  assert.ok(!wide, `${name}: nothing sticks out`);
  await page.setViewportSize({ width: 390, height: 844 });
  await page.emulateMedia({ colorScheme: "light" });
}

const WORDS = {
  en: { stage: "Keys and stage", ready: "Ready", back: "Keys back", why: "Why (everybody reads it)", not: "The keys are not back", again: "is here again" },
  es: { stage: "Llaves y etapa", ready: "Listo", back: "Llaves devueltas", why: "Por qué (todos lo leen)", not: "Las llaves no se devolvieron", again: "está aquí otra vez" },
};

for (const language of ["en", "es"]) {
  const w = WORDS[language];

  test(`keys said to be back of the wrong car (${language})`, { timeout: 120_000 }, async () => {
    const planner = await admin.person(`Greta Amsel ${language}`, "office", "planner", language);
    const order = await admin.act("open_order", { number: `40${language}`, vehicle: "grey wagon", stage: "authorised" });
    const { page, context, errors } = await openAs(chrome, planner.link, touch);
    await page.goto(`${server.base}/vehicle/${order}`);
    await tap(page.locator("main"), w.stage);
    await tap(page.locator("dialog"), w.ready);
    await page.locator("dialog[open]").waitFor({ state: "hidden" });
    await until("ready", async () => (await doc("order", order)).stage === "ready");
    await page.waitForTimeout(800); // Nothing acts within 700 ms of coming to be there.
    await tap(page.locator("main"), w.stage);
    await page.waitForTimeout(800);
    await tap(page.locator("dialog"), w.back);
    await until("delivered", async () => (await doc("order", order)).stage === "delivered");
    // It was the other grey wagon; the wireless is gone.
    await context.setOffline(true);
    await page.waitForTimeout(800);
    await tap(page.locator("main"), w.stage);
    const sheet = page.locator("dialog[open]");
    await sheet.getByLabel(w.why).fill("el otro vagón / the other wagon");
    await look(page, `not-back-${language}`);
    await page.waitForTimeout(800);
    await tap(sheet, w.not);
    await page.getByText(w.again).first().waitFor();
    await page.getByText("el otro vagón / the other wagon").first().waitFor();
    await look(page, `back-again-${language}`);
    assert.equal((await doc("order", order)).stage, "delivered", "the server has not heard of it");
    await context.setOffline(false);
    await until("taken back", async () => (await doc("order", order)).stage === "ready");
    assert.equal((await doc("order", order)).taken_back[0].reason, "el otro vagón / the other wagon");
    assert.deepEqual(errors, []);
    await context.close();
  });

  test(`open orders with another program's words (${language})`, { timeout: 120_000 }, async () => {
    const planner = await admin.person(`Jonas Ried ${language}`, "office", "planner", language);
    const { page, context, errors } = await openAs(chrome, planner.link, touch);
    await page.goto(`${server.base}/setup/import`);
    const words = ["Body", "Paint", "Waiting parts"];
    const lines = Array.from({ length: 40 }, (_, n) => `${language}-${500 + n},red hatch,${words[n % 3]},2027-03-${String(1 + (n % 27)).padStart(2, "0")}`);
    await page.locator("#import-text").fill(["RO,Vehicle,Status,Promise", ...lines].join("\n"));
    await page.locator(".setup-form > .buttons .button").first().tap();
    await page.locator(".columns-map").first().waitFor();
    await look(page, `import-${language}`);
    const word = page.locator(".columns-map").first().locator("select");
    await page.locator("h3").nth(0).scrollIntoViewIfNeeded();
    await look(page, `import-words-${language}`);
    assert.equal(await word.count(), 3, "each unknown word is asked about once");
    for (let n = 0; n < 3; n += 1) {
      await word.nth(n).selectOption("authorised");
      await page.waitForTimeout(300);
    }
    await page.locator(".setup-form > .button.main").scrollIntoViewIfNeeded();
    await look(page, `import-result-${language}`);
    await page.waitForTimeout(800);
    await page.locator(".setup-form > .button.main").tap();
    await page.locator("p.notice-line[role=status]").waitFor();
    await look(page, `import-made-${language}`);
    const mine = Object.entries((await admin.pull()).docs).filter(([key, body]) => key.startsWith("order/") && body?.number.startsWith(`${language}-`));
    assert.equal(mine.length, 40, "all of them, closed days included");
    assert.deepEqual(errors, []);
    await context.close();
  });
}

test("an ask that only joined another's is called off without a network", { timeout: 120_000 }, async () => {
  const tomas = await admin.person("Tomas Okafor", "body", "technician");
  const order = await admin.act("open_order", { number: "4100", vehicle: "green pickup", stage: "authorised" });
  const add = (title) => admin.act("add_card", { order, department: "body", title: { text: title }, planned_minutes: 30, after: [] });
  const [seal, bracket] = [await add("Seal seam"), await add("Bracket")];
  await admin.act("ask", { order, routing: "suspension-down-rear", from: "body", for_card: seal });
  const { page, context, errors } = await openAs(chrome, tomas.link, touch);
  const api = await Api.join(server.base, await invite(tomas));
  const handoff = await api.act("ask", { order, routing: "suspension-down-rear", from: "body", for_card: bracket });
  assert.equal((await doc("card", bracket)).inside, "suspension-down-rear");
  await page.goto(`${server.base}/vehicle/${order}`);
  const ask = page.locator("li", { hasText: "Bracket" }).filter({ has: page.getByRole("button", { name: "Call it off" }) }).last();
  await ask.waitFor();
  await away(page);
  await ask.scrollIntoViewIfNeeded();
  await look(page, "joined");
  await page.waitForTimeout(800);
  await ask.getByRole("button", { name: "Call it off" }).tap();
  await page.getByText("Called off; what others asked for stays.").first().waitFor();
  await context.setOffline(false);
  await until("called off", async () => (await doc("handoff", handoff)).life === "cancelled");
  assert.equal((await doc("card", bracket)).inside ?? null, null);
  assert.deepEqual(errors, []);
  await context.close();
});
