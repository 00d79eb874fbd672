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
    /// Counter of the client: 1 for its first operation, then one more each. With the client it makes the
    /// operation count once.
    pub n: u64,
    /// Chosen by the phone; what the operation creates takes its id from it.
    pub id: OpId,
    /// The sign-in in which it was made.
    pub session: SessionId,
    /// Version of this operation's shape.
    #[serde(default = "one")]
    pub v: u32,
    /// What was done: `kind` and `args`.
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
    /// The phone's cursor when it was made: the `seq` of the last log entry it had applied, 0 if none.
    #[serde(default)]
    pub seen: u64,
}

fn one() -> u32 {
    1
}

/// One thing the phone showed when the person acted; the server compares it before it decides a wish.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(tag = "that", rename_all = "snake_case")]
pub enum Expect {
    /// The card is held by this person, or by nobody.
    Holder {
        /// The card in question.
        card: CardId,
        /// Who held it; none: nobody did.
        person: Option<PersonId>,
    },
    /// The card has this life state.
    Life {
        /// The card in question.
        card: CardId,
        /// The state it was shown in.
        life: Life,
    },
    /// The vehicle is open in this way, or is not.
    Open {
        /// The order of the vehicle.
        order: OrderId,
        /// The way of being open.
        open: OpenId,
        /// Whether it was open.
        is: bool,
    },
    /// The vehicle is promised for then, or not at all.
    Promise {
        /// The order of the vehicle.
        order: OrderId,
        /// The promise that was shown, UTC ms; none: there was none.
        due: Option<Ms>,
    },
}

