// The shop: where everything stands, for whoever plans. Sentences first, the drawing beside them.
import "./kit/desk.css";
import "./kit/shop.css";
import "./kit/why.css";
import { useComputed } from "@preact/signals";
import { useLayoutEffect } from "preact/hooks";
import { t } from "../state";
import { loadWords } from "../text/words";
import { lazy, type ScreenProps } from "./kit/lazy";
import { WhichShop } from "./kit/sister-shops";
import { Measures } from "./desk/measures";
import { Now } from "./board/now";

// Both belong to this part of the app; the words of the drawing are in an area of their own.
await Promise.all([loadWords("draw"), loadWords("what-if"), loadWords("outlook"), loadWords("over")]);

const PARTS = [
  ["", "shop-tab-now"],
  ["day", "shop-tab-day"],
  ["measures", "shop-tab-measures"],
  ["outlook", "outlook-tab"],
  ["what-if", "what-if-tab"],
] as const;

const TITLES: Record<string, string> = {
  day: "shop-day-title",
  measures: "shop-measures-title",
  outlook: "outlook-title",
  "what-if": "what-if-title",
};

const Outlook = lazy(async () => (await import("./desk/outlook")).OutlookPart);
const TheDay = lazy(async () => (await import("./desk/the-day")).TheDay);
const WhatIf = lazy(async () => (await import("./desk/what-if-panel")).WhatIf);

export default function Shop({ params }: ScreenProps) {
  const at = params["rest"] ?? "";
  const title = useComputed(() => t(TITLES[at] ?? "shop-title"));
  useLayoutEffect(() => {
    document.title = `${title.value} · Turnbuckle`;
  }, [title.value]);
  return (
    <section class="page wide shop">
      <WhichShop />
      <header class="apart shop-head">
        <h1>{title}</h1>
        <nav class="beside no-print" aria-label={t("shop-title")}>
          {PARTS.map(([part, word]) => (
            <a key={part} href={`/shop${part && `/${part}`}`} aria-current={at === part ? "page" : undefined}>
              {t(word)}
            </a>
          ))}
          <a href="/setup/order">{t("shop-new-order")}</a>
          <a href="/setup">{t("shop-to-setup")}</a>
        </nav>
      </header>
      {at === "day" ? (
        <TheDay params={{}} />
      ) : at === "measures" ? (
        <Measures />
      ) : at === "outlook" ? (
        <Outlook params={{}} />
      ) : at === "what-if" ? (
        <WhatIf params={{}} />
      ) : (
        <Now />
      )}
    </section>
  );
}
