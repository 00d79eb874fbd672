// Changed documents and plans, as they travel: only what is new, on what this phone has.
import type { Plan, PlanChange } from "../api/types";

/** An RFC 7396 merge patch. Returns a new value; what was there stays as it was. */
export function merge(onto: unknown, patch: unknown): unknown {
  if (!isObject(patch)) return patch;
  const merged = new Map(isObject(onto) ? Object.entries(onto) : []);
  for (const [name, value] of Object.entries(patch)) {
    if (value === null) merged.delete(name);
    else merged.set(name, merge(merged.get(name), value));
  }
  return Object.fromEntries(merged);
}

const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === "object" && value !== null && !Array.isArray(value);

/** The plan after a change; undefined when it is a change of another plan, which must be fetched whole. */
export function follow(plan: Plan | undefined, change: PlanChange): Plan | undefined {
  if (!plan || plan.rev !== change.base) return undefined;
  const { rev, at_seq, at_time, trouble } = change;
  return {
    rev,
    at_seq,
    at_time,
    rows: replaced(plan.rows, change.rows, change.gone, (row) => row.card),
    vehicles: replaced(plan.vehicles, change.vehicles, change.left, (vehicle) => vehicle.order),
    ...(trouble ? { trouble } : {}),
  };
}

/** Those kept in their order, changed ones in their places, new ones behind. */
function replaced<T>(
  before: readonly T[],
  changed: readonly T[],
  gone: readonly string[],
  key: (row: T) => string,
): T[] {
  const rows = new Map(before.map((row) => [key(row), row]));
  for (const one of gone) rows.delete(one);
  for (const row of changed) rows.set(key(row), row);
  return [...rows.values()];
}
