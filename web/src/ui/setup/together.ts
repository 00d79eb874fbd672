// Rows of what happened to sign-ins, as one reads them.
import type { Happened } from "../../api/types";

/** The same from the same person and place within ten minutes is one row: a guesser does not push out what else happened. */
const TOGETHER_MS = 10 * 60_000;

export interface Row extends Happened {
  count: number;
  /** The first of them. */
  since: number;
}

export function together(happened: readonly Happened[]): Row[] {
  const rows: Row[] = [];
  const latest = new Map<string, Row>();
  for (const one of happened) {
    const key = JSON.stringify([one.what, one.person, one.session, one.about, one.address, one.detail]);
    const row = latest.get(key);
    if (row && row.since - one.at <= TOGETHER_MS) {
      row.count += 1;
      row.since = one.at;
    } else {
      const next = { ...one, count: 1, since: one.at };
      latest.set(key, next);
      rows.push(next);
    }
  }
  return rows;
}
