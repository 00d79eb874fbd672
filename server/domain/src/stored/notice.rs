//! Notices, as kept for each person.

use serde::{Deserialize, Serialize};

use crate::Ms;
use crate::ids::*;

/// What a notice is about, most important first: of several to one person about one entry only the first is
/// sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum NoticeKind {
    /// A fact broke a rule, and the reader has to answer or to know.
    Exception,
    /// Something the reader wished was refused.
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
    /// A vehicle is open for work that the reader waits to do.
    Open,
    /// The reader's department was asked for work.
    Asked,
    /// What the reader had asked for is done.
    HandedBack,
    /// A planner gave the reader a card.
    Assigned,
    /// Somebody took what the reader had asked for.
    Taken,
    /// Somebody gave back what the reader had asked for.
    GivenBack,
    /// What came before the reader's card is done.
    Next,
    /// What came before the reader's card is not done after all.
    NotNext,
    /// A hold on the reader's card ended, or what it waited for has come.
    HoldEnded,
    /// A card is in the queue again because its holder left the shop.
    FellFree,
    /// Asked for some time ago, and nobody has taken it.
    Untaken,
    /// A lift is occupied past its planned time.
    LiftBlocked,
    /// The plan no longer reaches a promise.
    PromiseUnlikely,
    /// The reader's work still runs although their shift is over, or it is their break.
    StillRunning,
    /// A stopped job's vehicle is still here.
    StoppedHere,
    /// The keys of a vehicle of the reader's did not go back after all.
    StageTakenBack,
    /// Somebody asked for work of a department that is no more.
    RoutingOutdated,
}

/// One notice to one person. The app and the mailer make the sentence from it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Notice {
    /// Who is told.
    pub person: PersonId,
    /// What it is about.
    pub kind: NoticeKind,
    /// The server's clock at the entry it comes from, UTC ms.
    pub at: Ms,
    /// The order it is about, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub order: Option<OrderId>,
    /// The card it is about, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<CardId>,
    /// The hand-off it is about, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub handoff: Option<HandoffId>,
    /// The exception it is about, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exception: Option<ExceptionId>,
    /// The piece of equipment it is about, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub equipment: Option<EquipmentId>,
    /// Whose act it comes from; none: the server's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<PersonId>,
    /// Sent outside the reader's shift too.
    #[serde(default)]
    pub urgent: bool,
}
