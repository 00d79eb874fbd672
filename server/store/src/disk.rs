//! The few file operations the store is built from, so that tests can put a disk underneath that
//! loses power. Nothing else in this crate touches files, except sled, whose files may be lost.
//!
//! What the operations mean, and what callers rely on:
//! * bytes written are safe after `sync` of that file, and only then;
//! * a name (created, renamed, removed) is safe after `sync_dir` of its directory, and only then;
//! * `rename` replaces its target in one step.

use std::any::Any;
use std::fs::{self, DirBuilder, File, OpenOptions, Permissions};
use std::io::{self, ErrorKind};
use std::os::unix::fs::{DirBuilderExt, FileExt, OpenOptionsExt, PermissionsExt};
use std::path::Path;
use std::sync::Arc;

/// How a file is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// For reading; it must be there.
    Read,
    /// For reading and writing; it must be there.
    Write,
    /// For reading and writing; made if it is not there.
    Create,
}

/// The operations on names. The module says what each promises after a power cut.
pub trait Disk: Send + Sync {
    /// Opens a file.
    fn open(&self, path: &Path, mode: Mode) -> io::Result<Arc<dyn DiskFile>>;
    /// Makes a directory with its parents; fine if it is there.
    fn make_dir(&self, dir: &Path) -> io::Result<()>;
    /// Names in the directory, in any order.
    fn list(&self, dir: &Path) -> io::Result<Vec<String>>;
    /// Gives a file another name, replacing what had it, in one step.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Removes a file.
    fn remove(&self, path: &Path) -> io::Result<()>;
    /// Makes the names in a directory safe.
    fn sync_dir(&self, dir: &Path) -> io::Result<()>;
    /// Takes away what others may read or write under the path; returns how many files and directories that
    /// were.
    fn narrow(&self, _path: &Path) -> io::Result<u64> {
        Ok(0)
    }
    /// The same for the directory alone, not for what is in it.
    fn close_dir(&self, _dir: &Path) -> io::Result<u64> {
        Ok(0)
    }
    /// Locks a file until the returned value is dropped or the process dies.
    fn lock(&self, path: &Path) -> Result<Held, LockError>;
    /// How much of the file system is free for us, from 0 to 1; none where nobody knows.
    fn free_share(&self, _path: &Path) -> Option<f64> {
        None
    }
}

/// The operations on an open file.
pub trait DiskFile: Send + Sync {
    /// Reads at most `buf.len()` bytes; returns how many, 0 at the end.
    fn read_at(&self, offset: u64, buf: &mut [u8]) -> io::Result<usize>;
    /// Writes all of the bytes, or is an error.
    fn write_at(&self, offset: u64, bytes: &[u8]) -> io::Result<()>;
    /// Length in bytes.
    fn size(&self) -> io::Result<u64>;
    /// Cuts the file off, or extends it with zeros.
    fn set_len(&self, len: u64) -> io::Result<()>;
    /// Makes bytes and length safe, as `fdatasync` does.
    fn sync(&self) -> io::Result<()>;
}

/// A lock; dropping it lets go.
pub type Held = Box<dyn Any + Send + Sync>;

/// Why a file cannot be locked.
#[derive(Debug)]
pub enum LockError {
    /// Another process has it; its id, 0 if that is not known.
    HeldBy(u32),
    /// The operating system's own error.
    Io(io::Error),
}

/// The journals hold the shop's keys, so only their owner may read them.
const DIRECTORY: u32 = 0o700;
const FILE: u32 = 0o600;

/// The operating system's files.
pub struct RealDisk;

impl Disk for RealDisk {
    fn open(&self, path: &Path, mode: Mode) -> io::Result<Arc<dyn DiskFile>> {
        let mut how = OpenOptions::new();
        how.read(true).write(mode != Mode::Read).create(mode == Mode::Create).mode(FILE);
        Ok(Arc::new(how.open(path)?))
    }

    #[cfg(unix)]
    fn free_share(&self, path: &Path) -> Option<f64> {
        let about = rustix::fs::statvfs(path).ok().filter(|about| about.f_blocks > 0)?;
        Some(about.f_bavail as f64 / about.f_blocks as f64)
    }

    fn make_dir(&self, dir: &Path) -> io::Result<()> {
        DirBuilder::new().recursive(true).mode(DIRECTORY).create(dir)
    }

    fn narrow(&self, path: &Path) -> io::Result<u64> {
        let found = match fs::symlink_metadata(path) {
            Err(e) if e.kind() == ErrorKind::NotFound => return Ok(0),
            other => other?,
        };
        // What a link leads to is not ours to change.
        if found.is_symlink() {
            return Ok(0);
        }
        let mut narrowed = close(path, &found)?;
        if found.is_dir() {
            for entry in fs::read_dir(path)? {
                narrowed += self.narrow(&entry?.path())?;
            }
        }
        Ok(narrowed)
    }

