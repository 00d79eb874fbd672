// How one person wants to see the app on this browser. Kept beside the database because it must be
// known before the first paint.
import { signal } from "@preact/signals";
import type { Language } from "./words";

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

const isTheme = (word: string | null): word is Theme => THEMES.includes(word as Theme);

export const theme = signal<Theme>("auto");

export function applyTheme(to?: Theme): void {
  const kept = read("theme");
  theme.value = to ?? (isTheme(kept) ? kept : "auto");
  if (to) write("theme", to);
  if (theme.value === "auto") delete document.documentElement.dataset["theme"];
  else document.documentElement.dataset["theme"] = theme.value;
}

export function wantedLanguage(): Language {
  const word = read("language") ?? navigator.language;
  return word.startsWith("es") ? "es" : "en";
}

export const keptLanguage = (): string | null => read("language");
export const keepLanguage = (to: Language): void => write("language", to);
