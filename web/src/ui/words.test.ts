// The language asked for last is shown, whatever was still being fetched in the one before.
import { expect, test, vi } from "vitest";

test("an area fetched while the language changes comes in the new language", async () => {
  const page = { documentElement: { lang: "" } };
  vi.stubGlobal("document", page);
  const { has, language, loadWords, setLanguage, t } = await import("./words");
  await setLanguage("en");
  expect(t("ask")).toBe("Ask");
  await Promise.all([setLanguage("es"), loadWords("draw")]);
  expect(language.value).toBe("es");
  expect(page.documentElement.lang).toBe("es");
  expect(t("ask")).not.toBe("Ask");
  // And the other way about: the area is begun before the language changes.
  const begun = loadWords("shop");
  await Promise.all([begun, setLanguage("en")]);
  expect(language.value).toBe("en");
  expect(t("ask")).toBe("Ask");
  expect(has("shop-now")).toBe(true);
  vi.unstubAllGlobals();
});
