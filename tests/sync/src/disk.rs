//! The simulated disk under a shop: what is durable, what is not yet, and what a crash leaves.
//!
//! Invariants: an honest disk's append is durable when it returns; a crash keeps the durable part and
//! nothing else; a restart gets a disk of its own, so nothing of the old process can still write.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use store::{
    AppendError, Control, Doc, DocPage, Error, Fault, FaultKind, Hash, Head, KvPair, Log, MAX_BODY, Memory,
    MemoryTables, Meta, Notice, NoticeAt, Photos, Replay, Report, Scrub, Snapshot, Snapshots, Store, Stored,
    TableBatch, Tables, ZERO, chain,
};

use crate::dice::Dice;

/// How the next append of the log ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fail {
    /// Nothing was written.
    Lost,
    /// Everything was written, and the writer is not told.
    Kept,
}

/// The files of one shop: also what a backup or a copy of the directory holds.
#[derive(Clone, Default)]
pub struct Files {
    pub log: Vec<Arc<Stored>>,
    control: Vec<Arc<Vec<u8>>>,
    batches: Vec<Arc<TableBatch>>,
    snapshots: Vec<Snapshot>,
    pub epoch: u64,
    served: u64,
}

impl Files {
    pub fn empty(epoch: u64) -> Self {
        Files { epoch, ..Files::default() }
    }

    pub fn head(&self) -> u64 {
        self.log.len() as u64
    }

    /// What a restore makes of a backup: the journals, a new epoch, and nothing that can be rebuilt.
    pub fn restored(self, epoch: u64) -> Self {
        Files { log: self.log, control: self.control, epoch, ..Files::default() }
    }
}

struct Inner {
    files: Files,
    /// Entries and records that a power cut would leave.
    durable: usize,
    control_durable: usize,
    fail: Option<Fail>,
    failed: Option<String>,
}

pub struct Disk {
    inner: Mutex<Inner>,
    tables: MemoryTables,
    other: Memory,
    /// Appends return before they are durable: a planted fault, never the product's.
    lazy: bool,
}

impl Disk {
    pub fn new(files: Files, lazy: bool) -> Self {
        let tables = MemoryTables::default();
        for batch in &files.batches {
            // They were taken by tables once, in this order.
            tables.apply(batch).expect("batches in order");
        }
        let other = Memory::new(files.epoch);
        let (durable, control_durable) = (files.log.len(), files.control.len());
        let inner = Inner { files, durable, control_durable, fail: None, failed: None };
        Self { inner: Mutex::new(inner), tables, other, lazy }
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub fn fail_next(&self, fail: Fail) {
        self.lock().fail = Some(fail);
    }

    pub fn fail_no_more(&self) {
        self.lock().fail = None;
    }

    /// What a power cut now would leave. Tables and snapshots are never synced: any older state of them
    /// may be what is found.
    pub fn after_power_cut(&self, dice: &mut Dice) -> Files {
        let inner = self.lock();
        let mut files = inner.files.clone();
        files.log.truncate(inner.durable);
        files.control.truncate(inner.control_durable);
        let kept = dice.below(files.log.len() * 2 + 1) as u64;
        files.batches.retain(|batch| batch.seq <= kept.min(inner.durable as u64));
        files.snapshots.retain(|snapshot| snapshot.seq <= kept);
        files
    }

    /// A copy of everything durable, as a backup or an image of the machine takes it.
    pub fn copy(&self) -> Files {
        let inner = self.lock();
        let mut files = inner.files.clone();
        files.log.truncate(inner.durable);
        files.control.truncate(inner.control_durable);
        files.batches.retain(|batch| batch.seq <= inner.durable as u64);
        files
    }

    /// The disk gets round to it. Only a lazy one has anything left to do.
    pub fn settle(&self) {
        let mut inner = self.lock();
        inner.durable = inner.files.log.len();
        inner.control_durable = inner.files.control.len();
    }

    /// The entry, if a power cut now would leave it.
    pub fn durable_at(&self, seq: u64) -> Option<Arc<Stored>> {
        let inner = self.lock();
        let at = (seq as usize).checked_sub(1).filter(|at| *at < inner.durable)?;
        Some(inner.files.log[at].clone())
    }

    /// Entries after `seq`, durable or not.
    pub fn entries_after(&self, seq: u64) -> Vec<Arc<Stored>> {
        self.lock().files.log.iter().skip(seq as usize).cloned().collect()
    }
}

impl Inner {
    fn head(&self) -> Head {
        self.files.log.last().map_or(Head::default(), |e| Head { seq: e.seq, hash: e.hash })
    }
}

fn check(bodies: &[&[u8]]) -> Result<(), AppendError> {
    let bad = |body: &[u8]| body.len() > MAX_BODY || body.is_empty() || body.contains(&b'\n');
    match bodies.iter().position(|body| bad(body)) {
        Some(index) => Err(AppendError::Invalid { index, why: "it is not one line" }),
        None => Ok(()),
    }
}

impl Log for Disk {
    fn head(&self) -> Head {
        self.lock().head()
    }

