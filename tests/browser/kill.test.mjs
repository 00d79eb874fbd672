// The app is killed while it writes, again and again: the page's process, and the whole browser. What the app
// said was kept is there when it is opened again, and arrives once, under numbers without a gap.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { chromium } from "playwright-core";
import { allSent, notesAt, numbers, oneTo, stored, toVehicle } from "./phone.mjs";
import { Api, browser, openAs, start, until } from "./support.mjs";

let server, admin, order;

before(async () => {
  server = await start("serve");
  admin = await Api.join(server.base, server.links.admin);
  order = await admin.act("open_order", { number: "5301", vehicle: "red coupe", stage: "authorised" });
});

after(() => server?.stop());

/** Notes one after the other as fast as the app lets itself be used; `said` hears of each that was kept. */
async function writing(page, round, said) {
  await page.exposeBinding("told", (_, text) => void said.push(text));
  // Not awaited: the page dies in the middle of it.
  void page
    .evaluate(async (round) => {
      const buttons = (at) => [...at.querySelectorAll("button")];
      const until = (what) =>
        new Promise((done) => {
          const look = () => (what() ? done(what()) : setTimeout(look, 0));
          look();
        });
      for (let i = 1; ; i++) {
        const text = `round ${round}, note ${i}`;
        buttons(document.querySelector("main")).filter((one) => one.textContent === "Note").at(-1).click();
        const field = await until(() => document.querySelector("dialog[open] textarea"));
        field.value = text;
        field.dispatchEvent(new Event("input", { bubbles: true }));
        const save = await until(() => buttons(document.querySelector("dialog")).find((one) => one.textContent === "Save" && !one.disabled));
        // The sheet is put away once the note is kept.
        const away = new Promise((done) => document.querySelector("dialog").addEventListener("close", done, { once: true }));
        save.click();
        await away;
        window.told(text);
      }
    }, round)
    .catch(() => undefined);
}

/** What is on the phone or at the server now, against what was said. */
async function check(page, said, { delivered }) {
  const found = await stored(page);
  const { client } = found.meta.signed_in;
  const given = numbers(found, client);
  assert.deepEqual(given, oneTo(given.length), "a gap in the numbers");
  assert.equal(found.meta[`n:${client}`] ?? 0, given.length, "the counter and the acts were stored together");
  const here = [...found.journal, ...found.outbox].filter((row) => row.client === client && row.op.kind === "note");
  const bodies = new Map(here.map((row) => [row.n, row.op.args.body]));
  for (const text of said) assert.equal([...bodies.values()].filter((one) => one === text).length, 1, `${text}, which was said to be kept`);
  if (!delivered) return given.length;
  const arrived = await notesAt(admin);
  assert.deepEqual(arrived, [...bodies.values()].sort(), "at the server exactly what the phone wrote");
  assert.equal(new Set(arrived).size, arrived.length, "nothing twice");
  const last = await page.evaluate((client) => fetch(`/api/v1/sync/pull?after=0&client=${client}`).then((r) => r.json()), client);
  assert.equal(last.last_n, given.length);
  return given.length;
}

/** Moments spread over what one note takes, the same every time. */
const moments = (rounds) => oneTo(rounds).map((i) => ({ kept: 1 + (i % 3), ms: (i * 37) % 61 }));

async function goneOn(said, { kept, ms }) {
  const before = said.length;
  await until("some notes", () => said.length - before >= kept);
  await new Promise((resolve) => setTimeout(resolve, ms));
}

test("the page's process is killed at many moments of writing", { timeout: 300_000 }, async (t) => {
  const chrome = await browser();
  t.after(() => chrome.close());
  const person = await admin.person("Odile Brandt", "body", "technician");
  const { context, page: opened } = await openAs(chrome, person.link);
  const said = [];
  let page = opened;
  for (const [round, moment] of moments(12).entries()) {
    // Every other round without the network: then all of it waits on the phone.
    await context.setOffline(round % 2 === 1);
    await toVehicle(page, order);
    await writing(page, round, said);
    await goneOn(said, moment);
    const crashed = page.waitForEvent("crash");
    const tools = await context.newCDPSession(page);
    void tools.send("Page.crash").catch(() => undefined);
    await crashed;
    await page.close();
    page = await context.newPage();
    await page.goto(server.base);
    await page.locator("nav.bar").waitFor();
    await check(page, said, { delivered: false });
  }
  await context.setOffline(false);
  await allSent(page);
  const all = await check(page, said, { delivered: true });
  assert.ok(said.length >= 20, `${said.length} notes were said to be kept`);
  assert.ok(all >= said.length);
});