/// Everything a person can do. The tag is the operation's `kind`, the content its `args`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(tag = "kind", content = "args", rename_all = "snake_case")]
pub enum Act {
    // The work: facts
    /// Work on a card began. Starting a card nobody holds takes it.
    Start {
        /// The card that is worked on from now.
        card: CardId,
        /// The equipment it is on, where that was not certain.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        on: Option<EquipmentId>,
    },
    /// The actor stopped working on a card before it was done. Others who are clocked on it go on.
    Pause {
        /// The card that was being worked on.
        card: CardId,
        /// What stopped it; none if the person gave no reason.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        why: Option<PauseWhy>,
    },
    /// Work on a card is done.
    Finish {
        /// The card that is done.
        card: CardId,
        /// Positions of the checks that were done, counted from 0 in the card's list.
        #[serde(default)]
        checks: Vec<u32>,
        /// Calendar minutes it stays wet or cures, from now; none: the lags of the links decide.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        wet_minutes: Option<u32>,
    },
    /// Something was found on the vehicle.
    Found {
        /// The order of the vehicle.
        order: OrderId,
        /// The card during which it was found; none: not while working on one.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        card: Option<CardId>,
        /// The kind of finding.
        what: Found,
        /// What the person typed about it, at most 4,000 characters.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        note: Option<String>,
    },
    /// A remark about a vehicle, or about one of its cards.
    Note {
        /// The order of the vehicle.
        order: OrderId,
        /// The card it is about; none: the vehicle as a whole.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        card: Option<CardId>,
        /// What was typed, 1 to 4,000 characters.
        body: String,
    },
    /// A photo was taken. The picture follows by upload; this carries only its name and size.
    Photo {
        /// The order of the vehicle.
        order: OrderId,
        /// The card it belongs to, if any.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        card: Option<CardId>,
        /// The hand-off it was attached to, if any.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        handoff: Option<HandoffId>,
        /// SHA-256 of the picture's bytes, 64 hexadecimal digits: the name under which it is uploaded.
        sha256: String,
        /// Media type, for example `image/jpeg`.
        mime: String,
        /// Size of the picture in bytes.
        bytes: u64,
        /// When it was taken, UTC ms by the phone's clock.
        taken_at: Ms,
    },
    /// What a person shows on a photo. Replaces what the same person had marked on it, nobody else's; the
    /// picture itself stays as it was taken.
    MarkPhoto {
        /// The photo that is marked.
        photo: PhotoId,
        /// The whole new set, at most 50; empty removes one's own marks.
        marks: Vec<Mark>,
    },
    /// Where the vehicle stands now, and on what.
    Move {
        /// The order of the vehicle.
        order: OrderId,
        /// Where it stands from now on.
        to: PlaceId,
        /// What it stands on; none: as before.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        on: Option<StandsOn>,
    },
    /// What is true of the vehicle now; absent fields stay.
    Condition {
        /// The order of the vehicle.
        order: OrderId,
        /// What is different now.
        change: ConditionChange,
    },
    /// Keys in, authorised, away, back, ready, keys back, stopped.
    Stage {
        /// The order of the vehicle.
        order: OrderId,
        /// The stage it has reached now.
        stage: Stage,
        /// Why, as typed (for example why the job is stopped).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    /// High voltage isolated or live again, by whom.
    Energy {
        /// The order of the vehicle.
        order: OrderId,
        /// The whole new state, not a change of it.
        energy: Energy,
    },
    /// A piece of equipment can not be used, until a planner says that it is back.
    EquipmentOut {
        /// The piece that is out of service from now.
        equipment: EquipmentId,
        /// What is wrong with it, as typed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        note: Option<String>,
    },

    // Between departments: wishes
    /// One department asks another for work on a vehicle: a hand-off, laid out from a routing.
    Ask(Ask),
    /// Takes a card for oneself before starting it.
    Take {
        /// The card to hold.
        card: CardId,
    },
    /// Not working on it after all: back to the queue.
    GiveBack {
        /// The card one holds; a planner may give back anybody's.
        card: CardId,
    },
    /// Joins whoever holds the card and works on it with them.
    Help {
        /// The card to help with.
        card: CardId,
    },
    /// A planner gives a card to somebody.
    Assign {
        /// The card to give.
        card: CardId,
        /// Who is to hold it.
        to: PersonId,
    },
    /// Sets who looks after a vehicle in one department.
    Lead {
        /// The order of the vehicle.
        order: OrderId,
        /// The department whose lead it is.
        department: DepartmentId,
        /// The new lead; none: nobody.
        person: Option<PersonId>,
    },

    // The job: wishes
    /// Opens a repair order.
    OpenOrder(OpenOrder),
    /// Changes facts of an order; absent fields stay.
    EditOrder {
        /// The order to change.
        order: OrderId,
        /// The fields that get a new value.
        change: OrderChange,
    },
    /// Promises when a vehicle will be ready, or withdraws the promise.
    Promise {
        /// The order of the vehicle.
        order: OrderId,
        /// When it is to be ready, UTC ms; none withdraws the promise.
        due: Option<Ms>,
        /// Why it was made or moved, as typed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    /// Lays out one more card on an order.
    AddCard(AddCard),
    /// Changes a card; absent fields stay.
    EditCard {
        /// The card to change.
        card: CardId,
        /// The fields that get a new value.
        change: CardChange,
    },
    /// Withdraws an ask that has no cards of its own because it joined what others had asked for.
    CallOff {
        /// The hand-off to withdraw.
        handoff: HandoffId,
        /// Why, as typed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    /// Takes a card that is not done off the order.
    CancelCard {
        /// The card that is not to be done.
        card: CardId,
        /// Why, as typed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    /// Makes a card wait for another one of the same order.
    Link {
        /// The card that waits.
        card: CardId,
        /// What it waits for, and how long after it.
        after: Link,
    },
    /// Removes such a link.
    Unlink {
        /// The card that waited.
        card: CardId,
        /// The card it no longer waits for.
        after: CardId,
    },
    /// Puts an order, or some of its cards, on hold.
    Hold {
        /// The order of the vehicle.
        order: OrderId,
        /// What is waited for.
        what: HoldKind,
        /// The cards it keeps; empty: the whole vehicle.
        #[serde(default)]
        cards: Vec<CardId>,
        /// Whether it keeps them from beginning or from being finished.
        #[serde(default)]
        blocks: Blocks,
        /// When it is expected to end, UTC ms; none: nobody knows.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        due: Option<Ms>,
        /// Details, as typed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        note: Option<String>,
    },
    /// What an order waits for is now expected at another time.
    HoldDue {
        /// The order of the vehicle.
        order: OrderId,
        /// The hold in question.
        hold: HoldId,
        /// The new expectation, UTC ms.
        due: Ms,
    },
    /// What was waited for is here, or no longer matters.
    Unhold {
        /// The order of the vehicle.
        order: OrderId,
        /// The hold that ends.
        hold: HoldId,
    },
    /// The planner overrules the order, with a reason, until a time.
    PutFirst {
        /// The card that goes before the others of its department.
        card: CardId,
        /// Why, as typed; required.
        reason: String,
        /// When the overruling ends by itself, UTC ms.
        until: Ms,
    },
    /// Ends such an overruling before its time.
    PutBack {
        /// The card that goes back to its own place in the queue.
        card: CardId,
    },
    /// A planner puts equipment back into service.
    EquipmentBack {
        /// The piece that works again.
        equipment: EquipmentId,
    },

    // Making right
    /// Corrects when a stretch of work began or ended, by at most seven days.
    Correct {
        /// The card that was worked on.
        card: CardId,
        /// The stretch of work.
        span: SpanId,
        /// When it really began, UTC ms.
        from: Ms,
        /// When it really ended, UTC ms; none: it is still running.
        to: Option<Ms>,
    },
    /// Takes back one's own last act on a card (start, pause, finish, take) while nothing has built on it.
    Undo {
        /// The operation to take back.
        op: OpId,
        /// The card it was about.
        card: CardId,
    },
    /// *Keys back* was said by mistake: the vehicle is where it was before.
    StageBack {
        /// The order of the vehicle.
        order: OrderId,
        /// The stage it has not reached; only `delivered` can be taken back.
        stage: Stage,
        /// Why, as typed; required.
        reason: String,
    },
    /// Answers an exception: the named owner, else a planner, says why.
    Answer {
        /// The exception that is answered.
        exception: ExceptionId,
        /// What is said to it, as typed; required.
        reason: String,
    },
    /// An operation too large to send stood at this `n`.
    Dropped {
        /// Why the app gave the operation up.
        why: String,
    },

    // Setting up
    /// Sets the shop's own name, time zone, calendar and language.
    SetShop {
        /// The whole new document.
        shop: Shop,
    },
    /// Adds a department, or replaces the one with this id.
    SetDepartment {
        /// The whole new document.
        department: Department,
    },
    /// Adds a person, or replaces the one with this id.
    SetPerson {
        /// The whole new document.
        person: Person,
    },
    /// Takes away what a person wrote and photographed, and their name. They leave the shop by it.
    ErasePerson {
        /// Who is erased.
        person: PersonId,
    },
    /// Adds a piece of equipment, or replaces the one with this id.
    SetEquipment {
        /// The whole new document.
        equipment: Equipment,
    },
    /// Adds a place, or replaces the one with this id.
    SetPlace {
        /// The whole new document.
        place: Place,
    },
    /// Adds a calendar, or replaces the one with this id.
    SetCalendar {
        /// The whole new document.
        calendar: Calendar,
    },
    /// Adds a routing, or replaces the one with this id. Cards that were laid out before stay as they are.
    SetRouting {
        /// The whole new document; the server sets `version`.
        routing: Routing,
    },

    // What the server's own client says
    /// The bytes of a photo have arrived and fit their name.
    PhotoHere {
        /// SHA-256 of the picture, in hexadecimal.
        sha256: String,
    },
    /// The server sends a reminder that the clock brought about. In the log, so that it is sent once.
    Remind {
        /// What it reminds of.
        about: Reminder,
        /// The card it is about, if it is about one.
        card: Option<CardId>,
        /// The order it is about, if it is about one.
        order: Option<OrderId>,
    },
}

/// What the clock alone brings about: nobody has to act for it.
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

/// What one department asks of another, and what it says about the vehicle as it does.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Ask {
    /// The vehicle's order.
    pub order: OrderId,
    /// What is asked for: the routing whose steps become cards.
    pub routing: RoutingId,
    /// The asking department; it gets the vehicle back.
    pub from: DepartmentId,
    /// The asker's own card that waits for this; it is linked after the work that lets it go on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub for_card: Option<CardId>,
    /// Cards the work must wait for; empty: it can begin at once.
    #[serde(default)]
    pub after: Vec<Link>,
    /// What the other department should know, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// What must not be done yet, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_yet: Option<String>,
    /// What is true of the vehicle at this moment: it goes with the ask and changes the order too.
    #[serde(default)]
    pub condition: ConditionChange,
    /// Planned working minutes by step, where they differ from the routing's.
    #[serde(default)]
    pub minutes: BTreeMap<String, u32>,
}

/// A new repair order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OpenOrder {
    /// The shop's own number for it, at most 40 characters; no two orders share one.
    pub number: String,
    /// What one sees when looking at it: colour and shape.
    pub vehicle: String,
    /// Vehicle identification number, if known. A doubtful one is kept and flagged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vin: Option<String>,
    /// It came, or comes, on a tow truck: until somebody says otherwise it does not roll.
    #[serde(default)]
    pub towed_in: bool,
    /// Urgency: 1 (can wait), 2 (normal) or 4 (urgent).
    #[serde(default = "normal")]
    pub weight: u32,
    /// Where its visit begins: expected or arrived, rarely later.
    #[serde(default)]
    pub stage: Stage,
    /// When the vehicle is booked to come, UTC ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expected_at: Option<Ms>,
    /// When it is promised to be ready, UTC ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub promise: Option<Ms>,
    /// Where it stands, if it is here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<PlaceId>,
    /// High voltage on board and the maker's bake limits, if known already.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub energy: Option<Energy>,
    /// Minutes of labour sold on the order as a whole; what is sold on single cards stands there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sold_minutes: Option<u32>,
    /// For a comeback: the card of the earlier visit whose work it comes back for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comeback_of: Option<CardId>,
    /// Routings to lay out at once, one after the other.
    #[serde(default)]
    pub routings: Vec<RoutingId>,
    /// When the keys came in, UTC ms, for orders imported from before; none: now, if it has arrived.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub arrived_at: Option<Ms>,
}

pub(super) fn normal() -> u32 {
    2
}

/// New values for an order; absent fields stay as they are.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OrderChange {
    /// The shop's own number for it, at most 40 characters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    /// What one sees when looking at it: colour and shape.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vehicle: Option<String>,
    /// Vehicle identification number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vin: Option<String>,
    /// Urgency: 1 (can wait), 2 (normal) or 4 (urgent).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight: Option<u32>,
    /// Why it is more or less urgent than others.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight_reason: Option<String>,
    /// When the vehicle is booked to come, UTC ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expected_at: Option<Ms>,
    /// Minutes of labour sold on the order as a whole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sold_minutes: Option<u32>,
}

/// A card that somebody lays out by hand.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AddCard {
    /// The order it belongs to.
    pub order: OrderId,
    /// Who is to do it.
    pub department: DepartmentId,
    /// What is to be done, at most 200 characters.
    pub title: Words,
    /// How long it should take, in working minutes, at most 12,000 (200 hours).
    pub planned_minutes: u32,
    /// Minutes of labour sold for it; none: not sold by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sold_minutes: Option<u32>,
    /// Cards it must wait for.
    #[serde(default)]
    pub after: Vec<Link>,
    /// Cards that come after this one.
    #[serde(default)]
    pub before: Vec<CardId>,
    /// Part of a supplement that is not approved yet: nobody can start it.
    #[serde(default)]
    pub proposed: bool,
    /// What it asks of the shop, the vehicle and the person.
    #[serde(flatten)]
    pub needs: Needs,
}

/// New values for a card; absent fields stay as they are.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CardChange {
    /// What is to be done, at most 200 characters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub title: Option<Words>,
    /// Who is to do it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub department: Option<DepartmentId>,
    /// How long it should take, in working minutes, at most 12,000 (200 hours).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planned_minutes: Option<u32>,
    /// Minutes of labour sold for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sold_minutes: Option<u32>,
    /// What it asks of the shop, the vehicle and the person; replaces all of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub needs: Option<Needs>,
    /// The supplement was approved: a proposed card becomes a waiting one.
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
