// The phone's storage: nearly full, full, and cleared by somebody or by the phone itself.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { allSent, button, docsOf, note, notesAt, numbers, oneTo, same, stored, toVehicle } from "./phone.mjs";
import { Api, browser, openAs, start, until } from "./support.mjs";

let server, chrome, admin;

before(async () => {
  server = await start("serve");
  admin = await Api.join(server.base, server.links.admin);
  // Else it says of every quota that 10 GiB are left, also of one that a test has set.
  chrome = await browser("--disable-features=StaticStorageQuota");
});

after(async () => {
  await chrome?.close();
  server?.stop();
});

const invite = async (person) => (await admin.post("/api/v1/auth/invite", { person: person.id })).link;

async function opened(number, name) {
  const order = await admin.act("open_order", { number, vehicle: "sand estate", stage: "authorised" });
  const person = await admin.person(name, "body", "technician");
  const phone = await openAs(chrome, person.link);
  // What is set lasts as long as the page it was set from.
  const tools = await phone.context.newCDPSession(await phone.context.newPage());
  await phone.page.bringToFront();
  await toVehicle(phone.page, order);
  return { ...phone, order, person, tools };
}

/** A picture of noise: what the phone keeps of it has about as many bytes as it can have. */
async function picture(side) {
  const page = await chrome.newPage();
  const base64 = await page.evaluate(async (side) => {
    const canvas = Object.assign(document.createElement("canvas"), { width: side, height: side });
    const pen = canvas.getContext("2d");
    const noise = pen.createImageData(side, side);
    for (let y = 0; y < side; y += 32) crypto.getRandomValues(noise.data.subarray(y * side * 4, Math.min(side, y + 8) * side * 4 - 1));
    for (let i = 0; i < noise.data.length; i++) noise.data[i] = i % 4 === 3 ? 255 : noise.data[i] ^ ((i * 2654435761) >>> 24);
    pen.putImageData(noise, 0, 0);
    return canvas.toDataURL("image/jpeg", 0.9).split(",")[1];
  }, side);
  await page.close();
  return Buffer.from(base64, "base64");
}

const choose = (page, buffer) => page.locator("main input[type=file]").setInputFiles({ name: "seam.jpg", mimeType: "image/jpeg", buffer });

const noRoom = "The photo was not kept: this phone is almost full.";

/** Writes so many bytes in a database of its own; false if the browser has no room for them. */
const write = (bytes) =>
  new Promise((done, fail) => {
    const asked = indexedDB.open("beside");
    asked.onupgradeneeded = () => asked.result.createObjectStore("bytes");
    const over = (kept) => {
      asked.result?.close();
      const gone = indexedDB.deleteDatabase("beside");
      gone.onsuccess = () => done(kept);
      gone.onerror = () => fail(gone.error);
    };
    asked.onerror = () => done(false);
    asked.onsuccess = () => {
      const tx = asked.result.transaction("bytes", "readwrite", { durability: "strict" });
      tx.objectStore("bytes").put(new ArrayBuffer(bytes), 1);
      tx.oncomplete = () => over(true);
      tx.onabort = () => over(false);
    };
  });

