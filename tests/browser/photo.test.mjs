// A photo of a camera's size through the app's own file field, over a network that breaks in the middle of
// everything, with the app killed on the way.
import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { after, before, test } from "node:test";
import { docsOf, network, stored, through, toVehicle } from "./phone.mjs";
import { Api, away, browser, openAs, start, until } from "./support.mjs";

let server, net, chrome, admin;
/** What of a piece of an upload gets through; undefined: all of it, and the answer comes back. */
let piece = () => undefined;
/** Bytes as they were passed on, by upload and offset. */
const sent = [];

before(async () => {
  server = await start("serve");
  net = await network(server.base, {
    piece(asked, body) {
      if (asked.method !== "PATCH") return undefined;
      const from = Number(asked.headers["upload-offset"]);
      const cut = piece(asked.url, from, body.length);
      sent.push({ url: asked.url, from, body: body.subarray(0, cut?.bytes ?? body.length), cut: cut !== undefined });
      return cut;
    },
  });
  admin = await Api.join(server.base, server.links.admin);
  chrome = await browser();
});

after(async () => {
  await chrome?.close();
  net?.stop();
  server?.stop();
});

/** 4000 × 3000 points of noise: about the worst a camera can give a compressor. */
async function picture(seed) {
  const page = await chrome.newPage();
  const base64 = await page.evaluate(async (seed) => {
    const canvas = Object.assign(document.createElement("canvas"), { width: 4000, height: 3000 });
    const pen = canvas.getContext("2d");
    const noise = pen.createImageData(4000, 3000);
    const words = new Uint32Array(noise.data.buffer);
    let x = seed;
    for (let i = 0; i < words.length; i++) {
      // xorshift32 (Marsaglia 2003)
      x ^= x << 13;
      x ^= x >>> 17;
      x ^= x << 5;
      words[i] = x | 0xff000000;
    }
    pen.putImageData(noise, 0, 0);
    const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
    const reader = new FileReader();
    await new Promise((done) => {
      reader.onload = done;
      reader.readAsDataURL(blob);
    });
    return reader.result.split(",")[1];
  }, seed);
  await page.close();
  return Buffer.from(base64, "base64");
}

/** Taken without a network; returns what the phone keeps of it. */
async function take(phone, name, buffer) {
  await away(phone.page);
  await phone.page.locator("main input[type=file]").setInputFiles({ name, mimeType: "image/jpeg", buffer });
  await phone.page.getByText("On this phone, not sent yet.").waitFor();
  const { photos, chunks } = await stored(phone.page);
  const row = photos.find((one) => !one.sent);
  assert.equal(chunks.filter((one) => one.sha256 === row.sha256).reduce((sum, one) => sum + one.bytes, 0), row.bytes);
  assert.ok(row.chunks >= 3, `${row.bytes} bytes are ${row.chunks} pieces`);
  return row;
}

const here = (sha256) =>
  until("the picture's bytes", async () => docsOf(await admin.pull(), "photo").find((one) => one.sha256 === sha256 && one.here), 90);

/** The bytes as they arrived, put together by their offsets, make the hash that the phone gave. */
function hashOf(row, pieces) {
  const whole = Buffer.alloc(row.bytes);
  for (const { from, body } of pieces) body.copy(whole, from);
  return createHash("sha256").update(whole).digest("hex");
}

async function shown(page, photo) {
  await page.getByText(/not sent yet/).waitFor({ state: "hidden" });
  const img = page.locator(".picture img").last();
  await until("the preview", () => img.evaluate((one) => one.complete && one.naturalWidth > 0));
  const small = await page.evaluate(async (url) => {
    const answer = await fetch(url);
    return { status: answer.status, type: answer.headers.get("content-type") };
  }, `/api/v1/photos/${photo.sha256}?size=small`);
  assert.deepEqual(small, { status: 200, type: "image/jpeg" });
}

