//! One visit of one vehicle: how it stands, what is open on it, what keeps it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

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

/// What a vehicle stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum StandsOn {
    /// Its own wheels, or wheels put on to move it.
    Wheels,
    /// Dollies: it can be pushed, not driven.
    Dollies,
    /// Stands or blocks: it stays where it is.
    Stands,
    /// The arms or the platform of a lift.
    Lift,
}

/// What is known about the points by which a vehicle is lifted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum LiftingPoints {
    /// They were looked at and bear it.
    Sound,
    /// Somebody has to look before it goes up.
    Doubtful,
    /// It must not be lifted by them.
    Damaged,
}

/// An end of a vehicle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// Where the headlights are.
    Front,
    /// Where the tail lights are.
    Rear,
}

/// What is disconnected, drained or out of the vehicle. Phrases to choose from, so that they can be translated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Loose {
    /// The 12-volt battery is disconnected.
    BatteryOff,
    /// Airbags or belt tensioners are disconnected.
    AirbagsOff,
    /// The high-voltage system is switched off.
    HighVoltageOff,
    /// The fuel tank was emptied.
    FuelDrained,
    /// The coolant was let out.
    CoolantDrained,
    /// Brake lines or calipers are off.
    BrakesOpen,
    /// The refrigerant of the air conditioning was recovered.
    RefrigerantOut,
    /// Parts of the suspension are loose or off.
    SuspensionLoose,
    /// Parts of the steering are loose or off.
    SteeringLoose,
    /// Interior trim is out.
    TrimOut,
    /// Seats are out.
    SeatsOut,
    /// A window is out.
    GlassOut,
}

/// What the next person at the vehicle has to know. None means that nobody has said anything about it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Condition {
    /// Where the vehicle stands; follows the latest move.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<PlaceId>,
    /// Where its keys are, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keys: Option<String>,
    /// What it stands on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<StandsOn>,
    /// Whether it can be pushed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rolls: Option<bool>,
    /// Whether it can be steered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steers: Option<bool>,
    /// Whether its brakes hold.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub brakes: Option<bool>,
    /// What is known about its lifting points.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lifting_points: Option<LiftingPoints>,
    /// Ends at which heavy parts are off: the centre of gravity has moved.
    #[serde(default)]
    pub weight_off: Vec<End>,
    /// What is disconnected, drained or out.
    #[serde(default)]
    pub loose: Vec<Loose>,
    /// Where bolts and parts that were taken off are, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bolts: Option<String>,
    /// Until when paint, adhesive or sealer is wet or cures, UTC ms calendar time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wet_until: Option<Ms>,
}

/// New values for the condition; absent fields stay as they are, and none can be emptied again.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ConditionChange {
    /// Where its keys are, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keys: Option<String>,
    /// What it stands on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<StandsOn>,
    /// Whether it can be pushed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rolls: Option<bool>,
    /// Whether it can be steered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steers: Option<bool>,
    /// Whether its brakes hold.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub brakes: Option<bool>,
    /// What is known about its lifting points.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lifting_points: Option<LiftingPoints>,
    /// Ends at which heavy parts are off: the whole new list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight_off: Option<Vec<End>>,
    /// What is disconnected, drained or out: the whole new list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loose: Option<Vec<Loose>>,
    /// Where bolts and parts that were taken off are, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bolts: Option<String>,
    /// Until when paint, adhesive or sealer is wet or cures, UTC ms calendar time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wet_until: Option<Ms>,
}

/// State of the high-voltage system.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum HighVoltage {
    /// None is on board.
    #[default]
    None,
    /// On board, and not isolated.
    Live,
    /// On board; a qualified person has isolated it.
    Isolated,
}

/// High voltage on board, and how hot and how long this vehicle may be baked.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Energy {
    /// State of the high-voltage system.
    #[serde(default)]
    pub high_voltage: HighVoltage,
    /// The maker's limit for baking this vehicle, 30 to 100 °C; none: not known, and then no bake where high
    /// voltage is on board.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bake_limit_celsius: Option<u32>,
    /// The maker's limit for the length of a bake, 1 to 240 minutes; none: not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bake_limit_minutes: Option<u32>,
}

/// One way in which a vehicle is open now ("open: suspension down").
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OpenNow {
    /// The way of being open.
    pub open: OpenId,
    /// Since when, UTC ms.
    pub since: Ms,
    /// The card that opened it.
    pub by: CardId,
    /// The piece of equipment that stays occupied while it is open; none: no piece is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub equipment: Option<EquipmentId>,
}

