//! What can go wrong, each as one clear sentence for the person who runs the server.

use std::fmt;
use std::io;
use std::path::PathBuf;

use serde::Serialize;

/// Why an append stored nothing.
#[derive(Debug, thiserror::Error)]
pub enum AppendError {
    /// The caller decided on an older head.
    #[error("expected the journal to end at {expected}, but it ends at {head}; nothing was stored")]
    Conflict {
        /// The head the caller meant.
        expected: u64,
        /// The head there is.
        head: u64,
    },
    /// One of the bodies breaks the rules for bodies.
    #[error("entry {index} of the batch cannot be stored: {why}; nothing was stored")]
    Invalid {
        /// Which one of the batch, counted from 0.
        index: usize,
        /// Which rule.
        why: &'static str,
    },
    /// No space is left.
    #[error("the disk is full; nothing of this batch was stored")]
    Full,
    /// A sync failed earlier: what the disk holds is unknown until the store is opened again.
    #[error("the store is read-only since a write could not be made safe ({why}); restart the server")]
    ReadOnly {
        /// What failed then.
        why: String,
    },
    /// The operating system's error; what had been written of the batch was taken back.
    #[error("the batch could not be written: {0}; nothing was stored")]
    Io(#[source] io::Error),
}

/// Why the store could not do what it was asked.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The operating system said no.
    #[error("{what}: {source}")]
    Io {
        /// What was being done, as a sentence's beginning.
        what: String,
        /// The operating system's error.
        source: io::Error,
    },
    /// A journal is not what was written.
    #[error(transparent)]
    Damaged(#[from] Fault),
    /// The tables cannot be trusted: clear them and apply the log again. Nothing is lost.
    #[error("the tables must be rebuilt from the log: {why}")]
    Rebuild {
        /// What was found.
        why: String,
    },
    /// The caller broke the order of the tables; nothing was changed.
    #[error("the tables refuse this batch: {why}")]
    Order {
        /// Which rule of [`crate::Tables::apply`] was broken.
        why: String,
    },
    /// Another process has the data directory open.
    #[error("data directory {} is in use by process {pid}", dir.display())]
    InUse {
        /// The data directory.
        dir: PathBuf,
        /// That process.
        pid: u32,
    },
    /// The data directory cannot be made or written.
    #[error("data directory {} cannot be written: {source}", dir.display())]
    NotWritable {
        /// The data directory.
        dir: PathBuf,
        /// The operating system's error.
        source: io::Error,
    },
    /// Phones hold more than the log: it was replaced by an older copy, or the disk lost its end.
    #[error(
        "the log ends at {head}, but {served} was already served ({from}); \
         restore a newer backup or start a new epoch"
    )]
    ServedBeyondHead {
        /// Where the log ends.
        head: u64,
        /// What somebody was already given.
        served: u64,
        /// Who knows that: the served mark, the tables.
        from: &'static str,
    },
    /// The file with epoch and served mark cannot be believed.
    #[error(
        "{} is damaged or missing although the log holds entries: {why}; \
         restore a backup or start a new epoch", file.display()
    )]
    Meta {
        /// Which file.
        file: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// The file belongs to a later version of this program.
    #[error("{} was written by a newer version (format {format})", file.display())]
    NewerFormat {
        /// Which file.
        file: PathBuf,
        /// Its format.
        format: u32,
    },
    /// The control journal took nothing.
    #[error("the control journal could not be written: {0}")]
    Append(#[from] AppendError),
    /// A backup is incomplete, damaged or does not fit where it is to go.
    #[error("the backup cannot be restored: {why}")]
    Backup {
        /// What is wrong.
        why: String,
    },
    /// Something about photos.
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

/// A record as the bytes that are stored. One that cannot be serialised is an error: nothing else may be stored
/// in its place.
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

/// Why something about a photo or an upload failed.
#[derive(Debug, thiserror::Error)]
pub enum PhotoError {
    /// No such upload was begun, or it is finished or deleted.
    #[error("upload {id} is not known")]
    Unknown {
        /// Which upload.
        id: String,
    },
    /// An upload with this id was begun before.
    #[error("upload {id} exists already")]
    Exists {
        /// Which upload.
        id: String,
    },
    /// The next piece must follow the last one without gap or overlap.
    #[error("upload {id} continues at byte {expected}, not at {given}")]
    Offset {
        /// Which upload.
        id: String,
        /// The upload's present length in bytes.
        expected: u64,
        /// Where the piece was to go.
        given: u64,
    },
    /// What arrived is not what was announced.
    #[error("upload {id} does not have the promised SHA-256 and was discarded")]
    WrongHash {
        /// Which upload.
        id: String,
    },
    /// The name could lead out of the directory.
    #[error("{name:?} cannot name an upload or a preview: use 1 to 64 letters, digits, - and _")]
    BadName {
        /// The name.
        name: String,
    },
    /// No space is left.
    #[error("the disk is full; the photo is not stored")]
    Full,
    /// Something below failed.
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
    /// The number of the entry that belongs there.
    pub seq: u64,
    /// What is wrong there.
    pub kind: FaultKind,
    /// A whole, checked copy of the segment exists and can take its place.
    pub mendable: bool,
}

/// What is wrong at one place of a journal.
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
