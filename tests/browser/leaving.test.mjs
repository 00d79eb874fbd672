// By touch, half of the time without a network, in both languages, each looked at: what closes a vehicle called
// off, work added inside, a lift nobody named, high voltage, and work left running past the shift.
import assert from "node:assert/strict";
import { mkdirSync } from "node:fs";
import { after, before, test } from "node:test";
import { cardOf, docsOf, stored } from "./phone.mjs";
import { Api, OUT, browser, openAs, start, until } from "./support.mjs";

const HOUR = 3_600_000;
const MINUTE = 60_000;
const touch = { hasTouch: true, isMobile: true };

let server, chrome, admin;
/** By language: who left work running, and at what. */
const running = {};

before(async () => {
  mkdirSync(OUT, { recursive: true });
  server = await start("serve");
  admin = await Api.join(server.base, server.links.admin);
  await admin.act("set_calendar", { calendar: { id: "ended", title: { text: "Ended" }, week: await shiftThatEnded() } });
  // First of all: the server looks once a minute who left work running, and the rest goes on meanwhile.
  for (const language of ["en", "es"]) running[language] = await leftRunning(language);
  chrome = await browser();
});

after(async () => {
  await chrome?.close();
  server?.stop();
});

const docs = async () => (await admin.pull()).docs;
const doc = async (kind, id) => (await docs())[`${kind}/${id}`];
const fresh = async (person) => (await admin.post("/api/v1/auth/invite", { person: person.id })).link;
const button = (where, name) => where.getByRole("button", { name, exact: true }).first();
const tap = (where, name) => button(where, name).tap();
const sheet = (page) => page.locator("dialog[open]");
const gone = (page) => sheet(page).waitFor({ state: "hidden" });
const cardsOf = async (order) => docsOf({ docs: await docs() }, "card").filter((card) => card.order === order);
const stepOf = async (order, step) => (await cardsOf(order)).find((card) => card.step === step);
const raised = async (order) => docsOf({ docs: await docs() }, "exception").filter((one) => one.order === order);
const kinds = async (order) => (await raised(order)).map((one) => one.kind).sort();

/** Every day two hours, the last of them half an hour ago by the shop's clock. */
async function shiftThatEnded() {
  const { time_zone } = (await docs())["shop/shop"];
  const parts = new Intl.DateTimeFormat("en", { timeZone: time_zone, hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).formatToParts(Date.now());
  const of = (type) => Number(parts.find((part) => part.type === type).value);
  const to = Math.max(15, (of("hour") * 60 + of("minute") - 30 + 1440) % 1440);
  return Array.from({ length: 7 }, () => [{ from: Math.max(0, to - 120), to }]);
}

async function leftRunning(language) {
  const person = await admin.person(`Wanda Ilse ${language}`, "body", "technician", language);
  const known = await doc("person", person.id);
  await admin.act("set_person", { person: { ...known, calendar: "ended" } });
  const order = await admin.act("open_order", { number: `45${language}`, vehicle: "white van", stage: "authorised" });
  const card = await admin.act("add_card", { order, department: "body", title: { text: "Pull rail" }, planned_minutes: 90, after: [] });
  const hand = await Api.join(server.base, person.link);
  // Begun while the shift still ran; sent since.
  await hand.act("take", { card }, Date.now() - HOUR);
  await hand.act("start", { card }, Date.now() - HOUR);
  return { person, order, card };
}

/** On a phone by day and by night. */
async function look(page, name) {
  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    await page.screenshot({ path: `${OUT}/leaving-${name}-${colorScheme}.png` });
  }
  await page.emulateMedia({ colorScheme: "light" });
  const wide = await page.evaluate(() => document.documentElement.scrollWidth > document.documentElement.clientWidth);
  assert.ok(!wide, `${name}: nothing sticks out`);
}

/** A person's phone at a vehicle. */
async function at(person, order) {
  const phone = await openAs(chrome, person.link, touch);
  await phone.page.goto(`${server.base}/vehicle/${order}`);
  await phone.page.locator("main .vehicle").waitFor();
  return phone;
}