test("twelve megapixels, the line cut at every piece: it goes on where it was", { timeout: 240_000 }, async () => {
  const order = await admin.act("open_order", { number: "5801", vehicle: "silver wagon", stage: "authorised" });
  const person = await admin.person("Bastian Okoro", "body", "technician");
  const other = await admin.person("Selma Dray", "refinish", "technician");
  const phone = await openAs(chrome, through(net, person.link));
  const beside = await openAs(chrome, through(net, other.link));
  await toVehicle(phone.page, order);
  await toVehicle(beside.page, order);
  const bytes = await picture(0x2545f491);
  assert.ok(bytes.length > 4_000_000, `${bytes.length} bytes`);
  const row = await take(phone, "wheelhouse.jpg", bytes);

  // Every piece is cut once: by turns its answer is lost, or the line dies in the middle of it.
  const cut = new Map();
  piece = (_, from, length) => {
    const times = cut.get(from) ?? 0;
    cut.set(from, times + 1);
    if (times) return undefined;
    return cut.size % 2 ? { bytes: Math.floor(length / 2) } : {};
  };
  await phone.context.setOffline(false);
  const photo = await here(row.sha256);
  assert.equal(hashOf(row, sent), row.sha256);
  assert.equal(new Set(sent.map((one) => one.url)).size, 1, "one upload all the way");
  assert.ok(sent.filter((one) => one.cut).length >= row.chunks, `cut ${sent.filter((one) => one.cut).length} times`);
  const asked = net.seen.filter((one) => one.method === "HEAD" && one.path === sent[0].url);
  // All but the last time: if that answer is lost, the live channel may say first that the picture is there.
  assert.ok(asked.length >= row.chunks - 1, `the phone asked ${asked.length} times where to go on, of ${row.chunks} pieces`);
  // After a cut it never begins before what had arrived: an answered offset is not sent again.
  const froms = sent.map((one) => one.from);
  assert.deepEqual(froms, [...froms].sort((a, b) => a - b));
  assert.deepEqual([photo.order, photo.by, photo.bytes, photo.mime], [order, person.id, row.bytes, "image/jpeg"]);

  // On both phones the picture is shown, and nobody says any more that it waits.
  for (const { page, errors } of [phone, beside]) {
    await shown(page, photo);
    assert.deepEqual(errors, []);
  }
  // The phone keeps the bytes for some days: a server that is set back would have lost them.
  await until("the phone to know that it arrived", async () => {
    const { photos, chunks, outbox } = await stored(phone.page);
    return photos.length === 1 && photos[0].sent && chunks.length === row.chunks && !outbox.length;
  });
  assert.equal(docsOf(await admin.pull(), "photo").length, 1);
  await phone.context.close();
  await beside.context.close();
});

test("the app is killed in the middle of the upload and goes on in the same one", { timeout: 240_000 }, async () => {
  const order = await admin.act("open_order", { number: "5802", vehicle: "black hatch", stage: "authorised" });
  const person = await admin.person("Corin Falk", "body", "technician");
  const phone = await openAs(chrome, through(net, person.link));
  await toVehicle(phone.page, order);
  const row = await take(phone, "sill.jpg", await picture(0x9e3779b9));

  // One piece arrives, nothing of the next one's second half ever does, and then there is no app any more.
  sent.length = 0;
  let reached;
  const second = new Promise((resolve) => (reached = resolve));
  piece = (_, from, length) => {
    if (from === 0) return undefined;
    reached();
    return { bytes: Math.floor(length / 2) };
  };
  await phone.context.setOffline(false);
  await second;
  const crashed = phone.page.waitForEvent("crash");
  void (await phone.context.newCDPSession(phone.page)).send("Page.crash").catch(() => undefined);
  await crashed;
  await phone.page.close();
  const before = sent.length;
  const asked = net.seen.length;
  piece = () => undefined;

  const page = await phone.context.newPage();
  await page.goto(net.base);
  await toVehicle(page, order);
  const photo = await here(row.sha256);
  assert.equal(new Set(sent.map((one) => one.url)).size, 1, "the same upload goes on");
  const rest = sent.slice(before).map((one) => one.from);
  assert.ok(rest.length > 0 && rest.every((from) => from > 0), `not from the beginning: ${rest}`);
  assert.ok(net.seen.slice(asked).some((one) => one.method === "HEAD" && one.path === sent[0].url));
  assert.equal(hashOf(row, sent), row.sha256);
  await shown(page, photo);
  assert.equal(docsOf(await admin.pull(), "photo").filter((one) => one.order === order).length, 1);
  await phone.context.close();
});
