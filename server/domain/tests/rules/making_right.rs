//! Undo and corrections.

use domain::decide::Code;
use domain::ids::*;
use domain::stored::*;
use domain::{MINUTE, stored::ExceptionKind};

use crate::support::*;

#[test]
fn a_take_is_taken_back() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    let before = shop.get(card).clone();
    shop.ok("ines", take(card));
    let op = shop.last_op();
    assert_eq!(shop.refused("bruno", undo(op, card)).code, Code::NothingToUndo, "not his");
    shop.ok("ines", undo(op, card));
    assert_eq!(*shop.get(card), before);
    assert_eq!(shop.refused("ines", undo(op, card)).code, Code::NothingToUndo, "once");
}

#[test]
fn a_start_is_taken_back_with_the_taking_that_came_with_it() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, _, _) = shop.round_trip(order);
    let asked = shop.last_op();
    let before = (shop.get(down).clone(), shop.handoff(asked).clone());
    shop.ok("milo", start(down));
    let op = shop.last_op();
    shop.ok("milo", undo(op, down));
    assert_eq!((shop.get(down).clone(), shop.handoff(asked).clone()), before);

    shop.ok("milo", take(down));
    shop.later(1).ok("milo", start(down));
    let op = shop.last_op();
    shop.ok("milo", undo(op, down));
    assert_eq!((shop.get(down).life, shop.get(down).taken_by), (Life::Taken, Some(person("milo"))));
    assert_eq!(shop.handoff(asked).life, HandoffLife::Taken);
}

#[test]
fn starting_and_undoing_approves_nothing() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("rask", Act::AddCard(AddCard { proposed: true, ..add_card(order, "body", "Second rail", &[]) }));
    let card = CardId(shop.last_op().0);
    shop.ok("ines", start(card));
    let op = shop.last_op();
    shop.ok("ines", undo(op, card));
    assert_eq!((shop.get(card).life, shop.get(card).taken_by), (Life::Proposed, None));
}

#[test]
fn what_the_start_had_paused_goes_on() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (one, two) = (shop.card(order, "body", "Rail on", &[]), shop.card(order, "body", "Trim in", &[]));
    shop.ok("ines", start(one));
    shop.later(10).ok("ines", start(two));
    let op = shop.last_op();
    shop.ok("ines", undo(op, two));
    assert_eq!((shop.get(one).life, shop.get(two).life), (Life::Working, Life::Waiting));
    assert_eq!(shop.get(one).spans[0].to, None);
}

#[test]
fn a_pause_is_taken_back_unless_other_work_runs() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (one, two) = (shop.card(order, "body", "Rail on", &[]), shop.card(order, "body", "Trim in", &[]));
    shop.ok("ines", start(one));
    shop.later(10).ok("ines", pause(one));
    let op = shop.last_op();
    shop.ok("ines", undo(op, one));
    assert_eq!((shop.get(one).life, shop.get(one).spans[0].to), (Life::Working, None));
    shop.ok("ines", pause(one));
    let op = shop.last_op();
    shop.ok("ines", start(two));
    assert_eq!(shop.refused("ines", undo(op, one)).code, Code::NothingToUndo);
}

#[test]
fn taking_paused_work_is_not_mistaken_for_the_pause() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    shop.ok("ines", start(card));
    shop.later(10).ok("ines", pause(card));
    shop.ok("ines", Act::GiveBack { card });
    shop.later(10).ok("ines", take(card));
    let op = shop.last_op();
    assert_eq!(shop.refused("ines", undo(op, card)).code, Code::NothingToUndo);
    assert_eq!(shop.get(card).life, Life::Paused);
}

#[test]
fn a_finish_is_taken_back_with_what_it_opened() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, _) = shop.round_trip(order);
    let asked = shop.last_op();
    shop.ok("milo", start(down));
    let running = shop.get(down).clone();
    shop.later(60).ok("milo", finish(down));
    let op = shop.last_op();
    assert_eq!(shop.get(own).ready_at, Some(shop.now));
    shop.ok("milo", undo(op, down));
    assert_eq!(*shop.get(down), Card { last_act: None, ..running });
    assert!(shop.vehicle(order).open.is_empty());
    assert_eq!(shop.get(own).ready_at, None);
    assert_eq!((shop.handoff(asked).life, shop.handoff(asked).opened_at), (HandoffLife::Started, None));
}

#[test]
fn a_closing_finish_is_taken_back_and_the_vehicle_is_open_again() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("milo", Act::Move { order, to: "lift-1".into(), on: None });
    let (down, own, up) = shop.round_trip(order);
    let asked = shop.last_op();
    shop.do_it("milo", down, 60);
    let open = shop.vehicle(order).open.clone();
    shop.do_it("ines", own, 20);
    shop.later(30);
    shop.do_it("milo", up, 60);
    let op = shop.last_op();
    shop.ok("milo", undo(op, up));
    assert_eq!(shop.vehicle(order).open, open);
    assert_eq!((shop.handoff(asked).life, shop.handoff(asked).handed_back_at), (HandoffLife::Open, None));
    assert_eq!(shop.get(up).life, Life::Working);
}