/** Goes without the network where `off`, in the words of the language. */
async function net({ page, context }, off, w) {
  await context.setOffline(off);
  if (off) await page.locator(".status", { hasText: w.away }).waitFor();
}

/** What waits on the phone has gone, and been told of. */
const sent = (page) => until("all to be sent", async () => (await stored(page)).outbox.length === 0);

async function done({ page, context, errors }) {
  await sent(page);
  assert.deepEqual(errors, []);
  await context.close();
}

/** A vehicle on a lift, its rear suspension down for the seam, the seam sealed as asked. */
async function opened(number, { sealed = false } = {}) {
  const order = await admin.act("open_order", { number, vehicle: "grey wagon", stage: "authorised" });
  const seal = await admin.act("add_card", { order, department: "body", title: { text: "Seal seam" }, planned_minutes: 40, after: [] });
  await admin.act("ask", { order, routing: "suspension-down-rear", from: "body", for_card: seal });
  const drop = await stepOf(order, "drop");
  for (const card of [drop.id, ...(sealed ? [seal] : [])]) {
    await admin.act("start", { card, ...(card === drop.id ? { on: "lift-2" } : {}) });
    await admin.act("finish", { card, checks: [] });
  }
  assert.deepEqual((await doc("order", order)).open.map(({ open, equipment }) => [open, equipment]), [["suspension-down-rear", "lift-2"]]);
  return { order, seal, refit: await stepOf(order, "refit") };
}

/** The lift is free again for whoever comes next. */
async function away(order) {
  for (const stage of ["ready", "delivered"]) {
    if (!["delivered", stage].includes((await doc("order", order)).stage)) await admin.act("stage", { order, stage });
  }
}

const WORDS = {
  en: {
    away: "No server since", cancel: "Cancel", grave: "The vehicle is open, or will be", why: "Why all the same (everybody reads it)",
    refit: "Refit the rear suspension", stage: "Keys and stage", ready: "Ready", back: "Keys back", left: "Not in order yet:",
    open: "Open: suspension down, rear", alarm: "Driven, ready or keys back with something open", answer: "Answer",
    reason: "Why it is so, or what was done about it", add: "Add a card", what: "What is to be done", department: "Department",
    inside: "Inside: suspension down, rear", only: "Only while open: suspension down, rear.", waits: "Waits for “Second seam”.",
    finish: "Finish", undone: "Not done yet, and hidden once this is closed:", not: "Not yet: go back", start: "Start", take: "Take",
    which: "On which one?", lift: /^Lift [12] free$/, second: /^Lift 2 free$/, drop: "Take the rear suspension down",
    isolate: "Isolate and prove dead", needs: "Needs the qualification", live: "High voltage on board, live.", dead: "High voltage on board, isolated.",
    stop: "Stop. Qualified people only", still: "Still running?", pause: "Pause", end: "End of shift",
  },
  es: {
    away: "Sin servidor desde", cancel: "Cancelar", grave: "El vehículo está abierto, o lo estará", why: "Por qué de todos modos (todos lo leen)",
    refit: "Montar la suspensión trasera", stage: "Llaves y etapa", ready: "Listo", back: "Llaves devueltas", left: "Todavía no está en orden:",
    open: "Abierto: suspensión trasera abajo", alarm: "Manejado, listo o con llaves devueltas y algo abierto", answer: "Contestar",
    reason: "Por qué es así, o qué se hizo", add: "Agregar trabajo", what: "Qué hay que hacer", department: "Departamento",
    inside: "Adentro: suspensión trasera abajo", only: "Solo mientras está abierto: suspensión trasera abajo.", waits: "Espera «Second seam».",
    finish: "Terminar", undone: "Aún no está hecho, y queda tapado al cerrar:", not: "Todavía no: volver", start: "Empezar", take: "Tomar",
    which: "¿En cuál?", lift: /^Elevador [12] libre$/, second: /^Elevador 2 libre$/, drop: "Bajar la suspensión trasera",
    isolate: "Aislar y comprobar sin tensión", needs: "Pide la calificación", live: "Alto voltaje a bordo, conectado.", dead: "Alto voltaje a bordo, aislado.",
    stop: "Pare. Solo personas calificadas", still: "¿Sigue en marcha?", pause: "Pausa", end: "Fin de turno",
  },
};

