// Sheets that a phone fetches when they are first opened, so that the first load stays small. All of
// them are in the shell cache: they open without a network too.
import type { ComponentChildren } from "preact";
import { useEffect } from "preact/hooks";
import { useSignal } from "@preact/signals";
import type { Card, Exception, Hold, Ms, Order, Span } from "../../api/types";
import { loadWords, t } from "../../state";
import { openSheet } from "../kit/sheet";

import type * as Sheets from "./index";

function Later({ of }: { of: (sheets: typeof Sheets) => ComponentChildren }) {
  const sheets = useSignal<typeof Sheets | "failed" | undefined>(undefined);
  useEffect(() => {
    Promise.all([import("./index"), loadWords("sheet")]).then(
      ([part]) => (sheets.value = part),
      () => (sheets.value = "failed"),
    );
  }, []);
  if (sheets.value === "failed") return <p>{t("part-not-here")}</p>;
  return <>{sheets.value ? of(sheets.value) : <p role="status">{t("loading")}</p>}</>;
}

const open = (title: string, of: (sheets: typeof Sheets) => ComponentChildren): void =>
  openSheet(title, <Later of={of} />);

export const openAsk = (order: Order, card?: Card): void =>
  open(t("ask-title", { number: order.number }), ({ Ask }) => <Ask order={order} card={card} />);
export const openNote = (order: Order, card?: Card): void =>
  open(t("note-title", { number: order.number }), ({ Note }) => <Note order={order} card={card} />);
export const openFound = (order: Order, card?: Card): void =>
  open(t("found-title", { number: order.number }), ({ FoundIt }) => <FoundIt order={order} card={card} />);
export const openMove = (order: Order): void =>
  open(t("move-title", { number: order.number }), ({ Move }) => <Move order={order} />);
export const openCondition = (order: Order): void =>
  open(t("condition-title", { number: order.number }), ({ Condition }) => <Condition order={order} />);
export const openHoldDue = (order: Order, hold: Hold): void =>
  open(t("hold-due-title", { number: order.number }), ({ HoldDue }) => <HoldDue order={order} hold={hold} />);
export const openHold = (order: Order): void =>
  open(t("hold-title", { number: order.number }), ({ HoldIt }) => <HoldIt order={order} />);
/** `offer`: the date that stands there first, in place of the one promised until now. */
export const openPromise = (order: Order, offer?: Ms): void =>
  open(t("promise-title", { number: order.number }), ({ Promised }) => <Promised order={order} offer={offer} />);
export const openStage = (order: Order): void =>
  open(t("stage-title", { number: order.number }), ({ Stages }) => <Stages order={order} />);
export const openPutFirst = (card: Card): void =>
  open(t("put-first-title"), ({ PutFirst }) => <PutFirst card={card} />);
export const openCorrect = (card: Card, span: Span): void =>
  open(t("correct-title"), ({ Correct }) => <Correct card={card} span={span} />);
export const openAnswer = (exception: Exception): void =>
  open(t("answer-title"), ({ Answer }) => <Answer exception={exception} />);
export const openAssign = (card: Card): void => open(t("assign-title"), ({ Assign }) => <Assign card={card} />);
export const openAddCard = (order: Order): void =>
  open(t("add-card-title", { number: order.number }), ({ AddCard }) => <AddCard order={order} />);
export const openCancel = (card: Card): void => open(t("cancel-title"), ({ CancelCard }) => <CancelCard card={card} />);
export const openStartOn = (card: Card): void => open(t("start-on-title"), ({ StartOn }) => <StartOn card={card} />);
export const openEquipment = (order?: Order): void =>
  open(t("equipment-title"), ({ EquipmentState }) => <EquipmentState order={order} />);
export const openWhy = (card: Card): void => open(t("why-title"), ({ Why }) => <Why card={card} />);
export const openEnergy = (order: Order): void =>
  open(t("energy-title", { number: order.number }), ({ HighVoltage }) => <HighVoltage order={order} />);
