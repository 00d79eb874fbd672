//! Tables in sled 0.34.7, fenced in.
//!
//! Measured before it was taken: its `flush` does no fsync, so after a power cut it may come back
//! empty or old without an error; a flipped byte may lose records silently or panic. Therefore:
//! * it holds the only copy of nothing; what it lacks is applied again from the log;
//! * every value carries a checksum of key and value; count and digest of all rows stand in the
//!   record that says what is applied, and change with it in one atomic batch;
//! * every call runs inside a panic boundary; a panic or an error means [`Error::Rebuild`];
//! * clearing starts a new directory, since a broken instance may never let go of its files;
//! * one tree, told apart by a first byte, small cache.
//!
//! ```text
//! a                          → applied: seq, hash, counts, digest
//! d key                      → seq, 1 if gone, body
//! o seq key                  → (nothing): documents by last change
//! v client n                 → seq
//! n person seq idx           → body
//! k tree 0 key               → value (not part of counts and digest)
//! ```

use crate::error::Error;
use crate::memory::{read, write};
use crate::rules::{check_batch, check_tree};
use crate::types::*;
use sha2::{Digest, Sha256};
use sled::{Batch, Db, IVec};
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io;
use std::ops::Bound::{Excluded, Unbounded};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::RwLock;
use std::sync::atomic::{AtomicBool, Ordering};

/// Bytes of a value's checksum.
const SUM: usize = 8;

/// Bytes of a notice's key that name the person.
const PERSON: usize = 17;

/// Says that the generation in it was closed and synced, so that opening need not read every row.
const CLEAN: &str = "clean";

/// How long what was applied may stay unwritten; a crash costs applying it again.
const FLUSH_MS: u64 = 1000;

pub(super) struct SledTables {
    dir: PathBuf,
    cache_bytes: u64,
    db: RwLock<Current>,
    /// Something was wrong once: no clean mark on closing, so that the next start reads every row.
    suspect: AtomicBool,
}

struct Current {
    /// None: broken; only `clear` helps.
    db: Option<Db>,
    generation: u64,
}

/// What stands beside `applied`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Totals {
    docs: u64,
    verdicts: u64,
    notices: u64,
    /// XOR of the rows' SHA-256, so that a change costs as much as the row.
    digest: Hash,
}

fn rebuild(why: impl Into<String>) -> Error {
    Error::Rebuild { why: why.into() }
}

/// Runs sled inside the panic boundary.
fn guarded<T>(what: &str, f: impl FnOnce() -> Result<T, Error>) -> Result<T, Error> {
    catch_unwind(AssertUnwindSafe(f)).unwrap_or_else(|_| Err(rebuild(format!("{what} panicked"))))
}

impl From<sled::Error> for Error {
    fn from(e: sled::Error) -> Self {
        rebuild(e.to_string())
    }
}

fn row_hash(key: &[u8], payload: &[u8]) -> Hash {
    let len = (key.len() as u64).to_le_bytes();
    Sha256::new().chain_update(len).chain_update(key).chain_update(payload).finalize().into()
}

fn sealed(key: &[u8], payload: &[u8]) -> (Vec<u8>, Hash) {
    let hash = row_hash(key, payload);
    ([&hash[..SUM], payload].concat(), hash)
}

fn unsealed<'a>(key: &[u8], value: &'a [u8]) -> Result<(&'a [u8], Hash), Error> {
    let (sum, payload) = value.split_at_checked(SUM).ok_or_else(|| rebuild("a value is too short"))?;
    let hash = row_hash(key, payload);
    match *sum == hash[..SUM] {
        true => Ok((payload, hash)),
        false => Err(rebuild("a value's checksum is wrong")),
    }
}

fn key(kind: u8, parts: &[&[u8]]) -> Vec<u8> {
    let mut key = vec![kind];
    parts.iter().for_each(|p| key.extend_from_slice(p));
    key
}

fn doc_key(doc: &str) -> Vec<u8> {
    key(b'd', &[doc.as_bytes()])
}
fn order_key(seq: u64, doc: &str) -> Vec<u8> {
    key(b'o', &[&seq.to_be_bytes(), doc.as_bytes()])
}
fn verdict_key(client: &[u8; 16], n: u64) -> Vec<u8> {
    key(b'v', &[client, &n.to_be_bytes()])
}
fn notice_key(person: &[u8; 16], at: NoticeAt) -> Vec<u8> {
    key(b'n', &[person, &at.seq.to_be_bytes(), &at.idx.to_be_bytes()])
}
fn kv_prefix(tree: &str) -> Vec<u8> {
    key(b'k', &[tree.as_bytes(), b"\0"])
}

