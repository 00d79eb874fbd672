// What was told to this person, newest first.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import type { Ms, Notice, Tried as TriedNow } from "../../api/types";
import { readNotices, request } from "../../api/client";
import { rowOf } from "../../core/cards";
import { db } from "../../db";
import { look } from "../../sync/warned";
import { exceptions, handoffs, notices, noticesRead, plan, t, warned, words } from "../../state";
import { equipmentName } from "../../text/names";
import { inTray } from "./in-tray";
import { about, at, number, person, title } from "../../text/sentences";

const SHOWN_MAX = 60;

export default function Notices() {
  const list = notices.value
    .filter((one) => !inTray(one))
    .sort((a, b) => b.id - a.id)
    .slice(0, SHOWN_MAX);
  const newest = notices.value.reduce((latest, one) => Math.max(latest, one.id), 0);
  const read = noticesRead.value;
  useEffect(() => {
    if (newest <= read) return;
    // What was looked at is read; if the server is not reached it is told another time.
    const timer = setTimeout(() => {
      noticesRead.value = newest;
      void db.set("notices_read", newest).catch(() => undefined);
      void readNotices(newest).catch(() => undefined);
    }, 1_500);
    return () => clearTimeout(timer);
  }, [newest]);
  return (
    <section class="page">
      <h1>{t("notices")}</h1>
      <Tried />
      {!list.length && !warned.value && <p class="quiet">{t("no-notices")}</p>}
      <ul class="rows">
        {list.map((notice) => (
          <li key={notice.id}>
            <a class="row" href={notice.order ? `/vehicle/${notice.order}` : "/tray"}>
              {notice.id > read && <strong>{t("new")} </strong>}
              {sentence(notice)}
              <p class="quiet small">{at(notice.at)}</p>
            </a>
          </li>
        ))}
      </ul>
    </section>
  );
}

/** Somebody typed wrong passwords for this person; the server alone knows, so it is there with a network only. */
function Tried() {
  const tried = useSignal<TriedNow | undefined>(undefined);
  useEffect(() => {
    void look().then((answer) => (tried.value = answer));
  }, []);
  const changed = tried.value?.told ?? [];
  if (!tried.value || (!tried.value.count && !changed.length)) return null;
  const read = (): void => {
    request<undefined>("DELETE", "/api/v1/auth/tried").then(
      () => {
        tried.value = undefined;
        warned.value = 0;
      },
      () => undefined,
    );
  };
  return (
    <div class="notice-line bad stack" role="alert">
      {tried.value.count > 0 && <p>{t("tried-for-you", { count: tried.value.count, at: at(tried.value.at) })}</p>}
      {changed.map((one) => (
        <p key={`${one.what} ${one.at}`}>{t(`told-${one.what}`, { person: person(one.by), at: at(one.at) })}</p>
      ))}
      <button class="button" onClick={read}>
        {t("tried-read")}
      </button>
    </div>
  );
}

export function sentence(notice: Notice): string {
  const handoff = notice.handoff ? handoffs.value.get(notice.handoff) : undefined;
  const raised = notice.exception ? exceptions.value.get(notice.exception) : undefined;
  const expected = expectedAt(notice);
  const args = {
    number: number(notice.order),
    person: person(notice.by),
    card: title(notice.card),
    what: handoff ? words(handoff.title) : title(notice.card),
    equipment: notice.equipment ? equipmentName(notice.equipment) : "",
    exception: raised ? t(`exception-${raised.kind}`) : "",
    about: expected === undefined ? "" : about(expected),
  };
  const timed =
    expected !== undefined && (notice.kind === "taken" || notice.kind === "next" || notice.kind === "promise_unlikely");
  if (notice.kind === "refused" && notice.by) return t("notice-refused-by", args);
  if (notice.kind === "called_off" && !notice.card) return t("notice-called_off-ask", args);
  if (notice.kind === "equipment_out" && !notice.order) return t("notice-equipment_out-empty", args);
  return t(`notice-${notice.kind}${timed ? "-about" : ""}`, args);
}

/** When the plan now expects what the notice is about: times change after it was told. */
function expectedAt(notice: Notice): Ms | undefined {
  if (notice.kind === "promise_unlikely") {
    return plan.value?.vehicles.find((one) => one.order === notice.order)?.finish ?? undefined;
  }
  const row = notice.card ? rowOf(plan.value, notice.card) : undefined;
  return row && row.from > notice.at ? row.from : undefined;
}
