//! A disk in memory that loses power, for tests: it keeps only what was synced, and of the rest
//! whatever it likes.
//!
//! * Unsynced bytes of a file: all, none, the first writes with the last one torn, or single sectors
//!   of 512 bytes in any order (missing ones read as zeros), with any length in between.
//! * Unsynced names: a prefix of the changes (as a journalling file system) or any of them.
//! * A failed sync drops its pages: the next sync succeeds without them (as Linux does).
//!
//! `Lies` makes controls: a check that passes on a disk whose sync does nothing checks nothing.

use crate::disk::{Disk, DiskFile, Held, LockError, Mode};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard};

const SECTOR: usize = 512;

/// What a disk promises and does not keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Lies {
    /// It keeps its promises.
    #[default]
    None,
    /// `sync` of a file does nothing.
    Files,
    /// `sync_dir` does nothing.
    Names,
}

/// Clones are the same disk.
#[derive(Clone)]
pub struct SimDisk(Arc<Mutex<World>>);

#[derive(Clone)]
struct World {
    rng: ChaCha8Rng,
    lies: Lies,
    files: Vec<Content>,
    /// What running processes see, and what is safe.
    names: Names,
    safe: Names,
    changes: Vec<Change>,
    /// Handles from before a power cut are dead.
    boot: u64,
    locked: BTreeSet<PathBuf>,
    /// Operations until the power goes.
    left: Option<u64>,
    /// Syncs until one fails.
    failing_sync: Option<u64>,
    room: Option<usize>,
    read_only: bool,
    pub syncs: u64,
}

#[derive(Clone, Default)]
struct Names {
    files: BTreeMap<PathBuf, usize>,
    dirs: BTreeSet<PathBuf>,
}

#[derive(Clone)]
enum Change {
    Put(PathBuf, usize),
    Remove(PathBuf),
    Rename(PathBuf, PathBuf, usize),
    Dir(PathBuf),
}

#[derive(Clone, Default)]
struct Content {
    live: Vec<u8>,
    safe: Vec<u8>,
    pending: Vec<Write>,
}

#[derive(Clone)]
enum Write {
    At(usize, Vec<u8>),
    Len(usize),
}

impl Write {
    fn apply(&self, to: &mut Vec<u8>) {
        match self {
            Write::Len(len) => to.resize(*len, 0),
            // Writing nothing does not lengthen a file.
            Write::At(_, bytes) if bytes.is_empty() => {}
            Write::At(at, bytes) => {
                to.resize(to.len().max(at + bytes.len()), 0);
                to[*at..at + bytes.len()].copy_from_slice(bytes);
            }
        }
    }
}

impl Change {
    fn touches(&self, dir: &Path) -> bool {
        let within = |p: &Path| p.parent() == Some(dir);
        match self {
            Change::Put(p, _) | Change::Remove(p) | Change::Dir(p) => within(p),
            Change::Rename(from, to, _) => within(from) || within(to),
        }
    }

    fn apply(&self, to: &mut Names) {
        match self {
            Change::Put(path, file) => _ = to.files.insert(path.clone(), *file),
            Change::Remove(path) => _ = to.files.remove(path),
            Change::Dir(path) => _ = to.dirs.insert(path.clone()),
            Change::Rename(from, into, file) => {
                to.files.remove(from);
                to.files.insert(into.clone(), *file);
            }
        }
    }
}

/// Below `n`; 0 for 0.
pub fn below(rng: &mut ChaCha8Rng, n: usize) -> usize {
    if n == 0 { 0 } else { (rng.next_u64() % n as u64) as usize }
}

impl Content {
    fn cut(&mut self, rng: &mut ChaCha8Rng) {
        let mut kept = self.safe.clone();
        if !self.pending.is_empty() {
            match below(rng, 4) {
                0 => {}
                1 => self.pending.iter().for_each(|w| w.apply(&mut kept)),
                2 => {
                    let whole = below(rng, self.pending.len());
                    self.pending[..whole].iter().for_each(|w| w.apply(&mut kept));
                    if let Write::At(at, bytes) = &self.pending[whole] {
                        Write::At(*at, bytes[..below(rng, bytes.len() + 1)].to_vec()).apply(&mut kept);
                    }
                }
                _ => self.cut_sectors(rng, &mut kept),
            }
        }
        *self = Content { live: kept.clone(), safe: kept, pending: Vec::new() };
    }

