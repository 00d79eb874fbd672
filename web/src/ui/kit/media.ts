import { signal, type Signal } from "@preact/signals";

/** Whether a condition of the screen holds, kept up. */
export function media(condition: string): Signal<boolean> {
  const query = matchMedia(condition);
  const holds = signal(query.matches);
  query.addEventListener("change", () => (holds.value = query.matches));
  return holds;
}
