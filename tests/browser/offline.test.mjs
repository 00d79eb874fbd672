// Airplane mode: a whole turn on one phone without a network, the app loaded anew between the steps; then two
// phones at once. Once the network is back both phones and the server have the same.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { airplane, allSent, anew, ask, button, cardOf, docsOf, finish, network, note, numbers, oneTo, openLine, same, smallPicture, stored, take, through, toVehicle, waiting } from "./phone.mjs";
import { Api, browser, openAs, start, until } from "./support.mjs";

let server, chrome, admin;

before(async () => {
  server = await start("serve");
  admin = await Api.join(server.base, server.links.admin);
  // Everybody is on shift whenever the test runs.
  const week = Array.from({ length: 7 }, () => [{ from: 0, to: 1440 }]);
  const [calendar] = docsOf(await admin.pull(), "calendar");
  await admin.act("set_calendar", { calendar: { ...calendar, week } });
  chrome = await browser();
});

const nets = [];

after(async () => {
  await chrome?.close();
  for (const net of nets) net.stop();
  server?.stop();
});

/** A phone with a line of its own to the server. */
async function phone({ link }) {
  const net = await network(server.base);
  nets.push(net);
  return { net, ...(await openAs(chrome, through(net, link))) };
}

const SEAL = "Seal wheelhouse seam";
const DOWN = "suspension down, rear";

async function aVehicle(number, lift) {
  const order = await admin.act("open_order", { number, vehicle: "grey saloon", stage: "authorised", promise: Date.now() + 36 * 3_600_000 });
  const seal = await admin.act("add_card", { order, department: "body", title: { text: SEAL }, planned_minutes: 40 });
  await admin.act("move", { order, to: lift });
  return { order, seal };
}

/** Server's documents of one kind about one vehicle. */
const of = (pulled, kind, order) => docsOf(pulled, kind).filter((one) => one.order === order);

const step = (pulled, order, name) => of(pulled, "card", order).find((one) => one.step === name);

const kinds = async (page) => (await stored(page)).outbox.map((row) => row.op.kind);

test("a whole turn on one phone in airplane mode, loaded anew between the steps", { timeout: 240_000 }, async () => {
  const { order, seal } = await aVehicle("5201", "lift-2");
  // A small shop: one person does both sides of the hand-off.
  const person = await admin.person("Henrik Sorby", "body", "technician");
  await admin.act("set_person", { person: { id: person.id, name: "Henrik Sorby", department: "body", also: ["mechanical"], role: "technician", language: "en" } });
  const own = await phone(person);
  const { page, context, errors } = own;
  await toVehicle(page, order);
  await cardOf(page, SEAL).waitFor();
  await until("the second department", async () => (await stored(page)).docs.some((one) => one.key === `person/${person.id}` && one.body.also?.includes("mechanical")));
  const before = (await admin.pull()).docs;
  await airplane(own, true);
  const main = page.locator("main");
  let acts = 0;
  /** Seen on the screen, and on the screen of an app that knows only what the phone has kept. */
  const kept = async () => {
    await waiting(page, ++acts);
    await anew(page, order);
    await waiting(page, acts);
  };

  await ask(page, SEAL);
  await kept();
  // What was asked for is on this phone at once, under the names it will have at the server.
  await page.getByText("Asked for by you; the server has not said yes yet.").waitFor({ state: "detached" });
  const picture = await smallPicture(page, "#883322");
  await main.locator("input[type=file]").setInputFiles(picture);
  await page.getByText("On this phone, not sent yet.").waitFor();
  await kept();
  await page.getByText("On this phone, not sent yet.").waitFor();
  await until("the picture", () => page.locator(".picture img").first().evaluate((img) => img.complete && img.naturalWidth > 0));

  // Take it down: the vehicle is open.
  await take(page, "Take the rear suspension down");
  await page.getByText("Asked for by you; the server has not said yes yet.").first().waitFor();
  await kept();
  await button(main, "Start").click();
  await kept();
  await note(page, "both bolts seized, heated");
  await kept();
  assert.equal(await openLine(page, DOWN).count(), 0);
  await finish(page);
  await openLine(page, DOWN).waitFor();
  await kept();
  await openLine(page, DOWN).waitFor();

  // Seal inside, then close it and align.
  await take(page, SEAL);
  await kept();
  await button(main, "Start").click();
  await kept();
  await finish(page);
  await kept();
  await take(page, "Refit the rear suspension");
  await kept();
  await button(main, "Start").click();
  await kept();
  await finish(page);
  await kept();
  assert.equal(await openLine(page, DOWN).count(), 0);
  await take(page, "Alignment");
  await kept();
  await button(main, "Start").click();
  await kept();
  await finish(page);
  await kept();
  const did = ["ask", "photo", "take", "start", "note", "finish", ...Array(3).fill(["take", "start", "finish"]).flat()];
  assert.deepEqual(await kinds(page), did);
  assert.deepEqual((await admin.pull()).docs, before, "nothing has left the phone");
  const asked = (await stored(page)).outbox[0].op;

  await airplane(own, false);
  await allSent(page);
  await until("the picture's bytes", async () => of(await admin.pull(), "photo", order).some((one) => one.here));
  await same(page, admin);
  const pulled = await admin.pull();
  for (const card of [step(pulled, order, "drop"), pulled.docs[`card/${seal}`], step(pulled, order, "refit"), step(pulled, order, "align")]) {
    assert.deepEqual([card.life, card.taken_by, card.done_by, card.spans.length], ["done", person.id, person.id, 1], card.title.text);
  }
  const [handoff, ...more] = of(pulled, "handoff", order);
  assert.deepEqual([handoff.id, handoff.life, handoff.for_card, more], [asked.id, "handed_back", seal, []]);
  assert.deepEqual(pulled.docs[`order/${order}`].open, []);
  assert.deepEqual(of(pulled, "note", order).map((one) => one.body), ["both bolts seized, heated"]);
  assert.equal(of(pulled, "photo", order).length, 1);
  const found = await stored(page);
  assert.deepEqual(numbers(found, found.meta.signed_in.client), oneTo(did.length));
  // Nothing was refused. The sealer cures for an hour that nobody can wait for here: what happened is
  // recorded all the same, with an owner, and said on the phone.
  const refit = step(pulled, order, "refit");
  assert.deepEqual(of(pulled, "exception", order).map((one) => [one.kind, one.card, one.by]), [["started_early", refit.id, person.id]]);
  assert.deepEqual(found.tray.map((row) => [row.code, row.op.kind, row.op.args.card]), [["recorded", "start", refit.id]]);
  assert.deepEqual(errors, []);
  await context.close();
});

