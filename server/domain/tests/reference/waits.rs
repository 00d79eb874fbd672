//! Waits and equipment hours of days made so that they can be added up by hand, and the list of measures
//! against its page. The precedence of reasons: common practice.

use std::collections::BTreeMap;

use domain::ids::*;
use domain::measure::control::control;
use domain::measure::pay::{own, sold_shares};
use domain::measure::{Class, Measure, Question, answer, measures};
use domain::stored::*;
use domain::{MINUTE, Ms};

use crate::support::*;

fn parts(all: &[Measure], id: &str) -> BTreeMap<String, f64> {
    let found = all.iter().find(|m| m.id == id).unwrap_or_else(|| panic!("no measure {id}"));
    found.by.iter().map(|(key, figure)| (key.clone(), figure.value.expect("a value"))).collect()
}

/// Minutes by key, rounded; what is missing is none.
fn minutes(all: &[Measure], id: &str) -> BTreeMap<String, i64> {
    parts(all, id).into_iter().map(|(key, hours)| (key, (hours * 60.0).round() as i64)).collect()
}

fn of(pairs: &[(&str, i64)]) -> BTreeMap<String, i64> {
    pairs.iter().map(|(key, minutes)| ((*key).to_owned(), *minutes)).collect()
}

fn at(shop: &mut TestShop, time: &str) {
    let to = local(&format!("2026-03-{time}"));
    assert!(to >= shop.now, "{time} is past");
    shop.now = to;
}

fn asked(shop: &TestShop, from: Ms) -> Vec<Measure> {
    measures(&shop.state, &shop.zone, from, shop.now, shop.now)
}

/// Shifts are 8:00-12:00 and 12:30-17:00, Monday to Friday; 2026-03-02 is a Monday.
#[test]
fn one_reason_at_a_time_the_first_that_applies() {
    let mut shop = TestShop::new();
    shop.checked = false;
    let from = shop.now;
    let order = shop.order("2041");
    let first = shop.card(order, "mechanical", "First", &[]);
    let mut second = add_card(order, "mechanical", "Second", &[]);
    second.after = vec![link(first, 45)];
    shop.ok("rask", Act::AddCard(second));
    let second = CardId(shop.last_op().0);
    // 8:00 to 8:30: both mechanics are there and free.
    at(&mut shop, "02T08:30");
    shop.ok("rask", hold(order, HoldKind::Parts, &[], Blocks::Start));
    let hold_parts = shop.vehicle(order).holds[0].id;
    at(&mut shop, "02T09:30");
    // Approval comes before parts while both apply: 9:30 to 10:00.
    shop.ok("rask", hold(order, HoldKind::Approval, &[first], Blocks::Start));
    let hold_approval = shop.vehicle(order).holds[1].id;
    at(&mut shop, "02T10:00");
    shop.ok("rask", Act::Unhold { order, hold: hold_approval });
    at(&mut shop, "02T10:15");
    shop.ok("rask", Act::Unhold { order, hold: hold_parts });
    shop.ok("milo", take(first));
    at(&mut shop, "02T10:25");
    shop.ok("milo", start(first));
    at(&mut shop, "02T11:30");
    shop.ok("milo", finish(first));
    // Cures until 12:15, through the break; until 12:30 nobody is on shift.
    // Then both are clocked on another vehicle until 13:30.
    let other = shop.order("2042");
    let (busy_1, busy_2) =
        (shop.card(other, "mechanical", "A", &[]), shop.card(other, "mechanical", "B", &[]));
    at(&mut shop, "02T12:30");
    shop.ok("milo", start(busy_1));
    shop.ok("tova", start(busy_2));
    at(&mut shop, "02T13:30");
    shop.ok("milo", finish(busy_1));
    shop.ok("tova", finish(busy_2));
    // 13:30 to 14:00 at a sublet, 14:00 to 14:20 free again, then worked.
    shop.ok("rask", stage(order, Stage::Away));
    at(&mut shop, "02T14:00");
    shop.ok("rask", stage(order, Stage::Authorised));
    at(&mut shop, "02T14:20");
    shop.do_it("tova", second, 40);
    // 15:00: nothing is left to do, and nobody says that it is ready until 15:10.
    at(&mut shop, "02T15:10");
    shop.ok("rask", stage(order, Stage::Ready));
    at(&mut shop, "02T16:00");
    shop.ok("rask", stage(order, Stage::Delivered));
    shop.ok("rask", stage(other, Stage::Ready));

    let all = asked(&shop, from);
    // The other vehicle came at 11:30: it waited for free people until 12:00, in the break for people on
    // shift, was worked until 13:30, and then stood with nothing to do until it was called ready.
    let reasons = of(&[
        ("no_reason", 30 + 20 + 10 + 30 + 150),
        ("parts", 60 + 15),
        ("approval", 30),
        ("taken_not_started", 10),
        ("curing", 45),
        ("nobody_free", 15 + 60 + 30),
        ("away", 30),
    ]);
    assert_eq!(minutes(&all, "wait_by_reason"), reasons);
    let working = of(&[
        ("no_reason", 30 + 20 + 10 + 30 + 150),
        ("parts", 60 + 15),
        ("approval", 30),
        ("taken_not_started", 10),
        ("curing", 30),
        ("nobody_free", 60),
        ("away", 30),
    ]);
    assert_eq!(minutes(&all, "wait_by_reason_working"), working);
    let departments = minutes(&all, "wait_by_department");
    assert_eq!(departments["no_department"], 10 + 150 + 30);
    assert_eq!(departments["mechanical/parts"], 75);
    assert_eq!(departments["mechanical"] + departments["no_department"], reasons.values().sum::<i64>());
    let waits = all.iter().find(|m| m.id == "wait_by_reason").expect("it is there");
    assert_eq!((waits.all.count, waits.by["no_reason"].count, waits.by["parts"].count), (2, 2, 1));
}

