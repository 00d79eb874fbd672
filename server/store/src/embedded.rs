//! The default store: one directory, plain files for what counts, sled for what can be rebuilt.
//!
//! ```text
//! LOCK         held while open; says by which process
//! meta         epoch and the highest served entry, checksummed
//! log/         the shop log             control/    the control journal
//! tables/      sled, rebuildable        snapshots/  the last two
//! photos/      by SHA-256               uploads/    unfinished ones
//! ```
//!
//! Opening, importing and restoring end in the same place: journals that were read and checked, and
//! tables that are brought up to the log by the caller.

mod meta;
mod photos;
mod sled_tables;
mod snapshots;

use crate::disk::{Disk, Held, LockError, RealDisk, make_dir};
use crate::error::{AppendError, Error, Fault};
use crate::journal::{self, Journal, JournalOptions};
use crate::memory::MemoryTables;
use crate::types::*;
use meta::{DiskMeta, Values};
use photos::DiskPhotos;
use sled_tables::SledTables;
use snapshots::DiskSnapshots;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What keeps the tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TablesIn {
    /// sled, in a directory of its own.
    Sled,
    /// Rebuilt at every start: for simulated disks, which sled knows nothing of.
    Memory,
}

/// How a data directory is opened.
#[derive(Clone)]
pub struct EmbeddedOptions {
    /// Random, from the caller; used only when the directory is new.
    pub epoch: u64,
    /// Start this epoch whatever the directory held: the answer to "served beyond head".
    pub new_epoch: Option<u64>,
    /// A journal begins a new file once the present one is this large.
    pub segment_bytes: u64,
    /// Whether copies of full segments are made in a thread of their own.
    pub background: bool,
    /// Size of sled's page cache.
    pub cache_bytes: u64,
    /// What keeps the tables.
    pub tables: TablesIn,
    /// The disk underneath; tests put one there that loses power.
    pub disk: Arc<dyn Disk>,
}

impl EmbeddedOptions {
    /// What a server uses: 16 MB segments, copies in the background, a 32 MB cache.
    pub fn new(epoch: u64) -> Self {
        EmbeddedOptions {
            epoch,
            new_epoch: None,
            segment_bytes: 16 << 20,
            background: true,
            cache_bytes: 32 << 20,
            tables: TablesIn::Sled,
            disk: Arc::new(RealDisk),
        }
    }
}

/// The store in one directory of one machine. Holds its lock while it lives.
pub struct Embedded {
    // Dropped in this order: the lock last.
    tables: Box<dyn Tables>,
    log: LogJournal,
    control: ControlJournal,
    snapshots: DiskSnapshots,
    photos: DiskPhotos,
    meta: DiskMeta,
    dir: PathBuf,
    _lock: Held,
}

/// What belongs to the store; other files in the directory are not ours.
const PARTS: [&str; 8] = ["LOCK", "meta", "log", "control", "tables", "snapshots", "photos", "uploads"];

/// An older directory, or one that was copied around, may be readable by everybody on the machine.
fn narrow(disk: &dyn Disk, dir: &Path) -> Result<(), Error> {
    let parts = PARTS.iter().map(|part| disk.narrow(&dir.join(part))).sum::<std::io::Result<u64>>();
    let own = disk.close_dir(dir);
    let narrowed = parts.and_then(|parts| Ok(parts + own?));
    let narrowed = narrowed.map_err(Error::io("cannot close the data directory to others"))?;
    if narrowed > 0 {
        tracing::warn!(
            dir = %dir.display(), narrowed,
            "others on this machine could read the shop's keys and data; now only its owner can. \
             If somebody may have read them, make every sign-in new."
        );
    }
    Ok(())
}

impl Embedded {
    /// Opens a data directory, or begins one. Reads and checks both journals.
    pub fn open(dir: &Path, options: EmbeddedOptions) -> Result<Self, Error> {
        let disk = options.disk.clone();
        let not_writable = |source| Error::NotWritable { dir: dir.to_owned(), source };
        make_dir(&*disk, dir).map_err(not_writable)?;
        let lock = disk.lock(&dir.join("LOCK")).map_err(|e| match e {
            LockError::HeldBy(pid) => Error::InUse { dir: dir.to_owned(), pid },
            LockError::Io(source) => not_writable(source),
        })?;
        narrow(&*disk, dir)?;
        // The names a killed process left are visible; make them safe before they are relied on.
        disk.sync_dir(dir).map_err(Error::io("cannot sync the data directory"))?;
        let journal = JournalOptions { segment_bytes: options.segment_bytes, background: options.background };
        let log = Journal::open(disk.clone(), &dir.join("log"), journal)?;
        let control = Journal::open(disk.clone(), &dir.join("control"), journal)?;
        let snapshots = DiskSnapshots::open(disk.clone(), &dir.join("snapshots"))?;
        let photos = DiskPhotos::open(disk.clone(), dir)?;
        let tables: Box<dyn Tables> = match options.tables {
            TablesIn::Memory => Box::<MemoryTables>::default(),
            TablesIn::Sled => Box::new(SledTables::open(&dir.join("tables"), options.cache_bytes)?),
        };
        let empty = log.head().seq == 0 && control.head().seq == 0;
        let head = log.head().seq;
        let meta = DiskMeta::open(disk, dir, options.epoch, options.new_epoch, empty, head)?;
        let store = Embedded {
            tables,
            log: LogJournal(log),
            control: ControlJournal(control),
            snapshots,
            photos,
            meta,
            dir: dir.to_owned(),
            _lock: lock,
        };
        store.compare_with_log(options.new_epoch.is_some())?;
        Ok(store)
    }

