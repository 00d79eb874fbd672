// One part of the shop's page or of the wall: a ruled title with what is in it below.
import type { Signal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { t } from "../../state";

interface PartProps {
  title: string;
  name: string;
  /** How many there are, for where not all are seen at once. */
  count?: number;
  /** Beside the title. */
  beside?: ComponentChildren;
  children: ComponentChildren;
}

export function Part({ title, name, count = 0, beside, children }: PartProps) {
  return (
    <section class={`part part-${name}`} aria-labelledby={`part-${name}`}>
      <div class="part-head">
        <h2 id={`part-${name}`}>
          {title}
          {count > 0 && <span class="quiet">: {count}</span>}
        </h2>
        {beside}
      </div>
      {children}
    </section>
  );
}

/** The rest of a list, and back to its beginning; nothing where there is no rest. */
export function MoreButton({ rest, every }: { rest: number; every: Signal<boolean> }) {
  if (rest <= 0) return null;
  return (
    <button
      class="button plain more-button no-print"
      aria-expanded={every.value}
      onClick={() => (every.value = !every.value)}
    >
      {every.value ? t("shop-fewer") : t("shop-more", { count: rest })}
    </button>
  );
}
