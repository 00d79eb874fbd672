// Another build at the server while old tabs are open: they go on, also with parts they had not loaded yet,
// until somebody taps; then the new build is there and nothing that was not sent is lost.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { allSent, button, docsOf, network, note, notesAt, numbers, oneTo, stored, through, toVehicle } from "./phone.mjs";
import { Api, browser, openAs, start, until } from "./support.mjs";

/** What the build names after its content: in another build every one of them has another name. */
const ASSET = /([A-Za-z0-9_]+-[A-Za-z0-9_-]{8})(\.next)?\.(js|css)\b/g;
const BUILD = /(\d+\.\d+\.\d+)-[0-9a-f]{8}/g;

let server, net, chrome, admin;
let [next, refuse] = [false, () => false];

before(async () => {
  server = await start("serve");
  net = await network(server.base, {
    answer: (asked) => {
      if (refuse(asked.url)) return 503;
      // A server has the files of its own build and no others.
      return asked.url.startsWith("/assets/") && asked.url.includes(".next.") !== next ? 404 : undefined;
    },
    path: (url) => url.replace(".next.", "."),
    text: (url, text) => (next ? text.replace(ASSET, "$1.next.$3").replace(BUILD, "$1-feedbeef") : text),
  });
  admin = await Api.join(server.base, server.links.admin);
  chrome = await browser();
});

after(async () => {
  await chrome?.close();
  net?.stop();
  server?.stop();
});

/** Which builds have spoken since `from`. */
const builds = (from) => new Set(net.seen.slice(from).map((one) => one.headers["x-turnbuckle-build"]).filter(Boolean));

test("a newer build with two old tabs open: nothing changes until a tap, nothing is lost by it", { timeout: 240_000 }, async () => {
  const order = await admin.act("open_order", { number: "5401", vehicle: "white van", stage: "authorised" });
  const person = await admin.person("Marit Solheim", "body", "technician");
  const { context, page, errors } = await openAs(chrome, through(net, person.link));
  await toVehicle(page, order);
  await note(page, "by the old build");
  await allSent(page);
  const [old] = builds(0);
  assert.match(old, /^\d+\.\d+\.\d+-[0-9a-f]{8}$/);

  // The server is stopped and another build is there; what phones send does not get through for now.
  refuse = (url) => url.startsWith("/api/v1/sync/push");
  next = true;
  net.drop();
  const from = net.seen.length;
  await note(page, "unsent, in the old build");

  // A second tab is opened: the browser looks for a newer worker. It gets the old build and works.
  const second = await context.newPage();
  second.on("pageerror", (error) => errors.push(String(error)));
  await second.goto(net.base);
  await toVehicle(second, order);
  await Promise.all([page, second].map((tab) => button(tab, "Update ready: tap to change over").waitFor()));
  await note(second, "unsent, in the second old tab");
  // A part that this tab had never loaded is there, though the server has it under another name only.
  await page.locator('.status a[href="/tray"]', { hasText: "2 not sent" }).click();
  await page.getByRole("heading", { name: "Waiting to be sent" }).waitFor();
  await page.locator('nav.bar a[href="/me"]').click();
  await page.getByRole("button", { name: "Sign out" }).last().waitFor();
  assert.deepEqual(builds(from), new Set([old]), "only the old build has spoken");

  // Half a note in the one tab while the other changes over.
  await second.locator("main").getByRole("button", { name: "Note", exact: true }).last().click();
  await second.locator("dialog textarea").fill("half a note");
  await until("the draft", async () => (await stored(second)).drafts.some((one) => JSON.stringify(one.value).includes("half a note")));
  const tapped = net.seen.length;
  const anew = Promise.all([page, second].map((tab) => tab.waitForEvent("load")));
  await button(page, "Update ready: tap to change over").click();
  await anew;
  for (const tab of [page, second]) {
    await tab.locator('.status a[href="/tray"]', { hasText: "2 not sent" }).waitFor();
    const scripts = await tab.evaluate(() => [...document.scripts].map((one) => one.src));
    assert.ok(scripts.length && scripts.every((one) => one.includes(".next.")), String(scripts));
    assert.equal(await button(tab, "Update ready: tap to change over").count(), 0);
  }
  await until("the new build to speak", () => [...builds(tapped)].some((one) => one.endsWith("-feedbeef")));
  assert.deepEqual([...(await stored(page)).outbox].map((row) => row.op.args.body).sort(), ["unsent, in the old build", "unsent, in the second old tab"]);
  await toVehicle(second, order);
  await second.locator("main").getByRole("button", { name: "Note", exact: true }).last().click();
  await until("the half note", async () => (await second.locator("dialog textarea").inputValue()) === "half a note");
  await second.locator("dialog").getByRole("button", { name: "Save", exact: true }).click();

  refuse = () => false;
  await allSent(page);
  assert.deepEqual(await notesAt(admin), ["by the old build", "half a note", "unsent, in the old build", "unsent, in the second old tab"]);
  const found = await stored(page);
  assert.deepEqual(numbers(found, found.meta.signed_in.client), oneTo(4));
  assert.ok(docsOf(await admin.pull(), "note").every((one) => one.by === person.id));

  // The new build opens without a network too.
  await context.setOffline(true);
  await page.reload();
  await page.locator("nav.bar").waitFor();
  await toVehicle(page, order);
  await page.getByText("half a note").first().waitFor();
  assert.deepEqual(errors, []);
  await context.close();
});
