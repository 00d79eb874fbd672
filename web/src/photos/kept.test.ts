import { describe, expect, it } from "vitest";
import type { PhotoRow } from "../db/open";
import { sort } from "./kept";

const DAY = 86_400_000;
const row = (sha256: string, taken_at: number, sent = true): PhotoRow => ({
  sha256,
  mime: "image/jpeg",
  bytes: 1,
  chunks: 1,
  person: "p",
  taken_at,
  sent,
});

describe("pictures that the server has", () => {
  const rows = [row("old", 0), row("today", 4 * DAY), row("waits", 4 * DAY, false)];
  const all = (): boolean => true;

  it("stay for three days", () => {
    expect(sort(rows, all, 5 * DAY, false)).toEqual({ forget: ["old"], arrived: ["waits"], again: [] });
  });

  it("go when the phone is nearly full", () => {
    expect(sort(rows, all, 5 * DAY, true)).toEqual({ forget: ["old", "today", "waits"], arrived: [], again: [] });
  });

  it("are sent again to a server that lost them, or their record", () => {
    const set_back = (sha256: string): boolean | undefined => ({ old: true, today: false })[sha256];
    expect(sort(rows, set_back, 5 * DAY, true)).toEqual({ forget: ["old"], arrived: [], again: ["today"] });
    expect(sort([row("today", 4 * DAY)], () => undefined, 5 * DAY, true).again).toEqual(["today"]);
    expect(sort([row("old", 0)], () => undefined, 5 * DAY, false)).toEqual({ forget: ["old"], arrived: [], again: [] });
  });
});
