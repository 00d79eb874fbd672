//! Who is told: those concerned, once, and nobody about what they did themselves.

use domain::ids::*;
use domain::notice::notices;
use domain::stored::NoticeKind::*;
use domain::stored::*;

use crate::support::*;

/// Whom the last entry tells what, by name.
fn told(shop: &TestShop) -> Vec<(&'static str, NoticeKind)> {
    let names = ["ines", "bruno", "milo", "tova", "pia", "petra", "rask", "mara", "odin"];
    let entry = shop.entries.last().expect("something happened");
    let mut told: Vec<(&str, NoticeKind)> = notices(&shop.state, entry, &shop.zone)
        .into_iter()
        .map(|n| (*names.iter().find(|name| person(name) == n.person).expect("somebody of the shop"), n.kind))
        .collect();
    told.sort_unstable();
    told
}

#[test]
fn a_whole_turn_tells_the_next_person_each_time() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    assert_eq!(told(&shop), vec![("milo", Asked), ("tova", Asked)], "the department on shift");
    shop.ok("rask", Act::AddCard(add_card(order, "refinish", "Prime", &[up])));
    assert_eq!(told(&shop), vec![]);
    shop.ok("milo", take(down));
    assert_eq!(told(&shop), vec![("ines", Taken)]);
    shop.ok("milo", Act::GiveBack { card: down });
    assert_eq!(told(&shop), vec![("ines", GivenBack)]);
    shop.ok("ines", Act::Lead { order, department: "body".into(), person: Some(person("ines")) });
    shop.do_it("milo", down, 60);
    assert_eq!(told(&shop), vec![("ines", Open)], "her card is next, and she is told once");
    shop.do_it("ines", own, 30);
    assert_eq!(told(&shop), vec![("milo", Next), ("tova", Next)]);
    shop.later(30);
    shop.do_it("tova", up, 60);
    assert_eq!(told(&shop), vec![("ines", HandedBack), ("pia", Next)]);
}

#[test]
fn a_refused_wish_is_told_to_the_loser_with_who_was_first() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "mechanical", "Suspension down", &[]);
    shop.ok("milo", take(card));
    shop.refused("tova", take(card));
    assert_eq!(told(&shop), vec![("tova", Refused)]);
    let entry = shop.entries.last().expect("the refusal is kept");
    let notice = &notices(&shop.state, entry, &shop.zone)[0];
    assert_eq!((notice.card, notice.order, notice.by), (Some(card), Some(order), Some(person("milo"))));
}

#[test]
fn exceptions_go_to_their_owner_else_to_the_planners() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, _, up) = shop.round_trip(order);
    shop.do_it("milo", down, 60);
    shop.do_it("milo", up, 60);
    assert_eq!(told(&shop), vec![("ines", HandedBack), ("mara", Exception), ("rask", Exception)]);
    let entry = shop.entries.last().expect("closed");
    let alarm =
        notices(&shop.state, entry, &shop.zone).into_iter().find(|n| n.kind == Exception).expect("an alarm");
    assert!(alarm.urgent);
}

#[test]
fn those_who_joined_are_told_like_those_who_opened() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    shop.ok("bruno", Act::Ask(Ask { from: "body".into(), ..ask(order, DOWN) }));
    let more = shop.step("work");
    shop.ok("rask", Act::Assign { card: more, to: person("ines") });
    shop.do_it("milo", down, 60);
    assert!(told(&shop).contains(&("bruno", Open)), "{:?}", told(&shop));
    shop.do_it("ines", own, 10);
    shop.do_it("ines", more, 10);
    shop.later(30);
    shop.do_it("milo", up, 60);
    assert!(told(&shop).contains(&("bruno", HandedBack)), "{:?}", told(&shop));
}

#[test]
fn the_deputy_is_told_when_nobody_is_on_shift() {
    let mut shop = TestShop::new();
    let deputies = vec![person("rask")];
    let department =
        Department { deputies, ..(*shop.state.departments[&DepartmentId::from("mechanical")]).clone() };
    shop.ok("mara", Act::SetDepartment { department });
    let order = shop.order("2041");
    shop.later(12 * 60).ok("ines", Act::Ask(ask(order, DOWN)));
    assert_eq!(told(&shop), vec![("rask", Asked)]);
}

#[test]
fn an_entry_always_tells_the_same() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("ines", Act::Ask(ask(order, DOWN)));
    let entry = shop.entries.last().expect("asked");
    let first = notices(&shop.state, entry, &shop.zone);
    assert_eq!(first, notices(&shop.state.clone(), entry, &shop.zone));
    assert!(first.iter().all(|n| n.handoff == Some(HandoffId(entry.op_id.0))));
}
