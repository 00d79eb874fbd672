// A contact sheet of every screen: phone and desktop, light and dark, both languages. `npm run screens`.
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { OUT, browser, openAs, start } from "./support.mjs";

export const SIZES = { phone: { width: 390, height: 844 }, desktop: { width: 1440, height: 900 }, wall: { width: 3840, height: 2160 } };
export const THEMES = ["light", "dark"];
export const LANGUAGES = ["en", "es"];
const SETUP = ["people", "departments", "equipment", "places", "calendars", "routings", "import", "order", "shop"];

/** How sure dates are is worked out beside the rest; pictures wait for it. */
const dated = (page) => page.locator(".string .sure, .trouble-band .sure, .day-page .share").first().waitFor({ state: "attached" });

/**
 * Screens by name: who looks (`undefined`: nobody yet), where, and what is done there first.
 * `{vehicle}` is the wagon whose seam is being sealed while its suspension is still off.
 */
export const SCREENS = [
  ["sign-in", undefined, "/sign-in"],
  ["mine-body", "body", "/"],
  ["vehicle", "body", "/vehicle/{vehicle}"],
  ["ask", "body", "/vehicle/{vehicle}", (page) => sheet(page, "button.need")],
  ["me", "body", "/me"],
  ["tray", "body", "/queue/body", unsentTake],
  ["photo", "body", "/vehicle/{vehicle}", photo],
  ["photo-mark", "body", "/vehicle/{vehicle}", async (page) => {
    await photo(page);
    await page.locator(".photo-page .button.main").click();
    await page.locator(".photo-page .mark-end + .buttons .button").first().click();
    await page.locator(".handle").first().waitFor();
  }],
  ["mine-mechanic", "mechanical", "/"],
  ["queue", "mechanical", "/queue/mechanical"],
  ["queue-why", "mechanical", "/queue/mechanical", (page) => sheet(page, "button.line-in")],
  ["notices", "mechanical", "/notices"],
  ["vehicles", "mechanical", "/vehicles"],
  ["me-code", "assembly", "/me", async (page) => {
    await page.locator(".other-phone > .button").click();
    await page.locator(".code").waitFor();
  }],
  // From here on the tablet of this person is shared, and locked whenever it is opened.
  ["pin-choose", "assembly", "/me", async (page) => {
    await page.locator(".share .button").click();
    await page.locator(".pad").waitFor();
  }],
  ["faces", "assembly", "/"],
  ["pin", "assembly", "/", async (page) => {
    await page.locator(".face").first().click();
    await page.locator(".pad").waitFor();
  }],
  ["shop", "manager", "/shop", dated],
  ["day", "manager", "/shop/day", dated],
  ["measures", "manager", "/shop/measures"],
  ["outlook", "manager", "/shop/outlook", (page) => page.locator(".outlook-true").waitFor()],
  ["what-if", "manager", "/shop/what-if", async (page) => {
    await page.locator("#what-if-what").selectOption("away");
    await page.locator("#what-if-person").selectOption({ index: 1 });
    await page.locator(".what-if form .button.main").click();
    await page.locator("#what-if-answer").waitFor();
  }],
  ["jam", "manager", "/shop/what-if", async (page) => {
    await page.locator(".jam .button").first().click();
    await page.locator(".jam [aria-live] strong").first().waitFor();
    await page.locator("#jam-title").evaluate((title) => title.scrollIntoView());
  }],
  ["setup", "manager", "/setup"],
  ...SETUP.map((name) => [`setup-${name}`, "manager", `/setup/${name}`]),
  ["setup-sisters", "admin", "/setup/sisters", (page) => page.locator("output.link-text").waitFor()],
];

/** What a screen on the wall shows, which nobody touches. */
export const ON_WALL = [["wall", "wall", "/", dated]];

async function sheet(page, button) {
  await page.locator(button).first().click();
  await page.locator("dialog[open] h2").waitFor();
}

async function photo(page) {
  await page.locator(".picture a").first().click();
  await page.locator(".photo-large img").waitFor();
}

