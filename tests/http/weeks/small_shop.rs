//! Three people are everything: one of them plans, manages and paints, and is away on Friday.

use domain::stored::Role;
use jiff::tz::TimeZone;
use serde_json::json;

use super::{HOUR, card, order, row};
use crate::support::Shop;

#[test]
fn a_painter_who_plans_and_is_away_on_friday() {
    let shop = Shop::start();
    let mut paula = shop.user("Paula Renn", "refinish", Role::Planner);
    let _body = shop.user("Tomas Okafor", "body", Role::Technician);
    let now = shop.clock.now();
    let zone = TimeZone::get("America/Chicago").unwrap();
    let at = |day: i8, hour: i8| {
        let local = jiff::civil::date(2026, 6, day).at(hour, 0, 0, 0);
        zone.to_timestamp(local).unwrap().as_millisecond()
    };
    // Friday is 5 June.
    let (friday, saturday) = (at(5, 0), at(6, 0));
    let mut person = shop.doc(&format!("person/{}", paula.id));
    person["away"] = json!([{"from": friday, "to": saturday}]);
    let mut manager = shop.user("Nora Vance", "office", Role::Manager);
    manager.done("set_person", json!({ "person": person }));
    let mut paint = Vec::new();
    for number in 2041..2047 {
        let order = order(&mut paula, &number.to_string());
        let prep = card(&mut paula, &order, "body", 60, &[]);
        paint.push(card(&mut paula, &order, "refinish", 7 * 60, &[&prep]));
    }
    let plan = paula.plan(|plan| paint.iter().all(|card| row(plan, card).is_some()));
    let spans = paint.iter().map(|card| {
        let row = row(&plan, card).unwrap();
        (row["from"].as_i64().unwrap(), row["to"].as_i64().unwrap())
    });
    let mut days = 0;
    for (from, to) in spans {
        assert!(from < to && from >= now, "{from} {to}");
        let on_friday = |at: i64| (friday..saturday).contains(&at);
        assert!(!on_friday(from) && !on_friday(to - 1), "painted while the only painter is away");
        days = days.max((to - now) / (24 * HOUR));
    }
    assert!(days >= 6, "forty-two hours of painting reach past the weekend");
}
