// What a page has around it, for tests of code that belongs to one: no drawing, no network.
import { vi } from "vitest";

export function page(): void {
  const kept = new Map<string, string>();
  const storage = {
    getItem: (key: string) => kept.get(key) ?? null,
    setItem: (key: string, value: string) => void kept.set(key, value),
    removeItem: (key: string) => void kept.delete(key),
  };
  const address = { pathname: "/", search: "", hash: "", origin: "https://shop.example" };
  vi.stubGlobal("location", address);
  vi.stubGlobal("history", {
    length: 1,
    pushState: (_: unknown, __: string, to: string) => void (address.pathname = to),
    replaceState: (_: unknown, __: string, to: string) => void (address.pathname = to),
  });
  vi.stubGlobal("localStorage", storage);
  vi.stubGlobal("sessionStorage", storage);
  vi.stubGlobal("navigator", { userAgent: "Android Chrome", language: "en-US", onLine: true });
  vi.stubGlobal("addEventListener", () => undefined);
  vi.stubGlobal("scrollTo", () => undefined);
  vi.stubGlobal("document", {
    documentElement: { lang: "", dataset: {} },
    addEventListener: () => undefined,
    visibilityState: "visible",
  });
}
