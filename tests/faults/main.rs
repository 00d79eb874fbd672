//! The promises over a bad network: the real binary behind a proxy that cuts, delays and resets, twenty
//! phones, and a server that is killed again and again. In the end what every phone was told is held
//! against the log. The checker itself is shown histories that are wrong.

mod history;
#[path = "../support/process.rs"]
mod process;
mod proxy;
#[path = "../support/mod.rs"]
mod support;

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use history::{Answer, Entry, Lived, faults};
use process::{Server, rounds, serve, verify};
use proxy::Proxy;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use serde_json::{Value, json};
use ureq::Agent;
use uuid::Uuid;

const PHONES: usize = 20;
const CARDS: usize = 40;

struct Phone {
    agent: Agent,
    me: Value,
    chance: ChaCha8Rng,
    cards: Vec<String>,
    orders: Vec<String>,
    /// What was made, and not answered yet.
    waiting: Option<(Value, Lived)>,
    lived: Vec<Lived>,
    seen: BTreeSet<(u64, String)>,
    cursor: (u64, String),
    n: u64,
}

impl Phone {
    fn join(base: &str, token: &str, seed: u64) -> Self {
        let agent: Agent = Agent::config_builder()
            .http_status_as_error(false)
            .timeout_global(Some(Duration::from_secs(2)))
            .build()
            .into();
        let mut answer = agent
            .post(format!("{base}/api/v1/auth/join"))
            .send_json(json!({"token": token, "device": "t"}))
            .unwrap();
        let me = answer.body_mut().read_json().unwrap();
        let chance = ChaCha8Rng::seed_from_u64(seed);
        let cursor = (0, String::new());
        Self {
            agent,
            me,
            chance,
            cards: vec![],
            orders: vec![],
            waiting: None,
            lived: vec![],
            seen: BTreeSet::new(),
            cursor,
            n: 0,
        }
    }

    fn op(&mut self, kind: &str, args: Value) -> (Value, Lived) {
        self.n += 1;
        let id = Uuid::now_v7().to_string();
        let client = self.me["client"].as_str().unwrap().to_owned();
        let op = json!({"n": self.n, "id": id, "session": self.me["session"], "kind": kind, "args": args, "device_at": 1});
        (op, Lived { client, n: self.n, id, begun: Instant::now(), answers: Vec::new() })
    }

    fn next(&mut self) -> (Value, Lived) {
        let pick =
            |chance: &mut ChaCha8Rng, from: &[String]| from[chance.next_u32() as usize % from.len()].clone();
        match self.chance.next_u32() % 4 {
            0 => {
                let card = pick(&mut self.chance, &self.cards);
                self.op("take", json!({"card": card}))
            }
            _ => {
                let order = pick(&mut self.chance, &self.orders);
                self.op("note", json!({"order": order, "body": "seen from below"}))
            }
        }
    }

    /// Sends what waits, or something new; keeps it if no answer came.
    fn work(&mut self, base: &str) {
        let (op, mut lived) = self.waiting.take().unwrap_or_else(|| self.next());
        if let Some(answer) = self.push(base, &op) {
            lived.answers.push(answer);
            // A second time, as after an answer that was lost: the same verdict, and nothing new.
            if self.chance.next_u32().is_multiple_of(8)
                && let Some(again) = self.push(base, &op)
            {
                lived.answers.push(again);
            }
            self.lived.push(lived);
        } else {
            self.waiting = Some((op, lived));
        }
        if self.chance.next_u32().is_multiple_of(6) {
            self.pull(base);
        }
    }

    fn push(&self, base: &str, op: &Value) -> Option<Answer> {
        let body =
            json!({"epoch": self.me["epoch"], "client": self.me["client"], "device_now": 1, "ops": [op]});
        let mut answer = self.agent.post(format!("{base}/api/v1/sync/push")).send_json(body).ok()?;
        let body: Value = answer.body_mut().read_json().ok()?;
        if answer.status().as_u16() >= 500 {
            return None;
        }
        let result = &body["results"][0];
        assert!(result["seq"].is_u64(), "{}: {body}", answer.status());
        Some(Answer {
            at: Instant::now(),
            seq: result["seq"].as_u64()?,
            verdict: result["verdict"].as_str()?.to_owned(),
            by: result["by"].as_str().map(str::to_owned),
        })
    }

