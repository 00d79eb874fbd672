//! Repair orders, cards and links, promises.

use domain::MINUTE;
use domain::decide::Code;
use domain::ids::*;
use domain::stored::*;

use crate::support::*;

#[test]
fn two_planners_do_not_promise_different_days_unaware_of_each_other() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (friday, monday) = (local("2026-03-06T16:00"), local("2026-03-09T16:00"));
    let promise = |due| Act::Promise { order, due: Some(due), reason: None };
    let seen = |due| [Expect::Promise { order, due }];
    let now = shop.now;
    shop.act_expecting("rask", now, &seen(None), promise(friday)).expect("nothing was promised");
    shop.later(5);
    let now = shop.now;
    let lost = shop.act_expecting("mara", now, &seen(None), promise(monday)).expect_err("rask was first");
    assert_eq!(lost.code, Code::PromisedOtherwise);
    assert_eq!(lost.other, Some(Other { by: Some(person("rask")), at: Some(now - 5 * domain::MINUTE) }));
    assert_eq!(shop.vehicle(order).promise, Some(friday));
    let same = shop.act_expecting("mara", now, &seen(None), promise(friday));
    assert_eq!(same.expect("she means the same"), vec![]);
    shop.act_expecting("mara", now, &seen(Some(friday)), promise(monday)).expect("she has seen it");
    assert_eq!(
        (shop.vehicle(order).promised_by, shop.vehicle(order).promised_at),
        (Some(person("mara")), Some(now))
    );
    let back = Act::Promise { order, due: None, reason: None };
    let lost = shop.act_expecting("rask", now, &seen(Some(friday)), back).expect_err("it was moved");
    assert_eq!(lost.code, Code::PromisedOtherwise);
}

#[test]
fn an_order_number_is_given_once_whatever_blanks_stand_around_it() {
    let mut shop = TestShop::new();
    shop.order("2041");
    for number in ["2041", " 2041", "2041 "] {
        assert_eq!(shop.refused("rask", open_order(number)).code, Code::DuplicateNumber, "«{number}»");
    }
    let other = shop.order(" 2042 ");
    assert_eq!(shop.vehicle(other).number, "2042");
    let rename = |number: &str| Act::EditOrder {
        order: other,
        change: OrderChange { number: Some(number.into()), ..OrderChange::default() },
    };
    assert_eq!(shop.refused("rask", rename(" 2041 ")).code, Code::DuplicateNumber);
    shop.ok("rask", rename(" 2043 "));
    assert_eq!(shop.state.order_numbered("2043"), Some(other));
    shop.order("2042");
}

#[test]
fn a_vin_with_a_wrong_check_digit_is_warned_about_and_kept() {
    let mut shop = TestShop::new();
    // Manufacturer code ZZ9 and a wrong digit in position 9.
    shop.ok("rask", order_with("2041", |open| open.vin = Some(" zz9aaaaa1aaaaaaaa ".into())));
    let order = OrderId(shop.last_op().0);
    assert_eq!(shop.vehicle(order).vin.as_deref(), Some("ZZ9AAAAA1AAAAAAAA"));
    let right = domain::vin::check_digit("ZZ9AAAAA1AAAAAAAA").expect("all characters are allowed");
    assert_ne!(right, '1');
    assert!(shop.vehicle(order).vin_doubtful);
    let vin = |vin: &str| Act::EditOrder {
        order,
        change: OrderChange { vin: Some(vin.into()), ..OrderChange::default() },
    };
    shop.ok("rask", vin(&format!("zz9aaaaa{right}aaaaaaaa")));
    assert!(!shop.vehicle(order).vin_doubtful);
    shop.ok("rask", vin(" "));
    assert_eq!((shop.vehicle(order).vin.as_deref(), shop.vehicle(order).vin_doubtful), (None, false));
    assert_eq!(shop.refused("rask", vin(&"Z".repeat(10_000))).code, Code::Invalid);
}

