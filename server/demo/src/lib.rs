//! An invented shop with a history and today's work, for `turnbuckle demo`.
//!
//! People, vehicles and work go through a small simulation of a shop with as many people, lifts and
//! booths as it has; every act is decided by the same rules as in a real one.
//!
//! Invariants:
//! - the same seed, days, now and zone give the same acts, ids and pictures, on every machine;
//! - acts stand in the order of their times, none later than `now`, all in working time (but the set-up);
//! - the rules accept every act not marked [`DemoOp::refused`], and refuse each that is;
//! - nobody and nothing in it exists: no real name, maker, place or VIN.
//!
//! Must not know: storage, sign-in, the planner, the clock of the machine.

mod agenda;
mod chance;
mod dispatch;
mod job;
mod lines;
mod lines_day;
mod picture;
mod scenario;
mod sim;
mod staff;
mod talk;
mod trip;

use domain::ids::{OpId, PersonId};
use domain::stored::{Act, Role};
use domain::{MINUTE, Ms, calendar};
use jiff::tz::TimeZone;
use sha2::{Digest, Sha256};

use sim::{DAY, Sim};

/// The demo shop's history, from an empty shop up to now.
pub struct Demo {
    pub people: Vec<DemoPerson>,
    /// In the order in which they happened. Acts by [`domain::decide::SYSTEM`] need the role of an
    /// administrator: they come before there is one.
    pub ops: Vec<DemoOp>,
    /// JPEG files that the photo acts name by their SHA-256.
    pub photos: Vec<Vec<u8>>,
}

pub struct DemoPerson {
    pub id: PersonId,
    pub name: String,
    pub role: Role,
    /// What a sign-in link is offered for: "body", "mechanical", …, "manager".
    pub department: String,
}

#[derive(Debug, Clone, PartialEq)]
pub struct DemoOp {
    pub at: Ms,
    pub by: PersonId,
    pub op: OpId,
    pub act: Act,
    /// The rules refuse it, on purpose: somebody else was first, or it was not theirs to do.
    pub refused: bool,
}

/// Simulates `days` up to `now`. `zone` is the shop's. Fewer than 14 days make no shop in work.
pub fn build(seed: u64, days: u32, now: Ms, zone: &TimeZone) -> Demo {
    let (sim, photos) = simulate(seed, days, now, zone);
    shown(sim, photos)
}

fn shown(sim: Sim<'_>, photos: Vec<Vec<u8>>) -> Demo {
    let people = sim.state.people.values().map(|p| DemoPerson {
        id: p.id,
        name: p.name.clone(),
        role: p.role,
        department: p.department.0.clone(),
    });
    Demo { people: people.collect(), ops: sim.ops, photos }
}

fn simulate(seed: u64, days: u32, now: Ms, zone: &TimeZone) -> (Sim<'_>, Vec<Vec<u8>>) {
    let begin = now - Ms::from(days.max(14)) * DAY;
    let from = calendar::instant(calendar::local_date(begin, zone), 0, zone).unwrap_or(begin);
    let mut sim = Sim::new(seed, from, now, zone);
    let photos = picture::pictures(&mut sim.chance);
    sim.pictures = photos.iter().map(|bytes| (sha256(bytes), bytes.len() as u64)).collect();
    sim.limit = from + 30 * MINUTE;
    sim.staff = staff::set_up(&mut sim, zone.iana_name().unwrap_or("UTC"));
    sim.open = calendar::of_shop(&sim.state, zone, from, now + 90 * DAY);
    scenario::prepare(&mut sim);
    run(&mut sim);
    (sim, photos)
}

/// People look up from their work this often.
const LOOK_UP: Ms = 5 * MINUTE;

fn run(sim: &mut Sim<'_>) {
    let stretches: Vec<calendar::Interval> =
        sim.open.iter().copied().filter(|(begin, _)| *begin < sim.now).collect();
    for (number, (begin, end)) in stretches.into_iter().enumerate() {
        sim.limit = end.min(sim.now);
        sim.at = sim.at.max(begin);
        if number == 0 {
            job::bring_over(sim);
        }
        let morning = calendar::local_date(begin, sim.zone)
            != calendar::local_date(begin - 3 * 60 * MINUTE, sim.zone)
            || begin == sim.midnight(begin) + 7 * 60 * MINUTE;
        dispatch::come_back(sim);
        if morning {
            job::book_the_day(sim);
        }
        let mut look = begin + LOOK_UP;
        while look < sim.limit - LOOK_UP {
            sim.at = sim.at.max(look);
            if sim.at < sim.limit - LOOK_UP {
                agenda::due(sim);
                scenario::go_on(sim);
                dispatch::go_on(sim);
            }
            look += LOOK_UP;
        }
        if end <= sim.now {
            sim.at = sim.at.max(end - 3 * MINUTE);
            let night =
                calendar::local_date(end, sim.zone) != calendar::local_date(end + 9 * 60 * MINUTE, sim.zone);
            dispatch::stop(sim, night);
        }
    }
}

fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests;
