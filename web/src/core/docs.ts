// A readable and writable view of documents, laid over what the server sent.
// Must not know: where documents are kept.
import type { Body, DocKind, DocKinds } from "../api/types";

/** What the server sent. */
export interface Source {
  get(kind: DocKind, id: string): Body | undefined;
  ids(kind: DocKind): Iterable<string>;
}

/** What was laid over it, by key "kind/id". */
export type Patches = Map<string, Body>;

export class Docs {
  readonly patches: Patches = new Map();

  constructor(private readonly source: Source) {}

  get<K extends DocKind>(kind: K, id: string | null | undefined): DocKinds[K] | undefined {
    if (!id) return undefined;
    return (this.patches.get(`${kind}/${id}`) ?? this.source.get(kind, id)) as DocKinds[K] | undefined;
  }

  *all<K extends DocKind>(kind: K): Iterable<DocKinds[K]> {
    const seen = new Set<string>();
    for (const id of this.source.ids(kind)) {
      seen.add(id);
      const body = this.get(kind, id);
      if (body) yield body;
    }
    for (const [key, body] of this.patches) {
      const [at, id] = [key.slice(0, key.indexOf("/")), key.slice(key.indexOf("/") + 1)];
      if (at === kind && !seen.has(id)) yield body as DocKinds[K];
    }
  }

  /** Bodies are replaced, never changed in place: screens compare by identity. */
  set<K extends DocKind>(kind: K, id: string, body: DocKinds[K]): void {
    this.patches.set(`${kind}/${id}`, body);
  }

  change<K extends DocKind>(
    kind: K,
    id: string | null | undefined,
    by: (body: DocKinds[K]) => Partial<DocKinds[K]>,
  ): void {
    const body = this.get(kind, id);
    if (body && id) this.set(kind, id, { ...body, ...by(body) });
  }
}