/** Something taken with the network gone, so that the tray has something to show. */
async function unsentTake(page) {
  await page.context().setOffline(true);
  await page.locator("main .queue-first > button.button").first().click();
  await page.locator('.status a[href="/tray"]').first().click();
  await page.waitForURL("**/tray");
}

/** Drawn to the end: nothing says it is busy, fonts are there, and the page stands still. */
async function settled(page) {
  await page.locator("main h1, main h2, main p").first().waitFor();
  await page.evaluate(() => document.fonts.ready.then(() => undefined));
  await page.evaluate(() => delete globalThis.still);
  await page.waitForFunction(
    () => {
      if (document.querySelector('[aria-busy="true"]') || document.getAnimations().some((one) => one.playState === "running")) return false;
      const now = document.body.innerHTML;
      globalThis.still = globalThis.still?.html === now ? { html: now, count: globalThis.still.count + 1 } : { html: now, count: 0 };
      return globalThis.still.count >= 3;
    },
    undefined,
    { polling: 100 },
  );
}

/** The order with something open at the suspension: what the demo's body technician has in hands. */
const theWagon = (page) =>
  page.evaluate(async () => {
    for (let after = 0, more = true; more; ) {
      const pulled = await fetch(`/api/v1/sync/pull?after=${after}`).then((answer) => answer.json());
      const found = pulled.docs.find((doc) => doc.key.startsWith("order/") && doc.body?.open?.some((one) => one.open.includes("suspension")));
      if (found) return found.body.id;
      [after, more] = [pulled.to, pulled.more];
    }
    throw new Error("no vehicle of the demo has its suspension open");
  });

/**
 * Opens the demo of a fixed day and calls `see(name, theme, page, errors)` for every screen, in each of `themes`.
 * `errors` is what the page threw or wrote to its console since the screen before.
 */
export async function eachScreen({ size, language, themes = THEMES }, see, only = SCREENS) {
  const server = await start("demo", { args: ["--date", "2026-11-25", "--seed", "1"] });
  const chrome = await browser();
  try {
    const looks = { viewport: SIZES[size], reducedMotion: "reduce", locale: language === "es" ? "es-MX" : "en-US" };
    const people = new Map();
    let vehicle = "";
    for (const [name, who, address, act] of only) {
      if (!people.has(who)) people.set(who, await enter(chrome, server, who, language, looks));
      const { page, errors } = people.get(who);
      if (address.includes("{vehicle}")) vehicle ||= await theWagon(page);
      await page.goto(server.base + address.replace("{vehicle}", vehicle));
      await settled(page);
      await act?.(page);
      for (const theme of themes) {
        await page.emulateMedia({ colorScheme: theme });
        await settled(page);
        await see(name, theme, page, errors.splice(0));
      }
      await page.context().setOffline(false);
    }
  } finally {
    await chrome.close();
    server.stop();
  }
}

async function enter(chrome, server, who, language, looks) {
  let opened;
  if (who) {
    const linkOf = (name) => Object.entries(server.links).find(([key]) => key.endsWith(name))[1];
    const link = who === "wall" ? await wallLink(chrome, linkOf("manager")) : linkOf(who);
    opened = who === "wall" ? await onWall(chrome, link, looks) : await openAs(chrome, link, looks);
    // Once signed in the app speaks as the person does, whatever the browser prefers: chosen here as in "More".
    await opened.page.evaluate((chosen) => localStorage.setItem("language", chosen), language);
    // The first copy of the shop must be on the phone, or every screen would be its empty self.
    await opened.page.goto(`${server.base}${who === "wall" ? "/" : "/vehicles"}`);
    await opened.page.locator('main a[href^="/vehicle/"], .wall .trouble[data-order]').first().waitFor();
  } else {
    const page = await (await chrome.newContext(looks)).newPage();
    opened = { page, errors: [] };
    page.on("pageerror", (error) => opened.errors.push(String(error)));
  }
  opened.page.on("console", (line) => {
    if (line.type() !== "error") return;
    // The browser itself writes each request that failed: with the network taken away on purpose, and when
    // somebody not signed in asks whether a kept sign-in still holds (the script cannot read that cookie).
    const { url } = line.location();
    if (line.text().includes("ERR_INTERNET_DISCONNECTED") || (!who && url.endsWith("/api/v1/auth/refresh"))) return;
    opened.errors.push(`${line.text()} ${url}`);
  });
  return opened;
}

