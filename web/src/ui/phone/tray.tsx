// What waits to be sent, and what the shop did not accept: nothing typed is lost.
import type { Op } from "../../api/types";
import type { TrayRow } from "../../db/open";
import { db } from "../../db";
import { act, cards, offset, people, reach, t, tray, unsent } from "../../state";
import { wakeSync } from "../../sync";
import { has } from "../words";
import { help } from "./do";
import { at, number, person, title } from "./say";
import { say } from "./sheet";

export function Tray() {
  const waiting = unsent.value;
  const refused = [...tray.value].sort((a, b) => b.since - a.since);
  return (
    <section class="page">
      <h1>{t("tray")}</h1>
      <section class="stack">
        <h2>{t("waiting-to-send")}</h2>
        {waiting.length ? (
          <>
            <p>{t(reach.value.why === "sign_in" ? "sign-in-to-send" : reach.value.live ? "sending" : "sent-when-reached", { count: waiting.length })}</p>
            <ul class="rows">
              {waiting.map((row) => (
                <li key={row.op.id}>
                  <strong>{what(row.op)}</strong>
                  <p class="quiet">
                    {at(row.op.device_at + offset.value)} {people.value.get(row.person)?.name}
                  </p>
                </li>
              ))}
            </ul>
            <button class="button" onClick={wakeSync}>
              {t("send-now")}
            </button>
          </>
        ) : (
          <p class="quiet">{t("all-sent")}</p>
        )}
      </section>
      <section class="stack">
        <h2>{t("not-accepted")}</h2>
        {refused.length ? (
          <ul class="rows">
            {refused.map((row) => (
              <Refused key={row.id} row={row} />
            ))}
          </ul>
        ) : (
          <p class="quiet">{t("nothing-refused")}</p>
        )}
      </section>
    </section>
  );
}

function Refused({ row }: { row: TrayRow }) {
  const card = "card" in row.op.args && row.op.args.card ? cards.value.get(row.op.args.card) : undefined;
  const text = typed(row.op);
  const forget = async (): Promise<void> => {
    await db.removeFromTray(row.id);
    tray.value = tray.value.filter((other) => other.id !== row.id);
  };
  const ask = async (): Promise<void> => {
    if (!card) return;
    await act("note", { order: card.order, card: card.id, body: t("tell-planner-note", { what: what(row.op) }) });
    await forget();
    say(t("did-tell-planner"));
  };
  return (
    <li class="stack">
      <div>
        <strong>{what(row.op)}</strong>
        <p>{why(row)}</p>
        {text && <p class="typed">{text}</p>}
        <p class="quiet small">{at(row.since + offset.value)}</p>
      </div>
      <div class="buttons">
        {row.code === "taken" && card && (
          <button class="button" onClick={() => void help(card).then(forget)}>
            {t("help-instead")}
          </button>
        )}
        {card && (
          <button class="button" onClick={() => void ask()}>
            {t("tell-planner")}
          </button>
        )}
        {text && (
          <button class="button" onClick={() => void navigator.clipboard.writeText(text).then(() => say(t("copied")))}>
            {t("copy")}
          </button>
        )}
        <button class="button" onClick={() => void forget()}>
          {t("put-away")}
        </button>
      </div>
    </li>
  );
}

/** Why it was not accepted, in the person's language where we know the reason. */
function why(row: TrayRow): string {
  const args = { person: row.by ? person(row.by) : t("somebody"), at: row.at ? at(row.at) : "" };
  return has(`refused-${row.code}`) ? t(`refused-${row.code}`, args) : (row.message ?? t("refused-other"));
}

/** What the person did, as words. */
function what(op: Op): string {
  const args = op.args as { card?: string | null; order?: string | null; number?: string; routing?: string };
  const about = args.card ? title(args.card) : "";
  const of = args.number ?? (args.order ? number(args.order) : args.card ? number(cards.value.get(args.card)?.order) : "");
  const said = has(`act-${op.kind}`) ? t(`act-${op.kind}`) : t("act-other");
  return [of, said, about].filter(Boolean).join(" · ");
}

const typed = (op: Op): string => {
  const args = op.args as { body?: string; note?: string | null; reason?: string | null };
  return args.body ?? args.note ?? args.reason ?? "";
};
