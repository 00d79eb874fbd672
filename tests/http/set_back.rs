//! A server set back to a backup from before somebody signed in: what was done since still counts.

use std::sync::Arc;

use domain::stored::Role;
use serde_json::{Value, json};
use store::{Memory, Store};
use turnbuckle::auth;

use crate::support::{Shop, User, agent, monday};
use turnbuckle::clock::Clock;

/// What a backup holds, under a new epoch.
pub fn backup_of(shop: &Shop) -> Arc<dyn Store> {
    let (from, to) = (&shop.opened.store, Memory::new(8));
    let control: Vec<Vec<u8>> = from.control().replay().map(Result::unwrap).collect();
    to.control().append(&control.iter().map(Vec::as_slice).collect::<Vec<_>>()).unwrap();
    let log: Vec<Vec<u8>> = from.log().replay(1).map(|stored| stored.unwrap().body).collect();
    to.log().append(0, &log.iter().map(Vec::as_slice).collect::<Vec<_>>()).unwrap();
    Arc::new(to)
}

/// The same phone at the restored server: signed in anew, with its old number.
pub fn comes_back(user: User, shop: &Shop) -> User {
    let url = format!("{}/api/v1/auth/refresh", shop.base);
    assert_eq!(user.agent.post(url).send_empty().unwrap().status().as_u16(), 401, "it opens nothing");
    let (token, _) = auth::invite(&shop.opened, user.id, user.id, false).unwrap();
    let asked = json!({"token": token, "client": user.client});
    let mut answer = user.agent.post(format!("{}/api/v1/auth/join", shop.base)).send_json(asked).unwrap();
    let signed_in: Value = answer.body_mut().read_json().unwrap();
    let word = |name: &str| signed_in[name].as_str().unwrap().to_owned();
    assert_eq!(word("client"), user.client);
    User { base: shop.base.clone(), epoch: word("epoch"), session: word("session"), ..user }
}

struct Scene {
    shop: Shop,
    backup: Arc<dyn Store>,
    worker: User,
    planner: User,
    order: String,
    cards: Vec<String>,
}

/// One vehicle with two cards of the body department; the backup is from before the worker signed in.
fn scene() -> Scene {
    let shop = Shop::start();
    let mut planner = shop.user("Petra Nowak", "body", Role::Planner);
    let known = shop.user("Tomas Okafor", "body", Role::Technician);
    let order =
        planner.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    let mut card = |title: &str| {
        planner.done(
            "add_card",
            json!({"order": order, "department": "body", "title": {"text": title}, "planned_minutes": 60}),
        )
    };
    let cards = vec![card("Pull rail"), card("Weld rail")];
    let backup = backup_of(&shop);
    let worker = shop.sign_in(known.id);
    let planner = shop.sign_in(planner.id);
    Scene { shop, backup, worker, planner, order, cards }
}

fn set_back(shop: Shop, backup: Arc<dyn Store>) -> Shop {
    drop(shop);
    Shop::start_with(backup, Clock::at(monday()), None)
}

#[test]
fn what_its_token_proves_counts_as_if_nothing_had_been() {
    let Scene { shop, backup, mut worker, cards, .. } = scene();
    let ops =
        vec![worker.op("take", json!({"card": cards[0]})), worker.op("start", json!({"card": cards[0]}))];
    let (status, told) = worker.push(ops.clone());
    assert_eq!((status, &told["results"][1]["verdict"]), (200, &json!("applied")));
    let shop = set_back(shop, backup);
    let worker = comes_back(worker, &shop);
    let (status, told) = worker.push(ops);
    assert_eq!(status, 200, "{told}");
    for result in told["results"].as_array().unwrap() {
        assert_eq!(result["verdict"], "applied", "{told}");
        assert_eq!(result["exceptions"], Value::Null, "{told}");
    }
    assert_eq!(told["results"].as_array().unwrap().len(), 2);
}

#[test]
fn facts_nobody_can_prove_are_recorded_and_wishes_are_asked_for_again() {
    let Scene { shop, backup, mut worker, order, cards, .. } = scene();
    let ops = vec![
        worker.op("start", json!({"card": cards[0]})),
        worker.op("take", json!({"card": cards[1]})),
        worker.op("note", json!({"order": order, "body": "seized bolt"})),
    ];
    // Its cookies are gone, and with them the token.
    worker.agent = agent();
    let shop = set_back(shop, backup);
    let worker = comes_back(worker, &shop);
    let (status, told) = worker.push(ops);
    assert_eq!(status, 200, "{told}");
    let results = told["results"].as_array().unwrap();
    let verdicts: Vec<&str> = results.iter().map(|r| r["verdict"].as_str().unwrap()).collect();
    assert_eq!(verdicts, ["applied", "refused", "applied"], "{told}");
    assert_eq!(results[1]["code"], "unproved");
    assert!(results[1]["message"].as_str().unwrap().ends_with("say it again."));
    let exceptions = shop.opened.view().state.exceptions.clone();
    let unproved: Vec<_> =
        exceptions.values().filter(|e| e.kind == domain::stored::ExceptionKind::Unproved).collect();
    assert_eq!(unproved.len(), 2);
    assert!(unproved.iter().all(|e| e.by == worker.id && e.owner.is_none() && e.answered_at.is_none()));
    assert!(results[0]["exceptions"].as_array().unwrap().contains(&json!("unproved")));
}

#[test]
fn nothing_above_a_technician_comes_in_unproved() {
    let Scene { shop, backup, mut planner, order, .. } = scene();
    let ops = vec![
        planner.op("stage", json!({"order": order, "stage": "away"})),
        planner.op("note", json!({"order": order, "body": "at the glass shop"})),
    ];
    planner.agent = agent();
    let shop = set_back(shop, backup);
    let (status, told) = comes_back(planner, &shop).push(ops);
    assert_eq!(status, 200, "{told}");
    assert_eq!(told["results"][0]["code"], "unproved", "{told}");
    assert_eq!(told["results"][1]["exceptions"], json!(["unproved"]));
    assert_eq!(shop.doc(&format!("order/{order}"))["stage"], "authorised");
}

#[test]
fn a_sign_in_that_was_ended_proves_nothing() {
    let Scene { shop, mut worker, cards, .. } = scene();
    let session = worker.session.clone();
    let other = shop.sign_in(worker.id);
    assert_eq!(other.delete(&format!("/api/v1/auth/devices/{session}")).0, 204);
    shop.clock.advance(domain::MINUTE);
    let late = worker.op("start", json!({"card": cards[0]}));
    let late = User { client: worker.client.clone(), epoch: worker.epoch.clone(), ..other }.push(vec![late]);
    assert_eq!(late.1["results"][0]["code"], "signed_out", "{}", late.1);
}
