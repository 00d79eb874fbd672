//! Facts are never refused for the state they meet: what breaks a rule becomes an exception.

use domain::decide::Code;
use domain::ids::*;
use domain::stored::ExceptionKind::{
    AfterEnd, ClosedOverUndone, DoneByAnother, DuringHold, FinishedEarly, LeftOpen, MovedOpen, NotOpen,
    Occupied, OutOfTurn, StartedEarly, TwoAtOnce, Unqualified,
};
use domain::stored::*;
use domain::{MINUTE, depends};

use crate::support::*;

#[test]
fn a_start_before_its_predecessor_is_recorded_as_an_exception() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let first = shop.card(order, "body", "Rail off", &[]);
    let next = shop.card(order, "body", "Rail on", &[first]);
    shop.ok("ines", start(next));
    assert_eq!(shop.get(next).life, Life::Working);
    let early = shop.exception(StartedEarly);
    assert_eq!((early.card, early.about.as_slice()), (Some(next), [first].as_slice()));
    shop.later(10).ok("ines", finish(next));
    assert_eq!(shop.exceptions(), vec![StartedEarly, FinishedEarly]);
}

#[test]
fn a_start_into_wet_sealer_is_an_exception() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let seal = shop.card(order, "body", "Seal seam", &[]);
    let add = AddCard { after: vec![link(seal, 45)], ..add_card(order, "refinish", "Prime", &[]) };
    shop.ok("rask", Act::AddCard(add));
    let prime = CardId(shop.last_op().0);
    shop.do_it("ines", seal, 20);
    assert_eq!(shop.get(prime).ready_at, Some(shop.now + 45 * MINUTE), "curing ends without an event");
    shop.later(44).ok("pia", start(prime));
    assert_eq!(shop.exception(StartedEarly).about, vec![seal]);

    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let seal = shop.card(order, "body", "Seal seam", &[]);
    let add = AddCard { after: vec![link(seal, 45)], ..add_card(order, "refinish", "Prime", &[]) };
    shop.ok("rask", Act::AddCard(add));
    let prime = CardId(shop.last_op().0);
    shop.do_it("ines", seal, 20);
    shop.later(45).ok("pia", start(prime));
    assert_eq!(shop.exceptions(), vec![], "dry to the minute");
}

#[test]
fn starting_what_nobody_holds_takes_it() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail off", &[]);
    shop.ok("ines", start(card));
    assert_eq!(shop.get(card).taken_by, Some(person("ines")));
    assert_eq!(shop.ok("ines", start(card)), vec![], "it runs already");
}

#[test]
fn one_person_works_on_one_card_at_a_time() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let one = shop.card(order, "body", "Rail off", &[]);
    let two = shop.card(order, "body", "Trim out", &[]);
    shop.ok("ines", start(one));
    shop.later(10).ok("ines", start(two));
    assert_eq!((shop.get(one).life, shop.get(one).paused_why), (Life::Paused, Some(PauseWhy::OtherWork)));
    assert_eq!(shop.get(one).spans[0].to, Some(shop.now));
    assert_eq!(shop.exceptions(), vec![]);
}

#[test]
fn two_at_once_is_an_exception_of_the_one_who_did_it() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let one = shop.card(order, "body", "Rail off", &[]);
    let two = shop.card(order, "body", "Trim out", &[]);
    shop.later(30).ok("ines", start(one));
    let earlier = shop.now - 20 * MINUTE;
    shop.act_at("ines", earlier, start(two)).expect("a fact, from another device");
    let at_once = shop.exception(TwoAtOnce);
    assert_eq!((at_once.owner, at_once.about.as_slice()), (Some(person("ines")), [one].as_slice()));
    shop.later(10).ok("ines", finish(two));
    assert_eq!(shop.exceptions(), vec![TwoAtOnce], "said once");
}

