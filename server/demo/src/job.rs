//! What comes to the shop: invented vehicles with invented damage, laid out as routings.

use domain::ids::*;
use domain::stored::*;
use domain::{MINUTE, vin};

use super::agenda::{self, Todo};
use super::chance::Chance;
use super::sim::{DAY, Job, Sim};
use super::{lines, talk};

/// Vehicles here at one time that the shop books for, and bookings it likes to have ahead.
const HERE: usize = 31;
const BOOKED: usize = 5;

const COLOURS: [&str; 12] = [
    "grey",
    "white",
    "black",
    "silver",
    "dark blue",
    "red",
    "dark green",
    "maroon",
    "tan",
    "pale blue",
    "orange",
    "brown",
];
const SHAPES: [&str; 9] =
    ["sedan", "wagon", "hatchback", "pickup", "van", "crossover", "minivan", "coupe", "crew-cab pickup"];

pub(super) fn vehicle(chance: &mut Chance) -> String {
    loop {
        let vehicle = format!("{} {}", chance.pick(&COLOURS), chance.pick(&SHAPES));
        if !lines::TOLD.contains(&vehicle.as_str()) {
            return vehicle;
        }
    }
}

/// A VIN of nobody: the manufacturer code AX7 lies in a range that is not given out [MEM, ISO 3780], the
/// check digit fits.
pub(super) fn vin(chance: &mut Chance) -> String {
    const SIGNS: &[u8] = b"ABCDEFGHJKLMNPRSTUVWXYZ0123456789";
    let mut vin = String::from("AX7");
    for _ in 0..5 {
        vin.push(SIGNS[chance.next() as usize % SIGNS.len()] as char);
    }
    vin.push_str("0R7");
    for _ in 0..6 {
        vin.push(SIGNS[23 + chance.next() as usize % 10] as char);
    }
    let digit = vin::check_digit(&vin).unwrap_or('0');
    vin.replace_range(8..9, &digit.to_string());
    vin
}

/// What the damage needs, as routings one after the other.
fn work_for(chance: &mut Chance) -> (Vec<&'static str>, Job) {
    let kind = chance.between(1, 100);
    let mut job = Job { approval_days: 0, ..Job::default() };
    let mut routings = vec!["keys-in"];
    match kind {
        ..=24 => routings.extend(["bolt-on", "loose-part"]),
        25..=50 => routings.extend(["panel-repair", "refinish"]),
        51..=72 => {
            routings.extend(["teardown", "panel-repair", "refinish"]);
            job.approval_days = chance.between(0, 3);
            job.trip = chance.percent(45).then_some("interior-out");
        }
        73..=89 => {
            routings.extend(["teardown", "panel-joined", "refinish"]);
            job.approval_days = chance.between(1, 4);
            job.trip = chance.percent(90).then_some(chance.pick(&[
                "interior-out",
                "fuel-tank-out",
                "suspension-down-rear",
            ]));
        }
        _ => {
            routings.extend(["teardown", "structure", "panel-joined", "refinish"]);
            job.approval_days = chance.between(2, 5);
            let trips = [
                "suspension-down-rear",
                "suspension-down-front",
                "cradle-down",
                "suspension-down-rear",
                "fuel-tank-out",
            ];
            job.trip = chance.percent(97).then_some(chance.pick(&trips));
            job.supplement = chance.percent(30);
        }
    }
    routings.push("reassembly");
    if kind > 89 && job.trip.is_none() {
        routings.push("alignment");
    }
    if kind <= 24 && chance.percent(55) || kind > 72 {
        routings.push("calibration");
    }
    routings.push("delivery");
    job.sublet = kind > 50 && chance.percent(14);
    (routings, job)
}

fn sold_minutes(sim: &mut Sim<'_>, routings: &[&str]) -> u32 {
    let planned: u32 = routings
        .iter()
        .filter_map(|r| sim.state.routings.get(&RoutingId::from(*r)))
        .flat_map(|r| r.steps.iter())
        .filter(|s| !matches!(s.department.0.as_str(), "office" | "parts" | "detail"))
        .map(|s| s.planned_minutes)
        .sum();
    // Sold in tenths of an hour, as the trade does.
    planned * sim.chance.between(130, 190) as u32 / 100 / 6 * 6
}

fn number(sim: &mut Sim<'_>) -> String {
    sim.number += 1;
    sim.number.to_string()
}

/// A new order: booked for some day ahead, or (`now`) standing at the door.
pub(super) fn open(sim: &mut Sim<'_>, now: bool) {
    let (routings, job) = work_for(&mut sim.chance);
    let sold = sold_minutes(sim, &routings);
    let towed_in = now && routings.contains(&"structure");
    let ahead = sim.chance.between(1, 5);
    let day = sim.after(sim.at, ahead * 510 * MINUTE);
    let minute = sim.chance.between(7 * 60 + 10, 10 * 60 + 30) as u16;
    let arrival = agenda::open_day(sim, day, minute);
    let place = (now && towed_in).then(|| PlaceId::from("lot")).or(now.then(|| "front".into()));
    let open = OpenOrder {
        number: number(sim),
        vehicle: vehicle(&mut sim.chance),
        vin: Some(vin(&mut sim.chance)),
        towed_in,
        weight: if sim.chance.percent(8) {
            4
        } else if sim.chance.percent(12) {
            1
        } else {
            2
        },
        stage: if now { Stage::Arrived } else { Stage::Expected },
        expected_at: (!now).then_some(arrival),
        promise: None,
        place,
        energy: None,
        sold_minutes: Some(sold),
        comeback_of: None,
        routings: routings.iter().map(|r| (*r).into()).collect(),
        arrived_at: None,
    };
    let weight = open.weight;
    let by = if sim.chance.percent(70) { sim.staff.planner.0 } else { sim.staff.manager.0 };
    let Some(op) = sim.act(by, Act::OpenOrder(open)) else { return };
    let order = OrderId(op.0);
    sim.jobs.insert(order, job);
    if weight != 2 {
        let reason = talk::weight_reason(weight, &mut sim.chance).to_owned();
        let change = OrderChange { weight_reason: Some(reason), ..OrderChange::default() };
        sim.act(by, Act::EditOrder { order, change });
    }
    if now {
        keys_in(sim, order);
    } else {
        sim.on(arrival, Todo::Arrive { order });
    }
}

