// One photo, large: with what people marked on it, without it, and marking it oneself.
import "./mark.css";
import { useEffect, useRef } from "preact/hooks";
import { useSignal } from "@preact/signals";
import { TITLE_CHARS_MAX } from "../../api/limits";
import type { Mark, MarkKind, Photo } from "../../api/types";
import { me, orders, photos, t } from "../../state";
import { useDraft } from "../kit/draft";
import { OneOf } from "../kit/choices";
import { perform } from "../kit/do";
import { photoSaid, whereIs } from "../kit/photo";
import { usePicture } from "../kit/picture";
import { at, person } from "../../text/sentences";
import { NotSent } from "../kit/card-head";
import type { ScreenProps } from "../kit/lazy";
import { back } from "../kit/router";
import { Marks } from "./draw";
import { drawn, end, moved, nearest, placed, WIDE, withEnd, type End, type Point } from "./geometry";

export default function PhotoPage({ params }: ScreenProps) {
  const photo = photos.value.get(params["id"] ?? "");
  const marking = useSignal(false);
  if (!photo) {
    return (
      <section class="page">
        <h1>{t("no-photo")}</h1>
        <button class="button" onClick={() => back("/")}>
          {t("back")}
        </button>
      </section>
    );
  }
  return marking.value ? (
    <Marking photo={photo} onEnd={() => (marking.value = false)} />
  ) : (
    <Looking photo={photo} onMark={() => (marking.value = true)} />
  );
}

/** Height of the picture where it is a thousand wide, once it is known. */
function useTall() {
  const tall = useSignal(0);
  const seen = (event: { currentTarget: HTMLImageElement }): void => {
    const { naturalWidth, naturalHeight } = event.currentTarget;
    if (naturalWidth) tall.value = Math.round((naturalHeight / naturalWidth) * WIDE);
  };
  return { tall, seen };
}

function Looking({ photo, onMark }: { photo: Photo; onMark: () => void }) {
  const { src, kept, failed } = usePicture(photo, true);
  const { tall, seen } = useTall();
  const shown = useSignal(true);
  const order = orders.value.get(photo.order);
  const marks = photo.marks ?? [];
  const where = whereIs(photo, kept);
  return (
    <section class="page wide photo-page">
      <h1>{t("photo-of", { number: order?.number ?? "?" })}</h1>
      <div class="beside-photo">
        {src ? (
          <figure class="photo-large" aria-busy={tall.value === 0}>
            <img src={src} alt={photoSaid(photo)} onLoad={seen} onError={failed} />
            {shown.value && tall.value > 0 && <Marks of={marks} tall={tall.value} />}
          </figure>
        ) : (
          <p class="picture-not-here">{where || t("photo-not-reached")}</p>
        )}
        <div class="stack">
          <p>{photoSaid(photo)}</p>
          {src && where && <p class="quiet">{where}</p>}
          {marks.map((own) => (
            <div key={own.by}>
              <p>{t("marked-by", { person: person(own.by), at: at(own.at), count: own.marks.length })}</p>
              {own.marks
                .filter((mark) => mark.text)
                .map((mark, i) => (
                  <p class="typed" key={i}>
                    “{mark.text}”
                  </p>
                ))}
            </div>
          ))}
          <NotSent of={`photo/${photo.id}`} />
          {src && (
            <button class="button main" onClick={onMark}>
              {t("mark")}
            </button>
          )}
          <div class="buttons">
            {marks.length > 0 && (
              <button class="button" aria-pressed={!shown.value} onClick={() => (shown.value = !shown.value)}>
                {t(shown.value ? "without-marks" : "with-marks")}
              </button>
            )}
            {order && (
              <a class="button" href={`/vehicle/${order.id}`}>
                {t("to-vehicle", { number: order.number })}
              </a>
            )}
          </div>
        </div>
      </div>
    </section>
  );
}

