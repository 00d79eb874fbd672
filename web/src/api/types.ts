// Names for what travels between phone and server, taken from the server's own document
// (`npm run api`); a drift fails the build or a test.
// Must not know: how anything is fetched, kept or shown.
import type { components } from "./schema";

type Schemas = components["schemas"];

type NullKeys<T> = { [K in keyof T]-?: null extends T[K] ? K : never }[keyof T];

/**
 * As documents arrive: what the server has a default for is always sent, though its description lets a
 * writer leave it out; what is not set is left out.
 */
type Whole<T> = T extends readonly (infer Item)[]
  ? Whole<Item>[]
  : T extends object
    ? { [K in Exclude<keyof T, NullKeys<T>>]-?: Whole<Exclude<T[K], undefined>> } & {
        [K in NullKeys<T>]?: Whole<NonNullable<T[K]>> | null | undefined;
      }
    : T;

/** Integer UTC milliseconds since 1970. */
export type Ms = number;

export type Words = Whole<Schemas["Words"]>;
export type Shop = Whole<Schemas["Shop"]>;
export type Department = Whole<Schemas["Department"]>;
export type Role = Schemas["Role"];
export type Absence = Whole<Schemas["Absence"]>;
export type Person = Omit<Whole<Schemas["Person"]>, "qualifications"> & {
  /** Until when; none: no expiry. */
  qualifications: Record<string, Ms | null>;
};
export type Equipment = Whole<Schemas["Equipment"]>;
export type Place = Whole<Schemas["Place"]>;
export type Shift = Whole<Schemas["Shift"]>;
export type Calendar = Whole<Schemas["Calendar"]>;
export type Caution = Schemas["Caution"];
export type Needs = Whole<Schemas["Needs"]>;
export type StepLink = Whole<Schemas["StepLink"]>;
export type Step = Whole<Schemas["Step"]>;
export type Routing = Whole<Schemas["Routing"]>;

export type Stage = Schemas["Stage"];
export type StandsOn = Schemas["StandsOn"];
export type LiftingPoints = Schemas["LiftingPoints"];
export type End = Schemas["End"];
export type Loose = Schemas["Loose"];
export type Condition = Whole<Schemas["Condition"]>;
export type ConditionChange = Whole<Schemas["ConditionChange"]>;
export type Energy = Whole<Schemas["Energy"]>;
export type OpenNow = Whole<Schemas["OpenNow"]>;
export type HoldKind = Schemas["HoldKind"];
export type Blocks = Schemas["Blocks"];
export type Hold = Whole<Schemas["Hold"]>;
export type Stood = Whole<Schemas["Stood"]>;
export type StageAt = Whole<Schemas["StageAt"]>;
type WholeOrder = Whole<Schemas["Order"]>;
export type Order = Omit<WholeOrder, "taken_back"> & {
  /** Left out where nothing was ever taken back. */
  taken_back?: WholeOrder["taken_back"];
};
export type Link = Whole<Schemas["Link"]>;
export type Life = Schemas["Life"];
export type PauseWhy = Schemas["PauseWhy"];
export type Span = Whole<Schemas["Span"]>;
export type PutFirst = Whole<Schemas["PutFirst"]>;
export type Card = Whole<Schemas["Card"]>;
export type HandoffLife = Schemas["HandoffLife"];
export type Handoff = Whole<Schemas["Handoff"]>;
export type Found = Schemas["Found"];
export type Note = Whole<Schemas["Note"]>;
export type MarkKind = Schemas["MarkKind"];
export type Mark = Whole<Schemas["Mark"]>;
export type Marked = Whole<Schemas["Marked"]>;
export type Photo = Whole<Schemas["Photo"]>;
export type ExceptionKind = Schemas["ExceptionKind"];
export type Exception = Whole<Schemas["Exception"]>;

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

/** What only the server's own client says. */
type Own = "remind" | "photo_here";
type Act = Exclude<Schemas["Act"], { kind: Own }>;
type Sent = { [A in Act as A["kind"]]: A["args"] };
/** What a person can do: `kind` and its `args`. */
export type Acts = Omit<Sent, `set_${string}`> & {
  set_shop: { shop: Shop };
  set_department: { department: Department };
  set_person: { person: Person };
  set_equipment: { equipment: Equipment };
  set_place: { place: Place };
  set_calendar: { calendar: Calendar };
  set_routing: { routing: Routing };
};
export type Kind = keyof Acts;
export type Ask = Acts["ask"];
export type OpenOrder = Acts["open_order"];
export type OrderChange = Schemas["OrderChange"];
export type AddCard = Acts["add_card"];
export type CardChange = Schemas["CardChange"];
export type Expect = Schemas["Expect"];
interface Made {
  n: number;
  id: string;
  session: string;
  v: number;
  expect?: Expect[];
  device_at: Ms;
  /** Server clock minus phone clock, as last measured before it was made. */
  offset?: number | null;
  seen: number;
}
export type Op = { [K in Kind]: Made & { kind: K; args: Acts[K] } }[Kind];

// Plan

export type Binding = Schemas["Binding"];
export type Reason = Schemas["Reason"];
export type PlanRow = Schemas["PlanRow"];
export type WaitReason = Schemas["WaitReason"];
export type PlanVehicle = Schemas["PlanVehicle"];
export type Plan = Schemas["Plan"];
/** What is new in a plan for a phone that has the one it is based on. */
export type PlanChange = Schemas["PlanChange"];

// Requests

export type SignedIn = Schemas["SignedIn"];
export type OtherShop = Schemas["OtherShop"];
export type Sister = Schemas["Sister"];
export type Sisters = Schemas["Sisters"];
export type Kin = Schemas["Kin"];
export type Tried = Schemas["Tried"];
export type OnePasskey = Schemas["OnePasskey"];
export type Passkeys = Schemas["Passkeys"];
export type Happened = Schemas["Happened"];
export type Arrived = Schemas["Arrived"];
export type TlsStatus = Schemas["TlsStatus"];
export type Verdict = Schemas["Verdict"];
export type OpResult = Schemas["OpVerdict"];
export type PushAnswer = Schemas["Pushed"];
/** Over the live channel a changed document comes as a merge patch on the one this phone has. */
export type DocLine = Omit<Schemas["DocRow"], "body"> & { body?: unknown; patch?: unknown };
export type PullAnswer = Omit<Schemas["Pulled"], "docs"> & { docs: DocLine[] };
/** One page of the live channel: like a pull's, for phones whose cursor is `from` and whose chain says `was` there. */
export type Frame = Pick<PullAnswer, "epoch" | "from" | "to" | "hash" | "docs"> & { was: string };
export type OpenAnswer = Omit<Schemas["Opened"], "docs"> & { docs: DocLine[] };
export type NoticeKind = Schemas["NoticeKind"];
export type Notice = Schemas["NoticeRow"];
export type ApiError = Schemas["ErrorBody"];
