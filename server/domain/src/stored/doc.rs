//! Documents: what phones receive. Each is a part of the state as it is, keyed `kind/id`.

use serde::{Deserialize, Serialize};

use super::*;
use crate::Ms;
use crate::ids::*;

/// "After that card, with so much time in between".
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Link {
    /// The card that must be done first.
    pub card: CardId,
    /// Calendar minutes that must pass after it is done (cure), at most 90 days.
    #[serde(default)]
    pub lag_minutes: u32,
    /// Calendar minutes within which this should have begun (recoat, bare metal); none: no hurry.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lag_minutes_max: Option<u32>,
}

/// The stored life of a card. *Ready* is not stored: it is `waiting` with a `ready_at` that has come,
/// because curing ends without an event.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Life {
    /// Part of a supplement that is not approved: nobody can start it.
    Proposed,
    /// Nobody holds it.
    #[default]
    Waiting,
    /// Somebody holds it and has not started.
    Taken,
    /// Somebody is clocked on it.
    Working,
    /// Started, and nobody is clocked on it.
    Paused,
    /// Reported as done.
    Done,
    /// Not to be done after all.
    Cancelled,
}

impl Life {
    /// Nothing more is to be done.
    pub fn is_over(self) -> bool {
        matches!(self, Life::Done | Life::Cancelled)
    }
}

/// Why somebody stopped before the card was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum PauseWhy {
    /// A break.
    Break,
    /// The shift is over.
    EndOfShift,
    /// Parts are missing.
    Parts,
    /// A second pair of hands is needed.
    Help,
    /// Something has to be cleared up first.
    Question,
    /// Other work goes first.
    OtherWork,
}

/// One person's uninterrupted work on one card: clocked time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Span {
    /// Named after the operation that started it.
    pub id: SpanId,
    /// Who worked.
    pub person: PersonId,
    /// When it began, UTC ms.
    pub from: Ms,
    /// When it ended, UTC ms; none: it is running.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<Ms>,
    /// The clocks of phone and server disagreed by more than two minutes, so its times are in doubt.
    #[serde(default)]
    pub uncertain: bool,
    /// Somebody corrected its times by hand.
    #[serde(default)]
    pub corrected: bool,
}

/// A planner overruled the order for one card.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PutFirst {
    /// Which planner.
    pub by: PersonId,
    /// Why, as typed.
    pub reason: String,
    /// When it ends by itself, UTC ms.
    pub until: Ms,
}

/// One task on one vehicle.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Card {
    /// Named after the operation, or after the operation and the routing's step.
    pub id: CardId,
    /// The order it belongs to.
    pub order: OrderId,
    /// Who does it.
    pub department: DepartmentId,
    /// What is to be done.
    pub title: Words,
    /// How long it should take, in working minutes. Planned, sold and clocked time are three numbers and never
    /// mixed.
    pub planned_minutes: u32,
    /// Minutes of labour sold for it; none: not sold by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sold_minutes: Option<u32>,
    /// Cards that must be done before.
    #[serde(default)]
    pub after: Vec<Link>,
    /// What it asks of the shop, the vehicle and the person.
    #[serde(flatten)]
    pub needs: Needs,
    /// Where it is in its life.
    #[serde(default)]
    pub life: Life,
    /// From when on nothing before it keeps it, the last cure included, UTC ms; none while something before it
    /// is undone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ready_at: Option<Ms>,
    /// Who holds it; none: it is in the department's queue.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_by: Option<PersonId>,
    /// Since when they hold it, UTC ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_at: Option<Ms>,
    /// Who else works on it, beside its holder.
    #[serde(default)]
    pub helpers: Vec<PersonId>,
    /// Clocked time, by when it was reported.
    #[serde(default)]
    pub spans: Vec<Span>,
    /// Why it was last paused, if somebody said so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paused_why: Option<PauseWhy>,
    /// When it was done, UTC ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done_at: Option<Ms>,
    /// Who reported it done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done_by: Option<PersonId>,
    /// Positions of the checks that were done, counted from 0 in `checks`.
    #[serde(default)]
    pub checks_done: Vec<u32>,
    /// The piece of equipment the work is or was on; none: none, or nobody could tell which.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub used: Option<EquipmentId>,
    /// A planner's overruling; it may have expired.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub put_first: Option<PutFirst>,
    /// The hand-off it was asked for in; none: it belongs to no hand-off.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub handoff: Option<HandoffId>,
    /// The step of the routing it came from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step: Option<String>,
    /// The routing it came from; none: laid out by hand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub routing: Option<RoutingId>,
    /// The version that routing had then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub routing_version: Option<u32>,
    /// When it was laid out, UTC ms.
    pub created_at: Ms,
    /// The last operation on it that Undo can take back; none: there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_act: Option<OpId>,
    /// Who cancelled it, when and why; none: it is not cancelled, or was before this was kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cancelled: Option<Cancelled>,
}

