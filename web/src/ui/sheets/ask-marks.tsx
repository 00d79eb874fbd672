// What can be asked for, drawn: the vehicle thin, its front at the right, and heavily what is opened or needed.
import type { AskMark } from "../../model/asking";

const BODY = "M6 36V27L20 24 34 11H58L71 23 89 28V36H80A9 9 0 0 0 62 36H34A9 9 0 0 0 16 36ZM28 23H66";
const REAR_WHEEL = "M25 29a7 7 0 1 0 .01 0Z";
const FRONT_WHEEL = "M71 29a7 7 0 1 0 .01 0Z";
const LIFT = "M38 42H58M48 42V61M37 61H59";
const DOWN = (x: number): string => `M${x} 40V47M${x} 47a7 7 0 1 0 .01 0Z`;

/** Thin, then heavy. */
const MARKS: Record<AskMark, [string, string]> = {
  "suspension-down-rear": [BODY + LIFT + FRONT_WHEEL, DOWN(25)],
  "suspension-down-front": [BODY + LIFT + REAR_WHEEL, DOWN(71)],
  "cradle-down": [`${BODY}${LIFT}${REAR_WHEEL}M73 52V63M67 57 73 63 79 57`, "M58 49H88M62 49V42M84 49V42"],
  "tank-out": [BODY + REAR_WHEEL + FRONT_WHEEL, "M36 48H60V59H36ZM41 48V43"],
  "interior-out": [`${BODY}${REAR_WHEEL}${FRONT_WHEEL}M52 20V2M46 8 52 2 58 8`, "M41 14V31H57"],
  "refrigerant-out": [BODY + REAR_WHEEL + FRONT_WHEEL, "M82 4V20M75 8 89 16M89 8 75 16"],
  "high-voltage-off": [BODY + REAR_WHEEL + FRONT_WHEEL, "M52 40 42 51H54L45 62M62 44 34 60"],
  "on-the-bench": [BODY, "M4 52H92M22 52V40M70 52V40M89 32H96M14 52V60M82 52V60"],
  "in-the-booth": [BODY + REAR_WHEEL + FRONT_WHEEL, "M3 60V4H93V60"],
  alignment: [BODY, "M25 28V52M71 28V52M14 58H36M60 58H82"],
  calibration: [BODY + REAR_WHEEL + FRONT_WHEEL, "M93 10V44M76 26 88 18M76 27H88M76 28 88 36"],
  // Out to the others and back: our own loop.
  other: [BODY + REAR_WHEEL + FRONT_WHEEL, "M10 50H26V60H70V50H86"],
};

export function Mark({ of }: { of: AskMark }) {
  const [thin, heavy] = MARKS[of];
  return (
    <svg class="ask-mark" viewBox="0 0 96 64" aria-hidden="true">
      <path d={thin} />
      <path class="heavy" d={heavy} />
    </svg>
  );
}
