//! Who is told: those concerned, once, and nobody about what they did themselves.

use domain::ids::*;
use domain::notice::{Situation, notices, situations};
use domain::stored::NoticeKind::*;
use domain::stored::*;

use crate::support::*;

/// One scene for each row of the table: what was done last, and whom it tells what.
fn scene(row: Situation) -> (TestShop, Vec<(&'static str, NoticeKind)>) {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let said = match row {
        Situation::WishRefused => {
            let card = shop.card(order, "mechanical", "Suspension down", &[]);
            shop.ok("milo", take(card));
            shop.refused("tova", take(card));
            vec![("tova", Refused)]
        }
        Situation::Asked => {
            shop.ok("ines", Act::Ask(ask(order, DOWN)));
            vec![("milo", Asked), ("tova", Asked)]
        }
        Situation::Assigned => {
            let card = shop.card(order, "mechanical", "Suspension down", &[]);
            shop.ok("rask", Act::Assign { card, to: person("milo") });
            vec![("milo", Assigned)]
        }
        Situation::FirstTaken => {
            let (down, ..) = shop.round_trip(order);
            shop.ok("milo", take(down));
            vec![("ines", Taken)]
        }
        Situation::GivenBack => {
            let (down, ..) = shop.round_trip(order);
            shop.ok("milo", take(down));
            shop.ok("milo", Act::GiveBack { card: down });
            vec![("ines", GivenBack)]
        }
        Situation::TakenAway => {
            let card = shop.card(order, "mechanical", "Suspension down", &[]);
            shop.ok("milo", take(card));
            shop.ok("rask", Act::Assign { card, to: person("tova") });
            vec![("milo", TakenAway), ("tova", Assigned)]
        }
        Situation::FellFree => {
            let card = shop.card(order, "mechanical", "Suspension down", &[]);
            shop.ok("milo", take(card));
            let milo = Person { retired: true, ..a_person("milo", "mechanical", Role::Technician) };
            shop.ok("odin", Act::SetPerson { person: milo });
            vec![("mara", FellFree), ("rask", FellFree)]
        }
        Situation::CalledOff => {
            let (down, ..) = shop.round_trip(order);
            shop.ok("milo", take(down));
            shop.ok("tova", Act::Help { card: down });
            shop.ok("rask", Act::CancelCard { card: down, reason: None });
            vec![("ines", CalledOff), ("milo", CalledOff), ("tova", CalledOff)]
        }
        Situation::AskCalledOff => {
            shop.round_trip(order);
            let more = shop.card(order, "body", "Bracket", &[]);
            shop.ok("bruno", Act::Ask(Ask { for_card: Some(more), ..ask(order, DOWN) }));
            let handoff = HandoffId(shop.last_op().0);
            shop.ok("rask", Act::CallOff { handoff, reason: None });
            vec![("bruno", CalledOff)]
        }
        Situation::Opened => {
            let (down, own, _) = shop.round_trip(order);
            shop.ok("rask", Act::Assign { card: own, to: person("bruno") });
            shop.do_it("milo", down, 60);
            vec![("bruno", Open), ("ines", Open)]
        }
        Situation::HandedBack => {
            let (down, own, up) = shop.round_trip(order);
            [("milo", down), ("ines", own)].into_iter().for_each(|(who, card)| shop.do_it(who, card, 60));
            shop.later(60);
            shop.do_it("milo", up, 60);
            vec![("ines", HandedBack)]
        }
        Situation::Closed => {
            let (down, own, up) = shop.round_trip(order);
            let more = shop.card(order, "body", "Bracket", &[]);
            shop.ok("bruno", Act::Ask(Ask { for_card: Some(more), ..ask(order, DOWN) }));
            for (who, card) in [("milo", down), ("ines", own), ("bruno", more)] {
                shop.do_it(who, card, 60);
            }
            shop.do_it("milo", up, 60);
            vec![("bruno", HandedBack), ("ines", HandedBack)]
        }
        Situation::Next => {
            let first = shop.card(order, "body", "Rail off", &[]);
            shop.card(order, "refinish", "Prime", &[first]);
            shop.do_it("ines", first, 10);
            vec![("pia", Next)]
        }
        Situation::NotNext => {
            let first = shop.card(order, "body", "Rail off", &[]);
            shop.card(order, "refinish", "Prime", &[first]);
            shop.do_it("ines", first, 10);
            let done = shop.last_op();
            shop.ok("ines", undo(done, first));
            vec![("pia", NotNext)]
        }
        Situation::DoneByAnother => {
            let card = shop.card(order, "mechanical", "Suspension down", &[]);
            shop.ok("milo", start(card));
            shop.later(10).ok("tova", finish(card));
            vec![("mara", Exception), ("milo", DoneForYou), ("rask", Exception)]
        }
        Situation::PutBefore => {
            let card = shop.card(order, "mechanical", "Suspension down", &[]);
            let before = shop.card(order, "body", "Rail off", &[]);
            shop.ok("milo", start(card));
            shop.ok("rask", Act::Link { card, after: link(before, 0) });
            vec![("milo", PutBefore)]
        }
        Situation::HoldEnded => {
            let card = shop.card(order, "body", "Rail on", &[]);
            shop.card(order, "mechanical", "Not kept by it", &[]);
            shop.ok("ines", take(card));
            shop.ok("petra", hold(order, HoldKind::Parts, &[card], Blocks::Start));
            let hold = HoldId(shop.last_op().0);
            shop.ok("petra", Act::Unhold { order, hold });
            vec![("ines", HoldEnded)]
        }
        Situation::EquipmentOut => {
            let (down, ..) = shop.round_trip(order);
            shop.ok("milo", Act::Start { card: down, on: Some("lift-1".into()) });
            shop.ok("ines", Act::EquipmentOut { equipment: "lift-1".into(), note: None });
            vec![("mara", EquipmentOut), ("milo", EquipmentOut), ("rask", EquipmentOut)]
        }
        Situation::ClosedOver | Situation::Alarm => {
            let (down, own, up) = shop.round_trip(order);
            shop.ok("rask", Act::Assign { card: down, to: person("milo") });
            shop.do_it("milo", down, 60);
            shop.ok("bruno", take(own));
            shop.do_it("milo", up, 60);
            vec![("bruno", ClosedOver), ("ines", HandedBack), ("mara", Exception), ("rask", Exception)]
        }
        Situation::Broken => {
            let one = shop.card(order, "body", "Rail off", &[]);
            let other = shop.card(order, "body", "Rail on", &[]);
            shop.ok("ines", start(one));
            shop.later(10);
            let earlier = shop.now - 5 * domain::MINUTE;
            shop.ok("ines", pause(one));
            shop.act_at("ines", earlier, start(other)).expect("a fact");
            shop.ok("ines", finish(other));
            vec![("ines", Exception)]
        }
        Situation::BrokenForPlanners => {
            let first = shop.card(order, "body", "Rail off", &[]);
            let next = shop.card(order, "body", "Rail on", &[first]);
            shop.ok("ines", start(next));
            vec![("mara", Exception), ("rask", Exception)]
        }
        Situation::Untaken => {
            let card = Some(shop.card(order, "mechanical", "Suspension down", &[]));
            let order = Some(order);
            shop.system(Act::Remind { about: Reminder::Untaken, card, order }).expect("the server");
            vec![("mara", Untaken), ("milo", Untaken), ("rask", Untaken), ("tova", Untaken)]
        }
        Situation::LiftBlocked => {
            let order = Some(order);
            shop.system(Act::Remind { about: Reminder::LiftBlocked, card: None, order }).expect("the server");
            vec![("mara", LiftBlocked), ("rask", LiftBlocked)]
        }
        Situation::PromiseUnlikely => {
            let order = Some(order);
            let act = Act::Remind { about: Reminder::PromiseUnlikely, card: None, order };
            shop.system(act).expect("the server");
            vec![("mara", PromiseUnlikely), ("rask", PromiseUnlikely)]
        }
        Situation::StillRunning => {
            let card = shop.card(order, "mechanical", "Suspension down", &[]);
            shop.do_it("tova", card, 10);
            let card = shop.card(order, "mechanical", "Suspension up", &[]);
            shop.ok("milo", start(card));
            shop.later(600);
            let act = Act::Remind { about: Reminder::StillRunning, card: Some(card), order: Some(order) };
            shop.system(act).expect("the server");
            vec![("milo", StillRunning)]
        }
        Situation::StageTakenBack => {
            let card = shop.card(order, "mechanical", "Suspension down", &[]);
            shop.ok("milo", take(card));
            shop.ok("mara", stage(order, Stage::Delivered));
            let reason = "The other grey wagon left.".to_owned();
            shop.ok("mara", Act::StageBack { order, stage: Stage::Delivered, reason });
            vec![("milo", StageTakenBack), ("rask", StageTakenBack)]
        }
        Situation::RoutingOutdated => {
            let gone = shop.state.departments[&DepartmentId("mechanical".into())].clone();
            let gone = Department { retired: true, ..(*gone).clone() };
            shop.ok("odin", Act::SetDepartment { department: gone });
            shop.refused("ines", Act::Ask(ask(order, DOWN)));
            vec![("ines", Refused), ("mara", RoutingOutdated), ("rask", RoutingOutdated)]
        }
        Situation::StoppedHere => {
            let act = Act::Remind { about: Reminder::StoppedHere, card: None, order: Some(order) };
            shop.system(act).expect("the server");
            vec![("mara", StoppedHere), ("rask", StoppedHere)]
        }
    };
    (shop, said)
}