    fn cut_sectors(&self, rng: &mut ChaCha8Rng, kept: &mut Vec<u8>) {
        let mut new = self.safe.clone();
        self.pending.iter().for_each(|w| w.apply(&mut new));
        let (short, long) = (kept.len().min(new.len()), kept.len().max(new.len()));
        kept.resize(long, 0);
        new.resize(long, 0);
        for at in (0..long).step_by(SECTOR) {
            let end = (at + SECTOR).min(long);
            if below(rng, 2) == 0 {
                kept[at..end].copy_from_slice(&new[at..end]);
            }
        }
        kept.truncate(match below(rng, 3) {
            0 => short,
            1 => long,
            _ => short + below(rng, long - short + 1),
        });
    }
}

fn power_gone() -> io::Error {
    io::Error::other("the power is gone")
}

impl SimDisk {
    /// An empty disk; the seed decides what a power cut leaves.
    pub fn new(seed: u64) -> Self {
        SimDisk(Arc::new(Mutex::new(World {
            rng: ChaCha8Rng::seed_from_u64(seed),
            lies: Lies::None,
            files: Vec::new(),
            names: Names::default(),
            safe: Names::default(),
            changes: Vec::new(),
            boot: 0,
            locked: BTreeSet::new(),
            left: None,
            failing_sync: None,
            room: None,
            read_only: false,
            syncs: 0,
        })))
    }

    fn world(&self) -> MutexGuard<'_, World> {
        self.0.lock().unwrap_or_else(|e| e.into_inner())
    }

    /// How the disk lies from now on.
    pub fn lie(&self, lies: Lies) {
        self.world().lies = lies;
    }

    /// The power goes in the middle of that operation, counted from now.
    pub fn cut_after(&self, operations: u64) {
        self.world().left = Some(operations);
    }

    /// That sync from now on fails, once.
    pub fn fail_sync_after(&self, syncs: u64) {
        self.world().failing_sync = Some(syncs);
    }

    /// Bytes that may still be written before the disk is full; none: no limit.
    pub fn set_room(&self, room: Option<usize>) {
        self.world().room = room;
    }

    /// Whether writing fails, as on a disk that was remounted read-only.
    pub fn set_read_only(&self, read_only: bool) {
        self.world().read_only = read_only;
    }

    /// File and directory syncs so far.
    pub fn syncs(&self) -> u64 {
        self.world().syncs
    }

    /// Whether `cut_after` has struck.
    pub fn is_off(&self) -> bool {
        self.world().left == Some(0)
    }

    /// The power goes now (or went) and comes back: what was not synced is at the disk's mercy.
    pub fn power_cycle(&self) {
        let w = &mut *self.world();
        let changes = std::mem::take(&mut w.changes);
        let in_order = below(&mut w.rng, 2) == 0;
        let first = below(&mut w.rng, changes.len() + 1);
        for (i, change) in changes.iter().enumerate() {
            if if in_order { i < first } else { below(&mut w.rng, 2) == 0 } {
                change.apply(&mut w.safe);
            }
        }
        let dirs = w.safe.dirs.clone();
        let reachable = |p: &Path| {
            p.parent().is_none_or(|d| d.ancestors().all(|a| a.parent().is_none() || dirs.contains(a)))
        };
        w.safe.files.retain(|p, _| reachable(p));
        w.safe.dirs.retain(|p| reachable(p));
        for file in &mut w.files {
            file.cut(&mut w.rng);
        }
        w.names = w.safe.clone();
        w.restart();
    }

    /// The process dies and starts again; the system's cache stays, and so does what is not safe.
    pub fn kill(&self) {
        self.world().restart();
    }

    /// An independent disk with the same content, everything on it safe.
    pub fn fork(&self) -> SimDisk {
        let mut w = self.world().clone();
        for file in &mut w.files {
            file.safe = file.live.clone();
            file.pending.clear();
        }
        w.safe = w.names.clone();
        w.changes.clear();
        w.locked.clear();
        SimDisk(Arc::new(Mutex::new(w)))
    }

    /// All files, by path.
    pub fn paths(&self) -> Vec<PathBuf> {
        self.world().names.files.keys().cloned().collect()
    }

    /// The bytes of a file as the process sees them.
    pub fn read(&self, path: &Path) -> Option<Vec<u8>> {
        let w = self.world();
        Some(w.files[*w.names.files.get(path)?].live.clone())
    }

    /// Puts these bytes on the disk as if they had always been there: rot, or somebody's editor.
    pub fn replace(&self, path: &Path, bytes: &[u8]) {
        let mut w = self.world();
        w.files.push(Content { live: bytes.to_vec(), safe: bytes.to_vec(), pending: Vec::new() });
        let file = w.files.len() - 1;
        w.names.files.insert(path.to_owned(), file);
        w.safe.files.insert(path.to_owned(), file);
    }
}

