// HTTPS by the shop's own authority as a phone meets it: no certificate error is ignored anywhere.
// A device is a Chromium with a home of its own; what it trusts stands in the NSS database there, as
// Chromium on Linux reads it (certutil comes with Debian's libnss3-tools).
import AxeBuilder from "@axe-core/playwright";
import assert from "node:assert/strict";
import { execFileSync, spawn } from "node:child_process";
import { X509Certificate } from "node:crypto";
import { once } from "node:events";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { Agent, request } from "node:https";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";
import { allSent, anew, ask, button, cardOf, docsOf, finish, note, numbers, oneTo, openLine, same, smallPicture, stored, take, waiting } from "./phone.mjs";
import { Api, away, openAs, until } from "./support.mjs";

const BINARY = process.env.TURNBUCKLE_BIN ?? fileURLToPath(new URL("../../target/debug/turnbuckle", import.meta.url));
const dir = mkdtempSync(join(tmpdir(), "turnbuckle-own-ca-"));
const open = [];
let server, said, base, onboarding, link, admin, trusting;

async function serve(listen, onboard) {
  server = spawn(BINARY, ["serve", "--https", "--listen", listen, "--onboard", onboard, "--data", join(dir, "data")], { stdio: ["ignore", "pipe", "inherit"] });
  said = "";
  server.stdout.on("data", (bytes) => (said += bytes));
}

/** Asks like `fetch`, and trusts one authority and no other. */
const only = (ca) => {
  const agent = new Agent({ ca, keepAlive: true });
  trusting = agent;
  return async (url, { method, headers, body } = {}) => {
    const asked = request(url, { method, headers, agent }).end(body);
    const [answer] = await once(asked, "response");
    const parts = [];
    for await (const part of answer) parts.push(part);
    const set = answer.headers["set-cookie"] ?? [];
    const { statusCode: status } = answer;
    return { ok: status >= 200 && status < 300, status, headers: { getSetCookie: () => set }, text: async () => String(Buffer.concat(parts)) };
  };
};

const authority = async () => new X509Certificate(Buffer.from(await (await fetch(`${onboarding}/turnbuckle-shop.crt`)).arrayBuffer()));

before(async () => {
  await serve("127.0.0.1:0", "127.0.0.1:0");
  link = await until("the sign-in link", () => /, good once, is in (.+)\n/.exec(said)?.[1]);
  link = readFileSync(link, "utf8").trim();
  base = new URL(link).origin;
  onboarding = /(http:\/\/\S+)\s/.exec(said)[1];
  admin = await Api.join(base, link, only(String(await authority())));
});

after(async () => {
  for (const browser of open) await browser.close();
  trusting?.destroy();
  server?.kill("SIGKILL");
  rmSync(dir, { recursive: true, force: true, maxRetries: 20, retryDelay: 100 });
});

const home = (name) => join(dir, name);

async function device(name) {
  mkdirSync(home(name), { recursive: true });
  const browser = await chromium.launch({
    executablePath: "/usr/bin/chromium",
    env: { ...process.env, HOME: home(name), XDG_CONFIG_HOME: join(home(name), ".config") },
    args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
      "--disable-background-networking", "--disable-component-update", "--disable-sync"],
  });
  open.push(browser);
  return browser;
}

async function phone(browser, options = {}) {
  const context = await browser.newContext({ viewport: { width: 390, height: 844 }, locale: "en-US", ...options });
  context.setDefaultTimeout(30_000);
  const page = await context.newPage();
  const errors = [];
  page.on("pageerror", (error) => errors.push(String(error)));
  return { context, page, errors };
}

/** What the steps on the page lead to. */
async function install(name) {
  const certificate = await authority();
  const database = join(home(name), ".pki/nssdb");
  mkdirSync(database, { recursive: true });
  writeFileSync(join(dir, "shop.crt"), certificate.raw);
  execFileSync("certutil", ["-d", `sql:${database}`, "-N", "--empty-password"]);
  execFileSync("certutil", ["-d", `sql:${database}`, "-A", "-t", "C,,", "-n", "shop", "-i", join(dir, "shop.crt")]);
  return certificate;
}

async function readable(page, what) {
  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    const { violations } = await new AxeBuilder({ page }).withTags(["wcag2a", "wcag2aa", "wcag2aaa", "wcag21aa", "wcag22aa"]).analyze();
    assert.deepEqual(violations.map((one) => `${one.id}: ${one.nodes[0].html}`), [], `${what}, ${colorScheme}`);
  }
}

