//! Work that is added inside an open vehicle: the closing waits for it, however it came there.

use domain::ids::*;
use domain::stored::*;

use crate::support::*;

fn after(shop: &TestShop, card: CardId) -> Vec<CardId> {
    shop.get(card).after.iter().map(|link| link.card).collect()
}

fn inside() -> Needs {
    Needs { inside: Some(DOWN.into()), ..Needs::default() }
}

fn edit(card: CardId, change: CardChange) -> Act {
    Act::EditCard { card, change }
}

fn open_vehicle(shop: &mut TestShop) -> (OrderId, CardId, CardId, CardId) {
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    shop.do_it("milo", down, 60);
    (order, down, own, up)
}

#[test]
fn the_closing_waits_for_a_second_seam() {
    let mut shop = TestShop::new();
    let (order, _, own, up) = open_vehicle(&mut shop);
    shop.ok("ines", Act::AddCard(AddCard { needs: inside(), ..add_card(order, "body", "Second seam", &[]) }));
    let second = CardId(shop.last_op().0);
    assert_eq!((after(&shop, up), after(&shop, second)), (vec![own, second], vec![]));
    shop.do_it("ines", own, 20);
    assert_eq!(shop.get(up).ready_at, None);
}

#[test]
fn so_it_does_for_a_card_that_is_said_to_be_inside_later() {
    let mut shop = TestShop::new();
    let (order, _, own, up) = open_vehicle(&mut shop);
    let second = shop.card(order, "body", "Second seam", &[]);
    assert_eq!(after(&shop, up), vec![own]);
    shop.ok("rask", edit(second, CardChange { needs: Some(inside()), ..CardChange::default() }));
    assert_eq!(after(&shop, up), vec![own, second]);
}

#[test]
fn what_is_not_approved_keeps_nothing_open() {
    let mut shop = TestShop::new();
    let (order, _, own, up) = open_vehicle(&mut shop);
    let add = AddCard { proposed: true, needs: inside(), ..add_card(order, "body", "Second seam", &[]) };
    shop.ok("ines", Act::AddCard(add));
    let second = CardId(shop.last_op().0);
    assert_eq!(after(&shop, up), vec![own]);
    shop.ok("rask", edit(second, CardChange { approved: true, ..CardChange::default() }));
    assert_eq!(after(&shop, up), vec![own, second], "once it is approved");
}

#[test]
fn before_it_is_open_the_card_waits_for_the_opening_too() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    shop.ok("ines", Act::AddCard(AddCard { needs: inside(), ..add_card(order, "body", "Second seam", &[]) }));
    let second = CardId(shop.last_op().0);
    assert_eq!((after(&shop, second), after(&shop, up)), (vec![down], vec![own, second]));
}

#[test]
fn where_the_closing_comes_first_by_the_planners_word_nothing_turns_in_a_circle() {
    let mut shop = TestShop::new();
    let (order, _, own, up) = open_vehicle(&mut shop);
    shop.ok("ines", Act::AddCard(AddCard { needs: inside(), ..add_card(order, "body", "Seam", &[up]) }));
    assert_eq!(after(&shop, up), vec![own]);
}
