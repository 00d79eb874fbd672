//! Rot and tampering: whatever is changed in a data directory, the store mends it or says so in a
//! typed error. It never panics and never shows other entries than were stored.

use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use store::sim::SimDisk;
use store::{
    AppendError, Embedded, EmbeddedOptions, Error, FaultKind, Hash, Memory, Snapshot, Store, TableBatch,
    TablesIn, ZERO, chain, damaged_photos,
};

const DIR: &str = "/shop";

fn options(disk: &SimDisk) -> EmbeddedOptions {
    EmbeddedOptions {
        segment_bytes: 1500,
        background: false,
        tables: TablesIn::Memory,
        disk: Arc::new(disk.clone()),
        ..EmbeddedOptions::new(5)
    }
}

fn open(disk: &SimDisk) -> Result<Embedded, Error> {
    Embedded::open(Path::new(DIR), options(disk))
}

/// Everything that was stored.
#[derive(Debug, PartialEq, Clone)]
struct Content {
    log: Vec<Vec<u8>>,
    control: Vec<Vec<u8>>,
}

fn content(store: &Embedded) -> Result<Content, Error> {
    let log: Result<_, _> = store.log().replay(1).map(|e| e.map(|e| e.body)).collect();
    let control: Result<_, _> = store.control().replay().collect();
    Ok(Content { log: log?, control: control? })
}

