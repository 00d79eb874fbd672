//! The promises as one suite: every backend runs exactly these checks.
//!
//! ```text
//! store::contract_tests!(memory, || Box::new(MyBench::new()));
//! ```

use crate::*;
use sha2::{Digest, Sha256};
use std::io::Read;
use std::sync::Arc;

/// One store that can be opened, dropped and opened again.
pub trait Bench {
    fn open(&self) -> Result<Arc<dyn Store>, Error>;
    /// Whether a second `open` while the first is held is refused.
    fn exclusive(&self) -> bool;
}

/// Makes a test of every check, in a module of the given name.
#[macro_export]
macro_rules! contract_tests {
    ($name:ident, $make:expr) => {
        mod $name {
            $crate::contract_tests!(@each $make;
                log_begins_empty batches_are_whole_and_chained wrong_expectations_store_nothing
                bodies_are_refused_whole exact_bytes_come_back reading_is_bounded
                readers_see_whole_batches log_survives_reopening verify_reads_everything
                control_is_compacted_whole
                tables_page_by_last_change tables_keep_their_order tables_apply_whole_or_not
                notices_have_their_own_cursor kv_is_apart tables_are_cleared
                snapshots_keep_two snapshots_are_forgotten served_mark_never_goes_down
                photos_come_in_pieces photo_with_another_hash_is_discarded photos_are_removed
                names_are_checked
                only_one_process backup_comes_back cut_backup_is_refused);
        }
    };
    (@each $make:expr; $($check:ident)*) => {
        $(#[test]
        fn $check() {
            let bench: Box<dyn $crate::contract::Bench> = ($make)();
            $crate::contract::$check(&*bench);
        })*
    };
}

fn open(bench: &dyn Bench) -> Arc<dyn Store> {
    bench.open().expect("the store opens")
}

