// People: who they are, what they may, and how they come in.
import { useSignal, useSignalEffect } from "@preact/signals";
import { auth, contact } from "../../api/client";
import type { Person, Role } from "../../api/types";
import { newId } from "../../core/ids";
import { ROLES } from "../../core/roles";
import { me, people, t } from "../../state";
import { departmentName, tongue, zone } from "../../text/names";
import { isoDay, parseLocal } from "../../text/zone";
import { named } from "../../text/sentences";
import { ComesFrom } from "../kit/sister-shops";
import { useDraft } from "../kit/draft";
import { Erase, Erased } from "./erase";
import { DocForm } from "./form";
import { NAME_CHARS_MAX } from "../../api/limits";
import { checkPerson } from "../../model/checks";
import { shortWord } from "../../model/forms";
import { atLeast, Choice, Periods, SelectField, TextField, Tick, Ticks } from "../kit/fields";
import { OneTimeLink } from "./one-time-link";
import { calendarOptions, departmentOptions, qualificationOptions } from "../kit/options";
import { ListPage, Missing } from "./page";

const PART = "people";

// A new person keeps its id while the form is filled in, so that a reload does not make a second one.
let fresh: string | undefined;

export function People({ chosen }: { chosen: string | undefined }) {
  const rows = [...people.value.values()]
    .sort((a, b) => a.name.localeCompare(b.name))
    .map((one) => ({
      id: one.id,
      title: one.name,
      line: one.erased_at ? t("setup-erased-line") : `${departmentName(one.department)}, ${t(`role-${one.role}`)}`,
      retired: one.retired,
    }));
  return (
    <ListPage
      part={PART}
      title={t("setup-people")}
      intro={t("setup-people-intro")}
      rows={rows}
      add={t("setup-people-add")}
      chosen={chosen}
    >
      {chosen && <PersonForm key={chosen} id={chosen} />}
    </ListPage>
  );
}

function PersonForm({ id }: { id: string }) {
  const isNew = id === "new";
  const person = isNew ? blank((fresh ??= newId())) : people.value.get(id);
  if (!person) return <Missing />;
  if (person.erased_at) return <Erased person={person} />;
  const qualifications = qualificationOptions();
  const tz = zone.value;
  return (
    <DocForm
      part={PART}
      heading={isNew ? t("setup-people-add") : person.name}
      initial={person}
      isNew={isNew}
      check={checkPerson}
      kind="set_person"
      args={(value) => {
        if (isNew) fresh = undefined;
        return { person: { ...value, name: value.name.trim() } };
      }}
      retire={{
        word: t("setup-people-left"),
        sure: t("setup-people-left-sure", { name: person.name }),
        back: t("setup-people-back"),
      }}
      below={
        <>
          {!isNew && atLeast("manager") && !person.retired && <AccessAndMail person={person} />}
          {!isNew && atLeast("admin") && person.id !== me.value?.person && <Erase person={person} />}
        </>
      }
    >
      {(value, set, wrong) => (
        <>
          <TextField
            label={t("setup-name")}
            name="name"
            wrong={wrong}
            value={value.name}
            required
            max={NAME_CHARS_MAX}
            set={(name) => set({ name })}
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
          <Ticks
            legend={t("setup-also")}
            hint={t("setup-also-hint")}
            options={departmentOptions().filter(([key]) => key !== value.department)}
            chosen={value.also}
            set={(also) => set({ also })}
          />
          <Choice
            legend={t("setup-role")}
            value={value.role}
            set={(role) => set({ role: role as Role })}
            options={ROLES.filter((role) => role !== "admin" || value.role === "admin" || atLeast("admin")).map(
              (role) => [role, t(`role-${role}`), t(`role-may-${role}`)],
            )}
          />
          <Choice
            legend={t("setup-language")}
            value={value.language}
            set={(language) => set({ language })}
            options={[
              ["en", "English"],
              ["es", "Español"],
            ]}
          />
          <SelectField
            label={t("setup-calendar")}
            value={value.calendar ?? ""}
            none={t("setup-calendar-of-department")}
            options={calendarOptions()}
            set={(calendar) => set({ calendar: calendar || undefined })}
          />
          <fieldset class="periods">
            <legend>{t("setup-qualifications")}</legend>
            <p class="quiet small">{t("setup-qualifications-hint")}</p>
            {Object.entries(value.qualifications).map(([word, until]) => (
              <div key={word} class="period">
                <p class="grow">
                  <b>{named("qualification", word)}</b>
                </p>
                <TextField
                  name={`qualification-${word}`}
                  wrong={wrong}
                  label={t("setup-valid-until")}
                  type="date"
                  value={until ? isoDay(until, tz) : ""}
                  set={(text) =>
                    set({ qualifications: { ...value.qualifications, [word]: parseLocal(text, tz) ?? null } })
                  }
                />
                <button
                  type="button"
                  class="button small-button"
                  onClick={() =>
                    set({
                      qualifications: Object.fromEntries(
                        Object.entries(value.qualifications).filter(([one]) => one !== word),
                      ),
                    })
                  }
                >
                  {t("setup-remove")}
                </button>
              </div>
            ))}
            <AddQualification
              options={qualifications.filter(([word]) => !(word in value.qualifications))}
              add={(word) => set({ qualifications: { ...value.qualifications, [word]: null } })}
            />
          </fieldset>
          <Periods
            legend={t("setup-away")}
            name="away"
            wrong={wrong}
            value={value.away}
            set={(away) => set({ away })}
            add={t("setup-away-add")}
          />
        </>
      )}
    </DocForm>
  );
}

