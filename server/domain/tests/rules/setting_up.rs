//! What a shop sets up about itself.

use domain::decide::Code;
use domain::ids::DepartmentId;
use domain::stored::*;

use crate::support::*;

#[test]
fn only_managers_set_up_the_shop() {
    let mut shop = TestShop::new();
    let place = || Act::SetPlace {
        place: Place { id: "yard".into(), title: "Yard".into(), equipment: None, retired: false },
    };
    for who in ["ines", "petra", "rask"] {
        assert_eq!(shop.refused(who, place()).code, Code::Forbidden, "{who}");
    }
    shop.ok("mara", place());
    assert_eq!(shop.ok("mara", place()), vec![], "the same again changes nothing");
}

/// Each act of setting up asks for itself who may: none can be forgotten in a list.
#[test]
fn nothing_of_the_shop_is_set_up_by_a_planner() {
    let mut shop = TestShop::new();
    let state = shop.state.clone();
    let acts = [
        Act::SetShop { shop: Shop { language: "es".into(), ..(**state.shop.as_ref().unwrap()).clone() } },
        Act::SetDepartment {
            department: Department { rank: 99, ..(*state.departments[&DepartmentId::from("body")]).clone() },
        },
        Act::SetPerson { person: a_person("ines", "body", Role::Parts) },
        Act::SetEquipment {
            equipment: Equipment {
                id: "lift-9".into(),
                title: "Lift".into(),
                kind: "lift".into(),
                department: "body".into(),
                rated_load_kg: None,
                out_of_service: vec![],
                inspection_due: None,
                retired: false,
            },
        },
        Act::SetPlace {
            place: Place { id: "yard".into(), title: "Yard".into(), equipment: None, retired: false },
        },
        Act::SetCalendar {
            calendar: Calendar {
                id: "short".into(),
                title: "Short".into(),
                week: vec![vec![]; 7],
                days: Default::default(),
            },
        },
        Act::SetRouting { routing: routing("short", vec![step("one", "body", &[], Needs::default())]) },
    ];
    for act in acts {
        assert_eq!(shop.refused("petra", act.clone()).code, Code::Forbidden, "{act:?}");
        shop.ok("mara", act);
    }
}

#[test]
fn a_technician_does_no_planners_act() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let card = shop.card(order, "body", "Rail on", &[]);
    let acts = [
        open_order("2042"),
        Act::EditOrder { order, change: OrderChange::default() },
        Act::Promise { order, due: None, reason: None },
        Act::EditCard { card, change: CardChange::default() },
        Act::CancelCard { card, reason: None },
        Act::Link { card, after: link(card, 0) },
        Act::Unlink { card, after: card },
        Act::PutFirst { card, reason: "me".into(), until: i64::MAX },
        Act::PutBack { card },
        Act::Assign { card, to: person("ines") },
        stage(order, Stage::Authorised),
        stage(order, Stage::Stopped),
        stage(order, Stage::Delivered),
    ];
    for act in acts {
        // The order is authorised already; another stage is what matters here.
        if act == stage(order, Stage::Authorised) {
            continue;
        }
        assert_eq!(shop.refused("ines", act.clone()).code, Code::Forbidden, "{act:?}");
    }
    assert_eq!(shop.refused("ines", stage(order, Stage::Authorised)).code, Code::Forbidden);
}

#[test]
fn the_last_administrator_stays() {
    let mut shop = TestShop::new();
    let odin = a_person("odin", "body", Role::Admin);
    let demoted = Person { role: Role::Manager, ..odin.clone() };
    let retired = Person { retired: true, ..odin };
    assert_eq!(shop.refused("mara", Act::SetPerson { person: demoted.clone() }).code, Code::Forbidden);
    assert_eq!(shop.refused("odin", Act::SetPerson { person: demoted.clone() }).code, Code::Invalid);
    assert_eq!(shop.refused("odin", Act::SetPerson { person: retired }).code, Code::Invalid);
    shop.ok("odin", Act::SetPerson { person: a_person("mara", "body", Role::Admin) });
    shop.ok("odin", Act::SetPerson { person: demoted });
}

#[test]
fn a_manager_makes_no_administrator() {
    let mut shop = TestShop::new();
    let act = Act::SetPerson { person: a_person("mara", "body", Role::Admin) };
    assert_eq!(shop.refused("mara", act).code, Code::Forbidden);
}

#[test]
fn who_leaves_holds_nothing_any_more() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let working = shop.card(order, "body", "Rail on", &[]);
    let taken = shop.card(order, "body", "Trim in", &[]);
    let helped = shop.card(order, "body", "Door on", &[]);
    shop.ok("ines", Act::Lead { order, department: "body".into(), person: Some(person("ines")) });
    shop.ok("bruno", start(helped));
    shop.ok("ines", Act::Help { card: helped });
    shop.ok("ines", take(taken));
    shop.ok("ines", start(working));
    shop.later(20).ok("ines", start(helped));
    let gone = Person { retired: true, ..a_person("ines", "body", Role::Technician) };
    shop.later(20).ok("mara", Act::SetPerson { person: gone });
    assert_eq!((shop.get(working).taken_by, shop.get(working).life), (None, Life::Paused));
    assert_eq!((shop.get(taken).taken_by, shop.get(taken).life), (None, Life::Waiting));
    assert_eq!(shop.get(helped).taken_by, Some(person("bruno")));
    assert_eq!(shop.get(helped).spans[1].to, Some(shop.now), "helping ends too");
    assert!(shop.vehicle(order).leads.is_empty());
    assert_eq!(shop.state.running_cards(person("ines")).count(), 0);
    assert_eq!(shop.refused("ines", take(taken)).code, Code::Forbidden, "no longer of this shop");
    // What she had done without a network, before she left, comes in now and counts.
    let note = || Act::Note { order, card: None, body: "Clip broken on the left".into() };
    shop.later(-30).ok("ines", note());
    assert_eq!(shop.later(30).refused("ines", note()).code, Code::Forbidden);
}