/** A manager makes the link that signs a screen in. */
export async function wallLink(chrome, link) {
  const { page } = await openAs(chrome, link);
  const made = await page.evaluate(() => fetch("/api/v1/auth/display", { method: "POST" }).then((answer) => answer.json()));
  await page.context().close();
  return made.link;
}

/** It has no bar to wait for, and is not installed. */
export async function onWall(chrome, link, looks) {
  const page = await (await chrome.newContext(looks)).newPage();
  const errors = [];
  page.on("pageerror", (error) => errors.push(String(error)));
  await page.goto(link);
  await page.getByRole("button", { name: /^(Sign in as|Entrar como) / }).click();
  await page.locator(".wall-head").waitFor();
  return { page, errors };
}

/** Where a screen's picture lies. */
export const picture = (size, theme, language, name) => `${OUT}${size}-${theme}-${language}-${name}.png`;

/** Takes the pictures of one size and language in both themes; answers their names and what was wrong. */
export async function shoot({ size, language }, only = SCREENS) {
  mkdirSync(OUT, { recursive: true });
  const shots = [];
  const wrong = [];
  const words = readFileSync(new URL(`../../web/locales/${language}/app.ftl`, import.meta.url), "utf8");
  const theShop = /^the-shop = (.+)$/m.exec(words)[1];
  await eachScreen({ size, language }, async (name, theme, page, errors) => {
    const path = picture(size, theme, language, name);
    await page.screenshot({ path });
    shots.push({ name, theme, path });
    const spoken = await page.evaluate(() => document.documentElement.lang);
    if (spoken !== language) wrong.push(`${name}: says it speaks ${spoken}`);
    // What it says it speaks and what it does speak are two things: the bar's word for the shop is looked at.
    const bar = await page.locator("nav.bar").allInnerTexts();
    if (bar.some((text) => !text.includes(theShop))) wrong.push(`${name}: does not speak ${language} in its bar`);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    if (wide > 0) wrong.push(`${name}: ${wide} px wider than the screen`);
    wrong.push(...errors.map((error) => `${name}: ${error}`));
  }, only);
  return { shots, wrong };
}

/** One picture of all screens of one look. */
async function contactSheet(chrome, look, shots) {
  const width = look.startsWith("phone") ? 260 : 640;
  const cells = shots.map(({ name, path }) => `<figure><img width=${width} src="data:image/png;base64,${readFileSync(path).toString("base64")}"><figcaption>${name}</figcaption></figure>`);
  const html = `<meta charset=utf-8><style>body{font:14px sans-serif;background:#777}main{display:flex;flex-wrap:wrap;gap:12px}figure{margin:0}</style><main>${cells.join("")}</main>`;
  const page = await chrome.newPage({ viewport: { width: 2000, height: 1000 } });
  await page.setContent(html);
  await page.screenshot({ path: `${OUT}sheet-${look}.png`, fullPage: true });
  await page.close();
}

if (process.argv[1] === new URL(import.meta.url).pathname) {
  const parts = [];
  for (const language of LANGUAGES)
    for (const size of Object.keys(SIZES)) {
      const { shots, wrong } = await shoot({ size, language }, size === "wall" ? ON_WALL : SCREENS);
      for (const one of wrong) console.error(`${size} ${language}: ${one}`);
      const chrome = await browser();
      for (const theme of THEMES) {
        const look = `${size}-${theme}-${language}`;
        const own = shots.filter((one) => one.theme === theme);
        await contactSheet(chrome, look, own);
        const links = own.map(({ name }) => `<a href="${look}-${name}.png">${name}</a>`).join(" · ");
        parts.push(`<h2>${look}</h2><p>${links}</p><a href="sheet-${look}.png"><img src="sheet-${look}.png" width="100%" alt="all screens, ${look}"></a>`);
        console.log(look, own.length);
      }
      await chrome.close();
    }
  writeFileSync(`${OUT}index.html`, `<!doctype html><meta charset="utf-8"><title>Turnbuckle: screens</title>\n${parts.join("\n")}\n`);
}