    fn pull(&mut self, base: &str) -> Option<()> {
        let (after, hash) = &self.cursor;
        let url = format!("{base}/api/v1/sync/pull?after={after}&hash={hash}&limit=50");
        let mut answer = self.agent.get(url).call().ok()?;
        let page: Value = answer.body_mut().read_json().ok()?;
        if answer.status().as_u16() >= 500 {
            return None;
        }
        assert_eq!(answer.status().as_u16(), 200, "{page}");
        self.cursor = (page["to"].as_u64()?, page["hash"].as_str()?.to_owned());
        self.seen.insert(self.cursor.clone());
        Some(())
    }
}

/// People, vehicles and cards, made over the wire.
fn set_up(base: &str, token: &str) -> Vec<Phone> {
    let mut admin = Phone::join(base, token, 0);
    let ids = |count: usize| -> Vec<String> { (0..count).map(|_| Uuid::new_v4().to_string()).collect() };
    let (people, orders, cards) = (ids(PHONES), ids(10), ids(CARDS));
    let mut make = |kind: &str, id: Option<&String>, args: Value| {
        let (mut op, mut lived) = admin.op(kind, args);
        if let Some(id) = id {
            op["id"] = json!(id);
            lived.id.clone_from(id);
        }
        let answer = admin.push(base, &op).unwrap();
        assert_eq!(answer.verdict, "applied", "{op}");
        lived.answers.push(answer);
        admin.lived.push(lived);
    };
    for (i, id) in people.iter().enumerate() {
        let person =
            json!({"id": id, "name": format!("Phone {i}"), "department": "body", "role": "technician"});
        make("set_person", None, json!({"person": person}));
    }
    for (i, id) in orders.iter().enumerate() {
        make(
            "open_order",
            Some(id),
            json!({"number": format!("F{i}"), "vehicle": "grey wagon", "stage": "authorised"}),
        );
    }
    for (i, id) in cards.iter().enumerate() {
        let args = json!({"order": orders[i % orders.len()], "department": "body", "title": {"text": "Repair panel"},
                          "planned_minutes": 45, "beside": true});
        make("add_card", Some(id), args);
    }
    let mut phones: Vec<Phone> = people
        .iter()
        .enumerate()
        .map(|(i, person)| {
            let mut answer = admin
                .agent
                .post(format!("{base}/api/v1/auth/invite"))
                .send_json(json!({"person": person}))
                .unwrap();
            let link: Value = answer.body_mut().read_json().unwrap();
            let mut phone = Phone::join(base, link["token"].as_str().unwrap(), i as u64 + 1);
            (phone.cards, phone.orders) = (cards.clone(), orders.clone());
            phone
        })
        .collect();
    phones[0].lived = admin.lived;
    phones
}

fn address(server: &Server) -> std::net::SocketAddr {
    server.base.trim_start_matches("http://").parse().unwrap()
}

fn log(data: &Path) -> Vec<Entry> {
    let out = Command::new(env!("CARGO_BIN_EXE_turnbuckle"))
        .args(["export", "--format", "ndjson", "--data"])
        .arg(data)
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let text = String::from_utf8(out.stdout).unwrap();
    let word = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    text.lines()
        .skip(1)
        .map(|line| {
            let line: Value = serde_json::from_str(line).unwrap();
            let entry = &line["entry"];
            let take = (entry["op"]["kind"] == "take").then(|| word(&entry["op"]["args"]["card"]));
            Entry {
                seq: line["seq"].as_u64().unwrap(),
                client: word(&entry["client"]),
                n: entry["n"].as_u64().unwrap(),
                op: word(&entry["op_id"]),
                by: word(&entry["by"]),
                verdict: word(&entry["verdict"]),
                take,
                word: word(&line["hash"])[..16].to_owned(),
            }
        })
        .collect()
}

