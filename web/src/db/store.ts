// Every read and write the app makes in its database, by name.
import type { DocLine, Notice, Op, OpResult, Person, Plan, SignedIn } from "../api/types";
import type { IDBPObjectStore, IDBPTransaction, StoreNames } from "idb";
import { verdict } from "../core/cases";
import { merge } from "../core/merge";
import {
  Connection,
  type Schema,
  type Draft,
  type JournalRow,
  type OutboxRow,
  type PersonHere,
  type PhotoRow,
  type StoredDoc,
  type TrayRow,
} from "./open";

type StoreName = StoreNames<Schema>;

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
  /** The last number that the server has of a client, as of this position. */
  last?: { client: string; n: number } | undefined;
}

/** A change came for what this phone does not have, a document or all of them: its copy is not what it says. */
export class NoBase extends Error {}

export const JOURNAL_DAYS = 14;
export const JOURNAL_ROWS = 5_000;
export const CHUNK_BYTES = 512 * 1024;

export class Store {
  constructor(private readonly at = new Connection()) {}

  close(): Promise<void> {
    return this.at.close();
  }

  /** All of `work` or nothing: an error in the middle takes back what was written before it. */
  private async write<S extends StoreName, T>(
    stores: S[],
    work: (tx: IDBPTransaction<Schema, S[], "readwrite">) => Promise<T>,
    free?: "photos",
  ): Promise<T> {
    try {
      return await this.writeOnce(stores, work);
    } catch (error) {
      // The phone is full. What is at the server already makes room for what is not.
      if (!isFull(error) || !(await this.makeRoom(free))) throw error;
      return this.writeOnce(stores, work);
    }
  }

  private writeOnce<S extends StoreName, T>(
    stores: S[],
    work: (tx: IDBPTransaction<Schema, S[], "readwrite">) => Promise<T>,
  ): Promise<T> {
    return this.at.run(async (db) => {
      const tx = db.transaction(stores, "readwrite", { durability: "strict" });
      try {
        const result = await work(tx);
        // Only now it is on the disk: a phone that is full says so here at the earliest.
        await tx.done;
        return result;
      } catch (error) {
        try {
          tx.abort();
        } catch {
          // It has ended by itself.
        }
        await tx.done.catch(() => undefined);
        throw error;
      }
    });
  }

  /**
   * Frees photos that the server has, else the older half of the acknowledged operations; never anything
   * that is not sent. `photos`: only those, for another photo is not worth what a restore may ask for.
   * False if there was nothing to free.
   */
  async makeRoom(only?: "photos"): Promise<boolean> {
    const sent = (await this.photoRows()).filter((row) => row.sent);
    const journal = sent.length || only ? [] : (await this.journal()).sort((a, b) => a.acked_at - b.acked_at);
    const old = journal.slice(0, Math.ceil(journal.length / 2));
    if (!sent.length && !old.length) return false;
    await this.writeOnce(["photos", "chunks", "journal"], async (tx) => {
      for (const { sha256 } of sent) {
        part(tx.objectStore("photos").delete(sha256));
        part(tx.objectStore("chunks").delete(IDBKeyRange.bound([sha256, 0], [sha256, Infinity])));
      }
      for (const { client, n } of old) part(tx.objectStore("journal").delete([client, n]));
    });
    return true;
  }

  get<T>(key: string): Promise<T | undefined> {
    return this.at.run(async (db) => (await db.get("meta", key)) as T | undefined);
  }

  async set(key: string, value: unknown): Promise<void> {
    await this.at.run((db) =>
      value === undefined ? db.delete("meta", key) : db.put("meta", value, key).then(() => undefined),
    );
  }

  /** Everybody who ever signed in on this browser. */
  peopleHere(): Promise<PersonHere[]> {
    return this.at.run(
      async (db) => (await db.getAll("meta", IDBKeyRange.bound("person/", "person/\uffff"))) as PersonHere[],
    );
  }

  personHere(person: string): Promise<PersonHere | undefined> {
    return this.get(`person/${person}`);
  }

  /** Changes what is kept of one person, in one step. */
  changePerson(person: string, change: (was: PersonHere | undefined) => PersonHere): Promise<PersonHere> {
    return this.write(["meta"], async (tx) => {
      const next = change((await tx.objectStore("meta").get(`person/${person}`)) as PersonHere | undefined);
      part(tx.objectStore("meta").put(next, `person/${person}`));
      return next;
    });
  }

  /** Gives the operation its number and keeps it, in one transaction that reaches the disk. */
  enqueue(client: string, person: string, op: Op, joins = false): Promise<OutboxRow> {
    return this.write(["meta", "outbox"], async (tx) => {
      const counter = `n:${client}`;
      const n = (((await tx.objectStore("meta").get(counter)) as number | undefined) ?? 0) + 1;
      const row: OutboxRow = { client, n, person, op: { ...op, n }, ...(joins ? { joins } : {}) };
      part(tx.objectStore("outbox").add(row));
      part(tx.objectStore("meta").put(n, counter));
      return row;
    });
  }

