// Which pictures of this phone stay on it although the server has them: for some days, as long as there is
// room, for a server that is set back to a backup has lost those of the day.
// Must not know: the database, how pictures are sent.
import type { PhotoRow } from "../db/open";

const KEPT_DAYS = 3;

export interface Sorted {
  /** Off this phone: at the server for days, or there is no room. */
  forget: string[];
  /** At the server, and kept. */
  arrived: string[];
  /** The server had it and does not say so any more: it is sent again. */
  again: string[];
}

/** `here`: whether the server says it has the picture; undefined, where it says nothing about it. */
export function sort(
  rows: readonly PhotoRow[],
  here: (sha256: string) => boolean | undefined,
  now: number,
  full: boolean,
): Sorted {
  const sorted: Sorted = { forget: [], arrived: [], again: [] };
  for (const { sha256, sent, taken_at } of rows) {
    const is = here(sha256);
    const old = taken_at < now - KEPT_DAYS * 86_400_000;
    // Sent long ago, and nothing speaks of it: what named it was refused.
    if (is ? full || old : sent && old && is === undefined) sorted.forget.push(sha256);
    else if (is && !sent) sorted.arrived.push(sha256);
    else if (!is && sent) sorted.again.push(sha256);
  }
  return sorted;
}
