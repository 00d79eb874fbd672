//! The day's other stories: who waits for whom, what came back, what stopped. All invented.

use domain::stored::*;

use super::lines::{Asking, Own, add_own, ask, note};
use super::scenario::{Story, blank_order, enter};
use super::staff::Staff;
use super::trip::link;
use super::{agenda, dispatch};

/// A hatchback is back: clear coat peels; the visit names the card that caused it.
pub(super) fn comeback(staff: &Staff) -> Story {
    let (ines, planner) = (staff.body[0], staff.planner.0);
    let mut story = Story::default();
    story
        .tell(640, move |sim, cast| {
            let delivered = sim.state.orders.values().map(|o| &**o).filter(|o| o.stage == Stage::Delivered);
            let painted = delivered.filter_map(|o| Some((o, sim.step_card(o.id, "refinish", "paint")?)));
            let found = painted.max_by_key(|(o, _)| (o.vehicle.contains("hatchback"), o.created_at));
            let found = found.map(|(o, card)| (o.vehicle.clone(), o.vin.clone(), card));
            let mut open = blank_order(sim, "red hatchback", &["comeback", "refinish", "delivery"]);
            if let Some((vehicle, vin, card)) = found {
                (open.vehicle, open.vin, open.comeback_of) = (vehicle, vin, Some(card));
            }
            open.weight = 4;
            open.sold_minutes = None;
            enter(sim, cast, open, ines);
            let reason = Some("Comeback, customer without a car again.".to_owned());
            let change = OrderChange { weight_reason: reason, ..OrderChange::default() };
            sim.act(planner, Act::EditOrder { order: cast.order(), change });
        })
        .work(620, planner, "comeback/look", 15)
        .tell(590, move |sim, cast| {
            note(sim, cast, planner, "Clear coat lifts along the edge, as long as a hand. Customer is not angry, but wants it soon.");
            agenda::authorise(sim, cast.order(), None);
        })
        .work(560, ines, "comeback/cause", 35)
        .release();
    story
}

/// The customer waits in the office for a bumper.
pub(super) fn waiting_customer(staff: &Staff) -> Story {
    let (yusuf, marta, planner, manager) =
        (staff.assembly.0, staff.mechanics[0], staff.planner.0, staff.manager.0);
    let mut story = Story::default();
    story
        .tell(1400, move |sim, cast| {
            let mut open =
                blank_order(sim, "orange hatchback", &["keys-in", "bolt-on", "calibration", "delivery"]);
            open.stage = Stage::Expected;
            open.place = None;
            open.weight = 4;
            open.expected_at = Some(sim.before_now(170));
            open.sold_minutes = Some(150);
            enter(sim, cast, open, yusuf);
            let reason = Some("Customer waits in the office.".to_owned());
            let change = OrderChange { weight_reason: reason, ..OrderChange::default() };
            sim.act(planner, Act::EditOrder { order: cast.order(), change });
        })
        .tell(165, move |sim, cast| {
            let order = cast.order();
            sim.act(planner, Act::Stage { order, stage: Stage::Arrived, reason: None });
            sim.act(planner, Act::Move { order, to: "front".into(), on: Some(StandsOn::Wheels) });
        })
        .work(158, manager, "keys-in/look", 8)
        .tell(140, move |sim, cast| {
            let order = cast.order();
            sim.act(planner, Act::Stage { order, stage: Stage::Authorised, reason: None });
            let due = Some(sim.before_now(-240));
            sim.act(planner, Act::Promise { order, due, reason: None });
        })
        .work(125, marta, "keys-in/scan", 10)
        .tell(100, move |sim, cast| {
            let card = cast.card(sim, "bolt-on/fit");
            let until = sim.before_now(-300);
            sim.act(planner, Act::PutFirst { card, reason: "Customer waits in the office.".into(), until });
        })
        .work(70, yusuf, "bolt-on/fit", 110);
    story
}

/// Authorised, and nothing can begin before the parts are here; `due` so many minutes before now.
pub(super) fn waits_for_parts(
    staff: &Staff,
    vehicle: &'static str,
    opened: i64,
    due: i64,
    why: &'static str,
) -> Story {
    let (lead, lou, planner, noor) = (staff.body[2], staff.mechanics[1], staff.planner.0, staff.parts.0);
    let mut story = Story::default();
    story
        .open(
            opened,
            lead,
            vehicle,
            &["keys-in", "bolt-on", "loose-part", "reassembly", "calibration", "delivery"],
        )
        .work(opened - 20, planner, "keys-in/look", 15)
        .work(opened - 60, lou, "keys-in/scan", 15)
        .tell(opened - 120, move |sim, cast| agenda::authorise(sim, cast.order(), None))
        .tell(opened - 200, move |sim, cast| {
            let order = cast.order();
            let cards = sim.state.cards_of(order).filter(|c| !c.life.is_over()).map(|c| c.id).collect();
            let due = Some(sim.before_now(due));
            let note = Some(why.to_owned());
            sim.act(
                noor,
                Act::Hold { order, what: HoldKind::Parts, cards, blocks: Blocks::Start, due, note },
            );
        });
    story
}