/// How a card or a hand-off came to be cancelled.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Cancelled {
    /// Who did it.
    pub by: PersonId,
    /// When, UTC ms.
    pub at: Ms,
    /// Why, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// Where a hand-off is in its life.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum HandoffLife {
    /// Asked for; nobody of the other department has taken a card of it.
    Asked,
    /// Somebody has taken one of its cards.
    Taken,
    /// Work on one of its cards has begun.
    Started,
    /// The vehicle is open: those who waited go on.
    Open,
    /// Everything of it is done: the vehicle is back with whoever asked.
    HandedBack,
    /// It was withdrawn.
    Cancelled,
}

/// One department's ask, and what became of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Handoff {
    /// Named after the operation that asked.
    pub id: HandoffId,
    /// The order of the vehicle.
    pub order: OrderId,
    /// What was asked for.
    pub routing: RoutingId,
    /// The routing's title at that moment.
    pub title: Words,
    /// The department that asked and gets the vehicle back.
    pub from: DepartmentId,
    /// The department that does the work: that of the routing's first step.
    pub to: DepartmentId,
    /// Who asked.
    pub asked_by: PersonId,
    /// When, UTC ms.
    pub asked_at: Ms,
    /// From when on its first card could begin, UTC ms; none: it cannot yet. Latency counts from this or from
    /// `asked_at`, whichever is later.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ready_at: Option<Ms>,
    /// Where it is in its life.
    pub life: HandoffLife,
    /// Who took the first card of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_by: Option<PersonId>,
    /// When, UTC ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_at: Option<Ms>,
    /// When work on it began, UTC ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub started_at: Option<Ms>,
    /// When the vehicle was open for whoever waited, UTC ms; none: not yet, or nothing of it opens.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opened_at: Option<Ms>,
    /// When everything of it was done, UTC ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub handed_back_at: Option<Ms>,
    /// Its cards, in the routing's order; empty if it only joined what was asked for already.
    pub cards: Vec<CardId>,
    /// The asker's own card that waits for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub for_card: Option<CardId>,
    /// The vehicle was open in that way, or was going to be, and this ask joined in.
    #[serde(default)]
    pub joined: bool,
    /// What the other department should know, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// What must not be done yet, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_yet: Option<String>,
    /// The vehicle's condition at the moment of asking.
    pub condition: Condition,
}

/// What somebody found on a vehicle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Found {
    /// A part is seized.
    Seized,
    /// More is damaged than was known.
    Damaged,
    /// Fasteners that may be used only once are needed new.
    OneTimeFasteners,
    /// A part is missing.
    MissingPart,
    /// The part that came is the wrong one.
    WrongPart,
    /// Corrosion.
    Corrosion,
    /// The wheels have to be aligned before it is driven.
    AlignmentOwed,
    /// Cameras or sensors have to be calibrated before it is driven.
    CalibrationOwed,
    /// Something else: the note says what.
    Other,
}

