// Every read and write the app makes in its database, by name.
import type { DocLine, Notice, Op, OpResult, Plan, SignedIn } from "../api/types";
import { Connection, type Draft, type JournalRow, type OutboxRow, type PhotoRow, type StoredDoc, type TrayRow } from "./open";

/** Where this phone's copy stands. */
export interface Position {
  epoch: string;
  cursor: number;
  hash: string;
}

export interface Commit {
  position: Position;
  docs: readonly DocLine[];
  plan?: Plan | null | undefined;
  /** A fresh copy: everything that was there before goes. */
  replace?: boolean;
}

export const JOURNAL_DAYS = 14;
export const JOURNAL_ROWS = 5_000;
export const CHUNK_BYTES = 512 * 1024;

export class Store {
  constructor(private readonly at = new Connection()) {}

  close(): Promise<void> {
    return this.at.close();
  }

  get<T>(key: string): Promise<T | undefined> {
    return this.at.run(async (db) => (await db.get("meta", key)) as T | undefined);
  }

  async set(key: string, value: unknown): Promise<void> {
    await this.at.run((db) => (value === undefined ? db.delete("meta", key) : db.put("meta", value, key).then(() => undefined)));
  }

  /** Gives the operation its number and keeps it, in one transaction that reaches the disk. */
  enqueue(client: string, person: string, op: Op): Promise<OutboxRow> {
    return this.at.run(async (db) => {
      const tx = db.transaction(["meta", "outbox"], "readwrite", { durability: "strict" });
      const counter = `n:${client}`;
      const n = (((await tx.objectStore("meta").get(counter)) as number | undefined) ?? 0) + 1;
      const row: OutboxRow = { client, n, person, op: { ...op, n } };
      await Promise.all([tx.objectStore("meta").put(n, counter), tx.objectStore("outbox").add(row), tx.done]);
      return row;
    });
  }

  outbox(): Promise<OutboxRow[]> {
    return this.at.run(async (db) => inOrder(await db.getAll("outbox")));
  }

  docs(): Promise<StoredDoc[]> {
    return this.at.run((db) => db.getAll("docs"));
  }

  docsOf(keys: readonly string[]): Promise<(StoredDoc | undefined)[]> {
    return this.at.run((db) => {
      const tx = db.transaction("docs");
      return Promise.all(keys.map((key) => tx.store.get(key)));
    });
  }

  position(): Promise<Position | undefined> {
    return this.get<Position>("position");
  }

  signedIn(): Promise<SignedIn | undefined> {
    return this.get<SignedIn>("signed_in");
  }

  /**
   * Keeps verdicts. A refused operation leaves the outbox for the tray; an applied one stays laid over
   * the screen until the documents that show it have come.
   */
  settle(client: string, results: readonly OpResult[], at: number): Promise<{ refused: TrayRow[] }> {
    return this.at.run(async (db) => {
      const tx = db.transaction(["outbox", "journal", "tray"], "readwrite", { durability: "strict" });
      const refused: TrayRow[] = [];
      for (const result of results) {
        const row = await tx.objectStore("outbox").get([client, result.n]);
        if (!row) continue;
        void tx.objectStore("journal").put({ ...row, result, acked_at: at });
        if (result.verdict === "refused") {
          const entry = trayRow(row, result, at);
          refused.push(entry);
          void tx.objectStore("tray").put(entry);
          void tx.objectStore("outbox").delete([client, result.n]);
        } else {
          void tx.objectStore("outbox").put({ ...row, result });
        }
      }
      await tx.done;
      return { refused };
    });
  }