  outbox(): Promise<OutboxRow[]> {
    return this.at.run(async (db) => inOrder(await db.getAll("outbox")));
  }

  docs(): Promise<StoredDoc[]> {
    return this.at.run((db) => db.getAll("docs"));
  }

  /** Forgets documents that this phone need no longer hold. */
  dropDocs(keys: Iterable<string>): Promise<void> {
    return this.write(["docs"], async (tx) => {
      for (const key of keys) part(tx.objectStore("docs").delete(key));
    });
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
   * Keeps verdicts, and what is to be told about them. A refused operation leaves the outbox; an applied
   * one stays laid over the screen until the documents that show it have come. `told`: the tray has changed.
   */
  settle(client: string, results: readonly OpResult[], at: number): Promise<{ told: boolean }> {
    return this.write(["docs", "outbox", "journal", "tray"], async (tx) => {
      let told = false;
      const tray = new Map((await tx.objectStore("tray").getAll()).map((row) => [row.id, row]));
      for (const result of results) {
        const row = await tx.objectStore("outbox").get([client, result.n]);
        if (!row) continue;
        const by = (await tx.objectStore("docs").get(`person/${row.person}`))?.body as Person | undefined;
        if (!by?.erased_at) part(tx.objectStore("journal").put({ ...row, result, acked_at: at }));
        if (result.verdict === "refused") part(tx.objectStore("outbox").delete([client, result.n]));
        else part(tx.objectStore("outbox").put({ ...row, result }));
        if (row.result) continue;
        const { put, drop } = verdict([...tray.values()], row, result, at);
        told ||= put.length + drop.length > 0;
        for (const entry of put) {
          tray.set(entry.id, entry);
          part(tx.objectStore("tray").put(entry));
        }
        for (const id of drop) {
          tray.delete(id);
          part(tx.objectStore("tray").delete(id));
        }
      }
      return { told };
    });
  }

  /**
   * One commit: documents, cursor, plan, and the operations those documents now contain; and of whom the
   * server may lack what it acknowledged, so that a page killed here still knows. Returns what
   * waits still, and the documents whole. Throws `NoBase` when it lacks one that a patch is for, or
   * everything: storage can be cleared under an open page, and what came since is no copy.
   */
  commit(what: Commit): Promise<{ rest: OutboxRow[]; docs: DocLine[] }> {
    return this.write(["meta", "docs", "outbox", "journal", "tray", "photos", "chunks"], async (tx) => {
      const docs = tx.objectStore("docs");
      if (what.replace) part(docs.clear());
      else if (!(await tx.objectStore("meta").get("position"))) throw new NoBase("position");
      const whole: DocLine[] = [];
      for (const line of what.docs) {
        const { key, seq, patch } = line;
        const before = patch === undefined ? undefined : await docs.get(key);
        if (patch !== undefined && !before) throw new NoBase(key);
        const body = before ? merge(before.body, patch) : line.body;
        whole.push({ key, seq, body, ...(line.gone ? { gone: true } : {}) });
        if (line.gone) part(docs.delete(key));
        else part(docs.put({ key, seq, body: body as StoredDoc["body"] }));
      }
      for (const { key, body } of whole)
        if (key.startsWith("person/") && (body as Person).erased_at) await forgetTexts(tx, (body as Person).id);
      part(tx.objectStore("meta").put(what.position, "position"));
      if (what.plan) part(tx.objectStore("meta").put(what.plan, "plan"));
      const { replace, last } = what;
      const beyond = last && IDBKeyRange.bound([last.client, last.n + 1], [last.client, Infinity]);
      const lacked = replace || beyond ? await tx.objectStore("journal").getAllKeys(replace ? undefined : beyond) : [];
      if (lacked.length) {
        const owed = ((await tx.objectStore("meta").get("owed")) as string[] | undefined) ?? [];
        part(tx.objectStore("meta").put([...new Set([...owed, ...lacked.map(([client]) => client)])], "owed"));
      }
      const rows = await tx.objectStore("outbox").getAll();
      const rest: OutboxRow[] = [];
      for (const row of rows) {
        if (row.result && row.result.seq <= what.position.cursor)
          part(tx.objectStore("outbox").delete([row.client, row.n]));
        else rest.push(row);
      }
      return { rest: inOrder(rest), docs: whole };
    });
  }

  /** Clients of whom the server may lack operations that it acknowledged. */
  async owed(): Promise<string[]> {
    return (await this.get<string[]>("owed")) ?? [];
  }

  /**
   * Puts acknowledged operations from `from` on back into the outbox, and says how many; nothing more is
   * owed then. Undefined, and nothing done, if one of them is missing.
   */
  reoffer(client: string, from: number): Promise<number | undefined> {
    return this.write(["meta", "outbox", "journal"], async (tx) => {
      const outbox = tx.objectStore("outbox");
      const waiting = (await outbox.getAll(IDBKeyRange.bound([client, from], [client, Infinity]))).filter(
        (row) => !row.result,
      );
      const end = waiting[0]?.n ?? Infinity;
      // No range is from a number to before itself.
      const lost = end > from ? IDBKeyRange.bound([client, from], [client, end], false, true) : undefined;
      const kept = lost ? await tx.objectStore("journal").getAll(lost) : [];
      const whole = kept.every((row, i) => row.n === from + i) && (end === Infinity || kept.length === end - from);
      if (!whole) return undefined;
      for (const { client, n, person, op } of kept) part(outbox.put({ client, n, person, op }));
      await settled(tx.objectStore("meta"), client);
      return kept.length;
    });
  }

  /**
   * Moves what is unsent of one client under a new one, numbered from 1, oldest first; with it what was
   * acknowledged from `alsoJournalFrom` on, which is `again` so many. Whoever is signed in with the old one
   * goes on with the new one.
   */
  renumber(from: string, to: string, alsoJournalFrom?: number): Promise<{ rows: OutboxRow[]; again: number }> {
    return this.write(["meta", "outbox", "journal"], async (tx) => {
      const outbox = tx.objectStore("outbox");
      const [meta, journal] = [tx.objectStore("meta"), tx.objectStore("journal")];
      const again =
        alsoJournalFrom === undefined
          ? []
          : await journal.getAll(IDBKeyRange.bound([from, alsoJournalFrom], [from, Infinity]));
      const waiting = await outbox.getAll(IDBKeyRange.bound([from, 0], [from, Infinity]));
      // What was offered again stands in both; it must not be offered under the old client once more.
      const once = new Map([...again, ...waiting.filter((row) => !row.result)].map((row) => [row.n, row]));
      const moved = [...once.values()].sort((a, b) => a.n - b.n);
      moved.forEach(({ n, person, op }, i) => {
        part(journal.delete([from, n]));
        part(outbox.delete([from, n]));
        part(outbox.put({ client: to, n: i + 1, person, op: { ...op, n: i + 1 } }));
      });
      part(meta.put(moved.length, `n:${to}`));
      await settled(meta, from);
      const signedIn = (await meta.get("signed_in")) as SignedIn | undefined;
      if (signedIn?.client === from) part(meta.put({ ...signedIn, client: to }, "signed_in"));
      return { rows: inOrder(await outbox.getAll()), again: again.length };
    });
  }

  /** An operation the server can never read: something small takes its number, its text is kept. */
  dropTooLarge(row: OutboxRow, why: string, at: number): Promise<void> {
    return this.write(["outbox", "tray"], async (tx) => {
      const { op } = row;
      part(
        tx
          .objectStore("tray")
          .put({ id: op.id, person: row.person, client: row.client, op, code: "too_large", since: at }),
      );
      part(tx.objectStore("outbox").put({ ...row, op: { ...op, kind: "dropped", args: { why } } as Op }));
    });
  }

  tray(): Promise<TrayRow[]> {
    return this.at.run((db) => db.getAll("tray"));
  }

  async putInTray(row: TrayRow): Promise<void> {
    await this.write(["tray"], async (tx) => {
      await tx.objectStore("tray").put(row);
    });
  }

  removeFromTray(id: string): Promise<void> {
    return this.at.run((db) => db.delete("tray", id));
  }

  journal(): Promise<JournalRow[]> {
    return this.at.run((db) => db.getAll("journal"));
  }

  /** Forgets acknowledged operations older than two weeks or beyond the newest 5,000. */
  trimJournal(at: number): Promise<void> {
    return this.write(["journal"], async (tx) => {
      const rows = await tx.objectStore("journal").getAll();
      rows.sort((a, b) => b.acked_at - a.acked_at);
      const oldest = at - JOURNAL_DAYS * 86_400_000;
      rows.forEach((row, i) => {
        if (i >= JOURNAL_ROWS || row.acked_at < oldest) part(tx.objectStore("journal").delete([row.client, row.n]));
      });
    });
  }

  /** Keeps a photo in pieces, with its record; what is already there is left as it is. */
  putPhoto(row: PhotoRow, data: ArrayBuffer): Promise<void> {
    const keep = async (tx: IDBPTransaction<Schema, ("photos" | "chunks")[], "readwrite">): Promise<void> => {
      if (await tx.objectStore("photos").get(row.sha256)) return;
      for (let i = 0; i < row.chunks; i++) {
        const piece = data.slice(i * CHUNK_BYTES, (i + 1) * CHUNK_BYTES);
        part(tx.objectStore("chunks").put({ sha256: row.sha256, i, data: piece }));
      }
      part(tx.objectStore("photos").put(row));
    };
    return this.write(["photos", "chunks"], keep, "photos");
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
      return {
        row,
        data: new Blob(
          pieces.map((piece) => piece.data),
          { type: row.mime },
        ),
      };
    });
  }

  async markPhoto(sha256: string, change: Partial<PhotoRow>): Promise<void> {
    await this.write(["photos"], async (tx) => {
      const row = await tx.objectStore("photos").get(sha256);
      if (row) part(tx.objectStore("photos").put({ ...row, ...change }));
    });
  }

  /** Once the server has it and a document says so, the phone need not keep the bytes. */
  forgetPhoto(sha256: string): Promise<void> {
    return this.write(["photos", "chunks"], async (tx) => {
      part(tx.objectStore("photos").delete(sha256));
      part(tx.objectStore("chunks").delete(IDBKeyRange.bound([sha256, 0], [sha256, Infinity])));
    });
  }

  putNotices(list: readonly Notice[]): Promise<void> {
    return this.write(["notices"], async (tx) => {
      for (const notice of list) part(tx.objectStore("notices").put(notice));
    });
  }

  notices(): Promise<Notice[]> {
    return this.at.run((db) => db.getAll("notices"));
  }

  forgetNotices(): Promise<void> {
    return this.write(["notices", "meta"], async (tx) => {
      part(tx.objectStore("notices").clear());
      part(tx.objectStore("meta").delete("notices_read"));
    });
  }

  async draft<T>(key: string): Promise<T | undefined> {
    return (await this.at.run((db) => db.get("drafts", key)))?.value as T | undefined;
  }

  async putDraft(key: string, value: unknown, at: number): Promise<void> {
    const draft: Draft = { key, value, at };
    await this.at.run((db) =>
      value === undefined ? db.delete("drafts", key) : db.put("drafts", draft).then(() => undefined),
    );
  }

  /** Signs this browser out of one person: documents and notices go, what is unsent stays. */
  forgetCopy(): Promise<void> {
    return this.write(["meta", "docs", "notices"], async (tx) => {
      for (const key of ["position", "plan", "signed_in", "notices_read"]) part(tx.objectStore("meta").delete(key));
      part(tx.objectStore("docs").clear());
      part(tx.objectStore("notices").clear());
    });
  }
}

