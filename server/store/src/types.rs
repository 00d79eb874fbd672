//! The traits every backend implements, with the isolation each promises.
//!
//! All are object-safe and `Send + Sync`: the server holds one `Arc<dyn Store>`.

use crate::error::{AppendError, Error, Fault, PhotoError};
use sha2::{Digest, Sha256};
use std::io::Read;

/// A SHA-256.
pub type Hash = [u8; 32];

/// The hash before the first entry.
pub const ZERO: Hash = [0; 32];

/// The chain: SHA-256 of the previous hash and the exact stored bytes.
pub fn chain(prev: &Hash, body: &[u8]) -> Hash {
    Sha256::new().chain_update(prev).chain_update(body).finalize().into()
}

/// The last durable entry. `seq` 0 with [`ZERO`] before the first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Head {
    /// Number of the entry.
    pub seq: u64,
    /// Its hash in the chain.
    pub hash: Hash,
}

/// One entry as it was stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stored {
    /// Its number, from 1.
    pub seq: u64,
    /// Hash of the entry before.
    pub prev: Hash,
    /// Its own hash: [`chain`] of `prev` and `body`.
    pub hash: Hash,
    /// The bytes, as they were given.
    pub body: Vec<u8>,
}

/// What `verify` has read and found right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// The last entry.
    pub head: Head,
    /// How many entries there are.
    pub entries: u64,
    /// In how many files.
    pub segments: u64,
    /// About second copies only; the entries themselves are whole.
    pub warnings: Vec<String>,
}

/// Entries as they are read; an error is the last item.
pub type Replay<'a, T> = Box<dyn Iterator<Item = Result<T, Error>> + 'a>;

/// The shop log: append-only, hash-chained, never compacted. Sequence numbers are 1, 2, 3 …
///
/// Any number of readers beside one writer; every method sees the durable head of its start.
pub trait Log: Send + Sync {
    /// The last entry that would survive a power cut now.
    fn head(&self) -> Head;

    /// Stores the batch whole or not at all, durable on return. Each body is one JSON value without
    /// a line break and without space around it, at most [`crate::MAX_BODY`] bytes.
    fn append(&self, expected_seq: u64, bodies: &[&[u8]]) -> Result<Head, AppendError>;

    /// At most `limit` entries from `from_seq` on (itself included), checked against their hashes.
    fn read(&self, from_seq: u64, limit: usize) -> Result<Vec<Stored>, Error>;

    /// From `from_seq` to the head of this moment, in constant memory, the chain checked. Ends
    /// after an error.
    fn replay(&self, from_seq: u64) -> Replay<'_, Stored>;

    /// The hash of that entry; [`ZERO`] for 0, none beyond the head.
    fn hash_at(&self, seq: u64) -> Result<Option<Hash>, Error>;

    /// Reads everything up to the head and finds any edit, gap, reorder or truncation inside it.
    /// Changes nothing. A lost end is found elsewhere: served mark, tables, backup, a phone's cursor.
    fn verify(&self) -> Result<Report, Fault>;

    /// Why the log no longer takes entries, if so.
    fn read_only(&self) -> Option<String>;
}

/// The control journal: names, credentials, devices, payloads. Synced like the log, compactable.
pub trait Control: Send + Sync {
    /// Counts every record ever appended, also over a compaction.
    fn head(&self) -> Head;

    /// Durable on return, whole or not at all. Same rules for bodies as the log.
    fn append(&self, records: &[&[u8]]) -> Result<Head, AppendError>;

    /// Everything since the last compaction, oldest first.
    fn replay(&self) -> Replay<'_, Vec<u8>>;

    /// What came after this record; none if the journal does not have it (any more, or in this history),
    /// or cannot say: then everything must be read.
    fn replay_after(&self, _at: Head) -> Result<Option<Replay<'_, Vec<u8>>>, Error> {
        Ok(None)
    }

    /// Replaces all records by these, atomically; refused if the head is no longer `expected_seq`
    /// (the caller gathered them from an older state). The old bytes are deleted.
    fn compact(&self, expected_seq: u64, records: &[&[u8]]) -> Result<Head, AppendError>;

    /// Bytes now held, to decide when to compact.
    fn bytes(&self) -> u64;

    /// As [`Log::verify`], for the records since the last compaction.
    fn verify(&self) -> Result<Report, Fault>;
}

/// A document as of the log entry that last changed it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doc {
    /// Names it: `kind/id`.
    pub key: String,
    /// The entry that last changed it.
    pub seq: u64,
    /// Its JSON; none: it is gone.
    pub body: Option<Vec<u8>>,
}

