// Asking by touch: how many taps, how many words, whether Ask is in reach; what the answer says and how an ask is
// taken back; that nothing chosen or typed is lost.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { chooseWhat, docsOf, smallPicture, toVehicle } from "./phone.mjs";
import { letters, linkOf, seenWhole, tooWide, wordsSeen } from "./seen.mjs";
import { Api, browser, openAs, start, until } from "./support.mjs";

const TAPS_MAX = 5;
const WORDS_MAX = 60;
const SIZES = [[390, 844], [360, 640], [844, 390]];
const WORDS = {
  en: { ask: "Ask", more: /^Others/, remove: "Remove", album: "Album", undo: "Undo" },
  es: { ask: "Pedir", more: /^Otros/, remove: "Quitar", album: "Álbum", undo: "Deshacer" },
};

let server, chrome, admin;

before(async () => {
  server = await start("demo", { args: ["--date", "2026-11-25", "--seed", "1"] });
  chrome = await browser();
  admin = await Api.join(server.base, linkOf(server, "admin"));
});

after(async () => {
  await chrome?.close();
  server?.stop();
});

let count = 0;
/** A vehicle of its own, and somebody of the body shop who has it before them. */
async function atVehicle(language = "en", viewport = { width: 390, height: 844 }, large = false) {
  const number = `77${++count + 100}`;
  const order = await admin.act("open_order", { number, vehicle: "grey wagon", stage: "authorised" });
  const { link } = await admin.person(`Ada Quill ${count}`, "body", "technician", language);
  const phone = await openAs(chrome, link, { viewport, hasTouch: true, reducedMotion: "reduce" });
  await phone.page.evaluate((chosen) => localStorage.setItem("language", chosen), language);
  await phone.page.goto(`${server.base}/vehicles`);
  await letters(phone.page, large);
  await toVehicle(phone.page, order);
  return { ...phone, order, number };
}
const asksOf = async (order) => docsOf(await admin.pull(), "handoff").filter((one) => one.order === order);

for (const language of ["en", "es"]) {
  for (const [width, height] of SIZES) {
    for (const large of [false, true]) {
      const look = `${language} ${width} × ${height}${large ? ", letters of twice the size" : ""}`;
      test(`asking with a photo takes few taps and few words: ${look}`, { timeout: 120_000 }, async () => {
        const { page, order, errors, context } = await atVehicle(language, { width, height }, large);
        const w = WORDS[language];
        const sheet = page.locator("dialog[open]");
        let taps = 0;
        const tap = (of) => (taps++, of.tap());
        await tap(page.locator("button.need"));
        await sheet.locator(".ask-what").first().waitFor();
        assert.equal(await sheet.locator(".ask-what").count(), 4);
        assert.equal(await sheet.locator(".ask-what svg .heavy").count(), 4, "each has a mark that is drawn");
        assert.ok((await wordsSeen(page, "dialog")) <= WORDS_MAX);
        assert.equal(await tooWide(page), 0);
        await tap(sheet.locator(".ask-what").first());
        const ask = sheet.getByRole("button", { name: w.ask, exact: true });
        await ask.waitFor();
        assert.ok(await seenWhole(ask), "Ask is on the first screen");
        const words = await wordsSeen(page, "dialog");
        assert.ok(words <= WORDS_MAX, `${words} words`);
        assert.equal(await tooWide(page), 0);
        const chooser = page.waitForEvent("filechooser");
        await tap(sheet.locator("label.camera").first());
        await (await chooser).setFiles(await smallPicture(page, "#446622"));
        await sheet.locator(".ask-taken img").waitFor();
        const box = await sheet.locator(".ask-taken img").boundingBox();
        assert.ok(box.width >= 0.8 * Math.min(width, 600), `the photo is ${box.width} px wide`);
        assert.ok(await seenWhole(ask), "Ask is on the first screen with a photo too");
        assert.ok((await wordsSeen(page, "dialog")) <= WORDS_MAX);
        await tap(ask);
        await sheet.waitFor({ state: "hidden" });
        assert.ok(taps <= TAPS_MAX, `${taps} taps`);
        const [one] = await until("the ask", async () => (await asksOf(order)).length && asksOf(order));
        await until("its photo", async () => docsOf(await admin.pull(), "photo").some((photo) => photo.handoff === one.id));
        assert.deepEqual(errors, []);
        await context.close();
      });
    }
  }
}

