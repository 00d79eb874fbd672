// Names for what travels between phone and server. The shapes are the server's stored formats;
// the generated schema replaces these by re-exports as soon as the server's document is there.
// Must not know: how anything is fetched, kept or shown.

/** Integer UTC milliseconds since 1970. */
export type Ms = number;
/** The server leaves out what is not set; null is tolerated. */
type Opt<T> = T | null | undefined;

export interface Words {
  text: string;
  es?: Opt<string>;
}

export interface Shop {
  name: string;
  time_zone: string;
  calendar: string;
  language: string;
}

export interface Department {
  id: string;
  title: Words;
  working: "lead" | "pool";
  calendar?: Opt<string>;
  deputies: string[];
  rank: number;
  retired: boolean;
}

export type Role = "technician" | "parts" | "planner" | "manager" | "admin";

export interface Absence {
  from: Ms;
  to: Ms;
  reason?: Opt<string>;
}

export interface Person {
  id: string;
  name: string;
  department: string;
  also: string[];
  role: Role;
  language: string;
  qualifications: Record<string, Ms | null>;
  calendar?: Opt<string>;
  away: Absence[];
  retired: boolean;
}

export interface Equipment {
  id: string;
  title: Words;
  kind: string;
  department: string;
  rated_load_kg?: Opt<number>;
  out_of_service: Absence[];
  inspection_due?: Opt<Ms>;
  retired: boolean;
}

export interface Place {
  id: string;
  title: Words;
  equipment?: Opt<string>;
  retired: boolean;
}

/** Minutes of the local day. */
export interface Shift {
  from: number;
  to: number;
}

export interface Calendar {
  id: string;
  title: Words;
  /** Seven days, Monday first. */
  week: Shift[][];
  /** By local date "2026-12-25". */
  days: Record<string, Shift[]>;
}

export type Caution =
  | "lift"
  | "unexpected_start"
  | "pulling"
  | "hot_work"
  | "airbag"
  | "high_voltage"
  | "spraying"
  | "refrigerant"
  | "spring"
  | "fuel";

/** Flattened into cards and routing steps. */
export interface Needs {
  equipment?: Opt<string>;
  opens?: Opt<string>;
  inside?: Opt<string>;
  closes?: Opt<string>;
  off_vehicle: boolean;
  beside: boolean;
  one_go: boolean;
  qualification?: Opt<string>;
  checks: Words[];
  cautions: Caution[];
}

export interface StepLink {
  step: string;
  lag_minutes: number;
  lag_minutes_max?: Opt<number>;
}

export interface Step extends Needs {
  step: string;
  department: string;
  title: Words;
  planned_minutes: number;
  after: StepLink[];
}

export interface Routing {
  id: string;
  version: number;
  title: Words;
  steps: Step[];
  retired: boolean;
}

export type Stage = "expected" | "arrived" | "authorised" | "away" | "ready" | "delivered" | "stopped";
export type StandsOn = "wheels" | "dollies" | "stands" | "lift";
export type LiftingPoints = "sound" | "doubtful" | "damaged";
export type End = "front" | "rear";
export type Loose =
  | "battery_off"
  | "airbags_off"
  | "high_voltage_off"
  | "fuel_drained"
  | "coolant_drained"
  | "brakes_open"
  | "refrigerant_out"
  | "suspension_loose"
  | "steering_loose"
  | "trim_out"
  | "seats_out"
  | "glass_out";

export interface Condition {
  place?: Opt<string>;
  keys?: Opt<string>;
  on?: Opt<StandsOn>;
  rolls?: Opt<boolean>;
  steers?: Opt<boolean>;
  brakes?: Opt<boolean>;
  lifting_points?: Opt<LiftingPoints>;
  weight_off: End[];
  loose: Loose[];
  bolts?: Opt<string>;
  wet_until?: Opt<Ms>;
}

/** Absent fields stay as they are. */
export interface ConditionChange {
  keys?: Opt<string>;
  on?: Opt<StandsOn>;
  rolls?: Opt<boolean>;
  steers?: Opt<boolean>;
  brakes?: Opt<boolean>;
  lifting_points?: Opt<LiftingPoints>;
  weight_off?: Opt<End[]>;
  loose?: Opt<Loose[]>;
  bolts?: Opt<string>;
  wet_until?: Opt<Ms>;
}

