//! The sync protocol: operations up, documents down.
//!
//! In reading order: [`shop`] (one open shop, and how it is recovered), [`writer`] (the only way in),
//! `delivered` (what somebody else's sign-in may deliver), [`change`] (what a batch changed, as phones receive
//! it), `canonical` (what is hashed of an operation), [`pull`] (what a phone missed), [`index`] (tables kept up
//! beside the log), [`control`] (who may come in).
//!
//! Invariants: nothing is answered, shown or served before it is durable; `(client, n)` counts once and keeps
//! its verdict; every page and frame names the history it belongs to.
//! Must not know: HTTP, cookies, tokens, the planner, rules of the trade (they are `domain`'s).

#![deny(missing_docs)]

mod canonical;
pub mod change;
pub mod clock;
pub mod control;
mod delivered;
mod erase;
pub mod index;
pub mod limits;
pub mod pull;
pub mod shop;
pub mod snapshot;
pub mod writer;
mod zones;

/// An epoch on the wire: JSON numbers lose bits above 2^53.
pub fn epoch_word(epoch: u64) -> String {
    format!("{epoch:016x}")
}

/// A point in the chain, on the wire: the first eight bytes of its SHA-256 are enough to tell two histories
/// apart that nobody forged; the log keeps all of it.
pub fn chain_word(hash: &store::Hash) -> String {
    hex::encode(&hash[..8])
}