  /** One commit: documents, cursor, plan, and the operations those documents now contain. */
  commit(what: Commit): Promise<OutboxRow[]> {
    return this.at.run(async (db) => {
      const tx = db.transaction(["meta", "docs", "outbox"], "readwrite", { durability: "strict" });
      const docs = tx.objectStore("docs");
      if (what.replace) void docs.clear();
      for (const line of what.docs) {
        if (line.gone) void docs.delete(line.key);
        else void docs.put({ key: line.key, seq: line.seq, body: line.body as StoredDoc["body"] });
      }
      void tx.objectStore("meta").put(what.position, "position");
      if (what.plan) void tx.objectStore("meta").put(what.plan, "plan");
      const rows = await tx.objectStore("outbox").getAll();
      const rest: OutboxRow[] = [];
      for (const row of rows) {
        if (row.result && row.result.seq <= what.position.cursor) void tx.objectStore("outbox").delete([row.client, row.n]);
        else rest.push(row);
      }
      await tx.done;
      return inOrder(rest);
    });
  }

  /** Puts acknowledged operations from `from` on back into the outbox. False if one of them is missing. */
  reoffer(client: string, from: number): Promise<boolean> {
    return this.at.run(async (db) => {
      const tx = db.transaction(["outbox", "journal"], "readwrite", { durability: "strict" });
      const outbox = tx.objectStore("outbox");
      const waiting = (await outbox.getAll(IDBKeyRange.bound([client, from], [client, Infinity]))).filter((row) => !row.result);
      const end = waiting[0]?.n ?? Infinity;
      const kept = await tx.objectStore("journal").getAll(IDBKeyRange.bound([client, from], [client, end], false, true));
      const whole = kept.every((row, i) => row.n === from + i) && (end === Infinity || kept.length === end - from);
      if (whole) {
        for (const { client, n, person, op } of kept) void outbox.put({ client, n, person, op });
      }
      await tx.done;
      return whole;
    });
  }

  /** Moves what is unsent of one client under a new one, numbered from 1, oldest first. */
  renumber(from: string, to: string, alsoJournalFrom?: number): Promise<OutboxRow[]> {
    return this.at.run(async (db) => {
      const tx = db.transaction(["meta", "outbox", "journal"], "readwrite", { durability: "strict" });
      const outbox = tx.objectStore("outbox");
      const mine = IDBKeyRange.bound([from, 0], [from, Infinity]);
      const rows = (await outbox.getAll(mine)).filter((row) => !row.result);
      const again =
        alsoJournalFrom === undefined
          ? []
          : await tx.objectStore("journal").getAll(IDBKeyRange.bound([from, alsoJournalFrom], [from, Infinity]));
      const moved = [...again.map(({ person, op }) => ({ person, op })), ...rows];
      void outbox.delete(mine);
      moved.forEach(({ person, op }, i) => void outbox.put({ client: to, n: i + 1, person, op: { ...op, n: i + 1 } }));
      void tx.objectStore("meta").put(moved.length, `n:${to}`);
      await tx.done;
      return inOrder(await db.getAll("outbox"));
    });
  }

  /** An operation the server can never read: something small takes its number, its text is kept. */
  dropTooLarge(row: OutboxRow, why: string, at: number): Promise<void> {
    return this.at.run(async (db) => {
      const tx = db.transaction(["outbox", "tray"], "readwrite", { durability: "strict" });
      const { op } = row;
      void tx.objectStore("tray").put({ id: op.id, person: row.person, op, code: "too_large", since: at });
      void tx.objectStore("outbox").put({ ...row, op: { ...op, kind: "dropped", args: { why } } as Op });
      await tx.done;
    });
  }

  tray(): Promise<TrayRow[]> {
    return this.at.run((db) => db.getAll("tray"));
  }

  removeFromTray(id: string): Promise<void> {
    return this.at.run((db) => db.delete("tray", id));
  }

  journal(): Promise<JournalRow[]> {
    return this.at.run((db) => db.getAll("journal"));
  }

  /** Forgets acknowledged operations older than two weeks or beyond the newest 5,000. */
  trimJournal(at: number): Promise<void> {
    return this.at.run(async (db) => {
      const tx = db.transaction("journal", "readwrite");
      const rows = await tx.store.getAll();
      rows.sort((a, b) => b.acked_at - a.acked_at);
      const oldest = at - JOURNAL_DAYS * 86_400_000;
      rows.forEach((row, i) => {
        if (i >= JOURNAL_ROWS || row.acked_at < oldest) void tx.store.delete([row.client, row.n]);
      });
      await tx.done;
    });
  }

