// What the buttons do: one act each, kept on the phone before anything else is said.
import { effect } from "@preact/signals";
import type { Acts, Card, Kind, PauseWhy } from "../../api/types";
import { act, reach, t, told, unsent, words } from "../../state";
import type { ActOptions } from "../../state";
import { closeSheet, say } from "./sheet";

/** What was pressed and could not be kept is said: nothing may be lost silently. */
export const orSay = (work: Promise<unknown>): void => void work.catch(() => say(t("not-kept")));

/** Keeps the act; a phone that can keep nothing says so, for nothing may be lost silently. */
export async function perform<K extends Kind>(
  kind: K,
  args: Acts[K],
  text: string,
  undoCard?: string,
  opts?: ActOptions & { later?: (id: string) => string | undefined },
): Promise<string | undefined> {
  try {
    const id = await act(kind, args, opts);
    closeSheet();
    const instead = say(text, undoCard ? () => orSay(act("undo", { op: id, card: undoCard })) : undefined);
    if (opts?.later) whenAnswered(id, opts.later, instead);
    return id;
  } catch {
    say(t("not-kept"));
    return undefined;
  }
}

/** Once the server has answered, what was said is said as it is now. */
function whenAnswered(id: string, later: (id: string) => string | undefined, instead: (text: string) => void): void {
  const end = effect(() => {
    if (unsent.value.some(({ op }) => op.id === id)) return;
    const text = later(id);
    if (text) instead(text);
    queueMicrotask(() => end());
  });
}

/** Nothing is expected of the card: whoever was first, the answer says who and when. Until then it is asked for. */
export function take(card: Card): Promise<string | undefined> {
  const name = { card: words(card.title) };
  const later = (id: string): string | undefined =>
    told.peek().some((row) => row.id === id) ? undefined : t("did-take", name);
  return perform("take", { card: card.id }, t(reach.value.live ? "did-ask-for" : "did-take-unreached", name), card.id, {
    later,
  });
}
/** `on`: the equipment, where it is not certain from where the vehicle stands. */
export const start = (card: Card, on?: string) =>
  perform("start", { card: card.id, ...(on ? { on } : {}) }, t("did-start", { card: words(card.title) }), card.id);
export const pause = (card: Card, why: PauseWhy) =>
  perform("pause", { card: card.id, why }, t("did-pause", { card: words(card.title) }), card.id);
export const finish = (card: Card, checks: number[], wet_minutes?: number) =>
  perform(
    "finish",
    { card: card.id, checks, ...(wet_minutes ? { wet_minutes } : {}) },
    t("did-finish", { card: words(card.title) }),
    card.id,
  );
export const giveBack = (card: Card) =>
  perform("give_back", { card: card.id }, t("did-give-back", { card: words(card.title) }));
export const help = (card: Card) => perform("help", { card: card.id }, t("did-help", { card: words(card.title) }));
