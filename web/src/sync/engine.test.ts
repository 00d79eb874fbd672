// The phone's side of the promises, against a small server in memory: once, nothing lost, same picture.
import fc from "fast-check";
import { beforeEach, describe, expect, it, vi } from "vitest";
import type { DocLine, Op, SignedIn } from "../api/types";
import { Failure } from "../api/client";
import { newId } from "../core/ids";
import { Connection, type OutboxRow, type TrayRow } from "../db/open";
import { Store } from "../db/store";
import { FakeServer } from "../../test/fake-server";
import { Engine, type Mirror, type Time } from "./engine";

class Phone {
  store: Store;
  docs = new Map<string, unknown>();
  rows: readonly OutboxRow[] = [];
  tray: readonly TrayRow[] = [];
  sentAgain = 0;
  opened: string[] = [];
  held: readonly string[] = [];
  why: string | undefined;
  timers: (() => void)[] = [];
  waits: number[] = [];
  who: SignedIn;
  engine: Engine;

  constructor(
    readonly server: FakeServer,
    client = newId(),
    name = newId(),
    person = "p1",
  ) {
    this.store = new Store(new Connection(name));
    // As signing in does.
    if (!server.clients.has(client)) server.clients.set(client, person);
    this.who = {
      person,
      role: "technician",
      client,
      session: "s1",
      epoch: server.epoch,
      expires_at: 0,
      now: 0,
      name: "A",
      shop_name: "B",
    };
    const time: Time = {
      now: () => 500,
      random: () => 0.5,
      after: (ms, what) => {
        this.waits.push(ms);
        this.timers.push(what);
        return () => {
          this.timers = this.timers.filter((other) => other !== what);
        };
      },
    };
    const mirror: Mirror = {
      committed: ({ docs, replace }: { docs: readonly DocLine[]; replace: boolean }) => {
        if (replace) this.docs.clear();
        for (const line of docs) this.docs.set(line.key, line.body);
      },
      rows: (rows) => (this.rows = rows),
      told: (rows) => (this.tray = rows),
      notices: () => undefined,
      offset: () => undefined,
      reach: (_, why) => (this.why = why),
      client: (who) => (this.who = who),
      opened: (docs) => (this.opened = docs.map((line) => line.key)),
      copying: () => undefined,
      again: (count) => (this.sentAgain += count),
      held: (clients) => (this.held = clients),
    };
    this.engine = new Engine(server.as(person), this.store, mirror, this.who, time);
  }

  async act(kind: "take" | "note" | "start" | "finish", args: object): Promise<string> {
    const op = { n: 0, id: newId(), session: "s1", v: 1, kind, args, device_at: 400, seen: 0 } as unknown as Op;
    await this.store.enqueue(this.who.client, this.who.person, op);
    return op.id;
  }

  /** Runs what is due until nothing waits to be sent or shown. */
  async settle(rounds = 40): Promise<void> {
    for (let i = 0; i < rounds; i++) {
      await this.engine.wake();
      for (const timer of this.timers.splice(0)) timer();
      await this.engine.wake();
      if ((await this.store.outbox()).length === 0) return;
    }
  }

  async kept(): Promise<Record<string, unknown>> {
    return Object.fromEntries((await this.store.docs()).map((line) => [line.key, line.body]));
  }
}

const serverDocs = (server: FakeServer): Record<string, unknown> =>
  Object.fromEntries([...server.docs.values()].map((line) => [line.key, line.body]));

let server: FakeServer;
beforeEach(() => {
  server = new FakeServer();
});

