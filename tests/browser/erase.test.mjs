// An administrator erases a person: what goes and what stays is said first, and everybody's screen forgets them.
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

test("what goes and what stays is said, then it is done and nobody can take it back", { timeout: 120_000 }, async () => {
  const rosa = await admin.person("Rosa Quintal", "body", "admin");
  await admin.person("Teo Salgado", "body", "technician");
  const { page, errors } = await openAs(chrome, rosa.link);
  await page.goto(`${server.base}/setup/people`);
  await page.getByRole("link", { name: /Teo Salgado/ }).click();
  await page.getByRole("button", { name: "Erase Teo Salgado …" }).click();
  await page.getByRole("heading", { name: "What goes, for good" }).waitFor();
  await page.getByText("Each restore erases again by the list beside the backups", { exact: false }).waitFor();
  await page.screenshot({ path: join(OUT, "erase-en.png"), fullPage: true });
  await page.getByRole("button", { name: "Erase Teo Salgado", exact: true }).click();
  await page.getByRole("heading", { name: "Erased person" }).waitFor();
  assert.equal(await page.getByText("Teo Salgado").count(), 0);
  // Not oneself.
  await page.goto(`${server.base}/setup/people`);
  await page.getByRole("link", { name: /Rosa Quintal/ }).click();
  await page.getByRole("heading", { name: "Rosa Quintal" }).waitFor();
  assert.equal(await page.getByRole("heading", { name: "Erase", exact: true }).count(), 0);

  const other = await admin.person("Milo Crane", "body", "technician");
  assert.ok(other.link);
  await page.goto(`${server.base}/me`);
  await page.getByText("Español", { exact: true }).first().click();
  await page.goto(`${server.base}/setup/people`);
  await page.getByRole("link", { name: /Milo Crane/ }).click();
  await page.setViewportSize({ width: 390, height: 844 });
  await page.getByRole("button", { name: "Borrar los datos de Milo Crane …" }).click();
  await page.getByRole("heading", { name: "Lo que se borra para siempre" }).waitFor();
  await page.screenshot({ path: join(OUT, "erase-es-phone.png"), fullPage: true });
  assert.equal(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), true, "nothing runs off a phone");
  assert.deepEqual(errors, []);
});
