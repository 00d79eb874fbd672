import { expect, it } from "vitest";
import { called, type Told } from "./call";

const told = (...all: [number, Told["kind"]][]): Told[] => all.map(([id, kind]) => ({ id, kind, at: 1_000_000 }));

it("what somebody waits for calls once, and nothing else does", () => {
  const now = 1_000_000 + 9 * 60_000;
  const first = called(told([3, "open"], [4, "asked"], [5, "handed_back"]), 3, now);
  expect([first.calls.map((one) => one.id), first.seen]).toEqual([[5], 5]);
  expect(called(told([3, "open"], [5, "handed_back"]), first.seen, now).calls).toEqual([]);
  expect(called([], 7, now)).toEqual({ calls: [], seen: 7 });
  expect(called(told([8, "open"]), 7, now + 60_000), "a first copy brings what was news before").toEqual({
    calls: [],
    seen: 8,
  });
});
