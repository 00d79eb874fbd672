//! Numbers and dates of every act at their extremes: nothing panics, nothing out of reach is kept, and
//! what old logs may hold breaks nothing.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use domain::decide::{ABSENCES_MAX, Clocks, Code, REACH, best_time};
use domain::ids::*;
use domain::stored::*;
use domain::{MINUTE, Ms, calendar, depends, fold, learn, measure, notice};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::support::*;

/// A day of the year 20261: somebody's thumb stayed on the key.
const YEAR_20261: Ms = 577_263_000_000_000;

/// A shop with one vehicle on which everything can be done.
#[derive(Clone)]
struct Scene {
    shop: TestShop,
    order: OrderId,
    /// Worked on by Ines; waiting; done by Milo.
    running: CardId,
    waiting: CardId,
    span: SpanId,
    hold: HoldId,
    photo: PhotoId,
    exception: ExceptionId,
}

/// Always the same one, set up once.
fn scene() -> Scene {
    static SCENE: LazyLock<Scene> = LazyLock::new(set_scene);
    SCENE.clone()
}

fn set_scene() -> Scene {
    let mut shop = TestShop::new();
    shop.checked = false;
    let order = shop.order("2041");
    let running = shop.card(order, "body", "Rail on", &[]);
    let waiting = shop.card(order, "body", "Trim in", &[]);
    let late = shop.card(order, "mechanical", "Alignment", &[waiting]);
    shop.ok("ines", start(running));
    let span = SpanId(shop.last_op().0);
    shop.ok("milo", start(late));
    shop.later(10);
    shop.ok("milo", pause(late));
    let exception = shop.exception(ExceptionKind::StartedEarly).id;
    shop.ok("rask", hold(order, HoldKind::Parts, &[late], Blocks::Start));
    let hold = HoldId(shop.last_op().0);
    shop.ok("ines", photo(order, 1));
    let photo = PhotoId(shop.last_op().0);
    Scene { shop, order, running, waiting, span, hold, photo, exception }
}

fn lift_of(shop: &TestShop) -> Equipment {
    (*shop.state.equipment[&EquipmentId::from("lift-1")]).clone()
}

fn week_of(shop: &TestShop) -> Calendar {
    (*shop.state.calendars[&CalendarId::from("week")]).clone()
}

fn photo(order: OrderId, taken_at: Ms) -> Act {
    let (mime, sha256) = ("image/jpeg".into(), format!("{:064x}", 7));
    Act::Photo { order, card: None, handoff: None, sha256, mime, bytes: 1, taken_at }
}

