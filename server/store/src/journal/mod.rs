//! One append-only journal in a directory of its own; the shop log and the control journal are both
//! one of these.
//!
//! ```text
//! 00000000000000000001.log     a segment, named after its first entry; lines as in `line`
//! 00000000000000000001.copy    compressed, checksummed copy of a sealed segment (one with a follower)
//! 00000000000000009001.base    what a compaction wrote: everything older is void; the chain restarts
//! *.tmp                        an interrupted write, removed on opening
//! ```
//!
//! Invariants:
//! * a batch lies in one segment; only the last segment grows;
//! * `head` moves only after the batch's bytes, and its segment's name, are synced;
//! * a copy exists only when the name of the following segment is safe, so a last segment that has
//!   a copy means its follower was lost;
//! * after a failed sync nothing is written until the journal is opened again, and opening rewrites
//!   the last batch before it trusts it: the system may have marked its pages as clean.
//!
//! It must not know what an entry means, nor which of the two journals it is.

mod line;
mod open;
mod read;
mod scan;
mod segment;
mod write;

pub(crate) use line::{decode, encode};
pub(crate) use open::verify_dir;
pub(crate) use write::segment_name;

use crate::disk::{Disk, DiskFile};
use crate::error::Fault;
use crate::types::{Head, Report};
use segment::Segment;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, RwLock};
use std::thread::JoinHandle;

#[derive(Debug, Clone, Copy)]
pub(crate) struct JournalOptions {
    /// A segment that has reached this size is sealed before the next batch.
    pub segment_bytes: u64,
    /// Make copies of sealed segments in a thread; else before the append returns.
    pub background: bool,
}

pub(crate) struct Journal {
    shared: Arc<Shared>,
    options: JournalOptions,
    writer: Mutex<Writer>,
}

struct Shared {
    disk: Arc<dyn Disk>,
    dir: PathBuf,
    state: RwLock<State>,
    mending: Mutex<()>,
}

struct State {
    /// Durable.
    head: Head,
    segments: Vec<Arc<Segment>>,
    failed: Option<String>,
    /// Of all segments.
    bytes: u64,
}

struct Writer {
    /// The last segment; none before the first append.
    file: Option<Arc<dyn DiskFile>>,
    len: u64,
    sealing: Option<JoinHandle<()>>,
}

impl Journal {
    pub fn head(&self) -> Head {
        crate::memory::read(&self.shared.state).head
    }

    pub fn bytes(&self) -> u64 {
        crate::memory::read(&self.shared.state).bytes
    }

    pub fn failed(&self) -> Option<String> {
        crate::memory::read(&self.shared.state).failed.clone()
    }

    pub fn verify(&self) -> Result<Report, Fault> {
        let (head, segments) = self.shared.now();
        segment::verify(&*self.shared.disk, &self.shared.dir, &segments, Some(head))
    }
}

impl Shared {
    fn now(&self) -> (Head, Vec<Arc<Segment>>) {
        let s = crate::memory::read(&self.state);
        (s.head, s.segments.clone())
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.join(name)
    }
}

impl Drop for Journal {
    /// A copy being made must not outlive the directory's lock.
    fn drop(&mut self) {
        if let Some(thread) = crate::memory::lock(&self.writer).sealing.take() {
            let _ = thread.join();
        }
    }
}