describe("sending", () => {
  it("delivers what was written before the phone could reach anybody, in order and once", async () => {
    const phone = new Phone(server);
    await phone.act("take", { card: "c1" });
    await phone.act("note", { order: "o1", body: "one" });
    await phone.engine.start();
    await phone.settle();
    expect(server.entries.map((entry) => [entry.op.n, entry.op.kind])).toEqual([
      [1, "take"],
      [2, "note"],
    ]);
    expect(await phone.store.outbox()).toEqual([]);
    expect(await phone.kept()).toEqual(serverDocs(server));
  });

  it("counts once when the answer is lost", async () => {
    const phone = new Phone(server);
    await phone.engine.start();
    await phone.act("note", { order: "o1", body: "one" });
    server.faults = ["drop_answer"];
    await phone.settle();
    expect(server.entries).toHaveLength(1);
    expect(await phone.kept()).toEqual(serverDocs(server));
  });

  it("keeps everything, bound to its person, when the sign-in has ended, and goes on in the next one", async () => {
    const name = newId();
    const phone = new Phone(server, "c1", name);
    await phone.engine.start();
    const push = vi.spyOn(server.api, "push").mockRejectedValue(new Failure(401, "signed_out", ""));
    await phone.act("note", { order: "o1", body: "one" });
    await phone.engine.wake();
    expect(phone.why).toBe("sign_in");
    expect(await phone.store.outbox()).toMatchObject([{ client: "c1", person: "p1", n: 1 }]);
    const asked = push.mock.calls.length;
    // Nobody is asked again and again by a timer.
    for (const timer of phone.timers.splice(0)) timer();
    expect(push.mock.calls.length).toBe(asked);
    push.mockRestore();
    const again = new Phone(server, "c1", name);
    await again.engine.start();
    await again.settle();
    expect(server.entries).toMatchObject([{ client: "c1", op: { n: 1, args: { body: "one" } } }]);
    expect(await again.store.outbox()).toEqual([]);
  });

  it("tells a lost take and the work done on it as one thing", async () => {
    const phone = new Phone(server);
    await phone.engine.start();
    server.others("take", "c1", "Rosa");
    await phone.act("take", { card: "c1" });
    await phone.act("start", { card: "c1" });
    await phone.act("finish", { card: "c1", checks: [] });
    await phone.settle();
    expect(phone.tray).toMatchObject([
      { code: "taken", by: "Rosa", did: [{ op: { kind: "start" } }, { op: { kind: "finish" } }] },
    ]);
    expect(await phone.store.tray()).toHaveLength(1);
  });

  it("puts a refused wish into the tray with who and when, and goes on", async () => {
    const phone = new Phone(server);
    await phone.engine.start();
    phone.engine.stop();
    server.others("take", "c1", "Rosa");
    const id = await phone.act("take", { card: "c1" });
    await phone.act("note", { order: "o1", body: "still sent" });
    await phone.engine.start();
    await phone.settle();
    expect(phone.tray).toMatchObject([{ id, code: "taken", by: "Rosa" }]);
    expect(server.entries.at(-1)?.op.kind).toBe("note");
    expect((await phone.store.tray()).length).toBe(1);
  });

  it("waits as long as the server says", async () => {
    const phone = new Phone(server);
    await phone.engine.start();
    await phone.act("note", { order: "o1", body: "one" });
    server.faults = ["busy"];
    await phone.engine.wake();
    expect(Math.max(...phone.waits)).toBe(7_000);
    expect((await phone.store.outbox()).length).toBe(1);
  });

  it("makes batches smaller when they are too big, and keeps the text of one that never fits", async () => {
    const phone = new Phone(server);
    await phone.act("note", { order: "o1", body: "a" });
    const big = await phone.act("note", { order: "o1", body: "x".repeat(300 * 1024) });
    await phone.act("note", { order: "o1", body: "b" });
    await phone.engine.start();
    await phone.settle();
    expect(server.entries.map((entry) => entry.op.kind)).toEqual(["note", "dropped", "note"]);
    const kept = (await phone.store.tray()).find((row) => row.id === big);
    expect((kept?.op.args as { body: string }).body.length).toBe(300 * 1024);
  });
});

