// Cautions at the card that needs them: a drawn warning sign of the general form (triangle, exclamation
// mark; ISO 7010 W001 is its model) with a sentence, and always whose procedure rules.
import type { Caution } from "../../api/types";
import { t } from "../../state";

export function Sign() {
  return (
    <svg class="sign" viewBox="0 0 40 36" width="40" height="36" aria-hidden="true">
      <path
        d="M20 2.5 37.8 33.5H2.2Z"
        fill="var(--caution)"
        stroke="var(--caution-ink)"
        stroke-width="3"
        stroke-linejoin="round"
      />
      <path d="M18.3 12h3.4l-.5 11.5h-2.4Z" fill="var(--caution-ink)" />
      <circle cx="20" cy="27.6" r="2.1" fill="var(--caution-ink)" />
    </svg>
  );
}

/** `folded`: the sign and one line until somebody opens it. */
export function Cautions({ of, folded = false }: { of: readonly Caution[]; folded?: boolean }) {
  if (!of[0]) return null;
  if (folded) {
    return (
      <details class="cautions-folded">
        <summary>
          <Sign />
          <span>{t(`caution-${of[0]}`)}</span>
        </summary>
        <Cautions of={of} />
      </details>
    );
  }
  return (
    <section class="cautions" aria-label={t("cautions")}>
      <Sign />
      <ul>
        {of.map((caution) => (
          <li key={caution}>{t(`caution-${caution}`)}</li>
        ))}
        <li class="quiet">{t("caution-always")}</li>
      </ul>
    </section>
  );
}