#[test]
fn work_that_came_late_and_overlaps_is_noticed_when_it_ends() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let one = shop.card(order, "body", "Rail off", &[]);
    let two = shop.card(order, "body", "Trim out", &[]);
    let began = shop.now;
    shop.do_it("ines", one, 60);
    shop.act_at("ines", began + 30 * MINUTE, start(two)).expect("a fact");
    assert_eq!(shop.exceptions(), vec![], "not known yet");
    shop.act_at("ines", began + 50 * MINUTE, pause(two)).expect("a fact");
    assert_eq!(shop.exception(TwoAtOnce).about, vec![one]);

    // Late, but before the other: nothing to explain.
    let three = shop.card(order, "body", "Glass out", &[]);
    shop.later(60).ok("ines", start(three));
    shop.later(10).ok("ines", finish(three));
    let between = began + 70 * MINUTE;
    shop.act_at("ines", between, start(two)).expect("a fact");
    shop.act_at("ines", between + 5 * MINUTE, finish(two)).expect("a fact");
    assert_eq!(shop.exceptions(), vec![TwoAtOnce]);
}

#[test]
fn closing_over_undone_work_raises_an_alarm_and_closes() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    shop.do_it("milo", down, 60);
    shop.do_it("milo", up, 60);
    let alarm = shop.exception(ClosedOverUndone);
    assert_eq!((alarm.card, alarm.about.as_slice(), alarm.owner), (Some(up), [own].as_slice(), None));
    assert!(shop.vehicle(order).open.is_empty(), "it was closed in steel");
    let alarm = alarm.id;
    let answer = |reason: &str| Act::Answer { exception: alarm, reason: reason.into() };
    assert_eq!(shop.refused("milo", answer("looked fine")).code, Code::Forbidden);
    assert_eq!(shop.refused("rask", answer("")).code, Code::Invalid);
    shop.ok("rask", answer("goes up again tomorrow"));
    let again = shop.refused("mara", answer("me too"));
    assert_eq!((again.code, again.other.and_then(|o| o.by)), (Code::Done, Some(person("rask"))));
}

#[test]
fn finishing_what_opens_opens_and_what_closes_closes() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("milo", Act::Move { order, to: "lift-2".into(), on: Some(StandsOn::Lift) });
    let (down, own, up) = shop.round_trip(order);
    let asked = HandoffId(shop.last_op().0);
    shop.do_it("milo", down, 60);
    let now = shop.vehicle(order).open.clone();
    assert_eq!(now.len(), 1);
    assert_eq!((&now[0].open, now[0].by, &now[0].equipment), (&DOWN.into(), down, &Some("lift-2".into())));
    assert_eq!(shop.state.handoffs[&asked].life, HandoffLife::Open);
    shop.do_it("ines", own, 40);
    shop.later(30);
    shop.do_it("milo", up, 60);
    assert!(shop.vehicle(order).open.is_empty());
    assert_eq!(shop.state.handoffs[&asked].life, HandoffLife::HandedBack);
    assert_eq!(shop.exceptions(), vec![]);
}

#[test]
fn work_inside_what_is_not_open_is_an_exception() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let needs = Needs { inside: Some(DOWN.into()), ..Needs::default() };
    shop.ok("rask", Act::AddCard(AddCard { needs: needs.clone(), ..add_card(order, "body", "Seal", &[]) }));
    let card = CardId(shop.last_op().0);
    shop.ok("ines", start(card));
    assert_eq!(shop.exceptions(), vec![NotOpen]);
    // Whoever only says that it is finished is asked the same.
    shop.ok("rask", Act::AddCard(AddCard { needs, ..add_card(order, "body", "Wax", &[]) }));
    let card = CardId(shop.last_op().0);
    shop.ok("bruno", finish(card));
    assert_eq!(shop.exceptions(), vec![NotOpen, NotOpen]);
}

#[test]
fn moving_an_open_vehicle_off_its_lift_is_an_exception() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("milo", Act::Move { order, to: "lift-1".into(), on: None });
    let (down, _, _) = shop.round_trip(order);
    shop.do_it("milo", down, 60);
    assert_eq!(shop.exceptions(), vec![]);
    shop.ok("milo", Act::Move { order, to: "stall-2".into(), on: Some(StandsOn::Dollies) });
    assert_eq!(shop.exception(MovedOpen).about, vec![down]);
    assert_eq!(shop.vehicle(order).condition.place, Some("stall-2".into()));
}