/// A part is missing for one card, another card could be worked: it waits for people, not for the part.
#[test]
fn a_missing_part_is_no_reason_while_other_work_is_there() {
    let mut shop = TestShop::new();
    let from = shop.now;
    let order = shop.order("2041");
    let held = shop.card(order, "body", "Held", &[]);
    let open = shop.card(order, "mechanical", "Open", &[]);
    shop.ok("rask", hold(order, HoldKind::Parts, &[held], Blocks::Start));
    at(&mut shop, "02T09:00");
    shop.do_it("milo", open, 60);
    at(&mut shop, "02T11:00");
    let all = asked(&shop, from);
    assert_eq!(minutes(&all, "wait_by_reason"), of(&[("no_reason", 60), ("parts", 60)]));
    assert_eq!(parts(&all, "wait_by_department").get("body/parts"), Some(&1.0));
}

/// Begun and left at the same moment nothing was worked, so nobody was waited for until then.
#[test]
fn a_stretch_of_no_length_is_no_work() {
    let mut shop = TestShop::new();
    let from = shop.now;
    let order = shop.order("2041");
    let body = shop.card(order, "body", "Door", &[]);
    let mechanical = shop.card(order, "mechanical", "Scan", &[]);
    at(&mut shop, "02T08:09");
    shop.ok("ines", start(body));
    at(&mut shop, "02T08:20");
    shop.ok("ines", pause(body));
    at(&mut shop, "02T08:22");
    shop.ok("bruno", start(body));
    shop.ok("bruno", pause(body));
    at(&mut shop, "02T08:25");
    shop.ok("milo", start(mechanical));
    at(&mut shop, "02T08:40");
    let waited = minutes(&asked(&shop, from), "wait_by_department");
    assert_eq!((waited.get("body"), waited.get("mechanical")), (Some(&9), Some(&5)), "{waited:?}");
}

