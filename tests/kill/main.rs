//! Acknowledged is kept: the real binary is killed in the middle of work, and its system calls are
//! watched in order. Control: a server that only pretends to sync must be caught.

#[path = "../support/process.rs"]
mod process;
#[path = "../support/mod.rs"]
mod support;

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use process::{Server, rounds, serve, verify};
use serde_json::{Value, json};
use ureq::Agent;
use uuid::Uuid;

struct Phone {
    agent: Agent,
    me: Value,
    n: u64,
}

impl Phone {
    fn join(base: &str, token: &str) -> Self {
        let agent = support::agent();
        let mut answer = agent
            .post(format!("{base}/api/v1/auth/join"))
            .send_json(json!({"token": token, "device": "kill"}))
            .unwrap();
        let me: Value = answer.body_mut().read_json().unwrap();
        assert!(me["client"].is_string(), "{me}");
        Self { agent, me, n: 0 }
    }

    fn op(&mut self, number: u64) -> Value {
        self.n += 1;
        json!({"n": self.n, "id": Uuid::now_v7(), "session": self.me["session"], "kind": "open_order",
               "args": {"number": format!("K{number}"), "vehicle": "grey wagon"}, "device_at": 1})
    }

    /// None: no answer came.
    fn push(&self, base: &str, op: &Value) -> Option<Value> {
        let body =
            json!({"epoch": self.me["epoch"], "client": self.me["client"], "device_now": 1, "ops": [op]});
        let mut answer = self.agent.post(format!("{base}/api/v1/sync/push")).send_json(body).ok()?;
        answer.body_mut().read_json().ok()
    }
}

#[test]
fn killed_in_the_middle_twenty_times_nothing_acknowledged_is_lost() {
    let dir = tempfile::tempdir().unwrap();
    let data = dir.path().join("data");
    let (mut server, token) = Server::start(&mut serve(&data), true);
    let mut phone = Phone::join(&server.base, &token.unwrap());
    let mut acknowledged: Vec<(Value, u64)> = Vec::new();
    let mut number = 0;
    let mut unanswered: Option<Value> = None;
    for round in 0..rounds() {
        let killed = AtomicBool::new(false);
        let patience = Duration::from_millis(30 + (round as u64 * 37) % 170);
        std::thread::scope(|scope| {
            let work = scope.spawn(|| {
                while !killed.load(Ordering::Relaxed) {
                    let op = unanswered.take().unwrap_or_else(|| {
                        number += 1;
                        phone.op(number)
                    });
                    match phone.push(&server.base, &op) {
                        Some(answer) if answer["results"][0]["verdict"] == "applied" => {
                            acknowledged.push((op, answer["results"][0]["seq"].as_u64().unwrap()));
                        }
                        Some(answer) => panic!("not applied: {answer}"),
                        None => {
                            // Sent, perhaps decided, not answered: the phone keeps it and asks again.
                            unanswered = Some(op);
                            break;
                        }
                    }
                }
            });
            let begun = Instant::now();
            while begun.elapsed() < patience {
                std::thread::yield_now();
            }
            server.child.kill().unwrap();
            killed.store(true, Ordering::Relaxed);
            work.join().unwrap();
        });
        server.child.wait().unwrap();
        verify(&data);
        server = Server::start(&mut serve(&data), false).0;
    }
    assert!(acknowledged.len() > rounds(), "the rounds did some work: {}", acknowledged.len());
    for (op, seq) in &acknowledged {
        let again = phone.push(&server.base, op).unwrap();
        let result = &again["results"][0];
        assert_eq!((&result["verdict"], &result["seq"]), (&json!("applied"), &json!(seq)), "{again}");
    }
    server.kill();
    verify(&data);
    println!("{} kills, {} acknowledged operations, none lost", rounds(), acknowledged.len());
}

/// The helper server beside this test's binary.
fn served() -> PathBuf {
    let here = std::env::current_exe().unwrap();
    here.parent().unwrap().parent().unwrap().join("examples/served")
}

/// Runs twelve operations, one after the other, under strace and returns the trace.
fn trace(how: &str) -> String {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("trace");
    let mut command = Command::new("strace");
    command
        // -D: the server is our child, so that killing it ends it, and strace with it.
        .args([
            "-D",
            "-f",
            "-y",
            "-s",
            "400",
            "-e",
            "trace=openat,pwrite64,write,writev,sendto,sendmsg,fdatasync,fsync",
            "-o",
        ])
        .arg(&file)
        .arg(served())
        .arg(dir.path().join("data"))
        .args(["6000", how])
        .stderr(Stdio::null());
    let (server, token) = Server::start(&mut command, true);
    let mut phone = Phone::join(&server.base, &token.unwrap());
    for number in 0..12 {
        let op = phone.op(number);
        assert!(phone.push(&server.base, &op).is_some());
    }
    server.kill();
    support::wait_for("the end of the trace", || {
        let text = std::fs::read_to_string(&file).ok()?;
        text.contains("killed by SIGKILL").then_some(text)
    })
}

