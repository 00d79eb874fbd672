//! A total loss, or withdrawn: one act stops the vehicle. What is not putting back is cancelled, and what is
//! open can be put back at once, so that it rolls.

use domain::decide::Code;
use domain::ids::*;
use domain::stored::*;

use crate::support::*;
use crate::vectors::overlay_case;

fn stop(order: OrderId) -> Act {
    Act::Stage { order, stage: Stage::Stopped, reason: Some("Not worth repairing.".into()) }
}

fn life(shop: &TestShop, card: CardId) -> Life {
    shop.get(card).life
}

/// Cards of the vehicle on which something is still to be done.
fn left(shop: &TestShop, order: OrderId) -> Vec<CardId> {
    shop.state.cards_of(order).filter(|c| !c.life.is_over()).map(|c| c.id).collect()
}

/// Down on lift 1, Ines at her seam inside.
fn open_vehicle() -> (TestShop, OrderId, [CardId; 3]) {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    shop.ok("milo", Act::Move { order, to: "lift-1".into(), on: Some(StandsOn::Lift) });
    shop.do_it("milo", down, 40);
    shop.ok("ines", start(own));
    (shop, order, [down, own, up])
}

#[test]
fn one_act_stops_it_and_leaves_the_putting_back() {
    let (mut shop, order, [down, own, up]) = open_vehicle();
    let handed = HandoffId(shop.get(up).handoff.expect("asked for").0);
    shop.ok("ines", Act::Ask(ask(order, "paint")));
    let (paint, prep, spray) = (shop.last_op(), shop.step("prep"), shop.step("spray"));
    let proposed = AddCard { proposed: true, ..add_card(order, "body", "Door", &[]) };
    shop.ok("rask", Act::AddCard(proposed));
    let proposed = CardId(shop.last_op().0);
    shop.ok("pia", take(prep));
    shop.ok("rask", hold(order, HoldKind::Approval, &[], Blocks::Start));
    shop.ok("rask", hold(order, HoldKind::Parts, &[], Blocks::Finish));

    shop.later(20).ok("rask", stop(order));
    let stopped = shop.vehicle(order).stages.last().expect("stages").clone();
    assert_eq!((stopped.stage, stopped.at), (Stage::Stopped, shop.now));
    assert_eq!(stopped.reason.as_deref(), Some("Not worth repairing."));
    for card in [own, prep, spray, proposed] {
        assert_eq!(life(&shop, card), Life::Cancelled, "«{}»", shop.get(card).title.text);
    }
    assert_eq!(shop.get(own).spans[0].to, Some(shop.now), "work on it has ended");
    assert_eq!(shop.get(prep).taken_by, Some(person("pia")), "so that she can be told");
    assert_eq!(shop.handoff(paint).life, HandoffLife::Cancelled);
    assert_eq!(left(&shop, order), [up]);
    assert_eq!(life(&shop, down), Life::Done);

    // No link, no hold of the whole vehicle keeps it.
    assert!(shop.get(up).ready_at.is_some());
    shop.ok("milo", take(up));
    shop.do_it("milo", up, 30);
    assert!(shop.vehicle(order).open.is_empty(), "it rolls");
    assert_eq!(shop.state.handoffs[&handed].life, HandoffLife::HandedBack);
    assert_eq!(shop.exceptions(), vec![]);
    assert_eq!(shop.state.in_shop().count(), 0, "put away");
    shop.ok("rask", stage(order, Stage::Delivered));
    assert_eq!(shop.exceptions(), vec![]);
}

#[test]
fn a_hold_that_names_the_putting_back_keeps_it() {
    let (mut shop, order, [_, _, up]) = open_vehicle();
    shop.ok("rask", hold(order, HoldKind::Parts, &[up], Blocks::Start));
    shop.ok("rask", stop(order));
    assert_eq!(shop.refused("milo", take(up)).code, Code::NotReady);
}

