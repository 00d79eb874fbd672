// The drawings, fetched when the first one is shown, so that the first load stays small.
import { signal } from "@preact/signals";
import type { FunctionComponent } from "preact";
import { t } from "../../state";
import { loadWords } from "../../text/words";
import type { TripLineProps } from "./trip-line";

const part = signal<FunctionComponent<TripLineProps> | undefined>(undefined);
const failed = signal(false);
let asked = false;

function ask(): void {
  if (asked) return;
  asked = true;
  failed.value = false;
  Promise.all([import("./trip-line"), loadWords("draw")]).then(
    ([loaded]) => {
      part.value = loaded.TripLine;
    },
    () => {
      asked = false;
      failed.value = true;
    },
  );
}

/** One vehicle's trip on a line over time, with the same in words below. */
export function TripLine(props: TripLineProps) {
  const Part = part.value;
  if (Part) return <Part {...props} />;
  if (failed.value) {
    return (
      <p>
        {t("part-not-here")}{" "}
        <button class="button" onClick={ask}>
          {t("try-again")}
        </button>
      </p>
    );
  }
  ask();
  return (
    <p class="quiet" role="status">
      {t("loading")}
    </p>
  );
}
