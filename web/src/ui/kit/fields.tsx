// Parts of forms: a field with its name, its hint and what is wrong with it; lists of periods; the end of
// a form with what became of the saving. Nothing here knows which document is edited.
import type { Signal } from "@preact/signals";
import { useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useId } from "preact/hooks";
import type { Absence, Role, Words } from "../../api/types";
import { act, me, now, reach, t, tray, unsent } from "../../state";
import type { Acts, Kind } from "../../api/types";
import { isAtLeast } from "../../core/roles";
import { zone } from "../../text/names";
import { addDays, isoDay, isoMinute, parseLocal, startOfDay } from "../../text/zone";
import { has } from "../../text/words";
import type { Wrong } from "../../model/checks";

export interface FieldProps {
  label: string;
  hint?: string;
  /** Its name in the map of what is wrong. */
  name?: string;
  wrong?: Wrong;
}

interface Wired {
  id: string;
  "aria-describedby"?: string;
  "aria-invalid"?: "true";
}

export function Field({
  label,
  hint,
  name,
  wrong,
  children,
}: FieldProps & { children: (wired: Wired) => ComponentChildren }) {
  const id = useId();
  const bad = name ? wrong?.[name] : undefined;
  const described = [hint && `${id}-hint`, bad && `${id}-wrong`].filter(Boolean).join(" ");
  return (
    <div class="field" data-field={name}>
      <label for={id}>{label}</label>
      {hint && (
        <p id={`${id}-hint`} class="quiet small">
          {hint}
        </p>
      )}
      {children({
        id,
        ...(described ? { "aria-describedby": described } : {}),
        ...(bad ? { "aria-invalid": "true" } : {}),
      })}
      {bad && (
        <p id={`${id}-wrong`} class="late">
          {t(bad.key, bad.args)}
        </p>
      )}
    </div>
  );
}

type TextProps = FieldProps & {
  value: string;
  set: (value: string) => void;
  type?: "text" | "email" | "date" | "datetime-local";
  inputMode?: "numeric" | "text" | "decimal";
  list?: readonly string[];
  max?: number;
  required?: boolean;
};

export function TextField({ value, set, type = "text", inputMode, list, max, required, ...field }: TextProps) {
  const listId = useId();
  return (
    <Field {...field}>
      {(wired) => (
        <>
          <input
            {...wired}
            type={type}
            value={value}
            inputMode={inputMode}
            maxLength={max}
            aria-required={required ? "true" : undefined}
            list={list ? listId : undefined}
            autocomplete="off"
            onInput={(event) => set(event.currentTarget.value)}
          />
          {list && (
            <datalist id={listId}>
              {list.map((one) => (
                <option key={one} value={one} />
              ))}
            </datalist>
          )}
        </>
      )}
    </Field>
  );
}

export function SelectField({
  value,
  set,
  options,
  none,
  ...field
}: FieldProps & { value: string; set: (value: string) => void; options: readonly [string, string][]; none?: string }) {
  return (
    <Field {...field}>
      {(wired) => (
        <select {...wired} value={value} onChange={(event) => set(event.currentTarget.value)}>
          {none !== undefined && <option value="">{none}</option>}
          {options.map(([key, label]) => (
            <option key={key} value={key}>
              {label}
            </option>
          ))}
        </select>
      )}
    </Field>
  );
}

/** A phrase and its Spanish wording, where the shop wants one. */
export function WordsField({
  value,
  set,
  label,
  hint,
  name,
  wrong,
}: FieldProps & { value: Words; set: (value: Words) => void }) {
  return (
    <div class="two">
      <TextField
        label={label}
        hint={hint}
        name={name}
        wrong={wrong}
        value={value.text}
        required
        set={(text) => set({ ...value, text })}
      />
      <TextField
        label={t("setup-in-spanish", { field: label })}
        value={value.es ?? ""}
        set={(es) => set(es ? { ...value, es } : { text: value.text })}
      />
    </div>
  );
}