#[test]
fn two_vehicles_on_one_lift_is_an_exception() {
    let mut shop = TestShop::new();
    let (one, two) = (shop.order("2041"), shop.order("2042"));
    let onto = |order| Act::Move { order, to: "lift-1".into(), on: None };
    shop.ok("milo", onto(one));
    shop.ok("milo", onto(two));
    assert_eq!(shop.exceptions(), vec![Occupied]);
    assert_eq!(shop.ok("milo", onto(two)), vec![], "it stands there already");
    // The same seen from the first: its own standing there hides nobody.
    shop.ok("milo", Act::Move { order: one, to: "stall-1".into(), on: None });
    shop.ok("milo", onto(one));
    assert_eq!(shop.exceptions(), vec![Occupied, Occupied]);
}

#[test]
fn paused_work_does_not_hold_a_lift_that_the_vehicle_has_left() {
    let mut shop = TestShop::new();
    let (one, two) = (shop.order("2041"), shop.order("2042"));
    shop.ok("milo", Act::Move { order: one, to: "lift-1".into(), on: None });
    let needs = Needs { equipment: Some("lift".into()), ..Needs::default() };
    shop.ok("rask", Act::AddCard(AddCard { needs, ..add_card(one, "mechanical", "Brake lines", &[]) }));
    let card = CardId(shop.last_op().0);
    shop.ok("milo", start(card));
    assert_eq!(shop.get(card).used, Some("lift-1".into()));
    shop.later(10).ok("milo", pause(card));
    shop.ok("milo", Act::Move { order: one, to: "stall-2".into(), on: None });
    shop.ok("tova", Act::Move { order: two, to: "lift-1".into(), on: None });
    assert_eq!(shop.exceptions(), vec![]);
}

#[test]
fn a_lift_held_by_an_open_vehicle_is_occupied_for_others() {
    let mut shop = TestShop::new();
    let (one, two) = (shop.order("2041"), shop.order("2042"));
    shop.ok("milo", Act::Move { order: one, to: "lift-1".into(), on: None });
    shop.ok("milo", Act::Move { order: two, to: "lift-2".into(), on: None });
    let (down, _, _) = shop.round_trip(one);
    shop.do_it("milo", down, 60);
    assert_eq!(shop.exceptions(), vec![]);
    shop.ok("tova", Act::Move { order: two, to: "lift-1".into(), on: None });
    assert_eq!(shop.exceptions(), vec![Occupied]);
}

#[test]
fn work_done_by_another_than_the_holder_is_kept_and_said() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "mechanical", "Suspension down", &[]);
    shop.ok("milo", take(card));
    // Tova's take, made without network, loses; what she did is not lost.
    assert_eq!(shop.refused("tova", take(card)).code, Code::Taken);
    shop.ok("tova", start(card));
    shop.later(30).ok("tova", finish(card));
    assert_eq!(shop.exceptions(), vec![DoneByAnother]);
    assert_eq!(
        (shop.get(card).done_by, shop.get(card).taken_by),
        (Some(person("tova")), Some(person("milo")))
    );
}

#[test]
fn facts_after_the_end_are_kept_and_said() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (done, cancelled) =
        (shop.card(order, "body", "Rail off", &[]), shop.card(order, "body", "Trim out", &[]));
    shop.do_it("ines", done, 10);
    shop.ok("rask", Act::CancelCard { card: cancelled, reason: None });
    shop.ok("bruno", start(done));
    shop.later(5).ok("bruno", finish(done));
    assert_eq!(shop.get(done).spans.len(), 2, "his time is kept");
    assert_eq!(shop.get(done).done_by, Some(person("ines")));
    shop.ok("bruno", finish(cancelled));
    assert_eq!(shop.get(cancelled).life, Life::Cancelled);
    assert_eq!(shop.exceptions(), vec![AfterEnd; 3]);
    assert_eq!(shop.ok("ines", finish(done)), vec![], "the same said twice is one");
}

