// Signing out is two touches from wherever somebody is (OWASP ASVS 5.0.0, 7.4.4): each screen shows the way to "Me",
// whole and in sight, and the button stands there.
import assert from "node:assert/strict";
import { test } from "node:test";
import { eachScreen, SCREENS } from "./screens.mjs";

/** Nobody is signed in there, or a sheet lies over the screen that leads on; each is left by one touch or Escape. */
const OVER = new Set(["sign-in", "ask", "queue-why", "photo", "photo-mark", "pin-choose", "faces", "pin"]);

for (const size of ["phone", "desktop"]) {
  test(`the way out is on every screen of a ${size}`, { timeout: 240_000 }, async () => {
    const seen = [];
    const lacking = [];
    await eachScreen({ size, language: "en", themes: ["light"] }, async (name, _theme, page) => {
      if (OVER.has(name)) return;
      seen.push(name);
      // On a desktop the bar is at the head of the page and goes with it; on a phone it stays at the foot.
      if (size === "desktop") await page.evaluate(() => scrollTo(0, 0));
      const way = page.locator('nav a[href="/me"]').filter({ visible: true }).first();
      const whole = (await way.count()) > 0 && (await way.evaluate((link) => {
        const { top, bottom, left, right } = link.getBoundingClientRect();
        return top >= 0 && left >= 0 && bottom <= innerHeight && right <= innerWidth;
      }));
      if (!whole) lacking.push(name);
      if (name === "me") assert.ok(await page.getByRole("button", { name: "Sign out", exact: true }).isVisible());
    });
    assert.deepEqual(lacking, []);
    assert.equal(seen.length, SCREENS.filter(([name]) => !OVER.has(name)).length);
  });
}
