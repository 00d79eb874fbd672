//! The stored formats: operations, events and documents. Their JSON is a promise.
//!
//! Invariants: a field is added with a default, never renamed or given another meaning; every version
//! ever released is read (vectors under `tests/vectors`); free text stands only in fields that
//! [`crate::text`] names, so that it can be kept beside the log and removed from it.

mod doc;
mod event;
mod notice;
mod op;
mod order;
mod shop;

pub use doc::*;
pub use event::*;
pub use notice::*;
pub use op::*;
pub use order::*;
pub use shop::*;
