//! High voltage: one state, moved by the isolating and reconnecting work of qualified people.

use domain::decide::Code;
use domain::ids::*;
use domain::stored::ExceptionKind::{HighVoltage as Alarm, LeftOpen, Unqualified};
use domain::stored::HighVoltage::{Isolated, Live, None as NotOnBoard};
use domain::stored::*;

use crate::support::*;

fn energy(high_voltage: HighVoltage) -> Energy {
    Energy { high_voltage, ..Energy::default() }
}

fn says(order: OrderId, high_voltage: HighVoltage) -> Act {
    Act::Energy { order, energy: energy(high_voltage) }
}

fn safe() -> Routing {
    let open: OpenId = "high-voltage-off".into();
    let needs = || Needs {
        qualification: Some("high-voltage".into()),
        cautions: vec![Caution::HighVoltage],
        ..Needs::default()
    };
    let steps = vec![
        step("isolate", "mechanical", &[], Needs { opens: Some(open.clone()), ..needs() }),
        step("live", "mechanical", &[("isolate", 0)], Needs { closes: Some(open), ..needs() }),
    ];
    routing("high-voltage-safe", steps)
}

/// Milo is qualified, Tova is not; the vehicle is live, and is asked to be made safe.
fn scene() -> (TestShop, OrderId, CardId, CardId) {
    let mut shop = TestShop::new();
    let mut milo = (*shop.state.people[&person("milo")]).clone();
    milo.qualifications.insert("high-voltage".into(), None);
    shop.ok("mara", Act::SetPerson { person: milo });
    shop.ok("odin", Act::SetRouting { routing: safe() });
    shop.ok("rask", order_with("2041", |open| open.energy = Some(energy(Live))));
    let order = OrderId(shop.last_op().0);
    shop.ok("ines", Act::Ask(ask(order, "high-voltage-safe")));
    let (isolate, live) = (shop.step("isolate"), shop.step("live"));
    (shop, order, isolate, live)
}

fn now(shop: &TestShop, order: OrderId) -> HighVoltage {
    shop.vehicle(order).energy.high_voltage
}

#[test]
fn isolating_and_reconnecting_cards_move_it() {
    let (mut shop, order, isolate, live) = scene();
    shop.do_it("milo", isolate, 40);
    assert_eq!(now(&shop, order), Isolated);
    let done = shop.last_op();
    shop.ok("milo", undo(done, isolate));
    assert_eq!(now(&shop, order), Live, "taken back");
    shop.ok("milo", finish(isolate));
    shop.do_it("milo", live, 40);
    assert_eq!(now(&shop, order), Live);
    let done = shop.last_op();
    shop.ok("milo", undo(done, live));
    assert_eq!(now(&shop, order), Isolated, "taken back");
    shop.ok("milo", finish(live));
    assert_eq!((now(&shop, order), shop.exceptions()), (Live, vec![]));
}

#[test]
fn the_other_things_known_of_it_stay() {
    let (mut shop, order, isolate, _) = scene();
    let limits = Energy { bake_limit_celsius: Some(60), bake_limit_minutes: Some(30), ..energy(Live) };
    shop.ok("rask", Act::Energy { order, energy: limits.clone() });
    shop.do_it("milo", isolate, 40);
    assert_eq!(shop.vehicle(order).energy, Energy { high_voltage: Isolated, ..limits });
}

#[test]
fn what_an_unqualified_person_isolates_stays_live() {
    let (mut shop, order, isolate, live) = scene();
    shop.do_it("tova", isolate, 40);
    assert_eq!(now(&shop, order), Live);
    assert_eq!(shop.exceptions(), vec![Unqualified, Alarm]);
    shop.do_it("milo", live, 40);
    let done = shop.last_op();
    shop.ok("milo", undo(done, live));
    assert_eq!(now(&shop, order), Live, "it never was anything else");
}

/// It reads "open: high voltage off" then, and is not.
#[test]
fn work_inside_what_an_unqualified_person_isolated_is_an_alarm_too() {
    for (who, alarms) in [("tova", 1), ("milo", 0)] {
        let (mut shop, order, isolate, _) = scene();
        let mut inside = add_card(order, "body", "Weld beside the cable", &[]);
        inside.needs.inside = Some("high-voltage-off".into());
        shop.ok("rask", Act::AddCard(inside));
        let inside = CardId(shop.last_op().0);
        shop.ok(who, finish(isolate));
        let before = shop.exceptions().iter().filter(|kind| **kind == Alarm).count();
        shop.ok("ines", start(inside));
        let after = shop.exceptions().iter().filter(|kind| **kind == Alarm).count();
        assert_eq!(after - before, alarms, "isolated by {who}");
    }
}