#[test]
fn over_a_bad_network_and_a_server_that_is_killed_every_promise_holds() {
    let dir = tempfile::tempdir().unwrap();
    let data = dir.path().join("data");
    let (mut server, token) = Server::start(&mut serve(&data), true);
    let mut phones = set_up(&server.base, &token.unwrap());
    let seed = 7;
    let proxy = Proxy::start(seed, address(&server));
    let mut chance = ChaCha8Rng::seed_from_u64(seed);
    for _ in 0..rounds() {
        let over = AtomicBool::new(false);
        let patience = Duration::from_millis(60 + u64::from(chance.next_u32() % 200));
        std::thread::scope(|scope| {
            for phone in &mut phones {
                let (base, over) = (proxy.base.as_str(), &over);
                scope.spawn(move || {
                    while !over.load(Ordering::Relaxed) {
                        phone.work(base);
                    }
                });
            }
            // The moment of the kill is what is tried, so time itself is waited for.
            std::thread::sleep(patience);
            server.child.kill().unwrap();
            over.store(true, Ordering::Relaxed);
        });
        server.child.wait().unwrap();
        verify(&data);
        server = Server::start(&mut serve(&data), false).0;
        proxy.lead_to(address(&server));
    }
    let good = server.base.clone();
    for phone in &mut phones {
        while phone.waiting.is_some() {
            phone.work(&good);
        }
        phone.pull(&good);
    }
    server.kill();
    verify(&data);
    let log = log(&data);
    let lived: Vec<Lived> = phones.iter().flat_map(|phone| phone.lived.clone()).collect();
    let seen: BTreeSet<(u64, String)> = phones.into_iter().flat_map(|phone| phone.seen).collect();
    assert_eq!(faults(&lived, &seen, &log), Vec::<String>::new());
    let broken = proxy.broken.load(Ordering::Relaxed);
    let twice = lived.iter().filter(|op| op.answers.len() > 1).count();
    assert!(lived.len() > rounds() * 10 && broken > rounds() as u64 && twice > 0 && !seen.is_empty());
    println!(
        "{} kills, {broken} connections broken, {} operations told ({twice} twice), {} pages seen: nothing lost, nothing twice",
        rounds(),
        lived.len(),
        seen.len()
    );
    the_checker_sees(&lived, &seen, &log);
}

/// The same history with one thing wrong in it.
fn the_checker_sees(lived: &[Lived], seen: &BTreeSet<(u64, String)>, log: &[Entry]) {
    let told = lived.iter().map(|op| op.answers[0].seq).max().unwrap() as usize;
    let wrong = |change: &dyn Fn(&mut Vec<Lived>, &mut Vec<Entry>)| {
        let (mut lived, mut log) = (lived.to_vec(), log.to_vec());
        change(&mut lived, &mut log);
        !faults(&lived, seen, &log).is_empty()
    };
    assert!(wrong(&|_, log| log.truncate(told - 1)), "a lost end");
    assert!(wrong(&|_, log| drop(log.remove(told / 2))), "a lost entry");
    assert!(wrong(&|_, log| log.swap(told / 2, told / 2 + 1)), "two entries exchanged");
    assert!(wrong(&|_, log| log[told / 2].op = log[told / 2 + 1].op.clone()), "one that counts twice");
    assert!(wrong(&|_, log| log[told - 1].verdict = "other".into()), "another verdict than was told");
    assert!(wrong(&|lived, _| lived[0].answers[0].seq = told as u64), "told of another place");
    let (seq, _) = seen.last().unwrap();
    assert!(wrong(&|_, log| log[*seq as usize - 1].word = "0".repeat(16)), "a page of another history");
    let take = log.iter().position(|e| e.take.is_some() && e.verdict == "refused").unwrap();
    assert!(wrong(&|_, log| log[take].verdict = "applied".into()), "two who hold one card");
}
