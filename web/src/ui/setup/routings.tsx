// Routings: the shop's own library of what is asked for, as a list of steps from top to bottom.
import { useSignal } from "@preact/signals";
import type { Caution, Needs, Routing, Step, StepLink } from "../../api/types";
import { departments, routings, t, words } from "../../state";
import { departmentName } from "../../text/names";
import { length, minutes } from "../../text/time";
import { has } from "../../text/words";
import { named } from "../../text/sentences";
import { DocForm } from "./form";
import { checkRouting, type Wrong } from "../../model/checks";
import { leftOpen, moveStep, parseMinutes, shortWord, showMinutes } from "../../model/forms";
import { SelectField, TextField, Tick, Ticks, WordsField } from "../kit/fields";
import { departmentOptions, kindOptions, openOptions, qualificationOptions } from "../kit/options";
import { ListPage, Missing } from "./page";

const CAUTIONS: Caution[] = [
  "lift",
  "unexpected_start",
  "pulling",
  "hot_work",
  "airbag",
  "high_voltage",
  "spraying",
  "refrigerant",
  "spring",
  "fuel",
  "driving",
];

export function Routings({ chosen }: { chosen: string | undefined }) {
  const rows = [...routings.value.values()]
    .sort((a, b) => words(a.title).localeCompare(words(b.title)))
    .map((one) => ({
      id: one.id,
      title: words(one.title),
      line: t("setup-routing-line", {
        steps: one.steps.length,
        length: length(one.steps.reduce((sum, step) => sum + step.planned_minutes, 0) * 60_000),
      }),
      retired: one.retired,
    }));
  return (
    <ListPage
      part="routings"
      title={t("setup-routings")}
      intro={t("setup-routings-intro")}
      rows={rows}
      add={t("setup-routings-add")}
      chosen={chosen}
    >
      {chosen && <RoutingForm key={chosen} id={chosen} />}
    </ListPage>
  );
}

const NO_NEEDS: Needs = { off_vehicle: false, beside: false, one_go: false, checks: [], cautions: [] };

function RoutingForm({ id }: { id: string }) {
  const isNew = id === "new";
  const routing: Routing | undefined = isNew
    ? { id: "new", version: 0, title: { text: "" }, steps: [], retired: false }
    : routings.value.get(id);
  if (!routing) return <Missing />;
  return (
    <DocForm
      part="routings"
      heading={isNew ? t("setup-routings-add") : words(routing.title)}
      initial={routing}
      isNew={isNew}
      check={checkRouting}
      kind="set_routing"
      args={(value) => ({ routing: value })}
      named={(value) => ({
        ...value,
        id: shortWord(value.title.text, new Set([...routings.value.keys(), "new"]), "routing"),
      })}
      retire={{ word: t("setup-retire"), sure: t("setup-routings-sure"), back: t("setup-unretire") }}
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
          <Outline routing={value} />
          <div class="routing-steps" data-field="steps">
            {value.steps.map((step, i) => (
              <StepForm
                key={step.step}
                step={step}
                i={i}
                all={value.steps}
                wrong={wrong}
                set={(change) => set({ steps: value.steps.map((one, at) => (at === i ? { ...one, ...change } : one)) })}
                move={(by) => set({ steps: moveStep(value.steps, i, i + by) })}
                remove={() =>
                  set({
                    steps: value.steps
                      .filter((_, at) => at !== i)
                      .map((one) => ({ ...one, after: one.after.filter((link) => link.step !== step.step) })),
                  })
                }
              />
            ))}
            {wrong["steps"] && <p class="late">{t(wrong["steps"].key)}</p>}
            <button
              type="button"
              class="button"
              onClick={() => {
                const before = value.steps.at(-1);
                set({
                  steps: [
                    ...value.steps,
                    {
                      ...NO_NEEDS,
                      step: shortWord("step", new Set(value.steps.map((one) => one.step))),
                      department: before?.department ?? departmentOptions()[0]?.[0] ?? "",
                      title: { text: "" },
                      planned_minutes: 30,
                      after: before ? [{ step: before.step, lag_minutes: 0 }] : [],
                    },
                  ],
                });
              }}
            >
              {t("setup-step-add")}
            </button>
          </div>
          {leftOpen(value).map((open) => (
            <p key={open} class="notice-line">
              {t("setup-left-open", { open: named("open", open) })}
            </p>
          ))}
          <p class="quiet small">{t("setup-routings-maker")}</p>
        </>
      )}
    </DocForm>
  );
}

