//! Operations count once; documents come in pages; frames come live.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};

use std::sync::Arc;

use domain::stored::Role;
use serde_json::{Value, json};
use store::{Memory, Store};
use turnbuckle::clock::Clock;
use uuid::Uuid;

use crate::support::{Shop, monday};

#[test]
fn an_operation_counts_once_and_gets_the_same_answer() {
    let shop = Shop::start();
    let mut manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let op = manager.op("open_order", json!({"number": "2041", "vehicle": "grey wagon"}));
    let bad = manager.op("open_order", json!({"number": "2041", "vehicle": "again"}));
    let (status, first) = manager.push(vec![op.clone(), bad.clone()]);
    assert_eq!(status, 200, "one bad operation does not fail the batch: {first}");
    assert_eq!(first["results"][1]["code"], "duplicate_number");
    let (_, again) = manager.push(vec![op.clone(), bad]);
    for i in 0..2 {
        let keep = |v: &Value| (v["n"].clone(), v["seq"].clone(), v["verdict"].clone(), v["code"].clone());
        assert_eq!(keep(&first["results"][i]), keep(&again["results"][i]));
    }
    assert_eq!(shop.opened.view().state.in_shop().count(), 1);

    // The same number with another act: two phones with one name.
    let mut other = op;
    other["id"] = json!(Uuid::now_v7());
    let (status, body) = manager.push(vec![other]);
    assert_eq!((status, &body["code"]), (409, &json!("forked")));
    manager.n += 1;
    let late = manager.op("open_order", json!({"number": "2043", "vehicle": "late"}));
    let (status, body) = manager.push(vec![late]);
    assert_eq!((status, &body["code"], &body["expected"]), (409, &json!("gap"), &json!(3)));
}

#[test]
fn another_epoch_or_history_is_noticed() {
    let shop = Shop::start();
    let user = shop.user("Tomas Okafor", "body", Role::Technician);
    let (status, body) = user.get("/api/v1/sync/pull?after=0&epoch=0000000000000001");
    assert_eq!((status, &body["code"]), (409, &json!("epoch_changed")));
    let (status, body) = user.get("/api/v1/sync/pull?after=999999");
    assert_eq!((status, &body["code"]), (409, &json!("epoch_changed")));
    let (status, _) = user.get(&format!("/api/v1/sync/pull?after=1&hash={}", "00".repeat(32)));
    assert_eq!(status, 409);
}

/// A phone that has nothing yet sees what is in work first; what is over comes with its copy.
#[test]
fn what_is_open_comes_by_itself() {
    let shop = Shop::start();
    let mut manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let open =
        manager.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    let card =
        json!({"order": open, "department": "body", "title": {"text": "Pull rail"}, "planned_minutes": 90});
    let card = manager.done("add_card", card);
    let over =
        manager.done("open_order", json!({"number": "2042", "vehicle": "blue coupe", "stage": "arrived"}));
    manager.done("stage", json!({"order": over, "stage": "delivered", "reason": "repaired elsewhere"}));
    let (status, opened) = manager.get("/api/v1/sync/open");
    assert_eq!((status, opened["plan"]["rows"].is_array()), (200, true));
    let keys: Vec<&str> =
        opened["docs"].as_array().unwrap().iter().map(|d| d["key"].as_str().unwrap()).collect();
    for wanted in ["shop/shop", "department/body", &format!("order/{open}"), &format!("card/{card}")] {
        assert!(keys.contains(&wanted), "{wanted}");
    }
    assert!(!keys.contains(&format!("order/{over}").as_str()));
}

#[test]
fn documents_come_in_pages_and_only_what_changed() {
    let shop = Shop::start();
    let mut manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let (mut after, mut keys, mut more) = (0, Vec::new(), true);
    while more {
        let (status, page) = manager.get(&format!("/api/v1/sync/pull?after={after}&limit=5"));
        assert_eq!(status, 200);
        keys.extend(page["docs"].as_array().unwrap().iter().map(|d| d["key"].as_str().unwrap().to_owned()));
        after = page["to"].as_u64().unwrap();
        more = page["more"].as_bool().unwrap();
    }
    let (_, whole) = manager.get("/api/v1/sync/pull?after=0");
    assert_eq!(whole["docs"].as_array().unwrap().len(), keys.len());
    let order = manager.done("open_order", json!({"number": "2041", "vehicle": "grey wagon"}));
    let (_, change) = manager.get(&format!("/api/v1/sync/pull?after={after}&client={}", manager.client));
    let changed: Vec<&str> =
        change["docs"].as_array().unwrap().iter().map(|d| d["key"].as_str().unwrap()).collect();
    assert_eq!((changed, &change["last_n"]), (vec![format!("order/{order}").as_str()], &json!(1)));
}

