// What the screens read: documents with the unsent operations laid over them, as signals; and the one
// way to change anything, `act`.
// Invariants: screens never write documents; what `act` promised is in the database before it returns.
// Must not know: how anything is sent.
import { computed, signal, type ReadonlySignal } from "@preact/signals";
import type {
  Acts,
  Body,
  DocKind,
  DocKinds,
  Expect,
  Handoff,
  Kind,
  Ms,
  Notice,
  Op,
  Plan,
  Shop,
  SignedIn,
} from "./api/types";
import { Docs } from "./core/docs";
import { newId } from "./core/ids";
import { applyAll } from "./core/overlay";
import type { OutboxRow, StoredDoc, TrayRow } from "./db/open";
import { db } from "./db";
import { speakOf } from "./text/documents";

export { t, words, language, setLanguage, loadWords } from "./text/words";

type Base = { [K in DocKind]: ReadonlyMap<string, DocKinds[K]> };

const KINDS: DocKind[] = [
  "shop",
  "department",
  "person",
  "equipment",
  "place",
  "calendar",
  "routing",
  "order",
  "card",
  "handoff",
  "note",
  "photo",
  "exception",
];

const emptyBase = (): Base => Object.fromEntries(KINDS.map((kind) => [kind, new Map()])) as unknown as Base;

/** What the server sent, nothing laid over it. */
const base = signal<Base>(emptyBase());
const rows = signal<readonly OutboxRow[]>([]);

/** The signed-in person; undefined when nobody is. */
export const me = signal<SignedIn | undefined>(undefined);
/** Several people use this browser, one after the other, each with a PIN. */
export const shared = signal(false);
export const plan = signal<Plan | undefined>(undefined);
/** What everybody on this browser is still to be told; `told` is the signed-in person's part. */
export const tray = signal<readonly TrayRow[]>([]);
export const told: ReadonlySignal<readonly TrayRow[]> = computed(() =>
  tray.value.filter((row) => row.person === me.value?.person),
);
export const notices = signal<readonly Notice[]>([]);
export const noticesRead = signal(0);
/** What was done to how this person comes in, and not read yet. */
export const warned = signal(0);
/** Server time minus phone time, as last measured. */
export const offset = signal(0);
/** The shop's time, ticking every 20 s. */
export const now = signal<Ms>(Date.now());
/** The channel to the server: live, or not reached since. */
export const reach = signal<{ live: boolean; since: Ms; why?: string }>({ live: false, since: Date.now() });
/** So many acts were sent again because the server's history had changed. */
export const sentAgain = signal(0);
/** Clients whose operations are sent when their own person unlocks. */
export const held = signal<ReadonlySet<string>>(new Set());
/** Documents of a first copy that have come so far. */
export const copying = signal(0);
/** The cursor of the documents shown; 0 before the first copy has come. */
export const cursor = signal(0);

/** Operations without a verdict yet, oldest first. */
export const unsent: ReadonlySignal<readonly OutboxRow[]> = computed(() => rows.value.filter((row) => !row.result));

function laidOver(at: Base, done: readonly Pick<OutboxRow, "op" | "person" | "result">[]): Docs["patches"] {
  const docs = new Docs({
    get: (kind, id) => at[kind].get(id),
    ids: (kind) => at[kind].keys(),
  });
  const shown = done.filter((row) => row.result?.verdict !== "refused");
  applyAll(
    docs,
    shown.map(({ op, person }) => ({ op, person, at: op.device_at + offset.peek() })),
  );
  return docs.patches;
}

const patches = computed(() => laidOver(base.value, rows.value));

function overlaid<K extends DocKind>(kind: K): ReadonlySignal<ReadonlyMap<string, DocKinds[K]>> {
  const prefix = `${kind}/`;
  return computed(() => {
    const plain = base.value[kind] as ReadonlyMap<string, DocKinds[K]>;
    let merged: Map<string, DocKinds[K]> | undefined;
    for (const [key, body] of patches.value) {
      if (!key.startsWith(prefix)) continue;
      merged ??= new Map(plain);
      merged.set(key.slice(prefix.length), body as DocKinds[K]);
    }
    return merged ?? plain;
  });
}

export const orders = overlaid("order");
export const cards = overlaid("card");
export const handoffs = overlaid("handoff");
export const notes = overlaid("note");
export const photos = overlaid("photo");
export const exceptions = overlaid("exception");
export const people = overlaid("person");
export const departments = overlaid("department");
export const equipment = overlaid("equipment");
export const places = overlaid("place");
export const calendars = overlaid("calendar");
export const routings = overlaid("routing");
const shops = overlaid("shop");
export const shop: ReadonlySignal<Shop | undefined> = computed(() => shops.value.get("shop"));

/** The signed-in person's own document. */
export const myself = computed(() => (me.value ? people.value.get(me.value.person) : undefined));