/// One act of every kind, with every number and date it can carry.
fn every_act(scene: &Scene) -> Vec<Act> {
    let Scene { shop, order, running, waiting, span, hold, photo: picture, exception } = scene;
    let (order, card, soon) = (*order, *waiting, shop.now + 30 * HOUR);
    let link = || Link { card: *running, lag_minutes: 10, lag_minutes_max: Some(60) };
    let energy = || Energy {
        high_voltage: HighVoltage::Live,
        bake_limit_celsius: Some(60),
        bake_limit_minutes: Some(30),
    };
    let change = || ConditionChange { wet_until: Some(soon), ..ConditionChange::default() };
    let absence = || vec![Absence { from: soon, to: soon + HOUR, reason: None }];
    let steps = suspension_down().steps.into_iter().map(|step| {
        let after = step.after.into_iter().map(|link| StepLink { lag_minutes_max: Some(90), ..link });
        Step { after: after.collect(), ..step }
    });
    let work = add_card(order, "body", "Extra", &[]);
    let sold = Some(60);
    vec![
        start(card),
        Act::Pause { card: *running, why: None },
        Act::Finish { card: *running, checks: vec![1], wet_minutes: Some(30) },
        Act::Found { order, card: None, what: Found::Seized, note: None },
        Act::Note { order, card: None, body: "bent".into() },
        photo(order, soon),
        Act::MarkPhoto {
            photo: *picture,
            marks: vec![Mark { kind: MarkKind::Arrow, x1: 1, y1: 2, x2: 3, y2: 4, text: None }],
        },
        Act::Move { order, to: "stall-2".into(), on: None },
        Act::Condition { order, change: change() },
        stage(order, Stage::Ready),
        Act::Energy { order, energy: energy() },
        Act::EquipmentOut { equipment: "lift-1".into(), note: None },
        Act::EquipmentBack { equipment: "lift-1".into() },
        Act::Ask(Ask {
            after: vec![link()],
            condition: change(),
            minutes: [("down".to_owned(), 30)].into(),
            ..ask(order, DOWN)
        }),
        take(card),
        Act::GiveBack { card: *running },
        Act::Help { card },
        Act::Assign { card, to: person("bruno") },
        Act::Lead { order, department: "body".into(), person: Some(person("ines")) },
        order_with("2042", |open| {
            (open.expected_at, open.promise) = (Some(soon), Some(soon));
            (open.arrived_at, open.sold_minutes) = (Some(shop.now - HOUR), sold);
            open.energy = Some(energy());
            open.routings = vec![DOWN.into()];
        }),
        Act::EditOrder {
            order,
            change: OrderChange {
                weight: Some(4),
                expected_at: Some(soon),
                sold_minutes: sold,
                ..OrderChange::default()
            },
        },
        Act::Promise { order, due: Some(soon), reason: None },
        Act::AddCard(AddCard { sold_minutes: sold, after: vec![link()], ..work }),
        Act::EditCard {
            card,
            change: CardChange { planned_minutes: Some(30), sold_minutes: sold, ..CardChange::default() },
        },
        Act::CancelCard { card, reason: None },
        Act::CallOff { handoff: HandoffId(id(9_001)), reason: None },
        Act::Link { card, after: link() },
        Act::Unlink { card, after: *running },
        Act::Hold {
            order,
            what: HoldKind::Parts,
            cards: vec![card],
            blocks: Blocks::Start,
            due: Some(soon),
            note: None,
        },
        Act::HoldDue { order, hold: *hold, due: soon },
        Act::Unhold { order, hold: *hold },
        Act::PutFirst { card, reason: "customer".into(), until: soon },
        Act::PutBack { card },
        Act::Correct { card: *running, span: *span, from: shop.now - HOUR, to: Some(shop.now) },
        undo(OpId(span.0), *running),
        Act::Answer { exception: *exception, reason: "seen".into() },
        Act::StageBack { order, stage: Stage::Delivered, reason: "not yet".into() },
        Act::Dropped { why: "too large".into() },
        Act::SetShop { shop: (**shop.state.shop.as_ref().unwrap()).clone() },
        Act::SetDepartment {
            department: Department {
                rank: 7,
                ..(*shop.state.departments[&DepartmentId::from("body")]).clone()
            },
        },
        Act::SetPerson {
            person: Person {
                qualifications: [("welding".into(), Some(soon))].into(),
                away: absence(),
                retired: true,
                retired_at: Some(soon),
                ..a_person("tova", "mechanical", Role::Technician)
            },
        },
        Act::ErasePerson { person: person("milo") },
        Act::SetEquipment {
            equipment: Equipment {
                rated_load_kg: Some(3_000),
                out_of_service: absence(),
                inspection_due: Some(soon),
                ..lift_of(shop)
            },
        },
        Act::SetPlace { place: (*shop.state.places[&PlaceId::from("stall-1")]).clone() },
        Act::SetCalendar {
            calendar: Calendar {
                days: [("2026-07-03".to_owned(), vec![Shift { from: 480, to: 600 }])].into(),
                ..week_of(shop)
            },
        },
        Act::SetRouting { routing: Routing { version: 3, ..routing("other", steps.collect()) } },
        Act::PhotoHere { sha256: format!("{:064x}", 7) },
        Act::Remind { about: Reminder::Untaken, card: Some(card), order: Some(order) },
    ]
}