/// A hold of another kind has a reason: its note says it.
#[test]
fn another_hold_is_a_reason_of_its_own() {
    let mut shop = TestShop::new();
    let from = shop.now;
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Door", &[]);
    let act = Act::Hold {
        order,
        what: HoldKind::Other,
        cards: vec![card],
        blocks: Blocks::Start,
        due: None,
        note: Some("The insurer looks at it on Tuesday.".into()),
    };
    shop.ok("rask", act);
    at(&mut shop, "02T09:00");
    assert_eq!(minutes(&asked(&shop, from), "wait_by_reason"), of(&[("other", 60)]));
}

/// The whole vehicle waits for parts; closing it up so that it rolls is kept by nothing, on the board and here.
#[test]
fn closing_up_meanwhile_is_not_kept_by_the_hold() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, _) = shop.round_trip(order);
    shop.do_it("milo", down, 30);
    let vehicle = shop.vehicle(order).clone();
    let two = domain::open::close_up(&shop.state, &vehicle, &DOWN.into()).expect("it can be closed up");
    shop.ok("rask", Act::AddCard(two.close.clone()));
    let close = CardId(shop.last_op().0);
    shop.ok("rask", Act::AddCard(two.reopen_after(close)));
    shop.ok("rask", hold(order, HoldKind::Parts, &[], Blocks::Start));
    let from = shop.now; // 8:30
    at(&mut shop, "02T09:00");
    let place = |card: &Card| card.created_at;
    let board = domain::waiting::waits(&shop.state, shop.vehicle(order), shop.now, place, |_| Vec::new());
    assert_eq!(board.map(|w| (w.reason.word(), w.card)), Some(("no_reason", Some(close))));
    let waited = minutes(&asked(&shop, from), "wait_by_reason");
    assert_eq!(waited, of(&[("no_reason", 30)]));
    shop.do_it("milo", close, 30); // to 9:30
    at(&mut shop, "02T10:00");
    let waited = minutes(&asked(&shop, from), "wait_by_reason");
    assert_eq!(waited, of(&[("no_reason", 30), ("parts", 30)]), "it is opened again when they have come");
    assert_eq!(shop.get(own).life, Life::Waiting);
}

/// Stopped it waits until it is put back, and not for ever after: also where nobody notes that it has left.
#[test]
fn a_stopped_vehicle_waits_until_it_is_put_back() {
    let mut shop = TestShop::new();
    let from = shop.now;
    let order = shop.order("2041");
    shop.ok("milo", Act::Move { order, to: "lift-1".into(), on: Some(StandsOn::Lift) });
    let (down, _, up) = shop.round_trip(order);
    shop.do_it("milo", down, 30); // to 8:30
    shop.ok("rask", stage(order, Stage::Stopped));
    at(&mut shop, "02T09:00");
    shop.do_it("milo", up, 30); // to 9:30
    at(&mut shop, "03T09:00");
    let check = |shop: &TestShop| {
        let all = asked(shop, from);
        assert_eq!(minutes(&all, "wait_by_reason"), of(&[("stopped", 30)]));
        let lift = minutes(&all, "equipment_time");
        let used: Vec<_> =
            ["worked", "stopped", "ready"].map(|what| lift.get(&format!("lift-1/{what}")).copied()).into();
        assert_eq!(used, [Some(60), Some(30), None], "{lift:?}");
        let question = Question { from, to: shop.now, now: shop.now, ..Question::default() };
        let flow = control(&shop.state, &shop.zone, &question).flow;
        let last = flow.last().expect("a day");
        assert_eq!((last.stages[4], last.came, last.left), (0, 1, 1), "{last:?}");
    };
    check(&shop);
    // The tow truck comes on another day: the past stays as it was.
    shop.ok("rask", stage(order, Stage::Delivered));
    check(&shop);
}

