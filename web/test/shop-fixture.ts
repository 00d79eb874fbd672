// An invented shop at one moment, for tests and for looking at the screens without a server.
import type {
  Card,
  Department,
  Equipment,
  Exception,
  Handoff,
  Needs,
  Order,
  Person,
  Plan,
  PlanRow,
  PlanVehicle,
  Shop,
} from "../src/api/types";

const H = 3_600_000;
/** Wednesday 10:20 in Chicago, in winter. */
export const NOW = Date.UTC(2026, 10, 25, 16, 20);
const MON = Date.UTC(2026, 10, 23, 6);
/** Hours from Monday, midnight in the shop. */
export const at = (hours: number) => MON + hours * H;

export const shop: Shop = {
  name: "Cedar Bend Collision",
  time_zone: "America/Chicago",
  calendar: "shop",
  language: "en",
};

const department = (
  id: string,
  text: string,
  es: string,
  rank: number,
  working: "lead" | "pool" = "pool",
): Department => ({
  id,
  title: { text, es },
  working,
  deputies: [],
  rank,
  retired: false,
});
export const departments = [
  department("body", "Body", "Hojalatería", 1, "lead"),
  department("mechanical", "Mechanical", "Mecánica", 2),
  department("refinish", "Refinish", "Pintura", 3),
  department("parts", "Parts", "Partes", 4),
];

const person = (id: string, name: string, dep: string, role: Person["role"] = "technician"): Person => ({
  id,
  name,
  department: dep,
  also: [],
  role,
  language: "en",
  qualifications: {},
  away: [],
  retired: false,
});
export const people = [
  person("p-ilse", "Ilse Varga", "body"),
  person("p-tomas", "Tomás Rey", "body"),
  person("p-oren", "Oren Dahl", "mechanical"),
  person("p-mina", "Mina Kord", "refinish"),
  person("p-juno", "Juno Pell", "parts", "parts"),
  person("p-boss", "Rue Castell", "body", "manager"),
];

const tool = (
  id: string,
  text: string,
  es: string,
  kind: string,
  dep: string,
  more: Partial<Equipment> = {},
): Equipment => ({
  id,
  title: { text, es },
  kind,
  department: dep,
  out_of_service: [],
  retired: false,
  ...more,
});
export const equipment = [
  tool("lift-1", "Lift 1", "Elevador 1", "lift", "mechanical", { rated_load_kg: 4500, inspection_due: at(-20 * 24) }),
  tool("lift-2", "Lift 2", "Elevador 2", "lift", "mechanical", { rated_load_kg: 4500 }),
  tool("lift-3", "Lift 3", "Elevador 3", "lift", "mechanical", {
    out_of_service: [{ from: at(24), to: at(80), reason: "arm lock" }],
  }),
  tool("bench-1", "Frame bench", "Máquina de enderezar", "bench", "body"),
  tool("booth-1", "Booth", "Cabina", "booth", "refinish"),
];

const needs: Needs = { off_vehicle: false, beside: false, one_go: false, checks: [], cautions: [] };

export const orders: Order[] = [];
export const cards: Card[] = [];
export const handoffs: Handoff[] = [];
export const exceptions: Exception[] = [];
const rows: PlanRow[] = [];
const vehicles: PlanVehicle[] = [];

export function order(number: string, vehicle: string, arrived: number, more: Partial<Order> = {}): Order {
  const made: Order = {
    id: `o-${number}`,
    number,
    vehicle,
    vin_doubtful: false,
    towed_in: false,
    weight: 2,
    stage: "authorised",
    stages: [
      { stage: "arrived", at: at(arrived) },
      { stage: "authorised", at: at(arrived + 3) },
    ],
    promise_moves: 0,
    leads: {},
    condition: { weight_off: [], loose: [] },
    energy: { high_voltage: "none" },
    open: [],
    holds: [],
    stood: [],
    cards: [],
    created_at: at(arrived),
    ...more,
  };
  orders.push(made);
  return made;
}

