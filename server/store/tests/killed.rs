//! A real process on real files, killed with signal 9 in the middle of its appends.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use store::{Embedded, EmbeddedOptions, Error, Store};

const CHILD: &str = "STORE_TEST_CHILD";

fn open(dir: &Path) -> Result<Embedded, Error> {
    Embedded::open(dir, EmbeddedOptions { segment_bytes: 60_000, ..EmbeddedOptions::new(1) })
}

/// Not a test of its own: what the child process does when `killed_processes_lose_nothing` starts
/// this file's binary again. Appends until it is killed, and tells each acknowledged entry.
#[test]
fn child() {
    let Some(dir) = std::env::var_os(CHILD) else { return };
    let store = open(Path::new(&dir)).unwrap();
    let mut told = std::io::stderr();
    loop {
        let at = store.log().head().seq;
        let bodies: Vec<_> =
            (at + 1..=at + 1 + at % 3).map(|n| format!("{{\"n\":{n}}}").into_bytes()).collect();
        let parts: Vec<&[u8]> = bodies.iter().map(Vec::as_slice).collect();
        let head = store.log().append(at, &parts).unwrap();
        store.control().append(&[format!("{}", head.seq).as_bytes()]).unwrap();
        writeln!(told, "acknowledged {}", head.seq).unwrap();
    }
}

#[test]
fn killed_processes_lose_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let mut told = 0;
    for round in 0..12 {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "child", "--nocapture"])
            .env(CHILD, dir.path())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
        let mut hear = |count: usize| {
            for line in lines.by_ref().map_while(Result::ok).take(count) {
                told = line.strip_prefix("acknowledged ").and_then(|n| n.parse().ok()).unwrap_or(told);
            }
        };
        hear(1 + round * 7 % 60);
        match open(dir.path()) {
            Err(Error::InUse { pid, .. }) => assert_eq!(pid, child.id()),
            other => panic!("round {round}: {:?}", other.map(|_| "opened beside the child")),
        }
        child.kill().unwrap();
        hear(usize::MAX);
        child.wait().unwrap();

        let (log, control) = Embedded::verify_dir(dir.path()).unwrap();
        let store = open(dir.path()).unwrap();
        let head = store.log().head();
        assert!(head.seq >= told && told > 0, "round {round}: {told} acknowledged, {} there", head.seq);
        assert_eq!((log.head, control.head), (head, store.control().head()));
        let all: Vec<_> = store.log().replay(1).map(|e| e.unwrap().body).collect();
        assert!((1..).zip(&all).all(|(n, body)| *body == format!("{{\"n\":{n}}}").into_bytes()));
        let controls: Vec<u64> = store
            .control()
            .replay()
            .map(|r| String::from_utf8(r.unwrap()).unwrap().parse().unwrap())
            .collect();
        assert!(controls.contains(&told));
        store.log().verify().unwrap();
    }
}
