import type { ComponentType } from "preact";
import { loadWords, me, t } from "../state";
import { lazy, type ScreenProps } from "./lazy";
import { match, path } from "./router";

const Placeholder: ComponentType<ScreenProps> = () => <section class="page"><h1>{t("mine")}</h1></section>;

const Shop = lazy(async () => {
  const [part] = await Promise.all([import("./shop"), loadWords("shop")]);
  return part.default;
});
const Setup = lazy(async () => {
  const [part] = await Promise.all([import("./setup"), loadWords("setup")]);
  return part.default;
});

const SCREENS: [string, ComponentType<ScreenProps>][] = [
  ["/", Placeholder],
  ["/queue/:department", Placeholder],
  ["/vehicle/:id", Placeholder],
  ["/tray", Placeholder],
  ["/notices", Placeholder],
  ["/me", Placeholder],
  ["/shop/*", Shop],
  ["/setup/*", Setup],
];

export function App() {
  const at = path.value;
  void me.value;
  for (const [pattern, Screen] of SCREENS) {
    const params = match(pattern, at);
    if (params) return <main><Screen params={params} /></main>;
  }
  return <main class="page"><p>{t("no-such-page")}</p></main>;
}
