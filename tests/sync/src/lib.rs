//! A seeded simulation of a shop: simulated phones, network and disk around the real server protocol and
//! the real rules.
//!
//! In reading order: [`world`] (one run), [`database`] and
//! [`phone`] (the reference model of the app),
//! [`server`] (the real server and the front before it), [`disk`], [`acts`] (what people do), [`check`] (the
//! promises), [`bug`] (what is planted to see that they are checked).
//!
//! Invariants: a run is its seed; nothing waits, nothing reads a real clock.

/// Steps of one run before everything turns quiet.
pub const STEPS: u64 = 260;

pub mod acts;
pub mod bug;
pub mod check;
pub mod counts;
pub mod database;
pub mod dice;
pub mod disk;
pub mod phone;
pub mod server;
pub mod wire;
pub mod world;
