// Words that are put together from a code: every code of the stored shapes has its message. What is
// named in full is held by test/locales.test.ts.
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";

const known = new Set(
  ["app", "draw", "shop", "setup"].flatMap((area) =>
    [...readFileSync(`locales/en/${area}.ftl`, "utf8").matchAll(/^([a-zA-Z][\w-]*)\s*=/gm)].map((m) => m[1] ?? ""),
  ),
);

// Codes: server/domain/src/stored and the plan's bindings and waits.
describe("words by code", () => {
  it.each([
    [
      "shop-wait-",
      "stopped away away-due approval approval-due parts parts-due customer customer-due other other-due other-overdue other-bare curing curing-due no_equipment no_equipment-by nobody_qualified nobody_free taken_not_started no_reason",
    ],
    ["why-", "now started after curing people equipment equipment-order vehicle shift expected qualified"],
    ["draw-hold-", "approval parts customer sublet other"],
    [
      "shop-exception-",
      "started_early finished_early closed_over_undone opened_twice not_open two_at_once moved_open occupied done_by_another after_end during_hold high_voltage unqualified out_of_turn out_of_service too_late left_open cancelled_open inspection_overdue unsafe_lift no_keys_in unproved",
    ],
    ["shop-unit-", "days hours vehicles hours_per_day share ratio moves"],
    ["shop-clock-", "calendar working none"],
    [
      "shop-reason-",
      "stopped away approval parts customer other curing no_equipment nobody_qualified nobody_free taken_not_started no_reason",
    ],
    [
      "setup-caution-",
      "lift unexpected_start pulling hot_work airbag high_voltage spraying refrigerant spring fuel driving",
    ],
    ["role-", "technician parts planner manager admin"],
    ["role-may-", "technician parts planner manager admin"],
    ["setup-vin-", "length letters digit"],
    ["setup-", "order import people departments equipment places calendars routings shop"],
  ])("%s…", (prefix, codes) => {
    for (const code of codes.split(" ")) expect(known.has(prefix + code), prefix + code).toBe(true);
  });
});