#[test]
fn a_promise_is_neither_in_the_past_nor_on_a_closed_day() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let promise = |due| Act::Promise { order, due: Some(due), reason: None };
    let now = shop.now;
    assert_eq!(shop.refused("rask", promise(now)).code, Code::PromisePast);
    let saturday = shop.refused("rask", promise(local("2026-03-07T12:00")));
    assert_eq!(saturday.code, Code::PromiseClosed);
    assert!(saturday.message.contains("2026-03-07"), "{saturday}");
    assert_eq!(
        shop.refused("rask", promise(local("2026-07-03T12:00"))).code,
        Code::PromiseClosed,
        "a holiday, a Friday"
    );
    assert_eq!(shop.refused("ines", promise(local("2026-03-06T16:00"))).code, Code::Forbidden);
    shop.ok("rask", promise(local("2026-03-06T16:00")));
    let open = |due| order_with("2042", |open| open.promise = Some(due));
    assert_eq!(shop.refused("rask", open(now)).code, Code::PromisePast);
    assert_eq!(shop.refused("rask", open(local("2026-03-08T12:00"))).code, Code::PromiseClosed);
}

#[test]
fn the_first_promise_after_authorisation_is_kept_for_measuring() {
    let mut shop = TestShop::new();
    shop.ok("rask", order_with("2041", |open| open.stage = Stage::Arrived));
    let order = OrderId(shop.last_op().0);
    let promise = |day: &str| Act::Promise { order, due: Some(local(day)), reason: None };
    shop.ok("rask", promise("2026-03-10T16:00"));
    assert_eq!(shop.vehicle(order).first_promise, None, "not authorised yet");
    shop.ok("rask", stage(order, Stage::Authorised));
    assert_eq!(shop.vehicle(order).first_promise, Some(local("2026-03-10T16:00")));
    shop.ok("rask", promise("2026-03-12T16:00"));
    shop.ok("rask", promise("2026-03-13T16:00"));
    let now = shop.vehicle(order);
    assert_eq!((now.first_promise, now.promise_moves), (Some(local("2026-03-10T16:00")), 2));
    assert_eq!(now.promise, Some(local("2026-03-13T16:00")));
}

#[test]
fn routings_of_a_new_order_follow_each_other() {
    let mut shop = TestShop::new();
    shop.ok("rask", order_with("2041", |open| open.routings = vec![DOWN.into(), "paint".into()]));
    let order = OrderId(shop.last_op().0);
    let titles: Vec<&str> = shop.state.cards_of(order).map(|c| c.title.text.as_str()).collect();
    assert_eq!(titles, ["down", "work", "up", "prep", "spray"]);
    let prep = shop.step("1/prep");
    assert_eq!(shop.get(prep).after, vec![link(shop.step("0/up"), 0)]);
    shop.ok("mara", Act::SetRouting { routing: Routing { retired: true, ..suspension_down() } });
    let retired = shop.refused("rask", order_with("2042", |open| open.routings = vec![DOWN.into()]));
    assert_eq!(retired.code, Code::UnknownRouting);
}

#[test]
fn keys_that_came_in_before_are_dated_back_and_never_forward() {
    let mut shop = TestShop::new();
    let before = shop.now - 3 * 24 * HOUR;
    shop.ok("rask", order_with("2041", |open| open.arrived_at = Some(before)));
    let order = OrderId(shop.last_op().0);
    assert_eq!((shop.vehicle(order).stages[0].at, shop.vehicle(order).stood[0].from), (before, before));
    let ahead = shop.now + 24 * HOUR;
    shop.ok("rask", order_with("2042", |open| open.arrived_at = Some(ahead)));
    let order = OrderId(shop.last_op().0);
    assert_eq!((shop.vehicle(order).stages[0].at, shop.vehicle(order).stood[0].from), (shop.now, shop.now));
    assert_eq!(
        shop.refused("rask", order_with("2043", |open| open.arrived_at = Some(i64::MIN))).code,
        Code::Invalid
    );
}

