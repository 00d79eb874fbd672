// Where the shop jams: what an hour more of each department would save, each worked out by planning anew. Asked for, not shown
// by itself: it takes the server some seconds.
import { useSignal } from "@preact/signals";
import { request } from "../../api/client";
import type { components } from "../../api/schema";
import { t } from "../../state";
import { departmentName, tongue } from "../../text/names";
import { length } from "../../text/time";
import { named } from "../../text/sentences";
import { clockOf, type Typed } from "../../model/what-if";
import { why } from "../kit/what-if-answer";

type Answer = components["schemas"]["Jam"];
type Relief = components["schemas"]["JamRelief"];

export function JamFinder({ look }: { look: (typed: Partial<Typed>) => void }) {
  const found = useSignal<Answer | undefined>(undefined);
  const failed = useSignal<string | undefined>(undefined);
  const busy = useSignal(false);
  const find = async (): Promise<void> => {
    busy.value = true;
    failed.value = undefined;
    try {
      found.value = await request<Answer>("GET", "/api/v1/jam");
    } catch (error) {
      failed.value = why(error);
    } finally {
      busy.value = false;
    }
  };
  const answer = found.value;
  return (
    <section class="stack jam" aria-labelledby="jam-title">
      <h2 id="jam-title">{t("jam-title")}</h2>
      <p class="quiet">{t("jam-intro")}</p>
      <p class="no-print">
        <button class="button" disabled={busy.value} onClick={() => void find()}>
          {t("jam-find")}
        </button>
      </p>
      {busy.value && (
        <p class="quiet" role="status">
          {t("jam-busy")}
        </p>
      )}
      {failed.value && (
        <p class="notice-line bad" role="alert">
          {failed.value}
        </p>
      )}
      {answer && (
        <div class="stack" aria-live="polite">
          <p>
            <strong>{verdict(answer)}</strong>
          </p>
          {answer.reliefs.length > 0 && <Reliefs all={answer.reliefs} look={look} />}
          {answer.reliefs.length > 0 && <p class="quiet">{t("jam-is")}</p>}
        </div>
      )}
    </section>
  );
}

function Reliefs({ all, look }: { all: Relief[]; look: (typed: Partial<Typed>) => void }) {
  const helps = all.filter((one) => one.saved_minutes > 0);
  const rest = all.filter((one) => one.saved_minutes === 0);
  return (
    <>
      {helps.length > 0 && (
        <ul class="rows">
          {helps.map((one) => (
            <li key={one.extra === "hour" ? one.department : one.kind} class="apart">
              <div class="stack-small">
                <p>
                  {more(one)} <strong>{t("jam-saves", { saved: spell(one.saved_minutes) })}</strong>
                </p>
                <p class="quiet">
                  {one.extra === "hour" && t("jam-each", { each: spell(one.saved_minutes / one.people) })}{" "}
                  {t("jam-late", { late: one.then.late_vehicles })}
                </p>
              </div>
              {one.extra === "hour" && (
                <button
                  class="button small-button no-print"
                  onClick={() =>
                    look({
                      what: "extra_shift",
                      department: one.department,
                      day: one.day,
                      from: clockOf(one.from),
                      to: clockOf(one.to),
                    })
                  }
                >
                  {t("jam-look")}
                </button>
              )}
            </li>
          ))}
        </ul>
      )}
      {rest.length > 0 && (
        <p class="quiet">
          {t("jam-rest", {
            names: rest
              .map((one) => (one.extra === "hour" ? departmentName(one.department) : named("kind", one.kind)))
              .join(", "),
          })}
        </p>
      )}
    </>
  );
}

/** The answer in one sentence. */
function verdict({ now, reliefs }: Answer): string {
  if (now.late_vehicles === 0) return t("jam-none");
  const best = reliefs.reduce<Relief | undefined>(
    (best, one) => (one.saved_minutes > (best?.saved_minutes ?? 0) ? one : best),
    undefined,
  );
  if (!best) return t("jam-nowhere", { late: now.late_vehicles });
  return t("jam-verdict", {
    more: more(best),
    saved: spell(best.saved_minutes),
    all: spell(now.weighted_minutes),
    late: now.late_vehicles,
    then: best.then.late_vehicles,
  });
}

function more(one: Relief): string {
  if (one.extra === "piece") return t("jam-piece", { kind: named("kind", one.kind) });
  return t("jam-hour", {
    department: departmentName(one.department),
    day: weekday(one.day),
    from: clockOf(one.from),
    to: clockOf(one.to),
    count: one.people,
  });
}

const weekday = (day: string): string =>
  new Intl.DateTimeFormat(tongue.value, { weekday: "long", timeZone: "UTC" }).format(Date.parse(`${day}T12:00Z`));
const spell = (minutes: number): string => length(minutes * 60_000);
