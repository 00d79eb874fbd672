// Every message that these screens name exists in both languages, with the same arguments, and every
// code that can come from the server has its words.
import { readdirSync, readFileSync } from "node:fs";
import { FluentBundle, FluentResource } from "@fluent/bundle";
import { describe, expect, it } from "vitest";

const AREAS = ["app", "draw", "shop", "setup"];
const read = (language: string, area: string): string => readFileSync(`locales/${language}/${area}.ftl`, "utf8");

function messages(language: string, area: string): Map<string, Set<string>> {
  const out = new Map<string, Set<string>>();
  // One message reaches to the next line that begins with a letter.
  for (const block of read(language, area).split(/\n(?=[a-zA-Z])/)) {
    const id = /^([a-zA-Z][\w-]*)\s*=/.exec(block)?.[1];
    if (id) out.set(id, new Set([...block.matchAll(/\{\s*\$(\w+)/g)].map((m) => m[1] ?? "")));
  }
  return out;
}

const sources = ["draw", "shop", "setup"].flatMap((folder) =>
  readdirSync(`src/ui/${folder}`)
    .filter((name) => /\.tsx?$/.test(name) && !/test/.test(name))
    .map((name) => readFileSync(`src/ui/${folder}/${name}`, "utf8")),
);

describe.each(["draw", "shop", "setup"])("words of %s", (area) => {
  it("are the same messages in both languages, with the same arguments", () => {
    const en = messages("en", area);
    const es = messages("es", area);
    expect([...es.keys()].sort()).toEqual([...en.keys()].sort());
    for (const [id, args] of en) expect([id, [...(es.get(id) ?? [])].sort()]).toEqual([id, [...args].sort()]);
  });

  it.each(["en", "es"])("parse without errors in %s", (language) => {
    const bundle = new FluentBundle(language, { useIsolating: false });
    expect(bundle.addResource(new FluentResource(read(language, area)))).toEqual([]);
    for (const id of messages(language, area).keys()) expect(bundle.hasMessage(id), id).toBe(true);
  });
});

describe("what the screens name", () => {
  const known = new Set(AREAS.flatMap((area) => [...messages("en", area).keys()]));

  it("exists", () => {
    const named = sources.flatMap((source) => [...source.matchAll(/"((?:shop|setup|draw)-[a-z_-]+[a-z])"/g)].map((m) => m[1] ?? ""));
    const missing = [...new Set(named)].filter((id) => !known.has(id)).filter((id) => !NOT_WORDS.has(id));
    expect(missing).toEqual([]);
  });

  // Words put together from a code: shapes of server/domain/src/stored.
  it.each([
    ["shop-wait-", "stopped away away-due approval approval-due parts parts-due customer customer-due curing curing-due no_equipment no_equipment-by nobody_qualified nobody_free taken_not_started no_reason"],
    ["shop-why-", "now started after curing people equipment equipment-order vehicle shift expected hold hold-due qualified"],
    ["shop-hold-", "approval parts customer sublet other"],
    ["draw-hold-", "approval parts customer sublet other"],
    ["shop-exception-", "started_early finished_early closed_over_undone opened_twice not_open two_at_once moved_open occupied done_by_another after_end during_hold high_voltage unqualified out_of_turn"],
    ["shop-unit-", "days hours vehicles hours_per_day share"],
    ["shop-clock-", "calendar working none"],
    ["shop-reason-", "stopped away approval parts customer curing no_equipment nobody_qualified nobody_free taken_not_started no_reason"],
    ["setup-caution-", "lift unexpected_start pulling hot_work airbag high_voltage spraying refrigerant spring fuel"],
    ["role-name-", "technician parts planner manager admin"],
    ["role-may-", "technician parts planner manager admin"],
    ["setup-vin-", "length letters digit"],
  ])("%s…", (prefix, codes) => {
    for (const code of codes.split(" ")) expect(known.has(prefix + code), prefix + code).toBe(true);
  });
});

/** Names of styles that look like names of messages. */
const NOT_WORDS = new Set(["shop-head", "shop-columns", "setup-two", "setup-list", "setup-form"]);
