//! The stories of today's work: what they need, and the four round trips under way. All invented:
//! vehicles, damage, customers.

use domain::MINUTE;
use domain::ids::*;
use domain::stored::*;

use super::dispatch;
use super::lines_day::*;
use super::scenario::{Cast, Story};
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

pub(super) struct Own {
    pub name: &'static str,
    pub text: &'static str,
    pub es: &'static str,
    pub minutes: u32,
    pub after: Option<&'static str>,
    pub before: &'static [&'static str],
    pub inside: Option<&'static str>,
}

/// A card that the body technician lays out alone.
pub(super) fn add_own(sim: &mut Sim<'_>, cast: &mut Cast, by: PersonId, own: &Own) {
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

pub(super) struct Asking {
    pub routing: &'static str,
    pub for_card: &'static str,
    pub after: Option<&'static str>,
    pub note: &'static str,
    pub not_yet: Option<&'static str>,
}

pub(super) fn ask(sim: &mut Sim<'_>, cast: &mut Cast, by: PersonId, asking: &Asking) {
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

pub(super) fn note(sim: &mut Sim<'_>, cast: &Cast, by: PersonId, body: &str) {
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
