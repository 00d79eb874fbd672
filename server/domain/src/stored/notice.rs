//! Notices, as kept for each person.

use serde::{Deserialize, Serialize};

use crate::Ms;
use crate::ids::*;

/// What a notice is about, most important first: of several to one person only the first is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum NoticeKind {
    Exception,
    Refused,
    /// The vehicle was closed over work of the reader's.
    ClosedOver,
    /// Equipment under a vehicle of the reader's is out of service.
    EquipmentOut,
    /// What the reader had taken was called off.
    CalledOff,
    /// Somebody else finished what the reader was working on.
    DoneForYou,
    /// Something was put before what the reader works on.
    PutBefore,
    /// What the reader had taken was given to somebody else, or back to the queue.
    TakenAway,
    Open,
    Asked,
    HandedBack,
    Assigned,
    Taken,
    GivenBack,
    Next,
    /// It was taken back: not the reader's turn after all.
    NotNext,
    /// What kept the reader's card has come, or ended.
    HoldEnded,
    /// Who held it has left the shop.
    FellFree,
    Untaken,
    LiftBlocked,
    PromiseUnlikely,
    StillRunning,
    StoppedHere,
    /// The keys of a vehicle of the reader's did not go back after all.
    StageTakenBack,
    /// Somebody asked for work of a department that is no more.
    RoutingOutdated,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Notice {
    pub person: PersonId,
    pub kind: NoticeKind,
    pub at: Ms,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub order: Option<OrderId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<CardId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub handoff: Option<HandoffId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exception: Option<ExceptionId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub equipment: Option<EquipmentId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<PersonId>,
    /// Delivered outside the shift too.
    #[serde(default)]
    pub urgent: bool,
}