/** A browser of its own with a profile on the disk, killed and begun again. */
async function process_(profile) {
  const child = spawn("/usr/bin/chromium", ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--remote-debugging-port=0", `--user-data-dir=${profile}`, "about:blank"],
  { stdio: "ignore", detached: true });
  const port = join(profile, "DevToolsActivePort");
  const number = await until("the browser", () => existsSync(port) && /^\d+\n/.exec(readFileSync(port, "utf8"))?.[0].trim());
  const chrome = await until("its tools", () => chromium.connectOverCDP(`http://127.0.0.1:${number}`).catch(() => undefined));
  return { child, chrome, context: chrome.contexts()[0], forget: () => rmSync(port, { force: true }) };
}

/** Whether any process was begun with this profile. */
const alive = (profile) =>
  readdirSync("/proc").some((pid) => {
    try {
      return /^\d+$/.test(pid) && readFileSync(`/proc/${pid}/cmdline`, "utf8").includes(profile);
    } catch {
      return false; // it has just ended
    }
  });

test("the whole browser is killed while it writes", { timeout: 300_000 }, async () => {
  const profile = mkdtempSync(join(tmpdir(), "turnbuckle-profile-"));
  const before = await notesAt(admin);
  const person = await admin.person("Yannis Copper", "body", "technician");
  const said = [];
  let running = await process_(profile);
  try {
    let page = await running.context.newPage();
    await page.goto(person.link);
    await page.getByRole("button", { name: /^(Sign in as|Entrar como) / }).click();
    for (const [round, moment] of moments(4).entries()) {
      await page.locator("nav.bar").waitFor();
      await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
      await toVehicle(page, order);
      await running.context.setOffline(round % 2 === 0);
      await writing(page, `browser ${round}`, said);
      await goneOn(said, moment);
      const gone = new Promise((resolve) => running.child.on("exit", resolve));
      running.child.kill("SIGKILL");
      await gone;
      running.forget();
      running = await process_(profile);
      page = await running.context.newPage();
      await page.goto(server.base);
      await page.locator("nav.bar").waitFor();
      const found = await stored(page);
      const { client } = found.meta.signed_in;
      const given = numbers(found, client);
      assert.deepEqual(given, oneTo(given.length), "a gap in the numbers");
      const bodies = [...found.journal, ...found.outbox].map((row) => row.op.args.body);
      for (const text of said) assert.ok(bodies.includes(text), `${text}, which was said to be kept`);
    }
    // A browser writes cookies to the disk much later than it is told to: with it the sign-in may have died.
    const signIn = page.getByText(/Sign in to send \d+ things?\./).first();
    if (await until("an answer", async () => (await signIn.isVisible()) || ((await stored(page)).outbox.length === 0 && "sent")) === true) {
      const { client } = (await stored(page)).meta.signed_in;
      await signIn.click();
      await page.getByLabel("Link or code").fill((await admin.post("/api/v1/auth/invite", { person: person.id })).link);
      await page.getByRole("button", { name: "Sign in", exact: true }).first().click();
      await until("the same client", async () => (await stored(page)).outbox.length === 0);
      assert.equal((await stored(page)).meta.signed_in.client, client, "the same client goes on");
    }
    const arrived = (await notesAt(admin)).filter((one) => !before.includes(one));
    assert.equal(new Set(arrived).size, arrived.length, "nothing twice");
    for (const text of said) assert.ok(arrived.includes(text), `${text} has arrived`);
    const found = await stored(page);
    assert.deepEqual(numbers(found, found.meta.signed_in.client), oneTo(arrived.length), "one number each");
    assert.deepEqual(found.tray, []);
  } finally {
    // With all it has begun, or one of them still writes into the folder that is taken away.
    process.kill(-running.child.pid, "SIGKILL");
    await until("the end of the browser", () => !alive(profile));
    rmSync(profile, { recursive: true, force: true, maxRetries: 20 });
  }
});