export function card(
  of: Order,
  id: string,
  dep: string,
  text: string,
  es: string,
  spans: [number, number?][],
  more: Partial<Card> = {},
): Card {
  const open = spans.at(-1);
  const made: Card = {
    ...needs,
    id: `${of.id}-${id}`,
    order: of.id,
    department: dep,
    title: { text, es },
    planned_minutes: 90,
    after: [],
    life: !open ? "waiting" : open[1] === undefined ? "working" : "done",
    helpers: [],
    spans: spans.map(([from, to], i) => ({
      id: `${of.id}-${id}-${i}`,
      person: more.taken_by ?? people.find((p) => p.department === dep)?.id ?? "p-ilse",
      from: at(from),
      to: to === undefined ? undefined : at(to),
      uncertain: false,
      corrected: false,
    })),
    done_at: open?.[1] === undefined ? undefined : at(open[1]),
    checks_done: [],
    created_at: of.created_at,
    ...more,
  };
  cards.push(made);
  of.cards.push(made.id);
  return made;
}

function ask(
  of: Order,
  from: string,
  to: string,
  hours: number,
  life: Handoff["life"],
  of_cards: Card[],
  more: Partial<Handoff> = {},
): void {
  handoffs.push({
    id: `${of.id}-ask`,
    order: of.id,
    routing: "suspension-down-rear",
    title: { text: "Suspension down", es: "Bajar suspensión" },
    from,
    to,
    asked_by: "p-ilse",
    asked_at: at(hours),
    life,
    cards: of_cards.map((one) => one.id),
    joined: false,
    condition: { weight_off: [], loose: [] },
    ...more,
  });
}

function planned(
  one: Card,
  from: number,
  to: number,
  place: number,
  binding: PlanRow["reason"]["binding"],
  tool?: string,
): void {
  rows.push({
    card: one.id,
    order: one.order,
    department: one.department,
    place,
    from: at(from),
    to: at(to),
    equipment: tool,
    reason: { binding },
  });
}

