// Who may do more than whom. Must not know: what.
import type { Exception, Role } from "../api/types";

/** From the one who may do least. */
export const ROLES: readonly Role[] = ["technician", "parts", "planner", "manager", "admin"];

export const isAtLeast = (role: Role | undefined, least: Role): boolean => role !== undefined && ROLES.indexOf(role) >= ROLES.indexOf(least);

/** An exception is answered by its owner, or by who plans. */
export const mayAnswer = (one: Exception, who: { person: string; role: Role } | undefined): boolean =>
  who !== undefined && (one.owner === who.person || isAtLeast(who.role, "planner"));
