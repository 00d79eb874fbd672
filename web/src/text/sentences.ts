// Sentences about cards, vehicles and the plan, in the person's language.
import type { Binding, Card, Condition, Handoff, Ms, Order, PlanRow } from "../api/types";
import { standing, waiting } from "../core/cards";
import { documents } from "./documents";
import { has, language, t, words } from "./words";
import { departmentName, equipmentName, inSentence, zone } from "./names";
import { clock, length, roughly, when } from "./time";

export const at = (time: Ms): string => when(time, documents.now.value, language.value, zone.value);
/** A reckoned time: rounded, and said to be so by the sentence around it. */
export const about = (time: Ms): string => when(roughly(time), documents.now.value, language.value, zone.value);
export const hour = (time: Ms): string => clock(time, language.value, zone.value);

export const person = (id: string | null | undefined): string =>
  (id && documents.people.value.get(id)?.name) || t("somebody");
export const number = (id: string | null | undefined): string => (id && documents.orders.value.get(id)?.number) || "?";
export const department = (id: string | null | undefined): string => departmentName(id);
export const place = (id: string | null | undefined): string => {
  const found = id ? documents.places.value.get(id) : undefined;
  return found ? words(found.title) : (id ?? "");
};
export const title = (id: string | null | undefined): string => {
  const card = id ? documents.cards.value.get(id) : undefined;
  return card ? words(card.title) : t("some-card");
};

/** A word of the library ("suspension-down-rear"): translated where we know it, else as the shop typed it. */
export function named(kind: "open" | "kind" | "qualification", id: string): string {
  const key = `${kind}-${id}`;
  return has(key) ? t(key) : id.replaceAll("-", " ");
}

/** Whose take of this card waits for the server's word: until then it is asked for, not taken. */
export const askedForBy = (card: Card): string | undefined =>
  documents.unsent.value.find(
    ({ op }) =>
      (op.kind === "take" || op.kind === "start") &&
      op.args.card === card.id &&
      (card.last_act === op.id || card.spans.some((span) => span.id === op.id)),
  )?.person;
export const askedFor = (card: Card): boolean => askedForBy(card) !== undefined;
const askedForLine = (by: string): string =>
  by === documents.me.value?.person ? t("life-asked-for") : t("life-asked-for-by", { person: person(by) });

/** Where a hand-off is, as one sentence. A take that waits for the server's word has not begun it. */
export function handoffLife(one: Handoff): string {
  if (one.life === "cancelled") return t("handoff-cancelled");
  const pending =
    one.life === "taken" &&
    one.cards.map((id) => documents.cards.value.get(id)).find((card) => card?.life === "taken" && askedFor(card));
  if (pending) return askedForLine(askedForBy(pending) ?? "");
  const times: [Handoff["life"], Ms | null | undefined][] = [
    ["handed_back", one.handed_back_at],
    ["open", one.opened_at],
    ["started", one.started_at],
    ["taken", one.taken_at],
  ];
  const [is, when] = times.find(([life, time]) => life === one.life && time != null) ?? [];
  if (!is || when == null) return t("handoff-asked");
  return t(`handoff-${is}`, { person: person(one.taken_by), at: at(when) });
}

/** What a card is at, as one sentence. */
export function life(card: Card): string {
  const is = standing(card, documents.orders.value.get(card.order), documents.cards.value, documents.now.value);
  switch (is.is) {
    case "done":
      return is.at === undefined ? t("life-done") : t("life-done-by", { person: person(is.by), at: at(is.at) });
    case "working":
      return t("life-working", { people: is.people.map(person).join(", "), since: at(is.since) });
    case "paused": {
      const why = card.paused_why ? t(`pause-${card.paused_why}`) : "";
      const since = is.since === undefined ? "" : at(is.since);
      return t(why ? "life-paused-why" : "life-paused", { since, why });
    }
    case "taken": {
      const by = askedForBy(card);
      if (by) return askedForLine(by);
      return t("life-taken", { person: person(is.by), at: is.at === undefined ? "" : at(is.at) });
    }
    case "held":
      return holding(is.hold.what, is.hold.due);
    case "curing":
      return t("life-curing", { until: about(is.until) });
    case "after":
      return is.cards.length === 1
        ? t("life-after", { card: title(is.cards[0]) })
        : t("life-after-more", { card: title(is.cards[0]), more: is.cards.length - 1 });
    case "ready":
      return card.ready_at == null ? t("life-ready") : t("life-ready-since", { since: at(card.ready_at) });
    case "proposed":
    case "cancelled":
      return t(`life-${is.is}`);
  }
}

export const holding = (what: string, due: Ms | null | undefined): string =>
  due == null
    ? t(`hold-${what}-line`)
    : t(due < documents.now.value ? "hold-overdue-line" : "hold-due-line", {
        line: t(`hold-${what}-line`),
        due: at(due),
      });

