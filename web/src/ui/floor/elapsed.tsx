// How far running work has come.
import type { Card } from "../../api/types";
import { now } from "../../state";

const MINUTE_MS = 60_000;

/** Work that runs fills its length; beyond the mark it takes longer than planned. */
export function Elapsed({ card }: { card: Card }) {
  const worked = card.spans.reduce((sum, one) => sum + Math.max(0, (one.to ?? now.value) - one.from), 0) / MINUTE_MS;
  const planned = Math.max(1, card.planned_minutes);
  const whole = Math.max(planned, worked) * (worked > planned ? 1.05 : 1);
  const at = (count: number): number => (count / whole) * 100;
  return (
    <svg class="marks" viewBox="0 0 100 12" preserveAspectRatio="none" aria-hidden="true">
      <line x1="0" y1="6" x2={at(planned)} y2="6" class="gap" />
      {worked > 0 && <line x1="0" y1="6" x2={at(worked)} y2="6" class="thick" />}
      <path d={`M${at(planned)} 0V12`} class="gap" />
    </svg>
  );
}
