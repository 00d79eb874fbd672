//! What a vehicle waits for now: one reason, the first that applies.

use domain::ids::*;
use domain::stored::*;
use domain::waiting::{Fact, Reason, Waits, first, first_fact, waits};
use domain::{MINUTE, Ms};

use crate::support::*;

/// In the order of their being laid out, with nothing foreseen.
fn now(shop: &TestShop, order: OrderId) -> Option<Waits> {
    foreseen(shop, order, &[])
}

fn foreseen(shop: &TestShop, order: OrderId, facts: &[Fact]) -> Option<Waits> {
    let vehicle = shop.vehicle(order);
    let place = |card: &Card| vehicle.cards.iter().position(|id| *id == card.id);
    waits(&shop.state, vehicle, shop.now, place, |_| facts.to_vec())
}

fn reason(shop: &TestShop, order: OrderId) -> Option<Reason> {
    now(shop, order).map(|waits| waits.reason)
}

fn held(order: OrderId, what: HoldKind, cards: &[CardId], due: Option<Ms>) -> Act {
    Act::Hold { order, what, cards: cards.to_vec(), blocks: Blocks::Start, due, note: Some("why".into()) }
}

#[test]
fn reasons_apply_in_one_order_and_each_has_a_word_of_its_own() {
    assert!(Reason::ALL.is_sorted());
    for (n, reason) in Reason::ALL.iter().enumerate() {
        assert_eq!(first(Reason::ALL[n..].iter().rev().copied()), Some(*reason));
        assert!(Reason::ALL[..n].iter().all(|other| other.word() != reason.word()));
        assert_eq!(reason.is_inside(), *reason > Reason::Curing);
    }
    assert_eq!(first([]), None);
}

#[test]
fn of_one_reason_the_fact_that_ends_last_counts() {
    let parts = |due| Fact::new(Reason::Parts, due);
    let found = |facts: &[Fact]| first_fact(facts.iter().copied()).and_then(|fact| fact.due);
    assert_eq!(found(&[parts(Some(5)), parts(Some(9)), parts(Some(7))]), Some(9));
    assert_eq!(found(&[parts(Some(5)), parts(None)]), None, "nobody knows when");
    let approval = Fact::new(Reason::Approval, Some(1));
    assert_eq!(first_fact([parts(None), approval]), Some(approval));
}

#[test]
fn the_approval_comes_before_the_parts() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Door", &[]);
    let due = shop.now + 30 * HOUR;
    shop.later(10).ok("petra", held(order, HoldKind::Parts, &[card], Some(due)));
    assert_eq!(reason(&shop, order), Some(Reason::Parts));
    shop.later(10).ok("rask", held(order, HoldKind::Approval, &[], None));
    let approval = HoldId(shop.last_op().0);
    let Waits { reason, hold, due, since, .. } = now(&shop, order).expect("it waits");
    assert_eq!((reason, hold, due, since), (Reason::Approval, Some(approval), None, shop.now));
    shop.later(10).ok("rask", Act::Unhold { order, hold: approval });
    assert_eq!(now(&shop, order).map(|w| (w.reason, w.card)), Some((Reason::Parts, Some(card))));
}

/// Whoever wants to take it is told the same.
#[test]
fn a_refusal_names_what_the_board_names() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Door", &[]);
    for what in [HoldKind::Other, HoldKind::Parts, HoldKind::Approval] {
        shop.ok("rask", held(order, what, &[card], None));
    }
    let refusal = shop.refused("ines", take(card));
    assert!(refusal.message.contains("approval"), "{refusal}");
}

#[test]
fn a_hold_with_a_note_is_a_reason() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Door", &[]);
    assert_eq!(reason(&shop, order), Some(Reason::NoReason));
    shop.ok("rask", held(order, HoldKind::Other, &[card], None));
    let hold = HoldId(shop.last_op().0);
    assert_eq!(now(&shop, order).map(|w| (w.reason, w.hold)), Some((Reason::Other, Some(hold))));
}

