//! Taking, giving back, helping, assigning, leading: one winner, and the loser is told.

use domain::decide::Code;
use domain::stored::*;

use crate::support::*;

#[test]
fn a_take_has_one_winner_and_the_loser_learns_who_and_when() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "mechanical", "Suspension down", &[]);
    shop.ok("milo", take(card));
    let won_at = shop.now;
    shop.later(3);
    let lost = shop.refused("tova", take(card));
    assert_eq!(lost.code, Code::Taken);
    assert_eq!(lost.other, Some(Other { by: Some(person("milo")), at: Some(won_at) }));
    assert_eq!(shop.get(card).taken_by, Some(person("milo")));
}

#[test]
fn taking_what_one_holds_changes_nothing() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "mechanical", "Suspension down", &[]);
    shop.ok("milo", take(card));
    assert_eq!(shop.ok("milo", take(card)), vec![]);
}

#[test]
fn what_can_not_be_taken_says_why() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let first = shop.card(order, "mechanical", "Subframe out", &[]);
    let next = shop.card(order, "mechanical", "Subframe in", &[first]);
    let not_ready = shop.refused("milo", take(next));
    assert_eq!(not_ready.code, Code::NotReady);
    assert!(not_ready.message.contains("Subframe out"), "{not_ready}");

    assert_eq!(shop.refused("ines", take(first)).code, Code::NotYours, "another department's");
    shop.do_it("milo", first, 30);
    assert_eq!(shop.refused("tova", take(first)).code, Code::Done);
    shop.ok("rask", Act::CancelCard { card: next, reason: None });
    assert_eq!(shop.refused("milo", take(next)).code, Code::Cancelled);

    shop.ok(
        "rask",
        Act::AddCard(AddCard { proposed: true, ..add_card(order, "mechanical", "Bushings", &[]) }),
    );
    let proposed = domain::ids::CardId(shop.last_op().0);
    assert_eq!(shop.refused("milo", take(proposed)).code, Code::NotReady, "not approved");
    let approve = CardChange { approved: true, ..CardChange::default() };
    shop.ok("rask", Act::EditCard { card: proposed, change: approve });
    shop.ok("milo", take(proposed));

    shop.ok("rask", stage(order, Stage::Delivered));
    let late = shop.card_refused_after_delivery(order);
    assert_eq!(late, Code::Delivered);
}

impl TestShop {
    fn card_refused_after_delivery(&mut self, order: domain::ids::OrderId) -> Code {
        self.refused("rask", Act::AddCard(add_card(order, "body", "Late", &[]))).code
    }
}

#[test]
fn a_qualification_must_be_valid_now() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let needs = Needs { qualification: Some("high-voltage".into()), ..Needs::default() };
    shop.ok("rask", Act::AddCard(AddCard { needs, ..add_card(order, "mechanical", "Isolate battery", &[]) }));
    let card = domain::ids::CardId(shop.last_op().0);
    assert_eq!(shop.refused("milo", take(card)).code, Code::NotQualified);

    let mut milo = a_person("milo", "mechanical", Role::Technician);
    milo.qualifications.insert("high-voltage".into(), Some(shop.now));
    shop.ok("mara", Act::SetPerson { person: milo.clone() });
    assert_eq!(shop.refused("milo", take(card)).code, Code::NotQualified, "it has just run out");
    milo.qualifications.insert("high-voltage".into(), Some(shop.now + 1));
    shop.ok("mara", Act::SetPerson { person: milo });
    shop.ok("milo", take(card));
}

#[test]
fn a_hold_keeps_from_taking_until_it_ends() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let held = shop.card(order, "body", "Fit rail", &[]);
    let free = shop.card(order, "body", "Strip trim", &[]);
    shop.ok("petra", hold(order, HoldKind::Parts, &[held], Blocks::Start));
    let parts = domain::ids::HoldId(shop.last_op().0);
    assert_eq!(shop.refused("ines", take(held)).code, Code::NotReady);
    shop.ok("ines", take(free));
    shop.ok("petra", Act::Unhold { order, hold: parts });
    shop.ok("ines", take(held));
    assert_eq!(shop.ok("petra", Act::Unhold { order, hold: parts }), vec![], "it has ended already");
    let due = shop.now;
    assert_eq!(shop.refused("petra", Act::HoldDue { order, hold: parts, due }).code, Code::Done);
}

#[test]
fn a_delivery_that_is_moved_keeps_the_day_it_was_first_said_for() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Fit rail", &[]);
    let said = shop.now + 60_000;
    let act = hold(order, HoldKind::Parts, &[card], Blocks::Start);
    let Act::Hold { what, cards, blocks, note, .. } = act else { unreachable!() };
    shop.ok("petra", Act::Hold { order, what, cards, blocks, due: Some(said), note });
    let parts = domain::ids::HoldId(shop.last_op().0);
    for later in [said + 1, said + 2] {
        shop.ok("petra", Act::HoldDue { order, hold: parts, due: later });
        let held = &shop.state.orders[&order].holds[0];
        assert_eq!((held.due, held.first_due), (Some(later), Some(said)));
    }
    assert_eq!(shop.ok("petra", Act::HoldDue { order, hold: parts, due: said + 2 }), vec![], "nothing new");
    let none = Act::HoldDue { order, hold: domain::ids::HoldId(id(7)), due: said };
    assert_eq!(shop.refused("petra", none).code, Code::Unknown);
}

