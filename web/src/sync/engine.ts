// Keeps this phone and the server the same: sends what was done, takes what changed.
// Invariants: one thing at a time; a frame is applied only at its own cursor; pages are committed only
// when they are complete; nothing leaves the outbox before its verdict was seen; one bad operation
// never holds up the others; when the server's history changed, said or unsaid, nothing acknowledged is lost.
// Must not know: the screen, how requests travel, what operations mean.
import { Failure, type Api, type LiveHandlers } from "../api/client";
import type { DocLine, Frame, Op, Plan, PlanChange, SignedIn } from "../api/types";
import { follow } from "../core/merge";
import { NoBase, type Commit, type Position, type Store } from "../db/store";
import type { OutboxRow, TrayRow } from "../db/open";
import { newId } from "../core/ids";
import type { Notice } from "../api/types";

export const BATCH_OPS = 100;
export const BATCH_BYTES = 256 * 1024;
/** What the server takes of one operation. */
const OP_BYTES = 40 * 1024;
const SETUP_OP_BYTES = 64 * 1024;
const BACKOFF_MS_MAX = 60_000;
/** A live channel shows a change sooner than this; if not, it is asked for. */
const FRAME_WAIT_MS = 2_000;
/** Without a live channel the phone asks this often while it is looked at. */
const POLL_MS = 4_000;

/** What the screen side is told. */
export interface Mirror {
  committed(change: { docs: readonly DocLine[]; replace: boolean; position: Position; plan?: Plan | undefined }): void;
  rows(rows: readonly OutboxRow[]): void;
  told(rows: readonly TrayRow[]): void;
  notices(notices: readonly Notice[], read: number): void;
  offset(ms: number): void;
  reach(live: boolean, why?: "sign_in" | "update" | "unreached" | "error"): void;
  client(to: SignedIn): void;
  /** What is in work, while a first copy is still to come. */
  opened(docs: readonly DocLine[], plan: Plan): void;
  /** A first or fresh copy is coming: so many documents so far. */
  copying(documents: number): void;
  /** Clients whose operations wait until their own person is signed in here. */
  held(clients: readonly string[]): void;
  /** The server's history changed; so many operations were sent again. */
  again(count: number): void;
}

export interface Time {
  now(): number;
  random(): number;
  after(ms: number, what: () => void): () => void;
}

export const realTime: Time = {
  now: () => Date.now(),
  random: () => Math.random(),
  after(ms, what) {
    const timer = setTimeout(what, ms);
    return () => clearTimeout(timer);
  },
};

/** Before the first document of a history. */
const nowhere = (epoch: string): Position => ({ epoch, cursor: 0, hash: "" });

export class Engine {
  private tail: Promise<unknown> = Promise.resolve();
  private closeLive: (() => void) | undefined;
  private live = false;
  private stopped = true;
  private failures = 0;
  private cancelRetry: (() => void) | undefined;
  private cancelCheck: (() => void) | undefined;
  private batchOps = BATCH_OPS;
  /** Others' clients on a shared tablet that this sign-in may not speak for wait for their person. */
  private readonly notOurs = new Set<string>();
  private position: Position | undefined;
  private plan: Plan | undefined;

  constructor(
    private readonly api: Api,
    private readonly store: Store,
    private readonly mirror: Mirror,
    private who: SignedIn,
    private readonly time: Time = realTime,
    /** Whose sign-in the requests carry: on a tablet unlocked without a network it may be another's. */
    private readonly asker = who.person,
  ) {}

  async start(): Promise<void> {
    this.stopped = false;
    this.mirror.held([]);
    this.position = await this.store.position();
    this.plan = await this.store.get<Plan>("plan");
    await this.step();
  }

  stop(): void {
    this.stopped = true;
    this.dropLive();
    this.cancelRetry?.();
    this.cancelCheck?.();
  }

  /** Something was done, or the network may be back: try at once. */
  async wake(): Promise<void> {
    if (this.stopped) return;
    this.failures = 0;
    await this.step();
  }

  /** A hidden page's channel dies silently: begin anew. */
  async reopen(): Promise<void> {
    this.dropLive();
    await this.wake();
  }

  private serial<T>(work: () => Promise<T>): Promise<T> {
    const next = this.tail.then(work, work);
    this.tail = next.catch(() => undefined);
    return next;
  }