/// A phone of a shop of many years does not carry all of them about. What waits for an answer is sent, and
/// an old visit on which something happens after all is whole again.
#[test]
fn phones_are_not_given_visits_that_were_over_long_ago() {
    let store: Arc<dyn Store> = Arc::new(Memory::new(7));
    let clock = Clock::at(monday());
    let shop = Shop::start_with(store.clone(), clock.clone(), None);
    let mut manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let mut left = |number: &str, undone: bool| {
        let opened = json!({"number": number, "vehicle": "grey wagon", "stage": "authorised"});
        let order = manager.done("open_order", opened);
        let card =
            json!({"order": order, "department": "body", "title": {"text": "Seal"}, "planned_minutes": 30});
        let card = manager.done("add_card", card);
        if !undone {
            manager.done("finish", json!({"card": card}));
        }
        // With work undone it goes all the same, and raises an exception.
        manager.act("stage", json!({"order": order, "stage": "delivered"}));
        (order, card)
    };
    let (over, asked) = (left("2041", false), left("2042", true));
    let person = manager.id;
    drop(shop);
    clock.advance(500 * 24 * 3_600_000);
    let shop = Shop::start_with(store.clone(), clock.clone(), None);
    let mut manager = shop.sign_in(person);
    let keys = |shop: &Shop, manager: &crate::support::User| -> Vec<String> {
        let (mut after, mut keys, mut more) = (0, Vec::new(), true);
        while more {
            let (_, page) = manager.get(&format!("/api/v1/sync/pull?after={after}&limit=3"));
            keys.extend(
                page["docs"].as_array().unwrap().iter().map(|d| d["key"].as_str().unwrap().to_owned()),
            );
            after = page["to"].as_u64().unwrap();
            more = page["more"].as_bool().unwrap();
        }
        assert_eq!(after, shop.opened.view().head.seq);
        keys
    };
    let held = keys(&shop, &manager);
    let has = |held: &[String], (order, card): &(String, String)| {
        (held.contains(&format!("order/{order}")), held.contains(&format!("card/{card}")))
    };
    assert_eq!(has(&held, &over), (false, false));
    assert_eq!(has(&held, &asked), (true, true), "somebody must answer");
    assert!(held.contains(&format!("person/{person}")));

    // A phone is away while it is answered: the visit is over now, and the answer must come all the same.
    let away = shop.opened.view().head.seq;
    let exception = held.iter().find_map(|key| key.strip_prefix("exception/")).unwrap();
    manager.done("answer", json!({"exception": exception, "reason": "Sealed from above"}));
    drop(shop);
    clock.advance(60_000);
    let shop = Shop::start_with(store, clock, None);
    let manager = shop.sign_in(person);
    assert_eq!(has(&keys(&shop, &manager), &asked), (false, false), "answered, it is over");
    let (_, page) = manager.get(&format!("/api/v1/sync/pull?after={away}"));
    let docs = page["docs"].as_array().unwrap();
    let answer = docs.iter().find(|doc| doc["key"] == format!("exception/{exception}")).unwrap();
    assert!(answer["body"]["answered_at"].is_number(), "{answer}");

    let mut fresh = shop.user("Ada Brandt", "body", Role::Manager);
    fresh.done("note", json!({"order": over.0, "card": over.1, "body": "It is back for a look."}));
    assert_eq!(has(&keys(&shop, &fresh), &over), (true, true), "whole again");
}

#[test]
fn a_change_reaches_the_other_phone_live() {
    let shop = Shop::start();
    let mut manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let user = shop.user("Tomas Okafor", "body", Role::Technician);
    let head = shop.opened.view().head.seq;
    let url = format!("{}/api/v1/live?after={head}&protocol=1", shop.base);
    let live = user.agent.get(url).call().unwrap();
    let mut lines = BufReader::new(live.into_body().into_reader()).lines().map(Result::unwrap);
    assert_eq!(lines.next().unwrap(), ": hello", "the channel is open");
    let order = manager.done("open_order", json!({"number": "2041", "vehicle": "grey wagon"}));
    let frame = lines
        .filter_map(|line| {
            line.strip_prefix("data: ").map(|data| serde_json::from_str::<Value>(data).unwrap())
        })
        .find(|frame| frame["docs"].as_array().is_some_and(|docs| !docs.is_empty()))
        .unwrap();
    assert_eq!((&frame["from"], &frame["to"]), (&json!(head), &json!(head + 1)));
    assert_eq!(frame["docs"][0]["key"], format!("order/{order}"));
}