    fn append(&self, expected_seq: u64, bodies: &[&[u8]]) -> Result<Head, AppendError> {
        check(bodies)?;
        let mut inner = self.lock();
        if let Some(why) = &inner.failed {
            return Err(AppendError::ReadOnly { why: why.clone() });
        }
        let head = inner.head().seq;
        if head != expected_seq {
            return Err(AppendError::Conflict { expected: expected_seq, head });
        }
        let fail = inner.fail.take();
        if fail != Some(Fail::Lost) {
            for body in bodies {
                let Head { seq, hash: prev } = inner.head();
                let hash = chain(&prev, body);
                inner.files.log.push(Arc::new(Stored { seq: seq + 1, prev, hash, body: body.to_vec() }));
            }
        }
        if !self.lazy {
            inner.durable = inner.files.log.len();
        }
        if fail.is_some() {
            inner.failed = Some("the sync failed".into());
            return Err(AppendError::Io(std::io::Error::other("the sync failed")));
        }
        Ok(inner.head())
    }

    fn read(&self, from_seq: u64, limit: usize) -> Result<Vec<Stored>, Error> {
        let skip = from_seq.saturating_sub(1) as usize;
        Ok(self.lock().files.log.iter().skip(skip).take(limit).map(|e| (**e).clone()).collect())
    }

    fn replay(&self, from_seq: u64) -> Replay<'_, Stored> {
        let entries = self.entries_after(from_seq.max(1) - 1);
        Box::new(entries.into_iter().map(|e| Ok((*e).clone())))
    }

    fn hash_at(&self, seq: u64) -> Result<Option<Hash>, Error> {
        if seq == 0 {
            return Ok(Some(ZERO));
        }
        Ok(self.lock().files.log.get(seq as usize - 1).map(|e| e.hash))
    }

    fn verify(&self) -> Result<Report, Fault> {
        let inner = self.lock();
        let mut head = Head::default();
        for entry in &inner.files.log {
            let kind = if entry.seq != head.seq + 1 || entry.prev != head.hash {
                FaultKind::OutOfOrder
            } else if entry.hash != chain(&entry.prev, &entry.body) {
                FaultKind::Edited
            } else {
                head = Head { seq: entry.seq, hash: entry.hash };
                continue;
            };
            let segment = "simulated".to_owned();
            return Err(Fault { segment, line: entry.seq, seq: head.seq + 1, kind, mendable: false });
        }
        Ok(Report { head, entries: head.seq, segments: 1, warnings: Vec::new() })
    }

    fn read_only(&self) -> Option<String> {
        self.lock().failed.clone()
    }
}

impl Control for Disk {
    fn head(&self) -> Head {
        Head { seq: self.lock().files.control.len() as u64, hash: ZERO }
    }

    fn append(&self, records: &[&[u8]]) -> Result<Head, AppendError> {
        check(records)?;
        let mut inner = self.lock();
        inner.files.control.extend(records.iter().map(|record| Arc::new(record.to_vec())));
        if !self.lazy {
            inner.control_durable = inner.files.control.len();
        }
        Ok(Head { seq: inner.files.control.len() as u64, hash: ZERO })
    }

