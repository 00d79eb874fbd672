// General sync servers under the load that the phones put on ours: 50 clients, 145-byte updates, each
// client sending its next when the last is acknowledged, or all together at a rate. As shipped; what
// they promise about a disk is said beside. Prints one JSON line for each.
//
//   node peers.mjs [--phones 50] [--ops 40] [--rate 100]
import { spawn } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import http from "node:http";
import { tmpdir } from "node:os";
import path from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { parseArgs } from "node:util";
import { HocuspocusProvider, HocuspocusProviderWebsocket } from "@hocuspocus/provider";
import WebSocket from "ws";
import * as Y from "yjs";

const { values } = parseArgs({ options: { phones: { type: "string", default: "50" }, ops: { type: "string", default: "40" }, rate: { type: "string" } } });
const [phones, ops, rate] = [Number(values.phones), Number(values.ops), Number(values.rate ?? 0)];
const here = import.meta.dirname;
const text = "x".repeat(145 - 12);

/** Nearest rank, in milliseconds. */
const quantile = (sorted, q) => sorted[Math.max(0, Math.ceil(q * sorted.length) - 1)];

async function start(command, args, cwd) {
  const child = spawn(command, args, { cwd, stdio: ["ignore", "pipe", "inherit"] });
  const cpu = () => {
    const fields = readFileSync(`/proc/${child.pid}/stat`, "utf8").split(") ")[1].split(" ");
    return (Number(fields[11]) + Number(fields[12])) * 10;
  };
  return { child, cpu };
}

/** What is the same for all: who sends when, and what is counted. */
async function run(name, durability, server, clients) {
  const sent = new Map();
  const visible = [];
  const acked = [];
  let bytes = 0;
  const counted = { seen: 0 };
  clients.forEach((client, number) => {
    client.heard = (key) => {
      if (!sent.has(key) || key.startsWith(`${number}-`)) return;
      visible.push(performance.now() - sent.get(key));
      counted.seen++;
    };
    client.down = (length) => (bytes += length);
  });
  const before = server.cpu();
  const began = performance.now();
  await Promise.all(
    clients.map(async (client, number) => {
      for (let n = 0; n < ops; n++) {
        const due = rate ? began + ((n * phones + number) * 1000) / rate : performance.now();
        if (rate) await sleep(Math.max(0, due - performance.now()));
        const key = `${number}-${n}`;
        sent.set(key, due);
        await client.send(key, text);
        acked.push(performance.now() - due);
      }
    }),
  );
  const seconds = (performance.now() - began) / 1000;
  const wanted = phones * ops * (phones - 1);
  for (let i = 0; i < 400 && counted.seen < wanted; i++) await sleep(25);
  const cpu = server.cpu() - before;
  for (const list of [visible, acked]) list.sort((a, b) => a - b);
  const all = phones * ops;
  console.log(
    JSON.stringify({
      peer: name, durability, phones, ops: all, rate: rate || null,
      acked_per_s: Math.round(all / seconds), acked_ms_p50: quantile(acked, 0.5), acked_ms_p99: quantile(acked, 0.99),
      visible_ms_p50: quantile(visible, 0.5), visible_ms_p99: quantile(visible, 0.99),
      down_bytes_per_op_phone: Math.round(bytes / all / phones), server_cpu_ms_per_op: cpu / all,
      converged: counted.seen === wanted,
    }),
  );
}

async function hocuspocus() {
  const port = 5987;
  const server = await start(process.execPath, [path.join(here, "hocuspocus-server.mjs"), String(port)], here);
  await new Promise((ready) => server.child.stdout.once("data", ready));
  const clients = await Promise.all(
    Array.from({ length: phones }, async () => {
      const client = { heard: () => undefined, down: () => undefined };
      class Counted extends WebSocket {
        constructor(url) {
          super(url);
          this.on("message", (data) => client.down(data.byteLength ?? data.length));
        }
      }
      const socket = new HocuspocusProviderWebsocket({ url: `ws://127.0.0.1:${port}`, WebSocketPolyfill: Counted });
      const doc = new Y.Doc();
      const provider = new HocuspocusProvider({ websocketProvider: socket, name: "shop", document: doc, token: "t" });
      await new Promise((synced) => provider.on("synced", synced));
      const map = doc.getMap("ops");
      map.observe((event) => event.keysChanged.forEach((key) => client.heard(key)));
      client.send = (key, value) =>
        new Promise((told) => {
          const when = () => {
            if (provider.unsyncedChanges > 0) return;
            provider.off("unsyncedChanges", when);
            told();
          };
          map.set(key, value);
          provider.on("unsyncedChanges", when);
          when();
        });
      client.close = () => (provider.destroy(), socket.destroy());
      return client;
    }),
  );
  await run("hocuspocus 2.15.3", "memory only", server, clients);
  for (const client of clients) client.close();
  server.child.kill();
}

async function pouchdb() {
  const port = 5986;
  const dir = mkdtempSync(path.join(tmpdir(), "peer-"));
  const bin = path.join(here, "node_modules/pouchdb-server/bin/pouchdb-server");
  const server = await start(process.execPath, [bin, "--host", "127.0.0.1", "--port", String(port)], dir);
  const base = `http://127.0.0.1:${port}/shop`;
  for (let i = 0; ; i++) {
    const up = await fetch(base, { method: "PUT" }).catch(() => undefined);
    if (up) break;
    if (i > 200) throw new Error("pouchdb-server did not start");
    await sleep(50);
  }
  const agent = new http.Agent({ keepAlive: true, maxSockets: phones });
  const post = (body) =>
    new Promise((told, failed) => {
      const request = http.request(base, { method: "POST", agent, headers: { "Content-Type": "application/json" } }, (answer) => {
        answer.resume().on("end", () => (answer.statusCode < 300 ? told() : failed(new Error(`${answer.statusCode}`))));
      });
      request.on("error", failed).end(JSON.stringify(body));
    });
  const clients = await Promise.all(
    Array.from({ length: phones }, async () => {
      const client = { heard: () => undefined, down: () => undefined };
      const feed = http.get(`${base}/_changes?feed=continuous&include_docs=true&since=now&heartbeat=20000`);
      await new Promise((open) => feed.once("response", (answer) => {
        let rest = "";
        answer.on("data", (data) => {
          client.down(data.length);
          const lines = (rest + data).split("\n");
          rest = lines.pop();
          for (const line of lines) if (line) client.heard(JSON.parse(line).id);
        });
        open();
      }));
      client.send = (key, value) => post({ _id: key, value });
      client.close = () => feed.destroy();
      return client;
    }),
  );
  await run("pouchdb-server 4.2.0", "written, not synced", server, clients);
  for (const client of clients) client.close();
  agent.destroy();
  server.child.kill();
  rmSync(dir, { recursive: true, force: true });
}

await hocuspocus();
await pouchdb();
process.exit(0);
