// Working hours as lines of text: quicker than fourteen clocks, and readable as a timetable.
import type { Calendar } from "../../api/types";
import { calendars, now, t, words } from "../../state";
import { tongue, zone } from "../../text/names";
import { isoDay } from "../../text/zone";
import { DocForm } from "./form";
import {
  calendarText,
  parseShifts,
  readCalendar,
  shortWord,
  showMinutes,
  showShifts,
  workMinutes,
  type CalendarText,
} from "../../model/forms";
import { TextField, WordsField } from "../kit/fields";
import { ListPage, Missing } from "./page";

type Draft = CalendarText & { id: string };

export function Calendars({ chosen }: { chosen: string | undefined }) {
  const rows = [...calendars.value.values()]
    .sort((a, b) => words(a.title).localeCompare(words(b.title)))
    .map((one) => ({
      id: one.id,
      title: words(one.title),
      line: t("setup-calendar-week", { hours: hours(one.week.reduce((sum, day) => sum + workMinutes(day), 0)) }),
    }));
  return (
    <ListPage
      part="calendars"
      title={t("setup-calendars")}
      intro={t("setup-calendars-intro")}
      rows={rows}
      add={t("setup-calendars-add")}
      chosen={chosen}
    >
      {chosen && <CalendarForm key={chosen} id={chosen} />}
    </ListPage>
  );
}

const hours = (minutes: number): string => (minutes % 60 ? showMinutes(minutes) : String(minutes / 60));

/** A Monday of any year, to name the days of the week by. */
const MONDAY = Date.UTC(2026, 0, 5, 12);

function CalendarForm({ id }: { id: string }) {
  const isNew = id === "new";
  const found: Calendar | undefined = isNew
    ? { id: "new", title: { text: "" }, week: [[], [], [], [], [], [], []], days: {} }
    : calendars.value.get(id);
  if (!found) return <Missing />;
  const initial: Draft = { id: found.id, ...calendarText(found) };
  const dayName = new Intl.DateTimeFormat(tongue.value, { weekday: "long", timeZone: "UTC" });
  return (
    <DocForm
      part="calendars"
      heading={isNew ? t("setup-calendars-add") : words(found.title)}
      initial={initial}
      isNew={isNew}
      check={(value, at) => readCalendar(value.id, value, at, zone.value).wrong}
      kind="set_calendar"
      args={(value) => ({ calendar: readCalendar(value.id, value, now.peek(), zone.value).calendar })}
      named={(value) => ({
        ...value,
        id: shortWord(value.title.text, new Set([...calendars.value.keys(), "new"]), "calendar"),
      })}
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
          <fieldset class="week">
            <legend>{t("setup-week")}</legend>
            <p class="quiet small">{t("setup-week-hint")}</p>
            {value.week.map((line, day) => (
              <div key={day} class="week-day">
                <TextField
                  label={capital(dayName.format(MONDAY + day * 86_400_000))}
                  hint={understood(line)}
                  name={`week-${day}`}
                  wrong={wrong}
                  value={line}
                  set={(text) => set({ week: value.week.map((one, at) => (at === day ? text : one)) })}
                />
                {day === 0 && (
                  <button
                    type="button"
                    class="button small-button"
                    onClick={() => set({ week: value.week.map((one, at) => (at > 0 && at < 5 ? line : one)) })}
                  >
                    {t("setup-week-copy")}
                  </button>
                )}
              </div>
            ))}
          </fieldset>
          <fieldset class="periods">
            <legend>{t("setup-special-days")}</legend>
            <p class="quiet small">{t("setup-special-hint")}</p>
            {value.days.map((one, i) => {
              const change = (to: Partial<(typeof value.days)[number]>) =>
                set({ days: value.days.map((day, at) => (at === i ? { ...day, ...to } : day)) });
              return (
                <div key={i} class="period">
                  <TextField
                    label={t("setup-day")}
                    type="date"
                    name={`day-${i}`}
                    wrong={wrong}
                    value={one.date}
                    set={(date) => change({ date })}
                  />
                  <TextField
                    label={t("setup-hours")}
                    hint={understood(one.shifts)}
                    value={one.shifts}
                    set={(shifts) => change({ shifts })}
                  />
                  <button
                    type="button"
                    class="button small-button"
                    onClick={() => set({ days: value.days.filter((_, at) => at !== i) })}
                  >
                    {t("setup-remove")}
                  </button>
                </div>
              );
            })}
            <button
              type="button"
              class="button small-button"
              onClick={() => set({ days: [...value.days, { date: isoDay(now.peek(), zone.value), shifts: "" }] })}
            >
              {t("setup-special-add")}
            </button>
          </fieldset>
        </>
      )}
    </DocForm>
  );
}

/** What the line was read as, so that a slip shows before it is saved. */
function understood(line: string): string {
  const shifts = parseShifts(line);
  if (!Array.isArray(shifts)) return t("setup-shifts-unclear");
  if (shifts.length === 0) return t("setup-closed");
  const read = showShifts(shifts);
  const args = { shifts: read, hours: hours(workMinutes(shifts)) };
  return t(read === line.trim() ? "setup-shifts-hours" : "setup-shifts-read", args);
}

const capital = (word: string): string => word.charAt(0).toUpperCase() + word.slice(1);