/** The routing as a line over working time: one level for each department, so that a round trip is a loop. */
function Outline({ routing }: { routing: Routing }) {
  const rows = [...new Set(routing.steps.map((step) => step.department).filter(Boolean))].sort(
    (a, b) => (departments.value.get(a)?.rank ?? 99) - (departments.value.get(b)?.rank ?? 99),
  );
  if (rows.length === 0) return null;
  const lagOf = (step: Step) => Math.max(0, ...step.after.map((link) => link.lag_minutes));
  const total = routing.steps.reduce((sum, step) => sum + step.planned_minutes + lagOf(step), 0) || 1;
  const W = 560;
  const y = (department: string) => 22 + rows.indexOf(department) * 34;
  let x = 4;
  let thick = "";
  let thin = "";
  let before: Step | undefined;
  for (const step of routing.steps) {
    const lag = (lagOf(step) / total) * (W - 8);
    if (before && (lag > 0 || before.department !== step.department)) {
      thin += `M${x.toFixed(1)} ${y(before.department)}h${lag.toFixed(1)}V${y(step.department)}`;
      x += lag;
    }
    const width = Math.max(3, (step.planned_minutes / total) * (W - 8));
    thick += `M${x.toFixed(1)} ${y(step.department)}h${width.toFixed(1)}`;
    x += width;
    before = step;
  }
  return (
    <svg
      class="outline"
      viewBox={`0 0 ${W} ${rows.length * 34 + 6}`}
      role="img"
      aria-label={t("setup-routing-drawn", { length: length(total * 60_000) })}
    >
      {rows.map((row) => (
        <g key={row}>
          <path class="rule" d={`M0 ${y(row)}H${W}`} />
          <text x="2" y={y(row) - 8}>
            {departmentName(row)}
          </text>
        </g>
      ))}
      <path class="thin" d={thin} />
      <path class="thick" d={thick} />
    </svg>
  );
}

interface StepProps {
  step: Step;
  i: number;
  all: readonly Step[];
  wrong: Wrong;
  set: (change: Partial<Step>) => void;
  move: (by: 1 | -1) => void;
  remove: () => void;
}

function StepForm({ step, i, all, wrong, set, move, remove }: StepProps) {
  const bad = Object.keys(wrong).some((key) => key.startsWith(`step-${i}-`));
  const field = (name: string) => `step-${i}-${name}`;
  const opens = openOptions();
  const qualifications = qualificationOptions();
  return (
    <details class="step" open={!step.title.text || bad}>
      <summary>
        <span class="step-place">{i + 1}</span>
        <span class="grow">
          <b>{words(step.title) || t("setup-step-untitled")}</b>{" "}
          <span class="quiet">
            {departmentName(step.department)}, {minutes(step.planned_minutes)}
            {step.opens && `, ${t("setup-opens-short", { open: named("open", step.opens) })}`}
            {step.closes && `, ${t("setup-closes-short", { open: named("open", step.closes) })}`}
          </span>
        </span>
      </summary>
      <div class="stack step-body">
        <WordsField
          label={t("setup-step-title")}
          name={field("title")}
          wrong={wrong}
          value={step.title}
          set={(title) => set({ title })}
        />
        <div class="two">
          <SelectField
            label={t("setup-department")}
            name={field("department")}
            wrong={wrong}
            value={step.department}
            none={t("setup-choose")}
            options={departmentOptions()}
            set={(department) => set({ department })}
          />
          <Minutes
            label={t("setup-step-minutes")}
            hint={t("setup-step-minutes-hint")}
            name={field("minutes")}
            wrong={wrong}
            value={step.planned_minutes}
            set={(minutes) => set({ planned_minutes: minutes ?? 0 })}
          />
        </div>
        <After step={step} all={all} i={i} name={field("after")} wrong={wrong} set={(after) => set({ after })} />
        <div class="two">
          <SelectField
            label={t("setup-step-equipment")}
            value={step.equipment ?? ""}
            none={t("setup-step-no-equipment")}
            options={kindOptions()}
            set={(equipment) => set({ equipment: equipment || undefined })}
          />
          <OpenWord
            label={t("setup-opens")}
            hint={t("setup-opens-hint")}
            name={field("opens")}
            wrong={wrong}
            options={opens}
            value={step.opens}
            set={(open) => set({ opens: open })}
          />
        </div>
        <div class="two">
          <OpenWord
            label={t("setup-inside")}
            hint={t("setup-inside-hint")}
            name={field("inside")}
            wrong={wrong}
            options={opens}
            value={step.inside}
            set={(open) => set({ inside: open })}
          />
          <OpenWord
            label={t("setup-closes")}
            hint={t("setup-closes-hint")}
            name={field("closes")}
            wrong={wrong}
            options={opens}
            value={step.closes}
            set={(open) => set({ closes: open })}
          />
        </div>
        <fieldset class="choices">
          <legend>{t("setup-step-how")}</legend>
          <Tick label={t("setup-off-vehicle")} checked={step.off_vehicle} set={(on) => set({ off_vehicle: on })} />
          <Tick label={t("setup-beside")} checked={step.beside} set={(on) => set({ beside: on })} />
          <Tick label={t("setup-one-go")} checked={step.one_go} set={(on) => set({ one_go: on })} />
        </fieldset>
        <SelectField
          label={t("setup-step-qualification")}
          value={step.qualification ?? ""}
          none={t("setup-step-no-qualification")}
          options={qualifications}
          set={(word) => set({ qualification: word || undefined })}
        />
        <Checks step={step} name={field("check")} wrong={wrong} set={set} />
        <Ticks
          legend={t("setup-cautions")}
          hint={t("setup-cautions-hint")}
          options={CAUTIONS.map((one): [string, string] => [
            one,
            has(`setup-caution-${one}`) ? t(`setup-caution-${one}`) : one,
          ])}
          chosen={step.cautions}
          set={(chosen) => set({ cautions: CAUTIONS.filter((one) => chosen.includes(one)) })}
        />
        <div class="buttons">
          <button type="button" class="button small-button" disabled={i === 0} onClick={() => move(-1)}>
            {t("setup-step-up")}
          </button>
          <button type="button" class="button small-button" disabled={i === all.length - 1} onClick={() => move(1)}>
            {t("setup-step-down")}
          </button>
          <button type="button" class="button small-button" onClick={remove}>
            {t("setup-step-remove")}
          </button>
        </div>
      </div>
    </details>
  );
}

