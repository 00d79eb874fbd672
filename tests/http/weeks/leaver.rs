//! A mechanic leaves at noon; what her phone still had, and the car whose keys were said to be back, come out right.

use domain::MINUTE;
use domain::stored::Role;
use serde_json::{Value, json};

use super::{HOUR, card, order, row, seen, told};
use crate::support::Shop;

#[test]
fn a_mechanic_leaves_and_her_cards_fall_free_also_those_she_took_without_a_network() {
    let shop = Shop::start();
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    let mut manager = shop.user("Nora Vance", "office", Role::Manager);
    let mut milo = shop.user("Milo Crane", "mechanical", Role::Technician);
    let mut lena = shop.user("Lena Sorel", "mechanical", Role::Technician);
    let order = order(&mut planner, "2041");
    let first = card(&mut planner, &order, "mechanical", 60, &[]);
    let second = card(&mut planner, &order, "mechanical", 60, &[]);
    lena.done("take", json!({"card": first}));
    // In the yard, without a network.
    let late = lena.op("take", json!({"card": second}));
    shop.clock.advance(HOUR);
    let mut person = seen(&manager, "person", &lena.id.to_string());
    person["retired"] = json!(true);
    manager.done("set_person", json!({ "person": person }));
    assert_eq!(told(&planner), ["fell_free"], "the planner hears of what she held");
    assert!(told(&manager).is_empty(), "who removed her knows");
    assert_eq!(seen(&milo, "card", &first)["taken_by"], Value::Null);
    shop.clock.advance(MINUTE);
    // Her own sign-in is over; nothing of it may hand a card to her any more.
    let (status, answer) = lena.push(vec![late]);
    assert_eq!(status, 401, "{answer}");
    assert_eq!(seen(&milo, "card", &second)["taken_by"], Value::Null);
    for card in [&first, &second] {
        milo.done("take", json!({"card": card}));
    }
    let plan = planner.plan(|plan| row(plan, &first).is_some() && row(plan, &second).is_some());
    let lena = lena.id.to_string();
    assert!(
        plan["rows"].as_array().unwrap().iter().all(|row| row["person"] != lena),
        "nothing is planned for her"
    );
}

#[test]
fn keys_said_to_be_back_of_the_wrong_car_are_taken_back_and_the_day_is_counted_right() {
    let shop = Shop::start();
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    let manager = shop.user("Nora Vance", "office", Role::Manager);
    let mut milo = shop.user("Milo Crane", "mechanical", Role::Technician);
    let order = order(&mut planner, "2041");
    let card = card(&mut planner, &order, "mechanical", 60, &[]);
    let due = shop.clock.now() + 48 * HOUR;
    planner.done("promise", json!({"order": order, "due": due}));
    milo.done("take", json!({"card": card}));
    let throughput = || {
        let (status, all) = planner_measures(&manager);
        assert_eq!(status, 200, "{all}");
        let all = all["measures"].as_array().unwrap();
        all.iter().find(|measure| measure["id"] == "throughput").unwrap()["count"].clone()
    };
    planner.done("stage", json!({"order": order, "stage": "delivered"}));
    shop.clock.advance(HOUR);
    assert_eq!(throughput(), 1);
    planner.plan(|plan| row(plan, &card).is_none());
    // Nobody but the office says so, and never without why.
    let back = |reason: &str| json!({"order": order, "stage": "delivered", "reason": reason});
    assert_eq!(milo.act("stage_back", back("it stands here"))["code"], "forbidden");
    assert_eq!(planner.act("stage_back", back(" "))["code"], "invalid");
    planner.done("stage_back", back("The other grey wagon left."));
    let here = seen(&milo, "order", &order);
    assert_eq!((&here["stage"], &here["promise"]), (&json!("authorised"), &json!(due)));
    assert_eq!(here["taken_back"][0]["reason"], "The other grey wagon left.");
    assert_eq!(told(&milo).last().unwrap(), "stage_taken_back", "who holds work on it is told");
    planner.plan(|plan| row(plan, &card).is_some());
    assert_eq!(throughput(), 0, "it has not left");
    assert_eq!(planner.act("stage_back", back("once more"))["code"], "nothing_to_undo");
}

fn planner_measures(manager: &crate::support::User) -> (u16, Value) {
    manager.get("/api/v1/measures?from=2026-06-01&to=2026-06-01")
}
