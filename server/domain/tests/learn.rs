//! What is learnt from finished cards and deliveries, against the textbook and against odd logs.

use domain::learn::{Learnt, learn};
use domain::state::State;
use domain::stored::Card;
use domain::{MINUTE, Ms};
use serde_json::json;
use std::sync::Arc;

const NOW: Ms = 1_760_000_000_000;
const HOUR: Ms = 60 * MINUTE;

/// A finished card of `planned` minutes on which `clocked` minutes were worked, an hour each day before `NOW`.
fn card(n: u128, department: &str, step: Option<&str>, planned: u32, clocked: Ms) -> Card {
    let uuid = uuid::Uuid::from_u128(n);
    let done = NOW - HOUR * (n as Ms % 500);
    let mut card = json!({
        "id": uuid, "order": uuid, "department": department, "title": { "text": "Work" },
        "planned_minutes": planned, "life": "done", "created_at": 0, "done_at": done,
        "spans": [{ "id": uuid, "person": uuid, "from": done - clocked * MINUTE, "to": done }],
    });
    if let Some(step) = step {
        card["routing"] = json!("seam");
        card["step"] = json!(step);
    }
    serde_json::from_value(card).expect("a card")
}

fn shop(cards: impl IntoIterator<Item = Card>) -> Learnt {
    let mut state = State::default();
    for card in cards {
        state.cards.insert(card.id, Arc::new(card));
    }
    learn(&state, NOW)
}

#[test]
fn an_empty_shop_has_the_prior_and_says_so() {
    let learnt = shop([]);
    assert_eq!((learnt.shop.count, learnt.deliveries.count), (0, 0));
    assert!((0.9..1.2).contains(&learnt.shop.median()) && learnt.shop.p90() > 1.3);
    assert_eq!(learnt.of(&card(1, "body", Some("down"), 60, 60)), learnt.shop);
}

/// The mean of a normal sample with a prior of weight k is (n·mean + k·prior) ÷ (n + k) (Gelman et al., Bayesian Data Analysis,
/// 2.5, told from memory); here for three levels, each the prior of the next.
#[test]
fn few_cases_are_drawn_toward_what_stands_above_them() {
    let body = (0..40).map(|n| card(n, "body", None, 60, 120));
    let lift = (100..104).map(|n| card(n, "mechanical", Some("down"), 60, 30));
    let learnt = shop(body.chain(lift));
    let ln2 = 2f64.ln();
    let shrunk = |n: f64, own: f64, above: f64| (n * own + 8.0 * above) / (n + 8.0);
    let whole = shrunk(44.0, (40.0 * ln2 - 4.0 * ln2) / 44.0, 0.05);
    let mechanical = shrunk(4.0, -ln2, whole);
    let down = shrunk(4.0, -ln2, mechanical);
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
    close(learnt.shop.mean, whole);
    close(learnt.departments.values().next().unwrap().mean, shrunk(40.0, ln2, whole));
    let asked = learnt.of(&card(200, "mechanical", Some("down"), 60, 1));
    close(asked.mean, down);
    assert_eq!(asked.count, 4);
    // A step nobody has done yet is judged by its department, a department without work by the shop.
    close(learnt.of(&card(201, "mechanical", Some("up"), 60, 1)).mean, mechanical);
    close(learnt.of(&card(202, "refinish", None, 60, 1)).mean, whole);
}

#[test]
fn many_cases_speak_for_themselves() {
    // Every second card takes half, every second twice its hours: ln has mean 0 and deviation ln 2.
    let cards = (0..4_000).map(|n| card(n, "body", None, 60, if n % 2 == 0 { 30 } else { 120 }));
    let ratio = shop(cards).of(&card(9_999, "body", None, 60, 60));
    assert!(ratio.mean.abs() < 0.01 && (ratio.deviation - 2f64.ln()).abs() < 0.01, "{ratio:?}");
}

#[test]
fn odd_logs_teach_nothing_wrong() {
    let mut running_backwards = card(1, "body", None, 60, 60);
    running_backwards.spans[0].to = Some(running_backwards.spans[0].from - HOUR);
    let mut tomorrow = card(2, "body", None, 60, 600);
    tomorrow.done_at = Some(NOW + 1);
    let mut long_ago = card(3, "body", None, 60, 600);
    long_ago.done_at = Some(NOW - 500 * 24 * HOUR);
    let unplanned = card(4, "body", None, 0, 600);
    assert_eq!(shop([running_backwards, tomorrow, long_ago, unplanned]).shop.count, 0);
    // A clock that ran for a month counts as ten times its plan.
    let forgotten = shop([card(5, "body", None, 60, 43_200)]).shop;
    assert!(forgotten.count == 1 && forgotten.mean < 10f64.ln() / 8.0 + 0.05, "{forgotten:?}");
}