  /** Keeps a photo in pieces, with its record; what is already there is left as it is. */
  putPhoto(row: PhotoRow, data: ArrayBuffer): Promise<void> {
    return this.at.run(async (db) => {
      const tx = db.transaction(["photos", "chunks"], "readwrite", { durability: "strict" });
      if (!(await tx.objectStore("photos").get(row.sha256))) {
        for (let i = 0; i < row.chunks; i++) {
          const piece = data.slice(i * CHUNK_BYTES, (i + 1) * CHUNK_BYTES);
          void tx.objectStore("chunks").put({ sha256: row.sha256, i, data: piece });
        }
        void tx.objectStore("photos").put(row);
      }
      await tx.done;
    });
  }

  photoRows(): Promise<PhotoRow[]> {
    return this.at.run((db) => db.getAll("photos"));
  }

  photo(sha256: string): Promise<{ row: PhotoRow; data: Blob } | undefined> {
    return this.at.run(async (db) => {
      const row = await db.get("photos", sha256);
      if (!row) return undefined;
      const pieces = await db.getAll("chunks", IDBKeyRange.bound([sha256, 0], [sha256, Infinity]));
      if (pieces.length !== row.chunks) return undefined;
      return { row, data: new Blob(pieces.map((piece) => piece.data), { type: row.mime }) };
    });
  }

  async markPhoto(sha256: string, change: Partial<PhotoRow>): Promise<void> {
    await this.at.run(async (db) => {
      const tx = db.transaction("photos", "readwrite");
      const row = await tx.store.get(sha256);
      if (row) void tx.store.put({ ...row, ...change });
      await tx.done;
    });
  }

  /** Once the server has it and a document says so, the phone need not keep the bytes. */
  forgetPhoto(sha256: string): Promise<void> {
    return this.at.run(async (db) => {
      const tx = db.transaction(["photos", "chunks"], "readwrite");
      void tx.objectStore("photos").delete(sha256);
      void tx.objectStore("chunks").delete(IDBKeyRange.bound([sha256, 0], [sha256, Infinity]));
      await tx.done;
    });
  }

  putNotices(list: readonly Notice[]): Promise<void> {
    return this.at.run(async (db) => {
      const tx = db.transaction("notices", "readwrite");
      for (const notice of list) void tx.store.put(notice);
      await tx.done;
    });
  }

  notices(): Promise<Notice[]> {
    return this.at.run((db) => db.getAll("notices"));
  }

  async draft<T>(key: string): Promise<T | undefined> {
    return (await this.at.run((db) => db.get("drafts", key)))?.value as T | undefined;
  }

  async putDraft(key: string, value: unknown, at: number): Promise<void> {
    const draft: Draft = { key, value, at };
    await this.at.run((db) => (value === undefined ? db.delete("drafts", key) : db.put("drafts", draft).then(() => undefined)));
  }

  /** Signs this browser out of one person: documents and notices go, what is unsent stays. */
  forgetCopy(): Promise<void> {
    return this.at.run(async (db) => {
      const tx = db.transaction(["meta", "docs", "notices"], "readwrite");
      for (const key of ["position", "plan", "signed_in", "notices_read"]) void tx.objectStore("meta").delete(key);
      void tx.objectStore("docs").clear();
      void tx.objectStore("notices").clear();
      await tx.done;
    });
  }
}

function trayRow(row: OutboxRow, result: OpResult, since: number): TrayRow {
  return {
    id: row.op.id,
    person: row.person,
    op: row.op,
    code: result.code ?? "refused",
    since,
    ...(result.message ? { message: result.message } : {}),
    ...(result.by ? { by: result.by } : {}),
    ...(result.at ? { at: result.at } : {}),
  };
}

/** Within one client by number; between clients of a shared tablet by the time they were made. */
function inOrder(rows: OutboxRow[]): OutboxRow[] {
  const order = [...rows].sort((a, b) =>
    a.client === b.client ? a.n - b.n : a.op.device_at - b.op.device_at || (a.client < b.client ? -1 : 1),
  );
  return order;
}