impl SimDisk {
    /// Removes a file as if it had never been there.
    pub fn delete(&self, path: &Path) {
        let mut w = self.world();
        w.names.files.remove(path);
        w.safe.files.remove(path);
    }
}

impl World {
    fn restart(&mut self) {
        self.boot += 1;
        self.left = None;
        self.failing_sync = None;
        self.locked.clear();
    }

    fn step(&mut self) -> io::Result<()> {
        match &mut self.left {
            Some(0) => Err(power_gone()),
            Some(left) => {
                *left -= 1;
                Ok(())
            }
            None => Ok(()),
        }
    }

    /// For what changes the disk: the last operation happens, and the power goes before it answers.
    fn after(&self) -> io::Result<()> {
        if self.left == Some(0) { Err(power_gone()) } else { Ok(()) }
    }

    fn changed(&mut self, change: Change) -> io::Result<()> {
        if self.read_only {
            return Err(ErrorKind::ReadOnlyFilesystem.into());
        }
        change.apply(&mut self.names);
        self.changes.push(change);
        self.after()
    }

    fn sync_fails(&mut self) -> bool {
        self.syncs += 1;
        match &mut self.failing_sync {
            Some(0) => {
                self.failing_sync = None;
                true
            }
            Some(n) => {
                *n -= 1;
                false
            }
            None => false,
        }
    }
}

impl Disk for SimDisk {
    fn open(&self, path: &Path, mode: Mode) -> io::Result<Arc<dyn DiskFile>> {
        let mut w = self.world();
        w.step()?;
        let file = match w.names.files.get(path) {
            Some(file) => *file,
            None if mode == Mode::Create => {
                if !w.names.dirs.contains(path.parent().unwrap_or(path)) {
                    return Err(ErrorKind::NotFound.into());
                }
                w.files.push(Content::default());
                let file = w.files.len() - 1;
                w.changed(Change::Put(path.to_owned(), file))?;
                file
            }
            None => return Err(ErrorKind::NotFound.into()),
        };
        let boot = w.boot;
        Ok(Arc::new(SimFile { disk: self.clone(), file, boot }))
    }

    fn make_dir(&self, dir: &Path) -> io::Result<()> {
        let mut w = self.world();
        w.step()?;
        let missing: Vec<_> =
            dir.ancestors().filter(|d| d.parent().is_some() && !w.names.dirs.contains(*d)).collect();
        missing.into_iter().rev().try_for_each(|d| w.changed(Change::Dir(d.to_owned())))
    }

