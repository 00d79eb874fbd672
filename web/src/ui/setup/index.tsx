// Setting up: what the shop says about itself. Every part has its own address.
import "../kit/desk.css";
import "./setup.css";
import type { ComponentType } from "preact";
import { useLayoutEffect } from "preact/hooks";
import { calendars, departments, equipment, people, places, routings, t } from "../../state";
import { loadWords } from "../../text/words";
import type { ScreenProps } from "../kit/lazy";
import { Calendars } from "./calendars";
import { Departments } from "./departments";
import { Import } from "./import";
import { NewOrder } from "./order";
import { People } from "./people";
import { Routings } from "./routings";
import { ShopSettings } from "./shop-settings";
import Security from "./security";
import { Sisters } from "./sisters";
import { Equipment, Places } from "./things";

// Names of kinds and open states are shared with the view of the shop.
await Promise.all([loadWords("shop"), loadWords("draw"), loadWords("over")]);

interface Part {
  at: string;
  Screen: ComponentType<{ chosen: string | undefined }>;
  count?: () => number;
}

const active = (all: ReadonlyMap<string, { retired?: boolean }>): number =>
  [...all.values()].filter((one) => !one.retired).length;

const PARTS: Part[] = [
  { at: "order", Screen: NewOrder },
  { at: "import", Screen: Import },
  { at: "people", Screen: People, count: () => active(people.value) },
  { at: "departments", Screen: Departments, count: () => active(departments.value) },
  { at: "equipment", Screen: Equipment, count: () => active(equipment.value) },
  { at: "places", Screen: Places, count: () => active(places.value) },
  { at: "calendars", Screen: Calendars, count: () => calendars.value.size },
  { at: "routings", Screen: Routings, count: () => active(routings.value) },
  { at: "shop", Screen: ShopSettings },
  { at: "sisters", Screen: Sisters },
  { at: "security", Screen: Security },
];

export default function Setup({ params }: ScreenProps) {
  const [at = "", chosen] = (params["rest"] ?? "").split("/");
  const part = PARTS.find((one) => one.at === at);
  const title = part ? `${t(`setup-${part.at}`)} · ${t("setup-title")}` : t("setup-title");
  useLayoutEffect(() => {
    document.title = `${title} · Turnbuckle`;
  }, [title]);
  return (
    <section class="page wide setup">
      <header class="shop-head">
        <h1>{part ? <a href="/setup">{t("setup-title")}</a> : t("setup-title")}</h1>
      </header>
      {part ? (
        <part.Screen chosen={chosen ? decodeURIComponent(chosen) : undefined} />
      ) : at ? (
        <p>{t("setup-missing")}</p>
      ) : (
        <Contents />
      )}
    </section>
  );
}

function Contents() {
  return (
    <ul class="rows contents">
      {PARTS.map((part) => (
        <li key={part.at}>
          <a class="row" href={`/setup/${part.at}`}>
            <b>{t(`setup-${part.at}`)}</b>
            <span class="quiet">{t(`setup-${part.at}-about`)}</span>
            <span class="figure-end">{part.count?.()}</span>
          </a>
        </li>
      ))}
    </ul>
  );
}