/** The browser's quota or the phone's disk is used up. */
export const isFull = (error: unknown): boolean => error instanceof DOMException && error.name === "QuotaExceededError";

/**
 * Somebody was erased: what this phone keeps of theirs for a server that is set back would bring it back. What is
 * not sent stays: their hours count, and the server keeps no text of it.
 */
async function forgetTexts(
  tx: IDBPTransaction<Schema, ("meta" | "docs" | "outbox" | "journal" | "tray" | "photos" | "chunks")[], "readwrite">,
  person: string,
): Promise<void> {
  for (const row of await tx.objectStore("journal").getAll())
    if (row.person === person) part(tx.objectStore("journal").delete([row.client, row.n]));
  for (const row of await tx.objectStore("tray").getAll())
    if (row.person === person) part(tx.objectStore("tray").delete(row.id));
  for (const { sha256, person: by } of await tx.objectStore("photos").getAll()) {
    if (by !== person) continue;
    part(tx.objectStore("photos").delete(sha256));
    part(tx.objectStore("chunks").delete(IDBKeyRange.bound([sha256, 0], [sha256, Infinity])));
  }
  const here = (await tx.objectStore("meta").get(`person/${person}`)) as PersonHere | undefined;
  if (here) part(tx.objectStore("meta").put({ person, name: "—", client: here.client }, `person/${person}`));
}

/** Nothing is owed any more of this client. */
async function settled(meta: IDBPObjectStore<Schema, StoreName[], "meta", "readwrite">, client: string): Promise<void> {
  const owed = (await meta.get("owed")) as string[] | undefined;
  if (owed?.includes(client))
    part(
      meta.put(
        owed.filter((other) => other !== client),
        "owed",
      ),
    );
}

/** One request of a transaction: if it fails the transaction does, and says so. */
function part(request: Promise<unknown>): void {
  request.catch(() => undefined);
}

/** Within one client by number; between clients of a shared tablet by the time they were made. */
function inOrder(rows: OutboxRow[]): OutboxRow[] {
  const order = [...rows].sort((a, b) =>
    a.client === b.client ? a.n - b.n : a.op.device_at - b.op.device_at || (a.client < b.client ? -1 : 1),
  );
  return order;
}