/// What a hold waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum HoldKind {
    /// The insurer, or whoever pays, has to approve.
    Approval,
    /// Parts have to come.
    Parts,
    /// The customer has to decide or to bring something.
    Customer,
    /// Another business has to finish its part.
    Sublet,
    /// Something else: the note says what.
    Other,
}

/// What a hold keeps the work from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Blocks {
    /// From being started.
    #[default]
    Start,
    /// From being finished; it may be started.
    Finish,
}

/// Something outside the work keeps a vehicle, or some of its cards, waiting.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Hold {
    /// Named after the operation that set it.
    pub id: HoldId,
    /// What is waited for.
    pub what: HoldKind,
    /// The cards it keeps; empty: the whole vehicle.
    #[serde(default)]
    pub cards: Vec<CardId>,
    /// Whether it keeps them from starting or from being finished.
    #[serde(default)]
    pub blocks: Blocks,
    /// Since when, UTC ms.
    pub since: Ms,
    /// When it is expected to end, UTC ms, as last announced; none: nobody knows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due: Option<Ms>,
    /// The first expectation, UTC ms, where it was moved since: deliveries are judged by it. None: never moved.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_due: Option<Ms>,
    /// When it ended, UTC ms; none: it still holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ended: Option<Ms>,
    /// Details, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// From when on a vehicle stood in a place. It stood there until the next one begins.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Stood {
    /// Where it stood.
    pub place: PlaceId,
    /// Since when, UTC ms.
    pub from: Ms,
    /// Who moved it there.
    pub by: PersonId,
}

/// When a vehicle reached a stage.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StageAt {
    /// The stage.
    pub stage: Stage,
    /// When, UTC ms: the best time of the act.
    pub at: Ms,
    /// Why, where somebody said it (a vehicle that is stopped).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// A stage that a vehicle had not reached after all.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StageTakenBack {
    /// The stage that was reported.
    pub stage: Stage,
    /// When it was reported to be reached, UTC ms.
    pub reached_at: Ms,
    /// Who took it back.
    pub by: PersonId,
    /// When they took it back, UTC ms.
    pub at: Ms,
    /// Why, as typed.
    pub reason: String,
}

/// A repair order: one visit of one vehicle, from booking to keys back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Order {
    /// Named after the operation that opened it.
    pub id: OrderId,
    /// The shop's own number for it; no two orders share one.
    pub number: String,
    /// What one sees when looking at it: colour and shape, as typed.
    pub vehicle: String,
    /// Vehicle identification number, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vin: Option<String>,
    /// The VIN does not pass the check of 49 CFR 565.15: warned about, kept.
    #[serde(default)]
    pub vin_doubtful: bool,
    /// It came on a tow truck.
    #[serde(default)]
    pub towed_in: bool,
    /// Urgency: 1, 2 (normal) or 4.
    pub weight: u32,
    /// Why it is more or less urgent than others, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight_reason: Option<String>,
    /// Where it is in its visit.
    pub stage: Stage,
    /// Every stage it went through, by time.
    #[serde(default)]
    pub stages: Vec<StageAt>,
    /// Stages that were reported by mistake, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub taken_back: Vec<StageTakenBack>,
    /// When it is booked to come, UTC ms; none: not booked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expected_at: Option<Ms>,
    /// When it is promised to be ready, UTC ms; none: not promised.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub promise: Option<Ms>,
    /// The first promise after authorisation: what "promise kept" is measured against.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_promise: Option<Ms>,
    /// How often the promise was moved or withdrawn after the first one that counts.
    #[serde(default)]
    pub promise_moves: u32,
    /// Who made, moved or withdrew the promise last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub promised_by: Option<PersonId>,
    /// When they did, UTC ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub promised_at: Option<Ms>,
    /// Who looks after it, by department; a department that is absent has no lead.
    #[serde(default)]
    pub leads: BTreeMap<DepartmentId, PersonId>,
    /// What the next person at it has to know.
    #[serde(default)]
    pub condition: Condition,
    /// High voltage on board and the maker's bake limits.
    #[serde(default)]
    pub energy: Energy,
    /// In which ways it is open now.
    #[serde(default)]
    pub open: Vec<OpenNow>,
    /// What it waits or waited for: ended holds stay in the list.
    #[serde(default)]
    pub holds: Vec<Hold>,
    /// Where it stood, by time.
    #[serde(default)]
    pub stood: Vec<Stood>,
    /// Minutes of labour sold on the order as a whole; what is sold on single cards stands there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sold_minutes: Option<u32>,
    /// The card of an earlier visit whose work it came back for; none: no comeback.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comeback_of: Option<CardId>,
    /// Cards of this order, in the order they were laid out.
    #[serde(default)]
    pub cards: Vec<CardId>,
    /// When the order was opened, UTC ms.
    pub created_at: Ms,
}
