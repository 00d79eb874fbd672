// The condition of a vehicle as signs: what a hand must know before it lifts or pushes, lifting points and weight
// first. A fact nobody has said is a state of its own.
// Pure. Must not know: languages, the DOM.
import type { Condition } from "../api/types";

export type SignName = "points" | "weight" | "rolls" | "steers" | "loose";
/** `good`: as it should be; `bad`: mind it; `unknown`: nobody has said. */
export interface SignState {
  name: SignName;
  is: "good" | "bad" | "unknown";
  /** The word for it. */
  says: string;
  count?: number;
}

type Seen = Pick<Condition, "rolls" | "steers" | "lifting_points" | "weight_off" | "loose">;

export function signs(of: Seen): SignState[] {
  const whether = (name: "rolls" | "steers"): SignState => {
    const is = of[name];
    return is == null
      ? { name, is: "unknown", says: "unknown" }
      : { name, is: is ? "good" : "bad", says: is ? "yes" : "no" };
  };
  const [front, rear] = [of.weight_off.includes("front"), of.weight_off.includes("rear")];
  const points = of.lifting_points;
  return [
    points == null
      ? { name: "points", is: "unknown", says: "unknown" }
      : { name: "points", is: points === "sound" ? "good" : "bad", says: points },
    {
      name: "weight",
      is: front || rear ? "bad" : "good",
      says: front && rear ? "both" : front ? "front" : rear ? "rear" : "on",
    },
    whether("rolls"),
    whether("steers"),
    {
      name: "loose",
      is: of.loose.length ? "bad" : "good",
      says: of.loose.length ? "some" : "none",
      count: of.loose.length,
    },
  ];
}