#[test]
fn an_unqualified_word_is_kept_as_an_alarm_and_the_vehicle_stays_live() {
    let (mut shop, order, ..) = scene();
    for (who, claim) in [("tova", Isolated), ("tova", NotOnBoard), ("rask", Isolated)] {
        let before = shop.exceptions().len();
        shop.ok(who, says(order, claim));
        assert_eq!(now(&shop, order), Live, "{who}: {claim:?}");
        assert_eq!(shop.exceptions()[before..], [Alarm], "{who}: {claim:?}");
    }
    shop.ok("milo", says(order, Isolated));
    assert_eq!(now(&shop, order), Isolated, "a qualified person's");
    let before = shop.exceptions().len();
    shop.ok("tova", says(order, Live));
    assert_eq!(now(&shop, order), Live, "whatever makes people careful counts");
    assert_eq!(shop.exceptions()[before..], [Alarm]);
    shop.ok("rask", says(order, NotOnBoard));
    assert_eq!(now(&shop, order), NotOnBoard, "a slip at the desk is the planner's to set right");
    let before = shop.exceptions().len();
    shop.ok("tova", says(order, Live));
    assert_eq!((now(&shop, order), shop.exceptions().len()), (Live, before), "found to be on board");
    shop.ok("rask", says(order, NotOnBoard));
    shop.ok("tova", says(order, Isolated));
    assert_eq!(now(&shop, order), Live, "so it is on board");
}

#[test]
fn a_limit_for_baking_is_one_at_which_something_is_baked() {
    let (mut shop, order, ..) = scene();
    let limit = |celsius, minutes| Act::Energy {
        order,
        energy: Energy { bake_limit_celsius: celsius, bake_limit_minutes: minutes, ..energy(Live) },
    };
    for (celsius, minutes) in [(Some(29), None), (Some(101), None), (None, Some(0)), (None, Some(241))] {
        assert_eq!(
            shop.refused("tova", limit(celsius, minutes)).code,
            Code::Invalid,
            "{celsius:?} {minutes:?}"
        );
    }
    let wild = Energy { bake_limit_celsius: Some(140), bake_limit_minutes: Some(999), ..energy(Live) };
    let opened = order_with("2042", |open| open.energy = Some(wild));
    assert_eq!(shop.refused("rask", opened).code, Code::Invalid);
    shop.ok("tova", limit(Some(30), Some(1)));
    shop.ok("tova", limit(Some(100), Some(240)));
}

#[test]
fn only_what_is_baked_asks_for_the_limit() {
    let (mut shop, order, isolate, _) = scene();
    shop.do_it("milo", isolate, 40);
    let spraying = |equipment: &str, off_vehicle| Needs {
        equipment: Some(equipment.into()),
        cautions: vec![Caution::Spraying],
        off_vehicle,
        ..Needs::default()
    };
    let said = |shop: &mut TestShop, needs: Needs| {
        let before = shop.exceptions().len();
        shop.ok("rask", Act::AddCard(AddCard { needs, ..add_card(order, "refinish", "Spray or sand", &[]) }));
        let card = CardId(shop.last_op().0);
        shop.do_it("pia", card, 10);
        shop.exceptions()[before..].to_vec()
    };
    assert_eq!(said(&mut shop, spraying("prep", false)), vec![], "sanding");
    assert_eq!(said(&mut shop, spraying("booth", true)), vec![], "a loose part has no battery");
    assert_eq!(said(&mut shop, spraying("booth", false)), vec![Alarm]);
}

#[test]
fn isolated_it_does_not_leave_unsaid() {
    let (mut shop, order, isolate, live) = scene();
    shop.do_it("milo", isolate, 40);
    shop.ok("rask", stage(order, Stage::Ready));
    assert!(shop.exceptions().contains(&LeftOpen));
    shop.do_it("milo", live, 40);
    assert_eq!(now(&shop, order), Live);
}
