// What tests of one phone share: taps, a look into its database, and a network between it and the server
// that can be told to misbehave.
import assert from "node:assert/strict";
import { Agent, createServer, request } from "node:http";
import { until } from "./support.mjs";

export const button = (at, name) => at.getByRole("button", { name, exact: true }).first();

/** To a vehicle by taps only: nothing is loaded anew, so this works without a network too. */
export async function toVehicle(page, order) {
  await page.locator('nav.bar a[href="/vehicles"]').click();
  await page.locator(`main a[href="/vehicle/${order}"]`).first().click();
  await page.locator("main .vehicle").waitFor();
}

/** One note by the sheet; returns when the app has put the sheet away, which it does once the note is kept. */
export async function note(page, text) {
  await page.locator("main").getByRole("button", { name: "Note", exact: true }).last().click();
  await page.locator("dialog textarea").fill(text);
  await page.locator("dialog").getByRole("button", { name: "Save", exact: true }).click();
  await page.locator("dialog[open]").waitFor({ state: "hidden" });
}

/** What is asked for: one of the large ones, or behind "Others". */
export async function chooseWhat(page, name) {
  const what = page.locator("dialog").getByRole("button", { name }).first();
  await page.locator("dialog .ask-most").waitFor();
  if (!(await what.isVisible())) await page.locator("dialog summary").click();
  await what.click();
  await page.locator("dialog .ask").waitFor();
}

/** Asks for the rear suspension to be taken down, for one's own card `forCard`. */
export async function ask(page, forCard) {
  await button(page, "Need something …").click();
  await chooseWhat(page, /^Suspension down, rear/);
  // Where only what is in hand may wait, it stands there already.
  if (forCard) {
    await page.locator("dialog summary", { hasText: /^(Which step waits for this\?|For: )/ }).click();
    await page.locator("dialog label.choice", { hasText: forCard }).click();
  }
  await button(page, "Ask").click();
  await page.locator("dialog[open]").waitFor({ state: "hidden" });
}

/** A card by its own title: others name it as what they wait for. */
export const cardOf = (page, title) => page.locator("main details", { has: page.locator("summary strong", { hasText: title }) });

/** Takes one card: several may be free. */
export const take = (page, title) => cardOf(page, title).getByRole("button", { name: "Take", exact: true }).click();

/** The vehicle's own line of what is open: cards say such words too. */
export const openLine = (page, what) => page.locator(".vehicle strong", { hasText: new RegExp(`^Open: ${what}$`) });

/** Finishes what runs and ticks what is to be looked at; a card without any of it is finished by the first tap. */
export async function finish(page) {
  const acts = async () => {
    const { outbox, journal } = await stored(page);
    return new Set([...outbox, ...journal].map((row) => row.op.id)).size;
  };
  const before = await acts();
  await button(page.locator("main"), "Finish").click();
  const sheet = page.locator("dialog[open]");
  await until("the sheet, or that it is finished", async () => (await sheet.count()) > 0 || (await acts()) > before);
  if (!(await sheet.count())) return;
  for (const box of await sheet.getByRole("checkbox").all()) await box.check();
  await sheet.getByRole("button", { name: "Finish", exact: true }).click();
  await sheet.waitFor({ state: "hidden" });
}

/** A small picture, other bytes for every colour. */
export async function smallPicture(page, colour) {
  const base64 = await page.evaluate((colour) => {
    const canvas = Object.assign(document.createElement("canvas"), { width: 640, height: 480 });
    const pen = canvas.getContext("2d");
    pen.fillStyle = colour;
    pen.fillRect(0, 0, 640, 480);
    return canvas.toDataURL("image/jpeg").split(",")[1];
  }, colour);
  return { name: "seam.jpg", mimeType: "image/jpeg", buffer: Buffer.from(base64, "base64") };
}

/** Loaded anew, then by taps to the vehicle. */
export async function anew(page, order) {
  await page.reload();
  await page.locator("nav.bar").waitFor();
  await toVehicle(page, order);
}

/** The app's own word of how much waits; whole, for a time of day may stand before it. */
export const waiting = (page, n) => page.getByText(`${n} not sent`, { exact: true }).first().waitFor();

/** Everything in the phone's database, the photos' bytes as their lengths. */
export const stored = (page) =>
  page.evaluate(async () => {
    const wait = (of) => new Promise((done, fail) => {
      of.onsuccess = () => done(of.result);
      of.onerror = () => fail(of.error);
    });
    const db = await wait(indexedDB.open("turnbuckle"));
    try {
      const found = { meta: {} };
      const at = db.transaction([...db.objectStoreNames]);
      for (const name of db.objectStoreNames) {
        const store = at.objectStore(name);
        if (name !== "meta") found[name] = await wait(store.getAll());
        else {
          const [keys, values] = await Promise.all([wait(store.getAllKeys()), wait(store.getAll())]);
          keys.forEach((key, i) => (found.meta[key] = values[i]));
        }
      }
      found.chunks = found.chunks.map(({ sha256, i, data }) => ({ sha256, i, bytes: data.byteLength }));
      return found;
    } finally {
      db.close();
    }
  });

