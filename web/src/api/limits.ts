// Made from the server's document by `npm run api`; the reasons stand in server/domain/src/decide/limits.rs.
export const ABSENCES_MAX = 400;
export const BAKE_CELSIUS = [30, 100] as const;
export const BAKE_MINUTES = [1, 240] as const;
export const CARD_MINUTES_MAX = 12000;
export const LAG_MINUTES_MAX = 129600;
export const LOAD_KG_MAX = 100000;
export const NAME_CHARS_MAX = 80;
export const NOTE_CHARS_MAX = 4000;
export const NUMBER_CHARS_MAX = 40;
export const REACH_MS = 158112000000;
export const ROUTINGS_MAX = 20;
export const SOLD_MINUTES_MAX = 120000;
export const SPECIAL_DAYS_MAX = 2000;
export const STEPS_MAX = 100;
export const VIN_CHARS_MAX = 40;
export const WEIGHTS = [1, 2, 4] as const;
export * from "./core-limits";
