// What the database promises: a number and its operation together, one commit for all, one reopening survived.
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import type { Op } from "../api/types";
import { newId } from "../core/ids";
import { Connection } from "./open";
import { CHUNK_BYTES, isFull, NoBase, Store } from "./store";

const op = (body = "x"): Op => ({
  n: 0,
  id: newId(),
  session: "s",
  v: 1,
  kind: "note",
  args: { order: "o", body },
  device_at: 1,
  seen: 0,
});

let name: string;
let connection: Connection;
let store: Store;
beforeEach(() => {
  name = newId();
  connection = new Connection(name);
  store = new Store(connection);
});

describe("numbers", () => {
  it("rise by one per client, from two tabs at once too", async () => {
    const other = new Store(new Connection(name));
    const rows = await Promise.all([1, 2, 3, 4, 5, 6].map((i) => (i % 2 ? store : other).enqueue("c", "p", op())));
    expect(rows.map((row) => row.n).sort()).toEqual([1, 2, 3, 4, 5, 6]);
    expect((await store.enqueue("d", "p", op())).n).toBe(1);
    expect((await store.outbox()).filter((row) => row.client === "c").map((row) => row.op.n)).toEqual([
      1, 2, 3, 4, 5, 6,
    ]);
  });

  it("are not used up by an operation that could not be kept", async () => {
    const broken = { ...op(), args: { order: "o", body: () => 1 } } as unknown as Op;
    await expect(store.enqueue("c", "p", broken)).rejects.toThrow();
    expect((await store.enqueue("c", "p", op())).n).toBe(1);
  });
});

describe("a write", () => {
  it("is not said to be kept before its transaction has ended well", async () => {
    await store.enqueue("c", "p", op());
    // The number is given out a second time: the database finds it only after the work was handed to it.
    await store.set("n:c", 0);
    await expect(store.enqueue("c", "p", op("second"))).rejects.toThrow();
    expect(await store.outbox()).toHaveLength(1);
  });
});

describe("a full phone", () => {
  /** As a browser says it (Storage Standard, Indexed Database API): the request fails, the transaction with it. */
  const full = (which: (of: string) => boolean, times = Infinity): (() => number) => {
    let count = 0;
    for (const name of ["put", "add"] as const) {
      const was = IDBObjectStore.prototype[name];
      vi.spyOn(IDBObjectStore.prototype, name).mockImplementation(function (
        this: IDBObjectStore,
        ...args: [unknown, IDBValidKey?]
      ) {
        if (which(this.name) && count < times) {
          count++;
          throw new DOMException("full", "QuotaExceededError");
        }
        return was.apply(this, args);
      });
    }
    return () => count;
  };
  afterEach(() => void vi.restoreAllMocks());
  const photo = {
    sha256: "ab",
    mime: "image/jpeg",
    bytes: CHUNK_BYTES + 1,
    chunks: 2,
    person: "p",
    taken_at: 1,
    sent: false,
  };

  it("keeps no half of a photo, and says that it is full", async () => {
    let pieces = 0;
    full((of) => of === "chunks" && ++pieces === 2);
    const error = await store.putPhoto(photo, new ArrayBuffer(CHUNK_BYTES + 1)).catch((wrong: unknown) => wrong);
    expect(isFull(error)).toBe(true);
    vi.restoreAllMocks();
    expect(await store.photoRows()).toEqual([]);
    expect(await connection.run((db) => db.count("chunks"))).toBe(0);
  });

  it("frees photos that the server has, and keeps the operation at the second try", async () => {
    await store.putPhoto({ ...photo, sent: true }, new ArrayBuffer(CHUNK_BYTES + 1));
    await store.putPhoto({ ...photo, sha256: "cd" }, new ArrayBuffer(CHUNK_BYTES + 1));
    full((of) => of === "outbox", 1);
    expect((await store.enqueue("c", "p", op())).n).toBe(1);
    expect((await store.photoRows()).map((row) => row.sha256)).toEqual(["cd"]);
  });

  it("frees the oldest acknowledged operations next, and never what is not sent", async () => {
    for (const acked of [1, 2, 3, 4]) {
      await store.enqueue("c", "p", op());
      await store.settle("c", [{ n: acked, seq: acked, verdict: "applied" }], acked);
    }
    await store.enqueue("c", "p", op("unsent"));
    full((of) => of === "outbox", 1);
    await store.enqueue("c", "p", op("new"));
    expect((await store.journal()).map((row) => row.acked_at)).toEqual([3, 4]);
    expect((await store.outbox()).map((row) => row.n)).toEqual([1, 2, 3, 4, 5, 6]);
  });

  it("does not give up what a restore may ask for only for another photo", async () => {
    await store.enqueue("c", "p", op());
    await store.settle("c", [{ n: 1, seq: 1, verdict: "applied" }], 1);
    full((of) => of === "chunks");
    await expect(store.putPhoto(photo, new ArrayBuffer(9))).rejects.toThrow();
    expect(await store.journal()).toHaveLength(1);
  });

  it("says so when nothing can be freed: tried once, the number is not used up", async () => {
    const tries = full((of) => of === "outbox");
    expect(isFull(await store.enqueue("c", "p", op()).catch((wrong: unknown) => wrong))).toBe(true);
    expect(tries()).toBe(1);
    vi.restoreAllMocks();
    expect((await store.enqueue("c", "p", op())).n).toBe(1);
  });
});

