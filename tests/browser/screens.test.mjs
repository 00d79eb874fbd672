// Every screen on a phone: it is drawn, speaks the language, writes no error, and never scrolls sideways.
import assert from "node:assert/strict";
import { statSync } from "node:fs";
import { test } from "node:test";
import { LANGUAGES, picture, SCREENS, shoot, THEMES } from "./screens.mjs";

for (const language of LANGUAGES) {
  test(`screens on a phone, ${language}`, { timeout: 240_000 }, async () => {
    const began = Date.now();
    const { shots, wrong } = await shoot({ size: "phone", language });
    assert.deepEqual(wrong, []);
    assert.equal(shots.length, SCREENS.length * THEMES.length);
    for (const [name] of SCREENS)
      for (const theme of THEMES) {
        const file = statSync(picture("phone", theme, language, name));
        assert.ok(file.size > 0 && file.mtimeMs >= began - 1000, `${name} ${theme} was not taken`);
      }
  });
}
