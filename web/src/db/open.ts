// The phone's database. Invariants: an operation and its `n` are stored in one strict transaction;
// documents, cursor and what leaves the outbox change in one transaction; every call survives one
// reopening, because phones drop database connections of pages in the background.
// Must not know: the network, the screen.
import { openDB, type DBSchema, type IDBPDatabase } from "idb";
import type { Body, Notice, Op, OpResult, SignedIn } from "../api/types";
import type { TrayRow } from "../core/cases";

export type { TrayRow } from "../core/cases";

export interface StoredDoc {
  key: string;
  seq: number;
  body: Body;
}

/** An operation from the moment it was made until its verdict is part of the documents. */
export interface OutboxRow {
  client: string;
  n: number;
  person: string;
  op: Op;
  /** An ask whose person saw, when it was made, that it joins another. */
  joins?: boolean;
  /** Its verdict, once seen. */
  result?: OpResult;
}

export interface JournalRow extends OutboxRow {
  result: OpResult;
  acked_at: number;
}

/** Somebody who signed in on this browser. Whoever comes back goes on with the same client. */
export interface PersonHere {
  person: string;
  name: string;
  client: string;
  /** Absent after signing out. */
  signed?: SignedIn | undefined;
  /** The server knows which browser this sign-in was made on. */
  browser?: boolean;
  /** The PIN, as it is kept here; it keeps people apart, it does not keep a thief out. */
  verifier?: Verifier | undefined;
  /** Wrong PINs one after the other, and until when no other is taken. */
  wrong?: { count: number; until: number } | undefined;
}

export interface Verifier {
  salt: string;
  rounds: number;
  hash: string;
}

export interface PhotoRow {
  sha256: string;
  mime: string;
  bytes: number;
  chunks: number;
  person: string;
  taken_at: number;
  /** Arrived at the server. */
  sent: boolean;
  /** Upload address, to go on where it stopped. */
  upload?: string;
}

export interface Draft {
  key: string;
  value: unknown;
  at: number;
}

export interface Schema extends DBSchema {
  meta: { key: string; value: unknown };
  docs: { key: string; value: StoredDoc };
  outbox: { key: [string, number]; value: OutboxRow };
  journal: { key: [string, number]; value: JournalRow };
  tray: { key: string; value: TrayRow };
  photos: { key: string; value: PhotoRow };
  chunks: { key: [string, number]; value: { sha256: string; i: number; data: ArrayBuffer } };
  notices: { key: number; value: Notice };
  drafts: { key: string; value: Draft };
}

export type Database = IDBPDatabase<Schema>;

const VERSION = 1;

export class Connection {
  private opening: Promise<Database> | undefined;

  constructor(readonly name = "turnbuckle") {}

  private open(): Promise<Database> {
    this.opening ??= openDB<Schema>(this.name, VERSION, {
      upgrade(db) {
        db.createObjectStore("meta");
        db.createObjectStore("docs", { keyPath: "key" });
        db.createObjectStore("outbox", { keyPath: ["client", "n"] });
        db.createObjectStore("journal", { keyPath: ["client", "n"] });
        db.createObjectStore("tray", { keyPath: "id" });
        db.createObjectStore("photos", { keyPath: "sha256" });
        db.createObjectStore("chunks", { keyPath: ["sha256", "i"] });
        db.createObjectStore("notices", { keyPath: "id" });
        db.createObjectStore("drafts", { keyPath: "key" });
      },
      blocking: () => void this.close(),
      terminated: () => {
        this.opening = undefined;
      },
    }).catch((error: unknown) => {
      this.opening = undefined;
      throw error;
    });
    return this.opening;
  }

  /** Runs `work`, and once more on a fresh connection if the first was lost. */
  async run<T>(work: (db: Database) => Promise<T>): Promise<T> {
    try {
      return await work(await this.open());
    } catch (error) {
      if (!lost(error)) throw error;
      await this.close();
      return work(await this.open());
    }
  }

  async close(): Promise<void> {
    const opening = this.opening;
    this.opening = undefined;
    try {
      (await opening)?.close();
    } catch {
      // It never opened.
    }
  }
}

function lost(error: unknown): boolean {
  return (
    error instanceof DOMException &&
    (error.name === "InvalidStateError" || error.name === "UnknownError" || error.name === "TransactionInactiveError")
  );
}
