// Addresses by the History API: plain links work, the server answers every path with the app.
// Must not know: what a screen shows.
import { signal } from "@preact/signals";

export const path = signal(location.pathname);

export function go(to: string, replace = false): void {
  if (to === location.pathname + location.search) return;
  if (replace) history.replaceState(null, "", to);
  else history.pushState(null, "", to);
  path.value = location.pathname;
  scrollTo(0, 0);
}

export function back(fallback = "/"): void {
  if (history.length > 1) history.back();
  else go(fallback, true);
}

/** Parameters if the address has the form of `pattern` ("/vehicle/:id", "/setup/*"). */
export function match(pattern: string, at: string): Record<string, string> | undefined {
  const want = pattern.split("/").filter(Boolean);
  const have = at.split("/").filter(Boolean);
  const found: Record<string, string> = {};
  for (const [i, part] of want.entries()) {
    if (part === "*") return { ...found, rest: have.slice(i).join("/") };
    const given = have[i];
    if (given === undefined) return undefined;
    if (part.startsWith(":")) found[part.slice(1)] = decodeURIComponent(given);
    else if (part !== given) return undefined;
  }
  return want.length === have.length ? found : undefined;
}

export function startRouter(): void {
  addEventListener("popstate", () => {
    path.value = location.pathname;
  });
  document.addEventListener("click", (event) => {
    if (event.defaultPrevented || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey) return;
    const link = (event.target as Element | null)?.closest?.("a[href]");
    if (!(link instanceof HTMLAnchorElement) || link.target || link.hasAttribute("download")) return;
    const to = new URL(link.href);
    if (to.origin !== location.origin || to.pathname.startsWith("/api/")) return;
    event.preventDefault();
    go(to.pathname + to.search);
  });
}
