import { useSignal } from "@preact/signals";
import { useRef } from "preact/hooks";
import { auth } from "../../api/client";
import { TITLE_CHARS_MAX } from "../../api/limits";
import type { Shop } from "../../api/types";
import { shop, t } from "../../state";
import { useDraft } from "../kit/draft";
import type { Wrong } from "../../model/checks";
import { Choice, FormEnd, SelectField, showFirst, TextField, useSaving } from "../kit/fields";
import { OneTimeLink } from "./one-time-link";
import { calendarOptions } from "../kit/options";

const zones = (): string[] => (typeof Intl.supportedValuesOf === "function" ? Intl.supportedValuesOf("timeZone") : []);

function check(value: Shop): Wrong {
  const wrong: Wrong = {};
  if (!value.name.trim()) wrong["name"] = { key: "setup-wrong-empty" };
  try {
    new Intl.DateTimeFormat("en", { timeZone: value.time_zone });
  } catch {
    wrong["time_zone"] = { key: "setup-wrong-zone" };
  }
  if (!value.time_zone) wrong["time_zone"] = { key: "setup-wrong-zone" };
  if (!value.calendar) wrong["calendar"] = { key: "setup-wrong-choose" };
  return wrong;
}

export function ShopSettings() {
  const initial: Shop = shop.value ?? {
    name: "",
    time_zone: Intl.DateTimeFormat().resolvedOptions().timeZone,
    calendar: "",
    language: "en",
  };
  const draft = useDraft("shop", initial);
  const saving = useSaving();
  const tried = useSignal(false);
  const form = useRef<HTMLFormElement>(null);
  const value = draft.value.value;
  const wrong = check(value);
  const shown = tried.value ? wrong : {};
  const submit = async (event: Event): Promise<void> => {
    event.preventDefault();
    tried.value = true;
    if (Object.keys(wrong).length) {
      if (form.current) showFirst(form.current, wrong);
      return;
    }
    if (await saving.save("set_shop", { shop: { ...value, name: value.name.trim() } }))
      await draft.done({ ...value, name: value.name.trim() });
  };
  return (
    <>
      <form class="stack setup-form alone" noValidate ref={form} onSubmit={(event) => void submit(event)}>
        <h2>{t("setup-shop")}</h2>
        <TextField
          label={t("setup-shop-name")}
          name="name"
          wrong={shown}
          required
          max={TITLE_CHARS_MAX}
          value={value.name}
          set={(name) => draft.set({ name })}
        />
        <TextField
          label={t("setup-zone")}
          hint={t("setup-zone-hint")}
          name="time_zone"
          wrong={shown}
          list={zones()}
          value={value.time_zone}
          set={(time_zone) => draft.set({ time_zone })}
        />
        <SelectField
          label={t("setup-shop-calendar")}
          hint={t("setup-shop-calendar-hint")}
          name="calendar"
          wrong={shown}
          none={t("setup-choose")}
          options={calendarOptions()}
          value={value.calendar}
          set={(calendar) => draft.set({ calendar })}
        />
        <Choice
          legend={t("setup-shop-language")}
          value={value.language}
          set={(language) => draft.set({ language })}
          options={[
            ["en", "English"],
            ["es", "Español"],
          ]}
        />
        <FormEnd
          saving={saving}
          op={saving.op.value}
          wrong={wrong}
          tried={tried.value}
          changed={draft.changed}
          discard={() => void draft.done(initial)}
        />
      </form>
      <OneTimeLink
        title={t("setup-wall")}
        intro={t("setup-wall-intro")}
        make={auth.display}
        scan={(time) => t("setup-wall-scan", { time })}
        once={t("setup-wall-once")}
      />
    </>
  );
}