fn take<const N: usize>(bytes: &mut &[u8]) -> Result<[u8; N], Error> {
    let (head, rest) = bytes.split_first_chunk::<N>().ok_or_else(|| rebuild("a row is too short"))?;
    *bytes = rest;
    Ok(*head)
}

fn take_u64(bytes: &mut &[u8]) -> Result<u64, Error> {
    take::<8>(bytes).map(u64::from_be_bytes)
}

impl Totals {
    fn flip(&mut self, hash: &Hash) {
        self.digest.iter_mut().zip(hash).for_each(|(a, b)| *a ^= b);
    }

    fn encode(&self, head: &Head) -> Vec<u8> {
        let counts = [self.docs, self.verdicts, self.notices].map(u64::to_be_bytes).concat();
        [&head.seq.to_be_bytes(), &head.hash[..], &counts, &self.digest].concat()
    }

    fn decode(mut payload: &[u8]) -> Result<(Head, Totals), Error> {
        let p = &mut payload;
        let head = Head { seq: take_u64(p)?, hash: take(p)? };
        let (docs, verdicts, notices) = (take_u64(p)?, take_u64(p)?, take_u64(p)?);
        Ok((head, Totals { docs, verdicts, notices, digest: take(p)? }))
    }
}

fn get(db: &Db, key: &[u8]) -> Result<Option<(IVec, Hash)>, Error> {
    let Some(value) = db.get(key)? else { return Ok(None) };
    let (_, hash) = unsealed(key, &value)?;
    Ok(Some((value.subslice(SUM, value.len() - SUM), hash)))
}

fn totals(db: &Db) -> Result<Option<(Head, Totals)>, Error> {
    get(db, b"a")?.map(|(payload, _)| Totals::decode(&payload)).transpose()
}

fn decode_doc(key: &str, mut payload: &[u8]) -> Result<Doc, Error> {
    let seq = take_u64(&mut payload)?;
    let [gone] = take(&mut payload)?;
    Ok(Doc { key: key.to_owned(), seq, body: (gone == 0).then(|| payload.to_vec()) })
}

fn doc(db: &Db, key: &str) -> Result<Option<Doc>, Error> {
    get(db, &doc_key(key))?.map(|(payload, _)| decode_doc(key, &payload)).transpose()
}

impl SledTables {
    pub fn open(dir: &Path, cache_bytes: u64) -> Result<Self, Error> {
        let io = || Error::io(format!("cannot prepare {}", dir.display()));
        fs::create_dir_all(dir).map_err(io())?;
        let mut generations: Vec<u64> = fs::read_dir(dir)
            .map_err(io())?
            .filter_map(|e| e.ok()?.file_name().to_str()?.parse().ok())
            .collect();
        generations.sort_unstable();
        let generation = generations.pop().unwrap_or(1);
        for old in generations {
            remove(&dir.join(old.to_string()));
        }
        let tables = SledTables {
            dir: dir.to_owned(),
            cache_bytes,
            db: RwLock::new(Current { db: None, generation }),
            suspect: AtomicBool::new(false),
        };
        let clean = tables.take_clean_mark(generation).map_err(io())?;
        let checked = tables.start(generation).and_then(|db| {
            write(&tables.db).db = Some(db);
            if clean { tables.applied().map(|_| ()) } else { tables.scrub().map(|_| ()) }
        });
        if let Err(e) = checked {
            tracing::warn!("starting with empty tables: {e}");
            tables.clear()?;
        }
        Ok(tables)
    }

    fn start(&self, generation: u64) -> Result<Db, Error> {
        let config = sled::Config::new()
            .path(self.dir.join(generation.to_string()))
            .cache_capacity(self.cache_bytes)
            .flush_every_ms(Some(FLUSH_MS));
        guarded("opening the tables", || Ok(config.open()?))
    }

    fn take_clean_mark(&self, generation: u64) -> io::Result<bool> {
        let mark = self.dir.join(CLEAN);
        let Ok(text) = fs::read_to_string(&mark) else { return Ok(false) };
        fs::remove_file(&mark)?;
        File::open(&self.dir)?.sync_all()?;
        Ok(text.trim() == generation.to_string())
    }

    /// sled has let go of its files; make them safe, since it does not, and say so.
    fn leave_clean_mark(&self, generation: u64) -> io::Result<()> {
        let mut dirs = vec![self.dir.join(generation.to_string())];
        while let Some(dir) = dirs.pop() {
            for entry in fs::read_dir(&dir)? {
                let entry = entry?;
                if entry.file_type()?.is_dir() {
                    dirs.push(entry.path());
                } else {
                    File::open(entry.path())?.sync_all()?;
                }
            }
            File::open(&dir)?.sync_all()?;
        }
        fs::write(self.dir.join(CLEAN), generation.to_string())?;
        File::open(self.dir.join(CLEAN))?.sync_all()?;
        File::open(&self.dir)?.sync_all()
    }

