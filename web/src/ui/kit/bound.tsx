// What keeps a card, as one drawn mark and the thing it names.
import type { Binding } from "../../api/types";
import { cards, equipment, now, t } from "../../state";
import { equipmentName } from "../../text/names";
import { about, department, named, number, person } from "../../text/sentences";

const MARKS = {
  hold: "M7 3V17M13 3V17",
  cure: "M10 1q6 2.3 0 4.5t0 4.5t0 4.5t0 4.5",
  after: "M4 3 16 17",
  place: "M2 5H18V15H2ZM7 5V15M13 5V15",
  nobody: "M10 4a6 6 0 1 0 .01 0ZM3 17 17 3",
  shift: "M3 4V16M17 4V16M3 10H17",
  keys: "M10 2V18",
};

export interface Kept {
  mark: keyof typeof MARKS;
  /** Named without a sentence; undefined where the mark says it. */
  object?: string | undefined;
}

/** Nothing where it can begin, or only keeps the place it was shown at. */
export function bound(what: Binding): Kept | undefined {
  const of = (card: string): string => department(cards.value.get(card)?.department);
  switch (what.kind) {
    case "hold":
      return {
        mark: "hold",
        object: what.due == null || what.due < now.value ? t(`hold-${what.what}`) : about(what.due),
      };
    case "curing":
      return { mark: "cure", object: about(what.until) };
    case "after":
    case "vehicle":
    case "put_first":
      return { mark: "after", object: of(what.card) };
    case "shut":
      return { mark: "after", object: named("open", what.open) };
    case "equipment": {
      const name = equipment.value.has(what.equipment) ? equipmentName(what.equipment) : named("kind", what.equipment);
      return { mark: "place", object: what.order ? number(what.order) : name };
    }
    case "people":
      return { mark: "nobody" };
    case "person":
      return { mark: "nobody", object: person(what.person) };
    case "qualified":
      return { mark: "nobody", object: named("qualification", what.qualification) };
    case "shift":
      return { mark: "shift", object: about(what.until) };
    case "expected":
      return { mark: "keys", object: about(what.until) };
    default:
      return undefined;
  }
}

/** As wide without a mark as with one: the lines beside it have one scale. */
export function Bound({ what }: { what: Kept | undefined }) {
  return (
    <span class="bound" aria-hidden="true">
      {what && (
        <svg viewBox="0 0 20 20" width="20" height="20" class={what.mark}>
          <path d={MARKS[what.mark]} />
        </svg>
      )}
      {what?.object}
    </span>
  );
}