test("a device that does not trust the shop is told so and led; the app does not open", { timeout: 120_000 }, async () => {
  const browser = await device("stranger");
  const { page, errors } = await phone(browser);
  await page.goto(onboarding);
  await page.getByText("Not yet: this device does not trust the shop.").waitFor();
  assert.equal(await page.getByText("This device trusts the shop.").isVisible(), false);
  // The fingerprint is the one on the terminal.
  const printed = said.split("fingerprint must be")[1].match(/[0-9A-F]{4}/g).slice(0, 16).join("");
  assert.equal((await page.locator("#fingerprint").innerText()).match(/\b[0-9A-F]{4}\b/g).slice(-16).join(""), printed);
  await readable(page, "not yet");
  await page.getByRole("link", { name: "Español" }).click();
  await page.getByText("Todavía no: este aparato no confía en el taller.").waitFor();
  assert.equal(await page.evaluate(() => document.documentElement.scrollWidth > innerWidth), false, "nothing is wider than the phone");
  assert.deepEqual(errors, []);
  await assert.rejects(page.goto(link), /ERR_CERT_AUTHORITY_INVALID/);
});

test("each system's own steps stand first and open", { timeout: 120_000 }, async () => {
  const browser = await device("systems");
  const agents = {
    "iPhone, iPad": "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) AppleWebKit/605.1.15 Version/18.0 Mobile/15E148 Safari/604.1",
    Android: "Mozilla/5.0 (Linux; Android 15) AppleWebKit/537.36 Chrome/130.0.0.0 Mobile Safari/537.36",
    Windows: "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 Chrome/130.0.0.0 Safari/537.36",
    macOS: "Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 Version/18.0 Safari/605.1.15",
    "Linux; Firefox anywhere": "Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 Chrome/130.0.0.0 Safari/537.36",
  };
  for (const [system, userAgent] of Object.entries(agents)) {
    const { context, page } = await phone(browser, { userAgent });
    await page.goto(onboarding);
    assert.deepEqual(await page.locator("details[open] summary").allInnerTexts(), [system]);
    assert.equal(await page.locator("details summary").first().innerText(), system);
    if (system.startsWith("iPhone")) await page.getByText(/Certificate Trust Settings/).waitFor();
    await context.close();
  }
});

test("a device that trusts the shop signs in, and the app opens without the network", { timeout: 180_000 }, async () => {
  const certificate = await install("own");
  const browser = await device("own");
  const { context, page, errors } = await phone(browser);
  await page.goto(onboarding);
  await page.getByText("This device trusts the shop.").waitFor();
  await readable(page, "trusts");
  await page.getByRole("link", { name: "Open the app" }).click();
  await page.waitForURL(`${base}/**`);

  // The link is scanned, so it comes as a page of its own.
  await page.goto("about:blank");
  await page.goto((await admin.post("/api/v1/auth/invite", { person: admin.me.person })).link);
  await page.getByRole("button", { name: /^Sign in as / }).click();
  await page.locator("nav").first().waitFor();
  assert.equal(await page.evaluate(() => isSecureContext && performance.getEntriesByType("navigation")[0].nextHopProtocol), "http/1.1");
  const cookies = await context.cookies(`${base}/api/v1/auth`);
  const names = cookies.map(({ name }) => name.replace(/_[0-9a-f]{8}$/, "")).sort();
  assert.deepEqual(names, ["__Host-turnbuckle_access", "__Secure-turnbuckle_browser", "__Secure-turnbuckle_refresh"]);
  assert.ok(cookies.every((cookie) => cookie.secure && cookie.httpOnly && cookie.sameSite === "Strict"));
  // The other side of the comparison.
  const status = await page.evaluate(() => fetch("/api/v1/tls").then((answer) => answer.json()));
  assert.equal(status.fingerprint.replaceAll(" ", ""), certificate.fingerprint256.replaceAll(":", ""));
  assert.equal(status.onboarding, onboarding);
  // Events come at once over HTTPS too.
  await page.evaluate(() => new Promise((resolve, reject) => {
    const stream = new EventSource("/api/v1/live?after=0");
    stream.addEventListener("head", () => resolve(stream.close()));
    stream.onerror = () => reject(new Error("no live stream"));
  }));

  await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
  await page.reload();
  await page.locator("nav").first().waitFor();
  assert.equal(await page.evaluate(() => Boolean(navigator.serviceWorker.controller)), true);
  await context.setOffline(true);
  await page.reload();
  await page.locator("nav").first().waitFor();
  assert.ok((await page.locator("main").innerText()).length > 0);
  assert.equal(await page.evaluate(() => fetch("/healthz").then(() => true, () => false)), false, "the network is gone");
  assert.deepEqual(errors, []);
});

