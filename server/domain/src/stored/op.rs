//! Operations: what a person did, as sent by a phone and kept in the log.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::*;
use crate::Ms;
use crate::ids::*;

/// One act of one person. `(client, n)` is what makes it count once; `id` is for links.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Op {
    pub n: u64,
    pub id: OpId,
    /// The sign-in in which it was made.
    pub session: SessionId,
    /// Version of this operation's shape.
    #[serde(default = "one")]
    pub v: u32,
    #[serde(flatten)]
    pub act: Act,
    /// Facts the person relied on; another state refuses a wish.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub expect: Vec<Expect>,
    /// The phone's clock when it was made.
    pub device_at: Ms,
    /// Server clock minus phone clock, as last measured before it was made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offset: Option<i64>,
    /// The phone's cursor when it was made.
    #[serde(default)]
    pub seen: u64,
}

fn one() -> u32 {
    1
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(tag = "that", rename_all = "snake_case")]
pub enum Expect {
    /// The card is held by this person, or by nobody.
    Holder { card: CardId, person: Option<PersonId> },
    /// The card has this life state.
    Life { card: CardId, life: Life },
    /// The vehicle is open in this way, or is not.
    Open { order: OrderId, open: OpenId, is: bool },
    /// The vehicle is promised for then, or not at all.
    Promise { order: OrderId, due: Option<Ms> },
}

