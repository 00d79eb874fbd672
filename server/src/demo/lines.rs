//! The stories of today's work. All invented: vehicles, damage, customers.

use domain::MINUTE;
use domain::ids::*;
use domain::stored::*;

use super::dispatch;
use super::scenario::{Cast, Story, blank_order, enter};
use super::sim::Sim;
use super::staff::Staff;
use super::trip::link;

/// Equipment that the stories need, from and to so many working minutes before now.
pub(super) const RESERVED: [(&str, i64, i64); 3] =
    [("lift-1", 1900, -500), ("lift-2", 1400, -500), ("frame-bench", 3100, 1340)];

/// Vehicles of the stories; no other one looks like them.
pub(super) const TOLD: [&str; 15] = [
    "grey wagon",
    "blue coupe",
    "white pickup",
    "yellow van",
    "orange hatchback",
    "black sedan",
    "green pickup",
    "silver minivan",
    "brown wagon",
    "white van",
    "tan sedan",
    "maroon crossover",
    "pale blue crossover",
    "dark green sedan",
    "red hatchback",
];

pub(super) fn stories(staff: &Staff) -> Vec<Story> {
    vec![
        coupe(staff),
        wagon(staff),
        pickup(staff),
        van(staff),
        comeback(staff),
        waiting_customer(staff),
        waits_for_parts(staff, "black sedan", 1200, -760, "Lamp on back order."),
        waits_for_parts(staff, "green pickup", 2100, 300, "Second delivery was damaged, sent back."),
        waits_for_approval(staff),
        supplement(staff),
        sublet(staff),
        stopped(staff),
        late(staff),
        electric(staff),
        closed_over_undone(staff),
    ]
}

struct Own {
    name: &'static str,
    text: &'static str,
    es: &'static str,
    minutes: u32,
    after: Option<&'static str>,
    before: &'static [&'static str],
    inside: Option<&'static str>,
}

/// A card that the body technician lays out alone.
fn add_own(sim: &mut Sim<'_>, cast: &mut Cast, by: PersonId, own: &Own) {
    let after = own.after.map(|name| link(cast.card(sim, name))).into_iter().collect();
    let before = own.before.iter().map(|name| cast.card(sim, name)).collect();
    let needs = Needs { inside: own.inside.map(OpenId::from), ..Needs::default() };
    let add = AddCard {
        order: cast.order(),
        department: "body".into(),
        title: Words { text: own.text.into(), es: Some(own.es.into()) },
        planned_minutes: own.minutes,
        sold_minutes: None,
        after,
        before,
        proposed: false,
        needs,
    };
    let op = sim.act(by, Act::AddCard(add));
    cast.name(own.name, op);
}

struct Asking {
    routing: &'static str,
    for_card: &'static str,
    after: Option<&'static str>,
    note: &'static str,
    not_yet: Option<&'static str>,
}

fn ask(sim: &mut Sim<'_>, cast: &mut Cast, by: PersonId, asking: &Asking) {
    let order = cast.order();
    let own = cast.card(sim, asking.for_card);
    let ask = Ask {
        order,
        routing: asking.routing.into(),
        from: "body".into(),
        for_card: Some(own),
        after: asking.after.map(|name| link(cast.card(sim, name))).into_iter().collect(),
        note: Some(asking.note.into()),
        not_yet: asking.not_yet.map(str::to_owned),
        condition: ConditionChange {
            rolls: Some(true),
            lifting_points: Some(LiftingPoints::Sound),
            keys: Some("key board, office".into()),
            ..ConditionChange::default()
        },
        minutes: Default::default(),
    };
    if let Some(op) = sim.act(by, Act::Ask(ask)) {
        dispatch::photo(sim, by, order, Some(own), Some(HandoffId(op.0)));
        let align = CardId(part_of(op, "align"));
        let scan = sim.step_card(order, "delivery", "scan");
        if let (true, Some(scan)) = (sim.card(align).is_some(), scan) {
            sim.act(sim.staff.planner.0, Act::Link { card: scan, after: link(align) });
        }
    }
}

fn note(sim: &mut Sim<'_>, cast: &Cast, by: PersonId, body: &str) {
    sim.act(by, Act::Note { order: cast.order(), card: None, body: body.into() });
}