export interface Energy {
  high_voltage: "none" | "live" | "isolated";
  bake_limit_celsius?: Opt<number>;
  bake_limit_minutes?: Opt<number>;
}

export interface OpenNow {
  open: string;
  since: Ms;
  by: string;
  equipment?: Opt<string>;
}

export type HoldKind = "approval" | "parts" | "customer" | "sublet" | "other";
export type Blocks = "start" | "finish";

export interface Hold {
  id: string;
  what: HoldKind;
  cards: string[];
  blocks: Blocks;
  since: Ms;
  due?: Opt<Ms>;
  ended?: Opt<Ms>;
  note?: Opt<string>;
}

export interface Stood {
  place: string;
  from: Ms;
  by: string;
}

export interface StageAt {
  stage: Stage;
  at: Ms;
}

export interface Order {
  id: string;
  number: string;
  vehicle: string;
  vin?: Opt<string>;
  vin_doubtful: boolean;
  towed_in: boolean;
  weight: number;
  weight_reason?: Opt<string>;
  stage: Stage;
  stages: StageAt[];
  expected_at?: Opt<Ms>;
  promise?: Opt<Ms>;
  first_promise?: Opt<Ms>;
  promise_moves: number;
  leads: Record<string, string>;
  condition: Condition;
  energy: Energy;
  open: OpenNow[];
  holds: Hold[];
  stood: Stood[];
  sold_minutes?: Opt<number>;
  comeback_of?: Opt<string>;
  cards: string[];
  created_at: Ms;
}

export interface Link {
  card: string;
  lag_minutes: number;
  lag_minutes_max?: Opt<number>;
}

export type Life = "proposed" | "waiting" | "taken" | "working" | "paused" | "done" | "cancelled";
export type PauseWhy = "break" | "end_of_shift" | "parts" | "help" | "question" | "other_work";

export interface Span {
  id: string;
  person: string;
  from: Ms;
  to?: Opt<Ms>;
  uncertain: boolean;
  corrected: boolean;
}

export interface PutFirst {
  by: string;
  reason: string;
  until: Ms;
}

export interface Card extends Needs {
  id: string;
  order: string;
  department: string;
  title: Words;
  planned_minutes: number;
  sold_minutes?: Opt<number>;
  after: Link[];
  life: Life;
  /** None while something before it is undone; may lie in the future while something cures. */
  ready_at?: Opt<Ms>;
  taken_by?: Opt<string>;
  taken_at?: Opt<Ms>;
  helpers: string[];
  spans: Span[];
  paused_why?: Opt<PauseWhy>;
  done_at?: Opt<Ms>;
  done_by?: Opt<string>;
  checks_done: number[];
  used?: Opt<string>;
  put_first?: Opt<PutFirst>;
  handoff?: Opt<string>;
  step?: Opt<string>;
  routing?: Opt<string>;
  routing_version?: Opt<number>;
  created_at: Ms;
  last_act?: Opt<string>;
}

export type HandoffLife = "asked" | "taken" | "started" | "open" | "handed_back" | "cancelled";

export interface Handoff {
  id: string;
  order: string;
  routing: string;
  title: Words;
  from: string;
  to: string;
  asked_by: string;
  asked_at: Ms;
  ready_at?: Opt<Ms>;
  life: HandoffLife;
  taken_by?: Opt<string>;
  taken_at?: Opt<Ms>;
  started_at?: Opt<Ms>;
  opened_at?: Opt<Ms>;
  handed_back_at?: Opt<Ms>;
  cards: string[];
  for_card?: Opt<string>;
  joined: boolean;
  note?: Opt<string>;
  not_yet?: Opt<string>;
  condition: Condition;
}

export type Found =
  | "seized"
  | "damaged"
  | "one_time_fasteners"
  | "missing_part"
  | "wrong_part"
  | "corrosion"
  | "alignment_owed"
  | "calibration_owed"
  | "other";

export interface Note {
  id: string;
  order: string;
  card?: Opt<string>;
  by: string;
  at: Ms;
  found?: Opt<Found>;
  body: string;
}

export interface Photo {
  id: string;
  order: string;
  card?: Opt<string>;
  handoff?: Opt<string>;
  by: string;
  taken_at: Ms;
  sha256: string;
  mime: string;
  bytes: number;
  here: boolean;
}

export type ExceptionKind =
  | "started_early"
  | "finished_early"
  | "closed_over_undone"
  | "opened_twice"
  | "not_open"
  | "two_at_once"
  | "moved_open"
  | "occupied"
  | "done_by_another"
  | "after_end"
  | "during_hold"
  | "high_voltage"
  | "unqualified"
  | "out_of_turn";