/// Work that sits without a reason is named: the longest in front, by who was free and did not come.
#[test]
fn what_nobody_explained_is_named() {
    let mut shop = TestShop::new();
    let from = shop.now;
    let first = shop.order("2041");
    shop.card(first, "mechanical", "Work", &[]);
    shop.order("2042"); // nothing laid out
    at(&mut shop, "02T09:00");
    let second = shop.order("2043");
    shop.card(second, "mechanical", "Work", &[]);
    at(&mut shop, "03T09:00");
    let question = Question { from, to: shop.now, now: shop.now, ..Question::default() };
    let named = control(&shop.state, &shop.zone, &question).unexplained;
    let said: Vec<_> = named
        .iter()
        .map(|u| (u.number.as_str(), u.department.as_ref().map(|d| d.0.as_str()), u.hours))
        .collect();
    // Monday's eight and a half open hours, and Tuesday's first.
    let all = [("2041", Some("mechanical"), 9.5), ("2042", None, 9.5), ("2043", Some("mechanical"), 8.5)];
    assert_eq!(said, all);
}

/// Work that a phone brings late changes what had been a wait.
#[test]
fn late_news_corrects_the_past() {
    let mut shop = TestShop::new();
    let from = shop.now;
    let order = shop.order("2041");
    let card = shop.card(order, "mechanical", "Work", &[]);
    at(&mut shop, "02T11:00");
    assert_eq!(minutes(&asked(&shop, from), "wait_by_reason"), of(&[("no_reason", 180)]));
    shop.act_at("milo", from + HOUR, start(card)).expect("a fact");
    shop.act_at("milo", from + 2 * HOUR, finish(card)).expect("a fact");
    assert_eq!(minutes(&asked(&shop, from), "wait_by_reason"), of(&[("no_reason", 120)]));
}

/// Who waits for a lead waits for that person; a lift that is taken comes before people.
#[test]
fn equipment_then_qualification_then_people() {
    let mut shop = TestShop::new();
    shop.checked = false;
    let from = shop.now;
    for (number, lift) in [("2041", "lift-1"), ("2042", "lift-2")] {
        let order = shop.order(number);
        shop.ok("milo", Act::Move { order, to: lift.into(), on: None });
        shop.ok("rask", stage(order, Stage::Ready));
    }
    let order = shop.order("2043");
    let mut add = add_card(order, "mechanical", "On the lift", &[]);
    add.needs.equipment = Some("lift".into());
    add.needs.qualification = Some("high-voltage".into());
    shop.ok("rask", Act::AddCard(add));
    let waiting = shop.vehicle(order).cards[0];
    at(&mut shop, "02T09:00");
    // One lift becomes free; nobody has the qualification.
    let first = shop.state.order_numbered("2041").expect("it is there");
    shop.ok("milo", Act::Move { order: first, to: "stall-2".into(), on: None });
    at(&mut shop, "02T09:30");
    let all = asked(&shop, from);
    assert_eq!(minutes(&all, "wait_by_reason"), of(&[("no_equipment", 60), ("nobody_qualified", 30)]));
    assert_eq!(
        minutes(&all, "equipment_time"),
        of(&[
            ("booth", 90),
            ("booth/empty", 90),
            ("lift-1", 90),
            ("lift-1/ready", 60),
            ("lift-1/empty", 30),
            ("lift-2", 90),
            ("lift-2/ready", 90),
        ])
    );
    // Its lead is on another vehicle while a colleague is free.
    shop.ok("rask", Act::CancelCard { card: waiting, reason: None });
    let own = shop.card(order, "body", "My car", &[]);
    shop.ok("rask", Act::Lead { order, department: "body".into(), person: Some(person("ines")) });
    let other = shop.card(first, "body", "Other", &[]);
    let from = shop.now;
    shop.do_it("ines", other, 45);
    shop.later(15);
    shop.do_it("ines", own, 10);
    let one = Question { from, to: shop.now, now: shop.now, department: Some("body".into()), class: None };
    let all = answer(&shop.state, &shop.zone, &one);
    assert_eq!(minutes(&all, "wait_by_reason"), of(&[("nobody_free", 45), ("no_reason", 15)]));
}

