// The shop's page at one glance, on the demo of a fixed day: what is in trouble, in which order, and how far it is to an act.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { planned, wordsIn } from "./looks.mjs";
import { browser, OUT, openAs, start, until } from "./support.mjs";
import { mkdirSync } from "node:fs";

let server, chrome, page, errors, link;
before(async () => {
  mkdirSync(OUT, { recursive: true });
  server = await start("demo", { args: ["--date", "2026-11-25", "--seed", "1"] });
  chrome = await browser();
  link = Object.entries(server.links).find(([who]) => who.endsWith("manager"))[1];
  ({ page, errors } = await openAs(chrome, link, { viewport: { width: 1440, height: 900 }, reducedMotion: "reduce" }));
  await page.goto(`${server.base}/shop`);
  await page.locator(".trouble-band .sure").first().waitFor({ state: "attached" });
});
after(async () => {
  await chrome?.close();
  server?.stop();
});

const rows = () => page.locator(".trouble[data-order]").evaluateAll((all) => all.map((one) => one.dataset.order));
const box = (selector) => page.locator(selector).first().evaluate((one) => one.getBoundingClientRect().toJSON());
const axis = () => page.locator(".string-diagram:not(.row-names) .tick text").allTextContents();

for (const language of ["en", "es"]) {
  test(`one screen: the strings over the whole width, below them three parts, few words (${language})`, async () => {
    await page.evaluate((chosen) => localStorage.setItem("language", chosen), language);
    await page.reload();
    await page.locator(".trouble-band .sure").first().waitFor({ state: "attached" });
    const [strings, late, holds, waits, answers] = await Promise.all([".part-strings", ".part-late", ".part-holds", ".part-waits", ".part-exceptions"].map(box));
    assert.ok(answers.bottom <= strings.top + 1, "what needs an answer stands on top");
    assert.ok(strings.width > 1440 * 0.9);
    for (const below of [late, holds, waits]) assert.ok(below.top >= strings.bottom - 1);
    // As far as it can be seen that each of them has its first rows.
    for (const first of [".trouble[data-order]:nth-child(6)", ".strip:nth-child(3)", ".waits > li:nth-child(5)"]) {
      const { bottom } = await box(first);
      assert.ok(bottom <= 900, `${first} ends at ${bottom}`);
    }
    const words = await wordsIn(page);
    console.log(`shop, ${language}: ${words} words`);
    assert.ok(words <= 160, `${words} words`);
    await page.screenshot({ path: `${OUT}shop-desk-${language}.png` });
  });
}

test("the smallest chance first, and nothing that is late is left out", async () => {
  await page.evaluate(() => localStorage.setItem("language", "en"));
  await page.reload();
  await page.locator(".trouble-band .sure").first().waitFor({ state: "attached" });
  const vehicles = await planned(page);
  const inDanger = vehicles.filter((one) => one.late || (one.kept ?? 1) < 0.5);
  const late = inDanger.filter((one) => one.late);
  assert.ok(late.length > 1 && inDanger.length > late.length, "the demo has both");
  const shown = await rows();
  for (const { number } of late) assert.ok(shown.includes(number), `${number} is late and not there`);
  // All of them, in one touch, ordered by chance.
  await page.locator(".part-late .more-button").click();
  const all = await rows();
  assert.deepEqual([...all].sort(), inDanger.map((one) => one.number).sort());
  const kept = new Map(vehicles.map((one) => [one.number, one.kept ?? 0]));
  const chances = all.map((number) => kept.get(number));
  assert.deepEqual(chances, [...chances].sort((a, b) => a - b));
  await page.locator(".part-late .more-button").click();
});

test("plans are drawn of what is in trouble and of what is chosen, of nothing else", async () => {
  const drawn = () => page.locator(".string .plan").evaluateAll((all) => all.filter((one) => one.getAttribute("d")).map((one) => one.closest("a").getAttribute("href")));
  const wanted = await page.locator(".trouble-number").evaluateAll((all) => all.map((one) => one.getAttribute("href")));
  const before = new Set(await drawn());
  for (const one of before) assert.ok(wanted.includes(one), one);
  const strings = await page.locator(".string").count();
  assert.ok(strings > before.size, "what holds a lift has a string without a plan");
  // One that is in trouble, but not among the first: chosen, it has its plan; let go, it has none.
  await page.locator(".part-late .more-button").click();
  const last = page.locator(".trouble[data-order]").last();
  const [href, look] = [await last.locator(".trouble-number").getAttribute("href"), last.locator(".trouble-look")];
  assert.ok(!before.has(href));
  const drawnIn = async (wanted) => until(`a string ${wanted ? "with" : "without"} a plan`, async () => (await page.locator(`.string[href="${href}"]`).count()) > 0 === wanted, 5);
  await look.click();
  await drawnIn(true);
  await look.click();
  await page.locator(".part-late .more-button").click();
});

