// A vehicle in two seconds: what stands on the first screen, in which order the work stands, and that nothing is cut off.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { toVehicle } from "./phone.mjs";
import { letters, linkOf, seenWhole, theOpenOne, tooWide } from "./seen.mjs";
import { Api, browser, openAs, start } from "./support.mjs";

let server, chrome, manager, wagon;

before(async () => {
  server = await start("demo", { args: ["--date", "2026-11-25", "--seed", "1"] });
  chrome = await browser();
  manager = await Api.join(server.base, linkOf(server, "manager"));
  wagon = theOpenOne((await manager.pull()).docs);
});

after(async () => {
  await chrome?.close();
  server?.stop();
});

let body;
/** The body technician of the demo, who has the wagon's seam in hands; the link signs in once. */
async function phone(language, [width, height], large = false) {
  body ??= await openAs(chrome, linkOf(server, "body"), { reducedMotion: "reduce" });
  const { page } = body;
  await page.setViewportSize({ width, height });
  await page.evaluate((chosen) => localStorage.setItem("language", chosen), language);
  await page.goto(`${server.base}/vehicles`);
  await letters(page, large);
  await toVehicle(page, wagon.id);
  await page.locator(".vehicle svg.trip-line").waitFor();
  await page.evaluate(() => scrollTo(0, 0));
  return page;
}

for (const language of ["en", "es"]) {
  test(`place, signs, the open loop, the dates and the main act stand on the first screen: ${language}`, { timeout: 120_000 }, async () => {
    const page = await phone(language, [390, 844]);
    await page.locator(".dates-line .of-safe").waitFor();
    const first = page.locator(".first-screen");
    for (const [what, of] of [
      ["the place", first.getByText(language === "en" ? /Stands at: Lift 2/ : /Está en: Elevador 2/)],
      ["the signs", first.locator(".signs")],
      ["the open loop", first.locator(".open-loop")],
      ["the dates", first.locator(".dates-line")],
      ["the main act", first.locator(".button.main")],
    ]) {
      assert.ok(await seenWhole(of), `${what} is not on the first screen`);
    }
    const signs = await first.locator(".sign-tile").allInnerTexts();
    assert.match(signs[0], language === "en" ? /^Lift points/ : /^Puntos de apoyo/);
    assert.match(signs[1], language === "en" ? /^Weight/ : /peso/i);
    // With its lift, who is inside, and until when.
    assert.match(await first.locator(".open-loop").innerText(), language === "en" ? /Lift \d[\s\S]*inside[\s\S]*about .*\d:\d\d/ : /Elevador \d[\s\S]*adentro[\s\S]*\d:\d\d/);
    // Promise, likely and safe date side by side.
    const tops = await first.locator(".dates-line ol > li:not(.late, .quiet)").evaluateAll((all) => all.map((one) => Math.round(one.getBoundingClientRect().top)));
    assert.equal(tops.length, 3);
    assert.equal(new Set(tops).size, 1, `${tops}`);
  });
}

test("work stands in the order of the trip, what runs first", { timeout: 120_000 }, async () => {
  const page = await phone("en", [390, 844]);
  const { docs, plan } = await manager.pull();
  const from = new Map(plan.rows.map((row) => [row.card, row.from]));
  const left = wagon.cards.map((id) => docs[`card/${id}`]).filter((card) => card.life !== "done" && card.life !== "cancelled");
  const running = left.filter((card) => card.life === "working");
  assert.ok(running.length > 0 && left.length > 10, "the wagon has work that runs, and much that does not");
  assert.ok(left.indexOf(running[0]) > 3, "it was laid out late");
  const shown = await page.locator("main details > summary.card-line strong:first-of-type").evaluateAll((all) => [...new Set(all.map((one) => one.closest("summary")))].map((one) => one.querySelector("strong").textContent));
  assert.equal(shown.length, left.length);
  assert.equal(shown[0], running[0].title.text);
  const planned = left.filter((card) => from.has(card.id) && !running.includes(card)).sort((a, b) => from.get(a.id) - from.get(b.id));
  const starts = shown.slice(1).map((title) => from.get(planned.find((card) => card.title.text === title)?.id)).filter(Boolean);
  assert.deepEqual(starts, [...starts].sort((a, b) => a - b));
});

test("photos are one row, findings stand before the work", { timeout: 120_000 }, async () => {
  const page = await phone("en", [390, 844]);
  const tops = await page.locator(".strip .picture").evaluateAll((all) => all.map((one) => one.getBoundingClientRect().top));
  assert.ok(tops.length > 1);
  assert.equal(new Set(tops).size, 1, `${tops}`);
  const top = (of) => of.evaluate((one) => one.getBoundingClientRect().top);
  assert.ok((await top(page.getByRole("heading", { name: "Found, and said last" }))) < (await top(page.getByRole("heading", { name: "To be done" }))));
});

for (const language of ["en", "es"]) {
  for (const size of [[360, 640], [390, 844], [844, 390], [1440, 900]]) {
    for (const large of [false, true]) {
      test(`nothing is cut off: ${language} ${size.join(" × ")}${large ? ", letters of twice the size" : ""}`, { timeout: 120_000 }, async () => {
        const page = await phone(language, size, large);
        assert.equal(await tooWide(page), 0);
        const cut = await page.locator(".first-screen").evaluate((of) =>
          [...of.querySelectorAll(".sign-tile, .open-loop p, .dates-line li, .button")].filter((one) => one.scrollWidth > one.clientWidth + 1).map((one) => one.textContent),
        );
        assert.deepEqual(cut, []);
        if (!large && (size[0] >= 844 || size[1] >= 844)) assert.ok(await seenWhole(page.locator(".first-screen .button.main")), "the main act");
      });
    }
  }
}

test("nothing goes wrong meanwhile", () => assert.deepEqual(body.errors, []));