/// What is said and settled when the keys are handed over.
pub(super) fn keys_in(sim: &mut Sim<'_>, order: OrderId) {
    let towed = sim.order(order).is_some_and(|o| o.towed_in);
    let planner = sim.staff.planner.0;
    let change = ConditionChange {
        keys: Some("key board, office".into()),
        rolls: Some(!towed),
        steers: Some(!towed || sim.chance.percent(50)),
        brakes: Some(true),
        lifting_points: Some(if towed && sim.chance.percent(40) {
            LiftingPoints::Doubtful
        } else {
            LiftingPoints::Sound
        }),
        on: towed.then_some(StandsOn::Dollies),
        ..ConditionChange::default()
    };
    sim.act(planner, Act::Condition { order, change });
    let lead = least_busy(sim);
    sim.act(planner, Act::Lead { order, department: "body".into(), person: Some(lead) });
    let job = sim.jobs.get(&order).cloned().unwrap_or_default();
    if job.scripted {
        return;
    }
    if job.approval_days == 0 {
        let wait = sim.chance.between(15, 200);
        sim.later(wait, Todo::Authorise { order, hold: None });
    }
    // Otherwise the repair plan asks for the approval, see `trip`.
}

/// The body technician with the least work on own vehicles.
fn least_busy(sim: &Sim<'_>) -> PersonId {
    let body = DepartmentId::from("body");
    let load = |person: PersonId| -> u32 {
        let own = sim.state.in_shop().filter(|o| o.leads.get(&body) == Some(&person));
        own.flat_map(|o| sim.state.cards_of(o.id))
            .filter(|c| c.department == body && !c.life.is_over())
            .map(|c| c.planned_minutes)
            .sum()
    };
    sim.staff.body.iter().copied().min_by_key(|p| load(*p)).unwrap_or(sim.staff.planner.0)
}

/// Bookings and unannounced arrivals of one day, so that the shop stays about as full as it likes to be.
pub(super) fn book_the_day(sim: &mut Sim<'_>) {
    let (here, expected) = agenda::in_work(sim);
    let missing = (HERE + BOOKED) as i64 - (here + expected) as i64;
    let wave = sim.chance.between(-1, 1);
    let new = (missing * 35 / 100 + wave + 1).clamp(0, 6);
    for n in 0..new {
        if n % 3 == 2 || expected > BOOKED + 2 {
            let minutes = sim.chance.between(30, 420);
            sim.later(minutes, Todo::WalkIn);
        } else {
            open(sim, false);
        }
    }
    // Even a full shop has its next appointments.
    let tomorrow = sim.midnight(sim.at + DAY);
    let ahead =
        sim.state.in_shop().filter(|o| o.stage == Stage::Expected && o.expected_at > Some(tomorrow)).count();
    for _ in ahead..2 {
        open(sim, false);
    }
}

/// Vehicles that were in the shop before it began to keep this log: brought over as they stood.
pub(super) fn bring_over(sim: &mut Sim<'_>) {
    for n in 0..20 {
        let (routings, mut job) = work_for(&mut sim.chance);
        // Some are just begun, some nearly done.
        let gone = (n * routings.len() / 22).max(1);
        let left: Vec<&str> = routings[gone.min(routings.len() - 1)..].to_vec();
        job.approval_days = 0;
        job.trip = job.trip.filter(|_| left.contains(&"panel-joined") || left.contains(&"panel-repair"));
        let days = 1 + n as i64 / 2 + sim.chance.between(0, 3);
        let arrived = agenda::open_day(sim, sim.at - days * DAY - 3 * DAY, 8 * 60 + 10).min(sim.at);
        let open = OpenOrder {
            number: number(sim),
            vehicle: vehicle(&mut sim.chance),
            vin: Some(vin(&mut sim.chance)),
            towed_in: routings.contains(&"structure"),
            weight: 2,
            stage: Stage::Authorised,
            expected_at: None,
            promise: None,
            place: Some("lot".into()),
            energy: None,
            sold_minutes: Some(sold_minutes(sim, &routings)),
            comeback_of: None,
            routings: left.iter().map(|r| (*r).into()).collect(),
            arrived_at: Some(arrived),
        };
        let planner = sim.staff.planner.0;
        let Some(op) = sim.act(planner, Act::OpenOrder(open)) else { continue };
        let order = OrderId(op.0);
        sim.jobs.insert(order, job);
        let lead = least_busy(sim);
        sim.act(planner, Act::Lead { order, department: "body".into(), person: Some(lead) });
        let rest = (routings.len() - gone) as i64;
        let due = agenda::open_day(sim, sim.at + (rest + 2) * DAY, 15 * 60 + 30);
        sim.act(planner, Act::Promise { order, due: Some(due), reason: None });
    }
}