#[test]
fn what_is_only_proposed_waits_for_approval() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Door", &[]);
    shop.do_it("ines", card, 10);
    assert_eq!(reason(&shop, order), None, "all done");
    let add = AddCard { proposed: true, ..add_card(order, "body", "Supplement", &[]) };
    shop.later(10).ok("rask", Act::AddCard(add));
    let proposed = CardId(shop.last_op().0);
    shop.card(order, "refinish", "Paint it", &[proposed]);
    let waits = now(&shop, order).expect("it waits");
    assert_eq!((waits.reason, waits.card, waits.since), (Reason::Approval, Some(proposed), shop.now));
}

#[test]
fn away_it_is_back_when_the_sublet_says_so() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Door", &[]);
    let back = shop.now + 50 * HOUR;
    shop.ok("rask", held(order, HoldKind::Sublet, &[card], Some(back)));
    assert_eq!(now(&shop, order).map(|w| (w.reason, w.due)), Some((Reason::Away, Some(back))));
    shop.later(10).ok("rask", stage(order, Stage::Away));
    let left = shop.now;
    shop.later(10);
    assert_eq!(now(&shop, order).map(|w| (w.reason, w.due, w.since)), Some((Reason::Away, Some(back), left)));
}

#[test]
fn a_part_missing_is_no_reason_while_there_is_other_work() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let first = shop.card(order, "body", "Door", &[]);
    let second = shop.card(order, "mechanical", "Alignment", &[]);
    shop.ok("petra", held(order, HoldKind::Parts, &[first], None));
    let nobody = Fact::new(Reason::NobodyFree, Some(7));
    let waits = foreseen(&shop, order, &[nobody]).expect("it waits");
    assert_eq!((waits.reason, waits.card, waits.due), (Reason::NobodyFree, Some(second), Some(7)));
    // Nobody is missed where there is no place to work.
    let place = Fact::new(Reason::NoEquipment, None);
    assert_eq!(foreseen(&shop, order, &[nobody, place]).map(|w| w.reason), Some(Reason::NoEquipment));
    shop.ok("milo", take(second));
    assert_eq!(reason(&shop, order), Some(Reason::TakenNotStarted));
    shop.ok("milo", start(second));
    assert_eq!(reason(&shop, order), None);
}

#[test]
fn what_cures_ends_by_itself() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let prime = shop.card(order, "refinish", "Prime", &[]);
    let sand = shop.card(order, "refinish", "Sand", &[]);
    shop.ok("rask", Act::Link { card: sand, after: link(prime, 30) });
    shop.do_it("pia", prime, 10);
    let dry = shop.now + 30 * MINUTE;
    assert_eq!(now(&shop, order).map(|w| (w.reason, w.due)), Some((Reason::Curing, Some(dry))));
    shop.later(30);
    assert_eq!(reason(&shop, order), Some(Reason::NoReason));
}

#[test]
fn before_it_is_authorised_and_after_it_is_done() {
    let mut shop = TestShop::new();
    shop.ok("rask", order_with("2041", |open| open.stage = Stage::Arrived));
    let order = OrderId(shop.last_op().0);
    assert_eq!(reason(&shop, order), Some(Reason::Approval), "nothing may be done yet");
    let card = shop.card(order, "body", "Look", &[]);
    assert_eq!(reason(&shop, order), Some(Reason::NoReason));
    shop.ok("rask", stage(order, Stage::Stopped));
    assert_eq!(reason(&shop, order), None, "there is nothing to put back");
    let safe = shop.card(order, "body", "Make safe", &[]);
    assert_eq!(reason(&shop, order), Some(Reason::Stopped));
    shop.do_it("ines", safe, 5);
    assert_eq!((reason(&shop, order), shop.get(card).life), (None, Life::Cancelled));
}
