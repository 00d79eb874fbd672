//! sled behind its fence: it answers like the memory tables, and a damaged, old or foreign instance
//! leads to a rebuild and never to a wrong answer.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use std::fs;
use std::path::{Path, PathBuf};
use store::sim::below;
use store::{
    Doc, Embedded, EmbeddedOptions, Error, MemoryTables, Notice, NoticeAt, Store, TableBatch, Tables, Verdict,
};

fn open(dir: &Path) -> Embedded {
    Embedded::open(dir, EmbeddedOptions { cache_bytes: 1 << 20, ..EmbeddedOptions::new(1) }).unwrap()
}

/// Rows for the entries after `from` up to `seq`, the same for the same seed.
fn random_batch(rng: &mut ChaCha8Rng, from: u64, seq: u64) -> TableBatch {
    let mut batch = TableBatch { seq, hash: [seq as u8; 32], ..TableBatch::default() };
    for at in from + 1..=seq {
        for _ in 0..below(rng, 4) {
            let key = format!("card/{}", below(rng, 30));
            let body =
                (below(rng, 6) > 0).then(|| format!("{key} at {at} ").repeat(below(rng, 30)).into_bytes());
            batch.docs.push(Doc { key, seq: at, body });
        }
        batch.verdicts.push(Verdict { client: [below(rng, 3) as u8; 16], n: at, seq: at });
        for idx in 0..below(rng, 3) as u32 {
            let person = [below(rng, 3) as u8; 16];
            batch.notices.push(Notice {
                person,
                at: NoticeAt { seq: at, idx },
                body: vec![b'n'; idx as usize],
            });
        }
    }
    batch
}

/// Everything the tables say.
fn dump(t: &dyn Tables) -> Result<String, Error> {
    let docs = t.docs_after(0, usize::MAX, u64::MAX)?;
    let mut all = format!("{:?} {docs:?}", t.applied()?);
    for key in 0..30 {
        all += &format!("{:?}", t.doc(&format!("card/{key}"))?);
    }
    for p in 0..4 {
        all += &format!("{:?}", t.notices_after(&[p; 16], NoticeAt::default(), usize::MAX)?);
        for n in 0..200 {
            all += &format!("{:?}", t.verdict(&[p; 16], n)?);
        }
    }
    Ok(all)
}

#[test]
fn sled_answers_like_memory() {
    for seed in 0..12 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let dir = tempfile::tempdir().unwrap();
        let memory = MemoryTables::default();
        let mut seq = 0;
        for _ in 0..4 {
            let store = open(dir.path());
            fill_log(&store, 200);
            let sled = store.tables();
            if seq > 0 && sled.applied().unwrap().is_none() {
                panic!("closed cleanly, came back empty");
            }
            for _ in 0..6 {
                let from = seq;
                seq += 1 + below(&mut rng, 5) as u64;
                let mut batch = random_batch(&mut rng, from, seq);
                batch.hash = store.log().hash_at(seq).unwrap().unwrap();
                sled.apply(&batch).unwrap();
                memory.apply(&batch).unwrap();
                for _ in 0..5 {
                    let (after, up_to) = (below(&mut rng, 40) as u64, below(&mut rng, 120) as u64);
                    let limit = below(&mut rng, 12);
                    assert_eq!(
                        sled.docs_after(after, limit, up_to).unwrap(),
                        memory.docs_after(after, limit, up_to).unwrap(),
                        "seed {seed}: {after} {limit} {up_to}"
                    );
                }
            }
            assert!(dump(sled).unwrap() == dump(&memory).unwrap(), "seed {seed}");
            assert_eq!(sled.scrub().unwrap(), memory.scrub().unwrap());
        }
    }
}

fn fill_log(store: &Embedded, to: u64) {
    let at = store.log().head().seq;
    let body: &[u8] = br#"{"noted":"wet until two"}"#;
    store.log().append(at, &vec![body; (to.max(at) - at) as usize]).unwrap();
}

/// A store whose tables are complete up to entry 60; and what they said after each batch.
fn prepared(dir: &Path) -> Vec<String> {
    let store = open(dir);
    fill_log(&store, 100);
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    let mut said = vec![dump(store.tables()).unwrap()];
    for (from, to) in [(0, 10), (10, 30), (30, 60)] {
        let mut batch = random_batch(&mut rng, from, to);
        batch.hash = store.log().hash_at(to).unwrap().unwrap();
        store.tables().apply(&batch).unwrap();
        said.push(dump(store.tables()).unwrap());
    }
    said
}

fn sled_files(dir: &Path) -> Vec<PathBuf> {
    let mut all = Vec::new();
    let mut dirs = vec![dir.join("tables")];
    while let Some(dir) = dirs.pop() {
        for entry in fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() { dirs.push(path) } else { all.push(path) }
        }
    }
    all.sort();
    all
}

fn copy_dir(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let into = to.join(path.file_name().unwrap());
        if path.is_dir() { copy_dir(&path, &into) } else { _ = fs::copy(&path, &into).unwrap() }
    }
}

