// Nearly full: photos stop first, operations never.
import { beforeEach, describe, expect, it, vi } from "vitest";
import { page } from "../test/page";

page();
vi.mock("./sync", () => ({ startSync: vi.fn(), stopSync: vi.fn(), wakeSync: vi.fn() }));
const estimate = vi.fn();
const persisted = vi.fn();
const persist = vi.fn();
vi.stubGlobal("navigator", { storage: { estimate, persisted, persist }, language: "en" });

const { almostFull, askToKeep, lasting, look, room } = await import("./room");
const { db } = await import("./db");
const { keep, NoRoom } = await import("./photos/take");
const state = await import("./state");
const { perform } = await import("./ui/kit/do");

beforeEach(() => {
  estimate.mockReset().mockResolvedValue({ usage: 10, quota: 100 });
  persisted.mockReset().mockResolvedValue(false);
  vi.restoreAllMocks();
});

describe("what the browser says of its room", () => {
  it.each([
    [79, false],
    [80, true],
    [95, true],
  ])("%i %% of it used", async (usage, full) => {
    estimate.mockResolvedValue({ usage, quota: 100 });
    expect(await look()).toBe(full);
    expect([almostFull.value, room.value]).toEqual([full, { used: usage, quota: 100 }]);
  });

  it("may be nothing: then nothing is forbidden", async () => {
    estimate.mockRejectedValue(new Error("not here"));
    almostFull.value = false;
    expect(await look()).toBe(false);
    estimate.mockResolvedValue({});
    expect(await look()).toBe(false);
    expect(room.value).toBeUndefined();
  });

  it("may be a promise, or not", async () => {
    persist.mockResolvedValue(true);
    await askToKeep();
    expect(lasting.value).toBe(true);
    persist.mockResolvedValue(false);
    await askToKeep();
    expect(lasting.value).toBe(false);
  });
});

describe("a phone that is almost full", () => {
  beforeEach(() => {
    estimate.mockResolvedValue({ usage: 90, quota: 100 });
    state.me.value = { person: "p", client: "c", session: "s" } as never;
  });

  it("takes no photo, and tries first to make room with those the server has", async () => {
    const makeRoom = vi.spyOn(db, "makeRoom").mockResolvedValue(false);
    const putPhoto = vi.spyOn(db, "putPhoto");
    await expect(keep(new Blob(["x"]))).rejects.toBeInstanceOf(NoRoom);
    expect(makeRoom).toHaveBeenCalledWith("photos");
    expect(putPhoto).not.toHaveBeenCalled();
  });

  it("keeps operations all the same", async () => {
    expect(await state.act("note", { order: "o", body: "x" })).toBeTruthy();
    expect((await db.outbox()).at(-1)?.op.kind).toBe("note");
  });

  it("that can keep nothing says so, and nothing is called done", async () => {
    vi.spyOn(db, "enqueue").mockRejectedValue(new DOMException("full", "QuotaExceededError"));
    const before = state.unsent.value.length;
    expect(await perform("note", { order: "o", body: "x" }, "Kept.")).toBeUndefined();
    expect(state.unsent.value).toHaveLength(before);
  });
});
