// One document in a form: draft, check, save, and what became of it.
import { signal, useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useRef } from "preact/hooks";
import type { Acts, Kind, Ms } from "../../api/types";
import { now, t } from "../../state";
import { go } from "../kit/router";
import { useDraft } from "../kit/draft";
import type { Wrong } from "../../model/checks";
import { atLeast, FormEnd, showFirst, useSaving } from "../kit/fields";

export interface DocFormProps<T extends { id: string }, K extends Kind> {
  part: string;
  heading: string;
  /** As it stands, or as a new one begins. */
  initial: T;
  isNew: boolean;
  check: (value: T, now: Ms) => Wrong;
  kind: K;
  args: (value: T) => Acts[K];
  /** Gives a new one its name; existing ones keep theirs. */
  named?: (value: T) => T;
  children: (value: T, set: (change: Partial<T>) => void, wrong: Wrong) => ComponentChildren;
  /** Words for taking it out of use; none where it cannot be. */
  retire?: { word: string; sure: string; back: string };
  below?: ComponentChildren;
}

/** The last operation that saved each document: a new one moves to its own address and still says so. */
const savedBy = signal<Readonly<Record<string, string>>>({});

export function DocForm<T extends { id: string; retired?: boolean }, K extends Kind>(props: DocFormProps<T, K>) {
  const { initial, isNew, check, kind, args, named, part } = props;
  const draft = useDraft(`${part}/${isNew ? "new" : initial.id}`, initial);
  const saving = useSaving();
  const tried = useSignal(false);
  const sure = useSignal(false);
  const form = useRef<HTMLFormElement>(null);
  const value = draft.value.value;
  const wrong = check(value, now.peek());
  const shown = tried.value ? wrong : {};

  const save = async (to: T): Promise<void> => {
    const final = isNew && named ? named(to) : to;
    const op = await saving.save(kind, args(final));
    if (!op) return;
    savedBy.value = { ...savedBy.peek(), [`${part}/${final.id}`]: op };
    tried.value = false;
    sure.value = false;
    await draft.done(isNew ? initial : final);
    if (isNew) go(`/setup/${part}/${final.id}`, true);
  };
  const submit = (event: Event): void => {
    event.preventDefault();
    tried.value = true;
    if (Object.keys(wrong).length > 0) {
      if (form.current) showFirst(form.current, wrong);
      return;
    }
    void save(value);
  };
  return (
    <>
      <form class="stack" noValidate ref={form} onSubmit={submit}>
        <h2>{props.heading}</h2>
        {props.children(value, draft.set, shown)}
        <FormEnd
          saving={saving}
          op={isNew ? undefined : savedBy.value[`${part}/${initial.id}`]}
          wrong={wrong}
          tried={tried.value}
          changed={draft.changed}
          discard={() => void draft.done(initial)}
        />
      </form>
      {props.below}
      {props.retire && !isNew && atLeast("manager") && (
        <div class="retire">
          {value.retired ? (
            <button class="button small-button" onClick={() => void save({ ...initial, retired: false })}>
              {props.retire.back}
            </button>
          ) : sure.value ? (
            <>
              <p>{props.retire.sure}</p>
              <div class="buttons">
                <button class="button" onClick={() => void save({ ...initial, retired: true })}>
                  {props.retire.word}
                </button>
                <button class="button plain" onClick={() => (sure.value = false)}>
                  {t("setup-rather-not")}
                </button>
              </div>
            </>
          ) : (
            <button class="button small-button" onClick={() => (sure.value = true)}>
              {props.retire.word} …
            </button>
          )}
        </div>
      )}
    </>
  );
}