/// A round trip on a lift: worked, curing, waiting for body, for mechanical, for a part; each open hour once.
#[test]
fn hours_of_a_lift_by_hand() {
    let mut shop = TestShop::new();
    let from = shop.now;
    let order = shop.order("2041");
    shop.ok("milo", Act::Move { order, to: "lift-1".into(), on: None });
    let (down, own, up) = shop.round_trip(order);
    at(&mut shop, "02T08:30");
    shop.do_it("milo", down, 60); // to 9:30
    at(&mut shop, "02T10:00"); // half an hour for body
    shop.ok("rask", hold(order, HoldKind::Parts, &[own], Blocks::Start));
    at(&mut shop, "02T10:20"); // twenty minutes for a part
    let parts = shop.vehicle(order).holds[0].id;
    shop.ok("rask", Act::Unhold { order, hold: parts });
    shop.do_it("ines", own, 60); // to 11:20
    at(&mut shop, "02T12:45"); // the break is no open hour
    shop.do_it("milo", up, 45); // to 13:30
    shop.ok("rask", stage(order, Stage::Ready));
    at(&mut shop, "02T14:00");
    let all = asked(&shop, from);
    let lift: BTreeMap<String, i64> =
        minutes(&all, "equipment_time").into_iter().filter(|(key, _)| key.starts_with("lift-1")).collect();
    let waits = lift.clone();
    assert_eq!(lift["lift-1"], 240 + 90);
    assert_eq!(lift["lift-1/worked"], 60 + 60 + 45);
    assert_eq!(lift["lift-1/parts"], 20);
    assert_eq!(lift["lift-1/for:body"], 30);
    assert_eq!(lift["lift-1/ready"], 30);
    assert_eq!(lift["lift-1/curing"], 30, "11:20 to 11:50, as the routing says");
    assert_eq!(lift["lift-1/for:mechanical"], 30 + 10 + 15, "down, then up, without the break");
    assert_eq!(waits.iter().filter(|(key, _)| key.contains('/')).map(|(_, m)| m).sum::<i64>(), 330);
}

/// The two reasons that end it are on the same clock as the words say.
#[test]
fn a_cure_runs_through_the_night() {
    let mut shop = TestShop::new();
    let from = shop.now;
    let order = shop.order("2041");
    let first = shop.card(order, "body", "Seal", &[]);
    let mut add = add_card(order, "body", "Go on", &[]);
    add.after = vec![link(first, 16 * 60)];
    shop.ok("rask", Act::AddCard(add));
    at(&mut shop, "02T15:00");
    shop.do_it("ines", first, 60);
    at(&mut shop, "03T09:00");
    let all = asked(&shop, from);
    assert_eq!(minutes(&all, "wait_by_reason")["curing"], 16 * 60);
    assert_eq!(minutes(&all, "wait_by_reason_working")["curing"], 60, "16:00 to 17:00 of Monday");
}

