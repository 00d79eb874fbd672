// What a row of a drawing is called: a department, a piece of equipment, or away with somebody else.
import { AWAY } from "../../model/itinerary";
import { t } from "../../state";
import { departmentName } from "../../text/names";

export const rowName = (id: string | null | undefined): string => (id === AWAY ? t("draw-away") : departmentName(id));
