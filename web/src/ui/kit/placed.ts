// Where in the queue something has come to stand, in few words.
import type { PlanRow } from "../../api/types";
import { t } from "../../state";
import { equipmentName } from "../../text/names";
import { about, department } from "../../text/sentences";

/** "Lift 2, place 3, about 13:30." */
export const placed = (row: PlanRow): string =>
  t("ask-placed", {
    where: row.equipment ? equipmentName(row.equipment) : department(row.department),
    place: row.place,
    at: about(row.from),
  });