/// Every kind of act there is, as the reader of stored operations names them.
fn every_kind() -> BTreeSet<String> {
    let error = serde_json::from_value::<Act>(json!({ "kind": "?" })).expect_err("no act").to_string();
    let (_, kinds) = error.split_once("expected one of").expect("the reader names what it knows");
    kinds.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

#[test]
fn no_kind_of_act_is_left_out() {
    let kind = |act: &Act| serde_json::to_value(act).unwrap()["kind"].as_str().unwrap().to_owned();
    let seen: BTreeSet<String> = every_act(&scene()).iter().map(kind).collect();
    assert_eq!(seen, every_kind());
}

/// As they are, all of them are done: the extremes alone are what is refused below.
#[test]
fn every_act_is_done_as_it_is() {
    for n in 0..every_kind().len() {
        let mut scene = scene();
        let act = every_act(&scene).swap_remove(n);
        let act = match act {
            Act::CallOff { reason, .. } => {
                let asked = Act::Ask(Ask { ..ask(scene.order, DOWN) });
                scene.shop.ok("odin", asked);
                let more = scene.shop.card(scene.order, "body", "Bracket", &[]);
                scene.shop.ok("odin", Act::Ask(Ask { for_card: Some(more), ..ask(scene.order, DOWN) }));
                Act::CallOff { handoff: HandoffId(scene.shop.last_op().0), reason }
            }
            act => act,
        };
        if let Act::StageBack { order, stage: reached, .. } = &act {
            scene.shop.ok("odin", stage(*order, *reached));
        }
        let decided = match act {
            Act::PhotoHere { .. } | Act::Remind { .. } => scene.shop.system(act.clone()),
            _ => scene.shop.act(who(&act), act.clone()),
        };
        assert!(decided.is_ok(), "{act:?}: {decided:?}");
    }
}

fn who(act: &Act) -> &'static str {
    let own = matches!(act, Act::Start { .. } | Act::Pause { .. } | Act::Finish { .. } | Act::Undo { .. });
    match act {
        Act::Take { .. } | Act::GiveBack { .. } | Act::Lead { .. } => "ines",
        _ if own => "ines",
        _ => "odin",
    }
}

/// Paths to the numbers of a piece of JSON.
fn numbers(value: &Value, at: String, found: &mut Vec<String>) {
    match value {
        Value::Number(_) => found.push(at),
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(n, item)| numbers(item, format!("{at}/{n}"), found));
        }
        Value::Object(fields) => {
            fields.iter().for_each(|(name, field)| numbers(field, format!("{at}/{name}"), found));
        }
        _ => {}
    }
}

const EXTREMES: [i128; 16] = [
    i64::MIN as i128,
    -YEAR_20261 as i128,
    -1,
    0,
    1,
    u16::MAX as i128,
    i32::MAX as i128,
    u32::MAX as i128,
    u32::MAX as i128 + 1,
    253_402_300_799_000,   // the last second of the year 9999
    8_640_000_000_000_001, // a millisecond more than a browser's calendar knows
    YEAR_20261 as i128,
    i64::MAX as i128 - 1,
    i64::MAX as i128,
    i64::MAX as i128 + 1,
    u64::MAX as i128,
];

fn with(act: &Act, path: &str, number: i128) -> Option<Act> {
    let mut value = serde_json::to_value(act).expect("an act is JSON");
    *value.pointer_mut(path)? = serde_json::from_str(&number.to_string()).expect("a number");
    serde_json::from_value(value).ok()
}

fn paths_of(act: &Act) -> Vec<String> {
    let mut paths = Vec::new();
    numbers(&serde_json::to_value(act).expect("an act is JSON"), String::new(), &mut paths);
    paths
}

#[test]
fn every_number_of_every_act_at_its_extremes_is_kept_within_reach_or_refused() {
    let template = scene();
    let mut tried = 0;
    for act in every_act(&template) {
        for path in paths_of(&act) {
            for act in EXTREMES.iter().filter_map(|number| with(&act, &path, *number)) {
                let mut scene = template.clone();
                let decided = scene.shop.act(who(&act), act.clone());
                invariants::within_reach(&documents::all(&scene.shop.state), scene.shop.now);
                if let Err(refusal) = decided {
                    assert!(!act.is_fact() || refusal.code == Code::Invalid, "{act:?}: {refusal}");
                    assert!(refusal.message.ends_with('.'), "{refusal}");
                }
                tried += 1;
            }
        }
    }
    assert!(tried > 500, "{tried}");
}

