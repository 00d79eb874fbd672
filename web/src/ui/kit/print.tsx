import { t } from "../../state";

/** The page as it stands, black on white. */
export function Print() {
  return (
    <button class="button small-button no-print" onClick={() => print()}>
      {t("shop-print")}
    </button>
  );
}
