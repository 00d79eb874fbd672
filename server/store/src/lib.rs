//! Keeps what was acknowledged.
//!
//! The crate knows entries (one line of JSON each, opaque), documents (key, sequence number, body)
//! and photos (bytes under their SHA-256). It must not know the domain: no card, no vehicle, no
//! rule, no clock and no random source; ids, epochs and times are given by the caller.
//!
//! The promises, held by every backend and tested by one suite (module `contract`, feature `contract`):
//!
//! * **Durable before told.** `append` returns only after the bytes, and the name of the file that
//!   holds them, would survive a power cut. `head` never shows anything else.
//! * **All or nothing.** A batch is kept whole or not at all, also by a power cut in its middle.
//! * **One writer.** `append` says which sequence number it expects; a wrong one stores nothing.
//!   Readers may read beside the writer and see only whole, durable batches.
//! * **A failed sync ends writing.** After it nobody knows what the disk holds, so the journal turns
//!   read-only until it is opened again.
//! * **Damage is mended or reported, never guessed.** Only a torn tail that was never acknowledged
//!   is cut off. Anything else is mended from a checked copy or returned as a [`Fault`].
//! * **Tables can be rebuilt** from the log and hold the only copy of nothing. A table that cannot be
//!   trusted answers [`Error::Rebuild`] instead of a wrong result.
//!
//! The calls block. The caller gives them a writer thread and reader threads.

#![deny(missing_docs)]

mod backup;
#[cfg(feature = "contract")]
#[allow(missing_docs)] // the name of each test says what it shows
pub mod contract;
pub mod disk;
mod embedded;
mod error;
mod journal;
mod memory;
mod packed;
mod rules;
#[cfg(feature = "contract")]
pub mod sim;
mod types;

pub use backup::{Restored, backup, damaged_photos, restore, restore_dir};
pub use embedded::{Embedded, EmbeddedOptions, TablesIn};
pub use error::{AppendError, Error, Fault, FaultKind, PhotoError, json};
pub use memory::{Memory, MemoryTables};
pub use rules::{MAX_BODY, MAX_KEY};
pub use types::{
    Control, Doc, DocPage, Hash, Head, KvPair, Log, Meta, Notice, NoticeAt, PhotoFile, Photos, Replay,
    Report, Scrub, Snapshot, Snapshots, Store, Stored, TableBatch, Tables, Verdict, ZERO, chain,
};
