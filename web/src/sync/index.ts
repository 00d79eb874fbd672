// Joins engine, database and screen: one leader per browser sends and receives, other tabs only write
// and listen.
import { http } from "../api/client";
import type { DocLine, Handoff, Plan, SignedIn } from "../api/types";
import { JOINED } from "../core/cases";
import { db } from "../db";
import { sort } from "../photos/kept";
import { look } from "../room";
import * as state from "../state";
import type { Engine, Mirror } from "./engine";

type Said =
  | { say: "act" }
  | { say: "rows" }
  | { say: "commit"; keys: string[]; replace: boolean }
  | { say: "notices" }
  | { say: "held"; clients: readonly string[] }
  | { say: "client"; to: SignedIn }
  | { say: "reach"; live: boolean; why?: string | undefined };

const channel = typeof BroadcastChannel === "undefined" ? undefined : new BroadcastChannel("turnbuckle");
const tell = (what: Said): void => channel?.postMessage(what);

let engine: Engine | undefined;
let release: (() => void) | undefined;

/** Whose cookies the browser has: notices are theirs. */
let cookiesOf = "";

/**
 * Begins to send and receive for the signed-in person. On a shared tablet unlocked without a network the
 * cookies may still be another's.
 */
export function startSync(who: SignedIn, cookies = who.person): void {
  stopSync();
  cookiesOf = cookies;
  state.onAct(() => {
    tell({ say: "act" });
    void engine?.wake();
  });
  const lead = async (): Promise<void> => {
    let stopped = false;
    const over = new Promise<void>((resolve) => {
      release = () => {
        stopped = true;
        engine?.stop();
        engine = undefined;
        resolve();
      };
    });
    const Sync = await engineCode(() => stopped);
    if (Sync && !stopped) {
      engine = new Sync(http, db, mirror, who, undefined, cookiesOf);
      void engine.start().then(
        () => uploadPhotos(),
        () => undefined,
      );
      state.warned.value = 0;
      void import("./warned").then(({ look }) => look()).catch(() => undefined);
      void sortPhotos();
    }
    await over;
  };
  if (!("locks" in navigator)) return void lead();
  const waiting = new AbortController();
  release = () => waiting.abort();
  navigator.locks.request("turnbuckle-sync", { signal: waiting.signal }, lead).catch(() => undefined);
}

const AGAIN_MS = 4_000;

/** What sends and receives comes after what is shown first: the kept copy needs none of it. */
async function engineCode(stopped: () => boolean): Promise<typeof Engine | undefined> {
  while (!stopped()) {
    try {
      return (await import("./engine")).Engine;
    } catch {
      state.setReach(false, "unreached");
      await new Promise((again) => setTimeout(again, AGAIN_MS));
    }
  }
  return undefined;
}

export function stopSync(): void {
  release?.();
  release = undefined;
}

/** The person asked, or came back to the page. */
export const wakeSync = (): void => void engine?.wake();

const mirror: Mirror = {
  committed({ docs, replace, position, plan }) {
    noteJoined(docs);
    state.cursor.value = position.cursor;
    if (plan) state.plan.value = plan;
    if (replace) state.setDocs(docs.filter((line) => !line.gone) as never);
    else state.changeDocs(docs);
    tell({ say: "commit", keys: docs.map((line) => line.key), replace });
    // After a fresh copy the server may have lost pictures that it had.
    if (replace || docs.some(({ key }) => key.startsWith("photo/"))) void sortPhotos();
  },
  rows(rows) {
    state.setRows(rows);
    tell({ say: "rows" });
    void uploadPhotos();
  },
  told(rows) {
    state.tray.value = rows;
    tell({ say: "rows" });
  },
  notices(list, read) {
    if (state.me.peek()?.person !== cookiesOf) return;
    state.notices.value = list;
    state.noticesRead.value = read;
    tell({ say: "notices" });
  },
  offset(ms) {
    state.setOffset(ms);
    // Measured again with the next answer.
    void db.set("offset", ms).catch(() => undefined);
  },
  reach(live, why) {
    state.setReach(live, why);
    tell({ say: "reach", live, why });
  },
  client(to) {
    goOnAs(to);
    tell({ say: "client", to });
    void db
      .changePerson(to.person, (was) => ({ ...was, person: to.person, name: to.name, client: to.client, signed: to }))
      .catch(() => undefined);
  },
  opened(docs, plan) {
    if (state.cursor.peek()) return;
    state.plan.value = plan;
    state.setDocs(docs as never);
  },
  copying(documents) {
    state.copying.value = documents;
  },
  held(clients) {
    state.held.value = new Set(clients);
    tell({ say: "held", clients });
  },
  again(count) {
    state.sentAgain.value = count;
  },
};

