// A readable and writable view of documents, laid over what the server sent.
// Must not know: where documents are kept.
import type { Body, DocKind, DocKinds } from "../api/types";

export type Key = `${DocKind}/${string}`;

/** What the overlay changed: a body, or null where it removed one. */
export type Patches = Map<string, Body | null>;

export class Docs {
  readonly patches: Patches = new Map();

  constructor(private readonly base: (key: string) => Body | undefined) {}

  get<K extends DocKind>(kind: K, id: string): DocKinds[K] | undefined {
    const key = `${kind}/${id}`;
    const patch = this.patches.get(key);
    if (patch !== undefined) return (patch ?? undefined) as DocKinds[K] | undefined;
    return this.base(key) as DocKinds[K] | undefined;
  }

  /** Bodies are replaced, never changed in place: screens compare by identity. */
  set<K extends DocKind>(kind: K, id: string, body: DocKinds[K]): void {
    this.patches.set(`${kind}/${id}`, body);
  }

  change<K extends DocKind>(kind: K, id: string, by: (body: DocKinds[K]) => Partial<DocKinds[K]>): void {
    const body = this.get(kind, id);
    if (body) this.set(kind, id, { ...body, ...by(body) });
  }
}
