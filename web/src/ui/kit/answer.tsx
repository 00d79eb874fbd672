// Answering an exception: a named person gives a reason, and it stands in the log.
import { useSignal } from "@preact/signals";
import type { Exception } from "../../api/types";
import { isAtLeast } from "../../core/roles";
import { act, me, t } from "../../state";
import { useDraft } from "./session-draft";

export function Answer({ exception }: { exception: Exception }) {
  const open = useSignal(false);
  const wrong = useSignal<string | undefined>(undefined);
  const draft = useDraft(`answer/${exception.id}`, { reason: "" });
  const who = me.value;
  if (!who || !(exception.owner === who.person || isAtLeast(who.role, "planner"))) return null;
  const field = `answer-${exception.id}`;
  if (!open.value && !draft.changed) {
    return (
      <button class="button small-button no-print" onClick={() => (open.value = true)}>
        {t("shop-answer")}
      </button>
    );
  }
  const send = async (event: Event): Promise<void> => {
    event.preventDefault();
    const reason = draft.value.value.reason.trim();
    if (!reason) {
      wrong.value = t("shop-answer-needs-reason");
      document.getElementById(field)?.focus();
      return;
    }
    try {
      await act("answer", { exception: exception.id, reason });
      draft.reset({ reason: "" });
      open.value = false;
    } catch (error) {
      wrong.value = error instanceof Error ? error.message : String(error);
    }
  };
  return (
    <form class="stack-small no-print" onSubmit={(event) => void send(event)}>
      <div class="field">
        <label for={field}>{t("shop-answer-reason")}</label>
        <textarea
          id={field}
          value={draft.value.value.reason}
          maxLength={2000}
          aria-invalid={wrong.value ? "true" : undefined}
          aria-describedby={wrong.value ? `${field}-wrong` : undefined}
          onInput={(event) => draft.set({ reason: event.currentTarget.value })}
        />
        {wrong.value && (
          <p id={`${field}-wrong`} class="late" role="alert">
            {wrong.value}
          </p>
        )}
      </div>
      <div class="buttons">
        <button class="button" type="submit">
          {t("shop-answer-send")}
        </button>
        <button class="button plain" type="button" onClick={() => ((open.value = false), draft.reset({ reason: "" }))}>
          {t("shop-answer-not")}
        </button>
      </div>
    </form>
  );
}
