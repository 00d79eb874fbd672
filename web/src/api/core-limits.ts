// Made from the server's document by `npm run api`; the reasons stand in server/domain/src/decide/limits.rs.
export const ROLES = ["technician", "parts", "planner", "manager", "admin"] as const;
export const TITLE_CHARS_MAX = 200;
