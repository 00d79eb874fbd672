// Who may do more than whom. Must not know: what.
import { ROLES } from "../api/core-limits";
import type { Exception, Role } from "../api/types";

export { ROLES };

export const isAtLeast = (role: Role | undefined, least: Role): boolean =>
  role !== undefined && ROLES.indexOf(role) >= ROLES.indexOf(least);

/** An exception is answered by its owner, or by who plans. */
export const mayAnswer = (one: Exception, who: { person: string; role: Role } | undefined): boolean =>
  who !== undefined && (one.owner === who.person || isAtLeast(who.role, "planner"));