#[test]
fn a_year_too_far_is_refused_with_what_to_do() {
    let mut scene = scene();
    let (order, card, hold) = (scene.order, scene.waiting, scene.hold);
    for far in [YEAR_20261, i64::MAX, scene.shop.now + REACH + 1] {
        let due = Some(far);
        let with_due = |due| Act::Hold {
            order,
            what: HoldKind::Parts,
            cards: vec![],
            blocks: Blocks::Start,
            due,
            note: None,
        };
        let absence = vec![Absence { from: scene.shop.now, to: far, reason: None }];
        let person = a_person("tova", "mechanical", Role::Technician);
        let lift = lift_of(&scene.shop);
        let expected = OrderChange { expected_at: due, ..OrderChange::default() };
        let acts = [
            with_due(due),
            with_due(Some(-1)),
            Act::HoldDue { order, hold, due: far },
            Act::Promise { order, due, reason: None },
            Act::PutFirst { card, reason: "customer".into(), until: far },
            Act::EditOrder { order, change: expected },
            order_with("2050", |open| open.expected_at = due),
            order_with("2050", |open| open.promise = due),
            order_with("2050", |open| open.arrived_at = due),
            Act::SetPerson { person: Person { away: absence.clone(), ..person.clone() } },
            Act::SetPerson { person: Person { qualifications: [("welding".into(), due)].into(), ..person } },
            Act::SetEquipment { equipment: Equipment { out_of_service: absence, ..lift.clone() } },
            Act::SetEquipment { equipment: Equipment { inspection_due: due, ..lift } },
        ];
        for act in acts {
            let refusal = scene.shop.refused("odin", act.clone());
            assert_eq!(refusal.code, Code::Invalid, "{act:?}: {refusal}");
            assert!(refusal.message.contains("check the year"), "{refusal}");
        }
    }
    let last = scene.shop.now + REACH;
    scene.shop.ok("rask", Act::HoldDue { order, hold, due: last });
}

#[test]
fn facts_are_kept_with_what_can_be() {
    let mut scene = scene();
    let order = scene.order;
    let dry_by = scene.shop.now + 90 * 24 * 60 * MINUTE;
    for (said, kept) in [(i64::MAX, dry_by), (YEAR_20261, dry_by), (-5, 0), (i64::MIN, 0)] {
        let change = ConditionChange { wet_until: Some(said), ..ConditionChange::default() };
        scene.shop.ok("ines", Act::Condition { order, change: change.clone() });
        assert_eq!(scene.shop.vehicle(order).condition.wet_until, Some(kept));
        scene.shop.ok(
            "ines",
            Act::Condition { order, change: ConditionChange { wet_until: Some(1), ..change.clone() } },
        );
        scene.shop.ok("ines", Act::Ask(Ask { condition: change, ..ask(order, "paint") }));
        assert_eq!(scene.shop.vehicle(order).condition.wet_until, Some(kept), "said together with an ask");
    }
    for (said, kept) in [(i64::MIN, 0), (i64::MAX, scene.shop.now)] {
        scene.shop.ok("ines", photo(order, said));
        let id = PhotoId(scene.shop.last_op().0);
        assert_eq!(scene.shop.state.photos[&id].taken_at, kept);
    }
}

#[test]
fn absences_are_counted() {
    let mut scene = scene();
    let from = scene.shop.now;
    let days = |n: usize| -> Vec<Absence> {
        let day = |k: usize| from + k as Ms * 24 * HOUR;
        (0..n).map(|k| Absence { from: day(k), to: day(k) + HOUR, reason: None }).collect()
    };
    let person = |n| Act::SetPerson {
        person: Person { away: days(n), ..a_person("tova", "mechanical", Role::Technician) },
    };
    let lift = lift_of(&scene.shop);
    let lift = |n| Act::SetEquipment { equipment: Equipment { out_of_service: days(n), ..lift.clone() } };
    for act in [person(ABSENCES_MAX + 1), lift(ABSENCES_MAX + 1)] {
        let refusal = scene.shop.refused("mara", act);
        assert!(refusal.code == Code::Invalid && refusal.message.contains("400"), "{refusal}");
    }
    scene.shop.ok("mara", person(ABSENCES_MAX));
    scene.shop.ok("mara", lift(ABSENCES_MAX));
}

#[test]
fn special_days_are_counted_and_written_as_they_are_looked_up() {
    let mut shop = TestShop::new();
    let week = week_of(&shop);
    let set = |days: Vec<String>| Act::SetCalendar {
        calendar: Calendar { days: days.into_iter().map(|day| (day, Vec::new())).collect(), ..week.clone() },
    };
    for day in ["9999-12-31", "-000001-01-01", "1969-12-31", "2032-01-01", "20261225"] {
        assert_eq!(shop.refused("mara", set(vec![day.into()])).code, Code::Invalid, "{day}");
    }
    let date: jiff::civil::Date = "1971-01-01".parse().unwrap();
    let many = date.series(jiff::Span::new().days(1)).take(3_000).map(|day| day.to_string()).collect();
    let refusal = shop.refused("mara", set(many));
    assert!(refusal.message.contains("2000"), "{refusal}");
    shop.ok("mara", set(vec!["2026-12-25".into(), "2030-12-25".into()]));
}

