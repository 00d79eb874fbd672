// Several people on one tablet, one of them without a network.
import { beforeEach, describe, expect, it, vi } from "vitest";
import { page } from "../../../test/page";
import type { SignedIn } from "../../api/types";

vi.mock("../../sync", () => ({ startSync: vi.fn(), stopSync: vi.fn(), wakeSync: vi.fn() }));
page();

const { auth, Failure } = await import("../../api/client");
const { db } = await import("../../db");
const state = await import("../../state");
const { startSync } = await import("../../sync");
const session = await import("./session");
const { verifierOf } = await import("./pin");
const { choosePin, lock, lockedBecause, unlock } = await import("./unlock");

const signed = (person: string, over: Partial<SignedIn> = {}): SignedIn => ({
  person,
  name: person,
  role: "technician",
  client: `client-${person}`,
  session: `session-${person}`,
  epoch: "e",
  expires_at: 0,
  now: 0,
  shop_name: "",
  ...over,
});
const unreached = new Failure(0, "unreached", "");
const saysNo = (code: string) => new Failure(401, code, "");
const switchTo = vi.spyOn(auth, "switchTo");

async function here(person: string, pin: string): Promise<void> {
  await db.changePerson(person, () => ({
    person,
    name: person,
    client: `client-${person}`,
    signed: signed(person),
    browser: true,
  }));
  await db.changePerson(person, (was) => ({ ...(was as never as object), verifier }) as never);
  void pin;
}
const verifier = await verifierOf("4711", 10);

beforeEach(async () => {
  lock();
  switchTo.mockReset().mockRejectedValue(unreached);
  vi.mocked(startSync).mockReset();
  state.shared.value = true;
  state.setRows([]);
  await here("marta", "4711");
  await here("teo", "4711");
  await db.set("signed_in", signed("teo"));
  await db.putNotices([{ id: 1, kind: "asked", at: 1, urgent: false } as never]);
});

describe("unlocking without a network", () => {
  it("puts what is done under the person and client of whom the PIN is", async () => {
    expect(await unlock("marta", "4711")).toBe("in");
    expect(state.me.value).toMatchObject({ person: "marta", client: "client-marta", session: "session-marta" });
    await state.act("note", { order: "o", body: "x" });
    expect((await db.outbox()).at(-1)).toMatchObject({
      person: "marta",
      client: "client-marta",
      op: { session: "session-marta" },
    });
  });

  it("shows nobody's notices while the cookies are another's", async () => {
    await unlock("marta", "4711");
    expect(state.notices.value).toEqual([]);
    expect(startSync).toHaveBeenLastCalledWith(expect.objectContaining({ person: "marta" }), "teo");
  });

  it("shows one's own at once where the cookies are one's own", async () => {
    await unlock("teo", "4711");
    expect(state.notices.value).toHaveLength(1);
    expect(switchTo).not.toHaveBeenCalled();
  });

  it("changes the cookies when the server is reached again", async () => {
    await unlock("marta", "4711");
    switchTo.mockResolvedValue(signed("marta", { expires_at: 9 }));
    await import("./unlock").then(({ watch }) => watch());
    state.setReach(true);
    await vi.waitFor(() => expect(state.me.value?.expires_at).toBe(9));
    expect(switchTo).toHaveBeenLastCalledWith("marta", "4711", "client-marta");
    expect(startSync).toHaveBeenLastCalledWith(expect.objectContaining({ person: "marta" }));
    expect(await db.notices()).toEqual([]);
    state.setReach(false);
  });
});

describe("a wrong PIN", () => {
  it("is refused, and after the third one waits", async () => {
    expect(await unlock("marta", "0000")).toBe("wrong");
    expect(await unlock("marta", "0000")).toBe("wrong");
    expect(await unlock("marta", "0000", 1_000)).toEqual({ wait: 5_000 });
    // The right one too, until then; it is kept over a restart.
    expect(await unlock("marta", "4711", 2_000)).toEqual({ wait: 4_000 });
    expect(state.me.value).toBeUndefined();
    expect(await unlock("marta", "4711", 6_001)).toBe("in");
    expect((await db.personHere("marta"))?.wrong).toBeUndefined();
  });

  it("may be the right one by now: the server is asked", async () => {
    switchTo.mockResolvedValue(signed("marta"));
    expect(await unlock("marta", "9999")).toBe("in");
    switchTo.mockRejectedValue(unreached);
    lock();
    expect(await unlock("marta", "9999")).toBe("in");
    lock();
    expect(await unlock("marta", "4711")).toBe("wrong");
  });
});

describe("locking", () => {
  it("leaves nobody signed in, and no notices", async () => {
    await unlock("teo", "4711");
    lock();
    expect(state.me.value).toBeUndefined();
    expect(state.notices.value).toEqual([]);
  });

  it("stays locked though the server answers late", async () => {
    let answer: (to: SignedIn) => void = () => undefined;
    switchTo.mockReturnValue(new Promise((resolve) => (answer = resolve)));
    const coming = unlock("marta", "4711");
    await vi.waitFor(() => expect(switchTo).toHaveBeenCalled());
    lock();
    answer(signed("marta"));
    await coming;
    expect(state.me.value).toBeUndefined();
  });

  it("when the shop has ended the sign-in: what is unsent stays, with its person", async () => {
    await unlock("marta", "4711");
    await state.act("note", { order: "o", body: "kept" });
    lock();
    switchTo.mockRejectedValue(saysNo("signed_out"));
    await unlock("marta", "4711");
    expect([state.me.value, lockedBecause.value]).toEqual([undefined, "tablet-ended"]);
    expect(await unlock("marta", "4711")).toBe("ended");
    expect((await db.outbox()).some((row) => row.person === "marta" && !row.result)).toBe(true);
    expect(await db.personHere("marta")).toMatchObject({ client: "client-marta" });
  });

  it("when the PIN was changed elsewhere: the old one is no good any more", async () => {
    switchTo.mockRejectedValue(saysNo("wrong_pin"));
    await unlock("marta", "4711");
    expect(lockedBecause.value).toBe("tablet-pin-changed");
    expect(await unlock("marta", "4711")).toBe("wrong");
  });
});

describe("somebody new", () => {
  it("chooses a PIN before anything is shown, and goes on with it offline", async () => {
    vi.spyOn(auth, "setPin").mockResolvedValue(undefined);
    await session.adopt(signed("lou"), true);
    expect(state.me.value).toBeUndefined();
    expect(session.withoutPin.value?.person).toBe("lou");
    expect(await choosePin(signed("lou"), "081500")).toBe("in");
    expect(state.me.value?.person).toBe("lou");
    lock();
    expect(await unlock("lou", "081500")).toBe("in");
  });
});

describe("signing out one of several", () => {
  it("leaves the others, their things and the copy of the shop", async () => {
    const forget = vi.spyOn(auth, "forgetDevice").mockResolvedValue(undefined);
    await db.set("position", { epoch: "e", cursor: 5, hash: "h" });
    await unlock("teo", "4711");
    await session.signOut();
    expect(forget).toHaveBeenCalledWith("session-teo");
    expect(await db.position()).toBeDefined();
    expect((await db.personHere("teo"))?.signed).toBeUndefined();
    expect(await unlock("marta", "4711")).toBe("in");
  });
});