// 2041: on lift 2, open; the seam is being sealed; late.
{
  const o = order("2041", "grey wagon", -16, {
    promise: at(2 * 24 + 16),
    open: [{ open: "suspension-down-rear", since: at(33), by: "o-2041-down", equipment: "lift-2" }],
  });
  card(o, "teardown", "body", "Teardown", "Desarme", [[-14, -10]]);
  card(o, "pull", "body", "Pull rail", "Estirar larguero", [
    [8, 12],
    [13, 16],
  ]);
  const down = card(o, "down", "mechanical", "Suspension down", "Bajar suspensión", [[31, 33.5]], {
    opens: "suspension-down-rear",
    used: "lift-2",
  });
  const seal = card(o, "seal", "body", "Seal wheelhouse seam", "Sellar junta del pase de rueda", [[57.5]], {
    inside: "suspension-down-rear",
    taken_by: "p-ilse",
  });
  const refit = card(o, "refit", "mechanical", "Suspension up", "Montar suspensión", [], {
    closes: "suspension-down-rear",
  });
  const paint = card(o, "paint", "refinish", "Paint quarter", "Pintar costado", [], { equipment: "booth" });
  ask(o, "body", "mechanical", 14, "open", [down, refit], {
    taken_at: at(30),
    taken_by: "p-oren",
    started_at: at(31),
    opened_at: at(33.5),
  });
  planned(seal, 57.5, 59, 0, { kind: "started" });
  planned(refit, 60, 62.5, 1, { kind: "curing", until: at(60) }, "lift-2");
  planned(paint, 80, 86, 2, { kind: "equipment", equipment: "booth-1", order: "o-2039", until: at(80) }, "booth-1");
  vehicles.push({
    order: o.id,
    finish: at(86),
    promise: o.promise,
    late_minutes: 22 * 60,
    chain: [
      { card: paint.id, binding: { kind: "equipment", equipment: "booth-1", order: "o-2039", until: at(80) } },
      { card: refit.id, binding: { kind: "curing", until: at(60) } },
      { card: seal.id, binding: { kind: "started" } },
    ],
  });
}
// 2052: asked for mechanical this morning, nobody free.
{
  const o = order("2052", "blue pickup", 10, { promise: at(3 * 24 + 16) });
  card(o, "teardown", "body", "Teardown", "Desarme", [[11, 15]]);
  const tank = card(o, "tank", "mechanical", "Fuel tank out", "Sacar tanque", []);
  const weld = card(o, "weld", "body", "Weld cab mount", "Soldar soporte de cabina", []);
  ask(o, "body", "mechanical", 57.1, "asked", [tank], { title: { text: "Fuel tank out", es: "Sacar tanque" } });
  planned(tank, 62.5, 64, 2, { kind: "people", department: "mechanical", until: at(62.5) }, "lift-1");
  planned(weld, 64, 88, 3, { kind: "after", card: tank.id, until: at(64) });
  vehicles.push({
    order: o.id,
    finish: at(90),
    promise: o.promise,
    late_minutes: 120,
    waits: { reason: "nobody_free", since: at(57.1), card: tank.id, department: "mechanical" },
    chain: [
      { card: weld.id, binding: { kind: "after", card: tank.id, until: at(64) } },
      { card: tank.id, binding: { kind: "people", department: "mechanical", until: at(62.5) } },
    ],
  });
}
// 2039: in the booth.
{
  const o = order("2039", "white van", -40, { promise: at(4 * 24 + 12) });
  card(o, "prep", "refinish", "Prep side", "Preparar lateral", [
    [30, 34],
    [55, 57],
  ]);
  const paint = card(o, "paint", "refinish", "Paint side", "Pintar lateral", [[58]], { used: "booth-1" });
  const trim = card(o, "trim", "body", "Trim and doors", "Vestiduras y puertas", []);
  card(o, "parts-cut", "refinish", "Cut in door edges", "Pintar cantos", [[31, 33]], { off_vehicle: true });
  planned(paint, 58, 61, 0, { kind: "started" }, "booth-1");
  planned(trim, 79, 83, 4, { kind: "shift", until: at(79) });
  vehicles.push({ order: o.id, finish: at(83), promise: o.promise, late_minutes: 0, chain: [] });
}
// 2047: parts, due Friday. 2035: parts, no date, eleven days.
for (const [number, what, since, due] of [
  ["2047", "red hatchback", 20, at(4 * 24 + 9)],
  ["2035", "green coupe", -11 * 24, undefined],
] as const) {
  const o = order(number, what, since - 6, {
    promise: number === "2035" ? at(24 + 16) : at(8 * 24),
    holds: [{ id: `h-${number}`, what: "parts", cards: [], blocks: "start", since: at(since), due }],
  });
  card(o, "teardown", "body", "Teardown", "Desarme", [[since - 4, since]]);
  const fit = card(o, "fit", "body", "Fit fender", "Montar salpicadera", []);
  if (due) planned(fit, 4 * 24 + 9, 4 * 24 + 13, 5, { kind: "hold", what: "parts", due });
  vehicles.push({
    order: o.id,
    finish: due ? at(4 * 24 + 13) : undefined,
    promise: o.promise,
    late_minutes: due ? 0 : 18 * 60,
    waits: { reason: "parts", since: at(since), card: fit.id, due },
    chain: due ? [] : [{ card: fit.id, binding: { kind: "hold", what: "parts" } }],
  });
}
// 2055: waits for a lift. 2056: primer is wet. 2058: approval. 2050: taken, not started. 2060: away. 2061: expected.
{
  const lift = order("2055", "black sedan", 33, { promise: at(4 * 24 + 16) });
  card(lift, "look", "body", "Measure", "Medir", [[34, 36]]);
  const align = card(lift, "align", "mechanical", "Alignment", "Alineación", []);
  planned(align, 63, 64, 3, { kind: "equipment", equipment: "lift-2", order: "o-2041", until: at(62.5) }, "lift-2");
  vehicles.push({
    order: lift.id,
    finish: at(64),
    promise: lift.promise,
    late_minutes: 0,
    waits: { reason: "no_equipment", since: at(55), card: align.id, department: "mechanical", by_order: "o-2041" },
    chain: [],
  });

  const wet = order("2056", "silver hatchback", 8, { promise: at(3 * 24 + 16) });
  card(wet, "prime", "refinish", "Prime fender", "Fondear salpicadera", [[55, 57.8]]);
  const block = card(wet, "block", "refinish", "Block and mask", "Lijar y enmascarar", []);
  planned(block, 59, 61, 1, { kind: "curing", until: at(58.8) });
  vehicles.push({
    order: wet.id,
    finish: at(61),
    promise: wet.promise,
    late_minutes: 0,
    waits: { reason: "curing", since: at(57.8), card: block.id, department: "refinish", due: at(58.8) },
    chain: [],
  });

  const ok = order("2058", "yellow van", 40, { stage: "arrived", stages: [{ stage: "arrived", at: at(40) }] });
  card(ok, "teardown", "body", "Teardown", "Desarme", []);
  vehicles.push({ order: ok.id, late_minutes: 0, waits: { reason: "approval", since: at(41) }, chain: [] });

  const taken = order("2050", "tan pickup", 9, { promise: at(5 * 24) });
  card(taken, "pull", "body", "Pull bed", "Estirar caja", [[12, 16]], { used: "bench-1", opens: "on-the-bench" });
  card(taken, "unclamp", "body", "Off the bench", "Bajar de la máquina", [], { closes: "on-the-bench" });
  const scan = card(taken, "scan", "mechanical", "Scan", "Escanear", [], {
    life: "taken",
    taken_by: "p-oren",
    taken_at: at(56),
  });
  taken.open = [{ open: "on-the-bench", since: at(12), by: `${taken.id}-pull`, equipment: "bench-1" }];
  planned(scan, 64, 64.5, 4, { kind: "people", department: "mechanical", until: at(64) });
  vehicles.push({
    order: taken.id,
    finish: at(70),
    promise: taken.promise,
    late_minutes: 0,
    waits: { reason: "taken_not_started", since: at(56), card: scan.id, department: "mechanical" },
    chain: [],
  });

  const away = order("2060", "brown wagon", 2, { stage: "away", promise: at(5 * 24) });
  away.stages.push({ stage: "away", at: at(32) });
  card(away, "teardown", "body", "Teardown", "Desarme", [[8, 10]]);
  vehicles.push({ order: away.id, late_minutes: 0, waits: { reason: "away", since: at(32), due: at(80) }, chain: [] });

  order("2061", "orange hatchback", 80, {
    stage: "expected",
    stages: [{ stage: "expected", at: at(40) }],
    expected_at: at(80),
  });
}
exceptions.push(
  {
    id: "x-1",
    kind: "closed_over_undone",
    order: "o-2039",
    card: "o-2039-paint",
    about: ["o-2039-trim"],
    by: "p-oren",
    owner: "p-boss",
    since: at(57),
  },
  { id: "x-2", kind: "moved_open", order: "o-2050", about: [], by: "p-tomas", since: at(36) },
);

