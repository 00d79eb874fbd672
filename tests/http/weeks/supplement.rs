//! More is found inside: it waits for the insurer, and the car is not closed over it.

use domain::stored::Role;
use serde_json::{Value, json};

use super::{HOUR, card, order, row, seen, step, told};
use crate::support::Shop;

#[test]
fn a_supplement_found_at_the_open_car_waits_for_approval_and_then_for_nobody_else() {
    let shop = Shop::start();
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    let mut tomas = shop.user("Tomas Okafor", "body", Role::Technician);
    let mut lena = shop.user("Lena Sorel", "mechanical", Role::Technician);
    let order = order(&mut planner, "2041");
    let seal = card(&mut planner, &order, "body", 60, &[]);
    tomas.done(
        "ask",
        json!({"order": order, "routing": "suspension-down-rear", "from": "body", "for_card": seal}),
    );
    assert_eq!(told(&lena), ["asked"]);
    let (drop, refit) = (step(&planner, &order, "drop"), step(&planner, &order, "refit"));
    lena.done("move", json!({"order": order, "to": "lift-1"}));
    lena.done("start", json!({"card": drop}));
    shop.clock.advance(HOUR);
    lena.done("finish", json!({"card": drop, "checks": []}));
    assert!(told(&tomas).contains(&"open".to_owned()), "{:?}", told(&tomas));
    // Tomas finds a cracked rail and proposes the work; nobody may begin it yet.
    tomas.done(
        "found",
        json!({"order": order, "card": seal, "what": "damaged", "note": "rail cracked behind the seam"}),
    );
    let add = json!({
        "order": order, "department": "body", "title": {"text": "Section the rail"}, "planned_minutes": 180,
        "after": [], "proposed": true, "inside": "suspension-down-rear"
    });
    let rail = tomas.done("add_card", add);
    assert_eq!(tomas.act("take", json!({"card": rail}))["code"], "not_ready");
    let waits = |card: &Value| card["after"].as_array().unwrap().iter().any(|link| link["card"] == rail);
    assert!(!waits(&seen(&lena, "card", &refit)), "nothing waits for what nobody approved");
    planner.done("hold", json!({"order": order, "what": "approval", "cards": [rail]}));
    let hold = seen(&planner, "order", &order)["holds"][0]["id"].clone();
    assert_eq!(tomas.act("unhold", json!({"order": order, "hold": hold}))["code"], "forbidden");
    // The insurer agrees.
    planner.done("edit_card", json!({"card": rail, "change": {"approved": true}}));
    planner.done("unhold", json!({"order": order, "hold": hold}));
    assert!(told(&tomas).contains(&"hold_ended".to_owned()), "{:?}", told(&tomas));
    assert!(waits(&seen(&lena, "card", &refit)), "the closing waits for what was approved");
    planner.plan(|plan| row(plan, &rail).is_some());
    assert_eq!(lena.act("take", json!({"card": refit}))["code"], "not_ready", "not over the open rail");
    for card in [&seal, &rail] {
        tomas.done("start", json!({"card": card}));
        shop.clock.advance(HOUR);
        tomas.done("finish", json!({"card": card, "checks": []}));
    }
    shop.clock.advance(HOUR);
    lena.done("start", json!({"card": refit}));
    shop.clock.advance(HOUR);
    lena.done("finish", json!({"card": refit, "checks": []}));
    let vehicle = seen(&tomas, "order", &order);
    assert_eq!(vehicle["open"], json!([]));
    let raised: Vec<_> = shop.opened.view().state.exceptions.values().map(|e| e.kind).collect();
    assert!(raised.is_empty(), "{raised:?}");
    let rest = seen(&lena, "order", &order)["cards"].clone();
    for id in rest.as_array().unwrap().iter().map(|id| id.as_str().unwrap()) {
        if seen(&lena, "card", id)["life"] == "waiting" {
            lena.done("finish", json!({"card": id, "checks": []}));
        }
    }
    assert!(told(&tomas).contains(&"handed_back".to_owned()), "{:?}", told(&tomas));
}
