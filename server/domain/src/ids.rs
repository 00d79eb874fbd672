//! Names of things. Uuids name what people make (orders, cards, hand-offs); short words name what a
//! shop sets up (departments, equipment, places), so that a log line can be read.
//!
//! Invariant: nothing is ever ordered by an id.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

macro_rules! uuid_ids {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }
    )*};
}

macro_rules! word_ids {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
        #[serde(transparent)]
        pub struct $name(pub String);

        impl $name {
            /// Lower-case letters, digits and hyphens, at most 40: readable in a log line and in an address.
            pub fn well_formed(&self) -> bool {
                let word = &self.0;
                !word.is_empty()
                    && word.len() <= 40
                    && word.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
            }
        }

        impl From<&str> for $name {
            fn from(word: &str) -> Self {
                Self(word.to_owned())
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }
    )*};
}

uuid_ids! {
    /// An operation: what one person did once.
    OpId,
    /// One person on one browser profile.
    ClientId,
    /// One sign-in of one person on one device.
    SessionId,
    /// Somebody of the shop.
    PersonId,
    /// A repair order: one visit of one vehicle.
    OrderId,
    /// One task on one vehicle.
    CardId,
    /// One department's ask for work of another.
    HandoffId,
    /// A remark or a finding.
    NoteId,
    /// A photo of a vehicle.
    PhotoId,
    /// A broken rule that somebody has to answer for.
    ExceptionId,
    /// What keeps a vehicle, or some of its cards, waiting.
    HoldId,
    /// One person's uninterrupted work on one card.
    SpanId,
}

word_ids! {
    /// A department ("paint").
    DepartmentId,
    /// One named piece of equipment ("lift-2").
    EquipmentId,
    /// What kind of equipment a card needs ("lift").
    EquipmentKind,
    /// Somewhere a vehicle can stand ("bay-3").
    PlaceId,
    /// A calendar of shifts ("weekdays").
    CalendarId,
    /// An entry of the shop's library ("rack-and-pull").
    RoutingId,
    /// A state in which a vehicle is open ("suspension-down-rear").
    OpenId,
    /// What a person must be allowed to do ("high-voltage").
    Qualification,
}

/// Part `step` of the thing that operation `op` made: the same on a phone and on the server.
pub fn part_of(op: OpId, step: &str) -> Uuid {
    Uuid::new_v5(&op.0, step.as_bytes())
}
