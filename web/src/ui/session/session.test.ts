// A sign-in that ends, and who comes after it on the same browser.
import { beforeEach, describe, expect, it, vi } from "vitest";
import { page } from "../../../test/page";
import type { Op, SignedIn } from "../../api/types";

vi.mock("../../sync", () => ({ startSync: vi.fn(), stopSync: vi.fn(), wakeSync: vi.fn() }));
page();

const { auth, Failure, http } = await import("../../api/client");
const { db } = await import("../../db");
const state = await import("../../state");
const { startSync } = await import("../../sync");
const { join, resume, signOut, tokenOf } = await import("./session");

const signed = (person: string, client: string, session = "s2"): SignedIn => ({
  person,
  name: person,
  role: "technician",
  client,
  session,
  epoch: "e",
  expires_at: 0,
  now: Date.now(),
  shop_name: "",
});
const joins = vi.spyOn(auth, "join");
const out = vi.spyOn(auth, "signOut");
const bind = vi.spyOn(http, "bindClient");

/** Ines works; her sign-in ends; two of her things are unsent. */
beforeEach(async () => {
  vi.mocked(startSync).mockReset();
  out.mockReset();
  bind.mockReset().mockResolvedValue(undefined);
  joins.mockReset().mockResolvedValueOnce(signed("ines", "c1", "s1"));
  state.me.value = undefined;
  for (const row of await db.outbox()) await db.settle(row.client, [{ n: row.n, seq: 0, verdict: "refused" }], 0);
  await db.set("person/ines", undefined);
  await db.set("person/bruno", undefined);
  await db.set("signed_in", undefined);
  await db.set("n:c1", undefined);
  await join("link");
  await state.act("note", { order: "o", body: "one" });
  await state.act("note", { order: "o", body: "two" });
});

const mine = async (): Promise<[string, string, number, string][]> =>
  (await db.outbox()).map(({ client, person, n, op }) => [client, person, n, (op as Op).session]);

describe("signing in again on the same browser", () => {
  it("as the same person goes on with the same client", async () => {
    joins.mockResolvedValueOnce(signed("ines", "made-anew"));
    expect(await join("another link")).toBe(true);
    expect(bind).toHaveBeenCalledWith("c1");
    expect(state.me.value).toMatchObject({ client: "c1", session: "s2" });
    await state.act("note", { order: "o", body: "three" });
    // Each names the sign-in it was made in; the numbers go on.
    expect(await mine()).toEqual([
      ["c1", "ines", 1, "s1"],
      ["c1", "ines", 2, "s1"],
      ["c1", "ines", 3, "s2"],
    ]);
  });

  it("says nothing of which browser it is: the server's cookie does", async () => {
    joins.mockResolvedValueOnce(signed("ines", "x"));
    await join("another link");
    for (const [, on] of joins.mock.calls) expect(Object.keys(on).sort()).toEqual(["client", "device"]);
  });

  it("as somebody else neither loses nor sends as one's own what the first had done", async () => {
    joins.mockResolvedValueOnce(signed("bruno", "c9"));
    await join("link of bruno");
    expect(state.me.value).toMatchObject({ person: "bruno", client: "c9" });
    await state.act("note", { order: "o", body: "bruno's" });
    expect(await mine()).toEqual([
      ["c1", "ines", 1, "s1"],
      ["c1", "ines", 2, "s1"],
      ["c9", "bruno", 1, "s2"],
    ]);
    // And Ines goes on with hers when she comes back.
    joins.mockResolvedValueOnce(signed("ines", "c10", "s3"));
    await join("link of ines");
    expect(state.me.value).toMatchObject({ client: "c1", session: "s3" });
  });

  it("where the server knows the client as somebody else's, goes on under the new one, losing nothing", async () => {
    bind.mockRejectedValueOnce(new Failure(409, "client_taken", ""));
    joins.mockResolvedValueOnce(signed("ines", "c2"));
    await join("another link");
    expect((await mine()).map(([client, person, n]) => [client, person, n])).toEqual([
      ["c2", "ines", 1],
      ["c2", "ines", 2],
    ]);
  });

  it("is not undone by a network that goes in the middle: the link is used up", async () => {
    bind.mockRejectedValueOnce(new Failure(0, "unreached", ""));
    joins.mockResolvedValueOnce(signed("ines", "c2"));
    expect(await join("another link")).toBe(true);
    expect(state.me.value?.client).toBe("c1");
    expect((await mine()).map(([client]) => client)).toEqual(["c1", "c1"]);
  });
});

describe("signing out", () => {
  it("keeps what is unsent, and the client, for when the person comes back", async () => {
    out.mockResolvedValueOnce(undefined);
    await signOut();
    expect(state.me.value).toBeUndefined();
    expect(await mine()).toHaveLength(2);
    joins.mockResolvedValueOnce(signed("ines", "new"));
    await join("another link");
    expect(state.me.value?.client).toBe("c1");
  });

  it("without a network is made up for at the next start, not undone by it", async () => {
    out.mockRejectedValueOnce(new Failure(0, "unreached", ""));
    const fetched = vi.fn().mockRejectedValue(new Error("no network"));
    vi.stubGlobal("fetch", fetched);
    await signOut();
    out.mockResolvedValueOnce(undefined);
    await resume();
    expect(out).toHaveBeenCalledTimes(2);
    expect(fetched).not.toHaveBeenCalled();
    expect(state.me.value).toBeUndefined();
  });
});

it("a code is read however it was pasted or typed", () => {
  expect(tokenOf("https://shop.example/#join=Ab_c-9")).toBe("Ab_c-9");
  expect(tokenOf("  Ab_c -9\n")).toBe("Ab_c-9");
  expect(tokenOf("Hi, here: https://shop.example/#join=Ab_c-9 bye")).toBe("Ab_c-9");
});
