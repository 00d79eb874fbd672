// Two releases at once, over every set in tests/fixtures: yesterday's app before today's server, and today's
// app on what yesterday's left on a phone. Both times work that was not sent is in it, and all of it arrives.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { extname, join, normalize } from "node:path";
import { after, before, test } from "node:test";
import { cookiesOf, goOn, recreate, sets } from "../fixtures/set.mjs";
import { airplane, allSent, anew, docsOf, network, note, notesAt, numbers, same, smallPicture, stored, through, toVehicle, waiting } from "./phone.mjs";
import { Api, browser, openAs, start, until } from "./support.mjs";

const TYPES = {
  ".html": "text/html; charset=utf-8",
  ".js": "text/javascript; charset=utf-8",
  ".css": "text/css; charset=utf-8",
  ".webmanifest": "application/manifest+json",
  ".svg": "image/svg+xml",
  ".png": "image/png",
};

let chrome;
before(async () => (chrome = await browser()));
after(() => chrome?.close());

/**
 * Today's server on a copy of the set's directory, and a network before it. With `old`, the network gives
 * yesterday's app for every address of the app, its service worker included; the server only ever hears of
 * `/api/`. So it is as on a phone that has not changed over yet.
 */
async function shopOf(set, { old }) {
  const data = set.unpack("data");
  const app = old ? set.unpack("app") : undefined;
  const server = await start("serve", { data: join(data.dir, "data") });
  const file = (url) => {
    const { pathname } = new URL(url, "http://shop.example");
    if (pathname.startsWith("/api/")) return undefined;
    const name = extname(pathname) ? normalize(pathname) : "/index.html";
    try {
      const headers = { "content-type": TYPES[extname(name)], "content-security-policy": set.policy, "cache-control": "no-cache" };
      return { headers, body: readFileSync(join(app.dir, name)) };
    } catch {
      return 404;
    }
  };
  const shop = { refuses: [] };
  const net = await network(server.base, {
    answer: ({ url }) => (shop.refuses.some((path) => url.startsWith(path)) ? 503 : old ? file(url) : undefined),
  });
  const admin = await goOn(new Api(), server.base, set, "admin");
  return Object.assign(shop, {
    net,
    admin,
    stop() {
      net.stop();
      server.stop();
      data.gone();
      app?.gone();
    },
  });
}

/** The phone as it lay there: its database and cookies are made anew before any app runs; then the app opens. */
async function phoneOf(set, shop) {
  const { net } = shop;
  const kept = set.phone();
  const context = await chrome.newContext({ viewport: { width: 390, height: 844 }, locale: "en-US" });
  context.setDefaultTimeout(20_000);
  const jar = cookiesOf(set, "phone").map((one) => ({ ...one, domain: new URL(net.base).hostname, httpOnly: true, sameSite: "Strict" }));
  await context.addCookies(jar);
  const page = await context.newPage();
  const errors = [];
  page.on("pageerror", (error) => errors.push(String(error)));
  await page.goto(`${net.base}/api/v1/nothing`);
  await page.evaluate(recreate, kept);
  // Seen first, then sent: nothing of it is forgotten by opening. The picture comes after its record.
  shop.refuses = ["/api/v1/sync/push", "/api/v1/photos"];
  await page.goto(net.base);
  await waiting(page, kept.stores.outbox.rows.length);
  assert.equal(docsOf(await shop.admin.pull(), "note").filter((one) => one.by === set.people.phone.person).length, 1);
  shop.refuses = ["/api/v1/photos"];
  await allSent(page);
  shop.refuses = [];
  return { context, page, errors, kept };
}