/** The numbers of a client's acts on the phone, sent or not, in order: 1, 2, 3 … or something is wrong. */
export function numbers({ outbox, journal }, client) {
  const all = new Map([...journal, ...outbox].filter((row) => row.client === client).map((row) => [row.n, row.op.id]));
  return [...all.keys()].sort((a, b) => a - b);
}

export const oneTo = (n) => Array.from({ length: n }, (_, i) => i + 1);

export const docsOf = (pulled, kind) =>
  Object.entries(pulled.docs).filter(([key, body]) => key.startsWith(`${kind}/`) && body).map(([, body]) => body);

/** Bodies of all notes at the server, sorted. */
export const notesAt = async (api) => docsOf(await api.pull(), "note").map((one) => one.body).sort();

/** Waits until nothing waits on this phone and no document of what it sent is missing. */
export const allSent = (page) => until("everything to be sent", async () => (await stored(page)).outbox.length === 0);

/** All of the phone's documents beside all that the server gives to everybody; the difference, if it stays. */
export async function same(page, api) {
  let difference;
  await until("the same copy", async () => {
    const at = Object.fromEntries(Object.entries((await api.pull()).docs).filter(([, body]) => body));
    const here = Object.fromEntries((await stored(page)).docs.map((one) => [one.key, one.body]));
    try {
      assert.deepEqual(here, at);
      return true;
    } catch (error) {
      difference = error;
      return false;
    }
  }).catch((error) => Promise.reject(difference ?? error));
}

/**
 * A network in front of the server. `on`: `answer(request)` may answer itself (return a status, or a file as
 * `{ headers, body }`), `text(path, text)` may change what the server gives of the app, `piece(request, bytes)` says how much of an upload
 * arrives and whether its answer does. `live`: the open live channels. `cut(true)`: nothing gets through.
 */
export async function network(target, on = {}) {
  const to = new URL(target);
  const agent = new Agent({ keepAlive: true });
  const [live, sockets, seen] = [new Set(), new Set(), []];
  let away = false;
  const server = createServer(async (asked, answer) => {
    const chunks = [];
    asked.on("error", () => {});
    for await (const chunk of asked) chunks.push(chunk);
    const body = Buffer.concat(chunks);
    seen.push({ method: asked.method, path: asked.url, headers: asked.headers });
    const own = on.answer?.(asked);
    if (own?.body) return answer.writeHead(200, own.headers).end(own.body);
    if (own) return answer.writeHead(own).end();
    const path = on.path?.(asked.url) ?? asked.url;
    const wants = on.text && !path.startsWith("/api/");
    const headers = { ...asked.headers, ...(wants ? { "accept-encoding": "identity" } : {}) };
    const cut = on.piece?.(asked, body);
    const up = request({ host: to.hostname, port: to.port, method: asked.method, path, headers, agent }, (came) => {
      if (cut) return asked.socket.destroy();
      if (asked.url.startsWith("/api/v1/live")) {
        live.add(answer);
        answer.on("close", () => {
          live.delete(answer);
          up.destroy();
        });
      }
      if (!wants) {
        answer.writeHead(came.statusCode, came.headers);
        return came.on("error", () => answer.destroy()).pipe(answer);
      }
      const parts = [];
      came.on("data", (part) => parts.push(part)).on("end", () => {
        const { "content-length": _, etag, ...rest } = came.headers;
        const whole = Buffer.concat(parts);
        const kind = String(came.headers["content-type"]);
        const out = /javascript|html|css/.test(kind) ? Buffer.from(on.text(asked.url, String(whole))) : whole;
        answer.writeHead(came.statusCode, { ...rest, "content-length": out.length }).end(out);
      });
    });
    up.on("error", () => asked.socket.destroy());
    if (cut?.bytes !== undefined && cut.bytes < body.length) {
      // The rest of the piece never comes: the line is dead in the middle of it.
      up.write(body.subarray(0, cut.bytes), () => setImmediate(() => up.destroy()));
    } else up.end(body);
  });
  const drop = () => {
    for (const socket of sockets) socket.destroy();
  };
  server.on("connection", (socket) => {
    if (away) return socket.destroy();
    sockets.add(socket);
    socket.on("close", () => sockets.delete(socket));
  });
  await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
  return {
    base: `http://127.0.0.1:${server.address().port}`,
    live,
    seen,
    /** Every connection breaks, as when a server is stopped. */
    drop,
    cut(now) {
      away = now;
      if (now) drop();
    },
    stop() {
      server.close();
      drop();
      agent.destroy();
    },
  };
}

/** A link as it would read with the network in front of the server. */
export const through = (net, link) => link.replace(new URL(link).origin, net.base);

/**
 * Airplane mode. The browser's own tells the page, but now and then lets the first requests of a page loaded
 * anew through; so the line is cut too.
 */
export async function airplane({ context, net }, on) {
  net.cut(on);
  await context.setOffline(on);
}
