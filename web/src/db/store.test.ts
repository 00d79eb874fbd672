// What the database promises: a number and its operation together, one commit for all, one reopening survived.
import { beforeEach, describe, expect, it } from "vitest";
import type { Op } from "../api/types";
import { newId } from "../core/ids";
import { Connection } from "./open";
import { CHUNK_BYTES, Store } from "./store";

const op = (body = "x"): Op => ({ n: 0, id: newId(), session: "s", v: 1, kind: "note", args: { order: "o", body }, device_at: 1, seen: 0 });

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
    expect((await store.outbox()).filter((row) => row.client === "c").map((row) => row.op.n)).toEqual([1, 2, 3, 4, 5, 6]);
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

describe("one commit", () => {
  const position = { epoch: "e", cursor: 5, hash: "h" };

  it("holds documents, cursor and what leaves the outbox, or nothing of it", async () => {
    await store.enqueue("c", "p", op());
    await store.settle("c", [{ n: 1, seq: 5, verdict: "applied" }], 9);
    await expect(
      store.commit({ position, docs: [{ key: "note/a", seq: 5, body: { f: () => 1 } }] }),
    ).rejects.toThrow();
    expect(await store.position()).toBeUndefined();
    expect(await store.outbox()).toHaveLength(1);
    expect(await store.commit({ position, docs: [{ key: "note/a", seq: 5, body: {} }] })).toEqual([]);
    expect(await store.position()).toEqual(position);
  });

  it("keeps an acknowledged operation laid over until its documents have come", async () => {
    await store.enqueue("c", "p", op());
    await store.settle("c", [{ n: 1, seq: 8, verdict: "applied" }], 9);
    expect(await store.commit({ position, docs: [] })).toHaveLength(1);
    expect(await store.commit({ position: { ...position, cursor: 8 }, docs: [] })).toHaveLength(0);
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
    const row = { sha256: "ab", mime: "image/jpeg", bytes: data.length, chunks: 3, person: "p", taken_at: 1, sent: false };
    await store.putPhoto(row, data.buffer);
    const back = await store.photo("ab");
    expect(Buffer.from(await (back?.data as Blob).arrayBuffer()).equals(Buffer.from(data.buffer))).toBe(true);
    await store.forgetPhoto("ab");
    expect(await store.photo("ab")).toBeUndefined();
  });
});