  private step(): Promise<void> {
    return this.serial(async () => {
      if (this.stopped) return;
      this.cancelRetry?.();
      try {
        if (this.position) await this.offerOwed();
        await this.push();
        if (!this.live) {
          await this.catchMissed();
          this.openLive();
        } else {
          this.checkLater();
        }
        this.failures = 0;
        if (!this.live) this.retryIn(POLL_MS);
      } catch (error) {
        this.failed(error);
      }
    });
  }

  private failed(error: unknown): void {
    const failure = error instanceof Failure ? error : undefined;
    this.dropLive();
    if (failure?.status === 401) {
      this.mirror.reach(false, "sign_in");
      return;
    }
    if (failure?.status === 426) {
      this.mirror.reach(false, "update");
      return;
    }
    this.mirror.reach(false, !failure || failure.transient ? "unreached" : "error");
    const ceiling = Math.min(BACKOFF_MS_MAX, 1_000 * 2 ** this.failures);
    this.failures = Math.min(this.failures + 1, 10);
    this.retryIn(Math.max(failure?.retryAfterMs ?? 0, this.time.random() * ceiling));
  }

  private retryIn(ms: number): void {
    this.cancelRetry?.();
    if (!this.stopped) this.cancelRetry = this.time.after(ms, () => void this.step());
  }

  // Up

  /** The server's clock beside the phone's; the request is taken to have met it half-way. */
  private measure(now: number, before: number): void {
    this.mirror.offset(Math.round(now - (before + this.time.now()) / 2));
  }

  private async push(): Promise<void> {
    let repairs = 0;
    for (;;) {
      const rows = (await this.store.outbox()).filter((row) => !row.result && !this.notOurs.has(row.client));
      const first = rows[0];
      if (!first) return;
      const batch = await this.batch(rows.filter((row) => row.client === first.client));
      if (!batch.length) continue;
      try {
        await this.send(first.client, batch);
        this.batchOps = BATCH_OPS;
      } catch (error) {
        if (!(error instanceof Failure) || ++repairs > 12) throw error;
        if (error.status === 413) await this.splitBatch(batch);
        else if (error.code === "client_unknown") await this.bindAgain(first.client);
        else if (error.status === 409) await this.mend(error, first.client);
        else throw error;
      }
    }
  }

  private async batch(rows: readonly OutboxRow[]): Promise<OutboxRow[]> {
    const batch: OutboxRow[] = [];
    let bytes = 0;
    for (const row of rows.slice(0, this.batchOps)) {
      const size = new TextEncoder().encode(JSON.stringify(row.op)).length;
      if (size > (row.op.kind.startsWith("set_") ? SETUP_OP_BYTES : OP_BYTES)) {
        if (batch.length) break;
        await this.tooLarge(row);
        return [];
      }
      bytes += size;
      if (bytes > BATCH_BYTES - 1_024) break;
      batch.push(row);
    }
    return batch;
  }

  private async tooLarge(row: OutboxRow): Promise<void> {
    await this.store.dropTooLarge(row, "too large to send", this.time.now());
    this.mirror.told(await this.store.tray());
    this.mirror.rows(await this.store.outbox());
  }

  private async splitBatch(batch: readonly OutboxRow[]): Promise<void> {
    const [only] = batch;
    if (batch.length === 1 && only) await this.tooLarge(only);
    else this.batchOps = Math.max(1, batch.length >> 1);
  }

  private async send(client: string, batch: readonly OutboxRow[]): Promise<void> {
    const before = this.time.now();
    const ops: Op[] = batch.map((row) => row.op);
    const answer = await this.api.push({ epoch: this.epoch(), client, device_now: before, ops, knows_held: true });
    this.measure(answer.now, before);
    // Reached, though not live yet.
    if (!this.live) this.mirror.reach(false);
    const { told } = await this.store.settle(client, answer.results, this.time.now());
    // Both are read before either is shown: what stands on the screen moves once.
    const [tray, rows] = await Promise.all([told ? this.store.tray() : undefined, this.store.outbox()]);
    if (tray) this.mirror.told(tray);
    this.mirror.rows(rows);
    if (answer.held) {
      this.waits(answer.held.client);
      return;
    }
    const seen = new Set(answer.results.map((result) => result.n));
    if (!batch.some((row) => seen.has(row.n))) throw new Failure(502, "no_verdict", "The server gave no verdict.");
  }

  /** The server knows another history of this client than the phone does. */
  private async mend(failure: Failure, client: string): Promise<void> {
    if (failure.code === "epoch_changed") return this.pull();
    if (failure.code === "gap") {
      const expected = Number(failure.body["expected"]);
      if (!Number.isInteger(expected)) throw failure;
      await this.offer(client, expected);
      return;
    }
    if (failure.code !== "forked") throw failure;
    await this.fork(client);
  }

