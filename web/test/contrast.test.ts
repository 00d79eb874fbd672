// Every theme is readable: text 7:1 or more (WCAG 2.2, 1.4.6), drawn parts 3:1 or more (1.4.11), by the
// relative luminance WCAG 2.2 defines.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";

const css = readFileSync(join(import.meta.dirname, "../src/ui/base.css"), "utf8");

function tokens(selector: string): Record<string, string> {
  const at = css.indexOf(`${selector} {`);
  expect([selector, at >= 0]).toEqual([selector, true]);
  const block = css.slice(at, css.indexOf("}", at));
  return Object.fromEntries([...block.matchAll(/--([\w-]+):\s*(#[0-9a-f]{6})/g)].map((found) => [found[1], found[2]]));
}

const light = tokens(":root");
const themes: Record<string, Record<string, string>> = {
  light,
  dark: { ...light, ...tokens(':root[data-theme="dark"]') },
  "dark by the system": { ...light, ...tokens(":root:not([data-theme])") },
  sun: { ...light, ...tokens(':root[data-theme="sun"]') },
};

function luminance(hex: string): number {
  const [r = 0, g = 0, b = 0] = [1, 3, 5].map((i) => {
    const c = parseInt(hex.slice(i, i + 2), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

function contrast(a: string, b: string): number {
  const [dark = 0, bright = 0] = [luminance(a), luminance(b)].sort((x, y) => x - y);
  return (bright + 0.05) / (dark + 0.05);
}

it("reckons as WCAG does", () => {
  expect(contrast("#000000", "#ffffff")).toBeCloseTo(21, 5);
  expect(contrast("#777777", "#ffffff")).toBeCloseTo(4.48, 2);
});

describe.each(Object.entries(themes))("%s", (_, theme) => {
  const is = (name: string): string => theme[name] ?? "#ff00ff";

  it.each(["ink", "ink-2", "green", "blue", "vermilion", "purple"])("text %s stands out from paper", (name) => {
    expect(contrast(is(name), is("paper"))).toBeGreaterThanOrEqual(7);
    expect(contrast(is(name), is("paper-2"))).toBeGreaterThanOrEqual(7);
  });

  it("text on ink stands out", () => expect(contrast(is("on-ink"), is("ink"))).toBeGreaterThanOrEqual(7));

  it.each(["rule", "green-part", "blue-part", "vermilion-part", "purple-part"])("part %s is seen on paper", (name) => {
    expect(contrast(is(name), is("paper"))).toBeGreaterThanOrEqual(3);
  });

  it("the warning sign is seen: ink on its yellow, its outline on paper", () => {
    expect(contrast(is("caution-ink"), is("caution"))).toBeGreaterThanOrEqual(7);
  });
});