#[test]
fn lags_fit_each_other() {
    let mut scene = scene();
    let (card, order) = (scene.waiting, scene.order);
    for (lag_minutes, lag_minutes_max) in [(0, Some(u32::MAX)), (60, Some(30)), (u32::MAX, None)] {
        let link = Link { card: scene.running, lag_minutes, lag_minutes_max };
        let mut paths = suspension_down();
        (paths.steps[2].after[0].lag_minutes, paths.steps[2].after[0].lag_minutes_max) =
            (lag_minutes, lag_minutes_max);
        let acts = [
            Act::Link { card, after: link.clone() },
            Act::AddCard(AddCard { after: vec![link.clone()], ..add_card(order, "body", "Extra", &[]) }),
            Act::Ask(Ask { after: vec![link], ..ask(order, DOWN) }),
            Act::SetRouting { routing: paths },
        ];
        for act in acts {
            assert_eq!(scene.shop.refused("odin", act.clone()).code, Code::Invalid, "{act:?}");
        }
    }
}

fn any_ms() -> impl Strategy<Value = Ms> {
    prop_oneof![
        Just(i64::MIN),
        Just(i64::MAX),
        Just(0i64),
        Just(-1i64),
        Just(YEAR_20261),
        Just(-YEAR_20261),
        any::<i64>(),
        0i64..2_000_000_000_000
    ]
}

/// An eighth of the usual number: a case asks everything of a whole shop. PROPTEST_CASES counts.
fn config() -> ProptestConfig {
    let usual = ProptestConfig::default();
    ProptestConfig { cases: (usual.cases / 8).max(1), ..usual }
}

proptest! {
    #[test]
    fn the_best_time_is_never_in_the_future_nor_before_1970(
        device_at in any_ms(), offset_then in prop::option::of(any_ms()), offset_now in any_ms(), floor in any_ms(),
    ) {
        let now = 1_772_000_000_000;
        let (at, uncertain) = best_time(Clocks { device_at, offset_then, offset_now, floor, now });
        prop_assert!((0..=now).contains(&at));
        let corrected = i128::from(device_at) + i128::from(offset_then.unwrap_or(offset_now));
        if !(0..=i128::from(now)+ i128::from(2 * MINUTE)).contains(&corrected) {
            prop_assert!(uncertain, "{corrected}");
        }
    }

}