test("a whole turn on two devices that trust the shop, the server killed at the end of it", { timeout: 240_000 }, async () => {
  await assert.rejects(fetch(`${base}/healthz`), "whoever does not trust the shop does not get through");
  const SEAL = "Seal wheelhouse seam";
  const DOWN = "suspension down, rear";
  const [calendar] = docsOf(await admin.pull(), "calendar");
  await admin.act("set_calendar", { calendar: { ...calendar, week: Array.from({ length: 7 }, () => [{ from: 0, to: 1440 }]) } });
  const order = await admin.act("open_order", { number: "5901", vehicle: "grey saloon", stage: "authorised", promise: Date.now() + 36 * 3_600_000 });
  const seal = await admin.act("add_card", { order, department: "body", title: { text: SEAL }, planned_minutes: 40 });
  await admin.act("move", { order, to: "lift-2" });
  const people = [await admin.person("Sunniva Drax", "body", "technician"), await admin.person("Mihkel Arro", "mechanical", "technician")];
  const phones = [];
  for (const [i, { link }] of people.entries()) {
    await install(`turn-${i}`);
    const browser = await device(`turn-${i}`);
    const live = [];
    const own = await openAs(browser, link);
    own.page.on("response", (answer) => answer.url().includes("/api/v1/live") && live.push(answer.status()));
    phones.push({ ...own, live });
  }
  const [body, mechanic] = phones;
  for (const { page } of phones) {
    await anew(page, order);
    assert.equal(await page.evaluate(() => isSecureContext && Boolean(navigator.serviceWorker.controller)), true);
    await cardOf(page, SEAL).waitFor();
    // From here on nothing is loaded anew: what comes to the page comes by the live channel.
    await page.evaluate(() => (globalThis.stays = true));
  }
  await until("both live channels", () => phones.every(({ live }) => live.at(-1) === 200));

  // Asked with a photo and no network, loaded anew without one.
  await away(body.page);
  await ask(body.page, SEAL);
  await body.page.locator("main input[type=file]").setInputFiles(await smallPicture(body.page, "#883322"));
  await waiting(body.page, 2);
  await anew(body.page, order);
  await cardOf(body.page, SEAL).waitFor();
  await body.context.setOffline(false);
  await allSent(body.page);
  const photo = await until("the picture's bytes", async () => docsOf(await admin.pull(), "photo").find((one) => one.order === order && one.here));
  await body.page.evaluate(() => (globalThis.stays = true));

  // The other sees it come, the picture too, and takes it down.
  await take(mechanic.page, "Take the rear suspension down");
  const img = mechanic.page.locator(".picture img").first();
  await img.scrollIntoViewIfNeeded();
  await until("the picture", () => img.evaluate((one) => one.complete && one.naturalWidth > 0));
  assert.ok((await img.getAttribute("src")).includes(photo.sha256), "from the server");
  await button(mechanic.page.locator("main"), "Start").click();
  await finish(mechanic.page);
  await openLine(body.page, DOWN).waitFor();

  // Sealed inside, refitted, aligned: back with who asked.
  for (const [{ page }, titles] of [[body, [SEAL]], [mechanic, ["Refit the rear suspension", "Alignment"]]]) {
    for (const title of titles) {
      await take(page, title);
      await button(page.locator("main"), "Start").click();
      await finish(page);
    }
  }
  await openLine(body.page, DOWN).waitFor({ state: "detached" });
  for (const { page } of phones) await allSent(page);
  for (const { page } of phones) assert.equal(await page.evaluate(() => globalThis.stays), true, "never loaded anew");
  const handoff = docsOf(await admin.pull(), "handoff").find((one) => one.order === order);
  assert.deepEqual([handoff.life, handoff.asked_by, handoff.taken_by, handoff.for_card], ["handed_back", people[0].id, people[1].id, seal]);

  // The server dies; both apps open all the same, and what is done reaches the next one.
  const gone = once(server, "exit");
  server.kill("SIGKILL");
  await gone;
  for (const [i, { page }] of phones.entries()) {
    await anew(page, order);
    await note(page, `while nobody listened, ${i}`);
    await waiting(page, 1);
  }
  await serve(new URL(base).host, new URL(onboarding).host);
  for (const { page } of phones) await allSent(page);
  for (const { page } of phones) await same(page, admin);
  assert.deepEqual(docsOf(await admin.pull(), "note").map((one) => one.body).sort(), ["while nobody listened, 0", "while nobody listened, 1"]);
  for (const [{ page, errors }, n] of [[body, 6], [mechanic, 10]]) {
    const found = await stored(page);
    assert.deepEqual(numbers(found, found.meta.signed_in.client), oneTo(n));
    assert.deepEqual(errors, []);
  }
});