#[test]
fn a_comeback_is_a_new_visit_that_names_its_cause() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let cause = shop.card(order, "refinish", "Clear", &[]);
    shop.do_it("pia", cause, 30);
    shop.ok("rask", stage(order, Stage::Delivered));
    shop.ok("rask", order_with("2041-C", |open| open.comeback_of = Some(cause)));
    assert_eq!(shop.vehicle(OrderId(shop.last_op().0)).comeback_of, Some(cause));
    let unknown = shop.refused("rask", order_with("2044", |open| open.comeback_of = Some(CardId(id(9)))));
    assert_eq!(unknown.code, Code::UnknownCard);
}

#[test]
fn links_never_turn_in_a_circle() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let one = shop.card(order, "body", "One", &[]);
    let two = shop.card(order, "body", "Two", &[one]);
    let three = shop.card(order, "body", "Three", &[two]);
    let after = |card, before| Act::Link { card, after: link(before, 0) };
    assert_eq!(shop.refused("rask", after(one, three)).code, Code::Cycle);
    assert_eq!(shop.refused("rask", after(one, one)).code, Code::Cycle);
    assert_eq!(shop.refused("ines", after(three, one)).code, Code::Forbidden);
    shop.ok("rask", after(three, one));
    let between = AddCard { before: vec![one], ..add_card(order, "body", "Between", &[three]) };
    assert_eq!(shop.refused("rask", Act::AddCard(between)).code, Code::Cycle);
    shop.ok("rask", Act::Unlink { card: two, after: one });
    shop.ok("rask", Act::Unlink { card: three, after: one });
    shop.ok("rask", after(one, three));
}

#[test]
fn a_link_stays_on_one_vehicle() {
    let mut shop = TestShop::new();
    let (one, two) = (shop.order("2041"), shop.order("2042"));
    let (here, there) = (shop.card(one, "body", "Here", &[]), shop.card(two, "body", "There", &[]));
    assert_eq!(shop.refused("rask", Act::Link { card: here, after: link(there, 0) }).code, Code::UnknownCard);
    let add = Act::AddCard(add_card(one, "body", "Next", &[there]));
    assert_eq!(shop.refused("rask", add).code, Code::UnknownCard);
    assert_eq!(
        shop.refused("ines", hold(one, HoldKind::Parts, &[there], Blocks::Start)).code,
        Code::UnknownCard
    );
}

#[test]
fn a_card_put_between_keeps_the_next_waiting() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let one = shop.card(order, "body", "Rail on", &[]);
    let next = shop.card(order, "refinish", "Prime", &[one]);
    shop.do_it("ines", one, 10);
    assert_eq!(shop.get(next).ready_at, Some(shop.now));
    let between = AddCard { before: vec![next], ..add_card(order, "body", "Seal", &[one]) };
    shop.ok("rask", Act::AddCard(between));
    assert_eq!(shop.get(next).ready_at, None);
}

#[test]
fn what_is_done_stays_as_it_is() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (done, other) = (shop.card(order, "body", "Rail on", &[]), shop.card(order, "body", "Trim in", &[]));
    shop.do_it("ines", done, 10);
    let change = CardChange { title: Some("Rail off".into()), ..CardChange::default() };
    assert_eq!(shop.refused("rask", Act::EditCard { card: done, change }).code, Code::Done);
    assert_eq!(shop.refused("rask", Act::CancelCard { card: done, reason: None }).code, Code::Done);
    assert_eq!(shop.refused("rask", Act::Link { card: done, after: link(other, 0) }).code, Code::Done);
    let before = AddCard { before: vec![done], ..add_card(order, "body", "Seal", &[]) };
    assert_eq!(shop.refused("rask", Act::AddCard(before)).code, Code::Done);
    assert_eq!(shop.refused("bruno", Act::Help { card: done }).code, Code::Done);
    assert_eq!(shop.refused("rask", Act::Assign { card: done, to: person("bruno") }).code, Code::Done);
    assert_eq!(shop.refused("ines", Act::GiveBack { card: done }).code, Code::Done);
}

