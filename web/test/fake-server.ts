// A small server in memory that keeps the promises of the wire and knows three rules: a card is taken
// once, a note is kept, work may begin and end. Enough to hold the phone's side to its promises.
import { Failure, type Api, type LiveHandlers } from "../src/api/client";
import type { DocLine, Frame, Op, OpResult, Plan, PlanChange } from "../src/api/types";

interface Entry {
  seq: number;
  client: string;
  op: Op;
  result: OpResult;
}

/** What of the first level differs, as a merge patch. */
function patch(before: object, after: object): object {
  const then = new Map<string, unknown>(Object.entries(before));
  const now = Object.entries(after).filter(([name, value]) => JSON.stringify(then.get(name)) !== JSON.stringify(value));
  const gone = [...then.keys()].filter((name) => !(name in after)).map((name) => [name, null] as const);
  return Object.fromEntries([...now, ...gone]);
}

interface Backup {
  entries: Entry[];
  docs: Map<string, DocLine>;
  clients: Map<string, string>;
  head: number;
}

export class FakeServer {
  epoch = "e1";
  entries: Entry[] = [];
  docs = new Map<string, DocLine>();
  head = 0;
  /** What the chain says at each entry: no two histories say the same. */
  private chain = ["0"];
  private made = 0;
  clock = 1_000_000;
  /** What goes wrong next, once each. */
  faults: ("drop_request" | "drop_answer" | "busy" | "too_big")[] = [];
  page = 3;
  plan: Plan = { rev: 0, at_seq: 0, at_time: 0, rows: [], vehicles: [] };
  /** Bodies as the last frame left them. */
  private shown = new Map<string, unknown>();
  readers: { on: LiveHandlers; at: number }[] = [];
  /** Whose each client is. */
  clients = new Map<string, string>();
  /** People who sign in on one browser: each delivers for all of them. */
  together = new Set<string>();
  /** Kinds that only their own person's sign-in brings. */
  above = new Set<string>();
  requests: string[] = [];

  constructor() {
    for (const n of [1, 2, 3, 4, 5, 6, 7])
      this.put(`card/c${n}`, {
        id: `c${n}`,
        order: "o1",
        spans: [],
        helpers: [],
        after: [],
        life: "waiting",
        created_at: 0,
      });
    this.put("order/o1", { id: "o1", cards: ["c1", "c2"], condition: {} });
    this.showAll();
  }

  private showAll(): void {
    this.shown = new Map([...this.docs].map(([key, line]) => [key, line.body]));
  }

  hash(at = this.head): string {
    return this.chain[at] ?? "";
  }

  private grow(): void {
    this.chain[++this.head] = `w${++this.made}`;
  }

  put(key: string, body: unknown): void {
    this.grow();
    this.docs.set(key, { key, seq: this.head, body });
  }

  lastN(client: string): number {
    return this.entries.filter((entry) => entry.client === client).reduce((n, entry) => Math.max(n, entry.op.n), 0);
  }

  /** A backup comes back: what came after it is gone, and the epoch is a new one. */
  restore(to: Backup): void {
    this.rollBack(to);
    this.epoch = `${this.epoch}'`;
  }

  /** The same, and nobody says so: a copied disk, a lost file. */
  rollBack(to: Backup): void {
    this.entries = [...to.entries];
    this.docs = new Map(to.docs);
    this.clients = new Map(to.clients);
    this.showAll();
    this.head = to.head;
    this.chain = this.chain.slice(0, to.head + 1);
    for (const { on } of this.readers.splice(0)) on.closed("restored");
  }

  backup(): Backup {
    return { entries: [...this.entries], docs: new Map(this.docs), clients: new Map(this.clients), head: this.head };
  }

  /** Somebody else does something. */
  others(kind: "take" | "note", card: string, by = "other"): void {
    const from = this.head;
    if (kind === "take")
      this.put(`card/${card}`, { ...(this.docs.get(`card/${card}`)?.body as object), life: "taken", taken_by: by });
    else this.put(`note/x${this.head}`, { id: `x${this.head}`, order: "o1", by, body: "hello", at: this.clock });
    this.send(from);
  }

  send(from: number): void {
    const changed = [...this.docs.values()].filter((line) => line.seq > from);
    const docs = changed.map((line): DocLine => {
      const then = this.shown.get(line.key);
      return then === undefined
        ? line
        : { key: line.key, seq: line.seq, patch: patch(then as object, line.body as object) };
    });
    for (const { key, body } of changed) this.shown.set(key, body);
    const frame: Frame = { epoch: this.epoch, from, was: this.hash(from), to: this.head, hash: this.hash(), docs };
    for (const { on } of this.readers) on.frame(structuredClone(frame));
  }

  /** A new plan, told to those who listen. */
  replan(plan: Plan, change: PlanChange): void {
    this.plan = plan;
    for (const { on } of this.readers) on.plan(structuredClone(change));
  }

