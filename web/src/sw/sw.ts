// Keeps the shell of each build, so that the app opens without a network, and shows pushed notices.
// Invariants: no business state; nothing of the server's interface is kept; a newer build takes over
// only when a person said so; the build before stays for pages that still run it.
/// <reference lib="webworker" />
declare const self: ServiceWorkerGlobalScope & { __WB_MANIFEST: { url: string; revision: string | null }[] };

// The build may name a file twice; a cache refuses that.
const files = [...new Map(self.__WB_MANIFEST.map((file) => [file.url, file])).values()];
const PREFIX = "shell-";
const KEPT = 2;

/** The same files make the same name. */
const name =
  PREFIX +
  files
    .map(({ url, revision }) => `${url}${revision ?? ""}`)
    .join("|")
    .split("")
    .reduce((hash, letter) => Math.imul(hash ^ letter.charCodeAt(0), 0x01000193) >>> 0, 0x811c9dc5)
    .toString(16);

self.addEventListener("install", (event) => {
  const urls = files.map(({ url }) => new Request(`/${url}`, { cache: "reload" }));
  event.waitUntil(caches.open(name).then((cache) => cache.addAll(urls)));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches.keys().then(async (names) => {
      const shells = names.filter((one) => one.startsWith(PREFIX) && one !== name);
      const old = shells.slice(0, Math.max(0, shells.length - (KEPT - 1)));
      await Promise.all(old.map((one) => caches.delete(one)));
      await self.clients.claim();
    }),
  );
});

self.addEventListener("message", (event) => {
  if (event.data === "take over") void self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (url.pathname.startsWith("/api/") || url.pathname === "/healthz" || url.pathname === "/readyz") return;
  const wanted = request.mode === "navigate" ? "/index.html" : url.pathname;
  event.respondWith(kept(wanted).then((found) => found ?? fetch(request)));
});

async function kept(path: string): Promise<Response | undefined> {
  const own = await (await caches.open(name)).match(path);
  return own ?? caches.match(path);
}

interface Pushed {
  title?: string;
  body?: string;
  tag?: string;
  url?: string;
  notification?: { title?: string; body?: string; tag?: string; navigate?: string };
}

self.addEventListener("push", (event) => {
  let said: Pushed = {};
  try {
    said = (event.data?.json() ?? {}) as Pushed;
  } catch {
    // Something was said; what it was the app shows.
  }
  const { title = "Turnbuckle", body = "", tag = "", url } = { ...said, ...said.notification };
  const to = said.notification?.navigate ?? url ?? "/notices";
  event.waitUntil(self.registration.showNotification(title, { body, tag, data: { to } }));
});

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const to = (event.notification.data as { to?: string } | null)?.to ?? "/notices";
  event.waitUntil(
    self.clients.matchAll({ type: "window" }).then(async (open) => {
      const [first] = open;
      if (!first) return self.clients.openWindow(to);
      await first.focus();
      return first.navigate(to).catch(() => null);
    }),
  );
});

export {};