    fn replay(&self) -> Replay<'_, Vec<u8>> {
        let records = self.lock().files.control.clone();
        Box::new(records.into_iter().map(|record| Ok((*record).clone())))
    }

    fn compact(&self, expected_seq: u64, records: &[&[u8]]) -> Result<Head, AppendError> {
        check(records)?;
        let head = self.lock().files.control.len() as u64;
        if head != expected_seq {
            return Err(AppendError::Conflict { expected: expected_seq, head });
        }
        self.lock().files.control.clear();
        Control::append(self, records)
    }

    fn bytes(&self) -> u64 {
        self.lock().files.control.iter().map(|record| record.len() as u64).sum()
    }

    fn verify(&self) -> Result<Report, Fault> {
        let entries = self.lock().files.control.len() as u64;
        Ok(Report { head: Control::head(self), entries, segments: 1, warnings: Vec::new() })
    }
}

impl Tables for Disk {
    fn applied(&self) -> Result<Option<Head>, Error> {
        self.tables.applied()
    }
    fn apply(&self, batch: &TableBatch) -> Result<(), Error> {
        self.tables.apply(batch)?;
        self.lock().files.batches.push(Arc::new(batch.clone()));
        Ok(())
    }
    fn docs_after(&self, after: u64, limit: usize, up_to: u64) -> Result<DocPage, Error> {
        self.tables.docs_after(after, limit, up_to)
    }
    fn doc(&self, key: &str) -> Result<Option<Doc>, Error> {
        self.tables.doc(key)
    }
    fn verdict(&self, client: &[u8; 16], n: u64) -> Result<Option<u64>, Error> {
        self.tables.verdict(client, n)
    }
    fn notices_after(&self, person: &[u8; 16], after: NoticeAt, limit: usize) -> Result<Vec<Notice>, Error> {
        self.tables.notices_after(person, after, limit)
    }
    fn kv_get(&self, tree: &str, key: &[u8]) -> Result<Option<Vec<u8>>, Error> {
        self.tables.kv_get(tree, key)
    }
    fn kv_put(&self, tree: &str, key: &[u8], value: &[u8]) -> Result<(), Error> {
        self.tables.kv_put(tree, key, value)
    }
    fn kv_delete(&self, tree: &str, key: &[u8]) -> Result<(), Error> {
        self.tables.kv_delete(tree, key)
    }
    fn kv_list(&self, tree: &str) -> Result<Vec<KvPair>, Error> {
        self.tables.kv_list(tree)
    }
    fn clear(&self) -> Result<(), Error> {
        self.lock().files.batches.clear();
        self.tables.clear()
    }
    fn scrub(&self) -> Result<Scrub, Error> {
        self.tables.scrub()
    }
}

impl Snapshots for Disk {
    fn put_snapshot(&self, seq: u64, hash: &Hash, bytes: &[u8]) -> Result<(), Error> {
        let mut inner = self.lock();
        inner.files.snapshots.retain(|snapshot| snapshot.seq != seq);
        inner.files.snapshots.push(Snapshot { seq, hash: *hash, bytes: bytes.to_vec() });
        Ok(())
    }
    fn latest_snapshot(&self) -> Result<Option<Snapshot>, Error> {
        Ok(self.lock().files.snapshots.iter().max_by_key(|snapshot| snapshot.seq).cloned())
    }
    fn clear(&self) -> Result<(), Error> {
        self.lock().files.snapshots.clear();
        Ok(())
    }
}

impl Meta for Disk {
    fn epoch(&self) -> u64 {
        self.lock().files.epoch
    }
    fn start_epoch(&self, epoch: u64) -> Result<(), Error> {
        let mut inner = self.lock();
        inner.files.served = inner.files.log.len() as u64;
        inner.files.epoch = epoch;
        Ok(())
    }
    fn mark_served(&self, seq: u64) -> Result<(), Error> {
        let mut inner = self.lock();
        inner.files.served = inner.files.served.max(seq);
        Ok(())
    }
    fn served(&self) -> u64 {
        self.lock().files.served
    }
}

impl Store for Disk {
    fn log(&self) -> &dyn Log {
        self
    }
    fn control(&self) -> &dyn Control {
        self
    }
    fn tables(&self) -> &dyn Tables {
        self
    }
    fn snapshots(&self) -> &dyn Snapshots {
        self
    }
    fn photos(&self) -> &dyn Photos {
        self.other.photos()
    }
    fn meta(&self) -> &dyn Meta {
        self
    }
}
