//! The last day of a month: what is counted, what came late, and what was never said.

use domain::MINUTE;
use domain::stored::Role;
use serde_json::{Value, json};

use super::{HOUR, card, order, seen};
use crate::support::{Shop, User};

const MONTH: &str = "/api/v1/measures?from=2026-06-01&to=2026-06-30";
const JULY: &str = "/api/v1/measures?from=2026-07-01&to=2026-07-31";

fn of(user: &User, path: &str, id: &str) -> Value {
    let (status, all) = user.get(path);
    assert_eq!(status, 200, "{all}");
    let found = all["measures"].as_array().unwrap().iter().find(|measure| measure["id"] == id).cloned();
    found.unwrap_or_else(|| panic!("no {id}"))
}

#[test]
fn what_left_in_the_month_counts_in_it_whenever_it_is_sent() {
    let shop = Shop::start();
    let day = 24 * HOUR;
    // Tuesday, 30 June, nine in the morning.
    shop.clock.advance(29 * day);
    let manager = shop.user("Nora Vance", "office", Role::Manager);
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    let mut milo = shop.user("Milo Crane", "mechanical", Role::Technician);
    let (first, second) = (order(&mut planner, "2041"), order(&mut planner, "2042"));
    let (one, two) = (
        card(&mut planner, &first, "mechanical", 60, &[]),
        card(&mut planner, &second, "mechanical", 60, &[]),
    );
    shop.clock.advance(30 * MINUTE);
    milo.done("start", json!({"card": one}));
    shop.clock.advance(HOUR);
    milo.done("finish", json!({"card": one, "checks": []}));
    planner.done("stage", json!({"order": first, "stage": "ready"}));
    planner.done("stage", json!({"order": first, "stage": "delivered"}));
    // The second one is worked on without a network, and sent in July.
    let mut late = vec![milo.op("start", json!({"card": two}))];
    shop.clock.advance(HOUR);
    late.push(milo.op("finish", json!({"card": two, "checks": []})));
    let keys = planner.op("stage", json!({"order": second, "stage": "delivered"}));
    shop.clock.advance(2 * day);
    assert_eq!(of(&manager, MONTH, "throughput")["count"], 1, "the month as it was known");
    let (status, told) = milo.push(late);
    assert_eq!(status, 200, "{told}");
    assert_eq!(planner.push(vec![keys]).1["results"][0]["verdict"], "applied");
    assert_eq!(of(&manager, MONTH, "throughput")["count"], 2, "it left in June");
    assert_eq!(of(&manager, JULY, "throughput")["count"], 0);
    let done = seen(&milo, "card", &two)["done_at"].as_i64().unwrap();
    assert_eq!(shop.clock.now() - done, 2 * day, "when it happened, not when it was sent");
    // Who was never said to have come in is not lost from one number while it counts in the other: it is asked.
    let open = json!({"number": "2043", "vehicle": "red hatch", "stage": "expected"});
    let third = planner.done("open_order", open);
    let went = planner.act("stage", json!({"order": third, "stage": "authorised"}));
    assert_eq!(went["exceptions"], json!(["no_keys_in"]), "{went}");
    // A technician sees own times, not the others'.
    assert_eq!(milo.get("/api/v1/measures/own?from=2026-06-01&to=2026-06-30").0, 200);
}
