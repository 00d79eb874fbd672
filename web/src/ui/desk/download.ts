// Rows of a table to a file that a spreadsheet opens.
import { csv } from "../../model/figures";

export function take(rows: (string | number | undefined)[][], name: string): void {
  // A spreadsheet takes it for UTF-8 only with the mark in front.
  const url = URL.createObjectURL(new Blob(["\ufeff", csv(rows)], { type: "text/csv;charset=utf-8" }));
  const link = document.createElement("a");
  link.href = url;
  link.download = `turnbuckle_${name}.csv`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}