export const plan: Plan = { rev: 1, at_seq: 10, at_time: NOW, rows, vehicles };

/** As the browser's copy keeps them. */
export function docs(): { key: string; seq: number; body: unknown }[] {
  const all: [string, { id: string }[]][] = [
    ["department", departments],
    ["person", people],
    ["equipment", equipment],
    ["order", orders],
    ["card", cards],
    ["handoff", handoffs],
    ["exception", exceptions],
    ["calendar", [weekdays]],
    ["place", [{ id: "yard", title: { text: "Yard", es: "Patio" }, retired: false } as { id: string }]],
    ["routing", [routing]],
  ];
  return [
    { key: "shop/shop", seq: 1, body: shop },
    ...all.flatMap(([kind, list]) =>
      list.map((body) => ({ key: `${kind}/${body.id}`, seq: 1, body: body as unknown })),
    ),
  ];
}

const weekdays = {
  id: "shop",
  title: { text: "Shop hours", es: "Horario del taller" },
  week: [0, 1, 2, 3, 4, 5, 6].map((day) =>
    day < 5
      ? [
          { from: 420, to: 720 },
          { from: 750, to: 960 },
        ]
      : [],
  ),
  days: { "2026-11-26": [] },
};

const routing = {
  id: "suspension-down-rear",
  version: 3,
  title: { text: "Suspension down, rear, for sealing", es: "Bajar suspensión trasera para sellar" },
  retired: false,
  steps: [
    {
      ...needs,
      step: "down",
      department: "mechanical",
      title: { text: "Suspension down", es: "Bajar suspensión" },
      planned_minutes: 120,
      after: [],
      equipment: "lift",
      opens: "suspension-down-rear",
      cautions: ["lift", "spring"],
      checks: [{ text: "Bolts bagged and marked" }],
    },
    {
      ...needs,
      step: "seal",
      department: "body",
      title: { text: "Seal seam", es: "Sellar junta" },
      planned_minutes: 40,
      after: [{ step: "down", lag_minutes: 0 }],
      inside: "suspension-down-rear",
    },
    {
      ...needs,
      step: "up",
      department: "mechanical",
      title: { text: "Suspension up", es: "Montar suspensión" },
      planned_minutes: 150,
      after: [{ step: "seal", lag_minutes: 60 }],
      closes: "suspension-down-rear",
      cautions: ["lift"],
    },
  ],
};
