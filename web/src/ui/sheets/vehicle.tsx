// What happens to the vehicle: moved, changed, found, noted.
import type { Card, ConditionChange, End, Found, LiftingPoints, Loose, Order, StandsOn } from "../../api/types";
import { NOTE_CHARS_MAX, TITLE_CHARS_MAX } from "../../api/limits";
import { changeCondition } from "../../core/effects";
import { equipment, places, t, words } from "../../state";
import { Camera } from "../kit/camera";
import { AnyOf, OneOf } from "../kit/choices";
import { perform } from "../kit/do";
import { useDraft } from "../kit/draft";
import type { SignName } from "../../model/signs";
import { place } from "../../text/sentences";

export const LOOSE: Loose[] = [
  "battery_off",
  "airbags_off",
  "high_voltage_off",
  "fuel_drained",
  "coolant_drained",
  "brakes_open",
  "refrigerant_out",
  "suspension_loose",
  "steering_loose",
  "trim_out",
  "seats_out",
  "glass_out",
];
const FOUND: Found[] = [
  "seized",
  "damaged",
  "one_time_fasteners",
  "missing_part",
  "wrong_part",
  "corrosion",
  "alignment_owed",
  "calibration_owed",
  "other",
];

/** Two taps: "Move", then where to. */
export function Move({ order }: { order: Order }) {
  const all = [...places.value.values()].filter((one) => !one.retired && one.id !== order.condition.place);
  const go = (to: string): unknown => {
    const on = standsOn(order, to);
    return perform(
      "move",
      { order: order.id, to, ...(on ? { on } : {}) },
      t("did-move", { number: order.number, place: place(to) }),
    );
  };
  return (
    <div class="stack">
      {order.open.length > 0 && <p class="notice-line">{t("move-while-open")}</p>}
      <div class="buttons">
        {all.map((one) => (
          <button class="button" key={one.id} onClick={() => void go(one.id)}>
            {words(one.title)}
          </button>
        ))}
      </div>
      {!all.length && <p class="quiet">{t("no-places")}</p>}
    </div>
  );
}

/** On a lift it stands on the lift; off one, on its wheels where it rolls, else on dollies. */
function standsOn(order: Order, to: string): StandsOn | undefined {
  const isLift = (at: string | null | undefined): boolean => {
    const on = at ? places.value.get(at)?.equipment : undefined;
    return on != null && equipment.value.get(on)?.kind === "lift";
  };
  if (isLift(to)) return "lift";
  if (order.condition.on !== "lift") return undefined;
  return order.condition.rolls === false ? "dollies" : "wheels";
}

type YesNo = "yes" | "no";
const yesNo = (is: boolean | null | undefined): YesNo | undefined => (is == null ? undefined : is ? "yes" : "no");

interface Choosing {
  order: Order;
  change: ConditionChange;
  set: (to: ConditionChange) => void;
}

/** The facts as choices; what is not touched stays as it is. */
export function Facts({ order, change, set }: Choosing) {
  return (
    <>
      {(["rolls", "steers", "brakes", "points", "weight", "loose"] as const).map((of) => (
        <FactChoices key={of} of={of} order={order} change={change} set={set} />
      ))}
    </>
  );
}

/** Nothing said of it: it stays as it is on the vehicle. */
function said<F extends keyof ConditionChange>(
  change: ConditionChange,
  field: F,
  to: ConditionChange[F] | undefined,
): ConditionChange {
  const { [field]: _, ...others } = change;
  return (to === undefined ? others : { ...change, [field]: to }) as ConditionChange;
}

/** What can be said of one fact: also that it is not known, as long as it is not. */
export function FactChoices({ of, order, change, set }: Choosing & { of: SignName | "brakes" }) {
  const now = changeCondition(order.condition, change);
  switch (of) {
    case "points":
      return (
        <OneOf<LiftingPoints | "unknown">
          legend={t("fact-points")}
          of={["sound", "doubtful", "damaged", ...(order.condition.lifting_points == null ? ["unknown" as const] : [])]}
          words={(one) => (one === "unknown" ? t("not-known") : t(`points-${one}`))}
          value={now.lifting_points ?? "unknown"}
          onChange={(to) => set(said(change, "lifting_points", to === "unknown" ? undefined : to))}
        />
      );
    case "weight":
      return (
        <AnyOf<End>
          legend={t("fact-weight")}
          of={["front", "rear"]}
          words={(one) => t(`end-${one}`)}
          value={now.weight_off}
          onChange={(weight_off) => set({ ...change, weight_off })}
        />
      );
    case "loose":
      return (
        <AnyOf<Loose>
          legend={t("fact-loose")}
          of={LOOSE}
          words={(one) => t(`loose-${one}`)}
          value={now.loose}
          onChange={(loose) => set({ ...change, loose })}
        />
      );
    default:
      return (
        <OneOf<YesNo | "unknown">
          legend={t(`fact-${of}`)}
          of={["yes", "no", ...(order.condition[of] == null ? ["unknown" as const] : [])]}
          words={(one) => (one === "unknown" ? t("not-known") : t(one))}
          value={yesNo(now[of]) ?? "unknown"}
          onChange={(to) => set(said(change, of, to === "unknown" ? undefined : to === "yes"))}
        />
      );
  }
}

