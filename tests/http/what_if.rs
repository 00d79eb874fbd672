//! What if, by its address: who may ask what, the answer against the plan that then comes, what is said otherwise.

use domain::MINUTE;
use domain::stored::Role;
use serde_json::{Value, json};
use uuid::Uuid;

use crate::support::{Shop, User, agent};

const PATH: &str = "/api/v1/what-if";

struct Two {
    shop: Shop,
    planner: User,
    body: User,
    /// Two hours from now on; three hours after that. One technician.
    first: String,
    second: String,
    card: String,
}

fn two() -> Two {
    let shop = Shop::start();
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    let body = shop.user("Tomas Okafor", "body", Role::Technician);
    let due = shop.clock.now() + 3 * 60 * MINUTE;
    let mut vehicle = |number: &str, minutes: u32, promise: i64| {
        let open = json!({"number": number, "vehicle": "grey wagon", "stage": "authorised"});
        let order = planner.done("open_order", open);
        let card = json!({"order": order, "department": "body", "title": {"text": "Pull rail"}, "planned_minutes": minutes});
        let card = planner.done("add_card", card);
        planner.done("promise", json!({"order": order, "due": promise}));
        (order, card)
    };
    let (first, _) = vehicle("2041", 120, due);
    let (second, card) = vehicle("2042", 180, due + 180 * MINUTE);
    shop_has(&shop, 2);
    Two { shop, planner, body, first, second, card }
}

/// The plan that is shown has so many rows.
fn shop_has(shop: &Shop, rows: usize) {
    let looks = shop.user("Ada Reyes", "office", Role::Technician);
    looks.plan(|plan| plan["rows"].as_array().is_some_and(|all| all.len() == rows));
}

fn ask(user: &User, change: Value) -> (u16, Value) {
    user.post(PATH, json!({"changes": [change]}))
}

#[test]
fn anybody_may_ask_what_happens_if_something_goes_first() {
    let two = two();
    let now = two.shop.clock.now();
    let head = two.shop.opened.view().head.seq;
    for change in [
        json!({"change": "card_first", "card": two.card}),
        json!({"change": "vehicle_first", "order": two.second}),
    ] {
        let (status, said) = ask(&two.body, change.clone());
        assert_eq!(status, 200, "{said}");
        assert_eq!((&said["at"], &said["seq"]), (&json!(now), &json!(head)));
        assert_eq!((&said["later"], &said["earlier"], &said["same"]), (&json!(1), &json!(1), &json!(0)));
        // From 9:00: two hours, or three and the noon break and two; promised for noon, at usual urgency.
        let later = json!({"order": two.first, "number": "2041", "promise": now + 180 * MINUTE,
            "finish_before": now + 120 * MINUTE, "finish_after": now + 330 * MINUTE,
            "later_minutes": 210, "late_before_minutes": 0, "late_after_minutes": 150});
        assert_eq!(said["rows"][0], later);
        assert_eq!(said["rows"][1]["later_minutes"], -120);
        assert_eq!(said["before"], json!({"late_vehicles": 0, "weighted_minutes": 0}));
        assert_eq!(said["after"], json!({"late_vehicles": 1, "weighted_minutes": 300}));
        assert_eq!(ask(&two.planner, change).1, said, "the same to whoever asks");
    }
    assert_eq!(two.shop.opened.view().head.seq, head, "asking leaves no trace");
    assert_eq!(two.shop.doc(&format!("card/{}", two.card)).get("put_first"), None);
}

/// The rest is asked by who plans.
#[test]
fn roles() {
    let two = two();
    let tomorrow = two.shop.clock.now() + 22 * 60 * MINUTE;
    let away = json!({"change": "away", "person": two.body.id, "until": tomorrow});
    let (status, said) = ask(&two.body, away.clone());
    assert_eq!((status, &said["code"]), (403, &json!("forbidden")));
    let parts = two.shop.user("Noor Haddad", "parts", Role::Parts);
    assert_eq!(ask(&parts, away.clone()).0, 403);
    for role in [Role::Planner, Role::Manager] {
        let (status, said) = ask(&two.shop.user("Mara Lindqvist", "office", role), away.clone());
        assert_eq!((status, &said["later"]), (200, &json!(2)), "{said}");
    }
    let url = format!("{}{PATH}", two.shop.base);
    assert_eq!(agent().post(&url).send_json(json!({"changes": []})).unwrap().status().as_u16(), 401);
}

