//! The planner over a change of the clock: a card worked at night, in the shop's zone. Dates and minutes of the changes are the
//! IANA time zone database's for Chicago, 2026: on 8 March at 02:00 an hour is missing, on 1 November it comes twice.

#[path = "support/mod.rs"]
mod support;

use domain::calendar::instant;
use domain::stored::{Act, Calendar, Role, Shift};
use domain::{MINUTE, Ms};
use jiff::tz::TimeZone;

use planner::{Effort, Plan, Shown, plan_now};
use serde_json::json;
use support::Shop;
use turnbuckle::clock::Clock;
use turnbuckle::serve::accepted;
use turnbuckle::shop::OwnOp;

const HOUR: Ms = 60 * MINUTE;

fn chicago(date: &str, hour: u16) -> Ms {
    instant(date.parse().unwrap(), hour * 60, &TimeZone::get("America/Chicago").unwrap()).unwrap()
}

/// Plans a card of eight hours at 21:00, for people who work from midnight to six and from 22:00 on.
fn planned(evening: &str) -> Plan {
    let now = chicago(evening, 21);
    let shop = Shop::start_with(std::sync::Arc::new(store::Memory::new(7)), Clock::at(now), None);
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    let technician = shop.user("Milo Brandt", "body", Role::Technician);
    let shifts = vec![Shift { from: 0, to: 6 * 60 }, Shift { from: 22 * 60, to: 24 * 60 }];
    let calendar = Calendar {
        id: "nights".into(),
        title: "Nights".into(),
        week: vec![shifts; 7],
        days: Default::default(),
    };
    accepted(shop.opened.own_now(vec![OwnOp::system(Act::SetCalendar { calendar })]).unwrap()).unwrap();
    let mut person = (*shop.opened.view().state.people[&technician.id]).clone();
    person.calendar = Some("nights".into());
    accepted(shop.opened.own_now(vec![OwnOp::system(Act::SetPerson { person })]).unwrap()).unwrap();
    let order =
        planner.done("open_order", json!({"number": "2041", "vehicle": "grey wagon", "stage": "authorised"}));
    planner.done(
        "add_card",
        json!({"order": order, "department": "body", "title": {"text": "Pull rail"}, "planned_minutes": 480}),
    );
    let plan = plan_now(&shop.opened.view(), now, &Shown::default(), Effort::Repair).plan;
    assert_eq!((plan.rows.len(), &plan.trouble), (1, &None));
    plan
}

#[test]
fn the_night_that_is_an_hour_short_is_not_enough() {
    let row = &planned("2026-03-07").rows[0];
    assert_eq!(row.from, chicago("2026-03-07", 22));
    // Seven real hours until six; the eighth in the next night.
    assert_eq!(row.to, chicago("2026-03-08", 23));
    assert_eq!(row.to - row.from, 24 * HOUR, "25 by the clock on the wall");
}

#[test]
fn the_night_that_is_an_hour_long_leaves_one_over() {
    let row = &planned("2026-10-31").rows[0];
    assert_eq!((row.from, row.to), (chicago("2026-10-31", 22), chicago("2026-11-01", 5)));
    assert_eq!(row.to - row.from, 8 * HOUR, "seven by the clock on the wall");
}

#[test]
fn an_ordinary_night_is_just_enough() {
    let row = &planned("2026-03-14").rows[0];
    assert_eq!((row.from, row.to), (chicago("2026-03-14", 22), chicago("2026-03-15", 6)));
}
