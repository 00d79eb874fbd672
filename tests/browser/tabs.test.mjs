// Two tabs of one sign-in: one of them speaks to the server, both show and do the same.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { allSent, network, note, notesAt, numbers, oneTo, stored, through, toVehicle } from "./phone.mjs";
import { Api, browser, openAs, start, until } from "./support.mjs";

let server, net, chrome, admin;

before(async () => {
  server = await start("serve");
  net = await network(server.base);
  admin = await Api.join(server.base, server.links.admin);
  chrome = await browser();
});

after(async () => {
  await chrome?.close();
  net?.stop();
  server?.stop();
});

test("two tabs: the same on both, one live channel, the other takes over", { timeout: 180_000 }, async () => {
  const order = await admin.act("open_order", { number: "5101", vehicle: "blue van", stage: "authorised" });
  const person = await admin.person("Renske Aalto", "body", "technician");
  const { context, page: first, errors } = await openAs(chrome, through(net, person.link));
  const second = await context.newPage();
  second.on("pageerror", (error) => errors.push(String(error)));
  await second.goto(net.base);
  for (const page of [first, second]) await toVehicle(page, order);
  await until("the live channel", () => net.live.size > 0);

  // What one does the other shows, whoever of the two leads.
  await note(first, "from the first");
  await second.getByText("from the first").waitFor();
  await note(second, "from the second");
  await first.getByText("from the second").waitFor();
  await admin.act("note", { order, body: "from the office" });
  await Promise.all([first, second].map((page) => page.getByText("from the office").waitFor()));
  assert.equal(net.live.size, 1, "two tabs, one live channel");
  await allSent(first);

  // No network: both go on, at the same moment too, and each shows what the other did.
  await context.setOffline(true);
  net.drop();
  const away = (who, page) => async () => {
    for (const i of oneTo(4)) await note(page, `away, ${who} ${i}`);
  };
  await Promise.all([away("first", first)(), away("second", second)()]);
  for (const page of [first, second]) {
    await page.getByText("8 not sent", { exact: true }).first().waitFor();
    for (const who of ["first", "second"]) await page.getByText(`away, ${who} 4`).waitFor();
  }
  const { client } = (await stored(first)).meta.signed_in;
  assert.deepEqual(numbers(await stored(second), client), oneTo(10), "one number each, whichever tab gave it");
  await context.setOffline(false);
  await allSent(first);
  const away8 = ["first", "second"].flatMap((who) => oneTo(4).map((i) => `away, ${who} ${i}`));
  assert.deepEqual(await notesAt(admin), [...away8, "from the first", "from the office", "from the second"].sort());
  for (const page of [first, second]) {
    await page.locator('.status a[href="/tray"]').waitFor({ state: "hidden" });
  }
  // The same words in the same order; only times that tick are read at two moments.
  const said = (page) => page.locator("main").innerText();
  await until("the same on both", async () => (await said(first)) === (await said(second)));

  // The first tab came first and leads; it is closed, and the second speaks for itself.
  await until("one channel again", () => net.live.size === 1);
  await first.close();
  await note(second, "after the first was closed");
  await until("the note", async () => (await notesAt(admin)).includes("after the first was closed"));
  await admin.act("note", { order, body: "heard by the one that is left" });
  await second.getByText("heard by the one that is left").waitFor();
  await until("one channel", () => net.live.size === 1);
  assert.deepEqual(numbers(await stored(second), client), oneTo(11));
  assert.deepEqual(errors, []);
  await context.close();
});