#[test]
fn putting_back_that_runs_goes_on() {
    let (mut shop, order, [_, own, up]) = open_vehicle();
    shop.later(10).ok("ines", finish(own));
    shop.later(40).ok("milo", start(up));
    shop.later(10).ok("rask", stop(order));
    assert_eq!(life(&shop, up), Life::Working);
    assert_eq!(shop.get(up).spans.len(), 1);
}

#[test]
fn what_is_open_is_closed_even_where_nobody_planned_it() {
    let (mut shop, order, [_, _, up]) = open_vehicle();
    shop.ok("rask", Act::CancelCard { card: up, reason: Some("by hand".into()) });
    shop.ok("rask", stop(order));
    let laid = left(&shop, order);
    let card = shop.get(laid[0]).clone();
    assert_eq!(laid.len(), 1);
    assert_eq!((card.title.text.as_str(), card.planned_minutes), ("up", 60));
    assert_eq!(card.department, "mechanical".into());
    assert_eq!(
        (card.needs.closes.clone(), card.needs.equipment.clone()),
        (Some(DOWN.into()), Some("lift".into()))
    );
    assert!(card.after.is_empty() && card.ready_at.is_some());
    shop.do_it("tova", card.id, 30);
    assert!(shop.vehicle(order).open.is_empty());
    assert_eq!(shop.exceptions(), vec![ExceptionKind::CancelledOpen]);
}

/// A card of the planner's own opened it: no routing says how it is closed.
#[test]
fn without_a_routing_it_is_closed_as_it_was_opened() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let title = Words { text: "x".repeat(200), es: Some("Bajar el tren".into()) };
    let needs = Needs {
        opens: Some("train-out".into()),
        equipment: Some("lift".into()),
        qualification: Some("welding".into()),
        cautions: vec![Caution::Lift],
        one_go: true,
        ..Needs::default()
    };
    let add = AddCard { title, planned_minutes: 45, needs, ..add_card(order, "mechanical", "", &[]) };
    shop.ok("rask", Act::AddCard(add));
    let opener = CardId(shop.last_op().0);
    shop.ok("milo", Act::Move { order, to: "lift-1".into(), on: None });
    shop.do_it("milo", opener, 40);
    shop.ok("rask", stop(order));
    let laid = left(&shop, order);
    let card = shop.get(laid[0]);
    assert_eq!(card.department, "mechanical".into());
    assert_eq!((card.planned_minutes, card.needs.closes.clone()), (45, Some("train-out".into())));
    assert_eq!((card.needs.opens.clone(), card.needs.equipment.clone()), (None, Some("lift".into())));
    assert_eq!((card.needs.qualification.clone(), card.needs.one_go), (Some("welding".into()), false));
    assert_eq!(card.needs.cautions, vec![Caution::Lift]);
    assert!(card.title.text.starts_with("Put back: xx") && card.title.text.chars().count() == 200);
    assert_eq!(card.title.es.as_deref(), Some("Volver a montar: Bajar el tren"));
}

/// The suspension hangs half down: nothing is open yet by the book, and it does not roll.
#[test]
fn what_was_being_opened_is_put_back_too() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    shop.ok("milo", start(down));
    shop.later(20).ok("rask", stop(order));
    assert_eq!([down, own].map(|card| life(&shop, card)), [Life::Cancelled; 2]);
    assert_eq!(left(&shop, order), [up]);
    shop.do_it("milo", up, 20);
    assert_eq!(shop.exceptions(), vec![]);
}

#[test]
fn nothing_is_opened_any_more() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.round_trip(order);
    let other = shop.card(order, "body", "Another seam", &[]);
    shop.ok("ines", Act::Ask(Ask { for_card: Some(other), ..ask(order, DOWN) }));
    let (first, joined) = (shop.state.handoffs.keys().next().copied().expect("asked"), shop.last_op());
    assert!(shop.handoff(joined).joined && shop.handoff(joined).cards.is_empty());
    shop.ok("rask", stop(order));
    assert_eq!(left(&shop, order), []);
    assert_eq!(shop.state.handoffs[&first].life, HandoffLife::Cancelled);
    assert_eq!(shop.handoff(joined).life, HandoffLife::Cancelled, "there is nothing to join any more");
    assert_eq!(shop.state.in_shop().count(), 0);
}

