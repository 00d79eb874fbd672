//! Measures by their address and by command: what is asked, who may see it, what the tables hold.

use std::process::{Command, Output};

use domain::MINUTE;
use domain::stored::Role;
use serde_json::{Value, json};
use turnbuckle::auth;

use crate::support::{Shop, User, agent};

const DAY: i64 = 24 * 60 * MINUTE;

/// One visit, from keys in to keys back: an hour of body work by two people, sold for three hours.
fn delivered(shop: &Shop) -> (User, User) {
    let mut manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let mut body = shop.user("Tomas Okafor", "body", Role::Technician);
    let open = json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised", "sold_minutes": 180});
    let order = manager.done("open_order", open);
    let card = json!({"order": order, "department": "body", "title": {"text": "Pull rail"}, "planned_minutes": 90, "after": []});
    let card = body.done("add_card", card);
    shop.clock.advance(30 * MINUTE);
    body.done("start", json!({"card": card}));
    shop.clock.advance(60 * MINUTE);
    body.done("finish", json!({"card": card}));
    manager.done("stage", json!({"order": order, "stage": "ready"}));
    shop.clock.advance(30 * MINUTE);
    manager.done("stage", json!({"order": order, "stage": "delivered"}));
    shop.clock.advance(MINUTE);
    (manager, body)
}

fn of(body: &Value, id: &str) -> Value {
    let found = body["measures"].as_array().unwrap().iter().find(|m| m["id"] == id);
    found.unwrap_or_else(|| panic!("no {id} in {body}")).clone()
}

#[test]
fn days_departments_and_classes_are_asked_for() {
    let shop = Shop::start();
    let (manager, body) = delivered(&shop);
    let (status, all) = manager.get("/api/v1/measures?from=2026-06-01&to=2026-06-01");
    assert_eq!(status, 200, "{all}");
    assert_eq!(all["to"].as_i64().unwrap() - all["from"].as_i64().unwrap(), DAY, "the last day is whole");
    assert_eq!(all["now"], json!(shop.clock.now()));
    assert_eq!(all["seq"], json!(shop.opened.view().head.seq));
    assert_eq!(of(&all, "keys_to_keys")["by"]["small"]["count"], 1);
    assert_eq!(of(&all, "wait_by_reason")["by"]["no_reason"]["value"], 0.5);
    assert_eq!(of(&all, "clocked_to_planned")["value"], 60.0 / 90.0);
    let span = format!("from={}&to={}", all["from"], all["to"]);
    let (_, same) = manager.get(&format!("/api/v1/measures?{span}"));
    assert_eq!(same["measures"], all["measures"], "in milliseconds too");
    let (_, empty) = manager.get(&format!("/api/v1/measures?{span}&department=refinish"));
    assert_eq!((&of(&empty, "keys_to_keys")["count"], &empty["department"]), (&json!(0), &json!("refinish")));
    assert_eq!(of(&empty, "keys_to_keys").get("value"), None, "no value, not zero");
    let (_, towed) = body.get(&format!("/api/v1/measures?{span}&class=towed_in"));
    assert_eq!(of(&towed, "throughput")["count"], 0);
    for wrong in ["department=nowhere", "class=huge", "from=today&to=9"] {
        let query = if wrong.starts_with("from") { wrong.to_owned() } else { format!("{span}&{wrong}") };
        let (status, said) = manager.get(&format!("/api/v1/measures?{query}"));
        assert_eq!((status, &said["code"]), (422, &json!("stretch")), "{said}");
        assert!(said["message"].as_str().unwrap().ends_with('.'), "{said}");
    }
    let (status, control) = manager.get("/api/v1/measures/control?from=2026-05-20&to=2026-06-01");
    assert_eq!(status, 200, "{control}");
    assert_eq!(control["charts"][0]["points"][0]["number"], "2041");
    assert_eq!(control["charts"][0].get("limits"), None, "one visit has no limits");
    assert_eq!(control["bands"][0]["month"], "2026-06");
    assert_eq!(control["flow"].as_array().unwrap().last().unwrap()["left"], 1);
    assert_eq!(control["waits"][0]["hours"]["no_reason"], 0.5);
    let longest = &control["unexplained"][0];
    assert_eq!(
        (&longest["number"], &longest["department"], &longest["hours"]),
        (&json!("2041"), &json!("body"), &json!(0.5))
    );
}

/// Everybody sees own figures, nobody those of others.
#[test]
fn own_figures_are_ones_own() {
    let shop = Shop::start();
    let (manager, body) = delivered(&shop);
    let path = "/api/v1/measures/own?from=2026-06-01&to=2026-06-01";
    let (status, mine) = body.get(path);
    assert_eq!(status, 200, "{mine}");
    assert_eq!(of(&mine, "own_clocked")["by"]["body"]["value"], 1.0);
    assert_eq!(of(&mine, "own_sold")["value"], 3.0);
    let (_, others) = manager.get(path);
    assert_eq!(
        (&of(&others, "own_clocked")["count"], &of(&others, "own_sold")["count"]),
        (&json!(0), &json!(0))
    );
    assert_eq!(agent().get(format!("{}{path}", shop.base)).call().unwrap().status().as_u16(), 401);
}

fn turnbuckle(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_turnbuckle")).args(args).env_remove("TURNBUCKLE_TOKEN").output().unwrap()
}

/// The command asks a running server through the same address, and says what it would say.
#[test]
fn a_running_server_is_asked_by_command() {
    let shop = Shop::start();
    let (manager, _) = delivered(&shop);
    let (invitation, _) = auth::invite(&shop.opened, manager.id, manager.id, false).unwrap();
    let url = format!("{}/api/v1/auth/join", shop.base);
    let answer = agent().post(&url).send_json(json!({"token": invitation, "device": "script"})).unwrap();
    let cookies = answer.headers().get_all("set-cookie");
    let token = cookies
        .iter()
        .find_map(|c| c.to_str().unwrap().strip_prefix("turnbuckle_access_")?.split(['=', ';']).nth(1))
        .unwrap()
        .to_owned();
    let days = ["--from", "2026-06-01", "--to", "2026-06-01"];
    let ask = |more: &[&str]| turnbuckle(&[&["report", "--server", &shop.base][..], &days, more].concat());
    let out = ask(&["--token", &token, "--json"]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let report: Value = serde_json::from_slice(&out.stdout).unwrap();
    let (_, asked) = manager.get("/api/v1/measures?from=2026-06-01&to=2026-06-01");
    assert_eq!(report["measures"], asked["measures"]);
    assert_eq!(report["control"]["charts"][0]["points"][0]["number"], "2041");
    let out = ask(&["--token", &token, "--class", "small"]);
    let text = String::from_utf8(out.stdout).unwrap();
    assert!(text.contains("Only the class of vehicles «small».") && text.contains("keys_to_keys "), "{text}");
    for (token, code, says) in [("forged", 1, "signed out"), ("", 2, "--token")] {
        let out = ask(&["--token", token]);
        let said = String::from_utf8(out.stderr).unwrap();
        assert_eq!(out.status.code(), Some(code));
        assert!(said.contains(says) && said.lines().count() == 1, "{said}");
    }
    let gone = turnbuckle(&["report", "--server", "http://127.0.0.1:9", "--token", "t"]);
    let said = String::from_utf8(gone.stderr).unwrap();
    assert!(said.contains("127.0.0.1:9 cannot be asked"), "{said}");
}