export function Tick({
  label,
  checked,
  set,
  hint,
}: {
  label: string;
  checked: boolean;
  set: (to: boolean) => void;
  hint?: string;
}) {
  return (
    <label class="choice">
      <input type="checkbox" checked={checked} onChange={(event) => set(event.currentTarget.checked)} />
      <span>
        {label}
        {hint && <span class="quiet small"> {hint}</span>}
      </span>
    </label>
  );
}

export function Ticks({
  legend,
  options,
  chosen,
  set,
  hint,
}: {
  legend: string;
  options: readonly [string, string][];
  chosen: readonly string[];
  set: (to: string[]) => void;
  hint?: string;
}) {
  return (
    <fieldset class="choices">
      <legend>{legend}</legend>
      {hint && <p class="quiet small whole">{hint}</p>}
      {options.map(([key, label]) => (
        <Tick
          key={key}
          label={label}
          checked={chosen.includes(key)}
          set={(on) => set(on ? [...chosen, key] : chosen.filter((one) => one !== key))}
        />
      ))}
    </fieldset>
  );
}

export function Choice({
  legend,
  options,
  value,
  set,
}: {
  legend: string;
  options: readonly [string, string, string?][];
  value: string;
  set: (to: string) => void;
}) {
  const name = useId();
  return (
    <fieldset class="choices">
      <legend>{legend}</legend>
      {options.map(([key, label, hint]) => (
        <label key={key} class="choice">
          <input type="radio" name={name} value={key} checked={value === key} onChange={() => set(key)} />
          <span>
            {label}
            {hint && <span class="quiet small"> {hint}</span>}
          </span>
        </label>
      ))}
    </fieldset>
  );
}

/** Periods in which somebody or something is not there: by days, or by the minute where that matters. */
export function Periods({
  legend,
  name,
  wrong,
  value,
  set,
  add,
}: {
  legend: string;
  name: string;
  wrong: Wrong;
  value: readonly Absence[];
  set: (to: Absence[]) => void;
  add: string;
}) {
  const tz = zone.value;
  const change = (i: number, to: Partial<Absence>): void =>
    set(value.map((one, at) => (at === i ? { ...one, ...to } : one)));
  return (
    <fieldset class="periods">
      <legend>{legend}</legend>
      {value.map((one, i) => {
        const days = one.from === startOfDay(one.from, tz) && one.to === startOfDay(one.to, tz);
        const bad = wrong[`${name}-${i}`];
        return (
          <div key={i} class="period" data-field={`${name}-${i}`}>
            <TextField
              label={t("setup-from")}
              type={days ? "date" : "datetime-local"}
              value={days ? isoDay(one.from, tz) : isoMinute(one.from, tz)}
              set={(text) => {
                const from = parseLocal(text, tz);
                if (from !== undefined) change(i, { from, to: Math.max(one.to, days ? addDays(from, 1, tz) : from) });
              }}
            />
            <TextField
              label={t(days ? "setup-last-day" : "setup-until")}
              type={days ? "date" : "datetime-local"}
              value={days ? isoDay(one.to - 1, tz) : isoMinute(one.to, tz)}
              set={(text) => {
                const to = parseLocal(text, tz);
                if (to !== undefined) change(i, { to: days ? addDays(to, 1, tz) : to });
              }}
            />
            <TextField
              label={t("setup-why")}
              value={one.reason ?? ""}
              max={200}
              set={(reason) => change(i, { reason: reason || undefined })}
            />
            <div class="beside">
              {days && (
                <button
                  type="button"
                  class="button small-button"
                  onClick={() => change(i, { from: one.from + 7 * 3_600_000, to: one.to - 8 * 3_600_000 })}
                >
                  {t("setup-by-the-hour")}
                </button>
              )}
              <button type="button" class="button small-button" onClick={() => set(value.filter((_, at) => at !== i))}>
                {t("setup-remove")}
              </button>
            </div>
            {bad && <p class="late">{t(bad.key, bad.args)}</p>}
          </div>
        );
      })}
      <button
        type="button"
        class="button small-button"
        onClick={() => {
          const from = startOfDay(now.peek(), tz);
          set([...value, { from, to: addDays(from, 1, tz) }]);
        }}
      >
        {add}
      </button>
    </fieldset>
  );
}

