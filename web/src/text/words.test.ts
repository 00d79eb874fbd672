// The language asked for last is shown, whatever was still being fetched in the one before.
import { expect, test, vi } from "vitest";

test("an area fetched while the language changes comes in the new language", async () => {
  const page = { documentElement: { lang: "" } };
  vi.stubGlobal("document", page);
  const { has, language, loadWords, setLanguage, t } = await import("./words");
  // All Spanish words are at hand and the English of the area are not: what is not wanted any more comes last.
  await setLanguage("es");
  await import("../../locales/es/shop.ftl?raw");
  await setLanguage("en");
  expect(t("ask")).toBe("Ask");
  await Promise.all([setLanguage("es"), loadWords("shop")]);
  expect(language.value).toBe("es");
  expect(page.documentElement.lang).toBe("es");
  expect(t("ask")).not.toBe("Ask");
  expect(t("shop-title")).toBe("El taller");
  // And the other way about: the area is begun before the language changes.
  await import("../../locales/en/setup.ftl?raw");
  await Promise.all([loadWords("setup"), setLanguage("en")]);
  expect(language.value).toBe("en");
  expect(t("ask")).toBe("Ask");
  expect(has("setup-discard")).toBe(true);
  vi.unstubAllGlobals();
});
