// Whose phone a picture waits on, in words.
import { beforeAll, expect, it, vi } from "vitest";
import type { Photo } from "../../api/types";
import { loadWords, me, setDocs, setLanguage } from "../../state";
import { whereIs } from "./photo";

beforeAll(async () => {
  vi.stubGlobal("document", { documentElement: { lang: "" } });
  await setLanguage("en");
  await loadWords("draw");
  setDocs([{ key: "person/milo", seq: 1, body: { id: "milo", name: "Milo Brandt" } as never }]);
  me.value = { person: "ines" } as never;
});

const photo = (over: Partial<Photo>): Photo => ({
  id: "p",
  order: "o",
  by: "milo",
  taken_at: 1,
  sha256: "ab",
  mime: "image/jpeg",
  bytes: 1,
  here: false,
  ...over,
});

it.each([
  ["arrived", photo({ here: true }), false, ""],
  ["arrived, and still on this phone", photo({ here: true }), true, ""],
  ["somebody else's", photo({}), false, "On Milo Brandt’s phone, not sent yet."],
  ["taken here", photo({ by: "ines" }), true, "On this phone, not sent yet."],
  ["taken here by another, on a shared tablet", photo({}), true, "On this phone, not sent yet."],
  [
    "taken on the other phone of the same person",
    photo({ by: "ines" }),
    false,
    "On another phone of yours, not sent yet.",
  ],
])("%s", (_, of, kept, said) => expect(whereIs(of, kept)).toBe(said));
