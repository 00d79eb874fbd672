import { expect, it } from "vitest";
import type { Happened } from "../../api/types";
import { together } from "./together";

const MINUTE = 60_000;
const denied = (at: number, more: Partial<Happened> = {}): Happened => ({
  at,
  what: "denied",
  address: "192.168.4.7",
  detail: "401 wrong_password POST /api/v1/auth/password",
  ...more,
});

it("the same from the same place within ten minutes is one row, and nothing else is", () => {
  const link: Happened = { at: 9 * MINUTE, what: "link_made", address: "192.168.4.2" };
  // The newest first, as the server gives them.
  const rows = together([
    denied(10 * MINUTE),
    link,
    denied(5 * MINUTE),
    denied(4 * MINUTE, { address: "192.168.4.8" }),
    denied(0),
    denied(-20 * MINUTE),
  ]);
  expect(rows.map(({ what, at, since, count }) => [what, at / MINUTE, since / MINUTE, count])).toEqual([
    ["denied", 10, 0, 3],
    ["link_made", 9, 9, 1],
    ["denied", 4, 4, 1],
    ["denied", -20, -20, 1],
  ]);
});