describe("receiving", () => {
  it("commits pages only when all have come", async () => {
    const phone = new Phone(server);
    server.page = 2;
    server.faults = ["drop_request"].slice(1) as never;
    let pages = 0;
    const pull = server.api.pull;
    server.api.pull = async (query) => {
      if (++pages === 3) throw new Error("gone in the middle");
      return pull(query);
    };
    await phone.engine.start();
    expect(await phone.store.docs()).toEqual([]);
    server.api.pull = pull;
    await phone.settle();
    expect(await phone.kept()).toEqual(serverDocs(server));
  });

  it("shows what is open before a first copy, and keeps nothing of it", async () => {
    const phone = new Phone(server);
    const pull = server.api.pull;
    server.api.pull = () => Promise.reject(new Error("gone"));
    await phone.engine.start();
    expect(phone.opened).toEqual([...server.docs.keys()]);
    expect([await phone.store.docs(), await phone.store.position()]).toEqual([[], undefined]);
    server.api.pull = pull;
    await phone.settle();
    expect(await phone.kept()).toEqual(serverDocs(server));
    phone.opened = [];
    server.others("note", "c1");
    await phone.engine.wake();
    expect(phone.opened).toEqual([]);
  });

  it("asks for notices again where something happened before the live channel stood", async () => {
    const phone = new Phone(server);
    let asked = 0;
    server.api.notices = () => {
      if (asked++ === 0) server.others("take", "c1");
      return Promise.resolve({ notices: [], read: 0 });
    };
    await phone.engine.start();
    await phone.settle();
    expect(await phone.kept()).toEqual(serverDocs(server));
    expect(asked).toBe(2);
  });

  it("goes on without it where the server does not know it", async () => {
    server.api.open = () => Promise.reject(new Failure(404, "not_found", "no such address", {}));
    const phone = new Phone(server);
    await phone.engine.start();
    await phone.settle();
    expect(await phone.kept()).toEqual(serverDocs(server));
  });

  it("follows the plan by its changes, and fetches it whole when it missed one", async () => {
    const phone = new Phone(server);
    await phone.engine.start();
    const row = (place: number) => ({
      card: "c1",
      order: "o1",
      department: "body",
      place,
      from: 0,
      to: 1,
      reason: { binding: { kind: "now" as const } },
    });
    const plan = (rev: number) => ({ rev, at_seq: 0, at_time: 0, rows: [row(rev)], vehicles: [] });
    const change = (rev: number, base: number) => ({ ...plan(rev), base, gone: [], left: [] });
    const kept = () => phone.store.get("plan");
    server.replan(plan(1), change(1, 0));
    await phone.engine.wake();
    expect(await kept()).toEqual(plan(1));
    const before = server.requests.length;
    server.replan(plan(2), change(2, 1));
    await phone.engine.wake();
    expect([await kept(), server.requests.length]).toEqual([plan(2), before]);
    server.plan = plan(3);
    server.replan(plan(4), change(4, 3));
    await phone.engine.wake();
    expect([await kept(), server.requests.slice(before)]).toEqual([plan(4), [`pull ${server.head}`]]);
    // One from before changes nothing.
    server.replan(plan(4), change(2, 1));
    await phone.engine.wake();
    expect([await kept(), server.requests.length]).toEqual([plan(4), before + 1]);
  });

  it("applies a frame at its own cursor only", async () => {
    const phone = new Phone(server);
    await phone.engine.start();
    const [reader] = server.readers;
    const before = server.head;
    server.readers = [];
    server.others("note", "c1");
    server.readers = reader ? [reader] : [];
    server.others("note", "c1");
    await phone.settle();
    await phone.engine.wake();
    expect(server.head).toBe(before + 2);
    expect(await phone.kept()).toEqual(serverDocs(server));
    // The doubled frame of the past changes nothing.
    reader?.on.frame({
      epoch: server.epoch,
      from: 0,
      was: "0",
      to: 1,
      hash: "?",
      docs: [{ key: "card/c1", seq: 1, body: "old" }],
    });
    await phone.engine.wake();
    expect(await phone.kept()).toEqual(serverDocs(server));
  });
});

