// Calls its person while the app is open: two rising tones and a pulse when the vehicle they wait for is up or back, and on the
// icon how many notices wait. Must not know: what a notice says.
import { effect, signal } from "@preact/signals";
import { called } from "../../model/call";
import { me, notices, noticesRead, now } from "../../state";
import { pref, setPref } from "./prefs";

export const WAYS = ["both", "sound", "vibration", "none"] as const;
type Way = (typeof WAYS)[number];

const isWay = (word: string | null): word is Way => WAYS.includes(word as Way);
const kept = pref("call");
export const way = signal<Way>(isWay(kept) ? kept : "both");

export function setWay(to: Way): void {
  way.value = to;
  setPref("call", to);
  if (to !== "none") call();
}

const PULSES_MS = [200, 100, 200, 100, 400];
const TONES_HZ = [660, 880];
const TONE_S = 0.25;
/** Of several tabs one calls: the one that has this for as long as the call lasts. */
const ONE_TAB_MS = 3_000;

let sound: AudioContext | undefined;

/** Browsers let nothing sound before somebody has touched the page. */
addEventListener("pointerdown", () => {
  sound ??= new AudioContext();
  void sound.resume();
});

function call(): void {
  if (way.peek() !== "sound") navigator.vibrate?.(PULSES_MS);
  if (way.peek() !== "vibration") ring();
}

function ring(): void {
  if (!sound) return;
  for (const [i, hertz] of TONES_HZ.entries()) {
    const [tone, loud] = [sound.createOscillator(), sound.createGain()];
    const from = sound.currentTime + i * TONE_S;
    tone.frequency.value = hertz;
    loud.gain.setValueAtTime(0.4, from);
    loud.gain.exponentialRampToValueAtTime(0.001, from + TONE_S);
    tone.connect(loud).connect(sound.destination);
    tone.start(from);
    tone.stop(from + TONE_S);
  }
}

export function watchCalls(): void {
  // What was there when the app opened, or when somebody else unlocked it, was told then.
  let [seen, whose] = [0, ""];
  effect(() => {
    const who = me.value?.person ?? "";
    const told = called(notices.value, seen, now.peek());
    seen = told.seen;
    if (who !== whose) whose = who;
    else if (told.calls.length && way.peek() !== "none") alone(`call/${seen}`, call);
  });
  effect(() => {
    const count = notices.value.filter((one) => one.id > noticesRead.value).length;
    void navigator.setAppBadge?.(count).catch(() => undefined);
  });
}

function alone(name: string, what: () => void): void {
  void navigator.locks.request(name, { ifAvailable: true }, async (lock) => {
    if (!lock) return;
    what();
    await new Promise((resolve) => setTimeout(resolve, ONE_TAB_MS));
  });
}
