//! Shared cases of asking, adding and calling off at a vehicle that is open or will be.

use domain::ids::*;
use domain::stored::*;

use crate::support::*;
use crate::vectors::{decide_case, decide_case_expecting, overlay_case};

fn inside() -> Needs {
    Needs { inside: Some(DOWN.into()), ..Needs::default() }
}

#[test]
fn overlay_cases_of_asking_for_another_departments_card() {
    let mut shop = TestShop::new();
    shop.checked = false;
    let mut seal = suspension_down_then_aligned();
    seal.steps[1].needs.checks = vec!["Photographed the bare seam".into()];
    seal.steps[1].needs.cautions = vec![Caution::Lift];
    shop.ok("odin", Act::SetRouting { routing: seal });
    let open: OpenId = "high-voltage-off".into();
    let steps = vec![
        step("isolate", "mechanical", &[], Needs { opens: Some(open.clone()), ..Needs::default() }),
        step("live", "mechanical", &[("isolate", 0)], Needs { closes: Some(open), ..Needs::default() }),
    ];
    shop.ok("odin", Act::SetRouting { routing: routing("high-voltage-safe", steps) });
    let order = shop.order("2041");
    let wax = shop.card(order, "refinish", "Cavity wax", &[]);
    shop.card(order, "body", "Refit trim", &[wax]);
    let asks =
        |routing| Act::Ask(Ask { from: "refinish".into(), for_card: Some(wax), ..ask(order, routing) });
    overlay_case(
        &shop,
        "75-ask-another-departments-card",
        "ask: the asker's card goes inside, whatever its department",
        "pia",
        asks(DOWN),
    );
    overlay_case(
        &shop,
        "76-ask-nothing-inside",
        "ask: with nothing to be done inside, the asker's card comes after the hand-back",
        "pia",
        asks("paint"),
    );
    overlay_case(
        &shop,
        "77-ask-opened-for-the-asker",
        "ask: what is opened on no equipment is opened for the asker",
        "pia",
        asks("high-voltage-safe"),
    );
    {
        let mut joined = shop.clone();
        joined.ok("ines", Act::Ask(ask(order, DOWN)));
        joined.ok("pia", asks(DOWN));
        let handoff = HandoffId(joined.last_op().0);
        overlay_case(
            &joined,
            "89-call-off-what-joined",
            "call_off: the asker's card as it was, the other's ask stays",
            "pia",
            Act::CallOff { handoff, reason: None },
        );
    }
    shop.ok("pia", asks(DOWN));
    overlay_case(
        &shop,
        "78-cancel-what-opens",
        "cancel_card: with what opens goes all that was asked for with it",
        "pia",
        Act::CancelCard { card: shop.step("down"), reason: Some("sealed from outside".into()) },
    );
}

#[test]
fn overlay_cases_of_work_inside() {
    let mut shop = TestShop::new();
    shop.checked = false;
    let order = shop.order("2041");
    let (down, own, up) = shop.round_trip(order);
    overlay_case(
        &shop,
        "79-add-card-inside-what-will-open",
        "add_card: inside, before it is open",
        "ines",
        Act::AddCard(AddCard { needs: inside(), ..add_card(order, "body", "Second seam", &[]) }),
    );
    shop.do_it("milo", down, 60);
    overlay_case(
        &shop,
        "80-add-card-inside",
        "add_card: the closing waits for what is added inside",
        "ines",
        Act::AddCard(AddCard { needs: inside(), ..add_card(order, "body", "Second seam", &[]) }),
    );
    let second = shop.card(order, "body", "Second seam", &[]);
    overlay_case(
        &shop,
        "81-edit-card-inside",
        "edit_card: the closing waits for what is inside after all",
        "rask",
        Act::EditCard { card: second, change: CardChange { needs: Some(inside()), ..CardChange::default() } },
    );
    decide_case(
        &shop,
        "cancel-closing-without-reason",
        "what closes an open vehicle is not called off without a reason",
        "rask",
        Act::CancelCard { card: up, reason: None },
    );
    decide_case(
        &shop,
        "cancel-closing-by-the-asker",
        "nor by who asked for it",
        "ines",
        Act::CancelCard { card: up, reason: Some("not now".into()) },
    );
    decide_case(
        &shop,
        "cancel-closing",
        "with one it is, and an exception stands",
        "rask",
        Act::CancelCard { card: up, reason: Some("towed to the dealer".into()) },
    );
    decide_case(
        &shop,
        "ready-while-open",
        "ready while open raises an alarm",
        "ines",
        stage(order, Stage::Ready),
    );
    shop.do_it("ines", own, 20);
    let (friday, monday) = (local("2026-03-06T16:00"), local("2026-03-09T16:00"));
    shop.ok("rask", Act::Promise { order, due: Some(friday), reason: None });
    decide_case_expecting(
        &shop,
        "promised-otherwise",
        "another day was promised meanwhile",
        "mara",
        vec![Expect::Promise { order, due: None }],
        Act::Promise { order, due: Some(monday), reason: None },
    );
}

#[test]
fn overlay_cases_of_high_voltage_and_equipment() {
    let mut shop = TestShop::new();
    shop.checked = false;
    let mut milo = (*shop.state.people[&person("milo")]).clone();
    milo.qualifications.insert("high-voltage".into(), None);
    shop.ok("mara", Act::SetPerson { person: milo });
    let live = Energy { high_voltage: HighVoltage::Live, ..Energy::default() };
    shop.ok("rask", order_with("2041", |open| open.energy = Some(live)));
    let order = OrderId(shop.last_op().0);
    let open: OpenId = "high-voltage-off".into();
    let only = || Needs {
        qualification: Some("high-voltage".into()),
        cautions: vec![Caution::HighVoltage],
        ..Needs::default()
    };
    let steps = vec![
        step("isolate", "mechanical", &[], Needs { opens: Some(open.clone()), ..only() }),
        step("live", "mechanical", &[("isolate", 0)], Needs { closes: Some(open), ..only() }),
    ];
    shop.ok("odin", Act::SetRouting { routing: routing("high-voltage-safe", steps) });
    shop.ok("ines", Act::Ask(ask(order, "high-voltage-safe")));
    let (isolate, reconnect) = (shop.step("isolate"), shop.step("live"));
    let isolated = Energy { high_voltage: HighVoltage::Isolated, ..Energy::default() };
    overlay_case(
        &shop,
        "82-energy-unqualified",
        "energy: an unqualified word leaves it live",
        "tova",
        Act::Energy { order, energy: Energy { bake_limit_celsius: Some(60), ..isolated } },
    );
    shop.ok("milo", start(isolate));
    overlay_case(&shop, "83-finish-isolates", "finish: it is isolated", "milo", finish(isolate));
    shop.ok("milo", finish(isolate));
    shop.ok("milo", start(reconnect));
    overlay_case(&shop, "84-finish-reconnects", "finish: it is live again", "milo", finish(reconnect));
    let order = shop.order("2042");
    let (down, ..) = shop.round_trip(order);
    overlay_case(
        &shop,
        "85-start-on",
        "start: on the lift that is said",
        "tova",
        Act::Start { card: down, on: Some("lift-2".into()) },
    );
    let out = Act::EquipmentOut { equipment: "lift-1".into(), note: Some("drops by itself".into()) };
    overlay_case(
        &shop,
        "86-equipment-out",
        "equipment_out: until it is said to be back",
        "ines",
        out.clone(),
    );
    shop.ok("ines", out);
    shop.later(30);
    let back = Act::EquipmentBack { equipment: "lift-1".into() };
    overlay_case(&shop, "87-equipment-back", "equipment_back: in service again", "rask", back);
}
