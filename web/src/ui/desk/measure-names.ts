// Names of measures, of their parts, and numbers as people read them.
import { departments, equipment, routings, t, words } from "../../state";
import { departmentName, equipmentName, inSentence, tongue } from "../../text/names";
import { has } from "../../text/words";
import { digits, isMonth, type Measure, type Unit } from "../../model/figures";

export const measureName = (id: string): string => word(`measure-${id}`) ?? id.replaceAll("_", " ");

/** The short name at the head of a column, where several measures share a table. */
export const columnName = (id: string): string => word(`measure-${id}-column`) ?? measureName(id);

const word = (key: string): string | undefined => (has(key) ? t(key) : undefined);

/** A part is a department, a piece of equipment, a class of vehicles, a reason, a month or a routing. */
export function partName(id: string, key: string): string {
  const [first = "", second] = key.split("/");
  if (second === undefined) return id.startsWith("wait_by_reason") ? reason(first) : own(first);
  if (id === "equipment_time") return pieceWait(second);
  if (id.startsWith("wait_by_department")) return reason(second);
  const routing = routings.value.get(second);
  return routing ? words(routing.title) : second;
}

/** What a vehicle on a piece of equipment waits for. */
export function pieceWait(key: string): string {
  if (key.startsWith("for:")) return t("measure-waits-for", { department: inSentence(departmentName(key.slice(4))) });
  return word(`measure-part-${key}`) ?? reason(key);
}

const reason = (key: string): string => word(`shop-reason-${key}`) ?? plain(key);

function own(key: string): string {
  if (isMonth(key)) {
    const month = new Intl.DateTimeFormat(locale(), { month: "short", year: "numeric", timeZone: "UTC" });
    return month.format(Date.parse(`${key}-15`)).replace(".", "");
  }
  if (departments.value.has(key)) return departmentName(key);
  if (equipment.value.has(key)) return equipmentName(key);
  return word(`measure-part-${key}`) ?? word(`shop-part-${key}`) ?? plain(key);
}

const plain = (key: string): string => key.replaceAll(/[_-]/g, " ");

const locale = (): string => (tongue.value === "es" ? "es-US" : "en-US");

export function number(unit: Unit, value: number | undefined): string {
  if (value === undefined) return "–";
  const places = digits(unit, value);
  return new Intl.NumberFormat(locale(), {
    minimumFractionDigits: places,
    maximumFractionDigits: places,
    ...(unit === "share" ? { style: "percent" as const } : {}),
  }).format(value);
}

/** A value with its unit: "14.2 days", "84 %". */
export function sized(measure: Measure, value = measure.value): string {
  const said = number(measure.unit, value);
  return value === undefined || measure.unit === "share" || measure.unit === "ratio"
    ? said
    : t("measure-sized", { value: said, unit: t(`shop-unit-${measure.unit}`) });
}