test("a phone nearly full and full: photos stop with a clear sentence, what is done goes on", { timeout: 180_000 }, async () => {
  const { page, context, tools, errors } = await opened("5501", "Ilka Moreau");
  const { origin } = new URL(server.base);
  const used = () => page.evaluate(() => navigator.storage.estimate().then(({ usage }) => usage));
  /** The browser believes for half a minute what it knew of the room: asked by writes beside the app until one is refused. */
  const quota = async (quotaSize, refused) => {
    await tools.send("Storage.overrideQuotaForOrigin", { origin, quotaSize: Math.round(quotaSize) });
    await until("the browser to know", async () => !(await page.evaluate(write, refused)), 60);
  };
  const bytes = await picture(2_048);
  const warning = () => page.locator(".status").getByText("This phone is almost full: photos wait");
  const nothingOfIt = async () => {
    const { photos, chunks, outbox, journal } = await stored(page);
    assert.deepEqual([photos, chunks], [[], []], "no half of a photo");
    assert.ok(![...outbox, ...journal].some((row) => row.op.kind === "photo"), "and no word of one");
  };
  await context.setOffline(true);

  // Under four fifths, but not enough for this one: the write itself fails, all of it.
  await quota((await used()) / 0.6, bytes.length);
  assert.equal(await warning().count(), 0);
  await choose(page, bytes);
  await page.getByText(noRoom).first().waitFor();
  await nothingOfIt();

  // From four fifths on it is said on every screen and no photo is tried; notes are kept.
  await page.getByText(noRoom).first().waitFor({ state: "hidden" });
  await tools.send("Storage.overrideQuotaForOrigin", { origin, quotaSize: Math.round((await used()) / 0.85) });
  await choose(page, bytes);
  await page.getByText(noRoom).first().waitFor();
  await warning().waitFor();
  await nothingOfIt();
  await note(page, "kept though almost full");
  await page.getByText("1 not sent", { exact: true }).first().waitFor();
  assert.equal((await stored(page)).outbox.length, 1);

  // With no room at all nothing is said to be kept, and what was typed is still there.
  await quota(1, 1_000);
  await page.getByText("1 not sent", { exact: true }).first().waitFor();
  await page.locator("main").getByRole("button", { name: "Note", exact: true }).last().click();
  await page.locator("dialog textarea").fill("typed with no room at all");
  await page.locator("dialog").getByRole("button", { name: "Save", exact: true }).click();
  await page.getByText("This phone could not keep it.").first().waitFor();
  assert.equal(await page.locator("dialog textarea").inputValue(), "typed with no room at all");
  assert.equal((await stored(page)).outbox.length, 1);

  // Room is made: the same tap keeps it, and a photo too; all of it arrives.
  await tools.send("Storage.overrideQuotaForOrigin", { origin });
  await page.locator("dialog").getByRole("button", { name: "Save", exact: true }).click();
  await page.locator("dialog[open]").waitFor({ state: "hidden" });
  await choose(page, bytes);
  await page.getByText("3 not sent", { exact: true }).first().waitFor();
  await warning().waitFor({ state: "hidden" });
  await context.setOffline(false);
  await allSent(page);
  await until("the picture's bytes", async () => docsOf(await admin.pull(), "photo").some((one) => one.here));
  assert.deepEqual(await notesAt(admin), ["kept though almost full", "typed with no room at all"]);
  const found = await stored(page);
  assert.deepEqual(numbers(found, found.meta.signed_in.client), oneTo(3));
  assert.deepEqual(errors, []);
  await context.close();
});

const notesOf = async (order) => docsOf(await admin.pull(), "note").filter((one) => one.order === order).map((one) => one.body).sort();

test("everything cleared while signed in: asked to sign in, a new client, a full copy, nothing doubled", { timeout: 180_000 }, async () => {
  const { page, context, tools, order, person } = await opened("5601", "Tove Harker");
  await note(page, "before it was cleared, one");
  await note(page, "before it was cleared, two");
  await allSent(page);
  const before = (await stored(page)).meta.signed_in.client;

  await tools.send("Storage.clearDataForOrigin", { origin: new URL(server.base).origin, storageTypes: "all" });
  await page.reload();
  await page.getByLabel("Link or code").waitFor();
  await page.getByLabel("Link or code").fill(await invite(person));
  await button(page, "Sign in").click();
  await page.locator("nav.bar").waitFor();
  await toVehicle(page, order);
  await page.getByText("before it was cleared, two").first().waitFor();
  await same(page, admin);
  const { client } = (await stored(page)).meta.signed_in;
  assert.notEqual(client, before, "a new client: the old one's numbers are not known here any more");
  await note(page, "after it was cleared");
  await allSent(page);
  assert.deepEqual(await notesOf(order), ["after it was cleared", "before it was cleared, one", "before it was cleared, two"]);
  assert.deepEqual(numbers(await stored(page), client), [1]);
  await context.close();
});

test("the database alone is cleared under an open page: what is done next is neither lost nor taken for something else", { timeout: 180_000 }, async () => {
  const { page, context, tools, order } = await opened("5602", "Aron Vesely");
  for (const i of oneTo(3)) await note(page, `before, ${i}`);
  await allSent(page);
  const before = (await stored(page)).meta.signed_in.client;
  await tools.send("Storage.clearDataForOrigin", { origin: new URL(server.base).origin, storageTypes: "indexeddb" });

  // The page does not know yet. Its next note would be number 1 again, which the server has long had.
  await note(page, "on an empty database");
  await until("the note", async () => (await notesOf(order)).includes("on an empty database"));
  assert.deepEqual(await notesOf(order), [...oneTo(3).map((i) => `before, ${i}`), "on an empty database"].sort());

  // Opened anew the sign-in goes on, with a whole copy.
  await page.reload();
  await page.locator("nav.bar").waitFor();
  await toVehicle(page, order);
  await page.getByText("on an empty database").first().waitFor();
  await note(page, "after it was opened anew");
  await allSent(page);
  await same(page, admin);
  const found = await stored(page);
  assert.notEqual(found.meta.signed_in.client, before);
  const given = numbers(found, found.meta.signed_in.client);
  assert.deepEqual(given, oneTo(given.length));
  assert.equal((await notesOf(order)).length, 5);
  await context.close();
});