speakOf({ cards, departments, equipment, me, now, orders, people, places, shop, unsent });

/** Acts about a vehicle that leave its own document as it is. */
const BESIDE: ReadonlySet<Kind> = new Set<Kind>(["note", "found", "photo", "ask", "add_card"]);

/** Keys of documents that show something the server has not confirmed. */
export const touched: ReadonlySignal<ReadonlySet<string>> = computed(() => {
  const keys = new Set<string>();
  for (const { op } of unsent.value) {
    const args = op.args as { card?: string; order?: string; exception?: string; photo?: string };
    if (args.card) keys.add(`card/${args.card}`);
    if (args.photo) keys.add(`photo/${args.photo}`);
    if (args.exception) keys.add(`exception/${args.exception}`);
    if (args.order && !BESIDE.has(op.kind)) keys.add(`order/${args.order}`);
    keys.add(`handoff/${op.id}`).add(`note/${op.id}`).add(`photo/${op.id}`).add(`card/${op.id}`).add(`order/${op.id}`);
  }
  return keys;
});

let wake: () => void = () => {};
/** Who is to be woken when something waits to be sent. */
export function onAct(what: () => void): void {
  wake = what;
}

export interface ActOptions {
  id?: string;
  expect?: Expect[];
}

/**
 * Writes what the person did into the outbox and lays it over the screen. Resolves with the
 * operation's id when it is safely kept on this phone; it is sent whenever the server is reached.
 */
export async function act<K extends Kind>(kind: K, args: Acts[K], opts: ActOptions = {}): Promise<string> {
  const who = me.peek();
  if (!who) throw new Error("Nobody is signed in on this phone.");
  const op = {
    n: 0,
    id: opts.id ?? newId(),
    session: who.session,
    v: 1,
    kind,
    args,
    ...(opts.expect?.length ? { expect: opts.expect } : {}),
    device_at: Date.now(),
    ...(measured ? { offset: offset.peek() } : {}),
    seen: cursor.peek(),
  } as unknown as Op;
  const row = await db.enqueue(who.client, who.person, op, kind === "ask" && joins(who.person, op));
  rows.value = [...rows.peek(), row];
  wake();
  return op.id;
}

/** Whether the screen shows already that this ask joins another: then it is no news when the server says so. */
function joins(person: string, op: Op): boolean {
  const made = laidOver(base.peek(), [...rows.peek(), { op, person }]).get(`handoff/${op.id}`);
  return (made as Handoff | undefined)?.joined ?? false;
}

// For the sync part and the start only.

let measured = false;
export function setOffset(ms: number): void {
  measured = true;
  offset.value = ms;
  now.value = Date.now() + ms;
}

export function setReach(live: boolean, why?: string): void {
  const was = reach.peek();
  if (was.live === live && was.why === why) return;
  reach.value = { live, since: Date.now() + offset.peek(), ...(why ? { why } : {}) };
}

/** Operations whose documents have not come yet, with a verdict or without. */
export const kept = (): readonly OutboxRow[] => rows.peek();

export function setRows(to: readonly OutboxRow[]): void {
  rows.value = to;
}

export function setDocs(all: Iterable<StoredDoc>): void {
  const next = emptyBase() as { [K in DocKind]: Map<string, DocKinds[K]> };
  for (const { key, body } of all) put(next, key, body);
  base.value = next;
}

/** One commit: what changed, what is gone, and the outbox that remains, seen by screens at once. */
export function changeDocs(changed: readonly { key: string; body?: unknown; gone?: boolean | null }[]): void {
  if (!changed.length) return;
  const next = { ...base.peek() } as { [K in DocKind]: Map<string, DocKinds[K]> };
  const copied = new Set<string>();
  for (const { key, body, gone } of changed) {
    const kind = key.slice(0, key.indexOf("/")) as DocKind;
    if (!(kind in next)) continue;
    if (!copied.has(kind)) {
      (next as Record<string, unknown>)[kind] = new Map(next[kind] as Map<string, never>);
      copied.add(kind);
    }
    if (gone) next[kind].delete(key.slice(kind.length + 1));
    else put(next, key, body as Body);
  }
  base.value = next;
}

function put(into: { [K in DocKind]: Map<string, DocKinds[K]> }, key: string, body: Body): void {
  const cut = key.indexOf("/");
  const kind = key.slice(0, cut);
  // A kind of a later version is kept in the database and shown when the app is updated.
  if (kind in into) (into[kind as DocKind] as Map<string, Body>).set(key.slice(cut + 1), body);
}

export function startClock(): () => void {
  const tick = (): void => {
    now.value = Date.now() + offset.peek();
  };
  tick();
  const timer = setInterval(tick, 20_000);
  return () => clearInterval(timer);
}