/// The wagon: wheelhouse and rail seam above the rear subframe, suspension down, being sealed.
fn wagon(staff: &Staff) -> Story {
    let (ines, marta, lou, planner) =
        (staff.body[0], staff.mechanics[0], staff.mechanics[1], staff.planner.0);
    let mut story = Story::default();
    story
        .open(
            2900,
            ines,
            "grey wagon",
            &["keys-in", "teardown", "structure", "refinish", "reassembly", "calibration", "delivery"],
        )
        .work(2880, planner, "keys-in/look", 15)
        .work(2850, lou, "keys-in/scan", 15)
        .work(2800, ines, "teardown/teardown", 100)
        .work(2660, planner, "teardown/plan", 30)
        .approval(2600, 2100)
        .work(2080, staff.parts.0, "teardown/mirror", 25)
        .work_on(2040, ines, "structure/set-up", 80, "frame-bench")
        .work(1930, ines, "structure/pull", 120)
        .work(1780, ines, "structure/weld", 230)
        .work(1400, ines, "structure/off", 40)
        .tell(1300, move |sim, cast| {
            let own = Own {
                name: "own",
                text: "Seal wheelhouse and rail seam",
                es: "Sellar junta de salpicadera interior y larguero",
                minutes: 60,
                after: Some("structure/off"),
                before: &["refinish/prep"],
                inside: None,
            };
            add_own(sim, cast, ines, &own);
        })
        .tell(430, move |sim, cast| {
            let asking = Asking {
                routing: "suspension-down-rear",
                for_card: "own",
                after: Some("structure/off"),
                note: "Wheelhouse seam and rail seam above the subframe, left. Nothing else reaches them.",
                not_yet: Some("No alignment before the rail is measured again."),
            };
            ask(sim, cast, ines, &asking);
        })
        .tell(330, move |sim, cast| {
            let card = cast.card(sim, "suspension-down-rear/drop");
            sim.act(marta, Act::Take { card });
            sim.try_in_vain(lou, Act::Take { card });
        })
        .work_on(320, marta, "suspension-down-rear/drop", 100, "lift-2")
        .tell(190, move |sim, cast| {
            let what = Found::OneTimeFasteners;
            let body = Some("Subframe bolts are used once only, four, ordered.".to_owned());
            let card = Some(cast.card(sim, "suspension-down-rear/drop"));
            sim.act(marta, Act::Found { order: cast.order(), card, what, note: body });
        })
        .tell(60, move |sim, cast| {
            let body = "Primario puesto, ya está seco. Empiezo con el sellador de juntas.";
            note(sim, cast, ines, body);
        })
        .work(42, ines, "own", 75);
    story
}

/// The coupe: strut tower sealed, curing, and lift 1 waits for it.
fn coupe(staff: &Staff) -> Story {
    let (dwayne, lou, planner) = (staff.body[1], staff.mechanics[1], staff.planner.0);
    let mut story = Story::default();
    story
        .open(2600, dwayne, "blue coupe", &["keys-in", "panel-joined", "refinish", "reassembly", "delivery"])
        .work(2580, planner, "keys-in/look", 15)
        .work(2560, lou, "keys-in/scan", 15)
        .approval(2540, 2200)
        .work(2000, dwayne, "panel-joined/cut", 100)
        .work(1880, dwayne, "panel-joined/test-fit", 45)
        .work(1800, dwayne, "panel-joined/join", 150)
        .work(1600, dwayne, "panel-joined/seal", 50)
        .tell(1500, move |sim, cast| {
            let own = Own {
                name: "own",
                text: "Seal strut tower seam",
                es: "Sellar junta de la torre",
                minutes: 50,
                after: Some("panel-joined/seal"),
                before: &["refinish/prep"],
                inside: None,
            };
            add_own(sim, cast, dwayne, &own);
            let asking = Asking {
                routing: "suspension-down-front",
                for_card: "own",
                after: Some("panel-joined/seal"),
                note: "Strut tower seam from below, right side.",
                not_yet: Some("Leave the strut bolts loose."),
            };
            ask(sim, cast, dwayne, &asking);
            // One-part sealer takes hours; the link says so.
            let (refit, own) = (cast.card(sim, "suspension-down-front/refit"), cast.card(sim, "own"));
            let after = Link { card: own, lag_minutes: 240, lag_minutes_max: None };
            sim.act(planner, Act::Link { card: refit, after });
        })
        .tell(900, move |sim, cast| {
            let card = cast.card(sim, "suspension-down-front/drop");
            sim.act(lou, Act::Take { card });
        })
        .work_on(880, lou, "suspension-down-front/drop", 110, "lift-1")
        .work(150, dwayne, "own", 55)
        .tell(80, move |sim, cast| {
            let until = Some(sim.at + 220 * MINUTE);
            let change = ConditionChange { wet_until: until, ..ConditionChange::default() };
            sim.act(dwayne, Act::Condition { order: cast.order(), change });
            note(sim, cast, dwayne, "One-part sealer, not before the afternoon.");
        });
    story
}