const KINDS: MarkKind[] = ["arrow", "circle", "text"];
const STEP = 100;

function Marking({ photo, onEnd }: { photo: Photo; onEnd: () => void }) {
  const { src, failed } = usePicture(photo, true);
  const { tall, seen } = useTall();
  const own = (photo.marks ?? []).find((one) => one.by === me.value?.person)?.marks ?? [];
  const others = (photo.marks ?? []).filter((one) => one.by !== me.value?.person);
  const draft = useDraft<{ marks: readonly Mark[] }>(`mark:${photo.id}`, { marks: own });
  const before = useRef<(readonly Mark[])[]>([]);
  const kind = useSignal<MarkKind>("arrow");
  const chosen = useSignal<number | undefined>(undefined);
  const picture = useRef<HTMLElement>(null);
  const marks = draft.value.value.marks;
  const mark = chosen.value === undefined ? undefined : marks[chosen.value];

  const change = (to: readonly Mark[]): void => draft.set({ marks: to });
  /** A step that Undo takes back. */
  const step = (to: readonly Mark[]): void => {
    before.current.push(marks);
    change(to);
  };
  const replace = (i: number, to: Mark): readonly Mark[] =>
    draft.value.peek().marks.map((one, j) => (j === i ? to : one));
  const add = (made: Mark): void => {
    step([...marks, made]);
    chosen.value = marks.length;
  };
  const undo = (): void => {
    const last = before.current.pop();
    chosen.value = undefined;
    if (last) change(last);
  };
  const save = async (): Promise<void> => {
    const whole = draft.value.peek().marks.filter((one) => one.kind !== "text" || one.text?.trim());
    if (!(await perform("mark_photo", { photo: photo.id, marks: whole }, t("did-mark")))) return;
    await draft.done();
    onEnd();
  };
  const pointAt = (event: PointerEvent): Point => {
    const box = (picture.current as HTMLElement).getBoundingClientRect();
    return placed({ x: (event.clientX - box.left) / box.width, y: (event.clientY - box.top) / box.height });
  };

  /** Draws while the finger goes on; another mark under it is taken hold of instead. */
  const begin = (event: PointerEvent): void => {
    if (event.button !== 0 || event.target instanceof HTMLButtonElement) return;
    event.preventDefault();
    const from = pointAt(event);
    const near = nearest(marks, from);
    const taken = near === undefined ? undefined : marks[near];
    if (near !== undefined && taken) {
      chosen.value = near;
      drag(event, (to) => replace(near, moved(taken, to.x - from.x, to.y - from.y)));
      return;
    }
    const i = marks.length;
    const text = kind.value === "text" ? { text: "" } : {};
    add({ ...drawn(kind.value, from, from), ...text });
    follow(event, (to) => change(replace(i, { ...drawn(kind.peek(), from, to), ...text })));
  };

  /** One step of Undo, however long the finger goes on. */
  const drag = (event: PointerEvent, to: (at: Point) => readonly Mark[]): void => {
    const was = marks;
    let begun = false;
    follow(event, (at) => {
      if (!begun) before.current.push(was);
      begun = true;
      change(to(at));
    });
  };

  const follow = (event: PointerEvent, go: (to: Point) => void): void => {
    const area = picture.current as HTMLElement;
    area.setPointerCapture(event.pointerId);
    const move = (next: PointerEvent): void => go(pointAt(next));
    const stop = (): void => {
      area.removeEventListener("pointermove", move);
      area.removeEventListener("pointerup", stop);
      area.removeEventListener("pointercancel", stop);
    };
    area.addEventListener("pointermove", move);
    area.addEventListener("pointerup", stop);
    area.addEventListener("pointercancel", stop);
  };

  const hold = (which: End) => (event: PointerEvent) => {
    event.preventDefault();
    event.stopPropagation();
    const i = chosen.peek();
    const now = i === undefined ? undefined : marks[i];
    if (i === undefined || !now) return;
    drag(event, (to) =>
      replace(i, now.kind === "text" ? moved(now, to.x - now.x1, to.y - now.y1) : withEnd(now, which, to)),
    );
  };

  const nudge = (which: End) => (event: KeyboardEvent) => {
    const i = chosen.peek();
    const by = (
      { ArrowLeft: [-STEP, 0], ArrowRight: [STEP, 0], ArrowUp: [0, -STEP], ArrowDown: [0, STEP] } as Record<
        string,
        [number, number]
      >
    )[event.key];
    if (i === undefined || !by || !mark) return;
    event.preventDefault();
    const was = end(mark, which);
    step(
      replace(
        i,
        mark.kind === "text" ? moved(mark, ...by) : withEnd(mark, which, { x: was.x + by[0], y: was.y + by[1] }),
      ),
    );
  };

  const words = useRef<HTMLInputElement>(null);
  useEffect(() => {
    if (mark?.kind === "text" && !mark.text) words.current?.focus();
  }, [chosen.value, mark?.kind]);

  return (
    <section class="page wide photo-page">
      <h1>{t("mark-title", { number: orders.value.get(photo.order)?.number ?? "?" })}</h1>
      <div class="beside-photo">
        {src && (
          <figure class="photo-large marking" aria-busy={tall.value === 0} ref={picture} onPointerDown={begin}>
            <img src={src} alt={photoSaid(photo)} draggable={false} onLoad={seen} onError={failed} />
            {tall.value > 0 && <Marks of={[...others, { marks: [...marks] }]} tall={tall.value} />}
            {mark &&
              ([1, 2] as const)
                .filter((which) => which === 1 || mark.kind !== "text")
                .map((which) => (
                  <button
                    key={which}
                    class="handle"
                    aria-label={t(`handle-${mark.kind}-${which}`)}
                    style={{ left: `${end(mark, which).x / 100}%`, top: `${end(mark, which).y / 100}%` }}
                    onPointerDown={hold(which)}
                    onKeyDown={nudge(which)}
                  />
                ))}
          </figure>
        )}
        <div class="stack">
          <OneOf<MarkKind>
            legend={t("mark-kind")}
            of={KINDS}
            words={(one) => t(`mark-${one}`)}
            value={kind.value}
            onChange={(to) => ((kind.value = to), (chosen.value = undefined))}
          />
          {mark?.kind === "text" && (
            <div class="field">
              <label>
                <span class="label">{t("mark-words")}</span>
                <input
                  ref={words}
                  value={mark.text ?? ""}
                  maxLength={TITLE_CHARS_MAX}
                  onInput={(event) =>
                    chosen.value !== undefined &&
                    change(replace(chosen.value, { ...mark, text: event.currentTarget.value }))
                  }
                />
              </label>
            </div>
          )}
          <div class="mark-end">
            <button class="button" disabled={!before.current.length} onClick={undo}>
              {t("undo")}
            </button>
            <button
              class="button main"
              disabled={JSON.stringify(marks) === JSON.stringify(own)}
              onClick={() => void save()}
            >
              {t("save")}
            </button>
          </div>
          <div class="buttons">
            <button
              class="button"
              onClick={() =>
                add({
                  ...drawn(kind.value, { x: 5_000, y: 5_000 }, { x: 5_000, y: 5_000 }),
                  ...(kind.value === "text" ? { text: "" } : {}),
                })
              }
            >
              {t("mark-middle")}
            </button>
            {mark && (
              <button
                class="button"
                onClick={() => (step(marks.filter((_, i) => i !== chosen.value)), (chosen.value = undefined))}
              >
                {t("mark-remove")}
              </button>
            )}
            <button class="button" onClick={() => void draft.done().then(onEnd)}>
              {t("mark-stop")}
            </button>
          </div>
          <p class="quiet">{t("mark-how")}</p>
        </div>
      </div>
    </section>
  );
}
