// Who may come in, walked through as people see it: a link, a shared tablet with a wrong PIN and a closed face, an
// administrator's face, a sister shop, what happened to sign-ins. On a phone and a desk, in both languages; pictures of all of
// it lie in `out/who-*`, to be looked at.
import assert from "node:assert/strict";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { Api, browser, OUT, start, touchSignIn } from "./support.mjs";

const PASSWORD = "anvil lantern quorum";
let north, south, chrome, inNorth, inSouth;

const named = async (server, name) => {
  const admin = await Api.join(server.base, server.links.admin);
  const { docs } = await admin.pull();
  await admin.act("set_shop", { shop: { ...docs["shop/shop"], name } });
  return admin;
};

before(async () => {
  [north, south] = [await start("serve"), await start("serve")];
  chrome = await browser();
  [inNorth, inSouth] = [await named(north, "North Yard Collision"), await named(south, "Lower Mill Collision")];
  const code = async (of) => (await of.get("/api/v1/sisters")).code;
  await inNorth.post("/api/v1/sisters", { code: await code(inSouth) });
  await inSouth.post("/api/v1/sisters", { code: await code(inNorth) });
});

after(async () => {
  await chrome?.close();
  north?.stop();
  south?.stop();
});

const W = {
  en: { share: "Share this tablet", lock: "Lock", add: "Add somebody", link: "Link or code", enter: "Sign in", wrong: "That is not the PIN.", other: "Somebody else", admin: "Administrators have no PIN", password: "Password", come: /You come from North Yard|This shop does not know yet/, who: /Is that the same person/, in: /^Signed in/, locked: /Closed for a while/, ten: /wrong password, \d+ times since/ },
  es: { share: "Compartir esta tableta", lock: "Bloquear", add: "Agregar a alguien", link: "Enlace o código", enter: "Entrar", wrong: "Ese no es el PIN.", other: "Otra persona", admin: "no tienen PIN", password: "Contraseña", come: /North Yard/, who: /misma persona/, in: /^Entró/, locked: /Cerrado/, ten: /contraseña equivocada, \d+ veces desde/ },
};