export function Condition({ order }: { order: Order }) {
  const draft = useDraft<{ change: ConditionChange }>(`condition:${order.id}`, { change: {} });
  const { change } = draft.value.value;
  const set = (to: ConditionChange): void => draft.set({ change: to });
  const send = async (): Promise<void> => {
    if (await perform("condition", { order: order.id, change }, t("did-condition", { number: order.number })))
      await draft.done();
  };
  return (
    <div class="stack">
      <OneOf<StandsOn>
        legend={t("fact-on")}
        of={["wheels", "dollies", "stands", "lift"]}
        words={(one) => t(`on-${one}`)}
        value={change.on ?? order.condition.on ?? undefined}
        onChange={(on) => set({ ...change, on })}
      />
      <Facts order={order} change={change} set={set} />
      <Line
        label={t("where-bolts")}
        value={change.bolts ?? order.condition.bolts ?? ""}
        onInput={(bolts) => set({ ...change, bolts })}
      />
      <Line
        label={t("where-keys")}
        value={change.keys ?? order.condition.keys ?? ""}
        onInput={(keys) => set({ ...change, keys })}
      />
      <button class="button main" disabled={!Object.keys(change).length} onClick={() => void send()}>
        {t("save")}
      </button>
    </div>
  );
}

export function Line({ label, value, onInput }: { label: string; value: string; onInput: (to: string) => void }) {
  return (
    <div class="field">
      <label>
        <span class="label">{label}</span>
        <input value={value} maxLength={TITLE_CHARS_MAX} onInput={(event) => onInput(event.currentTarget.value)} />
      </label>
    </div>
  );
}

export function Text({ label, value, onInput }: { label: string; value: string; onInput: (to: string) => void }) {
  return (
    <div class="field">
      <label>
        <span class="label">{label}</span>
        <textarea
          value={value}
          maxLength={NOTE_CHARS_MAX}
          rows={3}
          onInput={(event) => onInput(event.currentTarget.value)}
        />
      </label>
    </div>
  );
}

export function Note({ order, card }: { order: Order; card?: Card | undefined }) {
  const draft = useDraft(`note:${order.id}:${card?.id ?? ""}`, { body: "" });
  const { body } = draft.value.value;
  const send = async (): Promise<void> => {
    if (
      await perform("note", { order: order.id, ...(card ? { card: card.id } : {}), body: body.trim() }, t("did-note"))
    )
      await draft.done();
  };
  return (
    <div class="stack">
      <Text label={t("note")} value={body} onInput={(to) => draft.set({ body: to })} />
      <Camera order={order.id} card={card?.id} />
      <button class="button main" disabled={!body.trim()} onClick={() => void send()}>
        {t("save")}
      </button>
    </div>
  );
}

export function FoundIt({ order, card }: { order: Order; card?: Card | undefined }) {
  const draft = useDraft<{ what?: Found; note: string }>(`found:${order.id}`, { note: "" });
  const { what, note } = draft.value.value;
  const send = async (): Promise<void> => {
    if (!what) return;
    const args = {
      order: order.id,
      ...(card ? { card: card.id } : {}),
      what,
      ...(note.trim() ? { note: note.trim() } : {}),
    };
    if (await perform("found", args, t("did-found"))) await draft.done();
  };
  return (
    <div class="stack">
      <OneOf
        legend={t("found-what")}
        of={FOUND}
        words={(one) => t(`found-${one}`)}
        value={what}
        onChange={(to) => draft.set({ what: to })}
      />
      <Text label={t("in-own-words")} value={note} onInput={(to) => draft.set({ note: to })} />
      <Camera order={order.id} card={card?.id} />
      <button class="button main" disabled={!what} onClick={() => void send()}>
        {t("save")}
      </button>
    </div>
  );
}