/// Everything a person can do. The tag is the operation's `kind`, the content its `args`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(tag = "kind", content = "args", rename_all = "snake_case")]
pub enum Act {
    // The work: facts
    /// Work on a card began. Starting a card nobody holds takes it.
    Start {
        card: CardId,
        /// The equipment it is on, where that was not certain.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        on: Option<EquipmentId>,
    },
    Pause {
        card: CardId,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        why: Option<PauseWhy>,
    },
    Finish {
        card: CardId,
        /// Positions of the card's checks that were done.
        #[serde(default)]
        checks: Vec<u32>,
        /// Wet or curing from now on, for so many minutes (else the links' lags say it).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        wet_minutes: Option<u32>,
    },
    /// Something was found on the vehicle.
    Found {
        order: OrderId,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        card: Option<CardId>,
        what: Found,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        note: Option<String>,
    },
    Note {
        order: OrderId,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        card: Option<CardId>,
        body: String,
    },
    Photo {
        order: OrderId,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        card: Option<CardId>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        handoff: Option<HandoffId>,
        sha256: String,
        mime: String,
        bytes: u64,
        taken_at: Ms,
    },
    /// What a person shows on a photo. Replaces what the same person had marked on it, nobody else's; the
    /// picture itself stays as it was taken.
    MarkPhoto {
        photo: PhotoId,
        marks: Vec<Mark>,
    },
    /// Where the vehicle stands now, and on what.
    Move {
        order: OrderId,
        to: PlaceId,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        on: Option<StandsOn>,
    },
    /// What is true of the vehicle now; absent fields stay.
    Condition {
        order: OrderId,
        change: ConditionChange,
    },
    /// Keys in, authorised, away, back, ready, keys back, stopped.
    Stage {
        order: OrderId,
        stage: Stage,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    /// High voltage isolated or live again, by whom.
    Energy {
        order: OrderId,
        energy: Energy,
    },
    /// A piece of equipment can not be used, until a planner says that it is back.
    EquipmentOut {
        equipment: EquipmentId,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        note: Option<String>,
    },

    // Between departments: wishes
    Ask(Ask),
    Take {
        card: CardId,
    },
    /// Not working on it after all: back to the queue.
    GiveBack {
        card: CardId,
    },
    /// Someone else's refused or parallel work goes on together with the holder.
    Help {
        card: CardId,
    },
    Assign {
        card: CardId,
        to: PersonId,
    },
    Lead {
        order: OrderId,
        department: DepartmentId,
        person: Option<PersonId>,
    },

    // The job: wishes
    OpenOrder(OpenOrder),
    EditOrder {
        order: OrderId,
        change: OrderChange,
    },
    Promise {
        order: OrderId,
        /// None takes the promise back.
        due: Option<Ms>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    AddCard(AddCard),
    EditCard {
        card: CardId,
        change: CardChange,
    },
    /// An ask that has no cards of its own, because it joined what others had asked for: it alone.
    CallOff {
        handoff: HandoffId,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    CancelCard {
        card: CardId,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    Link {
        card: CardId,
        after: Link,
    },
    Unlink {
        card: CardId,
        after: CardId,
    },
    Hold {
        order: OrderId,
        what: HoldKind,
        /// Empty: the whole vehicle.
        #[serde(default)]
        cards: Vec<CardId>,
        #[serde(default)]
        blocks: Blocks,
        /// When it is expected to end.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        due: Option<Ms>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        note: Option<String>,
    },
    /// What is waited for comes on another day than was said.
    HoldDue {
        order: OrderId,
        hold: HoldId,
        due: Ms,
    },
    Unhold {
        order: OrderId,
        hold: HoldId,
    },
    /// The planner overrules the order, with a reason, until a time.
    PutFirst {
        card: CardId,
        reason: String,
        until: Ms,
    },
    PutBack {
        card: CardId,
    },
    EquipmentBack {
        equipment: EquipmentId,
    },

    // Making right
    Correct {
        card: CardId,
        span: SpanId,
        from: Ms,
        to: Option<Ms>,
    },
    /// Takes back one's own last act on a card (start, pause, finish, take) while nothing has built on it.
    Undo {
        op: OpId,
        card: CardId,
    },
    /// *Keys back* was said by mistake: the vehicle is where it was before.
    StageBack {
        order: OrderId,
        /// The stage it is not at: keys back, there is no other yet.
        stage: Stage,
        reason: String,
    },
    Answer {
        exception: ExceptionId,
        reason: String,
    },
    /// An operation too large to send stood at this `n`.
    Dropped {
        why: String,
    },

    // Setting up
    SetShop {
        shop: Shop,
    },
    SetDepartment {
        department: Department,
    },
    SetPerson {
        person: Person,
    },
    /// Takes away what a person wrote and photographed, and their name. They leave the shop by it.
    ErasePerson {
        person: PersonId,
    },
    SetEquipment {
        equipment: Equipment,
    },
    SetPlace {
        place: Place,
    },
    SetCalendar {
        calendar: Calendar,
    },
    SetRouting {
        routing: Routing,
    },

    // What the server's own client says
    /// The bytes of a photo have arrived and fit their name.
    PhotoHere {
        sha256: String,
    },
    /// A notice born of the clock, once: so that telling it is in the log.
    Remind {
        about: Reminder,
        card: Option<CardId>,
        order: Option<OrderId>,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Reminder {
    /// Asked, and nobody took it for too long.
    Untaken,
    /// A lift is held past the planned time.
    LiftBlocked,
    /// The plan no longer reaches the promise.
    PromiseUnlikely,
    /// Somebody's work runs on although their shift is over, or it is their break.
    StillRunning,
    /// The job was stopped, and nobody gave the keys back.
    StoppedHere,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Ask {
    pub order: OrderId,
    pub routing: RoutingId,
    /// The asking department; it gets the vehicle back.
    pub from: DepartmentId,
    /// Own card that waits for this, linked after the work that lets it go on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub for_card: Option<CardId>,
    /// Cards after which the work can begin (else at once).
    #[serde(default)]
    pub after: Vec<Link>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// What must not be done yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_yet: Option<String>,
    /// What is true of the vehicle at this moment, said together with the asking.
    #[serde(default)]
    pub condition: ConditionChange,
    /// Planned minutes that differ from the routing's, by step.
    #[serde(default)]
    pub minutes: BTreeMap<String, u32>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OpenOrder {
    pub number: String,
    /// What one sees when looking at it: colour and shape.
    pub vehicle: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vin: Option<String>,
    #[serde(default)]
    pub towed_in: bool,
    #[serde(default = "normal")]
    pub weight: u32,
    #[serde(default)]
    pub stage: Stage,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expected_at: Option<Ms>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub promise: Option<Ms>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<PlaceId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub energy: Option<Energy>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sold_minutes: Option<u32>,
    /// A comeback names the card that caused it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comeback_of: Option<CardId>,
    /// Routings to lay out at once, one after the other.
    #[serde(default)]
    pub routings: Vec<RoutingId>,
    /// When keys came in, for orders brought over from before (import).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub arrived_at: Option<Ms>,
}

pub(super) fn normal() -> u32 {
    2
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OrderChange {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vehicle: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vin: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight: Option<u32>,
    /// Why it is more or less urgent than others.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight_reason: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expected_at: Option<Ms>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sold_minutes: Option<u32>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AddCard {
    pub order: OrderId,
    pub department: DepartmentId,
    pub title: Words,
    pub planned_minutes: u32,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sold_minutes: Option<u32>,
    #[serde(default)]
    pub after: Vec<Link>,
    /// Cards that come after this one.
    #[serde(default)]
    pub before: Vec<CardId>,
    /// Part of a supplement that is not approved yet.
    #[serde(default)]
    pub proposed: bool,
    #[serde(flatten)]
    pub needs: Needs,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CardChange {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub title: Option<Words>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub department: Option<DepartmentId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planned_minutes: Option<u32>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sold_minutes: Option<u32>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub needs: Option<Needs>,
    /// A proposed card was approved.
    #[serde(default)]
    pub approved: bool,
}

impl Act {
    /// Facts happened in steel and are recorded whatever state they meet; wishes may be refused.
    pub fn is_fact(&self) -> bool {
        matches!(
            self,
            Act::Start { .. }
                | Act::Pause { .. }
                | Act::Finish { .. }
                | Act::Found { .. }
                | Act::Note { .. }
                | Act::Photo { .. }
                | Act::MarkPhoto { .. }
                | Act::Move { .. }
                | Act::Condition { .. }
                | Act::Stage { .. }
                | Act::Energy { .. }
                | Act::EquipmentOut { .. }
                | Act::Dropped { .. }
        )
    }
}