/// Torn down, planned, the insurer has not answered.
pub(super) fn waits_for_approval(staff: &Staff) -> Story {
    let (kofi, marta, planner) = (staff.body[2], staff.mechanics[0], staff.planner.0);
    let mut story = Story::default();
    story
        .open(
            1700,
            kofi,
            "silver minivan",
            &["keys-in", "teardown", "panel-joined", "refinish", "reassembly", "delivery"],
        )
        .work(1680, planner, "keys-in/look", 15)
        .work(1650, marta, "keys-in/scan", 15)
        .work(1300, kofi, "teardown/teardown", 130)
        .work(1100, planner, "teardown/plan", 30)
        .approval(1000, -2000);
    story
}

/// In work, and a supplement came up in the middle.
pub(super) fn supplement(staff: &Staff) -> Story {
    let (ines, lou, planner) = (staff.body[0], staff.mechanics[1], staff.planner.0);
    let mut story = Story::default();
    story
        .open(1600, ines, "brown wagon", &["keys-in", "panel-joined", "refinish", "reassembly", "delivery"])
        .work(1580, planner, "keys-in/look", 15)
        .work(1560, lou, "keys-in/scan", 15)
        .tell(1500, move |sim, cast| agenda::authorise(sim, cast.order(), None))
        .work(900, ines, "panel-joined/cut", 100)
        .tell(720, move |sim, cast| {
            let order = cast.order();
            let after = vec![link(cast.card(sim, "panel-joined/cut"))];
            let next = cast.card(sim, "panel-joined/test-fit");
            let add = AddCard {
                order,
                department: "body".into(),
                title: Words {
                    text: "Inner quarter, lower half".into(),
                    es: Some("Costado interior, mitad de abajo".into()),
                },
                planned_minutes: 180,
                sold_minutes: Some(168),
                after,
                before: vec![next],
                proposed: true,
                needs: Needs { cautions: vec![Caution::HotWork], ..Needs::default() },
            };
            sim.act(ines, Act::AddCard(add));
            let due = Some(sim.before_now(-500));
            let hold = Act::Hold {
                order,
                what: HoldKind::Approval,
                cards: vec![next],
                blocks: Blocks::Start,
                due,
                note: Some("Inner panel torn behind the belt, photos sent.".into()),
            };
            sim.act(ines, hold);
            let card = Some(cast.card(sim, "panel-joined/cut"));
            sim.act(
                ines,
                Act::Found {
                    order,
                    card,
                    what: Found::Damaged,
                    note: Some("Panel interior roto detrás del cinturón.".into()),
                },
            );
            dispatch::photo(sim, ines, order, card, None);
        });
    story
}

/// At the glass works, with the keys.
pub(super) fn sublet(staff: &Staff) -> Story {
    let (dwayne, marta, planner) = (staff.body[1], staff.mechanics[0], staff.planner.0);
    let mut story = Story::default();
    story
        .open(
            1750,
            dwayne,
            "white van",
            &["keys-in", "panel-repair", "refinish", "reassembly", "calibration", "delivery"],
        )
        .work(1730, planner, "keys-in/look", 15)
        .work(1700, marta, "keys-in/scan", 15)
        .tell(1600, move |sim, cast| agenda::authorise(sim, cast.order(), None))
        .tell(760, move |sim, cast| {
            let order = cast.order();
            let hold = Act::Hold {
                order,
                what: HoldKind::Sublet,
                cards: Vec::new(),
                blocks: Blocks::Start,
                due: Some(sim.before_now(-420)),
                note: Some("Glass works across the river, side glass and frame.".into()),
            };
            sim.act(planner, hold);
            let change = ConditionChange {
                keys: Some("driver of the glass works".into()),
                ..ConditionChange::default()
            };
            sim.act(planner, Act::Condition { order, change });
            sim.act(planner, Act::Move { order, to: "outside".into(), on: Some(StandsOn::Wheels) });
            sim.act(planner, Act::Stage { order, stage: Stage::Away, reason: None });
        });
    story
}

/// Not repaired: only making safe and putting back remain.
pub(super) fn stopped(staff: &Staff) -> Story {
    let (kofi, lou, planner) = (staff.body[2], staff.mechanics[1], staff.planner.0);
    let mut story = Story::default();
    story
        .open(
            2150,
            kofi,
            "tan sedan",
            &["keys-in", "teardown", "structure", "refinish", "reassembly", "delivery"],
        )
        .work(2130, planner, "keys-in/look", 15)
        .work(2100, lou, "keys-in/scan", 15)
        .work(1760, kofi, "teardown/teardown", 140)
        .work(1500, planner, "teardown/plan", 40)
        .tell(640, move |sim, cast| {
            let order = cast.order();
            let reason = Some("Repair would cost more than the vehicle is worth.".to_owned());
            sim.act(planner, Act::Stage { order, stage: Stage::Stopped, reason });
            let ask = Ask {
                order,
                routing: "put-back".into(),
                from: "office".into(),
                for_card: None,
                after: Vec::new(),
                note: Some("Goes on a tow truck on Friday; loose parts into the trunk.".into()),
                not_yet: None,
                condition: ConditionChange::default(),
                minutes: Default::default(),
            };
            sim.act(planner, Act::Ask(ask));
        });
    story
}

