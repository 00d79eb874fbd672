//! What was sent after its sender, a routing or a department had gone, and what was said by mistake.

use domain::decide::Code;
use domain::ids::DepartmentId;
use domain::notice::{Situation, notices, situations};
use domain::stored::*;

use super::support::*;

fn leaves(shop: &mut TestShop, who: &str) {
    let now = shop.state.people[&person(who)].clone();
    shop.ok("odin", Act::SetPerson { person: Person { retired: true, ..(*now).clone() } });
}

fn told(shop: &TestShop) -> Vec<(NoticeKind, domain::ids::PersonId)> {
    let entry = shop.entries.last().expect("an entry");
    notices(&shop.state, entry, &shop.zone).into_iter().map(|n| (n.kind, n.person)).collect()
}

#[test]
fn what_was_taken_before_leaving_and_sent_after_it_is_free() {
    let mut shop = TestShop::new();
    let order = shop.order("4711");
    let card = shop.card(order, "mechanical", "Flush brakes", &[]);
    let taken = shop.now;
    shop.later(30);
    leaves(&mut shop, "milo");
    shop.later(30);
    shop.act_at("milo", taken, take(card)).expect("made while Milo was of the shop");
    assert_eq!((shop.get(card).life, shop.get(card).taken_by), (Life::Waiting, None));
    assert_eq!(told(&shop), [(NoticeKind::FellFree, person("rask")), (NoticeKind::FellFree, person("mara"))]);
    shop.ok("tova", take(card));
}

#[test]
fn work_begun_before_leaving_and_sent_after_it_ends_no_later_than_that() {
    let mut shop = TestShop::new();
    let order = shop.order("4711");
    let card = shop.card(order, "mechanical", "Flush brakes", &[]);
    let begun = shop.now;
    let left = shop.later(60).now;
    leaves(&mut shop, "milo");
    shop.later(60);
    shop.act_at("milo", begun, start(card)).expect("a fact");
    assert_eq!((shop.get(card).life, shop.get(card).taken_by), (Life::Paused, None));
    assert_eq!(shop.get(card).spans[0].to, Some(left), "nobody works here after leaving");
    // When it had really ended comes behind it.
    let ended = begun + 20 * domain::MINUTE;
    shop.act_at("milo", ended, finish(card)).expect("a fact");
    assert_eq!((shop.get(card).life, shop.get(card).done_at), (Life::Done, Some(ended)));
    assert_eq!(shop.get(card).spans[0].to, Some(ended));
    assert!(shop.exceptions().is_empty(), "{:?}", shop.exceptions());
}

#[test]
fn nothing_is_given_to_somebody_who_has_left() {
    let mut shop = TestShop::new();
    let order = shop.order("4711");
    let card = shop.card(order, "mechanical", "Flush brakes", &[]);
    leaves(&mut shop, "milo");
    let refusal = shop.refused("rask", Act::Assign { card, to: person("milo") });
    assert_eq!(refusal.code, Code::UnknownPerson);
}

#[test]
fn a_finish_that_is_taken_back_gives_nothing_to_whoever_has_left() {
    let mut shop = TestShop::new();
    let order = shop.order("4711");
    let card = shop.card(order, "mechanical", "Flush brakes", &[]);
    shop.ok("milo", take(card));
    shop.later(10).ok("tova", finish(card));
    let op = shop.last_op();
    leaves(&mut shop, "milo");
    shop.later(1).ok("tova", undo(op, card));
    assert_eq!((shop.get(card).life, shop.get(card).taken_by), (Life::Waiting, None));
    assert!(told(&shop).contains(&(NoticeKind::FellFree, person("rask"))));
}

#[test]
fn what_is_said_of_a_card_that_is_not_laid_out_stays_on_the_vehicle() {
    let mut shop = TestShop::new();
    let order = shop.order("4711");
    // The phone asked by a routing that had another step when it was asked.
    shop.ok("ines", Act::Ask(ask(order, DOWN)));
    let down = shop.step("down");
    let gone = shop.step("a-step-of-before");
    let said = |body: &str| Act::Note { order, card: Some(gone), body: body.into() };
    shop.ok("ines", said("Bolts are in the blue tray."));
    let note = |shop: &TestShop| shop.state.notes[&domain::ids::NoteId(shop.last_op().0)].clone();
    assert_eq!((note(&shop).order, note(&shop).card), (order, None));
    shop.ok("ines", Act::Found { order, card: Some(gone), what: Found::Seized, note: None });
    assert_eq!((note(&shop).found, note(&shop).card), (Some(Found::Seized), None));
    let photo = Act::Photo {
        order,
        card: Some(gone),
        handoff: None,
        sha256: "ab".repeat(32),
        mime: "image/jpeg".into(),
        bytes: 9,
        taken_at: shop.now,
    };
    shop.ok("ines", photo);
    assert_eq!(shop.state.photos[&domain::ids::PhotoId(shop.last_op().0)].card, None);
    // Another vehicle's card is a mistake, not a change of the routing.
    let other = shop.order("4712");
    let refusal = shop.refused("ines", Act::Note { order: other, card: Some(down), body: "x".into() });
    assert_eq!(refusal.code, Code::UnknownCard);
}

