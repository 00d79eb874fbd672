// The real binary, real browsers, a sink for mail; every person has an own phone (browser context).
import { spawn } from "node:child_process";
import { randomUUID } from "node:crypto";
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

const BINARY = process.env.TURNBUCKLE_BIN ?? fileURLToPath(new URL("../../target/debug/turnbuckle", import.meta.url));
export const OUT = fileURLToPath(new URL("out/", import.meta.url));

/**
 * Starts `serve` on an empty directory or `demo`; `links` by who they are for. `data`: a directory that stays
 * when the server is stopped; if there is a shop in it, people have signed in already and there are no links.
 */
export async function start(command, { args = [], config, data } = {}) {
  const dir = mkdtempSync(join(tmpdir(), "turnbuckle-browser-"));
  const all = [command, "--listen", "127.0.0.1:0", "--data", data ?? join(dir, "data"), ...args];
  const old = data !== undefined && existsSync(data);
  if (config) {
    writeFileSync(join(dir, "config.toml"), config);
    all.push("--config", join(dir, "config.toml"));
  }
  const child = spawn(BINARY, all, { stdio: ["ignore", "pipe", "inherit"] });
  const links = {};
  let text = "";
  await new Promise((resolve, reject) => {
    child.on("exit", (code) => reject(new Error(`the server ended with ${code}: ${text}`)));
    child.stdout.on("data", (bytes) => {
      text += bytes;
      for (const line of text.split("\n").slice(0, -1)) {
        const kept = /, good once, is in (.+)$/.exec(line)?.[1];
        const link = kept ? readFileSync(kept, "utf8").trim() : /(http:\S+#join=\S+)/.exec(line)?.[1];
        if (!link) continue;
        const who = (kept ? "" : line.slice(0, line.indexOf("http"))).trim().split(/\s{2,}/)[0] || "admin";
        links[who] = link;
      }
      if (command !== "serve" ? text.includes("Stop with") : links.admin || (old && text.includes("listens on"))) resolve();
    });
  });
  const base = new URL(Object.values(links)[0] ?? /listens on (http:\S+)/.exec(text)[1]).origin;
  return {
    base,
    links,
    child,
    stop() {
      child.removeAllListeners("exit");
      child.kill("SIGKILL");
      rmSync(dir, { recursive: true, force: true });
    },
  };
}

export function browser(...more) {
  return chromium.launch({
    executablePath: "/usr/bin/chromium",
    args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
      "--disable-background-networking", "--disable-component-update", "--disable-sync", ...more],
  });
}

/** A phone of its own for the person behind a one-time link. */
/** `byItself`: an app of before, which signed in by what was in the address. */
export async function openAs(launched, link, { byItself = false, ...options } = {}) {
  const context = await launched.newContext({ viewport: { width: 390, height: 844 }, locale: "en-US", ...options });
  context.setDefaultTimeout(30_000);
  const page = await context.newPage();
  const errors = [];
  page.on("pageerror", (error) => errors.push(String(error)));
  await page.goto(link);
  if (!byItself) await touchSignIn(page);
  await page.locator("nav").first().waitFor();
  // Installed: from here on the app opens and works with the network gone.
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
  return { context, page, errors };
}

/** A link signs nobody in by itself. */
export const touchSignIn = (page) => page.getByRole("button", { name: /^(Sign in as|Entrar como) / }).click();

/** The network is gone, and the app has noticed: nothing comes over a channel that is still open. */
export async function away(page) {
  await page.context().setOffline(true);
  await page.locator(".status", { hasText: "No server since" }).waitFor();
}

/** A text that can be read. The tables beside pictures, for readers of the screen, may say it too, unseen. */
export const shown = (page, text) => page.getByText(text).filter({ visible: true }).first();