test("two phones in airplane mode work on one vehicle: in the end all three have the same", { timeout: 240_000 }, async () => {
  const { order, seal } = await aVehicle("5202", "lift-1");
  const [bodyTech, mech] = [await admin.person("Alva Reyes", "body", "technician"), await admin.person("Otis Brandvold", "mechanical", "technician")];
  const body = await phone(bodyTech);
  const mechanic = await phone(mech);
  for (const { page } of [body, mechanic]) await toVehicle(page, order);

  // Asked without a network, loaded anew without one, and sent when it is back.
  await airplane(body, true);
  await ask(body.page, SEAL);
  await waiting(body.page, 1);
  await anew(body.page, order);
  await waiting(body.page, 1);
  assert.deepEqual(of(await admin.pull(), "handoff", order), []);
  await airplane(body, false);
  await allSent(body.page);
  await button(mechanic.page.locator("main"), "Take").waitFor();

  // Now both are away, and go on: the one under the vehicle, the other beside it.
  for (const one of [body, mechanic]) await airplane(one, true);
  await button(mechanic.page.locator("main"), "Take").click();
  await waiting(mechanic.page, 1);
  await note(body.page, "seam is cleaned and masked");
  await button(mechanic.page.locator("main"), "Start").click();
  await waiting(mechanic.page, 2);
  await anew(mechanic.page, order);
  await note(mechanic.page, "left link will be renewed");
  await finish(mechanic.page);
  await waiting(mechanic.page, 4);
  await anew(body.page, order);
  await note(body.page, "waiting for the lift");
  await waiting(body.page, 2);

  // Back at the same time; nothing is lost, doubled, or different anywhere.
  await Promise.all([body, mechanic].map((one) => airplane(one, false)));
  for (const { page } of [body, mechanic]) await allSent(page);
  for (const { page } of [body, mechanic]) await same(page, admin);
  const pulled = await admin.pull();
  const drop = step(pulled, order, "drop");
  assert.deepEqual([drop.life, drop.done_by, drop.spans.length], ["done", mech.id, 1]);
  assert.equal(of(pulled, "handoff", order).length, 1);
  assert.notEqual(pulled.docs[`card/${seal}`].life, "done");
  const said = of(pulled, "note", order).map((one) => one.body).sort();
  assert.deepEqual(said, ["left link will be renewed", "seam is cleaned and masked", "waiting for the lift"]);
  for (const [{ page, errors }, n] of [[body, 3], [mechanic, 4]]) {
    await openLine(page, DOWN).waitFor();
    const found = await stored(page);
    assert.deepEqual(numbers(found, found.meta.signed_in.client), oneTo(n));
    assert.deepEqual([found.tray, errors], [[], []]);
  }
  await body.context.close();
  await mechanic.context.close();
});