/// A remark or a finding about a vehicle.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Note {
    /// Named after the operation that wrote it.
    pub id: NoteId,
    /// The order of the vehicle.
    pub order: OrderId,
    /// The card it is about; none: the vehicle as a whole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<CardId>,
    /// Who wrote it.
    pub by: PersonId,
    /// When, UTC ms.
    pub at: Ms,
    /// The kind of finding; none: a plain remark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub found: Option<Found>,
    /// What was typed; may be empty in a finding.
    #[serde(default)]
    pub body: String,
}

/// A photo of a vehicle. The picture is stored under its SHA-256 and comes by upload.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Photo {
    /// Named after the operation that announced it.
    pub id: PhotoId,
    /// The order of the vehicle.
    pub order: OrderId,
    /// The card it belongs to, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<CardId>,
    /// The hand-off it was attached to, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub handoff: Option<HandoffId>,
    /// Who took it.
    pub by: PersonId,
    /// When it was taken, UTC ms.
    pub taken_at: Ms,
    /// SHA-256 of the picture's bytes, 64 hexadecimal digits.
    pub sha256: String,
    /// Media type, for example `image/jpeg`.
    pub mime: String,
    /// Size of the picture in bytes, as announced.
    pub bytes: u64,
    /// The picture itself has arrived; until then it is on that person's phone.
    #[serde(default)]
    pub here: bool,
    /// The person who took it was erased, and the picture with them.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<bool>))]
    pub erased: bool,
    /// Marks that people put on it, one set for each of them, the newest last.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<Vec<Marked>>))]
    pub marks: Vec<Marked>,
}

/// One person's marks on a photo.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Marked {
    /// Whose marks they are.
    pub by: PersonId,
    /// When they were last set, UTC ms.
    pub at: Ms,
    /// All of them, at most 50.
    pub marks: Vec<Mark>,
}

/// The shape of a mark.
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

/// One mark. Coordinates are ten-thousandths of the picture's width and height, from its upper left corner.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Mark {
    /// Its shape; says what the two points mean.
    pub kind: MarkKind,
    /// Across, 0 to 10,000: where it begins.
    pub x1: u16,
    /// Down, 0 to 10,000: where it begins.
    pub y1: u16,
    /// Across, 0 to 10,000: where it ends.
    pub x2: u16,
    /// Down, 0 to 10,000: where it ends.
    pub y2: u16,
    /// The words of a text mark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
}

/// Which rule a fact broke.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum ExceptionKind {
    /// Started before what must come first was done.
    StartedEarly,
    /// Finished before what must come first was done.
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
    /// Two vehicles on one piece of equipment at once.
    Occupied,
    /// Somebody did the work while another person held the card.
    DoneByAnother,
    /// Work on a card that was cancelled or done already.
    AfterEnd,
    /// Started, or finished, while a hold kept it from that.
    DuringHold,
    /// Baked or worked without a known limit where high voltage is on board.
    HighVoltage,
    /// A person without the qualification the card asks for.
    Unqualified,
    /// A stage that does not follow from the one before.
    OutOfTurn,
    /// Worked on equipment that was out of service then, or is retired.
    OutOfService,
    /// Begun later after an earlier card than the link's longest lag allows.
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
    /// It went on or left although nobody had reported its keys in: how long it was here is not known.
    NoKeysIn,
    /// Done in a sign-in that the server lost when it was set back to a backup.
    Unproved,
}

/// A fact that broke a rule: recorded all the same, and somebody has to answer for it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Exception {
    /// Follows from the operation, the rule and what it is about.
    pub id: ExceptionId,
    /// Which rule was broken.
    pub kind: ExceptionKind,
    /// The order of the vehicle.
    pub order: OrderId,
    /// The card during which it happened, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<CardId>,
    /// Cards it is about (what is undone, what should have come first).
    #[serde(default)]
    pub about: Vec<CardId>,
    /// Who did it.
    pub by: PersonId,
    /// The person who has to answer; none: a planner.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub owner: Option<PersonId>,
    /// When it happened, UTC ms.
    pub since: Ms,
    /// Who answered; none: it stands open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answered_by: Option<PersonId>,
    /// When they answered, UTC ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answered_at: Option<Ms>,
    /// Their answer, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}
