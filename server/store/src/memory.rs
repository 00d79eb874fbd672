//! The store without a disk: for tests, simulations and `demo`. As strict as the others, and a
//! clone is the same store, so "closing and opening again" can be tested with it too.

mod photos;
mod tables;

pub use tables::MemoryTables;

use crate::error::{AppendError, Error, Fault, FaultKind};
use crate::rules::check_bodies;
use crate::types::*;
use photos::MemoryPhotos;
use std::sync::{Arc, Mutex, MutexGuard, RwLock, RwLockReadGuard, RwLockWriteGuard};

/// A store in memory, for tests and for trying things out; clones share what they hold.
#[derive(Clone)]
pub struct Memory {
    inner: Arc<Inner>,
}

struct Inner {
    log: Chain,
    control: ControlChain,
    tables: MemoryTables,
    snapshots: Mutex<Vec<Snapshot>>,
    photos: MemoryPhotos,
    meta: Mutex<MetaState>,
}

struct MetaState {
    epoch: u64,
    served: u64,
}

impl Memory {
    /// An empty store of this epoch.
    pub fn new(epoch: u64) -> Self {
        Memory {
            inner: Arc::new(Inner {
                log: Chain::default(),
                control: ControlChain::default(),
                tables: MemoryTables::default(),
                snapshots: Mutex::default(),
                photos: MemoryPhotos::default(),
                meta: Mutex::new(MetaState { epoch, served: 0 }),
            }),
        }
    }

    /// From now on the log behaves as after a failed sync, until `thaw` (which stands for a restart).
    pub fn freeze(&self, why: &str) {
        write(&self.inner.log.0).failed = Some(why.to_owned());
    }

    /// As if so much of the disk were free.
    pub fn set_free_share(&self, free: Option<f64>) {
        self.inner.photos.set_free_share(free);
    }

    /// Takes entries again.
    pub fn thaw(&self) {
        write(&self.inner.log.0).failed = None;
    }
}

impl Store for Memory {
    fn log(&self) -> &dyn Log {
        &self.inner.log
    }
    fn control(&self) -> &dyn Control {
        &self.inner.control
    }
    fn tables(&self) -> &dyn Tables {
        &self.inner.tables
    }
    fn snapshots(&self) -> &dyn Snapshots {
        &*self.inner
    }
    fn photos(&self) -> &dyn Photos {
        &self.inner.photos
    }
    fn meta(&self) -> &dyn Meta {
        &*self.inner
    }
}

// A panic elsewhere leaves these plain values whole: every change is made after all checks.
pub(crate) fn lock<T>(m: &Mutex<T>) -> MutexGuard<'_, T> {
    m.lock().unwrap_or_else(|e| e.into_inner())
}
pub(crate) fn read<T>(m: &RwLock<T>) -> RwLockReadGuard<'_, T> {
    m.read().unwrap_or_else(|e| e.into_inner())
}
pub(crate) fn write<T>(m: &RwLock<T>) -> RwLockWriteGuard<'_, T> {
    m.write().unwrap_or_else(|e| e.into_inner())
}

#[derive(Default)]
struct Chain(RwLock<ChainState>);

#[derive(Default)]
struct ChainState {
    entries: Vec<Stored>,
    /// Entries before the first kept one (after a compaction).
    before: u64,
    failed: Option<String>,
}

impl ChainState {
    fn head(&self) -> Head {
        match self.entries.last() {
            Some(e) => Head { seq: e.seq, hash: e.hash },
            None => Head { seq: self.before, hash: ZERO },
        }
    }

    fn push(&mut self, bodies: &[&[u8]]) -> Head {
        for body in bodies {
            let Head { seq, hash: prev } = self.head();
            let hash = chain(&prev, body);
            self.entries.push(Stored { seq: seq + 1, prev, hash, body: body.to_vec() });
        }
        self.head()
    }

    fn verify(&self) -> Result<Report, Fault> {
        let mut head = Head { seq: self.before, hash: ZERO };
        for (at, e) in self.entries.iter().enumerate() {
            let kind = if e.seq != head.seq + 1 || e.prev != head.hash {
                FaultKind::OutOfOrder
            } else if e.hash != chain(&e.prev, &e.body) {
                FaultKind::Edited
            } else {
                head = Head { seq: e.seq, hash: e.hash };
                continue;
            };
            let segment = "memory".to_owned();
            return Err(Fault { segment, line: at as u64 + 1, seq: head.seq + 1, kind, mendable: false });
        }
        Ok(Report { head, entries: self.entries.len() as u64, segments: 1, warnings: Vec::new() })
    }
}

