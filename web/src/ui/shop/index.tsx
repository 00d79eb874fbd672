import { t } from "../../state";
import type { ScreenProps } from "../lazy";

export default function Shop({ params }: ScreenProps) {
  return <section class="page" data-at={params["rest"]}><h1>{t("shop-title")}</h1></section>;
}