/// Ninety days decide; each visit is judged in the stretch in which they ended.
#[test]
fn comebacks_by_month_and_rework_apart() {
    let mut shop = TestShop::new();
    shop.checked = false;
    let mut cards = Vec::new();
    for number in ["1", "2", "3", "4"] {
        let order = shop.order(number);
        cards.push(shop.card(order, if number == "1" { "refinish" } else { "body" }, "Work", &[]));
        shop.do_it("rask", *cards.last().expect("a card"), 10);
        shop.ok("rask", stage(order, Stage::Ready));
        shop.ok("rask", stage(order, Stage::Delivered));
    }
    let delivered = shop.now;
    let back = |shop: &mut TestShop, number: &str, card: CardId| {
        shop.ok("rask", order_with(number, |open| open.comeback_of = Some(card)));
    };
    shop.now = delivered + 89 * 24 * HOUR;
    back(&mut shop, "5", cards[0]);
    back(&mut shop, "6", cards[0]);
    shop.now = delivered + 91 * 24 * HOUR;
    back(&mut shop, "7", cards[1]); // too late to count
    let early = measures(&shop.state, &shop.zone, 0, delivered + 89 * 24 * HOUR, shop.now);
    let none = early.iter().find(|m| m.id == "comebacks").expect("it is there");
    assert_eq!((none.all.count, none.all.value), (0, None), "not matured");
    let all = measures(&shop.state, &shop.zone, delivered + 89 * 24 * HOUR, shop.now, shop.now);
    let share = all.iter().find(|m| m.id == "comebacks").expect("it is there");
    assert_eq!((share.all.count, share.all.value), (4, Some(0.25)));
    assert_eq!(share.by["2026-03"].value, Some(0.25));
    assert_eq!(parts(&all, "comebacks_caused"), [("refinish".to_owned(), 2.0)].into());

    // The same step laid out again on one visit, after it was done.
    let from = shop.now;
    let order = shop.order("8");
    for _ in 0..2 {
        let mut routing = add_card(order, "refinish", "Spray", &[]);
        routing.planned_minutes = 30;
        shop.ok("rask", Act::AddCard(routing));
        let card = CardId(shop.last_op().0);
        shop.do_it("pia", card, 30);
    }
    shop.ok("rask", stage(order, Stage::Ready));
    shop.ok("rask", stage(order, Stage::Delivered));
    shop.later(1);
    let all = asked(&shop, from);
    let rework = all.iter().find(|m| m.id == "rework").expect("it is there");
    assert_eq!((rework.all.count, rework.all.value), (1, Some(0.0)), "no step of a routing");
    // As the routing would have laid them out.
    let cards = shop.vehicle(order).cards.clone();
    for id in cards {
        let mut card = shop.get(id).clone();
        (card.routing, card.step) = (Some("paint".into()), Some("spray".into()));
        shop.state.cards.insert(id, card.into());
    }
    let all = asked(&shop, from);
    let rework = all.iter().find(|m| m.id == "rework").expect("it is there");
    assert_eq!(rework.all.value, Some(1.0));
    assert_eq!(parts(&all, "rework_clocked"), [("refinish".to_owned(), 0.5)].into());
}

/// Against the first promise, the last beside it, and how often it moved; a visit without one counts in none.
#[test]
fn promises_first_last_and_moves() {
    let mut shop = TestShop::new();
    let from = shop.now;
    let first = local("2026-03-03T16:00");
    let order = shop.order("1");
    for due in [first, local("2026-03-05T16:00"), local("2026-03-06T16:00")] {
        shop.ok("rask", Act::Promise { order, due: Some(due), reason: None });
    }
    let without = shop.order("2");
    at(&mut shop, "05T10:00");
    for order in [order, without] {
        shop.ok("rask", stage(order, Stage::Ready));
        shop.ok("rask", stage(order, Stage::Delivered));
    }
    shop.later(1);
    let all = asked(&shop, from);
    let value = |id: &str| {
        let all = all.iter().find(|m| m.id == id).expect("it is there").all;
        (all.count, all.value)
    };
    assert_eq!(value("promise_kept"), (1, Some(0.0)));
    assert_eq!(value("promise_last_kept"), (1, Some(1.0)));
    assert_eq!(value("promise_moves"), (1, Some(2.0)));
    // Monday 8:00 to Thursday 10:00: three days of eight and a half hours, and two hours.
    assert_eq!(value("keys_to_keys_working"), (2, Some(3.0 * 8.5 + 2.0)));
}

