//! Documents: what phones receive. Each is a part of the state as it is, keyed `kind/id`.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::*;
use crate::Ms;
use crate::ids::*;

/// The life of a repair order.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// Booked, not here yet.
    Expected,
    /// Keys in.
    #[default]
    Arrived,
    /// Repair authorised.
    Authorised,
    /// At a sublet.
    Away,
    /// Everything done, keys may go back.
    Ready,
    /// Keys back.
    Delivered,
    /// Total loss or withdrawn: only making safe and putting back remain.
    Stopped,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum StandsOn {
    Wheels,
    Dollies,
    Stands,
    Lift,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum LiftingPoints {
    Sound,
    Doubtful,
    Damaged,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum End {
    Front,
    Rear,
}

/// Chosen phrases, so that they are translated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Loose {
    BatteryOff,
    AirbagsOff,
    HighVoltageOff,
    FuelDrained,
    CoolantDrained,
    BrakesOpen,
    RefrigerantOut,
    SuspensionLoose,
    SteeringLoose,
    TrimOut,
    SeatsOut,
    GlassOut,
}

/// What is true of the vehicle, for whoever gets it next.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Condition {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<PlaceId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keys: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<StandsOn>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rolls: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steers: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub brakes: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lifting_points: Option<LiftingPoints>,
    /// Heavy parts are off here: the centre of gravity has moved.
    #[serde(default)]
    pub weight_off: Vec<End>,
    #[serde(default)]
    pub loose: Vec<Loose>,
    /// Where bolts and loose parts are.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bolts: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wet_until: Option<Ms>,
}

/// A change of the condition: absent fields stay as they are.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ConditionChange {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keys: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<StandsOn>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rolls: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steers: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub brakes: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lifting_points: Option<LiftingPoints>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight_off: Option<Vec<End>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loose: Option<Vec<Loose>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bolts: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wet_until: Option<Ms>,
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum HighVoltage {
    #[default]
    None,
    Live,
    Isolated,
}

#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Energy {
    #[serde(default)]
    pub high_voltage: HighVoltage,
    /// The maker's limit for baking this vehicle; no bake without one where high voltage is on board.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bake_limit_celsius: Option<u32>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bake_limit_minutes: Option<u32>,
}