/** Everything of the kept outbox has been done at the server, as it was meant, and the phone knows. */
async function allOfIt({ page, kept, errors }, admin, set) {
  const rows = kept.stores.outbox.rows.map(({ value }) => value);
  assert.deepEqual(rows.map((row) => row.op.kind), ["note", "take", "start", "photo"]);
  const found = await stored(page);
  const verdicts = found.journal.filter((row) => rows.some(({ op }) => op.id === row.op.id)).map((row) => row.result.verdict);
  assert.deepEqual(verdicts, rows.map(() => "applied"));
  const known = numbers(found, set.people.phone.client);
  // What was acknowledged before may be older than a phone remembers.
  assert.deepEqual(known.slice(-rows.length), rows.map((row) => row.n));

  const [said, , began, taken] = rows.map((row) => row.op);
  const photo = await until("the picture's bytes", async () => docsOf(await admin.pull(), "photo").find((one) => one.sha256 === taken.args.sha256 && one.here));
  assert.deepEqual([photo.by, photo.bytes], [set.people.phone.person, taken.args.bytes]);
  const { docs } = await admin.pull();
  const card = docs[`card/${began.args.card}`];
  assert.deepEqual([card.life, card.taken_by, card.spans.length], ["working", set.people.phone.person, 1]);
  assert.deepEqual([docs[`note/${said.id}`].body, docs[`note/${said.id}`].by], [said.args.body, set.people.phone.person]);
  // Older apps let go of a picture at once, later ones keep their own for some days.
  await until("the phone to know that the picture is there", async () => (await stored(page)).photos.every((photo) => photo.sent));
  // What was refused before is still told, and what was being written is still there.
  assert.deepEqual((await stored(page)).tray.map((row) => row.op.id), kept.stores.tray.rows.map(({ value }) => value.op.id));
  assert.deepEqual((await stored(page)).drafts, kept.stores.drafts.rows.map(({ value }) => value));
  await same(page, admin);
  assert.deepEqual(errors, []);
  return said.args.order;
}

/** The app by its own word: what every request of it says. */
const builds = (net) => [...new Set(net.seen.map((one) => one.headers["x-turnbuckle-build"]).filter(Boolean))];

for (const set of sets()) {
  test(`${set.name}: that app before today's server, with what it had not sent, and for somebody new`, { timeout: 120_000 }, async () => {
    const shop = await shopOf(set, { old: true });
    try {
      const phone = await phoneOf(set, shop);
      const order = await allOfIt(phone, shop.admin, set);
      await phone.context.close();

      // By a link of today, then a while without a network, the app loaded anew in it.
      const { link } = await shop.admin.post("/api/v1/auth/invite", { person: set.people.painter.person });
      const fresh = { net: shop.net, ...(await openAs(chrome, through(shop.net, link), { byItself: true })) };
      const { page, context, errors } = fresh;
      await toVehicle(page, order);
      await airplane(fresh, true);
      await note(page, "the day after, by yesterday's app");
      await waiting(page, 1);
      await anew(page, order);
      await page.locator("main input[type=file]").setInputFiles(await smallPicture(page, "#225533"));
      await waiting(page, 2);
      await airplane(fresh, false);
      await allSent(page);
      const by = (one) => one.by === set.people.painter.person && one.order === order;
      await until("the picture's bytes", async () => docsOf(await shop.admin.pull(), "photo").some((one) => by(one) && one.here));
      assert.deepEqual(docsOf(await shop.admin.pull(), "note").filter(by).map((one) => one.body), ["the day after, by yesterday's app"]);
      await same(page, shop.admin);
      assert.deepEqual(errors, []);
      assert.deepEqual(builds(shop.net), [set.build]);
      await context.close();
    } finally {
      shop.stop();
    }
  });

  test(`${set.name}: today's app on what that one had left on a phone`, { timeout: 120_000 }, async () => {
    const shop = await shopOf(set, { old: false });
    try {
      const phone = await phoneOf(set, shop);
      const order = await allOfIt(phone, shop.admin, set);
      // And it goes on: the words that were begun are in the sheet, and the next number is the next one.
      const { page, context, errors } = phone;
      await toVehicle(page, order);
      await page.locator("main").getByRole("button", { name: "Note", exact: true }).last().click();
      await until("the draft", async () => (await page.locator("dialog textarea").inputValue()) === "half a sentence");
      await page.locator("dialog").getByRole("button", { name: "Save", exact: true }).click();
      await page.locator("dialog[open]").waitFor({ state: "hidden" });
      await allSent(page);
      assert.ok((await notesAt(shop.admin)).includes("half a sentence"));
      assert.equal(numbers(await stored(page), set.people.phone.client).at(-1), set.people.phone.n + 1);
      assert.deepEqual(errors, []);
      assert.equal(builds(shop.net).length, 1);
      await context.close();
    } finally {
      shop.stop();
    }
  });
}
