// How sure the plan is, as the server last worked it out. Asked when somebody looks and the server is there; without a network
// nothing is shown, for an old probability is worth less than none.
import { signal } from "@preact/signals";
import { Failure, request } from "./api/client";
import type { components } from "./api/schema";

export type Outlook = components["schemas"]["Outlook"];
export type Accuracy = components["schemas"]["Accuracy"];
export type VehicleOutlook = components["schemas"]["VehicleOutlook"];

/** What is known now: the dates, or why there are none (`unreached`: the server is not there). */
export const outlook = signal<{ found?: Outlook; failed?: string; unreached?: boolean }>({});

/** The server makes it anew at most once a minute. */
const FRESH_MS = 60_000;
let asked = 0;

export function freshen(now: number): void {
  if (now - asked < FRESH_MS) return;
  asked = now;
  request<Outlook>("GET", "/api/v1/forecast").then(
    (found) => (outlook.value = { found }),
    (error: unknown) => {
      // Whoever looks asks again with the next turn of the clock.
      asked = 0;
      outlook.value =
        error instanceof Failure && error.status === 0
          ? { unreached: true }
          : { failed: String((error as Error).message) };
    },
  );
}

/** How forecasts of the shop's past came true. */
export const accuracy = signal<{ found?: Accuracy; failed?: boolean }>({});

/** The server makes it anew once a day, and that takes it seconds. */
const DAY_MS = 24 * 60 * 60_000;
const AGAIN_MS = 60_000;
let lookNext = 0;

export function lookBack(now: number): void {
  if (now < lookNext) return;
  lookNext = now + DAY_MS;
  request<Accuracy>("GET", "/api/v1/forecast/accuracy").then(
    (found) => (accuracy.value = { found }),
    () => {
      lookNext = now + AGAIN_MS;
      accuracy.value = { ...accuracy.value, failed: !accuracy.value.found };
    },
  );
}