#[test]
fn work_after_the_end_runs_until_the_next_begins() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (done, next) = (shop.card(order, "body", "Rail off", &[]), shop.card(order, "body", "Trim out", &[]));
    shop.do_it("ines", done, 10);
    shop.ok("ines", start(done));
    let again = shop.last_op();
    shop.later(10).ok("ines", start(next));
    assert!(shop.get(done).spans.iter().all(|span| span.to.is_some()), "one card at a time");
    assert_eq!(
        shop.refused("ines", undo(again, done)).code,
        Code::NothingToUndo,
        "it would undo the finishing"
    );
    assert_eq!(shop.get(done).life, Life::Done);
}

#[test]
fn work_during_a_hold_is_an_exception() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    shop.ok("petra", hold(order, HoldKind::Parts, &[], Blocks::Start));
    shop.ok("ines", start(card));
    assert_eq!(shop.exceptions(), vec![DuringHold]);
}

#[test]
fn a_hold_can_block_the_finish_alone() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    shop.ok("petra", hold(order, HoldKind::Parts, &[card], Blocks::Finish));
    shop.ok("ines", start(card));
    assert_eq!(shop.exceptions(), vec![], "it can begin");
    shop.later(10).ok("ines", finish(card));
    assert_eq!(shop.exceptions(), vec![DuringHold]);
}

#[test]
fn work_that_is_not_approved_is_an_exception() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("rask", Act::AddCard(AddCard { proposed: true, ..add_card(order, "body", "Second rail", &[]) }));
    let card = CardId(shop.last_op().0);
    shop.ok("ines", start(card));
    assert_eq!(shop.exceptions(), vec![DuringHold]);
    assert_eq!(shop.get(card).life, Life::Working);
}

#[test]
fn work_without_the_qualification_is_an_exception() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let needs = Needs { qualification: Some("high-voltage".into()), ..Needs::default() };
    shop.ok("rask", Act::AddCard(AddCard { needs, ..add_card(order, "mechanical", "Isolate", &[]) }));
    let card = CardId(shop.last_op().0);
    shop.ok("milo", start(card));
    assert_eq!(shop.exceptions(), vec![Unqualified]);
}

#[test]
fn high_voltage_is_not_baked_without_the_makers_limit() {
    let mut shop = TestShop::new();
    let energy = |high_voltage, limit| Energy {
        high_voltage,
        bake_limit_celsius: limit,
        bake_limit_minutes: limit.map(|_| 45),
    };
    shop.ok("rask", order_with("2041", |open| open.energy = Some(energy(HighVoltage::Isolated, None))));
    let order = OrderId(shop.last_op().0);
    let needs =
        Needs { equipment: Some("booth".into()), cautions: vec![Caution::Spraying], ..Needs::default() };
    let add =
        |title| Act::AddCard(AddCard { needs: needs.clone(), ..add_card(order, "refinish", title, &[]) });
    shop.ok("rask", add("Clear and bake"));
    let bake = CardId(shop.last_op().0);
    shop.ok("pia", start(bake));
    assert_eq!(shop.exceptions(), vec![ExceptionKind::HighVoltage]);
    shop.later(10).ok("pia", finish(bake));

    // 60 degrees for at most 45 minutes is one of the limits that makers are reported to set [CP].
    shop.ok("rask", Act::Energy { order, energy: energy(HighVoltage::Isolated, Some(60)) });
    shop.ok("rask", add("Second booth visit"));
    let bake = CardId(shop.last_op().0);
    shop.ok("pia", start(bake));
    assert_eq!(shop.exceptions(), vec![ExceptionKind::HighVoltage], "with a limit nothing is said");
}