    fn list(&self, dir: &Path) -> io::Result<Vec<String>> {
        let mut w = self.world();
        w.step()?;
        if !w.names.dirs.contains(dir) {
            return Err(ErrorKind::NotFound.into());
        }
        let all = w.names.files.keys().chain(&w.names.dirs).filter(|p| p.parent() == Some(dir));
        Ok(all.filter_map(|p| Some(p.file_name()?.to_string_lossy().into_owned())).collect())
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        let mut w = self.world();
        w.step()?;
        let file = *w.names.files.get(from).ok_or(ErrorKind::NotFound)?;
        w.changed(Change::Rename(from.to_owned(), to.to_owned(), file))
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        let mut w = self.world();
        w.step()?;
        if !w.names.files.contains_key(path) {
            return Err(ErrorKind::NotFound.into());
        }
        w.changed(Change::Remove(path.to_owned()))
    }

    fn sync_dir(&self, dir: &Path) -> io::Result<()> {
        let w = &mut *self.world();
        w.step()?;
        w.after()?;
        if w.sync_fails() {
            return Err(io::Error::other("sync of a directory failed"));
        }
        if w.lies != Lies::Names {
            let (now, later) = std::mem::take(&mut w.changes).into_iter().partition(|c| c.touches(dir));
            w.changes = later;
            let now: Vec<Change> = now;
            now.iter().for_each(|c| c.apply(&mut w.safe));
        }
        Ok(())
    }

    fn lock(&self, path: &Path) -> Result<Held, LockError> {
        let mut w = self.world();
        if w.read_only {
            return Err(LockError::Io(ErrorKind::ReadOnlyFilesystem.into()));
        }
        if !w.locked.insert(path.to_owned()) {
            return Err(LockError::HeldBy(std::process::id()));
        }
        let boot = w.boot;
        Ok(Box::new(SimLock { disk: self.clone(), path: path.to_owned(), boot }))
    }
}

struct SimLock {
    disk: SimDisk,
    path: PathBuf,
    boot: u64,
}

impl Drop for SimLock {
    fn drop(&mut self) {
        let mut w = self.disk.world();
        if w.boot == self.boot {
            w.locked.remove(&self.path);
        }
    }
}

struct SimFile {
    disk: SimDisk,
    file: usize,
    boot: u64,
}

impl SimFile {
    fn world(&self) -> io::Result<MutexGuard<'_, World>> {
        let mut w = self.disk.world();
        if w.boot != self.boot {
            return Err(power_gone());
        }
        w.step()?;
        Ok(w)
    }

    fn change(&self, w: &mut World, write: Write) -> io::Result<()> {
        let file = &mut w.files[self.file];
        write.apply(&mut file.live);
        file.pending.push(write);
        w.after()
    }
}

impl DiskFile for SimFile {
    fn read_at(&self, offset: u64, buf: &mut [u8]) -> io::Result<usize> {
        let w = self.world()?;
        let rest = w.files[self.file].live.get(offset as usize..).unwrap_or_default();
        let n = rest.len().min(buf.len());
        buf[..n].copy_from_slice(&rest[..n]);
        Ok(n)
    }

    fn write_at(&self, offset: u64, bytes: &[u8]) -> io::Result<()> {
        let mut w = self.world()?;
        let room = w.room.unwrap_or(usize::MAX);
        let fits = bytes.len().min(room);
        w.room = w.room.map(|r| r - fits);
        self.change(&mut w, Write::At(offset as usize, bytes[..fits].to_vec()))?;
        if fits < bytes.len() { Err(ErrorKind::StorageFull.into()) } else { Ok(()) }
    }

    fn size(&self) -> io::Result<u64> {
        Ok(self.world()?.files[self.file].live.len() as u64)
    }

    fn set_len(&self, len: u64) -> io::Result<()> {
        let mut w = self.world()?;
        self.change(&mut w, Write::Len(len as usize))
    }

    fn sync(&self) -> io::Result<()> {
        let w = &mut *self.world()?;
        w.after()?;
        let fails = w.sync_fails();
        let file = &mut w.files[self.file];
        if w.lies == Lies::Files {
            return Ok(());
        }
        let pending = std::mem::take(&mut file.pending);
        if fails {
            return Err(io::Error::other("sync failed"));
        }
        pending.iter().for_each(|write| write.apply(&mut file.safe));
        Ok(())
    }
}
