// Sends kept photos to the server, resumable, in the background (tus 1.0.0).
// Must not know: documents; the operation that names a photo travels by itself.
import { Upload } from "tus-js-client";
import { refresh } from "../api/client";
import type { Store } from "../db";

const CHUNK = 512 * 1024;

export async function uploadAll(store: Store): Promise<void> {
  for (const { sha256, sent } of await store.photoRows()) {
    if (sent) continue;
    const photo = await store.photo(sha256);
    if (photo) await uploadOne(store, sha256, photo.data, photo.row.upload);
  }
}

async function uploadOne(store: Store, sha256: string, data: Blob, upload: string | undefined): Promise<void> {
  await new Promise<void>((resolve, reject) => {
    let refreshed = false;
    const task = new Upload(data, {
      endpoint: "/api/v1/photos",
      uploadUrl: upload ?? null,
      chunkSize: CHUNK,
      retryDelays: [0, 1_000, 4_000],
      metadata: { sha256, mime: data.type },
      headers: { "X-Turnbuckle-Protocol": "1" },
      storeFingerprintForResuming: false,
      onUploadUrlAvailable: () => {
        if (task.url) void store.markPhoto(sha256, { upload: task.url }).catch(() => undefined);
      },
      onShouldRetry: (error) => {
        const status = error.originalResponse?.getStatus() ?? 0;
        if (status === 401 && !refreshed) {
          refreshed = true;
          void refresh().catch(() => undefined);
          return true;
        }
        return status === 0 || status >= 500 || status === 409 || status === 423;
      },
      onError: reject,
      onSuccess: () => resolve(),
    });
    task.start();
  });
  await store.markPhoto(sha256, { sent: true });
}
