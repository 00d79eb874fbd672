// A list at the left and what is chosen at the right; on a phone one after the other.
import type { ComponentChildren } from "preact";
import { cursor, t } from "../../state";

export interface Row {
  id: string;
  title: string;
  /** A short line beneath. */
  line?: string;
  retired?: boolean;
}

export interface ListPageProps {
  part: string;
  title: string;
  rows: Row[];
  add: string;
  /** What is chosen: an id, "new", or nothing. */
  chosen: string | undefined;
  children?: ComponentChildren;
  intro?: string;
}

export function ListPage({ part, title, rows, add, chosen, children, intro }: ListPageProps) {
  const active = rows.filter((row) => !row.retired);
  const gone = rows.filter((row) => row.retired);
  const list = (some: Row[]) => (
    <ul class="rows">
      {some.map((row) => (
        <li key={row.id}>
          <a class="row" href={`/setup/${part}/${row.id}`} aria-current={row.id === chosen ? "page" : undefined}>
            <b>{row.title}</b>
            {row.line && <span class="quiet"> {row.line}</span>}
          </a>
        </li>
      ))}
    </ul>
  );
  return (
    <div class={chosen ? "setup-two has-chosen" : "setup-two"}>
      <div class="setup-list">
        <h2>{title}</h2>
        {intro && <p class="quiet">{intro}</p>}
        {/* Above what may be a long list. */}
        <p>
          <a class="button" href={`/setup/${part}/new`}>
            {add}
          </a>
        </p>
        {active.length === 0 && <p class="quiet">{t(cursor.value ? "setup-none-yet" : "first-copy-wait")}</p>}
        {list(active)}
        {gone.length > 0 && (
          <details>
            <summary>{t("setup-retired-count", { count: gone.length })}</summary>
            {list(gone)}
          </details>
        )}
      </div>
      {chosen && (
        <div class="setup-form">
          <p class="back-to-list">
            <a href={`/setup/${part}`}>← {title}</a>
          </p>
          {children}
        </div>
      )}
    </div>
  );
}

/** Shown where an address names something that is not there (any more). */
export function Missing() {
  return <p>{t("setup-missing")}</p>;
}
