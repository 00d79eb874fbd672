// Equipment and places.
import type { Equipment as EquipmentDoc, Place } from "../../api/types";
import { departments, equipment, now, places, t, words } from "../../state";
import { departmentName, tongue, zone } from "../../text/names";
import { date } from "../../text/time";
import { isoDay, parseLocal } from "../../text/zone";
import { named } from "../../text/sentences";
import { checkEquipment, checkPlace } from "../../model/checks";
import { shortWord } from "../../model/forms";
import { DocForm } from "./form";
import { Periods, SelectField, TextField, WordsField } from "../kit/fields";
import { departmentOptions, equipmentOptions, kindOptions } from "../kit/options";
import { ListPage, Missing } from "./page";

export function Equipment({ chosen }: { chosen: string | undefined }) {
  const at = now.value;
  const rows = [...equipment.value.values()]
    .sort(
      (a, b) =>
        (departments.value.get(a.department)?.rank ?? 99) - (departments.value.get(b.department)?.rank ?? 99) ||
        a.id.localeCompare(b.id, "en", { numeric: true }),
    )
    .map((one) => {
      const out = one.out_of_service.some((gap) => gap.from <= at && at < gap.to);
      const due = one.inspection_due
        ? t(one.inspection_due < at ? "setup-inspection-was" : "setup-inspection-is", {
            date: date(one.inspection_due, tongue.value, zone.value, at),
          })
        : "";
      return {
        id: one.id,
        title: words(one.title),
        line: [departmentName(one.department), out ? t("setup-out-now") : "", due].filter(Boolean).join(", "),
        retired: one.retired,
      };
    });
  return (
    <ListPage
      part="equipment"
      title={t("setup-equipment")}
      intro={t("setup-equipment-intro")}
      rows={rows}
      add={t("setup-equipment-add")}
      chosen={chosen}
    >
      {chosen && <EquipmentForm key={chosen} id={chosen} />}
    </ListPage>
  );
}

function EquipmentForm({ id }: { id: string }) {
  const isNew = id === "new";
  const tool: EquipmentDoc | undefined = isNew
    ? { id: "new", title: { text: "" }, kind: "lift", department: "", out_of_service: [], retired: false }
    : equipment.value.get(id);
  if (!tool) return <Missing />;
  const kinds = kindOptions();
  const tz = zone.value;
  return (
    <DocForm
      part="equipment"
      heading={isNew ? t("setup-equipment-add") : words(tool.title)}
      initial={tool}
      isNew={isNew}
      check={checkEquipment}
      kind="set_equipment"
      args={(value) => ({ equipment: value })}
      named={(value) => ({
        ...value,
        id: shortWord(value.title.text, new Set([...equipment.value.keys(), "new"]), "equipment"),
      })}
      retire={{ word: t("setup-retire"), sure: t("setup-equipment-sure"), back: t("setup-unretire") }}
    >
      {(value, set, wrong) => (
        <>
          <WordsField
            label={t("setup-title-field")}
            hint={t("setup-equipment-title-hint")}
            name="title"
            wrong={wrong}
            value={value.title}
            set={(title) => set({ title })}
          />
          <TextField
            label={t("setup-kind")}
            hint={t("setup-kind-hint")}
            name="kind"
            wrong={wrong}
            value={kinds.find(([key]) => key === value.kind)?.[1] ?? value.kind}
            list={kinds.map(([, label]) => label)}
            set={(text) =>
              set({ kind: kinds.find(([, label]) => label === text)?.[0] ?? (text.trim() ? shortWord(text) : "") })
            }
          />
          <SelectField
            label={t("setup-department")}
            name="department"
            wrong={wrong}
            value={value.department}
            none={t("setup-choose")}
            options={departmentOptions()}
            set={(department) => set({ department })}
          />
          <TextField
            label={t("setup-rated-load")}
            hint={t("setup-rated-load-hint")}
            name="rated_load_kg"
            wrong={wrong}
            inputMode="numeric"
            value={value.rated_load_kg === undefined || value.rated_load_kg === null ? "" : String(value.rated_load_kg)}
            set={(text) => set({ rated_load_kg: text.trim() === "" ? undefined : Number.parseInt(text, 10) || 0 })}
          />
          <TextField
            name="inspection_due"
            wrong={wrong}
            label={t("setup-inspection")}
            type="date"
            value={value.inspection_due ? isoDay(value.inspection_due, tz) : ""}
            set={(text) => set({ inspection_due: parseLocal(text, tz) })}
          />
          {value.kind === "lift" && <Caution />}
          <Periods
            legend={t("setup-out")}
            name="out_of_service"
            wrong={wrong}
            value={value.out_of_service}
            set={(gaps) => set({ out_of_service: gaps })}
            add={t("setup-out-add")}
          />
        </>
      )}
    </DocForm>
  );
}

function Caution() {
  return (
    <p class="caution">
      <svg viewBox="0 0 40 36" width="40" height="36" aria-hidden="true">
        <path d="M20 2 38 34H2Z" class="sign" />
        <path d="M20 12v11M20 27v4" class="sign-mark" />
      </svg>
      <span>{t("setup-lift-caution")}</span>
    </p>
  );
}

export function Places({ chosen }: { chosen: string | undefined }) {
  const rows = [...places.value.values()]
    .sort((a, b) => words(a.title).localeCompare(words(b.title), undefined, { numeric: true }))
    .map((one) => ({
      id: one.id,
      title: words(one.title),
      line: one.equipment
        ? t("setup-place-on", {
            equipment: words(equipment.value.get(one.equipment)?.title) || named("kind", one.equipment),
          })
        : "",
      retired: one.retired,
    }));
  return (
    <ListPage
      part="places"
      title={t("setup-places")}
      intro={t("setup-places-intro")}
      rows={rows}
      add={t("setup-places-add")}
      chosen={chosen}
    >
      {chosen && <PlaceForm key={chosen} id={chosen} />}
    </ListPage>
  );
}

function PlaceForm({ id }: { id: string }) {
  const isNew = id === "new";
  const place: Place | undefined = isNew ? { id: "new", title: { text: "" }, retired: false } : places.value.get(id);
  if (!place) return <Missing />;
  return (
    <DocForm
      part="places"
      heading={isNew ? t("setup-places-add") : words(place.title)}
      initial={place}
      isNew={isNew}
      check={checkPlace}
      kind="set_place"
      args={(value) => ({ place: value })}
      named={(value) => ({
        ...value,
        id: shortWord(value.title.text, new Set([...places.value.keys(), "new"]), "place"),
      })}
      retire={{ word: t("setup-retire"), sure: t("setup-places-sure"), back: t("setup-unretire") }}
    >
      {(value, set, wrong) => (
        <>
          <WordsField
            label={t("setup-title-field")}
            name="title"
            wrong={wrong}
            value={value.title}
            set={(title) => set({ title })}
          />
          <SelectField
            label={t("setup-place-equipment")}
            hint={t("setup-place-equipment-hint")}
            value={value.equipment ?? ""}
            none={t("setup-place-floor")}
            options={equipmentOptions()}
            set={(tool) => set({ equipment: tool || undefined })}
          />
        </>
      )}
    </DocForm>
  );
}