export interface Exception {
  id: string;
  kind: ExceptionKind;
  order: string;
  card?: Opt<string>;
  about: string[];
  by: string;
  owner?: Opt<string>;
  since: Ms;
  answered_by?: Opt<string>;
  answered_at?: Opt<Ms>;
  reason?: Opt<string>;
}

/** Documents by the first part of their key. */
export interface DocKinds {
  shop: Shop;
  department: Department;
  person: Person;
  equipment: Equipment;
  place: Place;
  calendar: Calendar;
  routing: Routing;
  order: Order;
  card: Card;
  handoff: Handoff;
  note: Note;
  photo: Photo;
  exception: Exception;
}
export type DocKind = keyof DocKinds;
export type Body = DocKinds[DocKind];

// Operations

export interface Ask {
  order: string;
  routing: string;
  from: string;
  for_card?: Opt<string>;
  after?: Link[];
  note?: Opt<string>;
  not_yet?: Opt<string>;
  condition?: ConditionChange;
  minutes?: Record<string, number>;
}

export interface OpenOrder {
  number: string;
  vehicle: string;
  vin?: Opt<string>;
  towed_in?: boolean;
  weight?: number;
  stage?: Stage;
  expected_at?: Opt<Ms>;
  promise?: Opt<Ms>;
  place?: Opt<string>;
  energy?: Opt<Energy>;
  sold_minutes?: Opt<number>;
  comeback_of?: Opt<string>;
  routings?: string[];
  arrived_at?: Opt<Ms>;
}

export interface OrderChange {
  number?: Opt<string>;
  vehicle?: Opt<string>;
  vin?: Opt<string>;
  weight?: Opt<number>;
  weight_reason?: Opt<string>;
  expected_at?: Opt<Ms>;
  sold_minutes?: Opt<number>;
}

export interface AddCard extends Partial<Needs> {
  order: string;
  department: string;
  title: Words;
  planned_minutes: number;
  sold_minutes?: Opt<number>;
  after?: Link[];
  before?: string[];
  proposed?: boolean;
}

export interface CardChange {
  title?: Opt<Words>;
  department?: Opt<string>;
  planned_minutes?: Opt<number>;
  sold_minutes?: Opt<number>;
  needs?: Opt<Needs>;
  approved?: boolean;
}

/** What a person can do: `kind` and its `args`. */
export interface Acts {
  start: { card: string };
  pause: { card: string; why?: Opt<PauseWhy> };
  finish: { card: string; checks?: number[]; wet_minutes?: Opt<number> };
  found: { order: string; card?: Opt<string>; what: Found; note?: Opt<string> };
  note: { order: string; card?: Opt<string>; body: string };
  photo: {
    order: string;
    card?: Opt<string>;
    handoff?: Opt<string>;
    sha256: string;
    mime: string;
    bytes: number;
    taken_at: Ms;
  };
  move: { order: string; to: string; on?: Opt<StandsOn> };
  condition: { order: string; change: ConditionChange };
  stage: { order: string; stage: Stage; reason?: Opt<string> };
  energy: { order: string; energy: Energy };
  ask: Ask;
  take: { card: string };
  give_back: { card: string };
  help: { card: string };
  assign: { card: string; to: string };
  lead: { order: string; department: string; person: string | null };
  open_order: OpenOrder;
  edit_order: { order: string; change: OrderChange };
  promise: { order: string; due: Ms | null; reason?: Opt<string> };
  add_card: AddCard;
  edit_card: { card: string; change: CardChange };
  cancel_card: { card: string; reason?: Opt<string> };
  link: { card: string; after: Link };
  unlink: { card: string; after: string };
  hold: {
    order: string;
    what: HoldKind;
    cards?: string[];
    blocks?: Blocks;
    due?: Opt<Ms>;
    note?: Opt<string>;
  };
  unhold: { order: string; hold: string };
  put_first: { card: string; reason: string; until: Ms };
  put_back: { card: string };
  correct: { card: string; span: string; from: Ms; to: Ms | null };
  undo: { op: string; card: string };
  answer: { exception: string; reason: string };
  dropped: { why: string };
  set_shop: { shop: Shop };
  set_department: { department: Department };
  set_person: { person: Person };
  set_equipment: { equipment: Equipment };
  set_place: { place: Place };
  set_calendar: { calendar: Calendar };
  set_routing: { routing: Routing };
}
export type Kind = keyof Acts;