#[test]
fn a_finish_that_others_built_on_is_not_taken_back() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, _) = shop.round_trip(order);
    shop.do_it("milo", down, 60);
    let op = shop.last_op();
    // Work inside that no link names counts too.
    let needs = Needs { inside: Some(DOWN.into()), ..Needs::default() };
    shop.ok("rask", Act::AddCard(AddCard { needs, ..add_card(order, "body", "Wax", &[]) }));
    let wax = CardId(shop.last_op().0);
    shop.ok("bruno", start(wax));
    assert_eq!(shop.refused("milo", undo(op, down)).code, Code::NothingToUndo);

    let first = shop.card(order, "body", "Rail off", &[]);
    let next = shop.card(order, "body", "Rail on", &[first]);
    shop.do_it("ines", first, 5);
    let op = shop.last_op();
    shop.ok("bruno", start(next));
    assert_eq!(shop.refused("ines", undo(op, first)).code, Code::NothingToUndo);
    assert_eq!(shop.get(own).life, Life::Waiting);
}

#[test]
fn undoing_a_finish_does_not_make_anybody_work_twice() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (one, two) = (shop.card(order, "body", "Rail on", &[]), shop.card(order, "body", "Trim in", &[]));
    shop.do_it("ines", one, 30);
    let op = shop.last_op();
    shop.ok("ines", start(two));
    shop.ok("ines", undo(op, one));
    assert_eq!((shop.get(one).life, shop.get(two).life), (Life::Paused, Life::Working));
}

#[test]
fn a_correction_is_an_event_and_marks_the_work() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    shop.ok("ines", start(card));
    let span = SpanId(shop.last_op().0);
    let began = shop.now;
    shop.later(60).ok("ines", finish(card));
    let ended = shop.now;
    let correct = |from, to| Act::Correct { card, span, from, to };
    assert_eq!(shop.refused("bruno", correct(began, Some(ended - MINUTE))).code, Code::Forbidden);
    assert_eq!(shop.refused("ines", correct(ended, Some(began))).code, Code::Invalid);
    assert_eq!(
        shop.refused("ines", correct(began, Some(ended + MINUTE))).code,
        Code::Invalid,
        "in the future"
    );
    assert_eq!(shop.refused("ines", correct(began, None)).code, Code::Invalid, "it has ended");
    assert_eq!(shop.refused("ines", correct(began - 8 * 24 * HOUR, Some(ended))).code, Code::Invalid);
    assert_eq!(shop.refused("ines", correct(i64::MIN, Some(i64::MIN))).code, Code::Invalid);
    let events = shop.ok("ines", correct(began - 5 * MINUTE, Some(ended - 10 * MINUTE)));
    assert!(matches!(events[..], [Event::SpanCorrected { .. }]));
    let corrected = shop.get(card);
    assert!(corrected.spans[0].corrected);
    assert_eq!(corrected.done_at, Some(ended - 10 * MINUTE), "it was done when the work ended");
    assert_eq!(shop.ok("ines", correct(began - 5 * MINUTE, Some(ended - 10 * MINUTE))), vec![]);
    shop.ok("rask", correct(began, Some(ended)));
}

#[test]
fn correcting_an_earlier_stretch_does_not_move_the_end() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    shop.ok("ines", start(card));
    let (span, began) = (SpanId(shop.last_op().0), shop.now);
    shop.later(30).ok("ines", pause(card));
    shop.later(60).ok("ines", finish(card));
    shop.ok("ines", Act::Correct { card, span, from: began, to: Some(began + 20 * MINUTE) });
    assert_eq!(shop.get(card).done_at, Some(shop.now));
}

#[test]
fn what_ran_on_over_night_is_ended_by_correcting() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    shop.ok("ines", start(card));
    let (span, began) = (SpanId(shop.last_op().0), shop.now);
    shop.later(24 * 60).ok("ines", Act::Correct { card, span, from: began, to: Some(began + 8 * HOUR) });
    assert_eq!((shop.get(card).life, shop.get(card).spans[0].to), (Life::Paused, Some(began + 8 * HOUR)));
}

#[test]
fn a_correction_that_overlaps_other_work_is_said() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (one, two) = (shop.card(order, "body", "Rail on", &[]), shop.card(order, "body", "Trim in", &[]));
    shop.do_it("ines", one, 30);
    shop.ok("ines", start(two));
    let (span, began) = (SpanId(shop.last_op().0), shop.now);
    shop.later(30).ok("ines", finish(two));
    let to = Some(shop.now);
    shop.ok("ines", Act::Correct { card: two, span, from: began - 10 * MINUTE, to });
    assert_eq!(shop.exceptions(), vec![ExceptionKind::TwoAtOnce]);
    assert_eq!(shop.exception(ExceptionKind::TwoAtOnce).owner, Some(person("ines")));
}

#[test]
fn corrected_work_is_no_longer_undone() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    shop.later(30).ok("ines", start(card));
    let op = shop.last_op();
    let from = shop.now - 5 * MINUTE;
    shop.ok("ines", Act::Correct { card, span: SpanId(op.0), from, to: None });
    assert_eq!(shop.refused("ines", undo(op, card)).code, Code::NothingToUndo);
}
