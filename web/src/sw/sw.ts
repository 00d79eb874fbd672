/// <reference lib="webworker" />
declare const self: ServiceWorkerGlobalScope & { __WB_MANIFEST: { url: string; revision: string | null }[] };
const shell = self.__WB_MANIFEST;
self.addEventListener("install", () => void shell);
export {};
