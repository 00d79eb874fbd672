// What the buttons do: one act each, kept on the phone before anything else is said.
import type { Acts, Card, Kind, PauseWhy } from "../../api/types";
import { act, reach, t, words } from "../../state";
import type { ActOptions } from "../../state";
import { closeSheet, say } from "./sheet";

/** Keeps the act; a phone that can keep nothing says so, for nothing may be lost silently. */
export async function perform<K extends Kind>(kind: K, args: Acts[K], text: string, undoCard?: string, opts?: ActOptions): Promise<string | undefined> {
  try {
    const id = await act(kind, args, opts);
    closeSheet();
    say(text, undoCard ? () => void act("undo", { op: id, card: undoCard }) : undefined);
    return id;
  } catch {
    say(t("not-kept"));
    return undefined;
  }
}

// Nothing is expected of the card: whoever was first, the answer says who and when.
export const take = (card: Card) =>
  perform("take", { card: card.id }, t(reach.value.live ? "did-take" : "did-take-unreached", { card: words(card.title) }), card.id);
export const start = (card: Card) => perform("start", { card: card.id }, t("did-start", { card: words(card.title) }), card.id);
export const pause = (card: Card, why: PauseWhy) =>
  perform("pause", { card: card.id, why }, t("did-pause", { card: words(card.title) }), card.id);
export const finish = (card: Card, checks: number[], wet_minutes?: number) =>
  perform("finish", { card: card.id, checks, ...(wet_minutes ? { wet_minutes } : {}) }, t("did-finish", { card: words(card.title) }), card.id);
export const giveBack = (card: Card) => perform("give_back", { card: card.id }, t("did-give-back", { card: words(card.title) }));
export const help = (card: Card) => perform("help", { card: card.id }, t("did-help", { card: words(card.title) }));
