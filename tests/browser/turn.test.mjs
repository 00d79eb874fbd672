// The main job on the screens: three people, three phones, the network gone twice.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { ask, finish, openLine, smallPicture, waiting } from "./phone.mjs";
import { Api, away, browser, mailSink, openAs, shown, start, until } from "./support.mjs";

let server, sink, chrome, admin, body, mechanic, manager, painter;

before(async () => {
  sink = await mailSink();
  server = await start("serve", {
    config: `[smtp]\nhost = "127.0.0.1"\nport = ${sink.port}\ntls = "none"\nfrom = "Shop <hand-offs@shop.example>"\n`,
  });
  admin = await Api.join(server.base, server.links.admin);
  // Everybody is on shift whenever the test runs, so that nothing waits for the morning.
  const week = Array.from({ length: 7 }, () => [{ from: 0, to: 1440 }]);
  const calendar = Object.entries((await admin.pull()).docs).find(([key]) => key.startsWith("calendar/"))[1];
  await admin.act("set_calendar", { calendar: { ...calendar, week } });
  chrome = await browser();
  const people = {
    body: await admin.person("Tomas Okafor", "body", "technician"),
    mechanic: await admin.person("Ines Duarte", "mechanical", "technician"),
    manager: await admin.person("Mara Lindqvist", "assembly", "manager"),
    painter: await admin.person("Piotr Hale", "refinish", "technician"),
  };
  await admin.send("PUT", `/api/v1/people/${people.body.id}/contact`, { email: "tomas@shop.example", mail: true });
  painter = await Api.join(server.base, people.painter.link);
  [body, mechanic, manager] = await Promise.all(["body", "mechanic", "manager"].map((who) => openAs(chrome, people[who].link)));
});

after(async () => {
  await chrome?.close();
  server?.stop();
  sink?.stop();
});

const button = (phone, name) => phone.page.getByRole("button", { name, exact: true }).first();
const cardWith = (docs, test) => Object.values(docs).find((doc) => doc && doc.spans && test(doc));

