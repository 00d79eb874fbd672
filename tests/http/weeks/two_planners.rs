//! Two planners on the telephone with two customers, neither of whom sees what the other does.

use domain::stored::Role;
use serde_json::json;

use super::{HOUR, card, order, row, seen, told};
use crate::support::Shop;

#[test]
fn two_planners_promise_and_order_without_seeing_each_other() {
    let shop = Shop::start();
    let mut greta = shop.user("Greta Amsel", "office", Role::Planner);
    let mut jonas = shop.user("Jonas Ried", "office", Role::Planner);
    let mut milo = shop.user("Milo Crane", "mechanical", Role::Technician);
    let lena = shop.user("Lena Sorel", "mechanical", Role::Technician);
    let order = order(&mut greta, "2041");
    let brakes = card(&mut greta, &order, "mechanical", 60, &[]);
    let (wednesday, thursday) = (shop.clock.now() + 48 * HOUR, shop.clock.now() + 72 * HOUR);
    let promise = |user: &mut crate::support::User, due: i64, seen: Option<i64>| {
        let mut op = user.op("promise", json!({"order": order, "due": due}));
        op["expect"] = json!([{"that": "promise", "order": order, "due": seen}]);
        user.push(vec![op]).1["results"][0].clone()
    };
    assert_eq!(promise(&mut greta, wednesday, None)["verdict"], "applied");
    // Jonas had no promise on his screen when he picked Thursday.
    let refused = promise(&mut jonas, thursday, None);
    assert_eq!((&refused["verdict"], &refused["code"]), (&json!("refused"), &json!("promised_otherwise")));
    assert_eq!(refused["by"], greta.id.to_string(), "he is told who was first");
    assert_eq!(told(&jonas), ["refused"]);
    assert_eq!(seen(&jonas, "order", &order)["promise"], wednesday);
    // Now he has seen it, and means it.
    assert_eq!(promise(&mut jonas, thursday, Some(wednesday))["verdict"], "applied");
    let now = seen(&greta, "order", &order);
    assert_eq!((&now["promise"], &now["promised_by"]), (&json!(thursday), &json!(jonas.id.to_string())));
    // The same day twice is no quarrel.
    assert_ne!(promise(&mut greta, thursday, Some(wednesday))["verdict"], "refused");

    // Both give the same card away: the second takes it from the first one's man, who is told.
    greta.done("assign", json!({"card": brakes, "to": milo.id}));
    jonas.done("assign", json!({"card": brakes, "to": lena.id}));
    assert_eq!(told(&milo), ["assigned", "taken_away"]);
    assert_eq!(told(&lena), ["assigned"]);
    let late = milo.act("take", json!({"card": brakes}));
    assert_eq!((&late["code"], &late["by"]), (&json!("taken"), &json!(lena.id.to_string())));
    greta.plan(|plan| row(plan, &brakes).is_some());
    // One opens a number that the other has just opened: the second learns it, and has not lost what was typed.
    let open = json!({"number": "2042", "vehicle": "red hatch", "stage": "authorised"});
    greta.done("open_order", open.clone());
    assert_eq!(jonas.act("open_order", open)["code"], "duplicate_number");
}