/** A length that is typed: what cannot be read stays as typed and is said. */
function Minutes({
  label,
  hint,
  name,
  wrong,
  value,
  set,
}: {
  label: string;
  hint?: string;
  name?: string;
  wrong?: Wrong;
  value: number | undefined;
  set: (minutes: number | undefined) => void;
}) {
  const text = useSignal(value === undefined ? "" : showMinutes(value));
  return (
    <TextField
      label={label}
      hint={hint}
      name={name}
      wrong={wrong}
      value={text.value}
      set={(to) => {
        text.value = to;
        set(to.trim() === "" ? undefined : (parseMinutes(to) ?? 0));
      }}
    />
  );
}

function OpenWord({
  label,
  hint,
  name,
  wrong,
  options,
  value,
  set,
}: {
  label: string;
  hint: string;
  name: string;
  wrong: Wrong;
  options: [string, string][];
  value: string | null | undefined;
  set: (open: string | undefined) => void;
}) {
  const text = useSignal(value ? named("open", value) : "");
  return (
    <TextField
      label={label}
      hint={hint}
      name={name}
      wrong={wrong}
      value={text.value}
      list={options.map(([, shown]) => shown)}
      set={(to) => {
        text.value = to;
        set(to.trim() ? (options.find(([, shown]) => shown === to)?.[0] ?? shortWord(to)) : undefined);
      }}
    />
  );
}

function After({
  step,
  all,
  i,
  name,
  wrong,
  set,
}: {
  step: Step;
  all: readonly Step[];
  i: number;
  name: string;
  wrong: Wrong;
  set: (after: StepLink[]) => void;
}) {
  const bad = wrong[name];
  const above = all.slice(0, i);
  const lost = step.after.filter((link) => !above.some((one) => one.step === link.step));
  if (above.length === 0 && lost.length === 0) return null;
  const change = (to: StepLink) => set(step.after.map((link) => (link.step === to.step ? to : link)));
  return (
    <fieldset class="periods" data-field={name}>
      <legend>{t("setup-after")}</legend>
      {above.map((other) => {
        const link = step.after.find((one) => one.step === other.step);
        return (
          <div key={other.step} class="period">
            <Tick
              label={words(other.title) || other.step}
              checked={!!link}
              set={(on) =>
                set(
                  on
                    ? [...step.after, { step: other.step, lag_minutes: 0 }]
                    : step.after.filter((one) => one.step !== other.step),
                )
              }
            />
            {link && (
              <Minutes
                label={t("setup-lag")}
                value={link.lag_minutes}
                set={(minutes) => change({ ...link, lag_minutes: minutes ?? 0 })}
              />
            )}
            {link && (
              <Minutes
                label={t("setup-lag-max")}
                value={link.lag_minutes_max ?? undefined}
                set={(minutes) => change({ ...link, lag_minutes_max: minutes })}
              />
            )}
          </div>
        );
      })}
      {lost.map((link) => (
        <div key={link.step} class="period">
          <Tick
            label={words(all.find((one) => one.step === link.step)?.title) || link.step}
            checked
            set={() => set(step.after.filter((one) => one !== link))}
          />
        </div>
      ))}
      {bad && <p class="late">{t(bad.key, bad.args)}</p>}
    </fieldset>
  );
}

function Checks({
  step,
  name,
  wrong,
  set,
}: {
  step: Step;
  name: string;
  wrong: Wrong;
  set: (change: Partial<Step>) => void;
}) {
  return (
    <fieldset class="periods">
      <legend>{t("setup-checks")}</legend>
      {step.checks.map((check, i) => (
        <div key={i} class="period">
          <div class="grow">
            <WordsField
              label={t("setup-check")}
              name={`${name}-${i}`}
              wrong={wrong}
              value={check}
              set={(to) => set({ checks: step.checks.map((one, at) => (at === i ? to : one)) })}
            />
          </div>
          <button
            type="button"
            class="button small-button"
            onClick={() => set({ checks: step.checks.filter((_, at) => at !== i) })}
          >
            {t("setup-remove")}
          </button>
        </div>
      ))}
      <button type="button" class="button small-button" onClick={() => set({ checks: [...step.checks, { text: "" }] })}>
        {t("setup-check-add")}
      </button>
    </fieldset>
  );
}
