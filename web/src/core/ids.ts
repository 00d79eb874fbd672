// Names of new things. Nothing is ever ordered by an id.
// Must not know: where random bytes come from other than the platform, nor any storage.
import { v4, v5, v7 } from "uuid";

/** A new operation, and with it the first thing it makes. */
export const newId = (): string => v7();

/** A name that says nothing, not even when it was made. */
export const randomId = (): string => v4();

/** Part `step` of the thing that operation `op` made: the same on every phone and on the server. */
export const partOf = (op: string, step: string): string => v5(step, op);