/// Hours sold and clocked per day are two numbers; flow efficiency counts two people once.
#[test]
fn touch_and_flow_by_hand() {
    let mut shop = TestShop::new();
    let from = shop.now;
    shop.ok("rask", order_with("1", |open| open.sold_minutes = Some(12 * 60)));
    let order = OrderId(shop.last_op().0);
    let card = shop.card(order, "body", "Work", &[]);
    shop.ok("ines", start(card));
    shop.later(60);
    shop.ok("bruno", Act::Help { card });
    shop.ok("bruno", start(card));
    shop.later(60);
    shop.ok("bruno", pause(card));
    shop.later(48);
    shop.ok("ines", finish(card)); // 8:00 to 10:48, with two for an hour
    at(&mut shop, "03T08:00");
    shop.ok("rask", stage(order, Stage::Ready));
    shop.ok("rask", stage(order, Stage::Delivered));
    shop.later(1);
    let all = asked(&shop, from);
    let value = |id: &str| all.iter().find(|m| m.id == id).and_then(|m| m.all.value).expect("a value");
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} is not {b}");
    close(value("touch_sold"), 12.0);
    close(value("touch_clocked_per_day"), 3.8);
    close(value("flow_efficiency"), 2.8 / 8.5);
    close(value("clocked_to_planned"), 3.8);
    let medium = all.iter().find(|m| m.id == "keys_to_keys").expect("it is there");
    assert_eq!(medium.by.keys().collect::<Vec<_>>(), ["medium", "rolling"]);
    let small = Question { from, to: shop.now, now: shop.now, class: Some(Class::Small), department: None };
    assert!(answer(&shop.state, &shop.zone, &small).iter().all(|m| m.all.count == 0));
    assert_eq!(MINUTE * 60, HOUR);
}

/// What two sold together is shared by their hours, and adds up; nothing is anybody's before it is done.
#[test]
fn sold_hours_are_shared_by_clocked_hours() {
    let mut shop = TestShop::new();
    let from = shop.now;
    shop.ok("rask", order_with("1", |open| open.sold_minutes = Some(600)));
    let order = OrderId(shop.last_op().0);
    let mut add = add_card(order, "body", "Sold by itself", &[]);
    add.sold_minutes = Some(120);
    shop.ok("rask", Act::AddCard(add));
    let card = CardId(shop.last_op().0);
    shop.ok("ines", start(card));
    shop.later(30).ok("bruno", Act::Help { card });
    shop.ok("bruno", start(card));
    assert!(sold_shares(&shop.state, shop.now).is_empty());
    shop.later(30).ok("ines", finish(card));
    shop.ok("rask", order_with("2", |open| open.sold_minutes = Some(90)));
    let whole = OrderId(shop.last_op().0);
    let (a, b) = (shop.card(whole, "body", "A", &[]), shop.card(whole, "body", "B", &[]));
    shop.do_it("ines", a, 20);
    shop.do_it("bruno", b, 40);
    shop.ok("rask", stage(whole, Stage::Ready));
    shop.ok("rask", stage(whole, Stage::Delivered));
    shop.later(1);
    let shares = sold_shares(&shop.state, shop.now);
    let of = |name: &str, order: OrderId| -> f64 {
        let own = shares.iter().filter(|s| s.person == person(name) && s.order == order);
        own.map(|s| s.minutes()).sum()
    };
    assert_eq!((of("ines", order), of("bruno", order)), (80.0, 40.0), "an hour and half an hour");
    assert_eq!((of("ines", whole), of("bruno", whole)), (30.0, 60.0));
    let mine = own(&shop.state, person("ines"), from, shop.now, shop.now);
    let value = |id: &str| mine.iter().find(|m| m.id == id).and_then(|m| m.all.value).expect("a value");
    assert_eq!((value("own_sold"), value("own_clocked")), (110.0 / 60.0, 80.0 / 60.0));
}

/// The page that says what each measure is names every measure, with its unit and clock, and no other.
#[test]
fn the_page_names_every_measure() {
    const PAGE: &str = include_str!("../../src/measure/MEASURES.md");
    let rows: Vec<Vec<&str>> = PAGE
        .lines()
        .filter(|line| line.starts_with("| `"))
        .map(|line| line.trim_matches('|').split('|').map(|cell| cell.trim().trim_matches('`')).collect())
        .collect();
    let shop = TestShop::new();
    let all = measures(&shop.state, &shop.zone, 0, shop.now, shop.now);
    let said: Vec<[&str; 3]> = rows.iter().map(|row| [row[0], row[1], row[2]]).collect();
    let is: Vec<[&str; 3]> = all.iter().map(|m| [m.id, m.unit.word(), m.clock.word()]).collect();
    assert_eq!(said, is);
}
