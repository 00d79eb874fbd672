//! What can go wrong, each as one clear sentence for the person who runs the server.

use std::fmt;
use std::io;
use std::path::PathBuf;

use serde::Serialize;

/// Why an append stored nothing.
#[derive(Debug, thiserror::Error)]
pub enum AppendError {
    #[error("expected the journal to end at {expected}, but it ends at {head}; nothing was stored")]
    Conflict { expected: u64, head: u64 },
    #[error("entry {index} of the batch cannot be stored: {why}; nothing was stored")]
    Invalid { index: usize, why: &'static str },
    #[error("the disk is full; nothing of this batch was stored")]
    Full,
    /// A sync failed earlier: what the disk holds is unknown until the store is opened again.
    #[error("the store is read-only since a write could not be made safe ({why}); restart the server")]
    ReadOnly { why: String },
    #[error("the batch could not be written: {0}; nothing was stored")]
    Io(#[source] io::Error),
}

#[derive(Debug, thiserror::Error)]
pub enum Error {
    #[error("{what}: {source}")]
    Io { what: String, source: io::Error },
    #[error(transparent)]
    Damaged(#[from] Fault),
    /// The tables cannot be trusted: clear them and apply the log again. Nothing is lost.
    #[error("the tables must be rebuilt from the log: {why}")]
    Rebuild { why: String },
    /// The caller broke the order of the tables; nothing was changed.
    #[error("the tables refuse this batch: {why}")]
    Order { why: String },
    #[error("data directory {} is in use by process {pid}", dir.display())]
    InUse { dir: PathBuf, pid: u32 },
    #[error("data directory {} cannot be written: {source}", dir.display())]
    NotWritable { dir: PathBuf, source: io::Error },
    /// Phones hold more than the log: it was replaced by an older copy, or the disk lost its end.
    #[error(
        "the log ends at {head}, but {served} was already served ({from}); \
         restore a newer backup or start a new epoch"
    )]
    ServedBeyondHead { head: u64, served: u64, from: &'static str },
    #[error(
        "{} is damaged or missing although the log holds entries: {why}; \
         restore a backup or start a new epoch", file.display()
    )]
    Meta { file: PathBuf, why: String },
    #[error("{} was written by a newer version (format {format})", file.display())]
    NewerFormat { file: PathBuf, format: u32 },
    #[error("the control journal could not be written: {0}")]
    Append(#[from] AppendError),
    #[error("the backup cannot be restored: {why}")]
    Backup { why: String },
    #[error(transparent)]
    Photo(Box<PhotoError>),
}

impl Error {
    /// For `map_err`: what was being done when the operating system said no.
    pub(crate) fn io(what: impl Into<String>) -> impl FnOnce(io::Error) -> Error {
        let what = what.into();
        move |source| Error::Io { what, source }
    }
}

/// A record as the bytes that are kept of it. What cannot be written is an error: nothing else may stand in
/// its place.
pub fn json(what: &str, record: &impl Serialize) -> Result<Vec<u8>, Error> {
    serde_json::to_vec(record).map_err(|error| Error::io(format!("cannot write {what}"))(error.into()))
}

impl From<PhotoError> for Error {
    fn from(e: PhotoError) -> Self {
        match e {
            PhotoError::Store(e) => e,
            e => Error::Photo(Box::new(e)),
        }
    }
}

#[derive(Debug, thiserror::Error)]
pub enum PhotoError {
    #[error("upload {id} is not known")]
    Unknown { id: String },
    #[error("upload {id} exists already")]
    Exists { id: String },
    #[error("upload {id} continues at byte {expected}, not at {given}")]
    Offset { id: String, expected: u64, given: u64 },
    #[error("upload {id} does not have the promised SHA-256 and was discarded")]
    WrongHash { id: String },
    #[error("{name:?} cannot name an upload or a preview: use 1 to 64 letters, digits, - and _")]
    BadName { name: String },
    #[error("the disk is full; the photo is not stored")]
    Full,
    #[error(transparent)]
    Store(#[from] Error),
}

/// One place where a journal is not what was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// File name of the segment, inside the journal's directory.
    pub segment: String,
    /// 1 is the first line. 0: the segment as a whole.
    pub line: u64,
    /// The sequence number that belongs there.
    pub seq: u64,
    pub kind: FaultKind,
    /// A whole, checked copy of the segment is there to mend it from.
    pub mendable: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaultKind {
    /// The line is not one that the store writes.
    Unreadable,
    /// Sequence number, or the previous line's hash, do not follow: a gap, a reorder, a mixed file.
    OutOfOrder,
    /// The bytes are not those that were hashed.
    Edited,
    /// The segment ends before its last entry.
    Truncated,
    /// A segment between others, or after a sealed one, is not there.
    Missing,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = match self.kind {
            FaultKind::Unreadable => "cannot be read",
            FaultKind::OutOfOrder => "does not follow the line before it",
            FaultKind::Edited => "is not what was written",
            FaultKind::Truncated => "ends too early",
            FaultKind::Missing => "is missing",
        };
        write!(f, "journal segment {}", self.segment)?;
        if self.line > 0 {
            write!(f, ", line {}", self.line)?;
        }
        write!(f, " (entry {}) {what}; ", self.seq)?;
        f.write_str(if self.mendable {
            "a good copy is there: open the store to mend it"
        } else {
            "no good copy is there: keep this directory and restore the latest backup into a new one"
        })
    }
}

impl std::error::Error for Fault {}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    /// JSON has no maps with such keys.
    #[test]
    fn what_cannot_be_written_is_not_kept_as_something_else() {
        let unwritable = BTreeMap::from([((1, 2), "a part")]);
        let error = super::json("a record", &unwritable).unwrap_err();
        assert!(error.to_string().starts_with("cannot write a record: "), "{error}");
        assert_eq!(super::json("a record", &[1, 2]).unwrap(), b"[1,2]");
    }
}
