// A contact sheet of every screen: phone and desktop, light and dark, both languages. `npm run screens`.
import { mkdirSync, writeFileSync } from "node:fs";
import { OUT, browser, openAs, start } from "./support.mjs";

export const SIZES = { phone: { width: 390, height: 844 }, desktop: { width: 1440, height: 900 } };

/** Screens by name: who looks, and where. `{vehicle}` is the wagon whose seam is being sealed. */
export const SCREENS = [
  ["mine-body", "body", "/"],
  ["mine-mechanic", "mechanical", "/"],
  ["queue", "mechanical", "/queue/mechanical"],
  ["vehicle", "body", "/vehicle/{vehicle}"],
  ["notices", "mechanical", "/notices"],
  ["tray", "body", "/tray"],
  ["me", "body", "/me"],
  ["shop", "manager", "/shop"],
  ["measures", "manager", "/shop/measures"],
  ...["people", "departments", "equipment", "places", "calendars", "routings", "import", "order", "shop"].map((page) => [`setup-${page}`, "manager", `/setup/${page}`]),
];

/** Opens the demo of a fixed day and calls `see(name, page)` for every screen of one look. */
export async function eachScreen({ size, theme, language }, see, only = SCREENS) {
  const server = await start("demo", { args: ["--date", "2026-11-25", "--seed", "1"] });
  const chrome = await browser();
  try {
    const pages = new Map();
    const seen = new Set();
    for (const [name, who, address] of only) {
      if (!pages.has(who)) {
        const link = Object.entries(server.links).find(([key]) => key.endsWith(who))[1];
        pages.set(who, await openAs(chrome, link, { viewport: SIZES[size], colorScheme: theme, locale: language === "es" ? "es-MX" : "en-US" }));
      }
      const { page, errors } = pages.get(who);
      if (!seen.has(who)) {
        // The first copy of the shop must be on the phone, or every screen would be its empty self.
        await page.goto(`${server.base}/vehicles`);
        await page.locator('main a[href^="/vehicle/"]').first().waitFor();
        seen.add(who);
      }
      const vehicle = await page.evaluate(async () => {
        for (let after = 0, more = true; more; ) {
          const pulled = await fetch(`/api/v1/sync/pull?after=${after}`).then((r) => r.json());
          const found = pulled.docs.find((doc) => doc.key.startsWith("order/") && doc.body?.open?.some((one) => one.open.includes("suspension")));
          if (found) return found.body.id;
          [after, more] = [pulled.to, pulled.more];
        }
        return "";
      });
      await page.goto(server.base + address.replace("{vehicle}", vehicle));
      await page.locator("main h1, main h2, main p").first().waitFor();
      await page.waitForFunction(() => !document.querySelector('[aria-busy="true"]'));
      await page.evaluate(() => document.fonts.ready);
      await page.waitForTimeout(400);
      await see(name, page, errors);
    }
  } finally {
    await chrome.close();
    server.stop();
  }
}

async function sheet(chrome, look, shots) {
  const width = look.startsWith("phone") ? 260 : 640;
  const cells = shots.map(([name, png]) => `<figure><img width=${width} src="data:image/png;base64,${png.toString("base64")}"><figcaption>${name}</figcaption></figure>`);
  const html = `<meta charset=utf-8><style>body{font:14px sans-serif;background:#777}main{display:flex;flex-wrap:wrap;gap:12px}figure{margin:0}</style><main>${cells.join("")}</main>`;
  const page = await chrome.newPage({ viewport: { width: 2000, height: 1000 } });
  await page.setContent(html);
  await page.screenshot({ path: `${OUT}sheet-${look}.png`, fullPage: true });
  await page.close();
}

if (process.argv[1] === new URL(import.meta.url).pathname) {
  mkdirSync(OUT, { recursive: true });
  const index = [];
  for (const size of Object.keys(SIZES))
    for (const theme of ["light", "dark"])
      for (const language of ["en", "es"]) {
        const look = `${size}-${theme}-${language}`;
        const shots = [];
        await eachScreen({ size, theme, language }, async (name, page) => {
          const png = await page.screenshot({ path: `${OUT}${look}-${name}.png` });
          shots.push([name, png]);
        });
        const chrome = await browser();
        await sheet(chrome, look, shots);
        await chrome.close();
        index.push(look);
        console.log(look, shots.length);
      }
  writeFileSync(`${OUT}index.html`, index.map((look) => `<h2>${look}</h2><img src="sheet-${look}.png">`).join("\n"));
}