fn bodies(from: u64, count: u64) -> Vec<Vec<u8>> {
    (from..from + count).map(|n| format!(r#"{{"op":{n},"text":"hand back {n}"}}"#).into_bytes()).collect()
}

fn slices(bodies: &[Vec<u8>]) -> Vec<&[u8]> {
    bodies.iter().map(Vec::as_slice).collect()
}

/// Appends numbered entries up to `to`, in batches of `step`.
fn fill(log: &dyn Log, to: u64, step: u64) {
    while log.head().seq < to {
        let at = log.head().seq;
        let batch = bodies(at + 1, step.min(to - at));
        log.append(at, &slices(&batch)).expect("appends");
    }
}

pub fn log_begins_empty(bench: &dyn Bench) {
    let store = open(bench);
    let log = store.log();
    assert_eq!(log.head(), Head { seq: 0, hash: ZERO });
    assert_eq!(log.hash_at(0).unwrap(), Some(ZERO));
    assert_eq!(log.hash_at(1).unwrap(), None);
    assert!(log.read(0, 10).unwrap().is_empty());
    assert_eq!(log.replay(1).count(), 0);
    assert_eq!(log.verify().unwrap().entries, 0);
    assert_eq!(log.append(0, &[]).unwrap().seq, 0);
    assert_eq!(log.read_only(), None);
}

pub fn batches_are_whole_and_chained(bench: &dyn Bench) {
    let store = open(bench);
    let log = store.log();
    let batch = bodies(1, 3);
    let head = log.append(0, &slices(&batch)).unwrap();
    assert_eq!((head.seq, head), (3, log.head()));
    let entries = log.read(1, 10).unwrap();
    let mut prev = ZERO;
    for (entry, (n, body)) in entries.iter().zip((1..).zip(&batch)) {
        // The chain, computed here and not with the crate's function.
        let hash: Hash = Sha256::digest([&prev[..], body].concat()).into();
        assert_eq!(*entry, Stored { seq: n, prev, hash, body: body.clone() });
        assert_eq!(log.hash_at(n).unwrap(), Some(hash));
        prev = hash;
    }
    assert_eq!((entries.len(), head.hash), (3, prev));
}

pub fn wrong_expectations_store_nothing(bench: &dyn Bench) {
    let store = open(bench);
    let log = store.log();
    fill(log, 2, 2);
    for expected in [0, 1, 3, u64::MAX] {
        match log.append(expected, &[b"{}"]) {
            Err(AppendError::Conflict { expected: e, head: 2 }) => assert_eq!(e, expected),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(log.replay(1).count(), 2);
}

pub fn bodies_are_refused_whole(bench: &dyn Bench) {
    let store = open(bench);
    let log = store.log();
    let large = format!("\"{}\"", "x".repeat(MAX_BODY));
    let bad: [&[u8]; 8] = [b"", b"{", b"{} ", b" {}", b"{\n}", b"{}{}", b"\"\xff\"", large.as_bytes()];
    for body in bad {
        match log.append(0, &[b"{}", body]) {
            Err(AppendError::Invalid { index: 1, .. }) => {}
            other => panic!("{:?}: {other:?}", String::from_utf8_lossy(&body[..body.len().min(9)])),
        }
        assert!(store.control().append(&[b"{}", body]).is_err());
    }
    assert_eq!((log.head().seq, store.control().head().seq), (0, 0));
}

pub fn exact_bytes_come_back(bench: &dyn Bench) {
    let spelled: [&[u8]; 6] = [
        br#"{"b":1,"a":1.0,"a":1e0}"#,
        br#"{ "spaced" :  [ 1 , 2 ] }"#,
        "\"\u{1F527} \\u00e9 é\"".as_bytes(),
        b"12345678901234567890123",
        b"null",
        br#"{"seq":7,"entry":{"prev":"x"},"tricky":"}\",\"entry\":"}"#,
    ];
    {
        let store = open(bench);
        store.log().append(0, &spelled).unwrap();
        store.control().append(&spelled).unwrap();
    }
    let store = open(bench);
    let log: Vec<_> = store.log().replay(1).map(|e| e.unwrap().body).collect();
    let control: Vec<_> = store.control().replay().map(Result::unwrap).collect();
    assert_eq!(log, spelled);
    assert_eq!(control, spelled);
}

pub fn reading_is_bounded(bench: &dyn Bench) {
    let store = open(bench);
    let log = store.log();
    fill(log, 200, 7);
    let all: Vec<_> = log.replay(1).map(Result::unwrap).collect();
    assert_eq!(all.len(), 200);
    for (from, limit) in [(0, 3), (1, 3), (17, 40), (150, 1000), (200, 1), (201, 5), (9, 0)] {
        let expected: Vec<_> = all.iter().filter(|e| e.seq >= from).take(limit).cloned().collect();
        assert_eq!(log.read(from, limit).unwrap(), expected, "{from} {limit}");
    }
    for from in [0, 1, 2, 99, 200, 201] {
        let rest: Vec<_> = log.replay(from).map(Result::unwrap).collect();
        assert_eq!(rest, all.iter().filter(|e| e.seq >= from).cloned().collect::<Vec<_>>());
    }
}

/// Readers beside the writer: no half batch, no entry beyond the head they saw, no broken chain.
pub fn readers_see_whole_batches(bench: &dyn Bench) {
    let store = open(bench);
    let log = store.log();
    std::thread::scope(|scope| {
        let reader = || {
            loop {
                let head = log.head();
                assert_eq!(head.seq % 4, 0, "half a batch");
                let entries = log.read(1, head.seq as usize).unwrap();
                assert_eq!(entries.len() as u64, head.seq);
                assert_eq!(entries.last().map_or(ZERO, |e| e.hash), head.hash);
                assert!(entries.windows(2).all(|w| w[0].hash == w[1].prev));
                if head.seq >= 200 {
                    return;
                }
            }
        };
        scope.spawn(reader);
        scope.spawn(reader);
        fill(log, 200, 4);
    });
}

pub fn log_survives_reopening(bench: &dyn Bench) {
    let mut heads = Vec::new();
    for round in 1..=4 {
        let store = open(bench);
        let log = store.log();
        assert_eq!(heads.last().copied().unwrap_or_default(), log.head());
        fill(log, round * 40, round);
        assert_eq!(log.replay(1).filter(|e| e.is_ok()).count() as u64, round * 40);
        heads.push(log.head());
    }
    let store = open(bench);
    for head in heads {
        assert_eq!(store.log().hash_at(head.seq).unwrap(), Some(head.hash));
    }
}

pub fn verify_reads_everything(bench: &dyn Bench) {
    let store = open(bench);
    fill(store.log(), 120, 5);
    store.control().append(&[b"1", b"2"]).unwrap();
    let report = store.log().verify().unwrap();
    assert_eq!((report.head, report.entries), (store.log().head(), 120));
    assert_eq!(store.control().verify().unwrap().entries, 2);
}

pub fn control_is_compacted_whole(bench: &dyn Bench) {
    let records =
        |store: &dyn Store| -> Vec<Vec<u8>> { store.control().replay().map(Result::unwrap).collect() };
    let store = open(bench);
    let control = store.control();
    for n in 0..50 {
        control.append(&slices(&bodies(n, 2))).unwrap();
    }
    let (head, bytes) = (control.head(), control.bytes());
    assert_eq!(head.seq, 100);
    assert!(matches!(control.compact(99, &[b"0"]), Err(AppendError::Conflict { expected: 99, head: 100 })));
    assert!(matches!(control.compact(100, &[b"0", b"{"]), Err(AppendError::Invalid { index: 1, .. })));
    assert_eq!(records(&*store).len(), 100);

    assert_eq!(control.compact(100, &[b"\"a\"", b"\"b\""]).unwrap().seq, 102);
    assert!(control.bytes() < bytes);
    control.append(&[b"\"c\""]).unwrap();
    assert_eq!(records(&*store), [b"\"a\"", b"\"b\"", b"\"c\""]);
    // Whoever had read as far as 100 must read everything again.
    assert!(control.replay_after(head).unwrap().is_none());
    control.verify().unwrap();
    let head = control.head();
    control.append(&[b"\"d\""]).unwrap();
    if let Some(rest) = control.replay_after(head).unwrap() {
        assert_eq!(rest.map(Result::unwrap).collect::<Vec<_>>(), [b"\"d\""]);
    }
    let (head, last) = (control.head(), head);
    let other = Head { hash: head.hash, ..last };
    assert!(control.replay_after(other).unwrap().is_none(), "of another history");
    assert!(control.replay_after(Head { seq: head.seq + 1, ..head }).unwrap().is_none(), "beyond the head");
    drop(store);

    let store = open(bench);
    assert_eq!(store.control().head(), head);
    assert_eq!(records(&*store), [b"\"a\"", b"\"b\"", b"\"c\"", b"\"d\""]);
    // To nothing, twice, and on from there.
    for _ in 0..2 {
        store.control().compact(104, &[]).unwrap();
    }
    assert_eq!(store.control().head().seq, 104);
    drop(store);
    let store = open(bench);
    assert_eq!((records(&*store).len(), store.control().head().seq), (0, 104));
    assert_eq!(store.control().append(&[b"1"]).unwrap().seq, 105);
    store.control().verify().unwrap();
}

fn doc(key: &str, seq: u64, body: &str) -> Doc {
    Doc { key: key.into(), seq, body: Some(body.as_bytes().to_vec()) }
}

fn gone(key: &str, seq: u64) -> Doc {
    Doc { key: key.into(), seq, body: None }
}

fn batch(seq: u64, docs: Vec<Doc>) -> TableBatch {
    TableBatch { seq, hash: [seq as u8; 32], docs, ..TableBatch::default() }
}

pub fn tables_page_by_last_change(bench: &dyn Bench) {
    let store = open(bench);
    let t = store.tables();
    assert_eq!(t.applied().unwrap(), None);
    assert_eq!(t.docs_after(0, 10, 99).unwrap(), DocPage::default());
    t.apply(&batch(2, vec![doc("card/1", 1, "a"), doc("card/2", 1, "b"), doc("vehicle/1", 2, "v")])).unwrap();
    t.apply(&batch(5, vec![doc("card/1", 3, "a3"), doc("card/1", 4, "a4"), gone("card/2", 5)])).unwrap();
    assert_eq!(t.applied().unwrap(), Some(Head { seq: 5, hash: [5; 32] }));

    let all = vec![doc("vehicle/1", 2, "v"), doc("card/1", 4, "a4"), gone("card/2", 5)];
    assert_eq!(t.docs_after(0, 10, 5).unwrap(), DocPage { docs: all.clone(), to: 5, more: false });
    assert_eq!(t.docs_after(0, 10, 99).unwrap().to, 5, "not beyond what is applied");
    assert_eq!(t.docs_after(0, 10, 4).unwrap().docs, all[..2]);
    assert_eq!(t.docs_after(4, 10, 5).unwrap().docs, all[2..]);
    assert_eq!(t.docs_after(9, 10, 5).unwrap(), DocPage { docs: vec![], to: 9, more: false });
    let page = t.docs_after(0, 1, 5).unwrap();
    assert_eq!(page, DocPage { docs: all[..1].to_vec(), to: 2, more: true });
    assert_eq!(t.docs_after(page.to, 2, 5).unwrap(), DocPage { docs: all[1..].to_vec(), to: 5, more: false });

    // Three documents of one entry are never split.
    let three = vec![doc("x/1", 7, "1"), doc("x/2", 7, "2"), doc("x/3", 7, "3"), doc("y", 8, "y")];
    t.apply(&batch(8, three.clone())).unwrap();
    let page = t.docs_after(5, 2, 8).unwrap();
    assert_eq!(page, DocPage { docs: three[..3].to_vec(), to: 7, more: true });

    assert_eq!(t.doc("card/1").unwrap(), Some(doc("card/1", 4, "a4")));
    assert_eq!(t.doc("card/2").unwrap(), Some(gone("card/2", 5)));
    assert_eq!(t.doc("card/9").unwrap(), None);
    assert_eq!(t.scrub().unwrap(), Scrub { docs: 7, ..Scrub::default() });
}

pub fn tables_keep_their_order(bench: &dyn Bench) {
    let store = open(bench);
    let t = store.tables();
    let refused = |b: &TableBatch| assert!(matches!(t.apply(b), Err(Error::Order { .. })), "{b:?}");
    refused(&batch(3, vec![doc("a", 4, "late")]));
    refused(&batch(3, vec![doc("", 1, "no key")]));
    refused(&batch(3, vec![doc(&"k".repeat(MAX_KEY + 1), 1, "long key")]));
    assert_eq!(t.applied().unwrap(), None);
    t.apply(&batch(3, vec![doc("a", 3, "3")])).unwrap();
    refused(&batch(3, vec![]));
    refused(&batch(2, vec![]));
    refused(&batch(5, vec![doc("a", 3, "already applied")]));
    refused(&batch(6, vec![doc("a", 6, "new"), doc("a", 5, "back in time")]));
    assert_eq!(t.doc("a").unwrap(), Some(doc("a", 3, "3")));
    assert_eq!(t.applied().unwrap().unwrap().seq, 3);
}

pub fn tables_apply_whole_or_not(bench: &dyn Bench) {
    let store = open(bench);
    let t = store.tables();
    let (client, other) = ([1; 16], [2; 16]);
    let mut b = batch(2, vec![doc("a", 1, "1")]);
    b.verdicts = vec![Verdict { client, n: 1, seq: 1 }, Verdict { client, n: 2, seq: 2 }];
    t.apply(&b).unwrap();
    assert_eq!(t.verdict(&client, 1).unwrap(), Some(1));
    assert_eq!(t.verdict(&client, 3).unwrap(), None);
    assert_eq!(t.verdict(&other, 1).unwrap(), None);

    let mut again = batch(3, vec![doc("a", 3, "3")]);
    again.verdicts = vec![Verdict { client: other, n: 1, seq: 3 }, Verdict { client, n: 2, seq: 3 }];
    assert!(matches!(t.apply(&again), Err(Error::Order { .. })), "an operation is answered once");
    assert_eq!(t.verdict(&client, 2).unwrap(), Some(2));
    assert_eq!(t.verdict(&other, 1).unwrap(), None);
    assert_eq!(t.doc("a").unwrap(), Some(doc("a", 1, "1")));
    assert_eq!(t.scrub().unwrap(), Scrub { docs: 1, verdicts: 2, notices: 0 });
}

pub fn notices_have_their_own_cursor(bench: &dyn Bench) {
    let store = open(bench);
    let t = store.tables();
    let notice = |person: u8, seq, idx| Notice {
        person: [person; 16],
        at: NoticeAt { seq, idx },
        body: format!("{person} {seq} {idx}").into_bytes(),
    };
    let all = [notice(1, 1, 0), notice(1, 1, 1), notice(1, 300, 0), notice(2, 1, 0), notice(0, 9, 9)];
    t.apply(&TableBatch { notices: all.to_vec(), ..batch(300, vec![]) }).unwrap();
    let zero = NoticeAt::default();
    // The first of an entry has number 0: a cursor of (seq, 0) has seen it.
    assert_eq!(t.notices_after(&[1; 16], zero, 9).unwrap(), all[..3]);
    assert_eq!(t.notices_after(&[1; 16], zero, 2).unwrap(), all[..2]);
    assert_eq!(t.notices_after(&[1; 16], NoticeAt { seq: 1, idx: 0 }, 9).unwrap(), all[1..3]);
    assert_eq!(t.notices_after(&[1; 16], NoticeAt { seq: 300, idx: 0 }, 9).unwrap(), []);
    assert_eq!(t.notices_after(&[2; 16], zero, 9).unwrap(), all[3..4]);
    assert_eq!(t.notices_after(&[9; 16], zero, 9).unwrap(), []);
}

pub fn kv_is_apart(bench: &dyn Bench) {
    let store = open(bench);
    let t = store.tables();
    t.kv_put("cursor", b"push", b"7").unwrap();
    t.kv_put("cursor", b"mail", b"3").unwrap();
    t.kv_put("cursors", b"push", b"other").unwrap();
    t.kv_put("cursor", b"push", b"8").unwrap();
    assert_eq!(t.kv_get("cursor", b"push").unwrap(), Some(b"8".to_vec()));
    let listed = [(b"mail".to_vec(), b"3".to_vec()), (b"push".to_vec(), b"8".to_vec())];
    assert_eq!(t.kv_list("cursor").unwrap(), listed);
    t.kv_delete("cursor", b"push").unwrap();
    t.kv_delete("cursor", b"push").unwrap();
    assert_eq!(t.kv_get("cursor", b"push").unwrap(), None);
    assert_eq!(t.kv_get("cursors", b"push").unwrap(), Some(b"other".to_vec()));
    assert!(t.kv_put("a\0b", b"", b"").is_err());
    assert_eq!(t.applied().unwrap(), None);
    t.scrub().unwrap();
}

pub fn tables_are_cleared(bench: &dyn Bench) {
    let store = open(bench);
    let t = store.tables();
    let mut b = batch(4, vec![doc("a", 4, "1")]);
    b.verdicts = vec![Verdict { client: [1; 16], n: 1, seq: 4 }];
    t.apply(&b).unwrap();
    t.kv_put("cursor", b"push", b"7").unwrap();
    t.clear().unwrap();
    assert_eq!((t.applied().unwrap(), t.doc("a").unwrap()), (None, None));
    assert_eq!(t.verdict(&[1; 16], 1).unwrap(), None);
    assert_eq!(t.kv_get("cursor", b"push").unwrap(), Some(b"7".to_vec()));
    t.apply(&b).unwrap();
    assert_eq!(t.docs_after(0, 9, 9).unwrap().docs, b.docs);
}

pub fn snapshots_keep_two(bench: &dyn Bench) {
    let state = |n: u64| vec![n as u8; 10_000];
    let store = open(bench);
    fill(store.log(), 30, 10);
    assert_eq!(store.snapshots().latest_snapshot().unwrap(), None);
    for seq in [10, 20, 30] {
        let hash = store.log().hash_at(seq).unwrap().unwrap();
        store.snapshots().put_snapshot(seq, &hash, &state(seq)).unwrap();
    }
    let head = store.log().head();
    drop(store);
    let store = open(bench);
    let expected = Snapshot { seq: 30, hash: head.hash, bytes: state(30) };
    assert_eq!(store.snapshots().latest_snapshot().unwrap(), Some(expected));
}

pub fn snapshots_are_forgotten(bench: &dyn Bench) {
    let store = open(bench);
    fill(store.log(), 20, 10);
    store.snapshots().clear().unwrap();
    let hash = |store: &Arc<dyn Store>, seq| store.log().hash_at(seq).unwrap().unwrap();
    for seq in [10, 20] {
        store.snapshots().put_snapshot(seq, &hash(&store, seq), b"a name").unwrap();
    }
    store.snapshots().clear().unwrap();
    // Both of them: the one before would be the newest now.
    assert_eq!(store.snapshots().latest_snapshot().unwrap(), None);
    drop(store);
    let store = open(bench);
    assert_eq!(store.snapshots().latest_snapshot().unwrap(), None);
    assert_eq!(store.log().head().seq, 20, "the log is as it was");
    store.log().verify().unwrap();
    // The next ones are kept like any.
    let expected = Snapshot { seq: 20, hash: hash(&store, 20), bytes: b"no name".to_vec() };
    store.snapshots().put_snapshot(20, &expected.hash, &expected.bytes).unwrap();
    assert_eq!(store.snapshots().latest_snapshot().unwrap(), Some(expected));
}

pub fn served_mark_never_goes_down(bench: &dyn Bench) {
    let store = open(bench);
    let meta = store.meta();
    let epoch = meta.epoch();
    fill(store.log(), 9, 3);
    meta.mark_served(6).unwrap();
    meta.mark_served(3).unwrap();
    assert_eq!(meta.served(), 6);
    drop(store);
    let store = open(bench);
    assert_eq!((store.meta().epoch(), store.meta().served()), (epoch, 6));
    store.meta().start_epoch(epoch ^ 1).unwrap();
    assert_eq!((store.meta().epoch(), store.meta().served()), (epoch ^ 1, 9));
}

fn read_photo(photos: &dyn Photos, sha256: &Hash) -> Option<Vec<u8>> {
    let mut photo = photos.open(sha256).unwrap()?;
    let mut bytes = Vec::new();
    photo.reader.read_to_end(&mut bytes).unwrap();
    assert_eq!(bytes.len() as u64, photo.size);
    Some(bytes)
}

pub fn photos_come_in_pieces(bench: &dyn Bench) {
    let photo: Vec<u8> = (0..300_000u32).map(|n| (n * 7 + n / 251) as u8).collect();
    let sha256: Hash = Sha256::digest(&photo).into();
    {
        let store = open(bench);
        let photos = store.photos();
        assert!(matches!(photos.offset("u1"), Err(PhotoError::Unknown { .. })));
        assert!(matches!(photos.write_at("u1", 0, b"x"), Err(PhotoError::Unknown { .. })));
        photos.begin_upload("u1").unwrap();
        assert!(matches!(photos.begin_upload("u1"), Err(PhotoError::Exists { .. })));
        assert_eq!(photos.write_at("u1", 0, &photo[..100_000]).unwrap(), 100_000);
        for wrong in [0, 99_999, 100_001] {
            let refused = photos.write_at("u1", wrong, b"x");
            assert!(matches!(refused, Err(PhotoError::Offset { expected: 100_000, .. })));
        }
        photos.begin_upload("u2").unwrap();
    }
    let store = open(bench);
    let photos = store.photos();
    assert_eq!(photos.uploads().unwrap(), [("u1".to_owned(), 100_000), ("u2".to_owned(), 0)]);
    photos.delete_upload("u2").unwrap();
    photos.delete_upload("u2").unwrap();
    photos.write_at("u1", 100_000, &photo[100_000..250_000]).unwrap();
    photos.write_at("u1", 250_000, &photo[250_000..]).unwrap();
    assert!(!photos.exists(&sha256).unwrap());
    photos.finish("u1", &sha256).unwrap();
    assert!(photos.uploads().unwrap().is_empty());
    assert_eq!(read_photo(photos, &sha256).unwrap(), photo);
    assert_eq!(photos.list().unwrap(), [sha256]);
    // The same photo once more is the same photo.
    photos.begin_upload("u3").unwrap();
    photos.write_at("u3", 0, &photo).unwrap();
    photos.finish("u3", &sha256).unwrap();
    assert_eq!(photos.list().unwrap(), [sha256]);

    assert_eq!(photos.get_derived(&sha256, "thumb").unwrap(), None);
    photos.put_derived(&sha256, "thumb", b"small").unwrap();
    photos.put_derived(&sha256, "thumb", b"smaller").unwrap();
    assert_eq!(photos.get_derived(&sha256, "thumb").unwrap(), Some(b"smaller".to_vec()));
    assert_eq!(photos.list().unwrap(), [sha256], "a preview is no photo");
}

pub fn photo_with_another_hash_is_discarded(bench: &dyn Bench) {
    let store = open(bench);
    let photos = store.photos();
    photos.begin_upload("u1").unwrap();
    photos.write_at("u1", 0, b"a fender").unwrap();
    let other: Hash = Sha256::digest(b"a hood").into();
    assert!(matches!(photos.finish("u1", &other), Err(PhotoError::WrongHash { .. })));
    assert!(!photos.exists(&other).unwrap());
    assert!(matches!(photos.offset("u1"), Err(PhotoError::Unknown { .. })));
    assert!(photos.list().unwrap().is_empty());
}

pub fn photos_are_removed(bench: &dyn Bench) {
    let sha = |bytes: &[u8]| -> Hash { Sha256::digest(bytes).into() };
    let put = |photos: &dyn Photos, bytes: &[u8]| {
        photos.begin_upload("u").unwrap();
        photos.write_at("u", 0, bytes).unwrap();
        photos.finish("u", &sha(bytes)).unwrap();
        for name in ["thumb", "screen"] {
            photos.put_derived(&sha(bytes), name, bytes).unwrap();
        }
    };
    let is_gone = |photos: &dyn Photos, bytes: &[u8]| {
        let of = sha(bytes);
        let drawn = ["thumb", "screen"].map(|name| photos.get_derived(&of, name).unwrap());
        !photos.exists(&of).unwrap() && read_photo(photos, &of).is_none() && drawn == [None, None]
    };
    // Two whose hashes begin with the same byte lie beside each other.
    let gone: &[u8] = b"a fender";
    let beside = (0..u32::MAX).map(|n| format!("a hood {n}")).find(|b| sha(b.as_bytes())[0] == sha(gone)[0]);
    let beside = beside.unwrap().into_bytes();
    let store = open(bench);
    let photos = store.photos();
    photos.remove(&sha(gone)).unwrap();
    put(photos, gone);
    put(photos, &beside);
    photos.begin_upload("half").unwrap();
    photos.write_at("half", 0, b"a roof").unwrap();
    photos.remove(&sha(gone)).unwrap();
    photos.remove(&sha(gone)).unwrap();
    assert!(is_gone(photos, gone));
    drop(store);
    let store = open(bench);
    let photos = store.photos();
    assert!(is_gone(photos, gone));
    assert_eq!(photos.list().unwrap(), [sha(&beside)]);
    assert_eq!(read_photo(photos, &sha(&beside)).unwrap(), beside);
    assert_eq!(photos.get_derived(&sha(&beside), "thumb").unwrap(), Some(beside));
    assert_eq!(photos.uploads().unwrap(), [("half".to_owned(), 6)], "what still comes in goes on");
    // Nothing keeps it from coming again.
    put(photos, gone);
    assert!(!is_gone(photos, gone) && photos.list().unwrap().len() == 2);
}

pub fn names_are_checked(bench: &dyn Bench) {
    let store = open(bench);
    let photos = store.photos();
    let long = "x".repeat(65);
    for name in ["", "..", "../meta", "a/b", "a.b", "a b", "é", "a\0", &long] {
        assert!(matches!(photos.begin_upload(name), Err(PhotoError::BadName { .. })), "{name:?}");
        assert!(matches!(photos.offset(name), Err(PhotoError::BadName { .. })));
        assert!(matches!(photos.delete_upload(name), Err(PhotoError::BadName { .. })));
        assert!(matches!(photos.put_derived(&ZERO, name, b""), Err(PhotoError::BadName { .. })));
        assert!(matches!(photos.get_derived(&ZERO, name), Err(PhotoError::BadName { .. })));
    }
}

pub fn only_one_process(bench: &dyn Bench) {
    let store = open(bench);
    if bench.exclusive() {
        let Err(refused) = bench.open() else { panic!("opened twice") };
        assert!(matches!(refused, Error::InUse { .. }), "{refused}");
        let sentence = refused.to_string();
        assert!(sentence.starts_with("data directory "), "{sentence}");
        assert!(sentence.ends_with(&format!("is in use by process {}", std::process::id())), "{sentence}");
    }
    drop(store);
    open(bench);
}

fn filled(bench: &dyn Bench) -> (Arc<dyn Store>, Hash) {
    let store = open(bench);
    fill(store.log(), 77, 5);
    store.control().append(&slices(&bodies(1, 4))).unwrap();
    store.control().compact(4, &slices(&bodies(1, 3))).unwrap();
    store.photos().begin_upload("u").unwrap();
    store.photos().write_at("u", 0, b"a rail seam").unwrap();
    let sha256 = Sha256::digest(b"a rail seam").into();
    store.photos().finish("u", &sha256).unwrap();
    (store, sha256)
}

pub fn backup_comes_back(bench: &dyn Bench) {
    let (store, sha256) = filled(bench);
    let mut file = Vec::new();
    assert_eq!(backup(&*store, &mut file).unwrap(), store.log().head());
    let new = Memory::new(99);
    let restored = restore(&mut &file[..], &new).unwrap();
    let expected = Restored {
        head: store.log().head(),
        control_records: 3,
        photos: 1,
        former_epoch: store.meta().epoch(),
    };
    assert_eq!(restored, expected);
    assert_eq!((new.meta().epoch(), new.meta().served()), (99, 77));
    let all = |s: &dyn Store| s.log().replay(1).map(Result::unwrap).collect::<Vec<_>>();
    assert_eq!(all(&new), all(&*store));
    let records = |s: &dyn Store| s.control().replay().map(Result::unwrap).collect::<Vec<_>>();
    assert_eq!(records(&new), records(&*store));
    assert_eq!(read_photo(new.photos(), &sha256).unwrap(), b"a rail seam");
    assert!(
        matches!(restore(&mut &file[..], &*store), Err(Error::Backup { .. })),
        "only into an empty store"
    );
}

pub fn cut_backup_is_refused(bench: &dyn Bench) {
    let (store, _) = filled(bench);
    let mut file = Vec::new();
    backup(&*store, &mut file).unwrap();
    // The two blocks of zeros at the end of a tar may be missing; nothing else may.
    for len in (0..file.len() - 1024).step_by(500) {
        assert!(restore(&mut &file[..len], &Memory::new(1)).is_err(), "cut at {len} of {}", file.len());
    }
    let head = store.log().head();
    for at in (0..file.len()).step_by(97) {
        let mut bad = file.clone();
        bad[at] ^= 4;
        let new = Memory::new(1);
        // Padding and names of owners may change; what was stored may not.
        if restore(&mut &bad[..], &new).is_ok() {
            assert_eq!((new.log().head(), new.control().head().seq), (head, 3), "byte {at}");
        }
    }
}
