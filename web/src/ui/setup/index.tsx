import { t } from "../../state";
import type { ScreenProps } from "../lazy";

export default function Setup({ params }: ScreenProps) {
  return <section class="page" data-at={params["rest"]}><h1>{t("setup-title")}</h1></section>;
}