describe("a history that changed", () => {
  it("sends again what a restored server no longer has", async () => {
    const phone = new Phone(server);
    await phone.engine.start();
    await phone.act("note", { order: "o1", body: "kept" });
    await phone.settle();
    const backup = server.backup();
    const lost = await phone.act("note", { order: "o1", body: "lost by the restore" });
    await phone.settle();
    server.restore(backup);
    await phone.settle();
    await phone.settle();
    expect(server.docs.has(`note/${lost}`)).toBe(true);
    expect(phone.sentAgain).toBe(1);
    expect(await phone.kept()).toEqual(serverDocs(server));
    expect(await phone.store.outbox()).toEqual([]);
  });

  it("sends again what a server set back without a word no longer has, when its number fits as well", async () => {
    const phone = new Phone(server);
    await phone.engine.start();
    const backup = server.backup();
    const lost = await phone.act("note", { order: "o1", body: "lost" });
    // Acknowledged, and the documents have not come: the cursor stands before what is lost.
    const frames = server.readers.splice(0);
    await phone.engine.wake();
    server.rollBack(backup);
    for (const { on } of frames) on.closed();
    await phone.settle();
    expect(server.docs.has(`note/${lost}`)).toBe(true);
    expect(phone.sentAgain).toBe(1);
    expect(await phone.kept()).toEqual(serverDocs(server));
  });

  it("goes on after the page was killed between the fresh copy and what it owes", async () => {
    const name = newId();
    const phone = new Phone(server, "c1", name);
    await phone.engine.start();
    const backup = server.backup();
    const lost = await phone.act("note", { order: "o1", body: "lost" });
    await phone.settle();
    server.restore(backup);
    const { pull } = server.api;
    let copies = 0;
    // The page goes as soon as the fresh copy is whole.
    server.api.pull = async (query) => {
      const page = copies ? Promise.reject(new Error("killed")) : pull(query);
      if (query.after > 0 && !(await page).more) copies++;
      return page;
    };
    await phone.engine.wake();
    expect(copies).toBe(1);
    expect(await phone.store.outbox()).toEqual([]);
    expect(await phone.store.owed()).toEqual(["c1"]);
    phone.engine.stop();
    server.api.pull = pull;
    const again = new Phone(server, "c1", name);
    await again.engine.start();
    await again.settle();
    expect(server.docs.has(`note/${lost}`)).toBe(true);
    expect(await again.store.owed()).toEqual([]);
  });

  it("goes on when the server is restored once more before what it owes was offered", async () => {
    const name = newId();
    const phone = new Phone(server, "c1", name);
    await phone.engine.start();
    const backup = server.backup();
    const lost = await phone.act("note", { order: "o1", body: "lost" });
    await phone.settle();
    phone.engine.stop();
    await phone.store.set("owed", ["c1"]);
    server.restore(backup);
    const again = new Phone(server, "c1", name);
    await again.engine.start();
    await again.settle();
    expect(server.docs.has(`note/${lost}`)).toBe(true);
    expect(await again.store.owed()).toEqual([]);
    expect(await again.kept()).toEqual(serverDocs(server));
  });

  it("sends again for everybody on a shared tablet, whoever is signed in", async () => {
    const name = newId();
    server.together = new Set(["p1", "p2"]);
    const first = new Phone(server, "c1", name);
    await first.engine.start();
    const backup = server.backup();
    const lost = await first.act("note", { order: "o1", body: "lost" });
    await first.settle();
    first.engine.stop();
    server.clients.set("c2", "p2");
    backup.clients.set("c2", "p2");
    server.restore(backup);
    const second = new Phone(server, "c2", name, "p2");
    await second.engine.start();
    await second.settle();
    expect(server.docs.has(`note/${lost}`)).toBe(true);
    expect(server.entries).toMatchObject([{ client: "c1" }]);
  });

  it("keeps what only its own person can send, says so, and sends it when they are there", async () => {
    const name = newId();
    server.together = new Set(["p1", "p2"]);
    server.above = new Set(["take"]);
    const first = new Phone(server, "c1", name);
    await first.act("note", { order: "o1", body: "goes with anybody" });
    await first.act("take", { card: "c1" });
    await first.act("note", { order: "o1", body: "after it" });
    const second = new Phone(server, "c2", name, "p2");
    await second.act("note", { order: "o1", body: "goes on" });
    await second.engine.start();
    await second.settle(3);
    expect(server.entries.map(({ client, op }) => [client, op.n])).toEqual([
      ["c1", 1],
      ["c2", 1],
    ]);
    expect((await second.store.outbox()).map(({ client, n }) => [client, n])).toEqual([
      ["c1", 2],
      ["c1", 3],
    ]);
    expect(second.held).toEqual(["c1"]);
    second.engine.stop();
    const back = new Phone(server, "c1", name);
    await back.engine.start();
    await back.settle();
    expect(back.held).toEqual([]);
    expect(server.entries.map(({ client, op }) => [client, op.n])).toEqual([
      ["c1", 1],
      ["c2", 1],
      ["c1", 2],
      ["c1", 3],
    ]);
    expect(await back.store.outbox()).toEqual([]);
  });

  it("makes no new client for another person: their things wait for them", async () => {
    const name = newId();
    server.together = new Set(["p1", "p2"]);
    const first = new Phone(server, "c1", name);
    await first.act("note", { order: "o1", body: "waits" });
    // A copy of that phone was quicker.
    const copy = new Phone(server, "c1");
    await copy.act("note", { order: "o1", body: "quick" });
    await copy.engine.start();
    const second = new Phone(server, "c2", name, "p2");
    await second.act("note", { order: "o1", body: "goes on" });
    await second.engine.start();
    await second.settle(3);
    expect(await second.store.outbox()).toMatchObject([{ client: "c1", person: "p1" }]);
    expect(server.entries.map(({ client }) => client)).toEqual(["c1", "c2"]);
    second.engine.stop();
    const back = new Phone(server, "c1", name);
    await back.engine.start();
    await back.settle();
    expect(second.sentAgain).toBe(0);
    expect(await back.store.outbox()).toEqual([]);
    expect(back.who.client).not.toBe("c1");
    expect(server.clients.get(back.who.client)).toBe("p1");
    expect(server.entries).toHaveLength(3);
  });

  it("tells a server that was set back whose the client is", async () => {
    const phone = new Phone(server);
    const backup = server.backup();
    backup.clients.clear();
    await phone.engine.start();
    server.restore(backup);
    await phone.act("note", { order: "o1", body: "after" });
    await phone.settle();
    expect(server.clients.get(phone.who.client)).toBe("p1");
    expect(server.entries).toHaveLength(1);
  });

  it("does not take a frame of another history for one that fits by its number", async () => {
    const phone = new Phone(server);
    await phone.engine.start();
    const before = server.head;
    const [reader] = server.readers;
    const backup = server.backup();
    server.others("note", "c1");
    await phone.engine.wake();
    server.rollBack(backup);
    server.others("take", "c2");
    server.readers = reader ? [reader] : [];
    server.others("note", "c3");
    await phone.settle();
    await phone.engine.wake();
    expect(server.head).toBe(before + 2);
    expect(await phone.kept()).toEqual(serverDocs(server));
  });

  it("commits no copy whose pages are of two histories", async () => {
    const phone = new Phone(server);
    server.page = 2;
    const backup = server.backup();
    server.others("take", "c1");
    server.others("note", "c1");
    const { pull } = server.api;
    let pages = 0;
    server.api.pull = (query) => {
      if (++pages === 3) {
        server.rollBack(backup);
        server.others("take", "c7");
        server.others("note", "c2");
      }
      return pull(query);
    };
    await phone.engine.start();
    await phone.settle();
    expect(await phone.kept()).toEqual(serverDocs(server));
  });

  it("takes a new client when the phone is a copy", async () => {
    const first = new Phone(server);
    await first.engine.start();
    await first.act("note", { order: "o1", body: "from the first" });
    await first.settle();
    first.engine.stop();
    const copy = new Phone(server, first.who.client);
    const id = await copy.act("note", { order: "o1", body: "from the copy" });
    await copy.engine.start();
    await copy.settle();
    expect(copy.who.client).not.toBe(first.who.client);
    expect(server.clients.has(copy.who.client)).toBe(true);
    expect(server.docs.has(`note/${id}`)).toBe(true);
  });
});