export const atLeast = (role: Role): boolean => isAtLeast(me.value?.role, role);

/** What became of an operation: kept here, accepted, or refused with the server's own sentence. */
export function Outcome({ op, done }: { op: string; done?: ComponentChildren }) {
  const refused = tray.value.find((row) => row.op.id === op);
  const waiting = unsent.value.some((row) => row.op.id === op);
  if (refused) {
    const key = `refused-${refused.code}`;
    return (
      <p class="notice-line bad" role="alert">
        {has(key)
          ? t(key, { message: refused.message ?? "", number: (refused.op.args as { number?: string }).number ?? "" })
          : (refused.message ?? t("setup-refused"))}
      </p>
    );
  }
  return (
    <p class="notice-line" role="status">
      {waiting ? t(reach.value.live ? "setup-sending" : "setup-kept-here") : (done ?? t("setup-saved"))}
    </p>
  );
}

export interface Saving {
  op: Signal<string | undefined>;
  failed: Signal<string | undefined>;
  save<K extends Kind>(kind: K, args: Acts[K], id?: string): Promise<string | undefined>;
}

export function useSaving(): Saving {
  const op = useSignal<string | undefined>(undefined);
  const failed = useSignal<string | undefined>(undefined);
  return {
    op,
    failed,
    async save(kind, args, id) {
      failed.value = undefined;
      try {
        op.value = await act(kind, args, id ? { id } : {});
        return op.value;
      } catch (error) {
        failed.value = error instanceof Error ? error.message : String(error);
        return undefined;
      }
    },
  };
}

/** The end of a form. What is wrong is said once more here, and the first field of it gets the cursor. */
export function FormEnd({
  saving,
  op,
  wrong,
  tried,
  changed,
  discard,
  label,
  children,
}: {
  saving: Saving;
  op?: string | undefined;
  wrong: Wrong;
  tried: boolean;
  changed: boolean;
  discard: () => void;
  label?: string;
  children?: ComponentChildren;
}) {
  const count = Object.keys(wrong).length;
  const allowed = atLeast("manager");
  return (
    <div class="form-end">
      {tried && count > 0 && (
        <p class="notice-line bad" role="alert">
          {t("setup-wrong-count", { count })}
        </p>
      )}
      {saving.failed.value && (
        <p class="notice-line bad" role="alert">
          {saving.failed.value}
        </p>
      )}
      {op && !changed && <Outcome op={op} />}
      {changed && <p class="quiet small">{t("setup-not-saved")}</p>}
      {!allowed && !label && <p class="quiet">{t("setup-managers-only")}</p>}
      <div class="buttons">
        <button class="button" type="submit" disabled={!allowed && !label}>
          {label ?? t("setup-save")}
        </button>
        {changed && (
          <button class="button plain" type="button" onClick={discard}>
            {t("setup-discard")}
          </button>
        )}
        {children}
      </div>
    </div>
  );
}

/** Puts the cursor into the first field that is wrong. */
export function showFirst(form: HTMLFormElement, wrong: Wrong): void {
  const names = new Set(Object.keys(wrong));
  const field = [...form.querySelectorAll<HTMLElement>("[data-field]")].find((one) =>
    names.has(one.dataset["field"] ?? ""),
  );
  const input = field?.querySelector<HTMLElement>("input, select, textarea, button");
  // A folded part must open before a field in it can be reached.
  for (let up = field?.closest("details"); up; up = up.parentElement?.closest("details")) up.open = true;
  input?.focus();
}
