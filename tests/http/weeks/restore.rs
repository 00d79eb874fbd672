//! A server set back to last night's backup: the day's work comes from the phones once more, and nobody loses what was told.

use domain::stored::Role;
use serde_json::json;

use super::{HOUR, card, order, seen};
use crate::set_back::{backup_of, comes_back};
use crate::support::Shop;
use turnbuckle::clock::Clock;

#[test]
fn a_day_that_the_backup_does_not_have_comes_back_from_the_phones() {
    let shop = Shop::start();
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    let known = shop.user("Milo Crane", "mechanical", Role::Technician);
    let order = order(&mut planner, "2041");
    let brakes = card(&mut planner, &order, "mechanical", 60, &[]);
    let backup = backup_of(&shop);
    // The day: somebody signs in, works, writes.
    let mut milo = shop.sign_in(known.id);
    let began = milo.op("start", json!({"card": brakes}));
    assert_eq!(milo.push(vec![began.clone()]).0, 200);
    shop.clock.advance(HOUR);
    let rest = vec![
        milo.op("finish", json!({"card": brakes, "checks": []})),
        milo.op("note", json!({"order": order, "card": brakes, "body": "left hose chafed"})),
    ];
    assert_eq!(milo.push(rest.clone()).0, 200);
    let before = seen(&milo, "card", &brakes);
    let now = shop.clock.now();
    drop(shop);
    let shop = Shop::start_with(backup, Clock::at(now), None);
    let milo = comes_back(milo, &shop);
    assert_eq!(seen(&milo, "card", &brakes)["life"], "waiting", "the backup knows nothing of it");
    // The phone keeps what was acknowledged, and offers it again.
    let again = [vec![began], rest].concat();
    let (status, told) = milo.push(again.clone());
    assert_eq!(status, 200, "{told}");
    for result in told["results"].as_array().unwrap() {
        assert_eq!((&result["verdict"], &result["exceptions"]), (&json!("applied"), &json!(null)), "{told}");
    }
    let after = seen(&milo, "card", &brakes);
    for field in ["life", "done_by", "spans", "done_at"] {
        assert_eq!(after[field], before[field], "{field}");
    }
    // A second time, because the answer was lost: nothing is counted twice.
    let (_, told) = milo.push(again);
    assert_eq!(told["results"].as_array().unwrap().len(), 3);
    let notes = shop.opened.view().state.notes.values().filter(|n| n.body == "left hose chafed").count();
    assert_eq!((notes, seen(&milo, "card", &brakes)["spans"].as_array().unwrap().len()), (1, 1));
}
