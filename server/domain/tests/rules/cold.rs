//! Visits that were over long ago are packed away, and mean the same.

use domain::cold::COLD_AFTER;
use domain::ids::{ExceptionId, OrderId};
use domain::measure::{self, Question, control, pay};
use domain::state::{Key, State};
use domain::stored::*;
use domain::{MINUTE, Ms};

use crate::support::*;

/// A visit from keys in to keys back, with a round trip on it.
fn delivered(shop: &mut TestShop, number: &str) -> OrderId {
    let order = shop.order(number);
    let (down, own, up) = shop.round_trip(order);
    for (who, card) in [("milo", down), ("ines", own), ("milo", up)] {
        shop.ok(who, start(card));
        shop.later(30);
        shop.ok(who, finish(card));
    }
    shop.ok("mara", stage(order, Stage::Delivered));
    // What somebody must still answer keeps a visit warm.
    let mut cold = shop.state.clone();
    let asked: Vec<ExceptionId> = shop.state.exceptions.keys().copied().collect();
    assert!(asked.is_empty() || cold.cool(Ms::MAX) == 0);
    for exception in asked {
        shop.ok("mara", Act::Answer { exception, reason: "seen".into() });
    }
    order
}

fn packed(state: &State) -> State {
    let mut cold = state.clone();
    cold.cool(Ms::MAX);
    cold
}

/// Whatever is asked over whatever stretch.
pub fn measured_alike(shop: &TestShop) {
    let cold = packed(&shop.state);
    let (now, begin) = (shop.now, local("2026-03-02T00:00"));
    let middle = begin + (now - begin) / 2;
    for (from, to) in [(begin, now), (middle, now), (begin, middle), (now, now + HOUR)] {
        for class in [None, Some(measure::Class::Small)] {
            let question = Question { from, to, now, department: None, class };
            let asked = |state: &State| measure::answer(state, &shop.zone, &question);
            assert_eq!(asked(&cold), asked(&shop.state));
            let asked = |state: &State| control::control(state, &shop.zone, &question);
            assert_eq!(asked(&cold), asked(&shop.state));
        }
        for who in ["ines", "milo"] {
            let own = |state: &State| pay::own(state, person(who), from, to, now);
            assert_eq!(own(&cold), own(&shop.state));
        }
    }
    assert_eq!(pay::sold_shares(&cold, now), pay::sold_shares(&shop.state, now));
}

#[test]
fn what_is_packed_is_there_all_the_same() {
    let mut shop = TestShop::new();
    let old = delivered(&mut shop, "2041");
    let open = shop.order("2042");
    let (_, own, _) = shop.round_trip(open);
    let mut cold = shop.state.clone();
    assert_eq!(cold.cool(Ms::MAX), 1, "the other one is in the shop");
    assert_eq!(cold.cool(Ms::MAX), 0, "once");
    assert!(cold.cards.contains_key(&own));
    for card in &shop.state.orders[&old].cards {
        assert!(!cold.cards.contains_key(card));
        assert_eq!(cold.document(&Key::Card(*card)), shop.state.document(&Key::Card(*card)));
        assert_eq!(cold.document_json(&Key::Card(*card)), shop.state.document_json(&Key::Card(*card)));
    }
    assert_eq!(documents::all(&cold.warmed(Ms::MIN)), documents::all(&shop.state));
    assert!(cold.warmed(shop.now + MINUTE).cards_of(old).next().is_none(), "as far back as is looked");
    measured_alike(&shop);
}

/// Also what is learnt, for which nothing is warmed: it looks less far back than anything is packed.
#[test]
fn only_what_is_over_for_long_is_packed() {
    let mut shop = TestShop::new();
    delivered(&mut shop, "2041");
    let left = shop.now;
    shop.later(COLD_AFTER / MINUTE);
    let order = shop.order("2042");
    let _ = shop.card(order, "body", "Seal", &[]);
    let mut cold = shop.state.clone();
    assert_eq!(cold.cool(left), 0);
    assert_eq!(cold.cool(left + 1), 1);
    assert_eq!(domain::learn::learn(&cold, shop.now), domain::learn::learn(&shop.state, shop.now));
}

/// It came back after all: somebody begins on a card of a visit that was packed.
#[test]
fn work_on_a_packed_visit_warms_it() {
    let mut shop = TestShop::new();
    let old = delivered(&mut shop, "2041");
    let card = shop.state.orders[&old].cards[0];
    shop.state.cool(Ms::MAX);
    // They look at what is warm only.
    shop.checked = false;
    assert!(!shop.state.cards.contains_key(&card));
    shop.later(30);
    shop.ok("milo", start(card));
    assert_eq!(shop.get(card).spans.len(), 2, "what was there is still there");
    assert_eq!(shop.state.cards_of(old).count(), 3);
}
