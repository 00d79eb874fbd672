// Bringing over the repair orders that are open now, from a CSV: choose or paste, say which column is
// what, look at every line that cannot be read, then bring them over. Nothing is made before the last step.
import { useSignal } from "@preact/signals";
import { request } from "../../api/client";
import type { Words } from "../../api/types";
import { places, routings, t, words as wordsOf } from "../../state";
import { liveRouting } from "../kit/options";
import { has } from "../../text/words";
import { useDraft } from "../kit/draft";
import { atLeast, SelectField } from "../kit/fields";

interface Line {
  line: number;
  column?: string | null;
  why: string;
}

/** A word of the other program that means nothing here yet, or what it was said to mean. */
interface Word {
  field: string;
  word: string;
  count: number;
  meaning?: string | null;
}

interface Answer {
  columns: string[];
  fields: { field: string; required: boolean }[];
  mapping: Record<string, string>;
  rows: number;
  good: number;
  bad: Line[];
  words: Word[];
  unsaid: number;
  warnings: Line[];
  preview: Record<string, unknown>[];
  made?: number | null;
}

interface Typed {
  csv: string;
  mapping: Record<string, string>;
  /** Field → word → what it means here; empty, to leave it out. */
  words?: Meanings;
}

type Meanings = Record<string, Record<string, string>>;

const EMPTY: Typed = { csv: "", mapping: {}, words: {} };
/** A shop's open orders are hundreds of lines; beyond this a wrong file was chosen. */
const FILE_BYTES_MAX = 4_000_000;

export function Import() {
  const draft = useDraft("import", EMPTY);
  const answer = useSignal<Answer | undefined>(undefined);
  const failed = useSignal<string | undefined>(undefined);
  const busy = useSignal(false);
  const { csv, mapping, words = {} } = draft.value.value;
  const got = answer.value;

  const ask = async (
    text: string,
    columns: Record<string, string>,
    meanings: Meanings,
    dry: boolean,
  ): Promise<void> => {
    failed.value = undefined;
    busy.value = true;
    try {
      // The bad lines stand on the screen when the last button is pressed: leaving them out is what it says.
      const body = { csv: text, mapping: columns, words: meanings, dry_run: dry, skip_bad: !dry };
      const result = await request<Answer>("POST", "/api/v1/import/orders", body);
      answer.value = result;
      if (result.made) await draft.done(EMPTY);
      else draft.set({ csv: text, mapping: result.mapping, words: meanings });
    } catch (error) {
      failed.value = (error as Error).message;
    } finally {
      busy.value = false;
    }
  };
  const choose = async (file: File | undefined): Promise<void> => {
    if (!file) return;
    if (file.size > FILE_BYTES_MAX) {
      failed.value = t("setup-import-large");
      return;
    }
    let text: string;
    try {
      text = decode(await file.arrayBuffer());
    } catch (error) {
      failed.value = (error as Error).message;
      return;
    }
    draft.set({ csv: text, mapping: {}, words: {} });
    await ask(text, {}, {}, true);
  };
  const map = (field: string, column: string): void => {
    const others = Object.fromEntries(Object.entries(mapping).filter(([one]) => one !== field));
    const next = column ? { ...others, [field]: column } : others;
    draft.set({ mapping: next });
    void ask(csv, next, words, true);
  };
  const mean = ({ field, word }: Word, meaning: string): void => {
    const { [word]: _, ...others } = words[field] ?? {};
    const next = { ...words, [field]: meaning ? { ...others, [word]: meaning === LEFT_OUT ? "" : meaning } : others };
    draft.set({ words: next });
    void ask(csv, mapping, next, true);
  };

  if (!atLeast("planner")) return <p class="notice-line">{t("setup-import-planners")}</p>;
  if (got?.made) {
    return (
      <div class="stack setup-form alone">
        <h2>{t("setup-import")}</h2>
        <p class="notice-line" role="status">
          {t("setup-import-made", { count: got.made })}
        </p>
        {got.bad.length > 0 && <Lines title={t("setup-import-bad")} lines={got.bad} />}
        <p class="buttons">
          <a class="button" href="/shop">
            {t("setup-import-look")}
          </a>
          <button class="button" onClick={() => (answer.value = undefined)}>
            {t("setup-import-more")}
          </button>
        </p>
      </div>
    );
  }
  const missing = got?.fields.filter((one) => one.required && !mapping[one.field]) ?? [];
  return (
    <div class="stack setup-form alone">
      <h2>{t("setup-import")}</h2>
      <p>{t("setup-import-intro")}</p>
      <div class="field">
        <label for="import-file">{t("setup-import-file")}</label>
        <input
          id="import-file"
          type="file"
          accept=".csv,.txt,text/csv,text/plain"
          onChange={(event) => void choose(event.currentTarget.files?.[0])}
        />
      </div>
      <div class="field">
        <label for="import-text">{t("setup-import-paste")}</label>
        <textarea
          id="import-text"
          class="csv"
          spellcheck={false}
          value={csv}
          onInput={(event) => {
            answer.value = undefined;
            draft.set({ csv: event.currentTarget.value, mapping: {}, words: {} });
          }}
        />
      </div>
      {failed.value && (
        <p class="notice-line bad" role="alert">
          {failed.value}
        </p>
      )}
      <div class="buttons">
        <button class="button" disabled={busy.value || !csv.trim()} onClick={() => void ask(csv, mapping, words, true)}>
          {t(busy.value ? "setup-import-reading" : "setup-import-try")}
        </button>
        {draft.changed && (
          <button class="button plain" onClick={() => (void draft.done(EMPTY), (answer.value = undefined))}>
            {t("setup-discard")}
          </button>
        )}
      </div>
      {got && (
        <>
          <h3>{t("setup-import-result")}</h3>
          <p role="status">{t("setup-import-counts", { rows: got.rows, good: got.good, bad: got.bad.length })}</p>
          {got.unsaid > 0 && <p class="notice-line">{t("setup-import-unsaid", { count: got.unsaid })}</p>}
          {missing.length > 0 && (
            <p class="notice-line">
              {t("setup-import-missing", { fields: missing.map((one) => fieldName(one.field)).join(", ") })}
            </p>
          )}
          {got.words.length > 0 && (
            <>
              <h3>{t("setup-import-words")}</h3>
              <p class="quiet">{t("setup-import-words-hint")}</p>
              <div class="columns-map">
                {got.words.map((one) => (
                  <SelectField
                    key={`${one.field} ${one.word}`}
                    label={t("setup-import-word", { field: fieldName(one.field), word: one.word, count: one.count })}
                    value={one.meaning === "" ? LEFT_OUT : (one.meaning ?? "")}
                    none={t("setup-import-choose")}
                    options={[...meaningsOf(one.field), [LEFT_OUT, t("setup-import-leave-out")]]}
                    set={(meaning) => mean(one, meaning)}
                  />
                ))}
              </div>
            </>
          )}
          {/* Guessed columns need a look only where something is wrong. */}
          <details open={missing.length > 0}>
            <summary>{t("setup-import-columns")}</summary>
            <p class="quiet">{t("setup-import-columns-hint")}</p>
            <div class="columns-map">
              {got.fields.map((one) => (
                <SelectField
                  key={one.field}
                  label={fieldName(one.field) + (one.required ? ` (${t("setup-import-needed")})` : "")}
                  value={mapping[one.field] ?? ""}
                  none={t("setup-import-no-column")}
                  options={got.columns.map((column): [string, string] => [column, column])}
                  set={(column) => map(one.field, column)}
                />
              ))}
            </div>
          </details>
          {got.bad.length > 0 && <Lines title={t("setup-import-bad")} lines={got.bad} />}
          {got.warnings.length > 0 && <Lines title={t("setup-import-warnings")} lines={got.warnings} />}
          {got.preview.length > 0 && <Preview rows={got.preview} />}
          {got.good > 0 && missing.length === 0 && (
            <button class="button main" disabled={busy.value} onClick={() => void ask(csv, mapping, words, false)}>
              {t("setup-import-do", { count: got.good })}
            </button>
          )}
          {got.bad.length + got.unsaid > 0 && got.good > 0 && <p class="quiet">{t("setup-import-bad-left")}</p>}
        </>
      )}
    </div>
  );
}

