//! What cannot be is refused with a clear sentence and the right code, and nothing is half-done
//! (`support::invariants` compares every document before and after a refusal).

use domain::decide::{Code, NOTE_CHARS_MAX, TITLE_CHARS_MAX};
use domain::ids::*;
use domain::stored::*;

use crate::support::*;

#[test]
fn unknown_things_are_named() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    let (no_card, no_order) = (CardId(id(7)), OrderId(id(7)));
    let table: Vec<(&str, Act, Code)> = vec![
        ("ines", take(no_card), Code::UnknownCard),
        ("ines", start(no_card), Code::UnknownCard),
        ("ines", pause(no_card), Code::UnknownCard),
        ("ines", finish(no_card), Code::UnknownCard),
        ("ines", Act::GiveBack { card: no_card }, Code::UnknownCard),
        ("ines", Act::Help { card: no_card }, Code::UnknownCard),
        ("ines", undo(OpId(id(7)), no_card), Code::UnknownCard),
        ("ines", undo(OpId(id(7)), card), Code::NothingToUndo),
        ("rask", Act::CancelCard { card: no_card, reason: None }, Code::UnknownCard),
        ("rask", Act::PutFirst { card: no_card, reason: "x".into(), until: i64::MAX }, Code::UnknownCard),
        ("rask", Act::Link { card, after: link(no_card, 0) }, Code::UnknownCard),
        ("rask", Act::Assign { card, to: PersonId(id(7_777)) }, Code::UnknownPerson),
        ("ines", Act::Note { order: no_order, card: None, body: "x".into() }, Code::UnknownOrder),
        ("ines", Act::Move { order: no_order, to: "stall-1".into(), on: None }, Code::UnknownOrder),
        ("ines", Act::Move { order, to: "moon".into(), on: None }, Code::UnknownPlace),
        ("ines", Act::Condition { order: no_order, change: ConditionChange::default() }, Code::UnknownOrder),
        ("ines", stage(no_order, Stage::Ready), Code::UnknownOrder),
        ("ines", Act::Energy { order: no_order, energy: Energy::default() }, Code::UnknownOrder),
        ("ines", Act::Unhold { order, hold: HoldId(id(7)) }, Code::Unknown),
        ("rask", Act::Answer { exception: ExceptionId(id(7)), reason: "x".into() }, Code::Unknown),
        ("ines", Act::Correct { card, span: SpanId(id(7)), from: 0, to: None }, Code::Unknown),
        ("rask", order_with("2042", |open| open.place = Some("moon".into())), Code::UnknownPlace),
        ("rask", order_with("2042", |open| open.routings = vec!["moon".into()]), Code::UnknownRouting),
        ("rask", Act::AddCard(add_card(order, "moon", "x", &[])), Code::UnknownDepartment),
        ("ines", Act::Lead { order, department: "moon".into(), person: None }, Code::UnknownDepartment),
        (
            "rask",
            Act::Lead { order, department: "body".into(), person: Some(PersonId(id(7_777))) },
            Code::UnknownPerson,
        ),
    ];
    for (who, act, code) in table {
        let refusal = shop.refused(who, act.clone());
        assert_eq!(refusal.code, code, "{act:?}");
        assert!(
            refusal.message.ends_with('.') && refusal.message.len() > 10,
            "one clear sentence: {refusal}"
        );
    }
}

