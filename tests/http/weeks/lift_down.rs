//! A lift goes down while a car stands open on it: the other lift works on, and nobody is sent to the dead one.

use domain::stored::Role;
use serde_json::{Value, json};

use super::{HOUR, card, order, row, step};
use crate::support::{Shop, User};

struct Down {
    shop: Shop,
    manager: User,
    planner: User,
    /// On what stands open on lift 1: a seam to be sealed, and then the refit.
    seal: String,
    refit: String,
    /// A second car's, with nothing done yet.
    drop: String,
}

fn down() -> Down {
    let shop = Shop::start();
    let manager = shop.user("Nora Vance", "office", Role::Manager);
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    let _body = shop.user("Tomas Okafor", "body", Role::Technician);
    let mut mechanic = shop.user("Lena Sorel", "mechanical", Role::Technician);
    let _another = shop.user("Milo Crane", "mechanical", Role::Technician);
    let ask = |planner: &mut User, number: &str| {
        let order = order(planner, number);
        let seal = card(planner, &order, "body", 60, &[]);
        planner.done(
            "ask",
            json!({"order": order, "routing": "suspension-down-rear", "from": "body", "for_card": seal}),
        );
        (order.clone(), seal, step(planner, &order, "drop"), step(planner, &order, "refit"))
    };
    let (first, seal, first_drop, refit) = ask(&mut planner, "2041");
    mechanic.done("move", json!({"order": first, "to": "lift-1"}));
    mechanic.done("start", json!({"card": first_drop}));
    mechanic.done("finish", json!({"card": first_drop, "checks": []}));
    let opened = shop.doc(&format!("order/{first}"));
    assert_eq!(opened["open"][0]["equipment"], "lift-1");
    let (_, _, drop, _) = ask(&mut planner, "2042");
    Down { shop, manager, planner, seal, refit, drop }
}

fn lift(shop: &Shop, change: impl FnOnce(&mut Value)) -> Value {
    let mut lift = shop.doc("equipment/lift-1");
    change(&mut lift);
    json!({ "equipment": lift })
}

#[test]
fn out_of_service_until_tomorrow() {
    let mut d = down();
    let now = d.shop.clock.now();
    let back = now + 25 * HOUR;
    let out = lift(&d.shop, |lift| lift["out_of_service"] = json!([{"from": now, "to": back}]));
    d.manager.done("set_equipment", out);
    let plan =
        d.planner.plan(|plan| row(plan, &d.refit).is_some_and(|row| row["from"].as_i64() >= Some(back)));
    let drop = row(&plan, &d.drop).unwrap();
    assert_eq!(drop["equipment"], "lift-2");
    assert!(drop["from"].as_i64().unwrap() < back, "lift 2 does not wait for lift 1");
    // Sealed on a lift that nobody may use? It waits for the lift, and says so; the refit waits for the sealer.
    let seal = row(&plan, &d.seal).unwrap();
    assert_eq!((&seal["from"], &seal["reason"]["binding"]["kind"]), (&json!(back), &json!("equipment")));
    assert_eq!(row(&plan, &d.refit).unwrap()["equipment"], "lift-1");
}

#[test]
fn taken_out_of_the_shop_with_a_car_on_it() {
    let mut d = down();
    let gone = lift(&d.shop, |lift| lift["retired"] = json!(true));
    d.manager.done("set_equipment", gone);
    let week = d.shop.clock.now() + 7 * 24 * HOUR;
    let plan =
        d.planner.plan(|plan| row(plan, &d.refit).is_some_and(|row| row["from"].as_i64() > Some(week)));
    assert_eq!(row(&plan, &d.drop).unwrap()["equipment"], "lift-2");
    assert!(row(&plan, &d.drop).unwrap()["from"].as_i64().unwrap() < week);
}
