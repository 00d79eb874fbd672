// Notices and the tray tell of one refusal once.
import type { Notice } from "../../api/types";
import { cardOf } from "../../core/cases";
import { told } from "../../state";

/** A refusal that this phone tells in the tray already, with what to do next, is not told twice. */
export const inTray = (notice: Notice): boolean =>
  notice.kind === "refused" && told.value.some((row) => cardOf(row.op) === (notice.card ?? undefined));