#[test]
fn offline_work_counts_from_when_it_was_done() {
    let shop = Shop::start();
    let mut manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let mut body = shop.user("Tomas Okafor", "body", Role::Technician);
    let order =
        manager.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    let card = body.done(
        "add_card",
        json!({"order": order, "department": "body", "title": {"text": "Pull rail"}, "planned_minutes": 60}),
    );
    let made = shop.clock.now();
    let take = body.op("take", json!({"card": card}));
    let start = body.op("start", json!({"card": card}));
    shop.clock.advance(40 * 60_000);
    let finish = body.op("finish", json!({"card": card}));
    shop.clock.advance(38 * 60_000);
    let (_, answer) = body.push(vec![take, start, finish]);
    assert!(answer["results"].as_array().unwrap().iter().all(|r| r["verdict"] == "applied"), "{answer}");
    let doc = shop.doc(&format!("card/{card}"));
    assert_eq!((&doc["spans"][0]["from"], &doc["done_at"]), (&json!(made), &json!(made + 40 * 60_000)));
}

#[test]
fn a_busy_channel_ends_with_its_sign_in() {
    let shop = Shop::start();
    let mut manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let body = shop.user("Ansa Ruutu", "body", Role::Technician);
    let url = format!("{}/api/v1/live?after=0&protocol=1", shop.base);
    let stream = body.agent.get(&url).call().unwrap();
    assert_eq!(manager.delete(&format!("/api/v1/auth/devices/{}", body.session)).0, 204);
    let over = std::thread::spawn(move || {
        let lines = BufReader::new(stream.into_body().into_reader()).lines().map_while(Result::ok);
        lines.collect::<Vec<String>>()
    });
    let order = manager.done("open_order", json!({"number": "2041", "vehicle": "grey wagon"}));
    // Somebody always has something to say, so the channel is never idle.
    while !over.is_finished() {
        manager.done("note", json!({"order": order, "body": "busy"}));
        // As slowly as a sign-in may go on writing.
        shop.clock.advance(4_000);
    }
    let lines = over.join().unwrap();
    let end = lines.iter().position(|line| line == "event: end").expect("the channel says why it ends");
    assert_eq!(lines[end + 1], r#"data: {"why":"sign_in"}"#);
    assert!(lines.iter().filter(|line| *line == "event: frame").count() > 10, "it was busy");
    assert_eq!(body.agent.get(&url).call().unwrap().status().as_u16(), 401);
}

/// The same document by patches and whole.
#[test]
fn what_the_frames_say_is_what_a_pull_brings() {
    let shop = Shop::start();
    let mut manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let order = manager.done("open_order", json!({"number": "2041", "vehicle": "grey wagon"}));
    let (_, page) = manager.get("/api/v1/sync/pull?after=0");
    let mut docs: BTreeMap<String, Value> = page["docs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|doc| (doc["key"].as_str().unwrap().to_owned(), doc["body"].clone()))
        .collect();
    let url = format!("{}/api/v1/live?after={}&protocol=1", shop.base, page["to"]);
    let stream = manager.agent.get(&url).call().unwrap();
    let mut lines = BufReader::new(stream.into_body().into_reader()).lines().map_while(Result::ok);
    manager.done("promise", json!({"order": order, "due": 1_780_400_000_000_i64}));
    manager.done("hold", json!({"order": order, "what": "customer"}));
    manager.done("note", json!({"order": order, "body": "keys in the office"}));
    let (_, end) = manager.get("/api/v1/sync/pull?after=0");
    let (mut at, mut patched) = (page["to"].clone(), 0);
    while at != end["to"] {
        let line = lines.next().expect("frames up to the head");
        let Some(frame) = line.strip_prefix("data: ").and_then(|d| serde_json::from_str::<Value>(d).ok())
        else {
            continue;
        };
        if frame["from"] != at {
            continue;
        }
        at = frame["to"].clone();
        for doc in frame["docs"].as_array().unwrap() {
            let body = docs.entry(doc["key"].as_str().unwrap().to_owned()).or_default();
            match doc.get("patch") {
                Some(patch) => {
                    patched += 1;
                    json_patch::merge(body, patch);
                }
                None => *body = doc["body"].clone(),
            }
        }
    }
    assert!(patched >= 2, "changed documents come as patches");
    for doc in end["docs"].as_array().unwrap() {
        assert_eq!(docs.get(doc["key"].as_str().unwrap()), Some(&doc["body"]), "{}", doc["key"]);
    }
    assert_eq!(docs.len(), end["docs"].as_array().unwrap().len());
}