for (const language of ["en", "es"]) {
  for (const [size, viewport] of Object.entries({ phone: { width: 390, height: 844 }, desk: { width: 1440, height: 900 } })) {
    test(`who may come in, as it is seen (${language}, ${size})`, { timeout: 240_000 }, async () => {
      const tag = `${language}-${size}`;
      const name = (first) => `${first} ${{ "en-phone": "Abel", "en-desk": "Brook", "es-phone": "Cano", "es-desk": "Duarte" }[tag]}`;
      const w = W[language];
      const context = await chrome.newContext({ viewport, locale: language === "en" ? "en-US" : "es-US" });
      context.setDefaultTimeout(20_000);
      const page = await context.newPage();
      const errors = [];
      page.on("pageerror", (error) => errors.push(String(error)));
      const picture = async (what) => {
        assert.equal(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), true, `${what}: nothing runs off the screen`);
        await page.screenshot({ path: join(OUT, `who-${what}-${tag}.png`), fullPage: true });
      };
      const button = (words) => page.getByRole("button", { name: words, exact: true }).first();
      const pad = async (digits) => {
        await page.locator(".pad").waitFor();
        for (const digit of digits) await page.locator(".pad button", { hasText: new RegExp(`^${digit}$`) }).click();
        await page.locator(".pad").getByRole("button", { name: "OK" }).click();
      };

      // A link is looked at before it is touched.
      const teo = await inNorth.person(name("Teo"), "body", "technician", language);
      const rosa = await inNorth.person(name("Rosa"), "body", "admin", language);
      const there = await Api.join(north.base, rosa.link);
      await there.post("/api/v1/auth/set_password", { password: PASSWORD });
      await page.goto(teo.link);
      await page.getByRole("button", { name: new RegExp(name("Teo")) }).waitFor();
      await picture("link");
      await touchSignIn(page);
      await page.locator("nav.bar").waitFor();

      // The tablet.
      await page.goto(`${north.base}/me`);
      await button(w.share).click();
      await page.locator(".pad").waitFor();
      await picture("choose-pin");
      await pad("4711");
      await pad("4711");
      await page.locator(".at-tablet").waitFor();
      await button(w.lock).click();
      await page.locator(".face", { hasText: name("Teo") }).waitFor();
      await button(w.add).click();
      await page.getByLabel(w.link).waitFor();
      await picture("add");
      const again = (await inNorth.post("/api/v1/auth/invite", { person: rosa.id })).link;
      await page.getByLabel(w.link).fill(again);
      await button(w.enter).click();
      await page.locator(".at-tablet", { hasText: name("Rosa") }).waitFor();
      await picture("at-tablet");
      await button(w.lock).click();
      await page.locator(".face", { hasText: name("Rosa") }).waitFor();
      await picture("faces");
      await page.locator(".face", { hasText: name("Teo") }).click();
      await pad("0000");
      await page.getByText(w.wrong).waitFor();
      await picture("wrong-pin");
      await button(w.other).click();
      await page.locator(".face", { hasText: name("Rosa") }).click();
      await page.getByText(w.admin, { exact: false }).waitFor();
      await picture("admin-face");
      await page.getByLabel(w.password, { exact: true }).fill(PASSWORD);
      await button(w.enter).click();
      await page.locator(".at-tablet", { hasText: name("Rosa") }).waitFor();

      // Somebody is locked out meanwhile.
      for (let n = 0; n < 12; n++) {
        const body = JSON.stringify({ name: name("Rosa"), password: "not this one" });
        await fetch(`${north.base}/api/v1/auth/password`, { method: "POST", headers: { "content-type": "application/json" }, body });
      }
      await context.close();

      // And over to the sister shop, on a phone of one's own.
      const own = await chrome.newContext({ viewport, locale: language === "en" ? "en-US" : "es-US" });
      own.setDefaultTimeout(20_000);
      const phone = await own.newPage();
      phone.on("pageerror", (error) => errors.push(String(error)));
      const shot = async (what) => {
        assert.equal(await phone.evaluate(() => document.documentElement.scrollWidth <= innerWidth), true, `${what}: nothing runs off the screen`);
        await phone.screenshot({ path: join(OUT, `who-${what}-${tag}.png`), fullPage: true });
      };
      await phone.goto((await inNorth.post("/api/v1/auth/invite", { person: rosa.id })).link);
      await touchSignIn(phone);
      await phone.locator("nav.bar").waitFor();
      await phone.goto(`${north.base}/setup/security`);
      await phone.locator("li", { hasText: w.in }).first().waitFor();
      await phone.locator("li", { hasText: w.locked }).first().waitFor();
      // Ten wrong passwords are one row, in words.
      const guessed = phone.locator("li", { hasText: "401 wrong_password" });
      await guessed.filter({ hasText: w.ten }).first().waitFor();
      await shot("security");
      await phone.goto(`${north.base}/setup/sisters`);
      await phone.locator("li", { hasText: "Lower Mill Collision" }).waitFor();
      await shot("sisters");
      await phone.goto(`${north.base}/me`);
      await phone.locator("li", { hasText: "Lower Mill Collision" }).getByRole("button").first().click();
      await phone.waitForURL(`${south.base}/**`);
      await phone.getByText(w.come).first().waitFor();
      await shot("sister-first");
      const here = await inSouth.person(`${name("R.")}`, "body", "admin", language);
      await phone.getByLabel(w.link).fill(here.link);
      await phone.getByRole("button", { name: w.enter, exact: true }).first().click();
      await phone.getByText(w.who).first().waitFor();
      await shot("sister-who");
      await phone.goto(`${north.base}/notices`);
      await phone.getByRole("alert").first().waitFor();
      await shot("notices");
      await own.close();
      assert.deepEqual(errors, []);
    });
  }
}