test("a row opens below, with the reasons in sentences; hours open into vehicles", async () => {
  const row = page.locator(".trouble[data-order]").first();
  await row.locator(".trouble-look").click();
  await row.locator(".trouble-more .why").first().waitFor();
  await row.locator(".trouble-look").click();
  assert.equal(await page.locator(".trouble-more").count(), 0);
  await page.locator(".wait-bar").first().click();
  await page.locator(".waits .line-row").first().waitFor();
  await page.locator(".wait-bar").first().click();
});

test("the picture moves and zooms by key, by button and by hand, and a drag opens no vehicle", async () => {
  const picture = page.locator(".strings-scroll");
  const [first, three] = [await axis(), page.getByRole("button", { name: "3 days" })];
  assert.equal(await three.getAttribute("aria-pressed"), "true");
  await picture.focus();
  const changed = async (what, act) => {
    const was = (await axis()).join();
    await act();
    await until(what, async () => (await axis()).join() !== was, 5);
  };
  for (const key of ["ArrowRight", "ArrowLeft", "+", "-"]) await changed(key, () => page.keyboard.press(key));
  assert.deepEqual(await axis(), first);
  for (const name of ["Later", "Earlier", "Closer", "Further away"]) await changed(name, () => page.getByRole("button", { name, exact: true }).click());
  assert.deepEqual(await axis(), first);
  const { x, y, width, height } = await picture.boundingBox();
  await changed("a drag", async () => {
    await page.mouse.move(x + width * 0.7, y + height / 2);
    await page.mouse.down();
    await page.mouse.move(x + width * 0.4, y + height / 2, { steps: 4 });
    await page.mouse.up();
  });
  assert.equal(new URL(page.url()).pathname, "/shop");
  await page.keyboard.press("0");
  await until("where it was", async () => (await axis()).join() === first.join(), 5);
});

test("from trouble to an act in two taps", async () => {
  const promise = page.locator(".trouble-act button", { hasText: "New promise" });
  if ((await promise.count()) === 0) await page.locator(".trouble-look").first().click();
  const number = await page.locator(".trouble[data-order]", { has: page.locator("button", { hasText: "New promise" }) }).first().getAttribute("data-order");
  const due = () =>
    page.evaluate(async (wanted) => {
      for (let after = 0, more = true; more; ) {
        const pulled = await fetch(`/api/v1/sync/pull?after=${after}`).then((answer) => answer.json());
        const found = pulled.docs.find((doc) => doc.key.startsWith("order/") && doc.body?.number === wanted);
        if (found) return found.body.promise;
        [after, more] = [pulled.to, pulled.more];
      }
      return undefined;
    }, number);
  const was = await due();
  await page.locator(".trouble button", { hasText: "New promise" }).first().click();
  await page.locator("dialog[open] .button.main").click();
  await until("the new promise", async () => (await due()) !== was);
  assert.deepEqual(errors, []);
});

test("on a phone the same, narrow: nothing sideways, trouble before the picture", async () => {
  await page.setViewportSize({ width: 390, height: 844 });
  await page.goto(`${server.base}/shop`);
  await page.locator(".trouble-band .sure").first().waitFor({ state: "attached" });
  assert.equal(await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth), 0);
  assert.ok((await box(".part-late")).top < (await box(".part-strings")).top);
  await page.screenshot({ path: `${OUT}shop-phone.png`, fullPage: true });
});

test("two fingers drawn apart come closer, one finger moves the time", async () => {
  const phone = await openAs(chrome, await againLink(), { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true, reducedMotion: "reduce" });
  await phone.page.goto(`${server.base}/shop`);
  const picture = phone.page.locator(".strings-scroll");
  await picture.scrollIntoViewIfNeeded();
  const ticks = async () => (await phone.page.locator(".string-diagram:not(.row-names) .tick path").evaluateAll((all) => all.map((one) => one.getAttribute("d")))).join();
  const client = await phone.context.newCDPSession(phone.page);
  const { x, y, width, height } = await picture.boundingBox();
  const touch = (type, ...points) => client.send("Input.dispatchTouchEvent", { type, touchPoints: points.map((share, id) => ({ x: x + width * share, y: y + height / 3, id })) });
  for (const [what, from, to] of [
    ["closer", [0.6, 0.7], [0.5, 0.9]],
    ["later", [0.8], [0.5]],
  ]) {
    const was = await ticks();
    await touch("touchStart", ...from);
    for (const part of [0.3, 0.6, 1]) await touch("touchMove", ...from.map((at, i) => at + (to[i] - at) * part));
    await touch("touchEnd");
    await until(what, async () => (await ticks()) !== was, 5);
  }
  assert.equal(new URL(phone.page.url()).pathname, "/shop");
  assert.deepEqual(phone.errors, []);
});

/** A link is used up by who came first. */
async function againLink() {
  return page.evaluate(async () => {
    const { person } = await fetch("/api/v1/auth/me").then((answer) => answer.json());
    const made = await fetch("/api/v1/auth/invite", { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ person }) });
    return (await made.json()).link;
  });
}
