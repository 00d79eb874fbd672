// The service worker and its updates: the old page stays until somebody taps.
import { signal } from "@preact/signals";

/** A newer build is there and waits. */
export const updateReady = signal<ServiceWorker | undefined>(undefined);

interface Policies {
  createPolicy(name: string, rules: { createScriptURL: (url: string) => string }): unknown;
}

export function registerWorker(): void {
  if (!("serviceWorker" in navigator) || import.meta.env.DEV) return;
  // Where the server demands trusted script addresses, this one is trusted and no other.
  const policies = (window as { trustedTypes?: Policies }).trustedTypes;
  policies?.createPolicy("default", {
    createScriptURL: (url) => {
      if (url === "/sw.js") return url;
      throw new TypeError("No script from this address.");
    },
  });
  navigator.serviceWorker.register("/sw.js").then(
    (made) => made && watch(made),
    () => undefined,
  );
  let reloading = false;
  let had = navigator.serviceWorker.controller !== null;
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    // The first worker of a page that had none brings nothing new; whichever comes after it does.
    if (!had) return void (had = true);
    // None any more: storage was cleared. What is on the screen may be all there is without a network.
    if (reloading || !navigator.serviceWorker.controller) return;
    reloading = true;
    location.reload();
  });
}

function watch(registration: ServiceWorkerRegistration): void {
  const waits = (worker: ServiceWorker | null): void => {
    if (worker && navigator.serviceWorker.controller) updateReady.value = worker;
  };
  waits(registration.waiting);
  registration.addEventListener("updatefound", () => {
    const worker = registration.installing;
    worker?.addEventListener("statechange", () => {
      if (worker.state === "installed") waits(worker);
    });
  });
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") void registration.update().catch(() => undefined);
  });
}

export const takeUpdate = (): void => updateReady.value?.postMessage("take over");
