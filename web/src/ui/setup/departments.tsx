import type { Department } from "../../api/types";
import { departments, t, words } from "../../state";
import { checkDepartment } from "../../model/checks";
import { shortWord } from "../../model/forms";
import { DocForm } from "./form";
import { Choice, SelectField, TextField, Ticks, WordsField } from "../kit/fields";
import { calendarOptions, peopleOptions } from "../kit/options";
import { ListPage, Missing } from "./page";

export function Departments({ chosen }: { chosen: string | undefined }) {
  const rows = [...departments.value.values()]
    .sort((a, b) => a.rank - b.rank)
    .map((one) => ({
      id: one.id,
      title: words(one.title),
      line: t(`setup-working-${one.working}`),
      retired: one.retired,
    }));
  return (
    <ListPage
      part="departments"
      title={t("setup-departments")}
      rows={rows}
      add={t("setup-departments-add")}
      chosen={chosen}
    >
      {chosen && <DepartmentForm key={chosen} id={chosen} />}
    </ListPage>
  );
}

function DepartmentForm({ id }: { id: string }) {
  const isNew = id === "new";
  const ranks = [...departments.value.values()].map((one) => one.rank);
  const department: Department | undefined = isNew
    ? { id: "new", title: { text: "" }, working: "pool", deputies: [], rank: Math.max(0, ...ranks) + 1, retired: false }
    : departments.value.get(id);
  if (!department) return <Missing />;
  return (
    <DocForm
      part="departments"
      heading={isNew ? t("setup-departments-add") : words(department.title)}
      initial={department}
      isNew={isNew}
      check={checkDepartment}
      kind="set_department"
      args={(value) => ({ department: value })}
      named={(value) => ({
        ...value,
        id: shortWord(value.title.text, new Set([...departments.value.keys(), "new"]), "department"),
      })}
      retire={{ word: t("setup-retire"), sure: t("setup-departments-sure"), back: t("setup-unretire") }}
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
          <Choice
            legend={t("setup-working")}
            value={value.working}
            set={(working) => set({ working: working as Department["working"] })}
            options={[
              ["lead", t("setup-working-lead"), t("setup-working-lead-hint")],
              ["pool", t("setup-working-pool"), t("setup-working-pool-hint")],
            ]}
          />
          <SelectField
            label={t("setup-calendar")}
            value={value.calendar ?? ""}
            none={t("setup-calendar-of-shop")}
            options={calendarOptions()}
            set={(calendar) => set({ calendar: calendar || undefined })}
          />
          <Ticks
            legend={t("setup-deputies")}
            hint={t("setup-deputies-hint")}
            options={peopleOptions()}
            chosen={value.deputies}
            set={(deputies) => set({ deputies })}
          />
          <TextField
            label={t("setup-rank")}
            hint={t("setup-rank-hint")}
            inputMode="numeric"
            value={String(value.rank)}
            set={(text) => set({ rank: Math.max(0, Math.min(999, Number.parseInt(text, 10) || 0)) })}
          />
        </>
      )}
    </DocForm>
  );
}