    fn with<T>(&self, f: impl FnOnce(&Db) -> Result<T, Error>) -> Result<T, Error> {
        let current = read(&self.db);
        let db = current.db.as_ref().ok_or_else(|| rebuild("they could not be opened"))?;
        self.noting(guarded("reading the tables", || f(db)))
    }

    /// With no reader beside it, so that nobody sees half a batch.
    fn with_alone<T>(&self, f: impl FnOnce(&Db) -> Result<T, Error>) -> Result<T, Error> {
        let current = write(&self.db);
        let db = current.db.as_ref().ok_or_else(|| rebuild("they could not be opened"))?;
        self.noting(guarded("writing the tables", || f(db)))
    }

    fn noting<T>(&self, result: Result<T, Error>) -> Result<T, Error> {
        if matches!(result, Err(Error::Rebuild { .. })) {
            self.suspect.store(true, Ordering::Relaxed);
        }
        result
    }
}

impl Drop for SledTables {
    fn drop(&mut self) {
        self.close();
    }
}

fn remove(dir: &Path) {
    if let Err(e) = fs::remove_dir_all(dir) {
        tracing::warn!(dir = %dir.display(), "old tables stay: {e}");
    }
}

/// Rows as they will be, so that a batch may touch one twice.
struct Pending<'a> {
    db: &'a Db,
    rows: BTreeMap<Vec<u8>, Option<Vec<u8>>>,
    totals: Totals,
}

impl Pending<'_> {
    fn get(&self, key: &[u8]) -> Result<Option<(Vec<u8>, Hash)>, Error> {
        match self.rows.get(key) {
            Some(row) => Ok(row.as_ref().map(|p| (p.clone(), row_hash(key, p)))),
            None => Ok(get(self.db, key)?.map(|(p, h)| (p.to_vec(), h))),
        }
    }

    /// Returns whether the row is new.
    fn put(&mut self, key: Vec<u8>, payload: Vec<u8>) -> Result<bool, Error> {
        let old = self.get(&key)?;
        if let Some((_, hash)) = &old {
            self.totals.flip(hash);
        }
        self.totals.flip(&row_hash(&key, &payload));
        self.rows.insert(key, Some(payload));
        Ok(old.is_none())
    }

    /// Order rows are empty, so nothing needs reading to know their hash; a scrub finds lost ones.
    fn set_order(&mut self, seq: u64, doc: &str, there: bool) {
        let key = order_key(seq, doc);
        self.totals.flip(&row_hash(&key, &[]));
        self.rows.insert(key, there.then(Vec::new));
    }

    fn add(&mut self, batch: &TableBatch) -> Result<(), Error> {
        for d in &batch.docs {
            let key = doc_key(&d.key);
            match self.get(&key)? {
                Some((old, _)) => self.set_order(decode_doc(&d.key, &old)?.seq, &d.key, false),
                None => self.totals.docs += 1,
            }
            let body = d.body.as_deref().unwrap_or_default();
            let payload = [&d.seq.to_be_bytes()[..], &[d.body.is_none() as u8], body].concat();
            self.put(key, payload)?;
            self.set_order(d.seq, &d.key, true);
        }
        for v in &batch.verdicts {
            if !self.put(verdict_key(&v.client, v.n), v.seq.to_be_bytes().to_vec())? {
                return Err(Error::Order { why: format!("operation {} was answered before", v.n) });
            }
            self.totals.verdicts += 1;
        }
        for n in &batch.notices {
            if !self.put(notice_key(&n.person, n.at), n.body.clone())? {
                return Err(Error::Order { why: format!("two notices are number {} of an entry", n.at.idx) });
            }
            self.totals.notices += 1;
        }
        Ok(())
    }
}

impl Tables for SledTables {
    fn close(&self) {
        let mut current = write(&self.db);
        let Some(db) = current.db.take() else { return };
        let closed = guarded("closing the tables", || {
            db.flush()?;
            drop(db);
            Ok(())
        });
        let good = closed.is_ok() && !self.suspect.load(Ordering::Relaxed);
        let marked = good && self.leave_clean_mark(current.generation).is_ok();
        if !marked {
            tracing::warn!("the tables were not closed cleanly; the next start reads all of them");
        }
    }