#[test]
fn what_cannot_be_answered_is_said_in_one_sentence() {
    let two = two();
    let now = two.shop.clock.now();
    let nobody = Uuid::from_u128(7);
    let cases = [
        (json!({"change": "out_of_service", "equipment": "crane", "until": now + MINUTE}), 404, "not_found"),
        (json!({"change": "out_of_service", "equipment": "lift-1", "until": now}), 422, "past"),
        (json!({"change": "away", "person": nobody, "until": now + MINUTE}), 404, "not_found"),
        (json!({"change": "vehicle_first", "order": nobody}), 404, "not_found"),
        (
            json!({"change": "extra_shift", "department": "body", "day": "saturday", "from": 420, "to": 720}),
            422,
            "stretch",
        ),
        (
            json!({"change": "hold_until", "order": two.first, "hold": nobody, "due": now + 1}),
            404,
            "not_found",
        ),
        (json!({"change": "faster", "by": 2}), 400, "malformed"),
    ];
    for (change, status, code) in cases {
        let (got, said) = ask(&two.planner, change.clone());
        assert_eq!((got, &said["code"]), (status, &json!(code)), "{change}: {said}");
        let message = said["message"].as_str().unwrap();
        assert!(message.ends_with('.') && message.len() < 300, "{message}");
    }
    assert_eq!(two.planner.post(PATH, json!({"changes": []})).0, 422);
    let empty = Shop::start();
    let planner = empty.user("Greta Amsel", "office", Role::Planner);
    let away = json!({"change": "back", "person": planner.id, "until": now + MINUTE});
    let (status, said) = ask(&planner, away);
    assert_eq!((status, &said["code"]), (409, &json!("no_plan")), "nothing is planned: {said}");
}

/// What is accepted comes as it was said.
#[test]
fn putting_first_does_what_was_answered() {
    let mut two = two();
    let until = two.shop.clock.now() + 60 * MINUTE;
    let (_, said) = ask(&two.planner, json!({"change": "card_first", "card": two.card}));
    two.planner.done("put_first", json!({"card": two.card, "reason": "Customer waits", "until": until}));
    let finish = |plan: &Value, order: &Value| {
        let all = plan["vehicles"].as_array().cloned().unwrap_or_default();
        all.iter().find(|v| v["order"] == *order).map(|v| v["finish"].clone())
    };
    for row in said["rows"].as_array().unwrap() {
        two.planner.plan(|plan| finish(plan, &row["order"]).as_ref() == Some(&row["finish_after"]));
    }
}

#[test]
fn planners_are_told_where_an_hour_saves_most() {
    let two = two();
    let mut planner = two.planner;
    // The second cannot be ready in an hour: five hours of work lie before one technician.
    planner.done("promise", json!({"order": two.second, "due": two.shop.clock.now() + 60 * MINUTE}));
    planner.plan(|plan| {
        plan["vehicles"].as_array().is_some_and(|all| all.iter().any(|v| v["late_minutes"] != 0))
    });
    let (status, said) = planner.get("/api/v1/jam");
    assert_eq!(status, 200, "{said}");
    assert!(said["now"]["late_vehicles"].as_u64() > Some(0), "{said}");
    let first = &said["reliefs"][0];
    assert_eq!(
        (&first["extra"], &first["department"], &first["people"]),
        (&json!("hour"), &json!("body"), &json!(1))
    );
    assert_eq!(first["to"].as_u64().unwrap() - first["from"].as_u64().unwrap(), 60, "{first}");
    let saved = said["now"]["weighted_minutes"].as_i64().unwrap()
        - first["then"]["weighted_minutes"].as_i64().unwrap();
    assert_eq!(first["saved_minutes"].as_i64(), Some(saved));
    let (status, said) = two.body.get("/api/v1/jam");
    assert_eq!((status, &said["code"]), (403, &json!("forbidden")));
    let empty = Shop::start();
    let (status, said) = empty.user("Greta Amsel", "office", Role::Planner).get("/api/v1/jam");
    assert_eq!((status, &said["code"]), (409, &json!("no_plan")), "nothing is planned: {said}");
}
