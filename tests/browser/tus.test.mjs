// Uploads by an independent client: tus-js-client against our tus 1.0.0 (creation, termination).
import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { after, before, test } from "node:test";
import { Upload } from "tus-js-client";
import { Api, browser, start } from "./support.mjs";

let server, api, photo;

before(async () => {
  server = await start("serve");
  api = await Api.join(server.base, server.links.admin);
  const chrome = await browser();
  const page = await chrome.newPage();
  const base64 = await page.evaluate(() => {
    const canvas = Object.assign(document.createElement("canvas"), { width: 900, height: 700 });
    const pen = canvas.getContext("2d");
    for (let i = 0; i < 4000; i++) {
      pen.fillStyle = `rgb(${(i * 37) % 255},${(i * 91) % 255},${(i * 13) % 255})`;
      pen.fillRect((i * 53) % 900, (i * 29) % 700, 40, 30);
    }
    return canvas.toDataURL("image/jpeg", 0.95).split(",")[1];
  });
  await chrome.close();
  photo = Buffer.from(base64, "base64");
});

after(() => server?.stop());

const sha256 = (bytes) => createHash("sha256").update(bytes).digest("hex");
const options = (bytes, more) => ({
  endpoint: `${server.base}/api/v1/photos`,
  headers: { Authorization: `Bearer ${api.access}` },
  metadata: { sha256: sha256(bytes), mime: "image/jpeg" },
  retryDelays: null,
  chunkSize: 40_000,
  ...more,
});
const finished = (bytes, more = {}) =>
  new Promise((resolve, reject) => {
    const upload = new Upload(bytes, options(bytes, { onSuccess: () => resolve(upload), onError: reject, ...more }));
    upload.start();
  });

test("cut off in the middle, it goes on where it was", { timeout: 60_000 }, async () => {
  assert.ok(photo.length > 120_000, `${photo.length} bytes are several pieces`);
  const url = await new Promise((resolve, reject) => {
    const upload = new Upload(photo, options(photo, {
      onError: reject,
      onChunkComplete: (_, accepted) => accepted < photo.length && upload.abort().then(() => resolve(upload.url)),
    }));
    upload.start();
  });
  const sent = [];
  await finished(photo, { uploadUrl: url, onChunkComplete: (size) => sent.push(size) });
  assert.ok(sent.reduce((a, b) => a + b, 0) < photo.length, "only the rest was sent");
  const shown = await fetch(`${server.base}/api/v1/photos/${sha256(photo)}`, { headers: options(photo).headers });
  assert.equal(shown.status, 200);
  assert.equal(shown.headers.get("content-type"), "image/jpeg");
  assert.equal(shown.headers.get("x-content-type-options"), "nosniff");
});

test("bytes that are known are there at once", { timeout: 60_000 }, async () => {
  // The client begins at 0, is told that the next byte is the last one, looks, and is done.
  const sent = [];
  await finished(photo, { retryDelays: [0], onChunkComplete: (size) => sent.push(size) });
  assert.deepEqual(sent.filter((size) => size > 0), []);
});

test("terminated, it is gone", { timeout: 60_000 }, async () => {
  const other = Buffer.concat([photo, Buffer.from("tail")]);
  const url = await new Promise((resolve, reject) => {
    const upload = new Upload(other, options(other, { onError: reject, onChunkComplete: () => upload.abort().then(() => resolve(upload.url)) }));
    upload.start();
  });
  await Upload.terminate(url, options(other));
  const gone = await fetch(url, { method: "HEAD", headers: { ...options(other).headers, "Tus-Resumable": "1.0.0" } });
  assert.ok([404, 410].includes(gone.status), String(gone.status));
});

test("what is no photo is refused with a sentence", { timeout: 60_000 }, async () => {
  const text = Buffer.from("not a picture at all, only words".repeat(20));
  const error = await finished(text).then(() => undefined, (failed) => failed);
  assert.ok(error, "it must not go through");
  assert.match(error.originalResponse.getBody(), /"code":"not_a_photo"/);
});