describe("whatever the radio does", () => {
  it("every act counts once and phone and server agree in the end", async () => {
    const step = fc.oneof(
      fc.record({ do: fc.constant("act" as const), card: fc.integer({ min: 1, max: 7 }), take: fc.boolean() }),
      fc.record({ do: fc.constant("other" as const), card: fc.integer({ min: 1, max: 7 }), take: fc.boolean() }),
      fc.record({
        do: fc.constant("fault" as const),
        kind: fc.constantFrom("drop_request" as const, "drop_answer" as const, "busy" as const),
      }),
      fc.record({ do: fc.constant("sync" as const) }),
      fc.record({ do: fc.constant("lost_channel" as const) }),
      fc.record({ do: fc.constant("backup" as const) }),
      fc.record({ do: fc.constant("restore" as const) }),
      fc.record({ do: fc.constant("roll_back" as const) }),
      fc.record({ do: fc.constant("kill" as const) }),
    );
    await fc.assert(
      fc.asyncProperty(fc.array(step, { maxLength: 14 }), async (steps) => {
        const server = new FakeServer();
        const name = newId();
        let phone = new Phone(server, newId(), name);
        const made: string[] = [];
        let backup = server.backup();
        await phone.engine.start();
        for (const now of steps) {
          if (now.do === "act") {
            made.push(
              await (now.take
                ? phone.act("take", { card: `c${now.card}` })
                : phone.act("note", { order: "o1", body: `n${made.length}` })),
            );
          } else if (now.do === "other") server.others(now.take ? "take" : "note", `c${now.card}`);
          else if (now.do === "fault") server.faults.push(now.kind);
          else if (now.do === "backup") backup = server.backup();
          else if (now.do === "restore") server.restore(backup);
          else if (now.do === "roll_back") server.rollBack(backup);
          else if (now.do === "kill") {
            phone.engine.stop();
            phone = new Phone(server, phone.who.client, name);
            phone.docs = new Map(Object.entries(await phone.kept()));
            await phone.engine.start();
          } else if (now.do === "lost_channel") for (const { on } of server.readers.splice(0)) on.closed();
          else await phone.settle(1);
        }
        server.faults = [];
        await phone.settle();
        await phone.engine.reopen();
        await phone.settle();
        expect(await phone.store.outbox()).toEqual([]);
        expect(await phone.kept()).toEqual(serverDocs(server));
        expect(Object.fromEntries(phone.docs)).toEqual(serverDocs(server));
        const counted = server.entries.map((entry) => entry.op.id);
        expect(new Set(counted).size).toBe(counted.length);
        expect([...counted].sort()).toEqual([...made].sort());
        phone.engine.stop();
      }),
      { numRuns: 120 },
    );
  }, 60_000);
});