#[test]
fn a_holder_words_a_card_and_a_planner_says_what_it_needs() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    let change = |change: CardChange| Act::EditCard { card, change };
    let longer = CardChange {
        planned_minutes: Some(90),
        title: Some("Rail and bracket".into()),
        ..CardChange::default()
    };
    assert_eq!(shop.refused("ines", change(longer.clone())).code, Code::Forbidden, "not hers");
    shop.ok("ines", take(card));
    shop.ok("ines", change(longer));
    assert_eq!(shop.get(card).planned_minutes, 90);
    for forbidden in [
        CardChange { needs: Some(Needs::default()), ..CardChange::default() },
        CardChange { sold_minutes: Some(300), ..CardChange::default() },
        CardChange { department: Some("refinish".into()), ..CardChange::default() },
        CardChange { approved: true, ..CardChange::default() },
    ] {
        assert_eq!(shop.refused("ines", change(forbidden)).code, Code::Forbidden);
    }
}

#[test]
fn running_work_is_not_cancelled_behind_somebodys_back() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    shop.ok("ines", start(card));
    let running = shop.refused("rask", Act::CancelCard { card, reason: None });
    assert_eq!((running.code, running.other.and_then(|o| o.by)), (Code::Taken, Some(person("ines"))));
    shop.ok("ines", pause(card));
    shop.ok("rask", Act::CancelCard { card, reason: None });
    assert_eq!(shop.ok("rask", Act::CancelCard { card, reason: None }), vec![]);
}

#[test]
fn urgency_is_one_two_or_four() {
    let mut shop = TestShop::new();
    assert_eq!(shop.refused("rask", order_with("2041", |open| open.weight = 3)).code, Code::Invalid);
    let order = shop.order("2041");
    let weight = |weight| OrderChange {
        weight: Some(weight),
        weight_reason: Some("customer waits".into()),
        ..OrderChange::default()
    };
    assert_eq!(shop.refused("rask", Act::EditOrder { order, change: weight(0) }).code, Code::Invalid);
    shop.ok("rask", Act::EditOrder { order, change: weight(4) });
    assert_eq!(shop.vehicle(order).weight_reason.as_deref(), Some("customer waits"));
}

#[test]
fn minutes_are_plausible() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    for planned_minutes in [0, 12_001, u32::MAX] {
        let add = AddCard { planned_minutes, ..add_card(order, "body", "Rail on", &[]) };
        assert_eq!(shop.refused("rask", Act::AddCard(add)).code, Code::Invalid, "{planned_minutes}");
    }
    let card = shop.card(order, "body", "Rail on", &[]);
    let other = shop.card(order, "body", "Trim in", &[]);
    assert_eq!(shop.refused("rask", Act::Link { card, after: link(other, u32::MAX) }).code, Code::Invalid);
    // A fact is kept, with the longest cure there is.
    shop.ok("ines", Act::Finish { card: other, checks: vec![], wet_minutes: Some(u32::MAX) });
    assert_eq!(shop.vehicle(order).condition.wet_until, Some(shop.now + 90 * 24 * 60 * MINUTE));
}

#[test]
fn what_goes_on_without_keys_in_is_asked_about_once() {
    let mut shop = TestShop::new();
    let expected = |number: &str| order_with(number, |open| open.stage = Stage::Expected);
    shop.ok("rask", expected("2041"));
    let order = OrderId(shop.last_op().0);
    shop.ok("rask", stage(order, Stage::Authorised));
    assert_eq!(shop.exceptions(), [ExceptionKind::NoKeysIn]);
    assert_eq!(shop.exception(ExceptionKind::NoKeysIn).owner, None, "a planner answers");
    shop.ok("rask", stage(order, Stage::Ready));
    // Not asked twice; that it was not answered is said of a vehicle that is ready.
    assert_eq!(shop.exceptions(), [ExceptionKind::NoKeysIn, ExceptionKind::LeftOpen]);

    shop.ok("rask", expected("2042"));
    let other = OrderId(shop.last_op().0);
    shop.ok("rask", stage(other, Stage::Arrived));
    shop.ok("rask", stage(other, Stage::Authorised));
    assert_eq!(shop.exceptions().len(), 2, "its keys came in");
}