/// The pickup: cab mount near the tank; taken, no lift yet.
fn pickup(staff: &Staff) -> Story {
    let (kofi, lou, planner) = (staff.body[2], staff.mechanics[1], staff.planner.0);
    let mut story = Story::default();
    story
        .open(2300, kofi, "white pickup", &["keys-in", "teardown", "refinish", "reassembly", "delivery"])
        .work(2280, planner, "keys-in/look", 15)
        .work(2250, lou, "keys-in/scan", 15)
        .work(2200, kofi, "teardown/teardown", 110)
        .work(2050, planner, "teardown/plan", 30)
        .approval(2000, 1500)
        .work(1450, staff.parts.0, "teardown/mirror", 25)
        .tell(260, move |sim, cast| {
            let own = Own {
                name: "own",
                text: "Weld in cab mount, left rear",
                es: "Soldar soporte de cabina, trasero izquierdo",
                minutes: 160,
                after: Some("teardown/mirror"),
                before: &["refinish/prep"],
                inside: None,
            };
            add_own(sim, cast, kofi, &own);
            let asking = Asking {
                routing: "fuel-tank-out",
                for_card: "own",
                after: None,
                note: "Cab mount is a hand's width from the tank.",
                not_yet: Some("Nothing refilled before the fire watch."),
            };
            ask(sim, cast, kofi, &asking);
        })
        .tell(140, move |sim, cast| {
            let card = cast.card(sim, "fuel-tank-out/out");
            sim.act(lou, Act::Take { card });
            note(sim, cast, lou, "Goes up as soon as a lift is free.");
        });
    story
}

/// The van: front rail under the cradle; asked, nobody has taken it yet.
fn van(staff: &Staff) -> Story {
    let (dwayne, marta, planner) = (staff.body[1], staff.mechanics[0], staff.planner.0);
    let mut story = Story::default();
    story
        .open(
            2000,
            dwayne,
            "yellow van",
            &["keys-in", "teardown", "refinish", "reassembly", "calibration", "delivery"],
        )
        .work(1980, planner, "keys-in/look", 15)
        .work(1950, marta, "keys-in/scan", 15)
        .work(1400, dwayne, "teardown/teardown", 120)
        .work(1200, planner, "teardown/plan", 30)
        .approval(1150, 520)
        .work(500, staff.parts.0, "teardown/mirror", 30)
        .tell(110, move |sim, cast| {
            let own = Own {
                name: "own",
                text: "Front rail, lower lip and seam",
                es: "Larguero delantero, orilla de abajo y junta",
                minutes: 220,
                after: Some("teardown/mirror"),
                before: &["refinish/prep"],
                inside: None,
            };
            add_own(sim, cast, dwayne, &own);
        })
        .tell(75, move |sim, cast| {
            let asking = Asking {
                routing: "cradle-down",
                for_card: "own",
                after: None,
                note: "Rail lip and seam are above the cradle, right side.",
                not_yet: Some("Do not charge the air conditioning yet."),
            };
            ask(sim, cast, dwayne, &asking);
        });
    story
}

/// A hatchback is back: clear coat peels; the visit names the card that caused it.
fn comeback(staff: &Staff) -> Story {
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
            super::agenda::authorise(sim, cast.order(), None);
        })
        .work(560, ines, "comeback/cause", 35)
        .release();
    story
}

/// The customer waits in the office for a bumper.
fn waiting_customer(staff: &Staff) -> Story {
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
fn waits_for_parts(staff: &Staff, vehicle: &'static str, opened: i64, due: i64, why: &'static str) -> Story {
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
        .tell(opened - 120, move |sim, cast| super::agenda::authorise(sim, cast.order(), None))
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
fn waits_for_approval(staff: &Staff) -> Story {
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
fn supplement(staff: &Staff) -> Story {
    let (ines, lou, planner) = (staff.body[0], staff.mechanics[1], staff.planner.0);
    let mut story = Story::default();
    story
        .open(1600, ines, "brown wagon", &["keys-in", "panel-joined", "refinish", "reassembly", "delivery"])
        .work(1580, planner, "keys-in/look", 15)
        .work(1560, lou, "keys-in/scan", 15)
        .tell(1500, move |sim, cast| super::agenda::authorise(sim, cast.order(), None))
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
fn sublet(staff: &Staff) -> Story {
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
        .tell(1600, move |sim, cast| super::agenda::authorise(sim, cast.order(), None))
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
fn stopped(staff: &Staff) -> Story {
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
            let left: Vec<CardId> =
                sim.state.cards_of(order).filter(|c| !c.life.is_over()).map(|c| c.id).collect();
            for card in left {
                sim.act(planner, Act::CancelCard { card, reason: Some("Not repaired.".into()) });
            }
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
fn late(staff: &Staff) -> Story {
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
fn electric(staff: &Staff) -> Story {
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
            super::agenda::authorise(sim, cast.order(), None);
        })
        .release();
    story
}

/// The interior went back in over a seam that was added later: stands until somebody answers.
fn closed_over_undone(staff: &Staff) -> Story {
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
            super::agenda::authorise(sim, cast.order(), None);
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