  /** This sign-in cannot send for it, or not all: its person does, when they unlock. */
  private waits(client: string): void {
    this.notOurs.add(client);
    this.mirror.held([...this.notOurs]);
  }

  /** This sign-in may bind the client, and deliver for it: it is of the same person. */
  private async isOurs(client: string): Promise<boolean> {
    if (client === this.who.client) return this.asker === this.who.person;
    const rows = [...(await this.store.outbox()), ...(await this.store.journal())];
    return rows.some((row) => row.client === client && row.person === this.asker);
  }

  /** The server does not know this client for ours: a server set back does not, and is told again. */
  private async bindAgain(client: string): Promise<void> {
    if (!(await this.isOurs(client))) {
      this.waits(client);
      return;
    }
    try {
      await this.api.bindClient(client);
    } catch (error) {
      if (!(error instanceof Failure) || error.code !== "client_taken") throw error;
      await this.fork(client);
    }
  }

  /**
   * A copied or rolled-back phone: a new client, and what is unsent numbered anew under it. Returns how many
   * acknowledged operations are among that.
   */
  private async fork(client: string, alsoJournalFrom?: number): Promise<number> {
    if (!(await this.isOurs(client))) {
      this.waits(client);
      return 0;
    }
    const to = newId();
    await this.api.bindClient(to);
    const { rows, again } = await this.store.renumber(client, to, alsoJournalFrom);
    if (client === this.who.client) {
      this.who = { ...this.who, client: to };
      this.mirror.client(this.who);
    }
    this.mirror.rows(rows);
    return again;
  }

  // Down

  private epoch(): string {
    return this.position?.epoch ?? this.who.epoch;
  }

  private async pull(): Promise<void> {
    await this.catchUp(this.who.client);
    await this.offerOwed();
  }

  /** A person at a new phone sees their work before the whole shop has come. Without it they wait for that. */
  private async showOpen(): Promise<void> {
    try {
      const { docs, plan } = await this.api.open();
      this.mirror.opened(docs, plan);
    } catch (error) {
      if (!(error instanceof Failure)) throw error;
    }
  }

  /** What changed, or a fresh copy where the history did. Returns the last number the server has of `client`. */
  private async catchUp(client: string): Promise<number | undefined> {
    if (this.position === undefined) await this.showOpen();
    try {
      return await this.pullFrom(this.position ?? nowhere(this.who.epoch), this.position === undefined, client);
    } catch (error) {
      if (!(error instanceof Failure) || error.status !== 409 || error.code !== "epoch_changed") throw error;
      const epoch = error.body["epoch"];
      if (typeof epoch !== "string") throw error;
      return this.pullFrom(nowhere(epoch), true, client);
    }
  }

  /** Collects every page and commits them as one. Returns the last number the server has of `client`. */
  private async pullFrom(from: Position, replace: boolean, client = this.who.client): Promise<number | undefined> {
    const docs = new Map<string, DocLine>();
    let at = from;
    let beside = {};
    let plan: Plan | undefined;
    let lastN: number | undefined;
    for (;;) {
      const before = this.time.now();
      const page = await this.api.pull({
        epoch: at.epoch,
        after: at.cursor,
        hash: at.hash,
        plan: replace ? 0 : this.planRev(),
        client,
        ...beside,
      });
      this.measure(page.now, before);
      for (const line of page.docs) docs.set(line.key, line);
      if (replace) this.mirror.copying(docs.size);
      plan = page.plan ?? plan;
      lastN = page.last_n ?? lastN;
      at = { epoch: page.epoch, cursor: page.to, hash: page.hash };
      beside = { head: page.head, head_hash: page.head_hash };
      if (!page.more) break;
    }
    const last = lastN === undefined ? undefined : { client, n: lastN };
    await this.commit({ position: at, docs: [...docs.values()], plan, replace, last });
    return lastN;
  }

  private async commit(what: Commit): Promise<void> {
    const { position, plan, replace = false } = what;
    let kept: Awaited<ReturnType<Store["commit"]>>;
    try {
      kept = await this.store.commit(what);
    } catch (error) {
      if (replace || !(error instanceof NoBase)) throw error;
      // The copy is not what its cursor says, or is gone: take all of it anew.
      if (!this.stopped) await this.pullFrom(nowhere(position.epoch), true);
      return;
    }
    const { rest, docs: whole } = kept;
    this.position = position;
    this.plan = plan ?? this.plan;
    this.mirror.committed({ docs: whole, replace, position, plan: plan ?? undefined });
    this.mirror.rows(rest);
  }

