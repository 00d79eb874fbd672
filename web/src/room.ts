// How much room the browser gives, and whether it promised to keep what is here.
// Invariant: when it is nearly used up photos stop first; operations never do.
import { signal } from "@preact/signals";

/** From this share of the quota on no more photos are kept. */
export const ALMOST_FULL = 0.8;

export interface Room {
  used: number;
  quota: number;
}

export const room = signal<Room | undefined>(undefined);
export const almostFull = signal(false);
/** The browser promised not to clear by itself; undefined where it does not say. */
export const lasting = signal<boolean | undefined>(undefined);

const storage = (): Partial<StorageManager> => (globalThis.navigator?.storage as StorageManager | undefined) ?? {};

/** Looks anew; a browser that does not say has room until a write fails. */
export async function look(): Promise<boolean> {
  try {
    const { usage: used = 0, quota = 0 } = (await storage().estimate?.()) ?? {};
    room.value = quota > 0 ? { used, quota } : undefined;
    almostFull.value = quota > 0 && used >= quota * ALMOST_FULL;
    lasting.value = await storage().persisted?.();
  } catch {
    // Then nothing is known, and nothing is forbidden.
  }
  return almostFull.value;
}

/** Asks that what is not sent survives when the phone clears up. Asked at every sign-in; never relied on. */
export async function askToKeep(): Promise<void> {
  try {
    lasting.value = (await storage().persist?.()) ?? undefined;
  } catch {
    lasting.value = undefined;
  }
}

const EVERY_MS = 5 * 60_000;

export function watchRoom(): void {
  void look();
  setInterval(() => void look(), EVERY_MS);
}
