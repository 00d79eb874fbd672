// A question that comes up over the page, and a word after every act with the way back.
import type { ComponentChildren } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { signal } from "@preact/signals";
import { t } from "../../state";

const shown = signal<{ title: string; body: ComponentChildren } | undefined>(undefined);
const said = signal<{ text: string; undo?: () => unknown; key: number } | undefined>(undefined);
let timer: ReturnType<typeof setTimeout> | undefined;
let count = 0;

export function openSheet(title: string, body: ComponentChildren): void {
  shown.value = { title, body };
}

export function closeSheet(): void {
  shown.value = undefined;
}

const UNDO_MS = 10_000;

/** Says what was done; for ten seconds it can be taken back. What it returns says it in other words, if it stands there still. */
export function say(text: string, undo?: () => unknown): (instead: string) => void {
  clearTimeout(timer);
  const key = ++count;
  said.value = { text, key, ...(undo ? { undo } : {}) };
  timer = setTimeout(() => (said.value = undefined), UNDO_MS);
  return (instead) => {
    const now = said.peek();
    if (now?.key === key) said.value = { ...now, text: instead };
  };
}

export function SheetHost() {
  const box = useRef<HTMLDialogElement>(null);
  const now = shown.value;
  useEffect(() => {
    const dialog = box.current;
    if (now && dialog && !dialog.open) dialog.showModal();
    if (!now && dialog?.open) dialog.close();
    if (now) dialog?.scrollTo(0, 0);
  }, [now]);
  return (
    <dialog
      class="sheet"
      ref={box}
      aria-labelledby="sheet-title"
      onClose={closeSheet}
      onClick={(event) => event.target === box.current && closeSheet()}
    >
      {now && (
        <div class="stack">
          <div class="apart">
            <h2 id="sheet-title" class="bare" tabIndex={-1}>
              {now.title}
            </h2>
            <button class="button plain" onClick={closeSheet}>
              {t("close")}
            </button>
          </div>
          {now.body}
          <Line />
        </div>
      )}
    </dialog>
  );
}

/** Over the page; while a sheet lies over the page, in the sheet. */
export function Said() {
  return shown.value ? null : <Line />;
}

function Line() {
  const now = said.value;
  return (
    <div class="said" role="status" aria-live="polite">
      {now && (
        <div class="said-line" key={now.key}>
          <span>{now.text}</span>
          {now.undo && (
            <button
              class="button"
              onClick={() => {
                said.value = undefined;
                now.undo?.();
              }}
            >
              {t("undo")}
            </button>
          )}
        </div>
      )}
    </div>
  );
}
