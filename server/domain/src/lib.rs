//! The rules of a collision repair shop's hand-offs.
//!
//! A phone says what a person did (an [`stored::Op`]); [`decide::decide`] answers with events and
//! exceptions or with a refusal; [`fold::fold`] turns events into [`state::State`], whose parts are
//! the documents that phones receive. State is a fold of events and of nothing else.
//!
//! Invariants:
//! - pure: time, ids and time-zone data are arguments; no clock, file, socket, random source or
//!   unordered map (kept by `clippy.toml`);
//! - facts are never refused for the state they meet, wishes may be ([`stored::Act::is_fact`]);
//! - only the types in [`stored`] derive serde: their JSON is the stored format, held by vectors.
//!
//! Must not know: HTTP, sign-in tokens, storage, the planner, languages of the screen.

#![deny(missing_docs)]

pub mod calendar;
pub mod cold;
pub mod decide;
pub mod depends;
pub mod fold;
pub mod ids;
pub mod learn;
pub mod leaving;
pub mod measure;
pub mod notice;
pub mod open;
pub mod plain;
pub mod state;
pub mod stored;
pub mod suppose;
pub mod text;
pub mod told;
pub mod vin;
pub mod waiting;

/// Integer UTC milliseconds since 1970, as stored and as sent.
pub type Ms = i64;
/// One minute in [`Ms`].
pub const MINUTE: Ms = 60_000;