test("both ask and both take the same without knowing: one is joined, one is told who was first", { timeout: 240_000 }, async () => {
  const { order } = await aVehicle("5203", "bay-1");
  const sill = await admin.act("add_card", { order, department: "body", title: { text: "Treat the inner sill" }, planned_minutes: 30 });
  const [wanda, leif] = [await admin.person("Wanda Ostrow", "body", "technician"), await admin.person("Leif Tangen", "body", "technician")];
  const [first, other] = [await phone(wanda), await phone(leif)];
  const phones = [first, other];
  for (const { page } of phones) await toVehicle(page, order);
  for (const { page } of phones) await cardOf(page, "Treat the inner sill").waitFor();
  for (const one of phones) await airplane(one, true);
  await ask(first.page, SEAL);
  await ask(other.page, SEAL);
  for (const { page } of phones) {
    await take(page, "Treat the inner sill");
    await waiting(page, 2);
    await anew(page, order);
    await waiting(page, 2);
  }

  // The first one back is first, whoever tapped earlier.
  await airplane(other, false);
  await allSent(other.page);
  await airplane(first, false);
  await allSent(first.page);
  for (const { page } of phones) await same(page, admin);
  const pulled = await admin.pull();
  // One going up for both: the hand-off that came second has joined the other's.
  const [drop, ...twice] = of(pulled, "card", order).filter((one) => one.step === "drop");
  assert.deepEqual(twice, []);
  const hands = new Map(of(pulled, "handoff", order).map((one) => [one.asked_by, one]));
  assert.deepEqual([hands.get(leif.id).joined, hands.get(wanda.id).joined, hands.size], [false, true, 2]);
  assert.equal(drop.handoff, hands.get(leif.id).id);
  assert.equal(pulled.docs[`card/${sill}`].taken_by, leif.id);
  assert.deepEqual((await stored(other.page)).tray, []);
  assert.deepEqual((await stored(first.page)).tray.map((row) => [row.code, row.op.kind]), [["joined", "ask"], ["taken", "take"]]);
  await first.page.locator('.status a[href="/tray"]').first().click();
  await first.page.getByText("This was asked for already: yours joined it.").waitFor();
  await first.page.getByText("Leif Tangen took it before you").waitFor();
  for (const { page, context, errors } of phones) {
    const found = await stored(page);
    assert.deepEqual(numbers(found, found.meta.signed_in.client), oneTo(2));
    assert.deepEqual(errors, []);
    await context.close();
  }
});

test("what is kept is not there again in the next sheet", { timeout: 120_000 }, async () => {
  const { order } = await aVehicle("5204", "bay-2");
  const own = await phone(await admin.person("Nadja Kestrel", "body", "technician"));
  const { page, context, errors } = own;
  await toVehicle(page, order);
  await airplane(own, true);
  const sheet = page.locator("dialog[open] textarea");
  // Saved right after typing, while what was typed is just about to be kept as a draft: not every time in step.
  const all = oneTo(16).map((i) => `number ${String(i).padStart(2, "0")}`);
  for (const body of all) {
    await page.locator("main").getByRole("button", { name: "Note", exact: true }).last().click();
    await sheet.waitFor();
    assert.deepEqual((await stored(page)).drafts, [], `before ${body}`);
    assert.equal(await sheet.inputValue(), "");
    await page.locator("dialog").getByRole("button", { name: "Close", exact: true }).click();
    await page.locator("dialog[open]").waitFor({ state: "hidden" });
    await note(page, body);
  }
  await airplane(own, false);
  await allSent(page);
  assert.deepEqual(of(await admin.pull(), "note", order).map((one) => one.body).sort(), all);
  assert.deepEqual(errors, []);
  await context.close();
});