#[test]
fn only_the_office_says_that_the_repair_is_approved() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("ines", hold(order, HoldKind::Approval, &[], Blocks::Start));
    let approval = domain::ids::HoldId(shop.last_op().0);
    assert_eq!(shop.refused("ines", Act::Unhold { order, hold: approval }).code, Code::Forbidden);
    shop.ok("rask", Act::Unhold { order, hold: approval });
}

#[test]
fn giving_back_returns_the_card_and_stops_the_clock() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "mechanical", "Suspension down", &[]);
    shop.ok("milo", take(card));
    assert_eq!(shop.refused("tova", Act::GiveBack { card }).code, Code::NotYours);
    shop.ok("milo", Act::GiveBack { card });
    assert_eq!((shop.get(card).life, shop.get(card).taken_by), (Life::Waiting, None));

    shop.ok("milo", start(card));
    shop.later(20).ok("milo", Act::GiveBack { card });
    assert_eq!((shop.get(card).life, shop.get(card).taken_by), (Life::Paused, None));
    shop.ok("tova", take(card));
    shop.ok("rask", Act::GiveBack { card });
    assert_eq!(shop.get(card).taken_by, None, "a planner gives back for others");
}

#[test]
fn two_on_one_card_are_holder_and_helper() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "mechanical", "Engine out", &[]);
    shop.ok("milo", start(card));
    shop.ok("tova", Act::Help { card });
    shop.ok("tova", start(card));
    shop.later(30).ok("milo", pause(card));
    assert_eq!(shop.get(card).life, Life::Working, "the helper goes on");
    shop.later(5).ok("tova", finish(card));
    assert_eq!(shop.exceptions(), vec![], "a helper may finish");
    assert_eq!(shop.get(card).spans.len(), 2);
}

#[test]
fn a_planner_assigns_and_takes_from_the_one_before() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "mechanical", "Suspension down", &[]);
    let to_tova = Act::Assign { card, to: person("tova") };
    assert_eq!(shop.refused("milo", to_tova.clone()).code, Code::Forbidden);
    shop.ok("milo", start(card));
    shop.later(10).ok("rask", to_tova);
    assert_eq!(shop.get(card).taken_by, Some(person("tova")));
    assert_eq!(shop.get(card).life, Life::Paused, "milo's clock has stopped");
    assert_eq!(shop.refused("rask", Act::Assign { card, to: person("ines") }).code, Code::NotYours);
}

#[test]
fn what_is_only_proposed_is_not_assigned() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("rask", Act::AddCard(AddCard { proposed: true, ..add_card(order, "body", "Second rail", &[]) }));
    let card = domain::ids::CardId(shop.last_op().0);
    assert_eq!(shop.refused("rask", Act::Assign { card, to: person("ines") }).code, Code::NotReady);
}

#[test]
fn a_vehicle_has_one_lead_per_department() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let lead = |who: Option<&str>| Act::Lead { order, department: "body".into(), person: who.map(person) };
    shop.ok("ines", lead(Some("ines")));
    let lost = shop.refused("bruno", lead(Some("bruno")));
    assert_eq!((lost.code, lost.other.and_then(|o| o.by)), (Code::Taken, Some(person("ines"))));
    assert_eq!(
        shop.refused("ines", lead(Some("bruno"))).code,
        Code::Forbidden,
        "only a planner gives it to somebody"
    );
    shop.ok("rask", lead(Some("bruno")));
    shop.ok("bruno", lead(None));
    assert!(shop.vehicle(order).leads.is_empty());
}

#[test]
fn what_was_relied_on_must_still_be_so_for_a_wish_and_never_for_a_fact() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "mechanical", "Suspension down", &[]);
    let nobody = [Expect::Holder { card, person: None }];
    let waiting = [Expect::Life { card, life: Life::Waiting }];
    let closed = [Expect::Open { order, open: DOWN.into(), is: false }];
    let now = shop.now;
    shop.act_expecting("milo", now, &nobody, take(card)).expect("nobody holds it");
    shop.act_expecting("rask", now, &closed, Act::PutFirst { card, reason: "lift".into(), until: now + 1 })
        .expect("it is closed");
    let changed = shop.act_expecting("rask", now, &waiting, Act::CancelCard { card, reason: None });
    assert_eq!(changed.expect_err("it is taken").code, Code::Expectation);
    shop.act_expecting("milo", now, &waiting, start(card)).expect("a fact");
}

#[test]
fn put_first_has_a_reason_and_an_end() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Fit rail", &[]);
    let put = |reason: &str, until| Act::PutFirst { card, reason: reason.into(), until };
    let now = shop.now;
    assert_eq!(shop.refused("ines", put("my car", now + HOUR)).code, Code::Forbidden);
    assert_eq!(shop.refused("rask", put("waits in the yard", now)).code, Code::PutFirstPast);
    assert_eq!(shop.refused("rask", put(" ", now + HOUR)).code, Code::Invalid);
    shop.ok("rask", put("customer waits", now + HOUR));
    let first = shop.get(card).put_first.clone().expect("put first");
    assert_eq!((first.by, first.reason.as_str()), (person("rask"), "customer waits"));
    shop.ok("rask", Act::PutBack { card });
    assert_eq!(shop.get(card).put_first, None);
    shop.do_it("ines", card, 10);
    let now = shop.now;
    assert_eq!(shop.refused("rask", put("again", now + HOUR)).code, Code::Done);
}