#[test]
fn live_high_voltage_is_not_worked_on() {
    let mut shop = TestShop::new();
    let live = Energy { high_voltage: HighVoltage::Live, ..Energy::default() };
    shop.ok("rask", order_with("2041", |open| open.energy = Some(live)));
    let order = OrderId(shop.last_op().0);
    let needs = Needs { cautions: vec![Caution::HighVoltage], ..Needs::default() };
    shop.ok("rask", Act::AddCard(AddCard { needs, ..add_card(order, "mechanical", "Battery out", &[]) }));
    let card = CardId(shop.last_op().0);
    shop.ok("milo", start(card));
    assert_eq!(shop.exceptions(), vec![ExceptionKind::HighVoltage]);
}

#[test]
fn stages_out_of_turn_are_recorded_with_what_is_undone() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    shop.ok("ines", stage(order, Stage::Ready));
    assert_eq!(shop.exception(OutOfTurn).about, vec![card]);
    assert_eq!(shop.vehicle(order).stage, Stage::Ready);
    assert_eq!(shop.refused("ines", stage(order, Stage::Delivered)).code, Code::Forbidden);
    shop.ok("rask", stage(order, Stage::Delivered));
    assert_eq!(shop.ok("rask", stage(order, Stage::Delivered)), vec![]);
    assert!(shop.state.in_shop().next().is_none());
    // It came back through the door: a fact, said.
    shop.ok("rask", stage(order, Stage::Arrived));
    assert_eq!(shop.exceptions(), vec![OutOfTurn, OutOfTurn, LeftOpen, OutOfTurn], "nobody had answered");
}

#[test]
fn a_stopped_vehicle_stays_until_its_work_is_over() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("rask", stage(order, Stage::Stopped));
    assert_eq!(shop.state.in_shop().count(), 0);
    let card = shop.card(order, "body", "Make safe", &[]);
    assert_eq!(shop.state.in_shop().count(), 1);
    shop.do_it("ines", card, 10);
    assert_eq!(shop.state.in_shop().count(), 0);
}

#[test]
fn a_move_that_comes_late_does_not_move_the_vehicle_back() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let earlier = shop.now + 10 * MINUTE;
    shop.later(30).ok("milo", Act::Move { order, to: "lift-2".into(), on: None });
    shop.act_at("ines", earlier, Act::Move { order, to: "stall-2".into(), on: None }).expect("a fact");
    assert_eq!(shop.vehicle(order).condition.place, Some("lift-2".into()));
    let stood: Vec<&str> = shop.vehicle(order).stood.iter().map(|s| s.place.0.as_str()).collect();
    assert_eq!(stood, ["stall-1", "stall-2", "lift-2"]);
}

#[test]
fn condition_keeps_what_is_not_named() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let change = |change| Act::Condition { order, change };
    let first =
        ConditionChange { rolls: Some(false), keys: Some("board".into()), ..ConditionChange::default() };
    shop.ok("ines", change(first.clone()));
    shop.ok(
        "ines",
        change(ConditionChange { weight_off: Some(vec![End::Rear]), ..ConditionChange::default() }),
    );
    let now = &shop.vehicle(order).condition;
    assert_eq!(
        (now.rolls, now.keys.as_deref(), now.weight_off.as_slice()),
        (Some(false), Some("board"), [End::Rear].as_slice())
    );
    assert_eq!(shop.ok("ines", change(first)), vec![], "it was so already");
}

#[test]
fn what_was_found_needs_no_words_and_a_note_does() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let found = |note: Option<&str>| Act::Found {
        order,
        card: None,
        what: Found::Seized,
        note: note.map(Into::into),
    };
    shop.ok("milo", found(None));
    shop.ok("milo", found(Some("  ")));
    let note = Act::Note { order, card: None, body: "  ".into() };
    assert_eq!(shop.refused("milo", note).code, Code::Invalid);
}