    fn close_dir(&self, dir: &Path) -> io::Result<u64> {
        close(dir, &fs::metadata(dir)?)
    }

    fn list(&self, dir: &Path) -> io::Result<Vec<String>> {
        fs::read_dir(dir)?.map(|e| Ok(e?.file_name().to_string_lossy().into_owned())).collect()
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }

    fn sync_dir(&self, dir: &Path) -> io::Result<()> {
        File::open(dir)?.sync_all()
    }

    fn lock(&self, path: &Path) -> Result<Held, LockError> {
        let how =
            OpenOptions::new().read(true).write(true).create(true).truncate(false).mode(FILE).open(path);
        let file = how.map_err(LockError::Io)?;
        match file.try_lock() {
            Ok(()) => {
                let pid = format!("{}\n", std::process::id());
                file.set_len(0).and_then(|()| file.write_all_at(pid.as_bytes(), 0)).map_err(LockError::Io)?;
                Ok(Box::new(file))
            }
            Err(fs::TryLockError::WouldBlock) => {
                let pid = fs::read_to_string(path).ok().and_then(|s| s.trim().parse().ok());
                Err(LockError::HeldBy(pid.unwrap_or(0)))
            }
            Err(fs::TryLockError::Error(e)) => Err(LockError::Io(e)),
        }
    }
}

impl DiskFile for File {
    fn read_at(&self, offset: u64, buf: &mut [u8]) -> io::Result<usize> {
        FileExt::read_at(self, buf, offset)
    }

    fn write_at(&self, offset: u64, bytes: &[u8]) -> io::Result<()> {
        FileExt::write_all_at(self, bytes, offset)
    }

    fn size(&self) -> io::Result<u64> {
        Ok(self.metadata()?.len())
    }

    fn set_len(&self, len: u64) -> io::Result<()> {
        File::set_len(self, len)
    }

    fn sync(&self) -> io::Result<()> {
        self.sync_data()
    }
}

fn close(path: &Path, found: &fs::Metadata) -> io::Result<u64> {
    let mode = found.permissions().mode() & 0o7777;
    if mode & 0o077 == 0 {
        return Ok(0);
    }
    fs::set_permissions(path, Permissions::from_mode(mode & 0o700))?;
    Ok(1)
}

pub(crate) fn is_full(e: &io::Error) -> bool {
    matches!(e.kind(), ErrorKind::StorageFull | ErrorKind::QuotaExceeded)
}

/// Makes a directory inside an existing one and its name safe.
pub(crate) fn make_dir(disk: &dyn Disk, dir: &Path) -> io::Result<()> {
    disk.make_dir(dir)?;
    match dir.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => disk.sync_dir(parent),
        _ => Ok(()),
    }
}

pub(crate) fn read_at_most(file: &dyn DiskFile, offset: u64, len: usize) -> io::Result<Vec<u8>> {
    let mut bytes = vec![0; len];
    let mut have = 0;
    while have < len {
        match file.read_at(offset + have as u64, &mut bytes[have..])? {
            0 => break,
            n => have += n,
        }
    }
    bytes.truncate(have);
    Ok(bytes)
}

/// None: there is no such file.
pub(crate) fn read_file(disk: &dyn Disk, path: &Path) -> io::Result<Option<Vec<u8>>> {
    match disk.open(path, Mode::Read) {
        Ok(file) => Ok(Some(read_at_most(&*file, 0, file.size()? as usize)?)),
        Err(e) if e.kind() == ErrorKind::NotFound => Ok(None),
        Err(e) => Err(e),
    }
}

/// The file has either its old content or, safely, this one.
pub(crate) fn write_file(disk: &dyn Disk, dir: &Path, name: &str, bytes: &[u8]) -> io::Result<()> {
    let temporary = dir.join(format!("{name}.tmp"));
    let file = disk.open(&temporary, Mode::Create)?;
    file.set_len(0)?;
    file.write_at(0, bytes)?;
    file.sync()?;
    drop(file);
    disk.rename(&temporary, &dir.join(name))?;
    disk.sync_dir(dir)
}

/// Removes what an interrupted `write_file` left.
pub(crate) fn remove_temporary(disk: &dyn Disk, dir: &Path) -> io::Result<()> {
    for name in disk.list(dir)? {
        if name.ends_with(".tmp") {
            disk.remove(&dir.join(name))?;
        }
    }
    Ok(())
}
