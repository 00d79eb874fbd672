// The sentences themselves, as a manager reads them, in both languages.
import { beforeAll, describe, expect, it, vi } from "vitest";
import type { StoredDoc } from "../../db/open";
import { loadWords, setDocs, setLanguage } from "../../state";
import * as fixture from "../../../test/shop-fixture";
import { exceptionSentence, waitSentence } from "./shop-sentences";
import { unanswered, whoWaits } from "../../model/waits";

const map = <T extends { id: string }>(list: T[]) => new Map(list.map((one) => [one.id, one]));

function said(): Record<string, string> {
  const picture = {
    orders: map(fixture.orders),
    cards: map(fixture.cards),
    handoffs: map(fixture.handoffs),
    plan: fixture.plan,
    now: fixture.NOW,
  };
  return Object.fromEntries(
    whoWaits(picture, () => 1)
      .flatMap((group) => group.waits)
      .map((wait) => [wait.order.number, `${wait.order.number} ${waitSentence(wait, fixture.NOW)}`]),
  );
}

beforeAll(async () => {
  vi.stubGlobal("document", { documentElement: { lang: "" } });
  setDocs(fixture.docs() as StoredDoc[]);
  await setLanguage("en");
  for (const area of ["app", "draw", "shop"] as const) await loadWords(area);
});

describe("who waits for whom, in words", () => {
  it("reads as a sentence in English", () => {
    expect(said()).toMatchObject({
      "2052": "2052 waits for mechanical since 09:06 (asked by body).",
      "2055": "2055 waits for mechanical since 07:00: 2041 is in its way.",
      "2050": "2050 was taken by Oren Dahl and stands since 08:00: not started.",
      "2056": "2056 is curing since 09:48, until 10:48.",
      "2047": "2047 waits for parts since Mon 20:00, due Fri 09:00.",
      "2035": "2035 waits for parts since 12 Nov 00:00, without a date.",
      "2058": "2058 waits for approval since Tue 17:00.",
      "2060": "2060 is away since Tue 08:00, back Thu 08:00.",
    });
  });

  it("says what the note of another hold says", () => {
    const [first] = fixture.orders;
    if (!first) throw new Error("no order");
    const hold = {
      id: "h-other",
      what: "other" as const,
      cards: [],
      blocks: "start" as const,
      since: fixture.NOW,
      note: "The insurer looks at it.",
    };
    const wait = { order: first, reason: "other" as const, since: fixture.at(57.1), hold };
    expect(waitSentence(wait, fixture.NOW)).toBe("is on hold since 09:06: The insurer looks at it.");
    expect(waitSentence({ ...wait, hold: undefined }, fixture.NOW)).toBe("is on hold since 09:06: another reason.");
  });

  it("says what is to be answered with the cards' names", () => {
    expect(unanswered(fixture.exceptions).map(exceptionSentence)).toEqual([
      "Oren Dahl did “Paint side”, which closes the vehicle up, while “Trim and doors” is undone inside.",
      "Tomás Rey moved the vehicle while it was open.",
    ]);
  });

  it("reads as a sentence in Spanish, with the departments' Spanish names", async () => {
    await setLanguage("es");
    expect(said()).toMatchObject({
      "2052": "2052 espera a mecánica desde 09:06 (lo pidió hojalatería).",
      "2047": "2047 espera partes desde lun 20:00, llegan vie 09:00.",
    });
    await setLanguage("en");
  });
});
