import type { Op, Ms } from "../api/types";
import type { Docs } from "./docs";

export function apply(docs: Docs, op: Op, me: string, now: Ms): void {
  void docs; void op; void me; void now;
}
