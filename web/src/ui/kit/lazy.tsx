// Parts of the app that a phone on the floor rarely opens come when they are opened.
import type { ComponentType } from "preact";
import { signal } from "@preact/signals";
import { t } from "../../state";

export interface ScreenProps {
  params: Record<string, string>;
}

export function lazy(load: () => Promise<ComponentType<ScreenProps>>): ComponentType<ScreenProps> {
  const part = signal<ComponentType<ScreenProps> | "failed" | undefined>(undefined);
  let asked = false;
  const ask = (): void => {
    asked = true;
    load().then(
      (found) => {
        part.value = found;
      },
      () => {
        part.value = "failed";
        asked = false;
      },
    );
  };
  return function Lazy(props) {
    if (!asked && part.value === undefined) ask();
    const Part = part.value;
    if (Part === "failed") {
      return (
        <section class="page">
          <p>{t("part-not-here")}</p>
          <button class="button" onClick={() => ((part.value = undefined), ask())}>
            {t("try-again")}
          </button>
        </section>
      );
    }
    return Part ? (
      <Part {...props} />
    ) : (
      <p class="page quiet" role="status">
        {t("loading")}
      </p>
    );
  };
}