test("the whole turn: ask, order, take, open, seal, refit, next, measures, mail", { timeout: 240_000 }, async () => {
  const order = await admin.act("open_order", { number: "2041", vehicle: "grey wagon", stage: "authorised", promise: Date.now() + 36 * 3_600_000 });
  const seal = await admin.act("add_card", { order, department: "body", title: { text: "Seal wheelhouse seam" }, planned_minutes: 40 });
  await admin.act("add_card", { order, department: "refinish", title: { text: "Prepare and prime" }, planned_minutes: 90, after: [{ card: seal }] });
  await admin.act("move", { order, to: "lift-2" });

  // Body asks with the network off; it stays on the phone and says so.
  await body.page.goto(`${server.base}/vehicle/${order}`);
  await shown(body.page, "Seal wheelhouse seam").waitFor();
  await away(body.page);
  await ask(body.page, "Seal wheelhouse seam");
  await waiting(body.page, 1);
  assert.equal(Object.keys((await admin.pull()).docs).filter((key) => key.startsWith("handoff/")).length, 0, "nothing has left the phone");
  await body.context.setOffline(false);

  // The mechanic is told and sees it in the computed order, with its reason in words.
  const drop = await until("the asked card", async () => cardWith((await admin.pull()).docs, (card) => card.step === "drop"));
  await mechanic.page.goto(`${server.base}/queue/mechanical`);
  await shown(mechanic.page, "2041").waitFor();
  const { plan } = await until("a plan with it", async () => {
    const pulled = await admin.pull();
    return pulled.plan.rows.some((row) => row.card === drop.id) && pulled;
  });
  const row = plan.rows.find((one) => one.card === drop.id);
  assert.equal(row.place, 1);
  assert.equal(row.reason.next.department, "body");
  const reason = await until("the reason in words", async () => {
    const text = await mechanic.page.locator("main").innerText();
    return /waits only for this/i.test(text) && text;
  });
  assert.match(reason, /2041/);
  await mechanic.page.goto(`${server.base}/notices`);
  await shown(mechanic.page, /2041/).waitFor();

  // Taken with the network off: asked for until the verdict.
  await mechanic.page.goto(`${server.base}/vehicle/${order}`);
  await button(mechanic, "Take").waitFor();
  await away(mechanic.page);
  await button(mechanic, "Take").click();
  await waiting(mechanic.page, 1);
  assert.equal((await admin.pull()).docs[`card/${drop.id}`].life, "waiting");
  await mechanic.context.setOffline(false);
  await until("the take", async () => (await admin.pull()).docs[`card/${drop.id}`].life === "taken");
  await body.page.goto(`${server.base}/notices`);
  await shown(body.page, /Ines Duarte/).waitFor();

  // Worked; the vehicle is open and the asker is told, in the app and by mail.
  await button(mechanic, "Start").click();
  await finish(mechanic.page);
  await until("open", async () => (await admin.pull()).docs[`order/${order}`].open.some((one) => one.open === "suspension-down-rear"));
  await body.page.goto(`${server.base}/vehicle/${order}`);
  await openLine(body.page, "suspension down, rear").waitFor();
  const mail = await until("the mail", () => sink.mails.find((one) => one.to.includes("tomas@shop.example") && /2041/.test(one.text)));
  assert.match(mail.text, /^Subject: /m);
  assert.ok(!sink.mails.some((one) => one.to.some((to) => to !== "tomas@shop.example")), "nobody else has asked for mail");

  // Sealed inside the open state, refitted, and refinish is next.
  await button(body, "Take").or(button(body, "Start")).first().click();
  await button(body, "Start").or(button(body, "Finish")).first().waitFor();
  if (await button(body, "Start").isVisible()) await button(body, "Start").click();
  await finish(body.page);
  await until("sealed", async () => (await admin.pull()).docs[`card/${seal}`].life === "done");
  const refit = cardWith((await admin.pull()).docs, (card) => card.step === "refit");
  // The sealer cures by the wall clock; this test does not wait for it, so the mechanic says so by the API.
  const hand = await Api.join(server.base, (await admin.post("/api/v1/auth/invite", { person: (await mechanic.page.evaluate(() => fetch("/api/v1/auth/me").then((r) => r.json()))).person })).link);
  await hand.act("start", { card: refit.id });
  await hand.act("finish", { card: refit.id });
  // What else the routing has for the mechanic (alignment) belongs to handing back.
  const docs = (await admin.pull()).docs;
  const rest = docs[`handoff/${refit.handoff}`].cards.map((id) => docs[`card/${id}`]).filter((card) => card.life !== "done");
  for (const card of rest) {
    await hand.act("start", { card: card.id });
    await hand.act("finish", { card: card.id });
  }
  await until("next", async () => (await painter.get("/api/v1/notices")).notices.some((one) => one.kind === "next"));
  assert.deepEqual((await admin.pull()).docs[`order/${order}`].open, []);

  // Nobody is told of own acts, nobody twice of one.
  const own = await body.page.evaluate(() => fetch("/api/v1/notices?after=0").then((r) => r.json()));
  const kinds = own.notices.map((one) => one.kind);
  assert.deepEqual(kinds.slice(0, 2), ["taken", "open"]);
  assert.ok(kinds.includes("handed_back"), String(kinds));

  // The manager reads where it stands and how long it took.
  await manager.page.setViewportSize({ width: 1440, height: 900 });
  await manager.page.goto(`${server.base}/shop`);
  await shown(manager.page, "2041").waitFor();
  await manager.page.goto(`${server.base}/shop/measures`);
  await manager.page.getByRole("table").first().waitFor();
  const measures = await admin.get(`/api/v1/measures?from=0&to=${Date.now() + 1000}`);
  const of = (id) => measures.measures.find((one) => one.id === id);
  assert.equal(of("asked_to_taken").count, 1);
  assert.ok(of("equipment_held").by["lift-2"].value > 0);
  for (const phone of [body, mechanic, manager]) assert.deepEqual(phone.errors, []);
});

test("a photo taken offline arrives and stands on the vehicle", { timeout: 120_000 }, async () => {
  const order = await admin.act("open_order", { number: "2042", vehicle: "red pickup", stage: "authorised" });
  await body.page.goto(`${server.base}/vehicle/${order}`);
  await shown(body.page, "red pickup").waitFor();
  await away(body.page);
  await body.page.locator('input[type="file"]').first().setInputFiles(await smallPicture(body.page, "#883322"));
  await waiting(body.page, 1);
  await body.context.setOffline(false);
  const photo = await until("the photo's bytes", async () => Object.values((await admin.pull()).docs).find((doc) => doc?.sha256 && doc.order === order && doc.here));
  const answer = await body.page.evaluate((sha) => fetch(`/api/v1/photos/${sha}?size=small`).then((r) => [r.status, r.headers.get("content-type")]), photo.sha256);
  assert.deepEqual(answer, [200, "image/jpeg"]);
});
