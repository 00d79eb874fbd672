//! Backup and restore, the same for every backend: a backup is a tar of plain files.
//!
//! ```text
//! manifest.json             format, epoch, heads of both journals at the start of the backup
//! control/all.json          one record a line
//! photos/<sha256>
//! log/<first entry>.log     lines as the embedded store writes them
//! end.json                  without it the file was cut short
//! ```
//!
//! Taken while the store runs: what was durable when it began is in it, whatever comes meanwhile.
//! Restoring appends everything anew into an empty store, so every hash is computed again and must
//! meet the manifest; it begins with the served mark, so a restore cut short cannot be mistaken for
//! a whole one.

use crate::embedded::{Embedded, EmbeddedOptions};
use crate::error::{Error, PhotoError};
use crate::journal;
use crate::types::*;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::io::{self, Read, Write};
use std::path::Path;

const FORMAT: u32 = 1;

/// Log lines are gathered up to this size before they go into the tar as one file.
const PART_BYTES: usize = 8 << 20;

/// Entries appended at once while restoring.
const BATCH: usize = 1000;

#[derive(Serialize, Deserialize)]
struct Manifest {
    format: u32,
    epoch: String,
    log_seq: u64,
    #[serde(with = "hex")]
    log_hash: Hash,
    control_records: u64,
}

#[derive(Serialize, Deserialize, PartialEq, Eq, Debug)]
struct End {
    log_entries: u64,
    photos: u64,
}

/// What a restore brought back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Restored {
    /// Head of the restored log.
    pub head: Head,
    /// How many records the control journal has.
    pub control_records: u64,
    /// How many photos came back.
    pub photos: u64,
    /// Of the store that was backed up; the restored one has another.
    pub former_epoch: u64,
}

fn io_error(e: io::Error) -> Error {
    Error::Io { what: "the backup cannot be written or read".into(), source: e }
}

fn bad(why: impl Into<String>) -> Error {
    Error::Backup { why: why.into() }
}

/// Writes everything that is durable now.
pub fn backup(store: &dyn Store, dest: &mut dyn Write) -> Result<Head, Error> {
    let head = store.log().head();
    let mut records = Vec::new();
    let mut control_records = 0;
    for record in store.control().replay() {
        records.extend_from_slice(&record?);
        records.push(b'\n');
        control_records += 1;
    }
    let epoch = format!("{:016x}", store.meta().epoch());
    let manifest =
        Manifest { format: FORMAT, epoch, log_seq: head.seq, log_hash: head.hash, control_records };
    let mut tar = tar::Builder::new(dest);
    put(&mut tar, "manifest.json", &serde_json::to_vec(&manifest).map_err(|e| io_error(e.into()))?)?;
    put(&mut tar, "control/all.json", &records)?;
    // Before the log, so that no entry arrives without its photo.
    let mut photos = 0;
    for sha256 in store.photos().list()? {
        match whole_photo(store.photos(), &sha256)? {
            Some(bytes) => {
                put(&mut tar, &format!("photos/{}", hex::encode(sha256)), &bytes)?;
                photos += 1;
            }
            // Everything else must not go without a backup because of it.
            None => tracing::error!(photo = hex::encode(sha256), "damaged, so it is not in the backup"),
        }
    }
    let (mut part, mut first) = (Vec::new(), 1);
    for entry in store.log().replay(1) {
        let entry = entry?;
        if entry.seq > head.seq {
            break;
        }
        journal::encode(&mut part, entry.seq, entry.seq, &entry.prev, &entry.body);
        if part.len() >= PART_BYTES || entry.seq == head.seq {
            put(&mut tar, &format!("log/{}", journal::segment_name(first)), &part)?;
            (part, first) = (Vec::new(), entry.seq + 1);
        }
    }
    let end = End { log_entries: head.seq, photos };
    put(&mut tar, "end.json", &serde_json::to_vec(&end).map_err(|e| io_error(e.into()))?)?;
    tar.into_inner().and_then(|dest| dest.flush()).map_err(io_error)?;
    Ok(head)
}

/// Photos that no longer have their hash; for `verify`. Reads all of them.
pub fn damaged_photos(photos: &dyn Photos) -> Result<Vec<Hash>, Error> {
    let mut damaged = Vec::new();
    for sha256 in photos.list()? {
        if whole_photo(photos, &sha256)?.is_none() {
            damaged.push(sha256);
        }
    }
    Ok(damaged)
}

/// None: it is not what was stored.
fn whole_photo(photos: &dyn Photos, sha256: &Hash) -> Result<Option<Vec<u8>>, Error> {
    let mut bytes = Vec::new();
    if let Some(mut photo) = photos.open(sha256)? {
        photo.reader.read_to_end(&mut bytes).map_err(io_error)?;
    }
    Ok((Hash::from(Sha256::digest(&bytes)) == *sha256).then_some(bytes))
}

fn put(tar: &mut tar::Builder<&mut dyn Write>, name: &str, bytes: &[u8]) -> Result<(), Error> {
    let mut header = tar::Header::new_ustar();
    header.set_size(bytes.len() as u64);
    header.set_mode(0o600);
    tar.append_data(&mut header, name, bytes).map_err(io_error)
}