    fn applied(&self) -> Result<Option<Head>, Error> {
        self.with(|db| Ok(totals(db)?.map(|(head, _)| head)))
    }

    fn apply(&self, batch: &TableBatch) -> Result<(), Error> {
        self.with_alone(|db| {
            let before = totals(db)?;
            check_batch(before.map(|(head, _)| head), batch)?;
            let totals = before.map_or_else(Totals::default, |(_, t)| t);
            let mut pending = Pending { db, rows: BTreeMap::new(), totals };
            pending.add(batch)?;
            let mut writes = Batch::default();
            for (key, row) in &pending.rows {
                match row {
                    Some(payload) => writes.insert(key.as_slice(), sealed(key, payload).0),
                    None => writes.remove(key.as_slice()),
                }
            }
            let applied = pending.totals.encode(&Head { seq: batch.seq, hash: batch.hash });
            writes.insert(b"a", sealed(b"a", &applied).0);
            Ok(db.apply_batch(writes)?)
        })
    }

    fn docs_after(&self, after: u64, limit: usize, up_to: u64) -> Result<DocPage, Error> {
        self.docs_after_if(after, limit, up_to, &|_| true)
    }

    fn docs_after_if(
        &self,
        after: u64,
        limit: usize,
        up_to: u64,
        wanted: &dyn Fn(&str) -> bool,
    ) -> Result<DocPage, Error> {
        self.with(|db| {
            let up_to = up_to.min(totals(db)?.map_or(0, |(head, _)| head.seq));
            let mut page = DocPage { docs: Vec::new(), to: up_to.max(after), more: false };
            if after >= up_to {
                return Ok(page);
            }
            let (from, end) = (order_key(after + 1, ""), order_key(up_to.saturating_add(1), ""));
            for row in db.range(from..end) {
                let (key, value) = row?;
                unsealed(&key, &value)?;
                let mut rest = &key[1..];
                let seq = take_u64(&mut rest)?;
                let name = std::str::from_utf8(rest).map_err(|_| rebuild("a document key is no text"))?;
                if !wanted(name) {
                    continue;
                }
                if let Some(last) = page.docs.last()
                    && page.docs.len() >= limit.max(1)
                    && last.seq != seq
                {
                    page.to = last.seq;
                    page.more = true;
                    break;
                }
                let found = doc(db, name)?.filter(|d| d.seq == seq);
                page.docs.push(found.ok_or_else(|| rebuild("the order names a document that is not there"))?);
            }
            Ok(page)
        })
    }

    fn doc(&self, key: &str) -> Result<Option<Doc>, Error> {
        self.with(|db| doc(db, key))
    }

    fn verdict(&self, client: &[u8; 16], n: u64) -> Result<Option<u64>, Error> {
        self.with(|db| {
            let row = get(db, &verdict_key(client, n))?;
            row.map(|(payload, _)| take_u64(&mut &*payload)).transpose()
        })
    }

    fn notices_after(&self, person: &[u8; 16], after: NoticeAt, limit: usize) -> Result<Vec<Notice>, Error> {
        self.with(|db| {
            let from = notice_key(person, after);
            let mut notices = Vec::new();
            for row in db.range::<&[u8], _>((Excluded(from.as_slice()), Unbounded)) {
                let (key, value) = row?;
                if notices.len() >= limit || !key.starts_with(&from[..PERSON]) {
                    break;
                }
                let mut rest = &key[PERSON..];
                let at = NoticeAt { seq: take_u64(&mut rest)?, idx: u32::from_be_bytes(take(&mut rest)?) };
                let body = unsealed(&key, &value)?.0.to_vec();
                notices.push(Notice { person: *person, at, body });
            }
            Ok(notices)
        })
    }

    fn kv_get(&self, tree: &str, key: &[u8]) -> Result<Option<Vec<u8>>, Error> {
        check_tree(tree)?;
        self.with(|db| Ok(get(db, &[&kv_prefix(tree), key].concat())?.map(|(p, _)| p.to_vec())))
    }

    fn kv_put(&self, tree: &str, key: &[u8], value: &[u8]) -> Result<(), Error> {
        check_tree(tree)?;
        let key = [&kv_prefix(tree), key].concat();
        self.with(|db| {
            db.insert(&key, sealed(&key, value).0)?;
            Ok(())
        })
    }

    fn kv_delete(&self, tree: &str, key: &[u8]) -> Result<(), Error> {
        check_tree(tree)?;
        self.with(|db| {
            db.remove([&kv_prefix(tree), key].concat())?;
            Ok(())
        })
    }

