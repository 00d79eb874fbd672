//! Bad input: one clear sentence, the right code, nothing half-done, nothing typed lost.

use domain::MINUTE;
use domain::stored::Role;
use serde_json::{Value, json};
use uuid::Uuid;

use crate::support::{Shop, User};

const DAY: i64 = 24 * 60 * MINUTE;

struct Scene {
    shop: Shop,
    manager: User,
    body: User,
    mechanic: User,
    order: String,
    cards: Vec<String>,
}

/// One vehicle with two cards of the body department, the second after the first.
fn scene() -> Scene {
    let shop = Shop::start();
    let mut manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let mut body = shop.user("Tomas Okafor", "body", Role::Technician);
    let mechanic = shop.user("Ines Duarte", "mechanical", Role::Technician);
    let order =
        manager.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    let card = |user: &mut User, title: &str, after: Value| {
        user.done("add_card", json!({"order": order, "department": "body", "title": {"text": title}, "planned_minutes": 60, "after": after}))
    };
    let first = card(&mut body, "Pull rail", json!([]));
    let second = card(&mut body, "Weld rail", json!([{"card": first}]));
    Scene { shop, manager, body, mechanic, order, cards: vec![first, second] }
}

fn refused(result: &Value, code: &str) {
    assert_eq!(result["verdict"], "refused", "{result}");
    assert_eq!(result["code"], code, "{result}");
    let message = result["message"].as_str().unwrap();
    assert!(message.len() > 10 && message.ends_with('.'), "one clear sentence: {message}");
}

#[test]
fn wishes_that_cannot_be() {
    let mut s = scene();
    let nobody = Uuid::nil();
    refused(&s.body.act("take", json!({"card": nobody})), "unknown_card");
    let link = json!({"card": s.cards[0], "after": {"card": s.cards[1]}});
    refused(&s.manager.act("link", link), "cycle");
    s.body.done("take", json!({"card": s.cards[0]}));
    let mut other = s.shop.user("Lena Brand", "body", Role::Technician);
    let lost = other.act("take", json!({"card": s.cards[0]}));
    refused(&lost, "taken");
    assert_eq!(lost["by"], json!(s.body.id), "the loser learns who");
    assert!(lost["at"].is_i64(), "and when");
    refused(&s.mechanic.act("take", json!({"card": s.cards[1]})), "not_ready");
    let past = s.shop.clock.now() - DAY;
    refused(&s.manager.act("promise", json!({"order": s.order, "due": past})), "promise_past");
    // Saturday is closed in the starter calendar; 2026-06-06 is one.
    refused(
        &s.manager.act("promise", json!({"order": s.order, "due": s.shop.clock.now() + 5 * DAY})),
        "promise_closed",
    );
    let title = "x".repeat(10_000);
    let long =
        json!({"order": s.order, "department": "body", "title": {"text": title}, "planned_minutes": 5});
    refused(&s.body.act("add_card", long), "invalid");
    refused(&s.body.act("promise", json!({"order": s.order, "due": null})), "forbidden");
    refused(
        &s.body.act(
            "put_first",
            json!({"card": s.cards[0], "reason": "mine", "until": s.shop.clock.now() + DAY}),
        ),
        "forbidden",
    );
    let twice = json!({"number": "2041", "vehicle": "another"});
    refused(&s.manager.act("open_order", twice), "duplicate_number");
    refused(
        &s.body.act(
            "photo",
            json!({"order": s.order, "sha256": "nonsense", "mime": "image/jpeg", "bytes": 3, "taken_at": 0}),
        ),
        "invalid",
    );
    refused(&s.body.act("dance", json!({})), "invalid");
    // Nothing was half-done.
    assert_eq!(s.shop.doc(&format!("order/{}", s.order))["cards"].as_array().unwrap().len(), 2);
}

#[test]
fn facts_are_recorded_with_an_exception() {
    let mut s = scene();
    let early = s.body.act("start", json!({"card": s.cards[1]}));
    assert_eq!(
        (&early["verdict"], &early["exceptions"]),
        (&json!("applied"), &json!(["started_early"])),
        "{early}"
    );
    assert_eq!(s.shop.doc(&format!("card/{}", s.cards[1]))["life"], "working");
    let told = s.manager.notices();
    assert!(told.iter().any(|n| n["kind"] == "exception"), "{told:?}");
}