impl Log for Chain {
    fn head(&self) -> Head {
        read(&self.0).head()
    }

    fn append(&self, expected_seq: u64, bodies: &[&[u8]]) -> Result<Head, AppendError> {
        check_bodies(bodies)?;
        let mut s = write(&self.0);
        if let Some(why) = &s.failed {
            return Err(AppendError::ReadOnly { why: why.clone() });
        }
        let head = s.head().seq;
        if head != expected_seq {
            return Err(AppendError::Conflict { expected: expected_seq, head });
        }
        Ok(s.push(bodies))
    }

    fn read(&self, from_seq: u64, limit: usize) -> Result<Vec<Stored>, Error> {
        let s = read(&self.0);
        let skip = from_seq.saturating_sub(1) as usize;
        Ok(s.entries.iter().skip(skip).take(limit).cloned().collect())
    }

    fn replay(&self, from_seq: u64) -> Replay<'_, Stored> {
        let end = self.head().seq;
        let mut next = from_seq.max(1);
        Box::new(std::iter::from_fn(move || {
            if next > end {
                return None;
            }
            let entry = read(&self.0).entries.get(next as usize - 1).cloned();
            next += 1;
            entry.map(Ok)
        }))
    }

    fn hash_at(&self, seq: u64) -> Result<Option<Hash>, Error> {
        if seq == 0 {
            return Ok(Some(ZERO));
        }
        Ok(read(&self.0).entries.get(seq as usize - 1).map(|e| e.hash))
    }

    fn verify(&self) -> Result<Report, Fault> {
        read(&self.0).verify()
    }

    fn read_only(&self) -> Option<String> {
        read(&self.0).failed.clone()
    }
}

#[derive(Default)]
struct ControlChain(RwLock<ChainState>);

impl Control for ControlChain {
    fn head(&self) -> Head {
        read(&self.0).head()
    }

    fn append(&self, records: &[&[u8]]) -> Result<Head, AppendError> {
        check_bodies(records)?;
        Ok(write(&self.0).push(records))
    }

    fn replay(&self) -> Replay<'_, Vec<u8>> {
        let bodies: Vec<_> = read(&self.0).entries.iter().map(|e| Ok(e.body.clone())).collect();
        Box::new(bodies.into_iter())
    }

    fn compact(&self, expected_seq: u64, records: &[&[u8]]) -> Result<Head, AppendError> {
        check_bodies(records)?;
        let mut s = write(&self.0);
        let head = s.head().seq;
        if head != expected_seq {
            return Err(AppendError::Conflict { expected: expected_seq, head });
        }
        s.before = head;
        s.entries.clear();
        Ok(s.push(records))
    }

    fn bytes(&self) -> u64 {
        read(&self.0).entries.iter().map(|e| e.body.len() as u64).sum()
    }

    fn verify(&self) -> Result<Report, Fault> {
        read(&self.0).verify()
    }
}

impl Snapshots for Inner {
    fn put_snapshot(&self, seq: u64, hash: &Hash, bytes: &[u8]) -> Result<(), Error> {
        let mut all = lock(&self.snapshots);
        all.retain(|s| s.seq != seq);
        all.push(Snapshot { seq, hash: *hash, bytes: bytes.to_vec() });
        all.sort_by_key(|s| s.seq);
        let old = all.len().saturating_sub(2);
        all.drain(..old);
        Ok(())
    }

    fn latest_snapshot(&self) -> Result<Option<Snapshot>, Error> {
        Ok(lock(&self.snapshots).last().cloned())
    }

    fn clear(&self) -> Result<(), Error> {
        lock(&self.snapshots).clear();
        Ok(())
    }
}

impl Meta for Inner {
    fn epoch(&self) -> u64 {
        lock(&self.meta).epoch
    }

    fn start_epoch(&self, epoch: u64) -> Result<(), Error> {
        *lock(&self.meta) = MetaState { epoch, served: self.log.head().seq };
        Ok(())
    }

    fn mark_served(&self, seq: u64) -> Result<(), Error> {
        let mut meta = lock(&self.meta);
        meta.served = meta.served.max(seq);
        Ok(())
    }

    fn served(&self) -> u64 {
        lock(&self.meta).served
    }
}