#[test]
fn routings_do_not_turn_in_a_circle() {
    let mut shop = TestShop::new();
    let set = |steps| Act::SetRouting { routing: routing("tank-out", steps) };
    let plain = |word: &str, after: &[(&str, u32)]| step(word, "body", after, Needs::default());
    assert_eq!(shop.refused("mara", set(vec![])).code, Code::Invalid);
    let circle = vec![plain("a", &[("b", 0)]), plain("b", &[("a", 0)])];
    assert_eq!(shop.refused("mara", set(circle)).code, Code::Cycle);
    assert_eq!(shop.refused("mara", set(vec![plain("a", &[("a", 0)])])).code, Code::Cycle);
    assert_eq!(shop.refused("mara", set(vec![plain("a", &[("gone", 0)])])).code, Code::Cycle);
    assert_eq!(shop.refused("mara", set(vec![plain("a", &[]), plain("a", &[])])).code, Code::Invalid);
    assert_eq!(
        shop.refused("mara", set(vec![plain("a", &[]), plain("b", &[("a", u32::MAX)])])).code,
        Code::Invalid
    );
    let glass = vec![step("a", "glass", &[], Needs::default())];
    assert_eq!(shop.refused("mara", set(glass)).code, Code::UnknownDepartment);
    shop.ok("mara", set(vec![plain("a", &[]), plain("b", &[("a", 0)])]));
}

#[test]
fn a_routing_counts_its_versions_and_cards_know_theirs() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    shop.ok("ines", Act::Ask(ask(order, DOWN)));
    assert_eq!(shop.get(shop.step("down")).routing_version, Some(1));
    let down = shop.step("down");
    assert_eq!(shop.ok("mara", Act::SetRouting { routing: suspension_down() }), vec![]);
    let renamed = Routing { title: "Rear suspension down".into(), ..suspension_down() };
    shop.ok("mara", Act::SetRouting { routing: renamed });
    assert_eq!(shop.state.routings[&domain::ids::RoutingId::from(DOWN)].version, 2);
    assert_eq!(shop.get(down).routing_version, Some(1), "history keeps its own");
}

#[test]
fn calendars_are_weeks_of_shifts() {
    let mut shop = TestShop::new();
    let set = |week, days: &[(&str, Vec<Shift>)]| Act::SetCalendar {
        calendar: Calendar {
            id: "late".into(),
            title: "Late".into(),
            week,
            days: days.iter().map(|(day, shifts)| ((*day).to_owned(), shifts.clone())).collect(),
        },
    };
    let shift = |from, to| Shift { from, to };
    let six: Vec<Vec<Shift>> = week(&[(480, 1020)], 5).into_iter().take(6).collect();
    assert_eq!(shop.refused("mara", set(six, &[])).code, Code::Invalid);
    assert_eq!(shop.refused("mara", set(week(&[(1020, 480)], 5), &[])).code, Code::Invalid);
    assert_eq!(shop.refused("mara", set(week(&[(480, 1441)], 5), &[])).code, Code::Invalid);
    assert_eq!(shop.refused("mara", set(week(&[(480, 720), (700, 1020)], 5), &[])).code, Code::Invalid);
    let bad_day = [("12/25/2026", vec![])];
    assert_eq!(shop.refused("mara", set(week(&[], 0), &bad_day)).code, Code::Invalid);
    shop.ok("mara", set(week(&[(480, 720), (720, 1440)], 7), &[("2026-12-25", vec![shift(0, 60)])]));
}

#[test]
fn names_are_words_and_what_they_name_exists() {
    let mut shop = TestShop::new();
    for word in ["Lift 3", "", "lift_3", &"l".repeat(41)] {
        let place = Place { id: word.into(), title: "Lift".into(), equipment: None, retired: false };
        assert_eq!(shop.refused("mara", Act::SetPlace { place }).code, Code::Invalid, "«{word}»");
    }
    let place =
        Place { id: "lift-9".into(), title: "Lift".into(), equipment: Some("lift-9".into()), retired: false };
    assert_eq!(shop.refused("mara", Act::SetPlace { place }).code, Code::Unknown);
    let person = Person { department: "glass".into(), ..a_person("ines", "body", Role::Technician) };
    assert_eq!(shop.refused("mara", Act::SetPerson { person }).code, Code::UnknownDepartment);
    let person = Person { calendar: Some("night".into()), ..a_person("ines", "body", Role::Technician) };
    assert_eq!(shop.refused("mara", Act::SetPerson { person }).code, Code::Unknown);
    let away = vec![Absence { from: 10, to: 10, reason: None }];
    let person = Person { away, ..a_person("ines", "body", Role::Technician) };
    assert_eq!(shop.refused("mara", Act::SetPerson { person }).code, Code::Invalid);
    let nobody = Person { id: domain::decide::SYSTEM, ..a_person("ines", "body", Role::Technician) };
    assert_eq!(shop.refused("mara", Act::SetPerson { person: nobody }).code, Code::Invalid);
}