describe("one commit", () => {
  const position = { epoch: "e", cursor: 5, hash: "h" };

  it("holds documents, cursor and what leaves the outbox, or nothing of it", async () => {
    await store.enqueue("c", "p", op());
    await store.settle("c", [{ n: 1, seq: 5, verdict: "applied" }], 9);
    await expect(
      store.commit({ position, docs: [{ key: "note/a", seq: 5, body: { f: () => 1 } }], replace: true }),
    ).rejects.toThrow();
    expect(await store.position()).toBeUndefined();
    expect(await store.outbox()).toHaveLength(1);
    expect((await store.commit({ position, docs: [{ key: "note/a", seq: 5, body: {} }], replace: true })).rest).toEqual(
      [],
    );
    expect(await store.position()).toEqual(position);
  });

  it("keeps an acknowledged operation laid over until its documents have come", async () => {
    await store.enqueue("c", "p", op());
    await store.settle("c", [{ n: 1, seq: 8, verdict: "applied" }], 9);
    expect((await store.commit({ position, docs: [], replace: true })).rest).toHaveLength(1);
    expect((await store.commit({ position: { ...position, cursor: 8 }, docs: [] })).rest).toHaveLength(0);
  });
});

describe("storage cleared under an open page", () => {
  it("takes no change for a copy", async () => {
    const docs = [{ key: "note/a", seq: 6, body: {} }];
    await expect(store.commit({ position: { epoch: "e", cursor: 6, hash: "h" }, docs })).rejects.toThrow(NoBase);
    expect(await store.docs()).toEqual([]);
    expect(await store.position()).toBeUndefined();
  });
});

describe("a patch", () => {
  it("is laid on the document this phone has, and refused whole where it has none", async () => {
    const at = (cursor: number) => ({ epoch: "e", cursor, hash: "h" });
    await store.commit({
      position: at(1),
      docs: [{ key: "card/a", seq: 1, body: { life: "ready", needs: { lift: true } } }],
      replace: true,
    });
    const { docs } = await store.commit({
      position: at(2),
      docs: [{ key: "card/a", seq: 2, patch: { life: "working", needs: null } }],
    });
    expect(docs).toEqual([{ key: "card/a", seq: 2, body: { life: "working" } }]);
    expect(await store.docs()).toEqual(docs);
    const lines = [
      { key: "note/x", seq: 3, body: {} },
      { key: "card/b", seq: 3, patch: { life: "done" } },
    ];
    await expect(store.commit({ position: at(3), docs: lines })).rejects.toThrow(NoBase);
    expect(await store.position()).toEqual(at(2));
    expect(await store.docs()).toEqual(docs);
  });
});

describe("a lost connection", () => {
  it("is opened once more", async () => {
    await store.set("a", 1);
    await connection.run(async (db) => {
      db.close();
      return Promise.resolve();
    });
    expect(await store.get("a")).toBe(1);
  });
});

describe("photos", () => {
  it("come back from their pieces as they were", async () => {
    const data = new Uint8Array(CHUNK_BYTES * 2 + 17).fill(7).map((byte, i) => (i % 1000 ? byte : i));
    const row = {
      sha256: "ab",
      mime: "image/jpeg",
      bytes: data.length,
      chunks: 3,
      person: "p",
      taken_at: 1,
      sent: false,
    };
    await store.putPhoto(row, data.buffer);
    const back = await store.photo("ab");
    expect(Buffer.from(await (back?.data as Blob).arrayBuffer()).equals(Buffer.from(data.buffer))).toBe(true);
    await store.forgetPhoto("ab");
    expect(await store.photo("ab")).toBeUndefined();
  });
});

describe("somebody who was erased", () => {
  const position = { epoch: "e", cursor: 1, hash: "h" };
  const person = (erased_at?: number) => ({
    key: "person/p",
    seq: 1,
    body: { id: "p", name: "—", ...(erased_at ? { erased_at } : {}) } as never,
  });
  const result = { n: 1, seq: 2, verdict: "applied", exceptions: [] } as never;

  it("is forgotten here too: what a server that is set back would ask for again", async () => {
    await store.commit({ position, docs: [person()], replace: true });
    for (const [client, by] of [
      ["c", "p"],
      ["d", "q"],
    ] as const) {
      await store.enqueue(client, by, op(`of ${by}`));
      await store.settle(client, [result], 1);
      await store.putPhoto(
        { sha256: by, mime: "image/jpeg", bytes: 1, chunks: 1, person: by, taken_at: 1, sent: true },
        new ArrayBuffer(1),
      );
      await store.putInTray({ id: newId(), person: by, client, op: op(), code: "taken", since: 1 } as never);
      await store.changePerson(by, () => ({ person: by, name: `Name ${by}`, client }));
    }
    await store.commit({ position: { ...position, cursor: 3 }, docs: [person(5)] });
    expect((await store.journal()).map((row) => row.person)).toEqual(["q"]);
    expect((await store.photoRows()).map((row) => row.person)).toEqual(["q"]);
    expect(await store.photo("p")).toBeUndefined();
    expect((await store.tray()).map((row) => row.person)).toEqual(["q"]);
    expect((await store.peopleHere()).map((one) => one.name).sort()).toEqual(["Name q", "—"]);
    // What was not sent goes out as work, and is not kept afterwards.
    await store.enqueue("c", "p", op("late"));
    await store.settle("c", [{ ...(result as object), n: 2, seq: 9 } as never], 1);
    expect((await store.journal()).map((row) => row.person)).toEqual(["q"]);
    expect((await store.outbox()).map((row) => row.op.args)).toContainEqual({ order: "o", body: "late" });
  });
});
