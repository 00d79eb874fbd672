//! The main job, through the API: ask → told → order with its reason → take → work → open → seal →
//! refit → refinish is next → measures.

use domain::MINUTE;
use domain::stored::Role;
use serde_json::{Value, json};

use crate::support::{Shop, User};

fn order(planner: &mut User, number: &str, vehicle: &str) -> String {
    planner.done("open_order", json!({"number": number, "vehicle": vehicle, "stage": "authorised"}))
}

fn card_of(shop: &Shop, order: &str, step: &str) -> Value {
    let doc = shop.doc(&format!("order/{order}"));
    let cards = doc["cards"].as_array().unwrap();
    let all = cards.iter().map(|id| shop.doc(&format!("card/{}", id.as_str().unwrap())));
    all.into_iter().find(|card| card["step"] == step).unwrap_or_else(|| panic!("no step {step}"))
}

fn kinds(user: &User) -> Vec<String> {
    user.notices().iter().map(|n| n["kind"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn the_whole_turn() {
    let shop = Shop::start();
    let mut manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let mut body = shop.user("Tomas Okafor", "body", Role::Technician);
    let mut mechanic = shop.user("Ines Duarte", "mechanical", Role::Technician);
    let painter = shop.user("Piotr Hale", "refinish", Role::Technician);
    let order = order(&mut manager, "2041", "grey wagon");
    let seal = body.done(
        "add_card",
        json!({"order": order, "department": "body", "title": {"text": "Seal wheelhouse seam"}, "planned_minutes": 40}),
    );
    let prep = manager.done(
        "add_card",
        json!({"order": order, "department": "refinish", "title": {"text": "Prepare and prime"},
               "planned_minutes": 120, "after": [{"card": seal}]}),
    );
    let due = shop.clock.now() + 30 * 60 * MINUTE;
    manager.done("promise", json!({"order": order, "due": due}));

    // The body technician asks; the mechanic is told, the asker is not.
    let handoff = body.done(
        "ask",
        json!({"order": order, "routing": "suspension-down-rear", "from": "body", "for_card": seal,
               "note": "Left rail seam too", "condition": {"rolls": true, "lifting_points": "sound"}}),
    );
    assert_eq!(kinds(&mechanic), ["asked"]);
    assert!(body.notices().is_empty());

    // It stands in the computed order, with its reason; refinish waits for the refit now.
    let drop = card_of(&shop, &order, "drop");
    let drop_id = drop["id"].as_str().unwrap().to_owned();
    let plan = mechanic.plan(|plan| {
        plan["rows"].as_array().is_some_and(|rows| rows.iter().any(|r| r["card"] == drop["id"]))
    });
    let row = plan["rows"].as_array().unwrap().iter().find(|r| r["card"] == drop["id"]).unwrap();
    assert_eq!((&row["place"], &row["reason"]["binding"]["kind"]), (&json!(1), &json!("now")), "{row}");
    assert_eq!(row["reason"]["next"]["department"], "body");
    assert_eq!(row["reason"]["next"]["waits_only_for_this"], true);
    let refit = card_of(&shop, &order, "refit");
    let after = shop.doc(&format!("card/{prep}"))["after"].clone();
    let waits = after.as_array().unwrap().iter().any(|link| link["card"] == refit["id"]);
    assert!(waits, "refinish waits for the refit: {after}");

    // Taken: the asker knows. Worked: the vehicle is open and the asker is told.
    mechanic.done("take", json!({"card": drop_id}));
    assert_eq!(kinds(&body), ["taken"]);
    shop.clock.advance(10 * MINUTE);
    mechanic.done("move", json!({"order": order, "to": "lift-2", "on": "lift"}));
    mechanic.done("start", json!({"card": drop_id}));
    shop.clock.advance(50 * MINUTE);
    mechanic.done("finish", json!({"card": drop_id}));
    assert_eq!(kinds(&body), ["taken", "open"]);
    assert_eq!(shop.doc(&format!("order/{order}"))["open"][0]["open"], "suspension-down-rear");
    assert_eq!(shop.doc(&format!("handoff/{handoff}"))["life"], "open");

    // Sealed inside the open state; then it cures, and the mechanic may refit.
    body.done("start", json!({"card": seal}));
    shop.clock.advance(40 * MINUTE);
    body.done("finish", json!({"card": seal}));
    let ready_at = card_of(&shop, &order, "refit")["ready_at"].as_i64().unwrap();
    assert!(ready_at > shop.clock.now(), "the sealer cures before the refit");
    shop.clock.advance(ready_at - shop.clock.now());
    mechanic.done("start", json!({"card": refit["id"]}));
    shop.clock.advance(60 * MINUTE);
    let result = mechanic.act("finish", json!({"card": refit["id"]}));
    assert_eq!(result["exceptions"], Value::Null, "{result}");
    assert_eq!(shop.doc(&format!("order/{order}"))["open"], json!([]));
    assert!(kinds(&painter).contains(&"next".to_owned()), "{:?}", kinds(&painter));

    // The manager sees how long it took.
    let (from, to) = (shop.clock.now() - 24 * 60 * MINUTE, shop.clock.now() + 1);
    let (status, measures) = manager.get(&format!("/api/v1/measures?from={from}&to={to}"));
    assert_eq!(status, 200);
    let of =
        |id: &str| measures["measures"].as_array().unwrap().iter().find(|m| m["id"] == id).unwrap().clone();
    assert_eq!(of("asked_to_taken")["value"], 0.0);
    let started = of("asked_to_started");
    assert!((started["value"].as_f64().unwrap() - 10.0 / 60.0).abs() < 1e-9, "{started}");
    let held = of("equipment_held");
    assert!(held["value"].as_f64().unwrap() > 2.5, "{held}");
    let clocked = of("touch_clocked")["by"]["mechanical"]["value"].as_f64().unwrap();
    assert!((clocked - 110.0 / 60.0).abs() < 1e-9, "50 minutes down, 60 minutes up: {clocked}");
}