    /// The data directory.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// Verifies both journals of a directory without opening it: changes nothing, takes no lock.
    /// Returns the reports of the shop log and of the control journal.
    pub fn verify_dir(dir: &Path) -> Result<(Report, Report), Error> {
        Self::verify_on(&RealDisk, dir)
    }

    /// Reads both journals of a data directory that is not open; reports on the log, then on the control
    /// journal.
    pub fn verify_on(disk: &dyn Disk, dir: &Path) -> Result<(Report, Report), Error> {
        let verify = |name| journal::verify_dir(disk, &dir.join(name));
        Ok((verify("log")?, verify("control")?))
    }

    /// A log that lost its end, or was replaced, shows up against what was made from it.
    fn compare_with_log(&self, new_epoch: bool) -> Result<(), Error> {
        let head = self.log.0.head().seq;
        let beyond = |served, from| match served > head && !new_epoch {
            true => Err(Error::ServedBeyondHead { head, served, from }),
            false => Ok(()),
        };
        beyond(self.meta.now().served, "served mark")?;
        if let Ok(Some(applied)) = self.tables.applied() {
            beyond(applied.seq, "tables")?;
            if self.log.0.hash_at(applied.seq)? != Some(applied.hash) {
                tracing::warn!("the tables belong to another log; they are emptied");
                self.tables.clear()?;
            }
        }
        if let Some(seq) = self.snapshots.newest_seq()? {
            match new_epoch {
                true => self.snapshots.remove_beyond(head)?,
                false => beyond(seq, "snapshot")?,
            }
        }
        Ok(())
    }
}

impl Store for Embedded {
    fn log(&self) -> &dyn Log {
        &self.log
    }
    fn control(&self) -> &dyn Control {
        &self.control
    }
    fn tables(&self) -> &dyn Tables {
        &*self.tables
    }
    fn snapshots(&self) -> &dyn Snapshots {
        &self.snapshots
    }
    fn photos(&self) -> &dyn Photos {
        &self.photos
    }
    fn meta(&self) -> &dyn Meta {
        self
    }
}

impl Meta for Embedded {
    fn epoch(&self) -> u64 {
        self.meta.now().epoch
    }
    fn start_epoch(&self, epoch: u64) -> Result<(), Error> {
        self.meta.change(|_| Values { epoch, served: self.log.0.head().seq })
    }
    fn mark_served(&self, seq: u64) -> Result<(), Error> {
        self.meta.change(|now| Values { served: now.served.max(seq), ..now })
    }
    fn served(&self) -> u64 {
        self.meta.now().served
    }
}

struct LogJournal(Journal);

impl Log for LogJournal {
    fn head(&self) -> Head {
        self.0.head()
    }
    fn append(&self, expected_seq: u64, bodies: &[&[u8]]) -> Result<Head, AppendError> {
        self.0.append(Some(expected_seq), bodies)
    }
    fn read(&self, from_seq: u64, limit: usize) -> Result<Vec<Stored>, Error> {
        self.0.read(from_seq, limit)
    }
    fn replay(&self, from_seq: u64) -> Replay<'_, Stored> {
        self.0.replay(from_seq)
    }
    fn hash_at(&self, seq: u64) -> Result<Option<Hash>, Error> {
        self.0.hash_at(seq)
    }
    fn verify(&self) -> Result<Report, Fault> {
        self.0.verify()
    }
    fn read_only(&self) -> Option<String> {
        self.0.failed()
    }
}

struct ControlJournal(Journal);

impl Control for ControlJournal {
    fn head(&self) -> Head {
        self.0.head()
    }
    fn append(&self, records: &[&[u8]]) -> Result<Head, AppendError> {
        self.0.append(None, records)
    }
    fn replay(&self) -> Replay<'_, Vec<u8>> {
        match self.replay_after(Head::default()) {
            Ok(all) => Box::new(all.into_iter().flatten()),
            Err(e) => Box::new(std::iter::once(Err(e))),
        }
    }
    fn replay_after(&self, at: Head) -> Result<Option<Replay<'_, Vec<u8>>>, Error> {
        let steps = self.0.replay_held(at)?;
        Ok(steps.map(|steps| -> Replay<'_, Vec<u8>> { Box::new(steps.map(|e| Ok(e?.body))) }))
    }
    fn compact(&self, expected_seq: u64, records: &[&[u8]]) -> Result<Head, AppendError> {
        self.0.compact(expected_seq, records)
    }
    fn bytes(&self) -> u64 {
        self.0.bytes()
    }
    fn verify(&self) -> Result<Report, Fault> {
        self.0.verify()
    }
}