function AddQualification({ options, add }: { options: [string, string][]; add: (word: string) => void }) {
  const text = useSignal("");
  const put = (): void => {
    const known = options.find(([, label]) => label === text.value.trim());
    const word = known?.[0] ?? (text.value.trim() ? shortWord(text.value) : "");
    if (word) add(word);
    text.value = "";
  };
  return (
    <div class="beside add-line">
      <div class="grow">
        <TextField
          label={t("setup-qualification-add")}
          value={text.value}
          list={options.map(([, label]) => label)}
          set={(to) => (text.value = to)}
        />
      </div>
      <button type="button" class="button" onClick={put}>
        {t("setup-add")}
      </button>
    </div>
  );
}

function blank(id: string): Person {
  return {
    id,
    name: "",
    department: "",
    also: [],
    role: "technician",
    language: tongue.peek(),
    qualifications: {},
    away: [],
    retired: false,
  };
}

/** Sign-in and e-mail travel on their own roads, only while the server is reached. */
function AccessAndMail({ person }: { person: Person }) {
  return (
    <div class="stack">
      <Invite person={person} />
      <Contact person={person} />
      <ComesFrom person={person.id} />
    </div>
  );
}

function Invite({ person }: { person: Person }) {
  // For oneself it is asked whether it is oneself, and there is one place for that.
  if (me.value?.person === person.id) {
    return (
      <section class="stack">
        <h2>{t("setup-invite")}</h2>
        <p>
          {t("setup-invite-self")} <a href="/me">{t("other-phone")}</a>
        </p>
      </section>
    );
  }
  return (
    <OneTimeLink
      title={t("setup-invite")}
      intro={t("setup-invite-intro", { name: person.name })}
      make={() => auth.invite(person.id)}
      scan={(time) => t("setup-invite-scan", { name: person.name, time })}
      once={t("setup-invite-once")}
    />
  );
}

function Contact({ person }: { person: Person }) {
  const kept = useSignal({ email: "", mail: false });
  const draft = useDraft(`contact/${person.id}`, kept.value);
  const { email, mail } = draft.value.value;
  const state = useSignal<"loading" | "ready" | "saved" | { failed: string }>("loading");
  useSignalEffect(() => {
    contact.get(person.id).then(
      (got) => {
        kept.value = { email: got.email ?? "", mail: got.mail };
        state.value = "ready";
      },
      (error: unknown) => {
        state.value = { failed: (error as Error).message };
      },
    );
  });
  const save = (event: Event): void => {
    event.preventDefault();
    const to = email.trim();
    if (to && !/^\S+@\S+\.\S+$/.test(to)) {
      state.value = { failed: t("setup-wrong-email") };
      return;
    }
    contact.put(person.id, { ...(to ? { email: to } : {}), mail: mail && !!to }).then(
      () => {
        kept.value = { email: to, mail: mail && !!to };
        void draft.done(kept.value);
        state.value = "saved";
      },
      (error: unknown) => {
        state.value = { failed: (error as Error).message };
      },
    );
  };
  return (
    <form class="stack" noValidate onSubmit={save}>
      <h2>{t("setup-contact")}</h2>
      <p class="quiet">{t("setup-contact-intro")}</p>
      <TextField label={t("setup-email")} type="email" value={email} set={(to) => draft.set({ email: to })} />
      <Tick label={t("setup-email-wanted")} checked={mail} set={(on) => draft.set({ mail: on })} />
      {typeof state.value === "object" && (
        <p class="notice-line bad" role="alert">
          {state.value.failed}
        </p>
      )}
      {state.value === "saved" && (
        <p class="notice-line" role="status">
          {t("setup-saved")}
        </p>
      )}
      <div class="buttons">
        <button class="button" type="submit">
          {t("setup-contact-save")}
        </button>
      </div>
    </form>
  );
}