#[test]
fn a_title_of_ten_thousand_characters_is_refused_and_says_so() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let long = "x".repeat(10_000);
    let add = |title: Words| Act::AddCard(AddCard { title, ..add_card(order, "body", "", &[]) });
    let refusal = shop.refused("rask", add(long.as_str().into()));
    assert_eq!(refusal.code, Code::Invalid);
    assert!(refusal.message.contains("10000") && refusal.message.contains("200"), "{refusal}");
    let spanish = Words { text: "Seal".into(), es: Some(long.clone()) };
    assert_eq!(shop.refused("rask", add(spanish)).code, Code::Invalid, "in either language");
    assert_eq!(shop.refused("rask", add("".into())).code, Code::Invalid);
    shop.ok("rask", add("é".repeat(TITLE_CHARS_MAX).as_str().into()));
    let note = |chars| Act::Note { order, card: None, body: "x".repeat(chars) };
    shop.ok("ines", note(NOTE_CHARS_MAX));
    assert_eq!(shop.refused("ines", note(NOTE_CHARS_MAX + 1)).code, Code::Invalid);
    assert_eq!(shop.refused("rask", open_order(&long)).code, Code::Invalid);
    assert_eq!(
        shop.refused("rask", order_with("2042", |open| open.vehicle = long.clone())).code,
        Code::Invalid
    );
    let keys = ConditionChange { keys: Some(long.clone()), ..ConditionChange::default() };
    assert_eq!(shop.refused("ines", Act::Condition { order, change: keys }).code, Code::Invalid);
    let needs = Needs { checks: vec![long.as_str().into()], ..Needs::default() };
    let add = AddCard { needs, ..add_card(order, "body", "Seal", &[]) };
    assert_eq!(shop.refused("rask", Act::AddCard(add)).code, Code::Invalid);
}

#[test]
fn an_id_used_before_writes_over_nothing() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    shop.ok("ines", start(card));
    let context = domain::decide::Context {
        by: person("rask"),
        role: Role::Planner,
        op: OpId(card.0),
        at: shop.now,
        uncertain: false,
        now: shop.now,
        zone: &shop.zone,
    };
    let again = Act::AddCard(add_card(order, "body", "Another", &[]));
    let refusal =
        domain::decide::decide(&shop.state, &again, &[], &context).expect_err("the id names a card");
    assert_eq!(refusal.code, Code::Invalid);
    let context = domain::decide::Context { op: OpId(order.0), ..context };
    let refusal = domain::decide::decide(&shop.state, &open_order("2042"), &[], &context)
        .expect_err("the id names an order");
    assert_eq!(refusal.code, Code::Invalid);
}

#[test]
fn every_code_is_one_word() {
    for code in Code::ALL {
        assert!(code.word().bytes().all(|b| b.is_ascii_lowercase() || b == b'_'), "{code:?}");
    }
}

#[test]
fn only_the_server_reminds() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let remind = Act::Remind { about: Reminder::PromiseUnlikely, card: None, order: Some(order) };
    assert_eq!(shop.refused("odin", remind.clone()).code, Code::Forbidden);
    assert_eq!(shop.system(remind).expect("the server itself").len(), 1);
}

#[test]
fn an_operation_too_large_to_send_leaves_its_mark_alone() {
    let mut shop = TestShop::new();
    assert_eq!(shop.ok("ines", Act::Dropped { why: "too large".into() }), vec![]);
}

/// "Ann" with the override of UAX #9 (RLO), and with a bell.
const ODD: [&str; 3] = ["Ann\u{202E}2041", "Ann\u{7}", "Ann\nBo"];

#[test]
fn names_numbers_and_what_is_set_up_are_writing() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    for odd in ODD {
        let renamed =
            |shop: &TestShop| Person { name: odd.into(), ..(*shop.state.people[&person("ines")]).clone() };
        let department = |shop: &TestShop| (*shop.state.departments[&DepartmentId::from("body")]).clone();
        let table = vec![
            Act::SetPerson { person: renamed(&shop) },
            Act::SetDepartment {
                department: Department { title: Words { text: odd.into(), es: None }, ..department(&shop) },
            },
            open_order(odd),
            Act::PutFirst { card: CardId(order.0), reason: ODD[0].into(), until: 1 },
        ];
        for act in table {
            assert_eq!(shop.refused("odin", act.clone()).code, Code::Invalid, "{act:?}");
        }
    }
    assert_eq!(shop.state.orders.len(), 1);
}

#[test]
fn a_fact_is_kept_and_what_is_no_writing_in_it_is_shown_as_a_mark() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let body = "seized bolt\nleft \u{202E}rear\u{7}".to_owned();
    let events = shop.ok("ines", Act::Note { order, card: None, body });
    assert!(!events.is_empty());
    let note = shop.state.notes.values().next().unwrap();
    assert_eq!(note.body, "seized bolt\nleft \u{FFFD}rear\u{FFFD}");
}