channel?.addEventListener("message", ({ data }: MessageEvent<Said>) => void hear(data).catch(() => undefined));

async function hear(said: Said): Promise<void> {
  switch (said.say) {
    case "act":
      state.setRows(await db.outbox());
      await engine?.wake();
      break;
    case "rows":
      state.setRows(await db.outbox());
      state.tray.value = await db.tray();
      break;
    case "commit": {
      const [position, plan, rows] = await Promise.all([db.position(), db.get<Plan>("plan"), db.outbox()]);
      if (said.replace) state.setDocs(await db.docs());
      else {
        const found = await db.docsOf(said.keys);
        state.changeDocs(said.keys.map((key, i): DocLine => found[i] ?? { key, seq: 0, gone: true }));
      }
      state.cursor.value = position?.cursor ?? 0;
      state.plan.value = plan;
      state.setRows(rows);
      break;
    }
    case "notices":
      state.notices.value = await db.notices();
      state.noticesRead.value = (await db.get<number>("notices_read")) ?? 0;
      break;
    case "held":
      state.held.value = new Set(said.clients);
      break;
    case "client":
      goOnAs(said.to);
      break;
    case "reach":
      state.setReach(said.live, said.why);
  }
}

/** The same person under another client: what is done from now on goes under that one, in every tab. */
function goOnAs(to: SignedIn): void {
  if (state.me.peek()?.person === to.person) state.me.value = to;
}

/**
 * An ask that met what somebody else had opened or asked for meanwhile: its person is told once. What was shown
 * when it was made decides: the other's ask may have come here before the verdict on this one.
 */
function noteJoined(docs: readonly DocLine[]): void {
  for (const { key, body } of docs) {
    if (!key.startsWith("handoff/") || !(body as Handoff | undefined)?.joined) continue;
    const row = state.kept().find(({ op }) => key === `handoff/${op.id}`);
    if (!row || row.joins) continue;
    void db
      .putInTray({ id: row.op.id, person: row.person, client: row.client, op: row.op, code: JOINED, since: Date.now() })
      .then(async () => mirror.told(await db.tray()))
      .catch(() => undefined);
  }
}

let uploading = false;

/** Photos go after the operations, one by one, and never hold them up. */
async function uploadPhotos(): Promise<void> {
  if (uploading || !engine || !navigator.onLine) return;
  uploading = true;
  try {
    if ((await db.photoRows()).some((row) => !row.sent)) {
      const { uploadAll } = await import("../photos/upload");
      await uploadAll(db);
    }
  } catch {
    // They are kept and tried again with the next change or when the network is back.
  } finally {
    uploading = false;
  }
}

/** Which of this phone's pictures stay, go, or are sent again, by what the shop's documents say of them. */
async function sortPhotos(): Promise<void> {
  try {
    await sortKept();
  } catch {
    // They stay as they are until something is said of them again.
  }
}

async function sortKept(): Promise<void> {
  const erased = new Set([...state.photos.peek().values()].flatMap((one) => (one.erased ? [one.sha256] : [])));
  for (const { sha256 } of await db.photoRows()) if (erased.has(sha256)) await db.forgetPhoto(sha256);
  const rows = await db.photoRows();
  if (!rows.length) return;
  const here = new Map([...state.photos.peek().values()].map((one) => [one.sha256, one.here]));
  const { forget, arrived, again } = sort(rows, (sha256) => here.get(sha256), Date.now(), await look());
  for (const sha256 of forget) await db.forgetPhoto(sha256);
  for (const sha256 of arrived) await db.markPhoto(sha256, { sent: true });
  // The upload of then is another history's.
  for (const sha256 of again) await db.markPhoto(sha256, { sent: false, upload: undefined });
  if (again.length) void uploadPhotos();
}

if (typeof addEventListener !== "undefined" && typeof document !== "undefined") {
  addEventListener("online", wakeSync);
  // A channel of a network that is gone may stay open, and silent, for minutes.
  addEventListener("offline", () => void engine?.reopen());
  addEventListener("pageshow", (event) => {
    if (event.persisted) void engine?.reopen();
  });
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") void engine?.reopen();
  });
}
