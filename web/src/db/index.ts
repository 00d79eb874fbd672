export * from "./open";
export { CHUNK_BYTES, isFull, Store } from "./store";
import { Store } from "./store";

/** This page's database. */
export const db = new Store();
