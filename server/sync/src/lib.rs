//! The sync protocol: operations up, documents down.
//!
//! In reading order: [`shop`] (one open shop, and how it is recovered), [`writer`] (the only way in),
//! `delivered` (what another's sign-in may bring), [`change`] (what a batch changed, as the phones get it), `canonical` (what is hashed of an operation), [`pull`] (what a phone missed), [`index`]
//! (tables kept up beside the log), [`control`] (who may come in).
//!
//! Invariants: nothing is answered, shown or served that is not durable; `(client, n)` counts once and
//! keeps its verdict; a page or a frame says of which history it is.
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

/// A place in the chain, on the wire: the first half of SHA-256's first half tells two histories apart
/// by accident never met; the log keeps the whole.
pub fn chain_word(hash: &store::Hash) -> String {
    hex::encode(&hash[..8])
}
