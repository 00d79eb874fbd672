import { expect, it } from "vitest";
import type { Card } from "../../api/types";
import type { QueueEntry } from "../../core/cards";
import { inOldOrder } from "./held";

const entries = (...ids: string[]): QueueEntry[] => ids.map((id) => ({ card: { id } as Card, row: undefined }));
const ids = (all: QueueEntry[]): string => all.map(({ card }) => card.id).join("");

it("what a thumb is on stays: the old order, what is new behind it, what is gone not there", () => {
  expect(ids(inOldOrder(entries("d", "c", "a", "e"), ["a", "b", "c", "d"]))).toBe("acde");
  expect(ids(inOldOrder(entries("x", "y"), []))).toBe("xy");
});