test("the answer says at what, at which place and when, and for a while it can be taken back", { timeout: 120_000 }, async () => {
  const { page, order, context } = await atVehicle();
  await page.locator("button.need").tap();
  await chooseWhat(page, /^Suspension down, rear/);
  await page.locator("dialog .stick").tap();
  const said = page.locator(".said-line");
  await said.getByText(/^Lift \d, place \d+, about (\w+ )*\d\d?:\d\d/).waitFor();
  // Whoever asked sees without a tap at which place it stands, and when the vehicle is back.
  const pending = page.locator(".first-screen .open-loop", { hasText: "Suspension down, rear" });
  assert.match(await pending.innerText(), /Lift \d, place \d+, about .*\d\d?:\d\d[\s\S]*Back about .*\d\d?:\d\d/);
  await until("it to be seen whole", () => seenWhole(pending));
  await said.getByRole("button", { name: "Undo" }).tap();
  await said.getByText("Taken back.").waitFor();
  await until("it to be called off", async () => (await asksOf(order))[0]?.life === "cancelled");
  assert.ok(docsOf(await admin.pull(), "card").filter((card) => card.order === order).every((card) => card.life === "cancelled"));
  await context.close();
});

test("what somebody has taken meanwhile is not taken back by a tap", { timeout: 120_000 }, async () => {
  const { page, order, context } = await atVehicle();
  const { link } = await admin.person("Olin Marsh", "mechanical", "technician");
  const mechanic = await Api.join(server.base, link);
  await page.locator("button.need").tap();
  await chooseWhat(page, /^Suspension down, rear/);
  await page.locator("dialog .stick").tap();
  const drop = await until("the card", async () => docsOf(await admin.pull(), "card").find((card) => card.order === order && card.opens));
  await mechanic.act("take", { card: drop.id });
  await page.locator("main").getByText(/Olin Marsh/).first().waitFor();
  await page.locator(".said-line").getByRole("button", { name: "Undo" }).tap();
  await page.getByText("Somebody has taken it already: speak with them.").waitFor();
  assert.equal((await asksOf(order))[0].life, "taken");
  await context.close();
});

test("what was chosen, typed and photographed is there again after closing; phrases are read in one's own language", { timeout: 120_000 }, async () => {
  const { page, order, context } = await atVehicle();
  const sheet = page.locator("dialog[open]");
  const need = page.locator("button.need");
  await need.tap();
  await chooseWhat(page, /^Suspension down, rear/);
  const files = sheet.locator('input[type="file"]');
  await files.nth(1).setInputFiles([await smallPicture(page, "#112233"), await smallPicture(page, "#332211")]);
  await sheet.locator(".ask-taken img").nth(1).waitFor();
  await sheet.getByRole("button", { name: "Remove" }).first().tap();
  await until("one photo to be left", async () => (await sheet.locator(".ask-taken img").count()) === 1);
  await sheet.getByRole("checkbox", { name: "Move it" }).check();
  // A fact nobody has said is unknown, until it is said, and again when that is taken back.
  const rolls = sheet.locator(".sign-tile").nth(2);
  assert.match(await rolls.innerText(), /^Rolls\?/);
  await rolls.tap();
  await sheet.getByRole("radio", { name: "No", exact: true }).check();
  assert.match(await rolls.innerText(), /^Does not roll/);
  await sheet.getByRole("radio", { name: "Not known" }).check();
  assert.match(await rolls.innerText(), /^Rolls\?/);
  await sheet.getByRole("radio", { name: "No", exact: true }).check();
  await sheet.locator("summary", { hasText: "In your own words" }).tap();
  await sheet.getByLabel("Note", { exact: true }).fill("The seam behind the wheelhouse.");
  await page.keyboard.press("Escape");
  await sheet.waitFor({ state: "hidden" });
  // Closing begins to keep it; a page that is loaded anew in the same moment has its last letters cut off by the browser.
  await until("it to be kept", () => page.evaluate(async () => {
    const [{ name }] = await indexedDB.databases();
    const opened = await new Promise((resolve) => (indexedDB.open(name).onsuccess = ({ target }) => resolve(target.result)));
    const rows = await new Promise((resolve) => (opened.transaction("drafts").objectStore("drafts").getAll().onsuccess = ({ target }) => resolve(target.result)));
    opened.close();
    return JSON.stringify(rows).includes("The seam behind the wheelhouse.");
  }));

  await page.reload();
  await need.tap();
  await sheet.locator(".ask-taken img").waitFor();
  assert.equal(await sheet.locator(".ask-taken img").count(), 1);
  assert.ok(await sheet.getByRole("checkbox", { name: "Move it" }).isChecked());
  assert.equal(await sheet.getByLabel("Note", { exact: true }).inputValue(), "The seam behind the wheelhouse.");
  assert.match(await rolls.innerText(), /^Does not roll/);
  await sheet.locator(".stick").tap();
  const [one] = await until("the ask", async () => (await asksOf(order)).length && asksOf(order));
  assert.equal(one.not_yet, "Move it");
  assert.equal(one.condition.rolls, false);
  await until("the one photo", async () => docsOf(await admin.pull(), "photo").filter((photo) => photo.handoff === one.id).length === 1);

  await page.evaluate(() => localStorage.setItem("language", "es"));
  await page.reload();
  await page.getByText("Moverlo.").waitFor();
  await context.close();
});
