// How one person wants to see the app on this browser. Kept beside the database because it must be
// known before the first paint.
import { signal } from "@preact/signals";
import type { Language } from "../../text/words";

export type Theme = "auto" | "light" | "dark" | "sun";
export const THEMES: Theme[] = ["auto", "light", "dark", "sun"];

function read(key: string): string | null {
  try {
    return localStorage.getItem(key);
  } catch {
    return null;
  }
}

function write(key: string, value: string): void {
  try {
    localStorage.setItem(key, value);
  } catch {
    // A browser that keeps nothing still shows it now.
  }
}

/** Something else that is chosen for this browser. */
export const pref = read;
export const setPref = write;

/** Something that was seen or put off on this browser, once. */
export const noted = (what: string): boolean => read(what) === "1";
export const note = (what: string): void => write(what, "1");

const isTheme = (word: string | null): word is Theme => THEMES.includes(word as Theme);

export const theme = signal<Theme>("auto");

export function applyTheme(to?: Theme): void {
  const kept = read("theme");
  theme.value = to ?? (isTheme(kept) ? kept : "auto");
  if (to) write("theme", to);
  if (theme.value === "auto") delete document.documentElement.dataset["theme"];
  else document.documentElement.dataset["theme"] = theme.value;
}

const languageOf = (word: string | null): Language | undefined =>
  word === null ? undefined : word.startsWith("es") ? "es" : "en";

/** Before anything is known of the person: what was chosen here, else what was spoken here last. */
export const wantedLanguage = (): Language =>
  languageOf(read("language") ?? read("spoken") ?? navigator.language) ?? "en";

/** What somebody chose on this browser: for themselves on a shared one, else for all. */
export const keptLanguage = (person?: string): Language | undefined =>
  languageOf((person ? read(`language/${person}`) : null) ?? read("language"));
export const keepLanguage = (to: Language, person?: string): void =>
  write(person ? `language/${person}` : "language", to);
/** The next start begins in it. */
export const keepSpoken = (is: Language): void => write("spoken", is);

/** A browser that several people share from now on: what was chosen for it was one person's choice. */
export function languageBecomes(person: string): void {
  const chosen = languageOf(read("language"));
  if (!chosen) return;
  keepLanguage(chosen, person);
  try {
    localStorage.removeItem("language");
  } catch {
    // Then it stays everybody's.
  }
}
