// Who came in and what was refused, as an administrator sees it, in both languages; nobody else sees it.
import assert from "node:assert/strict";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { Api, browser, openAs, OUT, start } from "./support.mjs";

let server, chrome, admin;

before(async () => {
  server = await start("serve");
  chrome = await browser();
  admin = await Api.join(server.base, server.links.admin);
});

after(async () => {
  await chrome?.close();
  server?.stop();
});

test("an administrator sees who came in and what was refused", { timeout: 120_000 }, async () => {
  const rosa = await admin.person("Rosa Quintal", "body", "admin");
  const teo = await admin.person("Teo Salgado", "body", "technician");
  const there = await Api.join(server.base, teo.link);
  const refused = await fetch(`${server.base}/api/v1/auth/display`, {
    method: "POST",
    headers: { cookie: Object.entries(there.cookies).map(([name, value]) => `${name}=${value}`).join("; ") },
  });
  assert.equal(refused.status, 403);

  const { page, errors } = await openAs(chrome, rosa.link);
  await page.goto(`${server.base}/setup`);
  await page.getByRole("link", { name: "Sign-ins and refusals", exact: false }).click();
  const row = page.locator("li", { hasText: "403 forbidden POST /api/v1/auth/display" });
  await row.waitFor();
  assert.match(await row.innerText(), /Refused Teo Salgado[^]*from 127\.0\.0\.1/);
  await page.locator("li", { hasText: "Signed in Rosa Quintal, by a link" }).first().waitFor();
  assert.ok((await page.locator("li", { hasText: "Sign-in link made" }).count()) >= 2);
  await page.screenshot({ path: join(OUT, "security-en.png"), fullPage: true });

  await page.goto(`${server.base}/me`);
  await page.getByText("Español", { exact: true }).first().click();
  await page.goto(`${server.base}/setup/security`);
  await page.locator("li", { hasText: "Entró Rosa Quintal, con un enlace" }).first().waitFor();
  await page.setViewportSize({ width: 390, height: 844 });
  await page.screenshot({ path: join(OUT, "security-es-phone.png"), fullPage: true });
  assert.equal(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), true, "nothing runs off a phone");
  assert.deepEqual(errors, []);
});

test("who had wrong passwords typed for them reads it among their notices, once", { timeout: 120_000 }, async () => {
  const ines = await admin.person("Ines Duarte", "body", "manager", "es");
  for (let n = 0; n < 6; n++) {
    const answer = await fetch(`${server.base}/api/v1/auth/password`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ name: "Ines Duarte", password: "not this one" }),
    });
    assert.equal(answer.status, 401);
  }
  const { page, errors } = await openAs(chrome, ines.link);
  await page.goto(`${server.base}/notices`);
  const told = page.getByRole("alert").filter({ hasText: "contraseñas equivocadas con su nombre 6 veces" });
  await told.waitFor();
  await page.screenshot({ path: join(OUT, "tried-es.png") });
  await page.getByRole("button", { name: "Ya lo leí" }).click();
  await told.waitFor({ state: "detached" });
  await page.reload();
  await page.getByRole("heading", { name: "Avisos", exact: false }).first().waitFor();
  assert.equal(await told.count(), 0);
  assert.deepEqual(errors, []);
});