proptest! {
    #![proptest_config(config())]

    /// Two or three numbers of a sequence at their extremes, one act after the other on one shop.
    #[test]
    fn whatever_is_accepted_stays_within_reach(
        picks in prop::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>(), any::<prop::sample::Index>(), any_ms()), 1..12)
    ) {
        let mut scene = scene();
        scene.shop.checked = true;
        for (which, path, extreme, number) in picks {
            let acts = every_act(&scene);
            let act = which.get(&acts);
            let paths = paths_of(act);
            let act = if paths.is_empty() { act.clone() } else {
                let number = if number % 2 == 0 { *extreme.get(&EXTREMES) } else { i128::from(number) };
                let path: &String = path.get(&paths);
                match with(act, path, number) { Some(act) => act, None => continue }
            };
            // The invariants look at every number of every document after each act.
            let _ = scene.shop.act(who(&act), act);
            scene.shop.later(7);
        }
    }

    /// Old logs may hold what is refused today.
    #[test]
    fn what_an_old_log_holds_breaks_no_arithmetic(
        number in any_ms(), other in any_ms(), lag in prop_oneof![Just(u32::MAX), Just(0u32), any::<u32>()], days in 0u8..3,
    ) {
        let mut scene = scene();
        let shop = &mut scene.shop;
        let (order, card) = (scene.order, scene.waiting);
        let mut lift = lift_of(shop);
        let mut fold_in = |event: Event| { fold::fold(&mut shop.state, &event, &mut fold::Changed::new()); };
        let hold = Hold {
            id: HoldId(id(1)), what: HoldKind::Parts, cards: vec![], blocks: Blocks::Start, since: number,
            due: Some(other), first_due: Some(number), ended: (days > 0).then_some(other), note: None,
        };
        fold_in(Event::HoldSet { order, hold });
        fold_in(Event::Promised { order, due: Some(number), by: None, at: None });
        fold_in(Event::StageReached { order, stage: Stage::Authorised, at: other, reason: None });
        let op = OpId(id(2));
        fold_in(Event::Started { card, span: SpanId(id(2)), by: person("tova"), at: number, uncertain: false, used: None });
        fold_in(Event::Finished { card, by: person("tova"), at: other, checks: vec![], wet_until: Some(number), op });
        let after = Link { card, lag_minutes: lag, lag_minutes_max: Some(lag) };
        fold_in(Event::Linked { card: scene.running, after });
        let mut someone = a_person("tova", "mechanical", Role::Technician);
        someone.qualifications = [("welding".into(), Some(number))].into();
        someone.away = vec![Absence { from: number, to: other, reason: None }, Absence { from: other, to: number, reason: None }];
        (someone.retired, someone.retired_at) = (days == 2, Some(number));
        fold_in(Event::PersonSet { person: someone.clone() });
        (lift.out_of_service, lift.inspection_due) = (someone.away.clone(), Some(number));
        fold_in(Event::EquipmentSet { equipment: lift.clone() });

        let zone = shop.zone.clone();
        let (from, to) = (shop.now - 40 * HOUR, shop.now);
        for at in [number, other] {
            calendar::local_date(at, &zone);
            calendar::open_day(&shop.state, &zone, at);
            calendar::on_shift(&shop.state, &someone, &zone, at);
            calendar::length_within(&[(from, to)], at, number);
            depends::early_for(&shop.state, shop.get(scene.running), at);
            let mut entry = shop.entries.last().expect("something was done").clone();
            (entry.at, entry.act_at, entry.events) = (at, at, vec![Event::Finished { card, by: person("tova"), at, checks: vec![], wet_until: None, op }]);
            notice::notices(&shop.state, &entry, &zone);
        }
        calendar::length(&calendar::of_person(&shop.state, &someone, &zone, from, to));
        calendar::of_equipment(&lift, from, to);
        measure::measures(&shop.state, &zone, number, other, shop.now);
        measure::control::control(&shop.state, &zone, &measure::Question { from: number, to: other, now: shop.now, ..Default::default() });
        measure::pay::sold_shares(&shop.state, shop.now);
        learn::learn(&shop.state, shop.now);
        // The rules meet it too.
        shop.checked = false;
        for act in every_act(&scene) {
            let _ = scene.shop.act(who(&act), act);
        }
    }
}

/// The table of who may do what is made from the rules: a cell is "no" where `decide` says that this person
/// may not. What else may refuse it is a matter of the state.
#[test]
#[expect(clippy::disallowed_methods, reason = "the document is written when somebody asks for it")]
fn who_may_do_what_stands_in_the_document() {
    let people = [
        ("whoever does it", "ines"),
        ("another technician", "pia"),
        ("parts", "petra"),
        ("planner", "rask"),
        ("manager", "mara"),
        ("administrator", "odin"),
    ];
    let names: Vec<&str> = people.iter().map(|(name, _)| *name).collect();
    let mut table = format!(
        "# Who may do what\n\nMade from `decide` by a test, over one vehicle on which Ines of the body department works. \"no\": the \
         rules forbid it to this person. A fact (**bold**) is never forbidden; it is kept, with a question where it broke a rule.\n\n\
         | act | {} |\n| --- |{}\n",
        names.join(" | "),
        " --- |".repeat(people.len())
    );
    for n in 0..every_kind().len() {
        let act = every_act(&scene()).swap_remove(n);
        let kind = serde_json::to_value(&act).unwrap()["kind"].as_str().unwrap().to_owned();
        let cells = people.map(|(_, who)| {
            let refused = scene().shop.act(who, act.clone()).err();
            if refused.is_some_and(|refusal| refusal.code == Code::Forbidden) { "no" } else { "yes" }
        });
        assert!(!act.is_fact() || cells == ["yes"; 6], "{kind} is a fact");
        let shown = if act.is_fact() { format!("**{kind}**") } else { kind };
        table.push_str(&format!("| {shown} | {} |\n", cells.join(" | ")));
    }
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../deploy/security/who-may.md");
    if std::env::var_os("UPDATE_SECURITY").is_some() {
        std::fs::write(path, &table).unwrap();
    }
    assert!(
        std::fs::read_to_string(path).unwrap_or_default() == table,
        "UPDATE_SECURITY=1, and look at what changed"
    );
}
