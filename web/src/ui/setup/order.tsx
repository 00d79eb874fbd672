// A new repair order: one visit of one vehicle.
import { useSignal } from "@preact/signals";
import { useRef } from "preact/hooks";
import type { OpenOrder } from "../../api/types";
import { now, orders, t } from "../../state";
import { chosen, look, offered } from "../../text/looks";
import { tongue, zone } from "../../text/names";
import { language } from "../../text/words";
import { date } from "../../text/time";
import { parseLocal } from "../../text/zone";
import { go } from "../kit/router";
import { useDraft } from "../kit/draft";
import { NUMBER_CHARS_MAX, TITLE_CHARS_MAX, VIN_CHARS_MAX } from "../../api/limits";
import { checkOpenOrder, type Wrong } from "../../model/checks";
import { vinDoubt } from "../../model/forms";
import { atLeast, Choice, FormEnd, SelectField, showFirst, TextField, Tick, Ticks, useSaving } from "../kit/fields";
import { placeOptions, routingOptions } from "../kit/options";

interface Typed {
  number: string;
  vehicle: string;
  vin: string;
  here: "here" | "expected";
  expected: string;
  towed: boolean;
  promise: string;
  weight: string;
  weightReason: string;
  place: string;
  voltage: "none" | "live" | "isolated";
  bakeCelsius: string;
  bakeMinutes: string;
  sold: string;
  routings: string[];
}

const BLANK: Typed = {
  number: "",
  vehicle: "",
  vin: "",
  here: "here",
  expected: "",
  towed: false,
  promise: "",
  weight: "2",
  weightReason: "",
  place: "",
  voltage: "none",
  bakeCelsius: "",
  bakeMinutes: "",
  sold: "",
  routings: [],
};

const number = (text: string): number => Number(text.trim().replace(",", "."));

function check(typed: Typed, tz: string): Wrong {
  const wrong = checkOpenOrder(order(typed, tz), now.peek());
  if ([...orders.value.values()].some((one) => one.number === typed.number.trim() && one.stage !== "delivered"))
    wrong["number"] = { key: "setup-wrong-number-taken", args: { number: typed.number.trim() } };
  if (typed.here === "expected" && parseLocal(typed.expected, tz) === undefined)
    wrong["expected"] = { key: "setup-wrong-date" };
  if (typed.promise) {
    const due = parseLocal(typed.promise, tz);
    if (due === undefined) wrong["promise"] = { key: "setup-wrong-date" };
    else if (due < now.peek()) wrong["promise"] = { key: "setup-wrong-promise-past" };
  }
  if (typed.weight !== "2" && !typed.weightReason.trim()) wrong["weightReason"] = { key: "setup-wrong-weight-reason" };
  if (typed.sold.trim() && !(number(typed.sold) > 0)) wrong["sold"] = { key: "setup-wrong-hours" };
  return wrong;
}

function order(typed: Typed, tz: string): OpenOrder {
  const vin = typed.vin.trim().toUpperCase();
  const sold = typed.sold.trim() ? Math.round(number(typed.sold) * 60) : undefined;
  return {
    number: typed.number.trim(),
    vehicle: typed.vehicle.trim(),
    ...(vin ? { vin } : {}),
    towed_in: typed.towed,
    weight: Number(typed.weight),
    stage: typed.here === "here" ? "arrived" : "expected",
    ...(typed.here === "expected" ? { expected_at: parseLocal(typed.expected, tz) } : {}),
    ...(typed.promise ? { promise: parseLocal(typed.promise, tz) } : {}),
    ...(typed.place && typed.here === "here" ? { place: typed.place } : {}),
    ...(typed.voltage !== "none"
      ? {
          energy: {
            high_voltage: typed.voltage,
            ...(typed.bakeCelsius.trim() ? { bake_limit_celsius: Math.round(number(typed.bakeCelsius)) } : {}),
            ...(typed.bakeMinutes.trim() ? { bake_limit_minutes: Math.round(number(typed.bakeMinutes)) } : {}),
          },
        }
      : {}),
    ...(sold ? { sold_minutes: sold } : {}),
    routings: typed.routings,
  };
}

