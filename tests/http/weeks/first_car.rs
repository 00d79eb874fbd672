//! A shop's first car: the order ends, names what is next, and survives a restart.

use std::sync::Arc;

use domain::stored::Role;
use serde_json::{Value, json};
use store::{Memory, Store};
use turnbuckle::clock::Clock;

use super::{card, order, row};
use crate::support::{Shop, monday};

/// Two cards in a row leave a search nothing to exchange: it must end all the same, or a second car never gets a place.
#[test]
fn the_second_car_gets_a_place_beside_a_first_whose_work_is_one_chain() {
    let shop = Shop::start();
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    let _body = shop.user("Tomas Okafor", "body", Role::Technician);
    let _mechanic = shop.user("Lena Sorel", "mechanical", Role::Technician);
    let first = order(&mut planner, "2041");
    let tear = card(&mut planner, &first, "body", 60, &[]);
    let pull = card(&mut planner, &first, "body", 90, &[&tear]);
    planner.plan(|plan| row(plan, &pull).is_some());
    planner.done(
        "ask",
        json!({"order": first, "routing": "suspension-down-rear", "from": "body", "for_card": pull}),
    );
    planner.plan(|plan| plan["rows"].as_array().is_some_and(|rows| rows.len() >= 4));
    let second = order(&mut planner, "2042");
    let bumper = card(&mut planner, &second, "body", 30, &[]);
    let plan = planner.plan(|plan| row(plan, &bumper).is_some());
    assert!(row(&plan, &bumper).unwrap()["place"].as_u64().unwrap() >= 1);
    assert_eq!(shop.opened.view().state.in_shop().count(), 2);
}

fn rows(plan: &Value) -> Vec<(String, i64, u64)> {
    let of = |row: &Value| {
        (row["card"].as_str().unwrap().into(), row["from"].as_i64().unwrap(), row["place"].as_u64().unwrap())
    };
    plan["rows"].as_array().unwrap().iter().map(of).collect()
}

/// People come back to the order they left, not to another that is as good.
#[test]
fn a_restart_goes_on_from_the_order_that_was_shown() {
    let store: Arc<dyn Store> = Arc::new(Memory::new(11));
    let clock = Clock::at(monday());
    let shop = Shop::start_with(store.clone(), clock.clone(), None);
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    for name in ["Tomas Okafor", "Ines Brandt"] {
        shop.user(name, "body", Role::Technician);
    }
    let mut last = String::new();
    for number in 2041..2049 {
        let order = order(&mut planner, &number.to_string());
        let first = card(&mut planner, &order, "body", 40 + number % 7 * 20, &[]);
        last = card(&mut planner, &order, "body", 90, &[&first]);
    }
    let plan = planner.plan(|plan| row(plan, &last).is_some() && rows(plan).len() == 16);
    let before = rows(&planner.plan(|now| now["rev"].as_u64() >= plan["rev"].as_u64()));
    let person = planner.id;
    drop(shop);

    let shop = Shop::start_with(store, clock, None);
    let planner = shop.sign_in(person);
    let again = planner.plan(|plan| row(plan, &last).is_some());
    assert_eq!(rows(&again), before);
    assert!(
        again["rev"].as_u64() > plan["rev"].as_u64(),
        "phones that saw the plan before take this one for newer"
    );
}
