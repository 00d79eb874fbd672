// Two shops, a server each, one person who works in both: entered by hand, said once who is who, and from
// then on one touch. On one machine, so one cookie jar for both.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { Api, browser, openAs, OUT, start, touchSignIn } from "./support.mjs";

let north, south, chrome;

before(async () => {
  [north, south] = [await start("serve"), await start("serve")];
  chrome = await browser();
});

after(async () => {
  await chrome?.close();
  north?.stop();
  south?.stop();
});

const button = (page, name) => page.getByRole("button", { name, exact: true }).first();

async function named(server, name) {
  const admin = await Api.join(server.base, server.links.admin);
  const { docs } = await admin.pull();
  await admin.act("set_shop", { shop: { ...docs["shop/shop"], name } });
  return admin;
}

async function codeOf(page, base) {
  await page.goto(`${base}/setup/sisters`);
  return page.locator("output.link-text").innerText();
}

async function enter(page, base, code, name) {
  await page.goto(`${base}/setup/sisters`);
  await page.getByLabel("The connection code of the other shop").fill(code);
  await button(page, "Add").click();
  await page.locator("li", { hasText: name }).waitFor();
}

test("one sign-in for two shops", { timeout: 180_000 }, async () => {
  const [inNorth, inSouth] = [await named(north, "North Yard Collision"), await named(south, "Lower Mill Collision")];
  const there = await inNorth.person("Rosa Quintal", "body", "admin");
  const here = await inSouth.person("R. Quintal", "body", "admin");

  // The same browser, signed in to both in the old way.
  const { page, context, errors } = await openAs(chrome, there.link);
  const other = await context.newPage();
  await other.goto(here.link);
  await other.getByText("as R. Quintal", { exact: false }).first().waitFor();
  await touchSignIn(other);
  await other.locator("nav.bar").waitFor();

  // What she will show when it comes to who is who.
  await other.goto(`${south.base}/me`);
  await other.getByLabel("New password", { exact: false }).fill("qwertyuiop1");
  await other.locator("form", { has: other.getByLabel("New password", { exact: false }) }).getByRole("button", { name: "Save" }).click();
  await other.getByText("Many people have this password", { exact: false }).waitFor();
  await other.getByLabel("New password", { exact: false }).fill("anvil lantern quorum");
  await other.locator("form", { has: other.getByLabel("New password", { exact: false }) }).getByRole("button", { name: "Save" }).click();
  await other.getByText("Saved").first().waitFor();

  await enter(other, south.base, await codeOf(page, north.base), "North Yard Collision");
  await page.goto(`${north.base}/setup/sisters`);
  await page.getByLabel("The connection code of the other shop").fill("half a code");
  await button(page, "Add").click();
  await page.getByText("That is not the connection code of a shop", { exact: false }).waitFor();
  assert.equal(await page.getByLabel("The connection code of the other shop").inputValue(), "half a code", "what was typed stays");
  await enter(page, north.base, await codeOf(other, south.base), "Lower Mill Collision");
  await page.screenshot({ path: `${OUT}sisters-setup.png`, fullPage: true });

  // The first time the other shop asks who that is.
  await page.goto(`${north.base}/me`);
  await page.locator("li", { hasText: "Lower Mill Collision" }).getByRole("button", { name: "Go there" }).click();
  await page.getByText("Is that the same person?", { exact: false }).waitFor();
  assert.ok(page.url().startsWith(south.base) && !page.url().includes("over="), page.url());
  await page.screenshot({ path: `${OUT}sisters-who.png`, fullPage: true });
  await page.getByLabel("Password or PIN of R. Quintal", { exact: false }).fill("not this one");
  await button(page, "Yes, both are me").click();
  await page.getByText("That is not the password or PIN", { exact: false }).waitFor();
  await page.getByLabel("Password or PIN of R. Quintal", { exact: false }).fill("anvil lantern quorum");
  await button(page, "Yes, both are me").click();
  await page.locator("nav.bar").waitFor();

  // And both sign-ins stand, though a browser keeps one jar of cookies for a host.
  for (const base of [north.base, south.base]) {
    const answer = await page.request.get(`${base}/api/v1/auth/me`);
    assert.equal(answer.status(), 200, base);
  }
  assert.deepEqual(errors, []);
  await context.close();

  // A new phone knows the northern shop only: one touch signs in to the southern one.
  const again = (await inNorth.post("/api/v1/auth/invite", { person: there.id })).link;
  const phone = await openAs(chrome, again);
  await phone.page.goto(`${north.base}/shop`);
  // The line fails at the sign-in: a second try lets in all the same.
  await phone.context.route("**/api/v1/auth/over", (route) => route.abort(), { times: 1 });
  await button(phone.page, "To Lower Mill Collision").click();
  await phone.page.waitForURL(`${south.base}/**`);
  await phone.page.getByText("You come from North Yard Collision as Rosa Quintal", { exact: false }).waitFor();
  await phone.page.screenshot({ path: `${OUT}sisters-come.png`, fullPage: true });
  await touchSignIn(phone.page);
  await button(phone.page, "Try again").click();
  await touchSignIn(phone.page);
  await phone.page.locator("nav.bar").waitFor();
  await phone.page.goto(`${south.base}/me`);
  await phone.page.getByRole("heading", { name: "R. Quintal" }).waitFor();
  await phone.page.getByText("came from North Yard Collision", { exact: false }).waitFor();
  await phone.page.getByText("From North Yard Collision as Rosa Quintal", { exact: false }).waitFor();
  await phone.page.screenshot({ path: `${OUT}sisters-me.png`, fullPage: true });

  // Somebody whom the southern shop does not know signs in there once.
  const wes = await inNorth.person("Wes Amado", "body", "technician");
  const stranger = await openAs(chrome, wes.link);
  await stranger.page.goto(`${north.base}/me`);
  await stranger.page.locator("li", { hasText: "Lower Mill Collision" }).getByRole("button", { name: "Go there" }).click();
  await stranger.page.getByText("Sign in once", { exact: false }).waitFor();
  const lent = await inSouth.person("Wes, lent", "refinish", "technician");
  await stranger.page.getByLabel("Link or code").fill(lent.link);
  await button(stranger.page, "Sign in").click();
  await button(stranger.page, "Yes, both are me").click();
  await stranger.page.locator("nav.bar").waitFor();

  // Taken off, the way is closed and who came by it is out.
  const list = await inSouth.get("/api/v1/sisters");
  await inSouth.send("DELETE", `/api/v1/sisters/${list.sisters[0].id}`);
  assert.equal((await phone.page.request.get(`${south.base}/api/v1/auth/me`)).status(), 401);
  await phone.page.goto(`${north.base}/shop`);
  await button(phone.page, "To Lower Mill Collision").click();
  await phone.page.getByText("does not know the shop you come from", { exact: false }).waitFor();
  assert.deepEqual([...phone.errors, ...stranger.errors], []);
});
