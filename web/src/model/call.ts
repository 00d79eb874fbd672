// Which of the notices that came call their person aloud: what somebody waits for has come. Pure.
import type { NoticeKind } from "../api/types";

export const CALLS: readonly NoticeKind[] = ["open", "handed_back"];

/** What is older was news before this phone heard of it: a first copy brings days of it. */
const NEWS_MS = 10 * 60_000;

export interface Told {
  id: number;
  at: number;
  kind: NoticeKind;
}

/** Of those after `seen`; and up to where one has seen then. `now` in the shop's time. */
export function called(notices: readonly Told[], seen: number, now: number): { calls: Told[]; seen: number } {
  const fresh = notices.filter((one) => one.id > seen);
  return {
    calls: fresh.filter((one) => CALLS.includes(one.kind) && now - one.at < NEWS_MS),
    seen: Math.max(seen, ...fresh.map((one) => one.id)),
  };
}