#[test]
fn every_row_of_the_table_tells_whom_it_says() {
    for row in Situation::ALL {
        let (shop, said) = scene(*row);
        let last = shop.entries.last().expect("something happened");
        assert!(situations(&shop.state, last).contains(row), "{row:?} is not what happened");
        assert_eq!(told(&shop), said, "{row:?}");
    }
}

#[test]
fn what_can_hurt_somebody_is_told_outside_the_shift_too() {
    for (row, urgent) in [
        (Situation::Alarm, true),
        (Situation::EquipmentOut, true),
        (Situation::BrokenForPlanners, false),
        (Situation::Next, false),
    ] {
        let (shop, _) = scene(row);
        let told = notices(&shop.state, shop.entries.last().expect("something happened"), &shop.zone);
        assert!(told.iter().any(|notice| notice.urgent) == urgent, "{row:?}");
    }
}

#[test]
fn a_department_is_never_nobody() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let asked = |shop: &mut TestShop| {
        shop.ok("ines", Act::Ask(ask(order, "paint")));
        told(shop)
    };
    let away = |shop: &TestShop| {
        let absence = Absence { from: shop.now - HOUR, to: shop.now + 99 * HOUR, reason: None };
        Person { away: vec![absence], ..a_person("pia", "refinish", Role::Technician) }
    };
    // Her deputy has left, and she is away.
    let deputies = vec![person("bruno")];
    let department = (*shop.state.departments[&DepartmentId::from("refinish")]).clone();
    shop.ok("mara", Act::SetDepartment { department: Department { deputies, ..department } });
    let pia = away(&shop);
    shop.ok("mara", Act::SetPerson { person: pia.clone() });
    assert_eq!(asked(&mut shop), vec![("bruno", Asked)]);
    let bruno = Person { retired: true, ..a_person("bruno", "body", Role::Technician) };
    shop.ok("mara", Act::SetPerson { person: bruno });
    assert_eq!(asked(&mut shop), vec![("pia", Asked)], "all of it, though away");
    shop.ok("mara", Act::SetPerson { person: Person { retired: true, ..pia } });
    assert_eq!(asked(&mut shop), vec![("mara", Asked), ("rask", Asked)]);
}

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
    let seal = [("bruno", ClosedOver), ("ines", ClosedOver), ("petra", ClosedOver)];
    assert_eq!(
        told(&shop),
        [&seal[..2], &[("mara", Exception)], &seal[2..], &[("rask", Exception)]].concat()
    );
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