/// Where the answer to a client's n-th operation stands in the log.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Verdict {
    /// The client's id.
    pub client: [u8; 16],
    /// The operation's counter.
    pub n: u64,
    /// The entry that holds the answer.
    pub seq: u64,
}

/// Position among one person's notices: by entry, then by number within the entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct NoticeAt {
    /// The entry it comes from.
    pub seq: u64,
    /// Which of that entry's notices, counted from 0.
    pub idx: u32,
}

/// One notice of one person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Whose it is.
    pub person: [u8; 16],
    /// Its position.
    pub at: NoticeAt,
    /// Its JSON.
    pub body: Vec<u8>,
}

/// What the entries up to `seq` changed since the batch before.
#[derive(Debug, Clone, Default)]
pub struct TableBatch {
    /// The last entry of the batch.
    pub seq: u64,
    /// Its hash.
    pub hash: Hash,
    /// A key may come several times, in the order of its changes; the last one counts.
    pub docs: Vec<Doc>,
    /// New rows for "counts once".
    pub verdicts: Vec<Verdict>,
    /// New notices.
    pub notices: Vec<Notice>,
}

/// One page of changed documents.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DocPage {
    /// Ordered by (seq, key), tombstones included.
    pub docs: Vec<Doc>,
    /// The cursor after this page: everything up to this entry is in it or in earlier pages.
    pub to: u64,
    /// Whether there is another page.
    pub more: bool,
}

/// Key and value.
pub type KvPair = (Vec<u8>, Vec<u8>);

/// How much a scrub has read and found right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Scrub {
    /// Documents, tombstones included.
    pub docs: u64,
    /// Rows for "counts once".
    pub verdicts: u64,
    /// Notices.
    pub notices: u64,
}

/// Indexes that can be rebuilt from the log. Not durable on return: after a crash `applied` may be older or
/// none, and the caller applies the rest of the log again.
///
/// `apply` is atomic: readers see all of a batch or nothing. Any method may answer [`Error::Rebuild`]: then
/// `clear` and apply everything.
pub trait Tables: Send + Sync {
    /// The last call: leaves everything so that the next opening is quick. Any call after it answers
    /// [`Error::Rebuild`].
    fn close(&self) {}

    /// Up to which entry the tables are complete; none when empty.
    fn applied(&self) -> Result<Option<Head>, Error>;

    /// `batch.seq` must be greater than what is applied, and every row's seq within what is new
    /// (into empty tables: at most `batch.seq`), else [`Error::Order`] and nothing changes.
    fn apply(&self, batch: &TableBatch) -> Result<(), Error>;

    /// Documents last changed after `after` and not after `up_to`. `limit` is soft: a page never
    /// splits the documents of one entry, so a cursor between pages loses nothing.
    fn docs_after(&self, after: u64, limit: usize, up_to: u64) -> Result<DocPage, Error>;

    /// The same, only of documents whose key is wanted; others are passed over, if the backend can without
    /// reading them. A page may hold none and still not be the last.
    fn docs_after_if(
        &self,
        after: u64,
        limit: usize,
        up_to: u64,
        wanted: &dyn Fn(&str) -> bool,
    ) -> Result<DocPage, Error> {
        let mut page = self.docs_after(after, limit, up_to)?;
        page.docs.retain(|doc| wanted(&doc.key));
        Ok(page)
    }

    /// A document as it is now; none if it never was.
    fn doc(&self, key: &str) -> Result<Option<Doc>, Error>;

    /// The entry that answers this client's operation `n`; none if there is none.
    fn verdict(&self, client: &[u8; 16], n: u64) -> Result<Option<u64>, Error>;

    /// At most `limit` notices of a person that come after that position, in order.
    fn notices_after(&self, person: &[u8; 16], after: NoticeAt, limit: usize) -> Result<Vec<Notice>, Error>;

    /// Small values that are no part of the log: upload records, delivery cursors. May be lost with
    /// the tables, so losing one may cost a repetition and nothing else. `tree` without a zero byte.
    fn kv_get(&self, tree: &str, key: &[u8]) -> Result<Option<Vec<u8>>, Error>;
    /// Sets a value.
    fn kv_put(&self, tree: &str, key: &[u8], value: &[u8]) -> Result<(), Error>;
    /// Removes a value; fine if there is none.
    fn kv_delete(&self, tree: &str, key: &[u8]) -> Result<(), Error>;
    /// All of one tree, ordered by key.
    fn kv_list(&self, tree: &str) -> Result<Vec<KvPair>, Error>;

    /// Empties the tables, broken ones too. Key-value pairs that can still be read are kept.
    fn clear(&self) -> Result<(), Error>;