#[test]
fn a_known_picture_is_here_at_once() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let sha256 = "ab".repeat(32);
    let taken_at = shop.now + HOUR;
    let photo = |sha256: &str| Act::Photo {
        order,
        card: None,
        handoff: None,
        sha256: sha256.into(),
        mime: "image/jpeg".into(),
        bytes: 240_000,
        taken_at,
    };
    shop.ok("ines", photo(&sha256));
    let first = PhotoId(shop.last_op().0);
    assert!(!shop.state.photos[&first].here);
    assert_eq!(shop.state.photos[&first].taken_at, shop.now, "not in the future");
    let mut changed = domain::fold::Changed::new();
    domain::fold::fold(&mut shop.state, &Event::PhotoHere { sha256: sha256.clone() }, &mut changed);
    assert_eq!(changed.len(), 1);
    shop.ok("ines", photo(&sha256));
    assert!(shop.state.photos[&PhotoId(shop.last_op().0)].here);
    assert_eq!(shop.refused("ines", photo("AB")).code, Code::Invalid);
}

#[test]
fn cancelled_work_no_longer_keeps_others_waiting() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let first = shop.card(order, "body", "Rail off", &[]);
    let next = shop.card(order, "body", "Rail on", &[first]);
    assert_eq!(shop.get(next).ready_at, None);
    shop.ok("rask", Act::CancelCard { card: first, reason: None });
    assert_eq!(shop.get(next).ready_at, depends::ready_at(&shop.state, shop.get(next)));
    assert!(shop.get(next).ready_at.is_some());
    shop.ok("ines", take(next));
}

#[test]
fn finishing_notices_overlapping_work_of_everybody_whose_work_it_ends() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let one = shop.card(order, "body", "Rail off", &[]);
    let two = shop.card(order, "body", "Trim out", &[]);
    let began = shop.now;
    shop.do_it("ines", one, 60);
    shop.act_at("ines", began + 30 * MINUTE, start(two)).expect("a fact, from another device");
    shop.ok("bruno", Act::Help { card: two });
    shop.act_at("bruno", began + 40 * MINUTE, start(two)).expect("a fact");
    shop.act_at("bruno", began + 50 * MINUTE, finish(two)).expect("a fact");
    let at_once = shop.exception(TwoAtOnce);
    assert_eq!((at_once.owner, at_once.about.as_slice()), (Some(person("ines")), [one].as_slice()));
    assert_eq!(shop.exceptions(), vec![TwoAtOnce], "bruno did one thing only");
}

#[test]
fn facts_are_kept_whatever_the_phone_relied_on() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail off", &[]);
    let taken_at = shop.now;
    let facts = [
        start(card),
        pause(card),
        finish(card),
        Act::Found { order, card: None, what: Found::Seized, note: None },
        Act::Note { order, card: None, body: "Flange bent".into() },
        Act::Photo {
            order,
            card: None,
            handoff: None,
            sha256: "ab".repeat(32),
            mime: "image/jpeg".into(),
            bytes: 1,
            taken_at,
        },
        Act::Move { order, to: "stall-2".into(), on: None },
        Act::Condition { order, change: ConditionChange { rolls: Some(true), ..ConditionChange::default() } },
        Act::Energy { order, energy: Energy { high_voltage: HighVoltage::Live, ..Energy::default() } },
        stage(order, Stage::Ready),
    ];
    // Nothing of this is so.
    let relied_on = [
        Expect::Life { card, life: Life::Cancelled },
        Expect::Holder { card, person: Some(person("odin")) },
        Expect::Open { order, open: DOWN.into(), is: true },
    ];
    for fact in facts {
        assert!(fact.is_fact(), "{fact:?}");
        let now = shop.now;
        let events = shop.act_expecting("ines", now, &relied_on, fact.clone()).expect("a fact");
        assert!(!events.is_empty(), "{fact:?}");
        shop.later(1);
    }
    let now = shop.now;
    let wish = shop.act_expecting(
        "ines",
        now,
        &relied_on,
        Act::Hold {
            order,
            what: HoldKind::Parts,
            cards: vec![],
            blocks: Blocks::Start,
            due: None,
            note: None,
        },
    );
    assert_eq!(wish.expect_err("a wish").code, Code::Expectation);
}