  private planRev(): number {
    return this.plan?.rev ?? 0;
  }

  /** What phones were told is kept, and the server no longer has: of everybody on this browser. */
  private async offerOwed(): Promise<void> {
    for (const client of await this.store.owed()) {
      if (this.notOurs.has(client)) continue;
      const lastN = await this.catchUp(client);
      if (lastN === undefined) continue;
      const count = await this.offer(client, lastN + 1);
      if (!count) continue;
      this.mirror.again(count);
      void this.step();
    }
  }

  /** Puts acknowledged operations from `from` on back among the unsent; how many. */
  private async offer(client: string, from: number): Promise<number> {
    const again = (await this.store.reoffer(client, from)) ?? (await this.fork(client, from));
    this.mirror.rows(await this.store.outbox());
    return again;
  }

  /** What no frame brought, or none before the channel stood: no frame said either that it has notices. */
  private async catchMissed(): Promise<void> {
    await this.pull();
    await this.takeNotices();
  }

  private async takeNotices(): Promise<void> {
    // A screen on the wall is nobody: it is told nothing.
    if (this.who.display) return;
    let kept = await this.store.notices();
    for (;;) {
      const after = kept.reduce((latest, notice) => Math.max(latest, notice.id), 0);
      const { notices, read } = await this.api.notices(after);
      kept = [...kept, ...notices];
      await this.store.putNotices(notices);
      await this.store.set("notices_read", read);
      this.mirror.notices(kept, read);
      if (!notices.some((notice) => notice.id > after)) return;
    }
  }

  // Live

  private openLive(): void {
    if (this.stopped || this.closeLive || !this.position) return;
    const handlers: LiveHandlers = {
      open: () => {
        this.live = true;
        this.failures = 0;
        this.cancelRetry?.();
        this.mirror.reach(true);
      },
      frame: (frame) => void this.serial(() => this.takeFrame(frame)).catch((error: unknown) => this.failed(error)),
      plan: (change) => void this.serial(() => this.takePlan(change)).catch((error: unknown) => this.failed(error)),
      head: (head, plan = 0) =>
        void this.serial(async () => {
          if (head > (this.position?.cursor ?? 0)) await this.catchMissed();
          else if (plan > this.planRev()) await this.pull();
        }).catch((error: unknown) => this.failed(error)),
      notices: () => void this.serial(() => this.takeNotices()).catch((error: unknown) => this.failed(error)),
      closed: () => {
        if (this.closeLive !== close) return;
        this.closeLive = undefined;
        this.live = false;
        this.mirror.reach(false);
        this.retryIn(this.time.random() * Math.min(BACKOFF_MS_MAX, 1_000 * 2 ** this.failures++));
      },
    };
    const close = this.api.live(
      { after: this.position.cursor, epoch: this.position.epoch, plan: this.planRev() },
      handlers,
    );
    this.closeLive = close;
    this.mirror.reach(true);
  }

  private dropLive(): void {
    const close = this.closeLive;
    this.closeLive = undefined;
    this.live = false;
    close?.();
  }

  private async takeFrame(frame: Frame): Promise<void> {
    const at = this.position;
    if (!at || this.stopped) return;
    const here = frame.from === at.cursor;
    const other = frame.epoch !== at.epoch || (here && frame.was !== at.hash);
    if (other || !here) {
      // Lost, doubled, late or of another history: the pull knows. What lies behind us is harmless.
      if (other || frame.to > at.cursor) await this.catchMissed();
      return;
    }
    await this.commit({ position: { epoch: at.epoch, cursor: frame.to, hash: frame.hash }, docs: frame.docs });
  }

  private async takePlan(change: PlanChange): Promise<void> {
    if (!this.position || this.stopped || change.rev <= this.planRev()) return;
    const plan = follow(this.plan, change);
    if (plan) await this.commit({ position: this.position, docs: [], plan });
    else await this.pull();
  }

  /** What was acknowledged must show soon; if no frame brings it, it is fetched. */
  private checkLater(): void {
    this.cancelCheck?.();
    this.cancelCheck = this.time.after(FRAME_WAIT_MS, () => {
      void this.serial(async () => {
        const waiting = (await this.store.outbox()).some((row) => row.result);
        if (waiting && !this.stopped) await this.catchMissed();
      }).catch((error: unknown) => this.failed(error));
    });
  }
}
