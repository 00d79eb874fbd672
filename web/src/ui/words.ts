// Words on the screen: Fluent messages by language, loaded by area so that a phone reads only what it
// shows. Must not know: documents other than `Words`.
import { FluentBundle, FluentResource, type FluentVariable } from "@fluent/bundle";
import { computed, signal } from "@preact/signals";
import type { Words } from "../api/types";

export type Language = "en" | "es";
export type Area = "app" | "draw" | "shop" | "setup";

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

/** Makes the messages of an area available. Called before the area's screens are shown. */
export async function loadWords(area: Area): Promise<void> {
  if (loaded.has(area)) return;
  loaded.add(area);
  const to = language.value;
  bundles.value = { language: to, bundle: await bundleFor(to, loaded) };
}

export async function setLanguage(to: Language): Promise<void> {
  loaded.add("app");
  const bundle = await bundleFor(to, loaded);
  bundles.value = { language: to, bundle };
  document.documentElement.lang = to;
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