#[test]
fn a_routing_of_a_department_that_is_no_more_lays_out_nothing_and_the_planner_is_told() {
    let mut shop = TestShop::new();
    let order = shop.order("4711");
    let gone = shop.state.departments[&DepartmentId("mechanical".into())].clone();
    shop.ok("mara", Act::SetDepartment { department: Department { retired: true, ..(*gone).clone() } });
    let cards = shop.state.cards.len();
    let refusal = shop.refused("ines", Act::Ask(ask(order, DOWN)));
    assert_eq!(refusal.code, Code::RoutingOutdated);
    assert!(refusal.message.contains("Mechanical"), "{refusal}");
    assert_eq!(shop.state.cards.len(), cards, "nothing is half-done");
    let told = told(&shop);
    for (kind, who) in [
        (NoticeKind::Refused, "ines"),
        (NoticeKind::RoutingOutdated, "rask"),
        (NoticeKind::RoutingOutdated, "mara"),
    ] {
        assert!(told.contains(&(kind, person(who))), "{kind:?} {who}: {told:?}");
    }
    let opened = order_with("4712", |open| open.routings = vec![DOWN.into()]);
    assert_eq!(shop.refused("rask", opened).code, Code::RoutingOutdated);
}

#[test]
fn keys_that_did_not_go_back_are_as_if_nobody_had_said_so() {
    let mut shop = TestShop::new();
    let order = shop.order("4711");
    let card = shop.card(order, "mechanical", "Flush brakes", &[]);
    shop.ok("milo", take(card));
    shop.later(5).ok("rask", stage(order, Stage::Ready));
    let before = shop.vehicle(order).clone();
    shop.later(5).ok("rask", stage(order, Stage::Delivered));
    let said = shop.now;
    let back = |reason: &str| Act::StageBack { order, stage: Stage::Delivered, reason: reason.into() };
    assert_eq!(shop.later(5).refused("milo", back("wrong one")).code, Code::Forbidden);
    assert_eq!(shop.refused("rask", back("  ")).code, Code::Invalid);
    shop.ok("rask", back("It was the other grey wagon."));
    let after = shop.vehicle(order).clone();
    assert_eq!((after.stage, &after.stages), (Stage::Ready, &before.stages));
    assert_eq!(
        Order { taken_back: Vec::new(), ..after.clone() },
        before,
        "promise and all else are as before"
    );
    let kept = &after.taken_back[0];
    assert_eq!(
        (kept.reached_at, kept.by, kept.reason.as_str()),
        (said, person("rask"), "It was the other grey wagon.")
    );
    assert!(shop.state.in_shop().any(|o| o.id == order), "it is worked on again");
    let entry = shop.entries.last().expect("an entry");
    assert!(situations(&shop.state, entry).contains(&Situation::StageTakenBack));
    assert!(told(&shop).contains(&(NoticeKind::StageTakenBack, person("milo"))), "who holds work is told");
    // Said twice, or by another planner at the same time: it was so already.
    assert_eq!(shop.refused("mara", back("again")).code, Code::NothingToUndo);
    // A promise can be made again, and the keys can really go back.
    let due = local("2026-03-06T15:00");
    shop.ok("rask", Act::Promise { order, due: Some(due), reason: None });
    shop.later(60).ok("rask", stage(order, Stage::Delivered));
    assert_eq!(shop.vehicle(order).stages.iter().filter(|s| s.stage == Stage::Delivered).count(), 1);
}

#[test]
fn work_of_somebody_who_left_meanwhile_is_free_when_the_vehicle_comes_back() {
    let mut shop = TestShop::new();
    let order = shop.order("4711");
    let card = shop.card(order, "mechanical", "Flush brakes", &[]);
    shop.ok("milo", take(card));
    shop.ok("rask", stage(order, Stage::Delivered));
    leaves(&mut shop, "milo");
    let reason = "It stands in the yard.".to_owned();
    shop.ok("rask", Act::StageBack { order, stage: Stage::Delivered, reason });
    assert_eq!((shop.get(card).life, shop.get(card).taken_by), (Life::Waiting, None));
}

#[test]
fn only_keys_back_is_taken_back_like_this() {
    let mut shop = TestShop::new();
    let order = shop.order("4711");
    let reason = || "no".to_owned();
    let refusal = shop.refused("rask", Act::StageBack { order, stage: Stage::Authorised, reason: reason() });
    assert_eq!(refusal.code, Code::NothingToUndo);
    shop.ok("rask", stage(order, Stage::Ready));
    let ready = shop.refused("rask", Act::StageBack { order, stage: Stage::Ready, reason: reason() });
    assert_eq!(ready.code, Code::NothingToUndo);
    shop.ok("rask", stage(order, Stage::Delivered));
    let other = shop.refused("rask", Act::StageBack { order, stage: Stage::Authorised, reason: reason() });
    assert_eq!(other.code, Code::NothingToUndo, "what was there before stays");
}

#[test]
fn broken_equipment_that_nobody_can_prove_was_said_is_asked_about_where_a_vehicle_is_on_it() {
    let mut shop = TestShop::new();
    let order = shop.order("4711");
    let out = Act::EquipmentOut { equipment: "lift-1".into(), note: None };
    let unproved = |shop: &TestShop| {
        let context = domain::decide::Context {
            by: person("milo"),
            role: Role::Technician,
            op: domain::ids::OpId(id(0x7777)),
            at: shop.now,
            uncertain: false,
            now: shop.now,
            zone: &shop.zone,
        };
        let events = domain::decide::decide_unproved(&shop.state, &out, &context).expect("a fact");
        let raised = events.into_iter().filter_map(|event| match event {
            Event::ExceptionRaised { exception } => Some((exception.kind, exception.order)),
            _ => None,
        });
        raised.collect::<Vec<_>>()
    };
    assert!(unproved(&shop).is_empty(), "nothing stands there: planners are told, nobody has to answer");
    shop.ok("rask", Act::Move { order, to: "lift-1".into(), on: None });
    assert_eq!(unproved(&shop), [(ExceptionKind::Unproved, order)]);
}
