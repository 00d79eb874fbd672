// Who came in, who was refused, who may more since when: for administrators, from the server alone.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { request } from "../../api/client";
import type { Happened } from "../../api/types";
import { people, t } from "../../state";
import { at } from "../../text/sentences";
import { has, loadWords } from "../../text/words";
import { atLeast } from "../kit/fields";
import { together, type Row } from "./together";

await loadWords("security");

/** As many come at once; fewer mean that there are no older ones. */
const PAGE = 200;

const name = (person: string | null | undefined): string =>
  person ? (people.value.get(person)?.name ?? t("security-unknown")) : "";

/** "401 wrong_password POST …" in words, where it is one that people meet. */
function why(one: Happened): string {
  const code = one.what.startsWith("denied") ? (one.detail?.split(" ")[1] ?? "") : "";
  return has(`security-why-${code}`) ? t(`security-why-${code}`) : "";
}

function line(one: Row): string {
  const word = one.detail ?? "";
  const way = has(`security-way-${word}`) ? t(`security-way-${word}`) : "";
  const role = one.what === "role_set" && has(`role-${word}`) ? t(`role-${word}`) : "";
  return [
    name(one.person),
    one.about && one.about !== one.person ? t("security-about", { person: name(one.about) }) : "",
    way,
    role,
    why(one),
    one.count > 1 ? t("security-times", { count: one.count, at: at(one.since) }) : "",
  ]
    .filter(Boolean)
    .join(", ");
}

export default function Security() {
  const rows = useSignal<Happened[] | undefined>(undefined);
  const trouble = useSignal(false);
  const older = useSignal(true);
  const may = atLeast("admin");

  const look = (before?: number): void => {
    trouble.value = false;
    request<{ happened: Happened[] }>("GET", `/api/v1/security${before === undefined ? "" : `?before=${before}`}`).then(
      ({ happened }) => {
        older.value = happened.length === PAGE;
        rows.value = before === undefined ? happened : [...(rows.value ?? []), ...happened];
      },
      () => (trouble.value = true),
    );
  };
  useEffect(() => {
    if (may) look();
  }, [may]);

  if (!may) return <p>{t("security-admin")}</p>;
  const last = rows.value?.at(-1);
  return (
    <div class="setup-form stack">
      <h2>{t("setup-security")}</h2>
      <p>{t("security-intro")}</p>
      {trouble.value && (
        <p class="notice-line bad" role="alert">
          {t("security-trouble")}
        </p>
      )}
      <p>
        <button class="button" onClick={() => look()}>
          {t("security-again")}
        </button>
      </p>
      {!rows.value && !trouble.value && <p class="quiet">{t("loading")}</p>}
      <ul class="rows">
        {rows.value &&
          together(rows.value).map((one) => (
            <li key={`${one.at} ${one.what} ${one.session ?? ""} ${one.detail ?? ""}`}>
              <b>{t(`security-${one.what}`)}</b> {line(one)}
              <br />
              <span class="quiet small">
                {at(one.at)}
                {one.address && `, ${t("security-from", { address: one.address })}`}
                {one.what.startsWith("denied") && (
                  <>
                    , <code>{one.detail}</code>
                  </>
                )}
              </span>
            </li>
          ))}
      </ul>
      {last && older.value && (
        <p>
          <button class="button" onClick={() => look(last.at)}>
            {t("security-older")}
          </button>
        </p>
      )}
    </div>
  );
}