/// What is wrong with the order of system calls: nothing may leave before what it says is synced.
fn faults(trace: &str) -> (usize, usize, Vec<String>) {
    let (mut answers, mut segments, mut faults) = (0, 0, Vec::new());
    // Files of the journals with bytes not synced, and directories with names not synced.
    let (mut dirty, mut unnamed): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
    let path_in = |line: &str| {
        line.split_once('<').and_then(|(_, rest)| rest.split_once('>')).map(|(path, _)| path.to_owned())
    };
    // Second copies are made later and beside: nothing acknowledged rests on them.
    let journal = |path: &str| {
        (path.contains("/data/log") || path.contains("/data/control")) && !path.ends_with(".tmp")
    };
    let mut running: std::collections::BTreeMap<String, String> = Default::default();
    for line in trace.lines() {
        let pid = line.split_whitespace().next().unwrap_or_default().to_owned();
        let call = line[pid.len()..].trim_start();
        if call.starts_with("pwrite64(") || (call.starts_with("write(") && call.contains("/data/")) {
            dirty.extend(path_in(call).filter(|path| journal(path)));
        } else if call.starts_with("openat(") && call.contains("O_CREAT") {
            let path = call.split('"').nth(1).unwrap_or_default().to_owned();
            if journal(&path) && call.contains(") = ") {
                segments += 1;
                let parent = Path::new(&path).parent().map(|p| p.to_string_lossy().into_owned());
                unnamed.extend(parent);
            }
        } else if call.starts_with("fdatasync(") || call.starts_with("fsync(") {
            let path = path_in(call).unwrap_or_default();
            if call.contains("unfinished") {
                running.insert(pid, path);
            } else {
                dirty.retain(|d| *d != path);
                unnamed.retain(|d| *d != path);
            }
        } else if call.starts_with("<... fdatasync resumed") || call.starts_with("<... fsync resumed") {
            let path = running.remove(&pid).unwrap_or_default();
            dirty.retain(|d| *d != path);
            unnamed.retain(|d| *d != path);
        } else if call.contains("HTTP/1.1 200") {
            answers += 1;
            if !dirty.is_empty() || !unnamed.is_empty() {
                faults.push(format!("an answer left before {dirty:?} {unnamed:?} were synced"));
            }
        }
    }
    (answers, segments, faults)
}

#[test]
fn no_answer_leaves_before_its_sync_and_the_control_is_caught() {
    let (answers, segments, wrong) = faults(&trace("synced"));
    assert!(answers >= 13 && segments >= 3, "{answers} answers, {segments} new segments were seen");
    assert_eq!(wrong, Vec::<String>::new());
    let (answers, _, wrong) = faults(&trace("unsynced"));
    assert!(answers >= 13 && wrong.len() >= 12, "the control must be caught: {} of {answers}", wrong.len());
}

/// Told to stop, a server leaves tables that need not be read through and what it knows about sign-ins;
/// killed, it does not, and finds everything out again.
#[test]
fn who_is_told_to_stop_starts_quickly_and_knows_the_same() {
    let dir = tempfile::tempdir().unwrap();
    let data = dir.path().join("data");
    let clean = data.join("tables/clean");
    let (mut server, token) = Server::start(&mut serve(&data), true);
    let mut phone = Phone::join(&server.base, &token.unwrap());
    for (number, told) in [true, true, false, true].into_iter().enumerate() {
        assert!(!clean.exists(), "the mark counts once");
        let op = phone.op(number as u64);
        assert_eq!(phone.push(&server.base, &op).unwrap()["results"][0]["verdict"], "applied");
        if told {
            let pid = server.child.id().to_string();
            assert!(Command::new("kill").args(["-TERM", &pid]).status().unwrap().success());
            assert!(server.child.wait().unwrap().success());
        } else {
            server.kill();
        }
        assert_eq!(clean.exists(), told);
        (server, _) = Server::start(&mut serve(&data), false);
        // The same sign-in, which only the control journal knows, and the same answer as before.
        assert_eq!(phone.push(&server.base, &op).unwrap()["results"][0]["verdict"], "applied");
    }
    server.kill();
}