#[test]
fn closing_over_undone_work_stands_until_somebody_answers() {
    let mut s = scene();
    let ask = json!({"order": s.order, "routing": "suspension-down-rear", "from": "body"});
    let handoff = s.body.done("ask", ask);
    let cards = s.shop.doc(&format!("handoff/{handoff}"))["cards"].clone();
    let step = |name: &str| {
        let ids = cards.as_array().unwrap().iter().map(|id| id.as_str().unwrap().to_owned());
        ids.into_iter().find(|id| s.shop.doc(&format!("card/{id}"))["step"] == name).unwrap()
    };
    let (down, refit) = (step("drop"), step("refit"));
    s.mechanic.done("start", json!({"card": down}));
    s.shop.clock.advance(30 * MINUTE);
    s.mechanic.done("finish", json!({"card": down}));
    s.mechanic.done("start", json!({"card": refit}));
    let closed = s.mechanic.act("finish", json!({"card": refit}));
    assert!(closed["exceptions"].as_array().unwrap().contains(&json!("closed_over_undone")), "{closed}");
    let alarm = s.manager.notices().into_iter().find(|n| n["urgent"] == true).expect("an urgent notice");
    let exception = alarm["exception"].as_str().unwrap().to_owned();
    refused(&s.body.act("answer", json!({"exception": exception, "reason": "was dry"})), "forbidden");
    refused(&s.manager.act("answer", json!({"exception": exception, "reason": " "})), "invalid");
    s.manager.done("answer", json!({"exception": exception, "reason": "Sealed from above, photo taken"}));
    assert_eq!(s.shop.doc(&format!("exception/{exception}"))["answered_by"], json!(s.manager.id));
}

#[test]
fn a_doubtful_vin_is_kept_with_a_warning() {
    let mut s = scene();
    let order = s
        .manager
        .done("open_order", json!({"number": "2042", "vehicle": "red van", "vin": "ZZ9AAAAA1AAAAAAAA"}));
    let doc = s.shop.doc(&format!("order/{order}"));
    assert_eq!((&doc["vin"], &doc["vin_doubtful"]), (&json!("ZZ9AAAAA1AAAAAAAA"), &json!(true)));
}

#[test]
fn the_future_is_now() {
    let mut s = scene();
    let mut op = s.body.op("start", json!({"card": s.cards[0]}));
    op["device_at"] = json!(s.shop.clock.now() + 3 * DAY);
    let (status, answer) = s.body.push(vec![op]);
    assert_eq!((status, &answer["results"][0]["verdict"]), (200, &json!("applied")));
    let span = s.shop.doc(&format!("card/{}", s.cards[0]))["spans"][0].clone();
    assert_eq!((&span["from"], &span["uncertain"]), (&json!(s.shop.clock.now()), &json!(true)), "{span}");
}

#[test]
fn requests_that_are_not_right() {
    let mut s = scene();
    let url = |path: &str| format!("{}{path}", s.shop.base);
    let mut answer = s
        .body
        .agent
        .post(url("/api/v1/sync/push"))
        .header("Content-Type", "application/json")
        .send("{\"epoch\":")
        .unwrap();
    let body: Value = answer.body_mut().read_json().unwrap();
    assert_eq!((answer.status().as_u16(), &body["code"]), (400, &json!("malformed")), "{body}");
    let (status, body) = s.body.push(vec![json!({"kind": "take"})]);
    assert_eq!((status, &body["code"]), (400, &json!("malformed")), "{body}");
    let many: Vec<Value> = (0..101).map(|_| s.body.op("take", json!({"card": s.cards[0]}))).collect();
    let (status, body) = s.body.push(many);
    assert_eq!((status, &body["code"]), (413, &json!("too_large")), "{body}");
    let note = "x".repeat(turnbuckle::limits::PUSH_BYTES_MAX);
    let large = s.body.op("note", json!({"order": s.order, "body": note}));
    let (status, body) = s.body.push(vec![large]);
    assert_eq!((status, &body["code"]), (413, &json!("too_large")), "{body}");
    let token = "x".repeat(turnbuckle::limits::BODY_BYTES_MAX);
    let (status, body) = s.body.post("/api/v1/auth/join", json!({"token": token}));
    assert_eq!((status, &body["code"]), (413, &json!("too_large")), "{body}");
    let (status, body) = s.body.get("/api/v1/nothing");
    assert_eq!((status, &body["code"]), (404, &json!("not_found")), "{body}");
    let (status, body) = s.body.get("/api/v1/measures?from=9&to=1");
    assert_eq!((status, &body["code"]), (422, &json!("stretch")), "{body}");
}

#[test]
fn a_time_zone_that_is_none_is_not_counted_as_utc() {
    let mut s = scene();
    let shop = |zone: &str| json!({"shop": {"name": "Two Rivers", "time_zone": zone, "calendar": "day", "language": "en"}});
    let told = s.manager.act("set_shop", shop("Chicago"));
    refused(&told, "invalid");
    assert!(told["message"].as_str().unwrap().contains("America/Chicago"), "{told}");
    let calendar = s.shop.doc("shop/shop")["calendar"].clone();
    let mut right = shop("America/Denver");
    right["shop"]["calendar"] = calendar;
    s.manager.done("set_shop", right);
    assert_eq!(s.shop.doc("shop/shop")["time_zone"], "America/Denver");
}