  private decide(client: string, op: Op): OpResult {
    const last = this.lastN(client);
    if (op.n <= last) {
      const was = this.entries.find((entry) => entry.client === client && entry.op.n === op.n);
      if (JSON.stringify(was?.op) !== JSON.stringify(op))
        throw new Failure(409, "forked", "forked", { code: "forked" });
      return (was as Entry).result;
    }
    if (op.n > last + 1) throw new Failure(409, "gap", "gap", { code: "gap", expected: last + 1 });
    const result: OpResult = { n: op.n, seq: 0, verdict: "applied" };
    if (op.kind === "take") {
      const line = this.docs.get(`card/${op.args.card}`);
      const card = line?.body as { taken_by?: string } | undefined;
      if (card?.taken_by && card.taken_by !== client) {
        Object.assign(result, { verdict: "refused", code: "taken", by: card.taken_by, at: 5 });
        this.grow();
      } else this.put(`card/${op.args.card}`, { ...card, life: "taken", taken_by: client });
    } else if (op.kind === "note") {
      this.put(`note/${op.id}`, { id: op.id, order: "o1", by: client, body: op.args.body, at: this.clock });
    } else this.grow();
    result.seq = this.head;
    this.entries.push({ seq: this.head, client, op: structuredClone(op), result });
    return result;
  }

  private async fault(): Promise<boolean> {
    await Promise.resolve();
    const next = this.faults.shift();
    if (next === "drop_request") throw new Failure(0, "unreached", "gone");
    if (next === "busy") throw new Failure(503, "busy", "busy", {}, 7_000);
    if (next === "too_big") throw new Failure(413, "too_big", "too big");
    return next === "drop_answer";
  }

  private apis = new Map<string, Api>();
  readonly api = this.as("p1");

  /** The server as one person's sign-in meets it. */
  as(person: string): Api {
    const api = this.apis.get(person) ?? this.apiOf(person);
    this.apis.set(person, api);
    return api;
  }

  private apiOf(person: string): Api {
    return {
      push: async ({ epoch, client, ops }) => {
        this.requests.push(`push ${ops.length}`);
        const lost = await this.fault();
        if (epoch !== this.epoch) throw new Failure(409, "epoch_changed", "changed", { epoch: this.epoch });
        const owner = this.clients.get(client);
        if (!owner || (owner !== person && !(this.together.has(person) && this.together.has(owner)))) {
          throw new Failure(403, "client_unknown", "not yours");
        }
        const from = this.head;
        const waits = owner === person ? -1 : ops.findIndex((op) => this.above.has(op.kind));
        const results = (waits < 0 ? ops : ops.slice(0, waits)).map((op) => this.decide(client, op));
        if (this.head > from) this.send(from);
        if (lost) throw new Failure(0, "unreached", "gone");
        const held = waits < 0 ? {} : { held: { client, from_n: ops[waits]?.n ?? 0 } };
        return { epoch, head: this.head, now: this.clock, results, ...held };
      },
      pull: async ({ epoch, after, hash, client, plan, head, head_hash }) => {
        this.requests.push(`pull ${after}`);
        const lost = await this.fault();
        const known = after === 0 || (epoch === this.epoch && after <= this.head && hash === this.hash(after));
        const same = head === undefined || (head <= this.head && this.hash(head) === head_hash);
        if (epoch !== this.epoch || !known || !same)
          throw new Failure(409, "epoch_changed", "changed", { epoch: this.epoch });
        const rest = [...this.docs.values()].filter((line) => line.seq > after).sort((a, b) => a.seq - b.seq);
        const docs = rest.slice(0, this.page);
        const more = rest.length > docs.length;
        const to = more ? (docs.at(-1)?.seq ?? this.head) : this.head;
        if (lost) throw new Failure(0, "unreached", "gone");
        return {
          epoch,
          from: after,
          to,
          hash: this.hash(to),
          now: this.clock,
          more,
          docs: structuredClone(docs),
          head: this.head,
          head_hash: this.hash(),
          last_n: this.lastN(client),
          ...(plan === this.plan.rev ? {} : { plan: structuredClone(this.plan) }),
        };
      },
      open: async () =>
        Promise.resolve({
          docs: structuredClone([...this.docs.values()]),
          plan: structuredClone(this.plan),
          now: this.clock,
        }),
      notices: async () => Promise.resolve({ notices: [], read: 0 }),
      bindClient: async (client) => {
        await Promise.resolve();
        const owner = this.clients.get(client);
        if (owner && owner !== person) throw new Failure(409, "client_taken", "taken");
        this.clients.set(client, person);
      },
      live: ({ after: at, epoch }, on) => {
        const reader = { on, at };
        if (epoch !== this.epoch) {
          queueMicrotask(() => on.closed("epoch"));
          return () => undefined;
        }
        this.readers.push(reader);
        queueMicrotask(() => {
          on.open();
          if (at < this.head) on.head(this.head);
        });
        return () => {
          this.readers = this.readers.filter((other) => other !== reader);
        };
      },
    };
  }
}