function Lines({ title, lines }: { title: string; lines: Line[] }) {
  return (
    <div class="table-scroll" tabIndex={0} role="group" aria-label={title}>
      <table>
        <caption>{title}</caption>
        <thead>
          <tr>
            <th scope="col">{t("setup-import-line")}</th>
            <th scope="col">{t("setup-import-column")}</th>
            <th scope="col">{t("setup-import-why")}</th>
          </tr>
        </thead>
        <tbody>
          {lines.map((one, i) => (
            <tr key={i}>
              <td>{one.line}</td>
              <td>{one.column ?? ""}</td>
              <td>{one.why}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function Preview({ rows }: { rows: Record<string, unknown>[] }) {
  const keys = [
    ...new Set(rows.flatMap((row) => Object.keys(row).filter((key) => row[key] !== null && row[key] !== ""))),
  ];
  return (
    <div class="table-scroll" tabIndex={0} role="group" aria-label={t("setup-import-preview")}>
      <table>
        <caption>{t("setup-import-preview")}</caption>
        <thead>
          <tr>
            {keys.map((key) => (
              <th key={key} scope="col">
                {fieldName(key)}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row, i) => (
            <tr key={i}>
              {keys.map((key) => (
                <td key={key}>{shown(key, row[key])}</td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function shown(key: string, value: unknown): string {
  if (value === undefined || value === null) return "";
  if (key === "weight") return t(`setup-weight-${String(value)}`);
  if (key === "stage" && has(`stage-${String(value)}`)) return t(`stage-${String(value)}`);
  if (typeof value === "boolean") return t(value ? "setup-yes" : "setup-no");
  return typeof value === "object" ? JSON.stringify(value) : String(value);
}

/** As a choice: it says nothing here. A word of the shop never looks like this. */
const LEFT_OUT = "—";
const STAGES = ["expected", "arrived", "authorised", "away", "ready", "stopped"] as const;

/** What a word of this column can mean here, each as the server takes it. */
function meaningsOf(field: string): [string, string][] {
  switch (field) {
    case "stage":
      return STAGES.map((stage) => [stage, t(`stage-${stage}`)]);
    case "place":
      return titled(places.value.values());
    case "routings":
      return titled([...routings.value.values()].filter(liveRouting));
    case "weight":
      return ["1", "2", "4"].map((weight) => [weight, t(`setup-weight-${weight}`)]);
    default:
      return [
        ["yes", t("setup-yes")],
        ["no", t("setup-no")],
      ];
  }
}

const titled = (all: Iterable<{ id: string; title: Words; retired: boolean }>): [string, string][] =>
  [...all]
    .filter((one) => !one.retired)
    .map((one): [string, string] => [one.id, wordsOf(one.title)])
    .sort(([, a], [, b]) => a.localeCompare(b));

const fieldName = (field: string): string =>
  has(`setup-field-${field}`) ? t(`setup-field-${field}`) : field.replaceAll("_", " ");

/** UTF-8 where it is, else what spreadsheets in our countries write. */
function decode(bytes: ArrayBuffer): string {
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder("windows-1252").decode(bytes);
  }
}
