// A passkey made and used in a real browser with an authenticator of its own (WebAuthn's virtual authenticator, W3C Web
// Authentication level 2, 11), in both languages; by an address there are none, and the screen says so.
import assert from "node:assert/strict";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { Api, browser, openAs, OUT, start } from "./support.mjs";

const PASSWORD = "anvil lantern quorum";
let server, chrome, admin, named;

before(async () => {
  server = await start("serve");
  chrome = await browser();
  admin = await Api.join(server.base, server.links.admin);
  // The same server by its name.
  named = server.base.replace("127.0.0.1", "localhost");
});

after(async () => {
  await chrome?.close();
  server?.stop();
});

const byName = (link) => link.replace(/^http:\/\/[^:/]+/, "http://localhost");

async function authenticator(page, more = {}) {
  const cdp = await page.context().newCDPSession(page);
  await cdp.send("WebAuthn.enable");
  const options = { protocol: "ctap2", transport: "internal", hasResidentKey: true, hasUserVerification: true, isUserVerified: true, automaticPresenceSimulation: true, ...more };
  const { authenticatorId } = await cdp.send("WebAuthn.addVirtualAuthenticator", { options });
  return { cdp, authenticatorId };
}

async function withPassword(name, role, language) {
  const one = await admin.person(name, "body", role, language);
  const api = await Api.join(named, one.link);
  await api.post("/api/v1/auth/set_password", { password: PASSWORD });
  return { ...one, api, link: (await admin.post("/api/v1/auth/invite", { person: one.id })).link };
}

const WORDS = {
  en: { heading: "Passkeys", name: "What to call it (the device it is on)", password: "Your password", make: "Make a passkey", out: "Sign out", enter: "Sign in with a passkey", unknown: /This shop does not know that passkey/, remove: /^Remove: / , rename: "Rename", save: "Save", more: "More" },
  es: { heading: "Llaves de acceso", name: "Cómo llamarla (el aparato en que está)", password: "Su contraseña", make: "Hacer una llave de acceso", out: "Salir", enter: "Entrar con una llave de acceso", unknown: /Este taller no conoce esa llave/, remove: /^Quitar: /, rename: "Cambiar nombre", save: "Guardar", more: "Más" },
};

for (const [language, size] of [["en", { width: 1440, height: 900 }], ["es", { width: 390, height: 844 }]]) {
  const w = WORDS[language];
  test(`a passkey is made, signs in, and opens nothing once it is removed (${language})`, { timeout: 180_000 }, async () => {
    const mara = await withPassword(language === "en" ? "Mara Lindqvist" : "Rosa Quintal", "manager", language);
    const { page, errors } = await openAs(chrome, byName(mara.link), { viewport: size, locale: language === "en" ? "en-US" : "es-US" });
    const { cdp, authenticatorId } = await authenticator(page);
    const credentials = async () => (await cdp.send("WebAuthn.getCredentials", { authenticatorId })).credentials;
    await page.goto(`${named}/me`);
    const part = page.locator(".stack", { has: page.getByRole("heading", { name: w.heading, exact: true }) }).last();
    await part.getByLabel(w.password, { exact: true }).fill("not this one at all");
    await part.getByRole("button", { name: w.make }).click();
    await part.getByRole("alert").waitFor();
    assert.equal((await credentials()).length, 0, "the wrong password makes none");
    await part.getByLabel(w.name).fill("Laptop");
    await part.getByLabel(w.password, { exact: true }).fill(PASSWORD);
    await part.getByRole("button", { name: w.make }).click();
    await part.getByText("Laptop").waitFor();
    const [kept] = await credentials();
    assert.equal(kept.rpId, "localhost");
    assert.equal(kept.isResidentCredential, true);
    await part.getByRole("button", { name: w.rename }).click();
    await part.getByRole("textbox", { name: w.name }).first().fill("Office laptop");
    await part.getByRole("button", { name: w.save }).click();
    await part.getByText("Office laptop").waitFor();
    await part.scrollIntoViewIfNeeded();
    await page.screenshot({ path: join(OUT, `passkey-me-${language}.png`), fullPage: true });

    await page.getByRole("button", { name: w.out, exact: true }).click();
    await page.getByRole("button", { name: w.enter }).waitFor();
    await page.screenshot({ path: join(OUT, `passkey-sign-in-${language}.png`), fullPage: true });
    // Whoever is not recognised by the device does not get in.
    await cdp.send("WebAuthn.setUserVerified", { authenticatorId, isUserVerified: false });
    await page.getByRole("button", { name: w.enter }).click();
    await page.getByRole("alert").waitFor();
    await page.screenshot({ path: join(OUT, `passkey-none-${language}.png`), fullPage: true });
    await cdp.send("WebAuthn.setUserVerified", { authenticatorId, isUserVerified: true });
    await page.getByRole("button", { name: w.enter }).click();
    await page.getByRole("link", { name: w.more, exact: true }).waitFor();
    assert.ok((await credentials())[0].signCount > 0);

    // It was told, where it is seen on every screen.
    await page.goto(`${named}/notices`);
    await page.getByRole("alert").first().waitFor();
    await page.screenshot({ path: join(OUT, `passkey-told-${language}.png`), fullPage: true });

    await page.goto(`${named}/me`);
    await page.getByRole("button", { name: w.remove }).click();
    await part.getByText("Office laptop").waitFor({ state: "detached" });
    await page.getByRole("button", { name: w.out, exact: true }).click();
    await page.getByRole("button", { name: w.enter }).click();
    await page.getByRole("alert").filter({ hasText: w.unknown }).waitFor();
    assert.equal(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), true, "nothing runs off the screen");
    assert.deepEqual(errors, []);
  });
}

test("by an address the screen says that there are no passkeys", { timeout: 120_000 }, async () => {
  const ines = await withPassword("Ines Duarte", "manager", "en");
  const { page, errors } = await openAs(chrome, ines.link.replace("localhost", "127.0.0.1"));
  await page.goto(`${server.base.replace("localhost", "127.0.0.1")}/me`);
  await page.getByText(/by an address \(127\.0\.0\.1\): sign in by password or link/).waitFor();
  assert.equal(await page.getByRole("button", { name: "Make a passkey" }).count(), 0);
  await page.screenshot({ path: join(OUT, "passkey-by-address-en.png"), fullPage: true });
  await page.getByRole("button", { name: "Sign out", exact: true }).click();
  await page.getByText(/by an address \(127\.0\.0\.1\)/).waitFor();
  assert.deepEqual(errors, []);
});

test("a technician is offered none", { timeout: 120_000 }, async () => {
  const teo = await admin.person("Teo Salgado", "body", "technician");
  const { page } = await openAs(chrome, byName(teo.link));
  await page.goto(`${named}/me`);
  await page.getByRole("heading", { name: "Sign out" }).waitFor();
  assert.equal(await page.getByRole("heading", { name: "Passkeys" }).count(), 0);
});
