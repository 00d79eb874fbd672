//! A total loss in the middle of the work: what was to come is dropped, what is open is put back, and nobody answers for it.

use domain::stored::Role;
use serde_json::json;

use super::{card, order, row, step};
use crate::support::Shop;

#[test]
fn a_car_that_is_a_total_loss_is_put_back_on_its_wheels_and_no_more() {
    let shop = Shop::start();
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    let _body = shop.user("Tomas Okafor", "body", Role::Technician);
    let mut mechanic = shop.user("Lena Sorel", "mechanical", Role::Technician);
    let order = order(&mut planner, "2041");
    let seal = card(&mut planner, &order, "body", 60, &[]);
    planner.done(
        "ask",
        json!({"order": order, "routing": "suspension-down-rear", "from": "body", "for_card": seal}),
    );
    let paint = card(&mut planner, &order, "refinish", 240, &[&seal]);
    let (drop, refit) = (step(&planner, &order, "drop"), step(&planner, &order, "refit"));
    mechanic.done("move", json!({"order": order, "to": "lift-1"}));
    mechanic.done("start", json!({"card": drop}));
    mechanic.done("finish", json!({"card": drop, "checks": []}));
    planner.plan(|plan| row(plan, &paint).is_some());

    planner.done(
        "stage",
        json!({"order": order, "stage": "stopped", "reason": "The insurer calls it a total loss."}),
    );
    let plan = planner.plan(|plan| row(plan, &paint).is_none() && row(plan, &refit).is_some());
    assert!(row(&plan, &seal).is_none(), "nobody seals a wreck");
    let cards: Vec<&str> =
        plan["rows"].as_array().unwrap().iter().map(|row| row["card"].as_str().unwrap()).collect();
    assert_eq!(cards, [&refit], "only what puts it back on its wheels");
    mechanic.done("take", json!({"card": refit}));
    mechanic.done("start", json!({"card": refit}));
    mechanic.done("finish", json!({"card": refit, "checks": []}));
    let state = &shop.opened.view().state;
    let raised: Vec<_> = state.exceptions.values().map(|e| e.kind).collect();
    assert!(raised.is_empty(), "{raised:?}");
    let order = state.orders.values().find(|o| o.number == "2041").unwrap();
    assert!(order.open.is_empty());
    let reasons = order.stages.iter().filter_map(|stage| stage.reason.as_deref());
    assert_eq!(reasons.collect::<Vec<_>>(), ["The insurer calls it a total loss."]);
}