    fn kv_list(&self, tree: &str) -> Result<Vec<KvPair>, Error> {
        check_tree(tree)?;
        let prefix = kv_prefix(tree);
        self.with(|db| {
            let row = |row: sled::Result<(IVec, IVec)>| {
                let (key, value) = row?;
                Ok((key[prefix.len()..].to_vec(), unsealed(&key, &value)?.0.to_vec()))
            };
            db.scan_prefix(&prefix).map(row).collect()
        })
    }

    fn clear(&self) -> Result<(), Error> {
        let mut current = write(&self.db);
        let old = current.db.take();
        let kept = old.as_ref().map_or_else(Vec::new, readable_kv);
        // A broken instance may panic again while it is put away.
        let _ = catch_unwind(AssertUnwindSafe(|| drop(old)));
        let before = current.generation;
        current.generation += 1;
        let db = self.start(current.generation)?;
        guarded("clearing the tables", || {
            for (key, value) in kept {
                db.insert(key, value)?;
            }
            Ok(())
        })?;
        current.db = Some(db);
        self.suspect.store(false, Ordering::Relaxed);
        remove(&self.dir.join(before.to_string()));
        Ok(())
    }

    fn scrub(&self) -> Result<Scrub, Error> {
        self.with(|db| {
            let expected = totals(db)?.map_or_else(Totals::default, |(_, t)| t);
            let mut found = Totals::default();
            let mut order = 0;
            for row in db.range(b"b".as_slice()..) {
                let (key, value) = row?;
                let (_, hash) = unsealed(&key, &value)?;
                match key[0] {
                    b'd' => found.docs += 1,
                    b'o' => order += 1,
                    b'v' => found.verdicts += 1,
                    b'n' => found.notices += 1,
                    b'k' => continue,
                    _ => return Err(rebuild("a row of no known kind")),
                }
                found.flip(&hash);
            }
            if found != expected || order != found.docs {
                return Err(rebuild("rows are missing or doubled"));
            }
            let Totals { docs, verdicts, notices, .. } = found;
            Ok(Scrub { docs, verdicts, notices })
        })
    }
}

/// As far as they are whole.
fn readable_kv(db: &Db) -> Vec<(IVec, IVec)> {
    guarded("reading the old tables", || {
        let rows = db.scan_prefix(b"k").map_while(Result::ok);
        Ok(rows.filter(|(key, value)| unsealed(key, value).is_ok()).collect())
    })
    .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_wanted_is_passed_over_on_every_page() {
        let dir = tempfile::tempdir().unwrap();
        let tables = SledTables::open(dir.path(), 1 << 20).unwrap();
        let key = |n: u64| format!("card/{n:03}");
        for seq in 1..=40 {
            // Two documents of one entry, which no page may split.
            let docs = [2 * seq, 2 * seq + 1].map(|n| Doc { key: key(n), seq, body: Some(b"{}".to_vec()) });
            tables.apply(&TableBatch { seq, docs: docs.into(), ..TableBatch::default() }).unwrap();
        }
        let all = tables.docs_after(0, usize::MAX, u64::MAX).unwrap().docs;
        for wanted in
            [|_: &str| true, |key: &str| key.ends_with('7'), |key: &str| key < "card/030", |_: &str| false]
        {
            let (mut after, mut found, mut more) = (0, Vec::new(), true);
            while more {
                let page = tables.docs_after_if(after, 3, 40, &wanted).unwrap();
                assert!(page.to > after || !page.more);
                (after, more) = (page.to, page.more);
                found.extend(page.docs);
            }
            let expected: Vec<Doc> = all.iter().filter(|doc| wanted(&doc.key)).cloned().collect();
            assert_eq!((found, after), (expected, 40));
        }
    }

    #[test]
    fn a_panic_means_rebuild_and_only_a_clear_helps() {
        let dir = tempfile::tempdir().unwrap();
        let tables = SledTables::open(dir.path(), 1 << 20).unwrap();
        tables.apply(&TableBatch { seq: 1, ..TableBatch::default() }).unwrap();
        let panicked: Result<(), _> = tables.with_alone(|_| panic!("as sled does"));
        assert!(matches!(panicked, Err(Error::Rebuild { .. })));
        drop(tables);
        assert!(!dir.path().join(CLEAN).exists(), "the next start must read every row");
        let tables = SledTables::open(dir.path(), 1 << 20).unwrap();
        assert_eq!(tables.applied().unwrap().unwrap().seq, 1);
        // One that cannot be opened at all.
        write(&tables.db).db = None;
        assert!(matches!(tables.applied(), Err(Error::Rebuild { .. })));
        tables.clear().unwrap();
        assert_eq!(tables.applied().unwrap(), None);
    }
}
