// Who may do more than whom. Must not know: what.
import type { Role } from "../api/types";

/** From the one who may do least. */
export const ROLES: readonly Role[] = ["technician", "parts", "planner", "manager", "admin"];

export const isAtLeast = (role: Role | undefined, least: Role): boolean => role !== undefined && ROLES.indexOf(role) >= ROLES.indexOf(least);