/// "open: suspension down".
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OpenNow {
    pub open: OpenId,
    pub since: Ms,
    pub by: CardId,
    /// What stays blocked while it is open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub equipment: Option<EquipmentId>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum HoldKind {
    Approval,
    Parts,
    Customer,
    Sublet,
    Other,
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Blocks {
    #[default]
    Start,
    Finish,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Hold {
    pub id: HoldId,
    pub what: HoldKind,
    #[serde(default)]
    pub cards: Vec<CardId>,
    #[serde(default)]
    pub blocks: Blocks,
    pub since: Ms,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due: Option<Ms>,
    /// When it was first expected, where that was moved: deliveries are judged by it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_due: Option<Ms>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ended: Option<Ms>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Stood {
    pub place: PlaceId,
    pub from: Ms,
    pub by: PersonId,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StageAt {
    pub stage: Stage,
    pub at: Ms,
    /// Why, where somebody said it (a vehicle that is stopped).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// A stage that a vehicle had not reached after all.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StageTakenBack {
    pub stage: Stage,
    /// When it was said to be reached.
    pub reached_at: Ms,
    pub by: PersonId,
    pub at: Ms,
    pub reason: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Order {
    pub id: OrderId,
    pub number: String,
    pub vehicle: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vin: Option<String>,
    /// The VIN does not pass the check of 49 CFR 565.15: warned about, kept.
    #[serde(default)]
    pub vin_doubtful: bool,
    #[serde(default)]
    pub towed_in: bool,
    /// Urgency: 1, 2 (normal) or 4.
    pub weight: u32,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight_reason: Option<String>,
    pub stage: Stage,
    /// Every stage it went through, in the order of time.
    #[serde(default)]
    pub stages: Vec<StageAt>,
    /// What was said to be reached and was not.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub taken_back: Vec<StageTakenBack>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expected_at: Option<Ms>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub promise: Option<Ms>,
    /// The first promise after authorisation: what "promise kept" is measured against.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_promise: Option<Ms>,
    #[serde(default)]
    pub promise_moves: u32,
    /// Who promised it (or took the promise back), and when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub promised_by: Option<PersonId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub promised_at: Option<Ms>,
    #[serde(default)]
    pub leads: BTreeMap<DepartmentId, PersonId>,
    #[serde(default)]
    pub condition: Condition,
    #[serde(default)]
    pub energy: Energy,
    #[serde(default)]
    pub open: Vec<OpenNow>,
    #[serde(default)]
    pub holds: Vec<Hold>,
    #[serde(default)]
    pub stood: Vec<Stood>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sold_minutes: Option<u32>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comeback_of: Option<CardId>,
    /// Cards of this order, in the order they were laid out.
    #[serde(default)]
    pub cards: Vec<CardId>,
    pub created_at: Ms,
}

/// "After that card, with so much time between".
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Link {
    pub card: CardId,
    #[serde(default)]
    pub lag_minutes: u32,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lag_minutes_max: Option<u32>,
}

/// The stored life of a card. *Ready* is not stored: it is `waiting` with a `ready_at` that has come,
/// because curing ends without an event.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Life {
    Proposed,
    #[default]
    Waiting,
    Taken,
    Working,
    Paused,
    Done,
    Cancelled,
}

impl Life {
    /// Nothing more is to be done.
    pub fn is_over(self) -> bool {
        matches!(self, Life::Done | Life::Cancelled)
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum PauseWhy {
    Break,
    EndOfShift,
    Parts,
    Help,
    Question,
    OtherWork,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Span {
    pub id: SpanId,
    pub person: PersonId,
    pub from: Ms,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<Ms>,
    /// The clocks disagreed by more than two minutes.
    #[serde(default)]
    pub uncertain: bool,
    #[serde(default)]
    pub corrected: bool,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PutFirst {
    pub by: PersonId,
    pub reason: String,
    pub until: Ms,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Card {
    pub id: CardId,
    pub order: OrderId,
    pub department: DepartmentId,
    pub title: Words,
    /// Planned hours, sold hours and clocked hours are three numbers and never mixed.
    pub planned_minutes: u32,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sold_minutes: Option<u32>,
    #[serde(default)]
    pub after: Vec<Link>,
    #[serde(flatten)]
    pub needs: Needs,
    #[serde(default)]
    pub life: Life,
    /// When nothing before it is undone and the last cure has ended; none while something is undone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ready_at: Option<Ms>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_by: Option<PersonId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_at: Option<Ms>,
    #[serde(default)]
    pub helpers: Vec<PersonId>,
    #[serde(default)]
    pub spans: Vec<Span>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paused_why: Option<PauseWhy>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done_at: Option<Ms>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done_by: Option<PersonId>,
    #[serde(default)]
    pub checks_done: Vec<u32>,
    /// Which piece of equipment the work was or is on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub used: Option<EquipmentId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub put_first: Option<PutFirst>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub handoff: Option<HandoffId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub routing: Option<RoutingId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub routing_version: Option<u32>,
    pub created_at: Ms,
    /// The last act that Undo could take back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_act: Option<OpId>,
    /// Who called it off, when and why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cancelled: Option<Cancelled>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Cancelled {
    pub by: PersonId,
    pub at: Ms,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum HandoffLife {
    Asked,
    Taken,
    Started,
    /// The vehicle is open: those who waited go on.
    Open,
    HandedBack,
    Cancelled,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Handoff {
    pub id: HandoffId,
    pub order: OrderId,
    pub routing: RoutingId,
    pub title: Words,
    pub from: DepartmentId,
    pub to: DepartmentId,
    pub asked_by: PersonId,
    pub asked_at: Ms,
    /// Latency counts from the later of asked and really ready.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ready_at: Option<Ms>,
    pub life: HandoffLife,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_by: Option<PersonId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_at: Option<Ms>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub started_at: Option<Ms>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opened_at: Option<Ms>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub handed_back_at: Option<Ms>,
    pub cards: Vec<CardId>,
    /// The asker's own card that waits for this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub for_card: Option<CardId>,
    /// The state was open already: this ask joined it.
    #[serde(default)]
    pub joined: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_yet: Option<String>,
    /// The facts of the moment it was asked.
    pub condition: Condition,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Found {
    Seized,
    Damaged,
    OneTimeFasteners,
    MissingPart,
    WrongPart,
    Corrosion,
    AlignmentOwed,
    CalibrationOwed,
    Other,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Note {
    pub id: NoteId,
    pub order: OrderId,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<CardId>,
    pub by: PersonId,
    pub at: Ms,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub found: Option<Found>,
    #[serde(default)]
    pub body: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Photo {
    pub id: PhotoId,
    pub order: OrderId,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<CardId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub handoff: Option<HandoffId>,
    pub by: PersonId,
    pub taken_at: Ms,
    pub sha256: String,
    pub mime: String,
    pub bytes: u64,
    /// The picture itself has arrived (else it waits on that person's phone).
    #[serde(default)]
    pub here: bool,
    /// Its person was erased, and the picture with them.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<bool>))]
    pub erased: bool,
    /// What people showed on it, one set each, the newest last.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<Vec<Marked>>))]
    pub marks: Vec<Marked>,
}

/// One person's marks on a photo.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Marked {
    pub by: PersonId,
    pub at: Ms,
    pub marks: Vec<Mark>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum MarkKind {
    /// From (x1, y1) to its head at (x2, y2).
    Arrow,
    /// An ellipse that fills the box of the two points.
    Circle,
    /// Words that begin at (x1, y1).
    Text,
}

/// Places in ten-thousandths of the picture's width and height, from its upper left corner.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Mark {
    pub kind: MarkKind,
    pub x1: u16,
    pub y1: u16,
    pub x2: u16,
    pub y2: u16,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum ExceptionKind {
    /// Started before what must come first was done.
    StartedEarly,
    FinishedEarly,
    /// Closed while work inside was undone. Stands until a named person answers with a reason.
    ClosedOverUndone,
    /// The vehicle would go up twice.
    OpenedTwice,
    /// Worked inside although it was not open.
    NotOpen,
    /// One person, two running spans.
    TwoAtOnce,
    /// Moved while open.
    MovedOpen,
    /// Two vehicles on one piece of equipment.
    Occupied,
    /// Somebody else held the card and the work is done.
    DoneByAnother,
    /// The fact met a cancelled or finished card.
    AfterEnd,
    /// Work during a hold.
    DuringHold,
    /// Baked or worked without a known limit where high voltage is on board.
    HighVoltage,
    /// A person without the qualification the card asks for.
    Unqualified,
    /// A stage that does not follow from the one before.
    OutOfTurn,
    /// Worked on equipment that was out of service then, or put away for good.
    OutOfService,
    /// Begun later after what comes before it than the link allows.
    TooLate,
    /// Driven, ready or keys back with something open, isolated, loose, owed or unanswered. Stands until a
    /// named person answers with a reason.
    LeftOpen,
    /// Called off, although it closes what is open or will be, or is undone inside.
    CancelledOpen,
    /// Worked on equipment whose inspection is overdue.
    InspectionOverdue,
    /// On a lift with damaged lifting points, or with heavy parts off.
    UnsafeLift,
    /// It went on or left although nobody said that its keys came in: how long it was here is not known.
    NoKeysIn,
    /// Done in a sign-in that the server lost when it was set back to a backup.
    Unproved,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Exception {
    pub id: ExceptionId,
    pub kind: ExceptionKind,
    pub order: OrderId,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<CardId>,
    /// Cards it is about (what is undone, what should have come first).
    #[serde(default)]
    pub about: Vec<CardId>,
    pub by: PersonId,
    /// Whose it is to answer: a person, else the planner.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub owner: Option<PersonId>,
    pub since: Ms,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answered_by: Option<PersonId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answered_at: Option<Ms>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}