/** A client of the API with its own sign-in, for what is not the point of a test. */
export class Api {
  /** `ask` is how it asks, if not like everybody else. */
  static async join(base, link, ask = fetch) {
    const api = new Api();
    Object.assign(api, { base, ask, cookies: {}, n: 0 });
    api.me = await api.post("/api/v1/auth/join", { token: link.split("#join=")[1], device: "test" });
    return api;
  }
  async send(method, path, body) {
    const cookie = Object.entries(this.cookies).map(([name, value]) => `${name}=${value}`).join("; ");
    const answer = await this.ask(this.base + path, {
      method,
      headers: { "content-type": "application/json", cookie },
      body: body === undefined ? undefined : JSON.stringify(body),
    });
    for (const set of answer.headers.getSetCookie()) {
      const [name, value] = set.split(";")[0].split(/=(.*)/s);
      this.cookies[name] = value;
    }
    const text = await answer.text();
    if (!answer.ok) throw new Error(`${method} ${path}: ${answer.status} ${text}`);
    return text ? JSON.parse(text) : undefined;
  }
  /** For requests that carry no cookies; the shop's id is a part of the cookie's name. */
  get access() {
    return Object.entries(this.cookies).find(([name]) => name.startsWith("turnbuckle_access_"))[1];
  }
  post(path, body) {
    return this.send("POST", path, body);
  }
  get(path) {
    return this.send("GET", path);
  }
  /** `at`: when it was done, if not now. */
  async act(kind, args, at = Date.now()) {
    const id = randomUUID();
    const op = { n: ++this.n, id, session: this.me.session, kind, args, device_at: at };
    const answer = await this.post("/api/v1/sync/push", { epoch: this.me.epoch, client: this.me.client, device_now: Date.now(), ops: [op] });
    const [result] = answer.results;
    if (result.verdict === "refused") throw new Error(`${kind}: ${JSON.stringify(result)}`);
    return id;
  }
  async person(name, department, role, language = "en") {
    const id = randomUUID();
    await this.act("set_person", { person: { id, name, department, role, language } });
    return { id, link: (await this.post("/api/v1/auth/invite", { person: id })).link };
  }
  /** Everything that phones hold, by key, and the plan. */
  async pull() {
    const docs = {};
    let page = { to: 0, more: true };
    while (page.more) {
      page = await this.get(`/api/v1/sync/pull?after=${page.to}`);
      for (const doc of page.docs) docs[doc.key] = doc.body;
    }
    return { docs, plan: page.plan };
  }
}

/** Asks until the answer is there. */
export async function until(what, ask, seconds = 40) {
  const end = Date.now() + seconds * 1000;
  for (;;) {
    const found = await ask();
    if (found) return found;
    if (Date.now() > end) throw new Error(`${what} did not come`);
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
}

/** A mail server that keeps what it is given (RFC 5321, as much of it as a client needs). */
export async function mailSink() {
  const mails = [];
  const server = createServer((socket) => {
    let [data, text, to] = [false, "", []];
    const say = (line) => socket.write(`${line}\r\n`);
    socket.on("error", () => {});
    say("220 sink.example");
    socket.on("data", (bytes) => {
      text += bytes;
      for (;;) {
        const end = text.indexOf(data ? "\r\n.\r\n" : "\r\n");
        if (end < 0) return;
        const line = text.slice(0, end);
        text = text.slice(end + (data ? 5 : 2));
        if (data) {
          mails.push({ to, text: line });
          [data, to] = [false, []];
          say("250 kept");
        } else if (/^RCPT TO/i.test(line)) {
          to.push(/<(.*)>/.exec(line)[1]);
          say("250 ok");
        } else if (/^DATA/i.test(line)) {
          data = true;
          say("354 go on");
        } else if (/^QUIT/i.test(line)) {
          say("221 bye");
          socket.end();
        } else say(/^EHLO/i.test(line) ? "250-sink.example\r\n250 8BITMIME" : "250 ok");
      }
    });
  });
  await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
  return { mails, port: server.address().port, stop: () => server.close() };
}