/** Folded or not: the card is unfolded. */
async function unfold(page, title) {
  const card = cardOf(page, title).first();
  if (!(await card.evaluate((of) => of.open))) await card.locator("summary").first().tap();
  return card;
}

for (const language of ["en", "es"]) {
  const w = WORDS[language];
  // Each language has the network where the other has none.
  const [ones, others] = [language === "en", language === "es"];

  test(`two free lifts and no place said (${language})`, { timeout: 60_000 }, async () => {
    const order = await admin.act("open_order", { number: `41${language}`, vehicle: "green pickup", stage: "authorised" });
    await admin.act("ask", { order, routing: "suspension-down-rear", from: "body" });
    const drop = await stepOf(order, "drop");
    const ines = await admin.person(`Ines Duarte ${language}`, "mechanical", "technician", language);
    const phone = await at(ines, order);
    const { page } = phone;
    await tap(cardOf(page, w.drop), w.take);
    await until("taken", async () => (await doc("card", drop.id)).taken_by === ines.id);
    await button(page.locator("main"), w.start).waitFor();
    await look(page, `taken-${language}`);
    await net(phone, ones, w);
    await tap(page.locator("main"), w.start);
    await sheet(page).getByText(w.which).waitFor();
    const first = await sheet(page).getByRole("button").filter({ hasText: /\d/ }).allInnerTexts();
    assert.equal(first.length, 2, String(first));
    assert.ok(first.every((said) => w.lift.test(said.replace(/\s+/g, " ").trim())), String(first));
    await look(page, `which-lift-${language}`);
    await sheet(page).getByRole("button", { name: w.second }).tap();
    await gone(page);
    await button(page.locator("main"), w.finish).waitFor();
    if (ones) assert.equal((await doc("card", drop.id)).used ?? null, null, "the server has not heard of it");
    await net(phone, false, w);
    await until("the lift at the server", async () => (await doc("card", drop.id)).used === "lift-2");
    const hand = await Api.join(server.base, await fresh(ines));
    await hand.act("finish", { card: drop.id, checks: [] });
    assert.equal((await doc("order", order)).open[0].equipment, "lift-2");
    await done(phone);
    await away(order);
  });

  test(`what closes an open vehicle is called off (${language})`, { timeout: 60_000 }, async () => {
    const { order, refit } = await opened(`42${language}`);
    const planner = await admin.person(`Greta Amsel ${language}`, "office", "planner", language);
    const phone = await at(planner, order);
    const { page } = phone;
    await net(phone, ones, w);
    await tap(await unfold(page, w.refit), w.cancel);
    await sheet(page).getByText(w.grave).waitFor();
    assert.ok(await button(sheet(page), w.cancel).isDisabled(), "not without a reason");
    await look(page, `called-off-${language}`);
    await sheet(page).getByLabel(w.why).fill("the maker wants a new arm");
    await tap(sheet(page), w.cancel);
    await gone(page);
    if (others) await until("the alarm of calling it off", async () => (await kinds(order)).includes("cancelled_open"));

    // Said before it is called ready, and before the keys go back.
    for (const [stage, name] of [[w.ready, "ready"], [w.back, "delivered"]]) {
      await tap(page.locator("main"), w.stage);
      const alarm = sheet(page).getByRole("alert");
      await alarm.getByText(w.left).waitFor();
      await alarm.getByText(w.open).waitFor();
      await look(page, `not-in-order-${name}-${language}`);
      await tap(sheet(page), stage);
      await gone(page);
      if (others) await until(name, async () => (await doc("order", order)).stage === name);
    }
    if (ones) assert.equal((await doc("order", order)).stage, "authorised", "the server has not heard of it");
    await net(phone, false, w);
    await until("delivered", async () => (await doc("order", order)).stage === "delivered");
    assert.equal((await doc("card", refit.id)).cancelled.reason, "the maker wants a new arm");
    assert.deepEqual((await kinds(order)).filter((kind) => ["cancelled_open", "left_open"].includes(kind)), ["cancelled_open", "left_open", "left_open"]);

    // It stands until somebody answers with a reason, by name.
    const alarm = page.locator("main .notice-line.bad", { hasText: w.alarm }).first();
    await alarm.waitFor();
    await alarm.scrollIntoViewIfNeeded();
    await look(page, `alarm-${language}`);
    await tap(alarm, w.answer);
    assert.ok(await button(sheet(page), w.answer).isDisabled(), "not without a reason");
    await sheet(page).getByLabel(w.reason).fill("fetched back, closed by hand");
    await tap(sheet(page), w.answer);
    await gone(page);
    const answered = await until("the answer", async () => (await raised(order)).find((one) => one.kind === "left_open" && one.answered_at != null));
    assert.deepEqual([answered.answered_by, answered.reason], [planner.id, "fetched back, closed by hand"]);
    assert.equal((await raised(order)).filter((one) => one.kind === "left_open" && one.answered_at == null).length, 1, "the other one stands");
    await done(phone);
  });

  test(`work added at an open vehicle (${language})`, { timeout: 60_000 }, async () => {
    const { order, refit } = await opened(`43${language}`, { sealed: true });
    const planner = await admin.person(`Jonas Ried ${language}`, "office", "planner", language);
    const phone = await at(planner, order);
    const { page } = phone;
    await net(phone, others, w);
    await tap(page.locator("main"), w.add);
    const inside = sheet(page).getByRole("radio", { name: w.inside });
    await inside.waitFor();
    assert.ok(await inside.isChecked(), "inside, unless one says otherwise");
    await sheet(page).getByLabel(w.what).fill("Second seam");
    await sheet(page).getByLabel(w.department).selectOption("body");
    await inside.scrollIntoViewIfNeeded();
    await look(page, `add-inside-${language}`);
    await tap(sheet(page), w.add);
    await gone(page);
    // Already by the phone's own reckoning.
    const closing = await unfold(page, w.refit);
    await closing.getByText(w.waits).waitFor();
    await (await unfold(page, "Second seam")).getByText(w.only).waitFor();
    await closing.scrollIntoViewIfNeeded();
    await look(page, `closing-waits-${language}`);
    await net(phone, false, w);
    const seam = await until("the seam", async () => (await cardsOf(order)).find((card) => card.title.text === "Second seam"));
    assert.equal(seam.inside, "suspension-down-rear");
    assert.ok((await doc("card", refit.id)).after.some((link) => link.card === seam.id), "the closing waits for it");
    await done(phone);

    // Whoever closes all the same is shown what would be hidden.
    const ines = await admin.person(`Ines Abel ${language}`, "mechanical", "technician", language);
    const hand = await Api.join(server.base, ines.link);
    await hand.act("start", { card: refit.id });
    const mechanic = await at({ link: await fresh(ines) }, order);
    await net(mechanic, ones, w);
    await tap(mechanic.page.locator("main"), w.finish);
    await sheet(mechanic.page).getByRole("alert").getByText(w.undone).waitFor();
    await sheet(mechanic.page).getByRole("alert").getByText("Second seam").waitFor();
    await look(mechanic.page, `would-be-hidden-${language}`);
    await tap(sheet(mechanic.page), w.not);
    await gone(mechanic.page);
    await net(mechanic, false, w);
    assert.equal((await doc("order", order)).open.length, 1);
    await done(mechanic);
    await away(order);
  });

  test(`high voltage is isolated by qualified people only (${language})`, { timeout: 90_000 }, async () => {
    const electric = async (number) => {
      const order = await admin.act("open_order", { number, vehicle: "blue sedan", stage: "authorised", energy: { high_voltage: "live" } });
      await admin.act("ask", { order, routing: "high-voltage-safe", from: "body" });
      return { order, isolate: await stepOf(order, "isolate") };
    };
    const isolates = async ({ page }, name) => {
      await tap(page.locator("main"), w.start);
      await tap(page.locator("main"), w.finish);
      const boxes = sheet(page).getByRole("checkbox");
      await boxes.first().waitFor();
      for (const box of await boxes.all()) await box.check();
      await look(page, `isolate-${name}-${language}`);
      await tap(sheet(page), w.finish);
      await gone(page);
    };
    const qualified = async (person, qualifications) => admin.act("set_person", { person: { ...(await doc("person", person.id)), qualifications } });
    const known = { "high-voltage": null };

    const { order, isolate } = await electric(`44${language}`);
    const tova = await admin.person(`Tova Lind ${language}`, "mechanical", "technician", language);
    const one = await at(tova, order);
    await one.page.getByText(w.live).first().waitFor();
    await cardOf(one.page, w.isolate).getByText(w.needs).waitFor();
    await look(one.page, `unqualified-${language}`);
    await net(one, ones, w);
    await tap(cardOf(one.page, w.isolate), w.take);
    if (others) {
      // Reached, the server says no; what she knew then runs out while the card is hers.
      await one.page.locator('.status a[href="/tray"]').waitFor();
      assert.equal((await doc("card", isolate.id)).taken_by ?? null, null);
      await qualified(tova, known);
      await tap(cardOf(one.page, w.isolate), w.take);
      await until("taken", async () => (await doc("card", isolate.id)).taken_by === tova.id);
      await qualified(tova, {});
    }
    await isolates(one, "unqualified");
    // The phone, too, does not believe it.
    await one.page.getByText(w.live).first().waitFor();
    assert.equal(await one.page.getByText(w.dead).count(), 0);
    await net(one, false, w);
    await until("the alarm", async () => (await kinds(order)).includes("high_voltage"));
    assert.equal((await doc("order", order)).energy.high_voltage, "live");
    assert.ok((await raised(order)).some((each) => each.kind === "unqualified"), String(await kinds(order)));
    assert.ok((await raised(order)).every((each) => each.answered_at == null), "it stands");
    await one.page.evaluate(() => scrollTo(0, 0));
    await look(one.page, `stays-live-${language}`);
    await one.page.locator('.status a[href="/tray"]').tap();
    await one.page.getByText(w.stop).first().waitFor();
    await look(one.page, `stop-${language}`);
    await done(one);

    const two = await electric(`46${language}`);
    const milo = await admin.person(`Milo Karst ${language}`, "mechanical", "technician", language);
    await qualified(milo, known);
    const other = await at(milo, two.order);
    await tap(cardOf(other.page, w.isolate), w.take);
    await until("taken", async () => (await doc("card", two.isolate.id)).life === "taken");
    await net(other, others, w);
    await isolates(other, "qualified");
    await other.page.getByText(w.dead).first().waitFor();
    await other.page.evaluate(() => scrollTo(0, 0));
    await look(other.page, `isolated-${language}`);
    await net(other, false, w);
    await until("isolated", async () => (await doc("order", two.order)).energy.high_voltage === "isolated");
    assert.deepEqual(await kinds(two.order), []);
    await done(other);
  });
}

for (const language of ["en", "es"]) {
  test(`left running past the shift (${language})`, { timeout: 120_000 }, async () => {
    const w = WORDS[language];
    const { person, order, card } = running[language];
    const hand = await Api.join(server.base, await fresh(person));
    await until("the question", async () => (await hand.get("/api/v1/notices?after=0")).notices.some((one) => one.kind === "still_running" && one.card === card), 90);
    const phone = await openAs(chrome, await fresh(person), touch);
    const { page } = phone;
    await page.goto(`${server.base}/notices`);
    const question = page.getByRole("link", { name: w.still });
    await question.first().waitFor();
    assert.equal(await question.count(), 1, "asked once");
    await look(page, `still-running-${language}`);
    await net(phone, language === "es", w);
    // One tap to the vehicle, and the work can be put down there.
    await question.tap();
    await page.locator("main .vehicle").waitFor();
    await tap(page.locator("main"), w.pause);
    await button(sheet(page), w.end).waitFor();
    await look(page, `put-down-${language}`);
    await tap(sheet(page), w.end);
    await gone(page);
    await net(phone, false, w);
    await until("put down", async () => (await doc("card", card)).life === "paused");
    assert.equal((await doc("order", order)).stage, "authorised");
    await done(phone);
  });
}
