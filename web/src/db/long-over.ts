// What a phone need no longer hold: visits that were over long ago. The server does not send them either.
// Invariants: never one on which something waits for an answer, or that something unsent is about.
import type { Order } from "../api/types";
import type { OutboxRow, StoredDoc } from "./open";

/** As on the server (`domain::cold`): longer than a year of measures with the ninety days after it. */
export const KEEP_DAYS = 480;

/** Keys of all documents of such visits. */
export function longOver(docs: readonly StoredDoc[], unsent: readonly OutboxRow[], now: number): Set<string> {
  const before = now - KEEP_DAYS * 86_400_000;
  const asked = new Set(docs.filter(({ key }) => key.startsWith("exception/")).map(({ body }) => waiting(body)));
  const over = new Set<string>();
  for (const { key, body } of docs) {
    if (!key.startsWith("order/")) continue;
    const { id, stage, stages } = body as Order;
    if (stage === "delivered" && (stages.at(-1)?.at ?? now) < before && !asked.has(id)) over.add(id);
  }
  if (over.size === 0) return new Set();
  const of = ({ key, body }: StoredDoc): string | undefined =>
    key.startsWith("order/") ? (body as Order).id : (body as { order?: string }).order;
  // A card or note may be named without its visit.
  const said = JSON.stringify(unsent);
  for (const doc of unsent.length ? docs : []) {
    const order = of(doc);
    if (order && over.has(order) && said.includes(doc.key.slice(doc.key.indexOf("/") + 1))) over.delete(order);
  }
  return new Set(docs.filter((doc) => over.has(of(doc) ?? "")).map(({ key }) => key));
}

function waiting(body: StoredDoc["body"]): string | undefined {
  const { order, answered_at } = body as { order?: string; answered_at?: number };
  return answered_at == null ? order : undefined;
}
