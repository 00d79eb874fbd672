export * from "./open";
export { Store } from "./store";
import { Store } from "./store";

/** This page's database. */
export const db = new Store();
