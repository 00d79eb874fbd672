// What others did to how this person comes in; the server alone knows.
import { request } from "../api/client";
import type { Tried } from "../api/types";
import { warned } from "../state";

export async function look(): Promise<Tried | undefined> {
  const tried = await request<Tried>("GET", "/api/v1/auth/tried").catch(() => undefined);
  if (tried) warned.value = (tried.count > 0 ? 1 : 0) + (tried.told?.length ?? 0);
  return tried;
}