/// Promised for a day that has passed.
pub(super) fn late(staff: &Staff) -> Story {
    let (dwayne, lou, planner) = (staff.body[1], staff.mechanics[1], staff.planner.0);
    let mut story = Story::default();
    story
        .open(
            3600,
            dwayne,
            "maroon crossover",
            &["keys-in", "panel-repair", "refinish", "reassembly", "delivery"],
        )
        .work(3580, planner, "keys-in/look", 15)
        .work(3550, lou, "keys-in/scan", 15)
        .tell(3500, move |sim, cast| {
            let order = cast.order();
            sim.act(planner, Act::Stage { order, stage: Stage::Authorised, reason: None });
            let due = Some(sim.before_now(400));
            sim.act(planner, Act::Promise { order, due, reason: None });
        })
        .work(1250, dwayne, "panel-repair/repair", 160)
        .work(700, dwayne, "panel-repair/fit", 30)
        .tell(380, move |sim, cast| {
            note(sim, cast, planner, "Called the customer: not today. New date after the booth plan.");
        })
        .release();
    story
}

/// High voltage on board: isolated, bake limit looked up, then like any other.
pub(super) fn electric(staff: &Staff) -> Story {
    let (dwayne, marta, planner) = (staff.body[1], staff.mechanics[0], staff.planner.0);
    let mut story = Story::default();
    story
        .open(
            1900,
            dwayne,
            "pale blue crossover",
            &["keys-in", "panel-repair", "refinish", "reassembly", "delivery"],
        )
        .tell(1890, move |sim, cast| {
            let energy = Energy {
                high_voltage: HighVoltage::Live,
                bake_limit_celsius: None,
                bake_limit_minutes: None,
            };
            sim.act(planner, Act::Energy { order: cast.order(), energy });
        })
        .work(1880, planner, "keys-in/look", 15)
        .work(1850, marta, "keys-in/scan", 20)
        .tell(1780, move |sim, cast| {
            // Limits differ by maker; this one is invented, as the vehicle is.
            let energy = Energy {
                high_voltage: HighVoltage::Isolated,
                bake_limit_celsius: Some(60),
                bake_limit_minutes: Some(45),
            };
            sim.act(marta, Act::Energy { order: cast.order(), energy });
            note(
                sim,
                cast,
                marta,
                "Isolated, proven dead, plug is in my locker. Bake limit from the maker's page.",
            );
            agenda::authorise(sim, cast.order(), None);
        })
        .release();
    story
}

/// The interior went back in over a seam that was added later: stands until somebody answers.
pub(super) fn closed_over_undone(staff: &Staff) -> Story {
    let (kofi, bea, lou, planner) = (staff.body[2], staff.detail.0, staff.mechanics[1], staff.planner.0);
    let mut story = Story::default();
    story
        .open(
            2500,
            kofi,
            "dark green sedan",
            &["keys-in", "panel-repair", "refinish", "reassembly", "delivery"],
        )
        .work(2480, planner, "keys-in/look", 15)
        .work(2450, lou, "keys-in/scan", 15)
        .tell(2400, move |sim, cast| {
            agenda::authorise(sim, cast.order(), None);
            let own = Own {
                name: "own",
                text: "Straighten and seal rear floor",
                es: "Enderezar y sellar piso trasero",
                minutes: 120,
                after: Some("panel-repair/fit"),
                before: &["refinish/prep"],
                inside: None,
            };
            add_own(sim, cast, kofi, &own);
        })
        .work(1990, kofi, "panel-repair/repair", 120)
        .work(1600, kofi, "panel-repair/fit", 30)
        .tell(1550, move |sim, cast| {
            let asking = Asking {
                routing: "interior-out",
                for_card: "own",
                after: None,
                note: "Back seat, trim and carpet out please.",
                not_yet: None,
            };
            ask(sim, cast, kofi, &asking);
        })
        .work(1440, bea, "interior-out/out", 80)
        .work(1050, kofi, "own", 110)
        .tell(900, move |sim, cast| {
            let own = Own {
                name: "later",
                text: "Seal spare wheel well from inside",
                es: "Sellar por dentro el hueco de la refacción",
                minutes: 30,
                after: None,
                before: &[],
                inside: Some("interior-out"),
            };
            add_own(sim, cast, kofi, &own);
        })
        .work(480, bea, "interior-out/back", 110);
    story
}
