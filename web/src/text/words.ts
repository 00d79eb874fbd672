// Words on the screen: Fluent messages by language, loaded by area so that a phone reads only what it
// shows. Must not know: documents other than `Words`.
import { FluentBundle, FluentResource, type FluentVariable } from "@fluent/bundle";
import { computed, signal } from "@preact/signals";
import type { Words } from "../api/types";

export type Language = "en" | "es";
export type Area =
  | "app"
  | "sheet"
  | "draw"
  | "shop"
  | "setup"
  | "tray"
  | "tablet"
  | "mark"
  | "what-if"
  | "outlook"
  | "day"
  | "over"
  | "enter"
  | "security"
  | "passkey";

const sources = import.meta.glob<string>("../../locales/*/*.ftl", { query: "?raw", import: "default" });

const loaded = new Set<Area>();
const bundles = signal<{ language: Language; bundle: FluentBundle }>({
  language: "en",
  bundle: new FluentBundle("en"),
});

export const language = computed<Language>(() => bundles.value.language);

async function bundleFor(to: Language, areas: Iterable<Area>): Promise<FluentBundle> {
  // Isolation marks are for mixed directions, which the two languages do not have.
  const bundle = new FluentBundle(to, { useIsolating: false });
  for (const area of areas) {
    const source = sources[`../../locales/${to}/${area}.ftl`];
    if (source) bundle.addResource(new FluentResource(await source()));
  }
  return bundle;
}

let wanted: Language = "en";
let turns = 0;
let latest: Promise<void> = Promise.resolve();

/** Whatever is fetched in between, what was wanted last is what is shown; whoever waits, waits for that. */
function bring(): Promise<void> {
  const turn = ++turns;
  const to = wanted;
  latest = bundleFor(to, [...loaded]).then((bundle) => {
    if (turn !== turns) return latest;
    bundles.value = { language: to, bundle };
    document.documentElement.lang = to;
    return undefined;
  });
  return latest;
}

/** Makes the messages of an area available. Called before the area's screens are shown. */
export function loadWords(area: Area): Promise<void> {
  if (loaded.has(area)) return latest;
  loaded.add(area);
  return bring();
}

export function setLanguage(to: Language): Promise<void> {
  loaded.add("app");
  wanted = to;
  return bring();
}

/** The message `id` in the person's language. A missing one shows its name: a test finds it. */
export function t(id: string, args?: Record<string, FluentVariable>): string {
  const { bundle } = bundles.value;
  const message = bundle.getMessage(id);
  if (!message?.value) return id;
  return bundle.formatPattern(message.value, args ?? null, []);
}

export const has = (id: string): boolean => bundles.value.bundle.hasMessage(id);

/** A phrase of the shop's own library. */
export function words(phrase: Words | null | undefined): string {
  if (!phrase) return "";
  return (language.value === "es" && phrase.es) || phrase.text;
}