/// Restores into a new data directory, under `options.epoch`, which must be a fresh one.
pub fn restore_dir(src: &mut dyn Read, dir: &Path, options: EmbeddedOptions) -> Result<Restored, Error> {
    let used = std::fs::read_dir(dir).is_ok_and(|mut entries| entries.next().is_some());
    if used {
        return Err(bad(format!("{} is not empty; name a new directory", dir.display())));
    }
    restore(src, &Embedded::open(dir, options)?)
}

/// Restores into an empty store, which keeps its own epoch: it is another history now.
pub fn restore(src: &mut dyn Read, store: &dyn Store) -> Result<Restored, Error> {
    if store.log().head().seq > 0 || store.control().head().seq > 0 {
        return Err(bad("the store is not empty"));
    }
    let mut tar = tar::Archive::new(src);
    let mut manifest: Option<Manifest> = None;
    let mut end: Option<End> = None;
    let mut found = End { log_entries: 0, photos: 0 };
    let mut control_records = 0;
    for entry in tar.entries().map_err(io_error)? {
        let mut entry = entry.map_err(io_error)?;
        let name = entry.path().map_err(io_error)?.to_string_lossy().into_owned();
        if manifest.is_none() != (name == "manifest.json") {
            return Err(bad("it does not begin with its manifest"));
        }
        match name.split_once('/') {
            None if name == "manifest.json" => {
                let read: Manifest = json(&mut entry)?;
                if read.format > FORMAT {
                    return Err(bad(format!("it was written by a newer version (format {})", read.format)));
                }
                store.meta().mark_served(read.log_seq)?;
                manifest = Some(read);
            }
            None if name == "end.json" => end = Some(json(&mut entry)?),
            Some(("control", _)) => control_records += restore_control(&mut entry, store)?,
            Some(("photos", sha256)) => {
                restore_photo(&mut entry, sha256, store.photos())?;
                found.photos += 1;
            }
            Some(("log", _)) => found.log_entries += restore_log(&mut entry, store)?,
            _ => return Err(bad(format!("it holds {name}, which no backup does"))),
        }
    }
    let manifest = manifest.ok_or_else(|| bad("it is empty"))?;
    let head = store.log().head();
    let photos = found.photos;
    if end != Some(found) || manifest.control_records != control_records {
        return Err(bad("it was cut short"));
    }
    if (head.seq, head.hash) != (manifest.log_seq, manifest.log_hash) {
        return Err(bad(format!("its log ends at {} with another hash than it says", head.seq)));
    }
    let former_epoch = u64::from_str_radix(&manifest.epoch, 16).map_err(|_| bad("its epoch is no number"))?;
    Ok(Restored { head, control_records, photos, former_epoch })
}

fn json<T: for<'de> Deserialize<'de>>(entry: &mut impl Read) -> Result<T, Error> {
    let mut bytes = Vec::new();
    entry.take(1 << 16).read_to_end(&mut bytes).map_err(io_error)?;
    serde_json::from_slice(&bytes).map_err(|e| bad(format!("a part of it cannot be read: {e}")))
}

fn lines(entry: &mut impl Read) -> Result<Vec<u8>, Error> {
    let mut bytes = Vec::new();
    entry.read_to_end(&mut bytes).map_err(io_error)?;
    Ok(bytes)
}

fn restore_control(entry: &mut impl Read, store: &dyn Store) -> Result<u64, Error> {
    let bytes = lines(entry)?;
    let records: Vec<&[u8]> = bytes.split(|b| *b == b'\n').filter(|l| !l.is_empty()).collect();
    for batch in records.chunks(BATCH) {
        store.control().append(batch)?;
    }
    Ok(records.len() as u64)
}

fn restore_log(entry: &mut impl Read, store: &dyn Store) -> Result<u64, Error> {
    let bytes = lines(entry)?;
    let mut entries = Vec::new();
    let head = store.log().head();
    let mut prev = head.hash;
    for line in bytes.split(|b| *b == b'\n').filter(|l| !l.is_empty()) {
        let expected = head.seq + entries.len() as u64 + 1;
        let line = journal::decode(line).map_err(|_| bad(format!("entry {expected} is damaged")))?;
        if line.seq != expected || line.prev != prev {
            return Err(bad(format!("entry {expected} does not follow the one before it")));
        }
        prev = line.hash;
        entries.push(line.body);
    }
    for batch in entries.chunks(BATCH) {
        store.log().append(store.log().head().seq, batch)?;
    }
    Ok(entries.len() as u64)
}

fn restore_photo(entry: &mut impl Read, name: &str, photos: &dyn Photos) -> Result<(), Error> {
    let mut sha256 = [0; 32];
    hex::decode_to_slice(name, &mut sha256).map_err(|_| bad(format!("{name} is no photo's name")))?;
    // A photo's upload id may be 64 characters long, and so is its hash.
    photos.delete_upload(name)?;
    photos.begin_upload(name)?;
    let mut piece = vec![0; 1 << 20];
    let mut at = 0;
    loop {
        match entry.read(&mut piece).map_err(io_error)? {
            0 => break,
            n => at = photos.write_at(name, at, &piece[..n])?,
        }
    }
    match photos.finish(name, &sha256) {
        Err(PhotoError::WrongHash { .. }) => Err(bad(format!("photo {name} is damaged"))),
        other => Ok(other?),
    }
}