export function NewOrder() {
  const draft = useDraft("order", BLANK);
  const saving = useSaving();
  const tried = useSignal(false);
  const form = useRef<HTMLFormElement>(null);
  const tz = zone.value;
  const typed = draft.value.value;
  const wrong = check(typed, tz);
  const shown = tried.value ? wrong : {};
  const doubt = typed.vin.trim() ? vinDoubt(typed.vin) : undefined;
  const routings = routingOptions();
  // Named in the order in which they were chosen: that is the order in which they are laid out.
  const chosen = typed.routings.map((id) => routings.find(([key]) => key === id)?.[1] ?? id);
  const promised = typed.promise ? parseLocal(typed.promise, tz) : undefined;

  const submit = async (event: Event): Promise<void> => {
    event.preventDefault();
    tried.value = true;
    if (Object.keys(wrong).length) {
      if (form.current) showFirst(form.current, wrong);
      return;
    }
    const id = await saving.save("open_order", order(typed, tz));
    if (!id) return;
    if (typed.weight !== "2")
      await saving.save("edit_order", { order: id, change: { weight_reason: typed.weightReason.trim() } });
    await draft.done(BLANK);
    go(`/vehicle/${id}`);
  };
  if (!atLeast("planner")) return <p class="notice-line">{t("setup-order-planners")}</p>;
  return (
    <form class="stack setup-form alone" noValidate ref={form} onSubmit={(event) => void submit(event)}>
      <h2>{t("setup-order")}</h2>
      <TextField
        label={t("setup-order-number")}
        name="number"
        wrong={shown}
        required
        max={NUMBER_CHARS_MAX}
        value={typed.number}
        set={(to) => draft.set({ number: to })}
      />
      <Seen typed={typed.vehicle} set={(vehicle) => draft.set({ vehicle })} />
      <TextField
        label={t("setup-order-vehicle")}
        hint={t("setup-order-vehicle-hint")}
        name="vehicle"
        wrong={shown}
        required
        max={TITLE_CHARS_MAX}
        value={typed.vehicle}
        set={(vehicle) => draft.set({ vehicle })}
      />
      <TextField
        label={t("setup-order-vin")}
        name="vin"
        wrong={shown}
        value={typed.vin}
        max={VIN_CHARS_MAX}
        set={(vin) => draft.set({ vin })}
      />
      {doubt && <p class="notice-line">{t(`setup-vin-${doubt}`)}</p>}
      <Choice
        legend={t("setup-order-here")}
        value={typed.here}
        set={(here) => draft.set({ here: here as Typed["here"] })}
        options={[
          ["here", t("setup-order-arrived")],
          ["expected", t("setup-order-expected")],
        ]}
      />
      {typed.here === "expected" ? (
        <TextField
          label={t("setup-order-expected-at")}
          name="expected"
          wrong={shown}
          type="datetime-local"
          value={typed.expected}
          set={(expected) => draft.set({ expected })}
        />
      ) : (
        <SelectField
          label={t("setup-order-place")}
          value={typed.place}
          none={t("setup-order-place-unknown")}
          options={placeOptions()}
          set={(place) => draft.set({ place })}
        />
      )}
      <Tick label={t("setup-order-towed")} checked={typed.towed} set={(towed) => draft.set({ towed })} />
      <TextField
        label={t("setup-order-promise")}
        hint={promised === undefined ? t("setup-order-promise-hint") : date(promised, tongue.value, tz, now.value)}
        name="promise"
        wrong={shown}
        type="datetime-local"
        value={typed.promise}
        set={(promise) => draft.set({ promise })}
      />
      <Ticks
        legend={t("setup-order-routings")}
        hint={
          chosen.length
            ? t("setup-order-routings-chosen", { list: chosen.join(" → ") })
            : t("setup-order-routings-hint")
        }
        options={routings}
        chosen={typed.routings}
        set={(to) => draft.set({ routings: to })}
      />
      {shown["routings"] && <p class="late">{t(shown["routings"].key, shown["routings"].args)}</p>}
      <TextField
        label={t("setup-order-sold")}
        hint={t("setup-order-sold-hint")}
        name="sold"
        wrong={shown}
        inputMode="decimal"
        value={typed.sold}
        set={(sold) => draft.set({ sold })}
      />
      <Choice
        legend={t("setup-order-weight")}
        value={typed.weight}
        set={(weight) => draft.set({ weight })}
        options={[
          ["1", t("setup-weight-1")],
          ["2", t("setup-weight-2")],
          ["4", t("setup-weight-4")],
        ]}
      />
      {typed.weight !== "2" && (
        <TextField
          label={t("setup-order-weight-reason")}
          name="weightReason"
          wrong={shown}
          max={TITLE_CHARS_MAX}
          value={typed.weightReason}
          set={(weightReason) => draft.set({ weightReason })}
        />
      )}
      <Choice
        legend={t("setup-order-voltage")}
        value={typed.voltage}
        set={(voltage) => draft.set({ voltage: voltage as Typed["voltage"] })}
        options={[
          ["none", t("setup-voltage-none")],
          ["live", t("setup-voltage-live")],
          ["isolated", t("setup-voltage-isolated")],
        ]}
      />
      {typed.voltage !== "none" && (
        <>
          <p class="caution">
            <svg viewBox="0 0 40 36" width="40" height="36" aria-hidden="true">
              <path d="M20 2 38 34H2Z" class="sign" />
              <path d="M20 12v11M20 27v4" class="sign-mark" />
            </svg>
            <span>{t("setup-voltage-caution")}</span>
          </p>
          <div class="two">
            <TextField
              label={t("setup-bake-celsius")}
              name="bakeCelsius"
              wrong={shown}
              inputMode="numeric"
              value={typed.bakeCelsius}
              set={(bakeCelsius) => draft.set({ bakeCelsius })}
            />
            <TextField
              label={t("setup-bake-minutes")}
              name="bakeMinutes"
              wrong={shown}
              inputMode="numeric"
              value={typed.bakeMinutes}
              set={(bakeMinutes) => draft.set({ bakeMinutes })}
            />
          </div>
        </>
      )}
      <FormEnd
        saving={saving}
        wrong={wrong}
        tried={tried.value}
        changed={draft.changed}
        discard={() => void draft.done(BLANK)}
        label={t("setup-order-open")}
      />
    </form>
  );
}

/** Colour and shape by choosing, so that they are known in every language; more words can be typed below. */
function Seen({ typed, set }: { typed: string; set: (vehicle: string) => void }) {
  const { colours, shapes } = offered(language.value);
  const known = chosen(typed);
  // Who has typed more words than these does not lose them by choosing.
  if (!known) return null;
  const { colour, shape } = known;
  const write = (one: string, other: string): void =>
    set(look([one, other].filter(Boolean).join(" "), language.value).said);
  return (
    <>
      <SelectField
        label={t("setup-order-colour")}
        value={colour}
        none={t("setup-order-other")}
        options={colours}
        set={(to) => write(to, shape)}
      />
      <SelectField
        label={t("setup-order-shape")}
        value={shape}
        none={t("setup-order-other")}
        options={shapes}
        set={(to) => write(colour, to)}
      />
    </>
  );
}