    /// Reads every row and compares count and digest; for the background.
    fn scrub(&self) -> Result<Scrub, Error>;
}

/// The state of the fold at one entry, so that a start need not read the whole log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Snapshot {
    /// The entry after which the state was this.
    pub seq: u64,
    /// That entry's hash: a snapshot of another history must not be used.
    pub hash: Hash,
    /// The state, as the caller wrote it.
    pub bytes: Vec<u8>,
}

/// Compressed, checksummed, the last two kept. Never the only copy of anything.
pub trait Snapshots: Send + Sync {
    /// Keeps a snapshot, and drops all but the last two.
    fn put_snapshot(&self, seq: u64, hash: &Hash, bytes: &[u8]) -> Result<(), Error>;
    /// The newest whole one; a damaged one is passed over. The caller compares its hash with the
    /// log's before using it.
    fn latest_snapshot(&self) -> Result<Option<Snapshot>, Error>;
    /// Forgets all of them, durably, because something in them must no longer exist anywhere.
    fn clear(&self) -> Result<(), Error>;
}

/// Which history this is, and up to where it was given to anybody.
pub trait Meta: Send + Sync {
    /// Random, from the caller, fixed until `start_epoch`.
    fn epoch(&self) -> u64;
    /// Begins another history: what phones hold of the one before no longer fits.
    fn start_epoch(&self, epoch: u64) -> Result<(), Error>;
    /// Remembers durably that entries up to `seq` were served (two syncs: call it about once a
    /// second, not per answer). Never goes down, except with a new epoch, to the head.
    fn mark_served(&self, seq: u64) -> Result<(), Error>;
    /// The mark; 0 if nothing was served.
    fn served(&self) -> u64;
}

/// A stored picture, open for reading.
pub struct PhotoFile {
    /// Its size in bytes.
    pub size: u64,
    /// Its bytes.
    pub reader: Box<dyn Read + Send>,
}

/// Photos under their SHA-256; a stored photo never changes. Uploads come in pieces.
pub trait Photos: Send + Sync {
    /// An empty upload. `id`: 1 to 64 of `A-Z a-z 0-9 - _`.
    fn begin_upload(&self, id: &str) -> Result<(), PhotoError>;
    /// Adds at exactly the present offset, durable on return; returns the new offset.
    fn write_at(&self, id: &str, offset: u64, bytes: &[u8]) -> Result<u64, PhotoError>;
    /// How many bytes of the upload have arrived.
    fn offset(&self, id: &str) -> Result<u64, PhotoError>;
    /// Unfinished uploads with their offsets, for clearing old ones.
    fn uploads(&self) -> Result<Vec<(String, u64)>, PhotoError>;
    /// The photo is stored, durably, if it has that hash; else the upload is discarded.
    fn finish(&self, id: &str, expected_sha256: &Hash) -> Result<(), PhotoError>;
    /// Removes an unfinished upload; fine if there is none.
    fn delete_upload(&self, id: &str) -> Result<(), PhotoError>;

    /// Whether the picture is stored.
    fn exists(&self, sha256: &Hash) -> Result<bool, PhotoError>;
    /// Opens a picture; none if it is not here.
    fn open(&self, sha256: &Hash) -> Result<Option<PhotoFile>, PhotoError>;
    /// Every stored picture.
    fn list(&self) -> Result<Vec<Hash>, PhotoError>;
    /// Removes a picture and its previews, durably; fine if it is not here.
    fn remove(&self, sha256: &Hash) -> Result<(), PhotoError>;
    /// The free share of their disk, 0 to 1; none where nobody can tell.
    fn free_share(&self) -> Option<f64>;

    /// Previews: may be lost at any time and made again.
    fn put_derived(&self, sha256: &Hash, name: &str, bytes: &[u8]) -> Result<(), PhotoError>;
    /// A preview by its name; none if it has to be made again.
    fn get_derived(&self, sha256: &Hash, name: &str) -> Result<Option<Vec<u8>>, PhotoError>;
}

/// Everything one shop keeps.
pub trait Store: Send + Sync {
    /// The shop log.
    fn log(&self) -> &dyn Log;
    /// The control journal.
    fn control(&self) -> &dyn Control;
    /// What can be rebuilt from the log.
    fn tables(&self) -> &dyn Tables;
    /// States of the fold.
    fn snapshots(&self) -> &dyn Snapshots;
    /// Pictures and uploads.
    fn photos(&self) -> &dyn Photos;
    /// Epoch and served mark.
    fn meta(&self) -> &dyn Meta;
}