/// Flipped bytes where sled keeps rows: each run ends with the right answers, or as they were after an
/// earlier batch (and it says which), or empty, or with `Rebuild` from a read or from the scrub.
/// Clearing always helps.
#[test]
fn damaged_sled_is_rebuilt_and_never_wrong() {
    let original = tempfile::tempdir().unwrap();
    let said = prepared(original.path());
    let (mut same, mut older, mut rebuilt) = (0, 0, 0);
    for run in 0..60u64 {
        let mut rng = ChaCha8Rng::seed_from_u64(run);
        let dir = tempfile::tempdir().unwrap();
        copy_dir(original.path(), dir.path());
        // Also after an unclean end, when opening reads every row.
        if run % 2 == 0 {
            fs::remove_file(dir.path().join("tables/clean")).unwrap();
        }
        let file = sled_files(dir.path()).into_iter().find(|f| f.ends_with("db")).unwrap();
        let mut bytes = fs::read(&file).unwrap();
        let used: Vec<usize> = (0..bytes.len()).filter(|at| bytes[*at] != 0).collect();
        let at = used[below(&mut rng, used.len())];
        bytes[at] ^= 1 << below(&mut rng, 8);
        fs::write(&file, bytes).unwrap();

        let store = open(dir.path());
        let t = store.tables();
        let read = t.scrub().and_then(|_| dump(t));
        match read {
            Ok(found) => match said.iter().rposition(|s| *s == found) {
                Some(3) => same += 1,
                Some(_) => older += 1,
                None => panic!("run {run}: a wrong answer"),
            },
            Err(Error::Rebuild { .. }) => rebuilt += 1,
            Err(e) => panic!("run {run}: {e}"),
        }
        t.clear().unwrap();
        assert_eq!(t.applied().unwrap(), None);
        t.apply(&random_batch(&mut rng, 0, 9)).unwrap();
        assert!(t.scrub().is_ok());
    }
    println!("{same} right, {older} older or empty, {rebuilt} to rebuild");
    assert!(older + rebuilt > 10, "{same} of 60 right: too few flips met a row");
}

/// After a power cut sled may come back as it was long ago, or empty.
#[test]
fn old_sled_says_where_it_stands() {
    let dir = tempfile::tempdir().unwrap();
    let old = tempfile::tempdir().unwrap();
    let before = prepared(dir.path());
    copy_dir(&dir.path().join("tables"), old.path());
    {
        let store = open(dir.path());
        let hash = store.log().hash_at(80).unwrap().unwrap();
        let docs = vec![Doc { key: "card/1".into(), seq: 80, body: None }];
        store.tables().apply(&TableBatch { seq: 80, hash, docs, ..TableBatch::default() }).unwrap();
    }
    fs::remove_dir_all(dir.path().join("tables")).unwrap();
    copy_dir(old.path(), &dir.path().join("tables"));
    {
        let store = open(dir.path());
        assert_eq!(store.tables().applied().unwrap().unwrap().seq, 60);
        assert!(dump(store.tables()).unwrap() == before[3]);
    }
    fs::remove_dir_all(dir.path().join("tables")).unwrap();
    assert_eq!(open(dir.path()).tables().applied().unwrap(), None);
}

#[test]
fn tables_of_another_log_are_emptied() {
    let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    prepared(one.path());
    {
        let store = open(two.path());
        for seq in 0..100 {
            store.log().append(seq, &[b"\"another shop\""]).unwrap();
        }
    }
    fs::remove_dir_all(two.path().join("tables")).unwrap();
    copy_dir(&one.path().join("tables"), &two.path().join("tables"));
    assert_eq!(open(two.path()).tables().applied().unwrap(), None);

    // And a log that lost its end shows against the tables.
    let three = tempfile::tempdir().unwrap();
    drop(open(three.path()));
    fs::remove_dir_all(three.path().join("tables")).unwrap();
    copy_dir(&one.path().join("tables"), &three.path().join("tables"));
    let refused = Embedded::open(three.path(), EmbeddedOptions::new(1)).map(|_| ());
    assert!(
        matches!(refused, Err(Error::ServedBeyondHead { from: "tables", served: 60, .. })),
        "{refused:?}"
    );
}

/// Rows changed behind the store's back, in tables that were closed cleanly: reading the row or the
/// scrub says so, and an opening that reads every row starts empty.
#[test]
fn changed_rows_are_noticed() {
    let original = tempfile::tempdir().unwrap();
    prepared(original.path());
    type Change = fn(&sled::Db);
    fn row(db: &sled::Db, kind: u8) -> (sled::IVec, sled::IVec) {
        db.scan_prefix([kind]).next().unwrap().unwrap()
    }
    fn flip(db: &sled::Db, kind: u8) {
        let (key, value) = row(db, kind);
        let mut value = value.to_vec();
        *value.last_mut().unwrap() ^= 1;
        db.insert(key, value).unwrap();
    }
    let changes: [Change; 8] = [
        |db| flip(db, b'd'),
        |db| flip(db, b'v'),
        |db| flip(db, b'a'),
        |db| flip(db, b'o'),
        |db| _ = db.remove(row(db, b'd').0).unwrap(),
        |db| _ = db.remove(row(db, b'v').0).unwrap(),
        |db| _ = db.remove(row(db, b'n').0).unwrap(),
        // A good value under another key.
        |db| _ = db.insert([b"d".as_slice(), b"card/x"].concat(), row(db, b'd').1).unwrap(),
    ];
    for (i, change) in changes.iter().enumerate() {
        let dir = tempfile::tempdir().unwrap();
        copy_dir(original.path(), dir.path());
        {
            let db = sled::open(dir.path().join("tables/1")).unwrap();
            change(&db);
            db.flush().unwrap();
        }
        let other = tempfile::tempdir().unwrap();
        copy_dir(dir.path(), other.path());
        {
            let store = open(dir.path());
            match store.tables().applied() {
                // The record that says what is applied is read at every opening.
                Ok(None) if i == 2 => {}
                _ => assert!(matches!(store.tables().scrub(), Err(Error::Rebuild { .. })), "change {i}"),
            }
        }
        // Not closed as clean, since something was wrong with it.
        assert_eq!(open(dir.path()).tables().applied().unwrap(), None, "change {i}");
        fs::remove_file(other.path().join("tables/clean")).unwrap();
        assert_eq!(open(other.path()).tables().applied().unwrap(), None, "change {i}");
    }
}
