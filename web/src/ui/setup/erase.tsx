// Erasing a person: what goes and what stays stands there before anybody can do it.
import { useSignal } from "@preact/signals";
import type { Person } from "../../api/types";
import { t } from "../../state";
import { departmentName } from "../../text/names";
import { at } from "../../text/sentences";
import { Outcome, useSaving } from "../kit/fields";

const GOES = [
  "setup-erase-goes-name",
  "setup-erase-goes-texts",
  "setup-erase-goes-photos",
  "setup-erase-goes-phones",
] as const;
const STAYS = [
  "setup-erase-stays-work",
  "setup-erase-stays-things",
  "setup-erase-stays-backups",
  "setup-erase-stays-sisters",
] as const;

export function Erase({ person }: { person: Person }) {
  const asked = useSignal(false);
  const saving = useSaving();
  const { name } = person;
  return (
    <section class="stack retire">
      <h2>{t("setup-erase")}</h2>
      {!asked.value ? (
        <>
          <p class="quiet">{t("setup-erase-intro")}</p>
          <div class="buttons">
            <button class="button small-button" onClick={() => (asked.value = true)}>
              {t("setup-erase-look", { name })}
            </button>
          </div>
        </>
      ) : (
        <>
          <List title={t("setup-erase-goes")} keys={GOES} name={name} />
          <List title={t("setup-erase-stays")} keys={STAYS} name={name} />
          <p>
            <b>{t("setup-erase-sure", { name })}</b>
          </p>
          {saving.failed.value && (
            <p class="notice-line bad" role="alert">
              {saving.failed.value}
            </p>
          )}
          {saving.op.value && <Outcome op={saving.op.value} />}
          <div class="buttons">
            <button class="button bad" onClick={() => void saving.save("erase_person", { person: person.id })}>
              {t("setup-erase-do", { name })}
            </button>
            <button class="button plain" onClick={() => (asked.value = false)}>
              {t("setup-rather-not")}
            </button>
          </div>
        </>
      )}
    </section>
  );
}

function List({
  title,
  keys,
  name,
}: {
  title: string;
  keys: readonly ((typeof GOES)[number] | (typeof STAYS)[number])[];
  name: string;
}) {
  return (
    <>
      <h3>{title}</h3>
      <ul>
        {keys.map((key) => (
          <li key={key}>{t(key, { name })}</li>
        ))}
      </ul>
    </>
  );
}

/** Nothing of it can be changed any more. */
export function Erased({ person }: { person: Person }) {
  return (
    <section class="stack">
      <h2>{t("setup-erased-line")}</h2>
      <p>{t("setup-erased", { at: at(person.erased_at ?? 0), department: departmentName(person.department) })}</p>
    </section>
  );
}