export type Expect =
  | { that: "holder"; card: string; person: string | null }
  | { that: "life"; card: string; life: Life }
  | { that: "open"; order: string; open: string; is: boolean };

export type OpOf<K extends Kind> = {
  [P in K]: {
    n: number;
    id: string;
    session: string;
    v: number;
    kind: P;
    args: Acts[P];
    expect?: Expect[];
    device_at: Ms;
    seen: number;
  };
}[K];
export type Op = OpOf<Kind>;

// Plan

export type Binding =
  | { kind: "now" }
  | { kind: "started" }
  | { kind: "after"; card: string; until: Ms }
  | { kind: "curing"; until: Ms }
  | { kind: "people"; department: string; until: Ms }
  | { kind: "equipment"; equipment: string; order?: Opt<string>; until: Ms }
  | { kind: "vehicle"; card: string; until: Ms }
  | { kind: "shift"; until: Ms }
  | { kind: "expected"; until: Ms }
  | { kind: "hold"; what: HoldKind; due?: Opt<Ms> }
  | { kind: "qualified"; qualification: string };

export interface Reason {
  binding: Binding;
  next?: Opt<{ department: string; card: string; at: Ms; waits_only_for_this: boolean }>;
  slack_minutes?: Opt<number>;
  put_first?: Opt<PutFirst>;
}

export interface PlanRow {
  card: string;
  order: string;
  department: string;
  /** 1 = first in the department's queue; started work is 0. */
  place: number;
  from: Ms;
  to: Ms;
  person?: Opt<string>;
  equipment?: Opt<string>;
  reason: Reason;
}

export type WaitReason =
  | "stopped"
  | "away"
  | "approval"
  | "parts"
  | "customer"
  | "curing"
  | "no_equipment"
  | "nobody_qualified"
  | "nobody_free"
  | "taken_not_started"
  | "no_reason";

export interface PlanVehicle {
  order: string;
  finish?: Opt<Ms>;
  promise?: Opt<Ms>;
  late_minutes: number;
  waits?: Opt<{
    reason: WaitReason;
    since: Ms;
    card?: Opt<string>;
    department?: Opt<string>;
    by_order?: Opt<string>;
    due?: Opt<Ms>;
  }>;
  chain: { card: string; binding: Binding }[];
}

export interface Plan {
  rev: number;
  at_seq: number;
  at_time: Ms;
  rows: PlanRow[];
  vehicles: PlanVehicle[];
}

// Requests

export interface SignedIn {
  person: string;
  role: Role;
  client: string;
  session: string;
  epoch: string;
  expires_at: Ms;
  name: string;
  shop_name: string;
}

export type Verdict = "applied" | "noop" | "refused";

export interface OpResult {
  n: number;
  seq: number;
  verdict: Verdict;
  code?: Opt<string>;
  message?: Opt<string>;
  exceptions?: Opt<ExceptionKind[]>;
  by?: Opt<string>;
  at?: Opt<Ms>;
}

export interface PushAnswer {
  epoch: string;
  head: number;
  now: Ms;
  results: OpResult[];
}

export interface DocLine {
  key: string;
  seq: number;
  body?: unknown;
  gone?: Opt<boolean>;
}

export interface PullAnswer {
  epoch: string;
  from: number;
  to: number;
  hash: string;
  more: boolean;
  docs: DocLine[];
  last_n?: Opt<number>;
  plan?: Opt<Plan>;
}

export interface Frame {
  epoch: string;
  from: number;
  to: number;
  hash: string;
  docs: DocLine[];
  plan?: Opt<Plan>;
}

export type NoticeKind =
  | "asked"
  | "taken"
  | "open"
  | "handed_back"
  | "given_back"
  | "refused"
  | "exception"
  | "assigned"
  | "next"
  | "untaken"
  | "lift_blocked"
  | "promise_unlikely";

export interface Notice {
  id: number;
  at: Ms;
  kind: NoticeKind;
  order?: Opt<string>;
  card?: Opt<string>;
  handoff?: Opt<string>;
  exception?: Opt<string>;
  by?: Opt<string>;
  about_at?: Opt<Ms>;
  urgent: boolean;
}

export interface ApiError {
  code: string;
  message: string;
  what_to_do?: Opt<string>;
}
