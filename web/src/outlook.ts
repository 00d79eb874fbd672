// How sure the plan is, as the server last worked it out. Asked when somebody looks and the server is there; without a network
// nothing is shown, for an old probability is worth less than none.
import { signal } from "@preact/signals";
import { request } from "./api/client";
import type { components } from "./api/schema";

export type Outlook = components["schemas"]["Outlook"];
export type VehicleOutlook = components["schemas"]["VehicleOutlook"];

export const outlook = signal<Outlook | undefined>(undefined);

/** The server makes it anew at most once a minute. */
const FRESH_MS = 60_000;
let asked = 0;

export function freshen(now: number): void {
  if (now - asked < FRESH_MS) return;
  asked = now;
  request<Outlook>("GET", "/api/v1/forecast").then(
    (found) => (outlook.value = found),
    () => {
      outlook.value = undefined;
      asked = 0;
    },
  );
}

export const outlookOf = (order: string): VehicleOutlook | undefined => outlook.value?.vehicles.find((one) => one.order === order);