/** What kept a card from being earlier. */
export function binding(what: Binding, of: Card | undefined): string {
  const until = "until" in what ? about(what.until) : "";
  // While something else must be done first, what keeps the card is yet to come.
  const ahead =
    of !== undefined &&
    waiting(of, documents.orders.value.get(of.order), documents.cards.value, documents.now.value).is === "after"
      ? "-ahead"
      : "";
  switch (what.kind) {
    case "now":
    case "started":
      return t(`why-${what.kind}`);
    case "vehicle":
      return t(`why-vehicle${ahead}`, { card: title(what.card), until });
    case "after":
    case "put_first":
      return t(`why-${what.kind}`, { card: title(what.card), until });
    case "person":
      return t("why-person", { person: person(what.person), until });
    case "curing":
      return t(`why-curing${ahead}`, { until });
    case "one_run":
    case "shift":
    case "expected":
    case "kept":
      return t(`why-${what.kind}`, { until });
    case "shut":
      return t("why-shut", { open: named("open", what.open) });
    case "people":
      return t("why-people", { department: department(what.department), until });
    case "equipment": {
      // A named piece, or any of its kind.
      const key = documents.equipment.value.has(what.equipment) ? "why-equipment" : "why-kind";
      const args = { equipment: equipmentName(what.equipment), kind: named("kind", what.equipment), until };
      return what.order ? t(`${key}-order${ahead}`, { ...args, number: number(what.order) }) : t(key, args);
    }
    case "hold":
      return holding(what.what, what.due);
    case "qualified":
      return t("why-qualified", { qualification: named("qualification", what.qualification) });
  }
}

export const nth = (place: number): string => (place <= 6 ? t(`nth-${place}`) : t("nth", { place }));

/** The reason of a place in the queue, in words. */
export function reason(row: PlanRow): string {
  const { reason, order } = row;
  const said: string[] = [];
  if (reason.put_first) {
    said.push(
      t("why-put-first", {
        person: person(reason.put_first.by),
        until: at(reason.put_first.until),
        reason: reason.put_first.reason,
      }),
    );
  }
  if (reason.next) {
    const args = {
      number: number(order),
      department: inSentence(department(reason.next.department)),
      at: about(reason.next.at),
    };
    said.push(t(reason.next.waits_only_for_this ? "why-next-only" : "why-next", args));
  }
  said.push(binding(reason.binding, documents.cards.value.get(row.card)));
  if (reason.slack_minutes != null) {
    if (reason.slack_minutes < 0) said.push(t("why-late", { length: length(-reason.slack_minutes * 60_000) }));
    else if (reason.slack_minutes < 240) said.push(t("why-slack", { length: length(reason.slack_minutes * 60_000) }));
  }
  const whole = said.join(" ");
  return row.place > 0 ? t("why-placed", { nth: nth(row.place), reason: whole }) : whole;
}

/** The facts about the vehicle that the next one must know, each a short sentence. */
export function facts(condition: Condition): string[] {
  const said: string[] = [];
  const whether = (field: "rolls" | "steers" | "brakes"): void => {
    const is = condition[field];
    if (is != null) said.push(t(`fact-${field}-${is ? "yes" : "no"}`));
  };
  if (condition.on) said.push(t(`fact-on-${condition.on}`));
  whether("rolls");
  whether("steers");
  whether("brakes");
  if (condition.lifting_points) said.push(t(`fact-points-${condition.lifting_points}`));
  for (const end of condition.weight_off) said.push(t(`fact-weight-${end}`));
  for (const loose of condition.loose) said.push(t(`loose-${loose}-line`));
  if (condition.bolts) said.push(t("fact-bolts", { where: condition.bolts }));
  if (condition.keys) said.push(t("fact-keys", { where: condition.keys }));
  if (condition.wet_until != null && condition.wet_until > documents.now.value) {
    said.push(t("fact-wet", { until: at(condition.wet_until) }));
  }
  return said;
}

/** What became of the vehicle, with why where somebody said it. */
export function stageLine(order: Order): string {
  const reason = order.stages.findLast((one) => one.stage === order.stage)?.reason;
  return order.stage === "stopped" && reason ? t("stage-stopped-why", { reason }) : t(`stage-${order.stage}`);
}

/** Where the vehicle is, in one sentence. */
export function whereabouts(order: Order): string {
  if (order.stage !== "arrived" && order.stage !== "authorised") {
    return order.stage === "expected" && order.expected_at != null
      ? t("stage-expected-line", { at: at(order.expected_at) })
      : stageLine(order);
  }
  return order.condition.place ? t("stands-at", { place: place(order.condition.place) }) : t("stands-unknown");
}