fn prepared() -> (SimDisk, Content) {
    let disk = SimDisk::new(3);
    let store = open(&disk).unwrap();
    let body = |n: u64| format!(r#"{{"n":{n},"text":"seal the rail seam, {n} @ bay"}}"#).into_bytes();
    let mut n = 0;
    // Batches of 1, 2, 3, 1, 2, 3 …; the last one has a single entry, the one before three.
    for size in [1, 2, 3, 1, 2, 3, 1, 2, 3, 1] {
        let batch: Vec<_> = (n..n + size).map(body).collect();
        let parts: Vec<&[u8]> = batch.iter().map(Vec::as_slice).collect();
        store.log().append(n, &parts).unwrap();
        store.control().append(&parts).unwrap();
        if n == 6 {
            let head = store.control().head().seq;
            store.control().compact(head, &[b"\"kept\"", b"\"also kept\""]).unwrap();
        }
        n += size;
        if n > 12 {
            let head = store.log().head();
            store.snapshots().put_snapshot(head.seq, &head.hash, b"the state").unwrap();
        }
    }
    store.meta().mark_served(n).unwrap();
    let all = content(&store).unwrap();
    assert_eq!(all.log.len(), 19);
    drop(store);
    (disk.fork(), all)
}

fn files(disk: &SimDisk, dir: &str, ext: &str) -> Vec<PathBuf> {
    let dir = Path::new(DIR).join(dir);
    let ext = Some(std::ffi::OsStr::new(ext));
    disk.paths().into_iter().filter(|p| p.parent() == Some(&dir) && p.extension() == ext).collect()
}

/// Opens, reads, verifies; whatever is readable must be what was stored.
fn survives(disk: &SimDisk, stored: &Content, what: &str) -> Result<Embedded, Error> {
    let store = open(disk)?;
    let found = content(&store)?;
    assert_eq!(&found, stored, "{what}: other content, without an error");
    if let Some(Snapshot { seq, hash, bytes }) = store.snapshots().latest_snapshot()? {
        assert_eq!(store.log().hash_at(seq)?, Some(hash), "{what}");
        assert_eq!(bytes, b"the state", "{what}");
    }
    assert_eq!((store.meta().epoch(), store.meta().served()), (5, 19), "{what}");
    Ok(store)
}

#[test]
fn every_flipped_bit_is_mended_or_reported() {
    let (disk, stored) = prepared();
    let (mut mended, mut reported) = (0, 0);
    for path in disk.paths() {
        let good = disk.read(&path).unwrap();
        let sealed = ["log", "control"].iter().any(|dir| {
            let mut segments = files(&disk, dir, "log");
            segments.extend(files(&disk, dir, "base"));
            segments.sort();
            segments.pop();
            segments.contains(&path)
        });
        let segment = path.extension().is_some_and(|e| e == "log" || e == "base");
        // Every byte in a release build; slower builds take every third.
        for at in (0..good.len()).step_by(if cfg!(debug_assertions) { 3 } else { 1 }) {
            let what = format!("{} byte {at}", path.display());
            let mut bad = good.clone();
            bad[at] ^= 1 << (at * 5 % 8);
            let rotten = disk.fork();
            rotten.replace(&path, &bad);
            if segment {
                // Outside of the process, by a reader that changes nothing.
                assert!(Embedded::verify_on(&rotten, Path::new(DIR)).is_err(), "{what}: verify saw nothing");
                assert_eq!(rotten.read(&path).unwrap(), bad, "{what}: verify changed something");
            }
            match survives(&rotten, &stored, &what) {
                Ok(store) => {
                    mended += 1;
                    assert!(!segment || sealed, "{what}: nothing to mend it from, and no error");
                    store.log().verify().unwrap();
                    store.control().verify().unwrap();
                    assert!(!sealed || rotten.read(&path).unwrap() == good, "{what}: not mended");
                }
                Err(e) => {
                    reported += 1;
                    assert!(!sealed, "{what}: there is a copy, but {e}");
                    let typed =
                        matches!(e, Error::Damaged(_) | Error::Meta { .. } | Error::NewerFormat { .. });
                    assert!(typed, "{what}: {e:?}");
                }
            }
        }
    }
    assert!(mended > 1000 && reported > 200, "{mended} mended, {reported} reported");
}

#[test]
fn any_shortened_file_is_mended_or_reported() {
    let (disk, stored) = prepared();
    for path in disk.paths() {
        let good = disk.read(&path).unwrap();
        for len in (0..good.len()).step_by(7).chain([good.len() - 1]) {
            let what = format!("{} cut to {len}", path.display());
            let rotten = disk.fork();
            rotten.replace(&path, &good[..len]);
            let control_tail = path.starts_with("/shop/control");
            match open(&rotten) {
                // A control journal's lost end is not seen by its own (it has no served mark); what
                // is left must be a beginning of it.
                Ok(store) if control_tail => {
                    let found = content(&store).unwrap();
                    assert_eq!(found.log, stored.log, "{what}");
                    assert!(stored.control.starts_with(&found.control), "{what}");
                }
                Ok(store) => {
                    drop(store);
                    rotten.kill();
                    survives(&rotten, &stored, &what).unwrap();
                }
                Err(Error::Damaged(_) | Error::Meta { .. }) => {}
                // A torn tail is cut off; the served mark knows better.
                Err(Error::ServedBeyondHead { served: 19, .. }) => {}
                Err(e) => panic!("{what}: {e:?}"),
            }
        }
    }
}

#[test]
fn missing_files_are_mended_or_reported() {
    let (disk, stored) = prepared();
    let segments = files(&disk, "log", "log");
    let copies = files(&disk, "log", "copy");
    assert_eq!(segments.len(), copies.len() + 1);
    for (segment, copy) in segments.iter().zip(&copies) {
        let one = disk.fork();
        one.delete(segment);
        survives(&one, &stored, "a missing segment").unwrap();
        assert_eq!(one.read(segment), disk.read(segment));

        let one = disk.fork();
        one.delete(copy);
        survives(&one, &stored, "a missing copy").unwrap();
        assert_eq!(one.read(copy), disk.read(copy));

        let one = disk.fork();
        one.delete(segment);
        one.delete(copy);
        match open(&one).map(|_| ()) {
            Err(Error::Damaged(fault)) => {
                assert_eq!(fault.kind, FaultKind::Missing);
                assert_eq!(segment.file_name().unwrap().to_str(), Some(&*fault.segment));
                assert!(fault.to_string().contains("restore the latest backup"), "{fault}");
            }
            other => panic!("{other:?}"),
        }
        assert!(Embedded::verify_on(&one, Path::new(DIR)).is_err());
    }
    let last = disk.fork();
    last.delete(segments.last().unwrap());
    assert!(matches!(open(&last), Err(Error::Damaged(f)) if f.kind == FaultKind::Missing));

    let meta = disk.fork();
    meta.delete(Path::new("/shop/meta"));
    assert!(matches!(open(&meta), Err(Error::Meta { .. })));
    let new = EmbeddedOptions { new_epoch: Some(6), ..options(&meta) };
    let store = Embedded::open(Path::new(DIR), new).unwrap();
    assert_eq!((store.meta().epoch(), store.meta().served()), (6, 19));
}

/// Somebody with an editor: each change, made in the last segment (which has no copy), must be found
/// at its line.
#[test]
fn edits_are_found_at_their_line() {
    let (disk, _) = prepared();
    let path = files(&disk, "log", "log").pop().unwrap();
    let text = String::from_utf8(disk.read(&path).unwrap()).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    assert!(lines.len() >= 4, "{} lines", lines.len());
    let with = |change: &dyn Fn(&mut Vec<String>)| {
        let mut lines: Vec<String> = lines.iter().map(|l| l.to_string()).collect();
        change(&mut lines);
        let edited = disk.fork();
        edited.replace(&path, (lines.join("\n") + "\n").as_bytes());
        let Err(Error::Damaged(outside)) = Embedded::verify_on(&edited, Path::new(DIR)) else {
            panic!("verify saw nothing")
        };
        let Err(Error::Damaged(fault)) = open(&edited) else { panic!("opening saw nothing") };
        assert_eq!(outside, fault);
        (fault.line, fault.kind)
    };
    use FaultKind::*;
    assert_eq!(with(&|l| l[1] = l[1].replace("seal", "weld")), (2, Edited));
    assert_eq!(with(&|l| l[1] = l[1].replace("\"seq\":", "\"seq\": ")), (2, Unreadable));
    assert_eq!(with(&|l| l.swap(1, 2)), (2, OutOfOrder));
    assert_eq!(with(&|l| _ = l.remove(1)), (2, OutOfOrder));
    assert_eq!(with(&|l| l.insert(2, l[1].clone())), (3, OutOfOrder));
    assert_eq!(with(&|l| l.insert(1, "{}".into())), (2, Unreadable));
    // With its own hashes put right, the next line still tells.
    let forged = |line: &str| {
        let json: serde_json::Value = serde_json::from_str(line).unwrap();
        let mut prev = ZERO;
        hex::decode_to_slice(json["prev"].as_str().unwrap(), &mut prev).unwrap();
        let body = json["entry"].to_string().replace("seal", "weld");
        let hash = chain(&prev, body.as_bytes());
        let (seq, last) = (json["seq"].as_u64().unwrap(), json["last"].as_u64().unwrap());
        let sum = [&seq.to_le_bytes()[..], &last.to_le_bytes(), &hash].concat();
        let check = hex::encode(&Sha256::digest(sum)[..4]);
        let (prev, hash) = (hex::encode(prev), hex::encode(hash));
        format!(
            r#"{{"seq":{seq},"last":{last},"check":"{check}","prev":"{prev}","hash":"{hash}","entry":{body}}}"#
        )
    };
    assert_eq!(with(&|l| l[1] = forged(&l[1])), (3, OutOfOrder));
}

#[test]
fn a_log_shorter_than_what_was_served_is_refused() {
    let (disk, _) = prepared();
    let path = files(&disk, "log", "log").pop().unwrap();
    let bytes = disk.read(&path).unwrap();
    // Whole batches are gone: nothing inside the log shows it.
    let end = bytes.iter().enumerate().filter(|(_, b)| **b == b'\n').nth_back(1).unwrap().0 + 1;
    disk.replace(&path, &bytes[..end]);
    let Err(refused) = open(&disk) else { panic!("opened") };
    assert!(matches!(refused, Error::ServedBeyondHead { head: 18, served: 19, .. }), "{refused}");
    assert!(refused.to_string().contains("start a new epoch"));
    {
        let new = EmbeddedOptions { new_epoch: Some(6), ..options(&disk) };
        let store = Embedded::open(Path::new(DIR), new).unwrap();
        assert_eq!((store.meta().epoch(), store.meta().served()), (6, 18));
        assert!(store.snapshots().latest_snapshot().unwrap().is_none_or(|s| s.seq <= 18));
    }
    let store = open(&disk).unwrap();
    assert_eq!((store.meta().epoch(), store.log().head().seq), (6, 18));
    assert_eq!(store.log().append(18, &[b"1"]).unwrap().seq, 19);
}

#[test]
fn a_snapshot_beyond_the_log_is_noticed_too() {
    let (disk, _) = prepared();
    disk.delete(Path::new("/shop/meta"));
    let path = files(&disk, "log", "log").pop().unwrap();
    let bytes = disk.read(&path).unwrap();
    let end = bytes.iter().enumerate().filter(|(_, b)| **b == b'\n').nth_back(1).unwrap().0 + 1;
    disk.replace(&path, &bytes[..end]);
    // A meta file that knows of nothing served.
    let fresh = SimDisk::new(1);
    drop(open(&fresh).unwrap());
    disk.replace(Path::new("/shop/meta"), &fresh.read(Path::new("/shop/meta")).unwrap());
    assert!(matches!(open(&disk), Err(Error::ServedBeyondHead { from: "snapshot", .. })));
}

#[test]
fn directories_that_cannot_be_written_are_named() {
    let disk = SimDisk::new(1);
    disk.set_read_only(true);
    let Err(refused) = open(&disk) else { panic!("opened") };
    assert!(matches!(refused, Error::NotWritable { .. }));
    assert!(refused.to_string().starts_with("data directory /shop cannot be written"), "{refused}");

    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("a-file");
    std::fs::write(&file, "x").unwrap();
    for place in [file.clone(), file.join("below")] {
        let Err(refused) = Embedded::open(&place, EmbeddedOptions::new(1)) else { panic!("opened") };
        assert!(matches!(refused, Error::NotWritable { .. }), "{refused:?}");
    }
}

#[test]
fn restoring_twice_or_half_is_refused() {
    let (disk, stored) = prepared();
    let store = open(&disk).unwrap();
    let mut file = Vec::new();
    store::backup(&store, &mut file).unwrap();
    let dir = tempfile::tempdir().unwrap();
    let place = dir.path().join("shop");
    let restored = store::restore_dir(&mut &file[..], &place, EmbeddedOptions::new(77)).unwrap();
    assert_eq!((restored.head, restored.former_epoch), (store.log().head(), 5));
    {
        let new = Embedded::open(&place, EmbeddedOptions::new(1)).unwrap();
        assert_eq!(content(&new).unwrap(), stored);
        assert_eq!((new.meta().epoch(), new.meta().served()), (77, 19));
    }
    let again = store::restore_dir(&mut &file[..], &place, EmbeddedOptions::new(78));
    assert!(again.unwrap_err().to_string().contains("is not empty"));

    let half = dir.path().join("half");
    assert!(store::restore_dir(&mut &file[..file.len() / 2], &half, EmbeddedOptions::new(78)).is_err());
    let opened = Embedded::open(&half, EmbeddedOptions::new(1)).map(|_| ());
    assert!(
        matches!(opened, Err(Error::ServedBeyondHead { .. })),
        "half a restore must not pass for a whole one"
    );
}

/// One rotten photo is named, and does not keep the rest from being backed up and restored.
#[test]
fn a_rotten_photo_is_named_and_left_out() {
    let (disk, _) = prepared();
    let store = open(&disk).unwrap();
    let mut hashes = Vec::new();
    for (id, bytes) in [("1", b"a hood".as_slice()), ("2", b"a fender")] {
        let sha256: Hash = Sha256::digest(bytes).into();
        store.photos().begin_upload(id).unwrap();
        store.photos().write_at(id, 0, bytes).unwrap();
        store.photos().finish(id, &sha256).unwrap();
        hashes.push(sha256);
    }
    assert!(damaged_photos(store.photos()).unwrap().is_empty());
    let name = hex::encode(hashes[0]);
    disk.replace(&Path::new("/shop/photos").join(&name[..2]).join(&name), b"a hooe");
    assert_eq!(damaged_photos(store.photos()).unwrap(), hashes[..1]);
    let mut file = Vec::new();
    store::backup(&store, &mut file).unwrap();
    let new = Memory::new(9);
    assert_eq!(store::restore(&mut &file[..], &new).unwrap().photos, 1);
    assert_eq!(new.photos().list().unwrap(), hashes[1..]);
}

#[test]
fn errors_are_sentences() {
    let conflict = AppendError::Conflict { expected: 3, head: 5 };
    assert_eq!(
        conflict.to_string(),
        "expected the journal to end at 3, but it ends at 5; nothing was stored"
    );
    let (disk, _) = prepared();
    let store = open(&disk).unwrap();
    let seq = store.log().head().seq;
    let late = TableBatch { seq, hash: ZERO, ..TableBatch::default() };
    store.tables().apply(&late).unwrap();
    let refused = store.tables().apply(&late).unwrap_err().to_string();
    assert_eq!(refused, "the tables refuse this batch: it ends at 19, but 19 is applied");
}