/// Closed up meanwhile and opened again later: of the two closings one is left.
#[test]
fn it_is_closed_once() {
    let (mut shop, order, [_, own, _]) = open_vehicle();
    shop.later(10).ok("ines", pause(own));
    let vehicle = shop.vehicle(order).clone();
    let two = domain::open::close_up(&shop.state, &vehicle, &DOWN.into()).expect("it can be closed up");
    shop.ok("rask", Act::AddCard(two.close.clone()));
    let close = CardId(shop.last_op().0);
    shop.ok("rask", Act::AddCard(two.reopen_after(close)));
    shop.ok("milo", take(close));
    shop.ok("rask", stop(order));
    assert_eq!(left(&shop, order), [close], "the one that somebody holds");
    shop.do_it("milo", close, 30);
    assert!(shop.vehicle(order).open.is_empty());
    assert_eq!(shop.exceptions(), vec![]);
}

#[test]
fn a_planner_stops_it_once_and_says_why() {
    let (mut shop, order, _) = open_vehicle();
    assert_eq!(shop.refused("ines", stop(order)).code, Code::Forbidden);
    let long = Some("x".repeat(10_000));
    let act = Act::Stage { order, stage: Stage::Stopped, reason: long };
    assert_eq!(shop.refused("rask", act).code, Code::Invalid);
    assert_eq!(
        shop.refused("rask", Act::Stage { order, stage: Stage::Stopped, reason: Some(" ".into()) }).code,
        Code::Invalid
    );
    shop.ok("rask", stop(order));
    assert_eq!(shop.ok("rask", stop(order)), vec![]);
    // An app of before says no reason.
    let other = shop.order("2042");
    shop.ok("rask", stage(other, Stage::Stopped));
    assert_eq!(shop.vehicle(other).stages.last().map(|s| s.reason.clone()), Some(None));
}

#[test]
fn work_on_what_was_cancelled_is_kept_and_asked_about() {
    let (mut shop, order, [_, own, _]) = open_vehicle();
    shop.ok("rask", stop(order));
    shop.later(5).ok("ines", start(own));
    shop.later(5).ok("ines", finish(own));
    assert_eq!(shop.exceptions(), vec![ExceptionKind::AfterEnd; 2]);
}

/// What phones show before the server has heard of it.
#[test]
fn overlay_cases_of_stopping() {
    let (mut shop, order, [_, own, up]) = open_vehicle();
    shop.ok("ines", Act::Ask(ask(order, "paint")));
    shop.ok("pia", take(shop.step("prep")));
    shop.later(20);
    overlay_case(
        &shop,
        "75-stop",
        "Stop: what is open is put back, the rest is cancelled",
        "rask",
        stop(order),
    );
    let mut other = shop.clone();
    other.ok("rask", Act::CancelCard { card: up, reason: Some("by hand".into()) });
    overlay_case(&other, "76-stop-lays-out", "Stop: the closing is laid out", "rask", stop(order));
    let retired = Routing { retired: true, ..suspension_down() };
    other.ok("mara", Act::SetRouting { routing: retired });
    overlay_case(&other, "77-stop-as-opened", "Stop: no routing says how it is closed", "rask", stop(order));
    shop.later(5).ok("ines", finish(own));
    shop.ok("milo", start(up));
    overlay_case(&shop, "78-stop-goes-on", "Stop: putting back goes on", "rask", stop(order));

    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, _, _) = shop.round_trip(order);
    let other = shop.card(order, "body", "Another seam", &[]);
    shop.ok("ines", Act::Ask(Ask { for_card: Some(other), ..ask(order, DOWN) }));
    let cancel = Act::CancelCard { card: down, reason: Some("sealed from outside".into()) };
    overlay_case(
        &shop,
        "79-cancel-what-others-joined",
        "Cancel: who joined waits for nothing",
        "rask",
        cancel,
    );
    shop.ok("milo", start(down));
    overlay_case(&shop, "80-stop-half-way", "Stop: half way down", "rask", stop(order));
}
