//! How work and deliveries turn out against what was planned, learnt from the shop's own log.
//!
//! Lengths are taken as lognormal about the planned one, so what is learnt is the mean and the deviation of
//! ln(clocked ÷ planned). Few cases prove little: a step of a routing is drawn toward its department, a department toward
//! the shop, the shop toward a prior.
//! Invariants: the same state gives the same numbers on every machine (logarithms are libm's); without any history there is
//! the prior, and the count says so.

use std::collections::BTreeMap;

use crate::ids::{DepartmentId, RoutingId};
use crate::state::State;
use crate::stored::{Card, HoldKind, Life};
use crate::{MINUTE, Ms};

/// Mean and standard deviation of ln(clocked ÷ planned), and from how many cards of its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratio {
    /// How many cards of its own it was learnt from.
    pub count: u32,
    /// Mean of ln(clocked ÷ planned): 0 is as planned, above it longer.
    pub mean: f64,
    /// Standard deviation of ln(clocked ÷ planned).
    pub deviation: f64,
}

/// How parts arrive against the day they were due.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deliveries {
    /// How many deliveries it was learnt from.
    pub count: u32,
    /// Share that came no later than [`PUNCTUAL`] after it was due.
    pub kept: f64,
    /// Mean lateness of the others, in calendar minutes.
    pub late_minutes: f64,
}

/// What the shop's own past says about lengths of work and about deliveries.
#[derive(Debug, Clone, PartialEq)]
pub struct Learnt {
    /// Over all cards.
    pub shop: Ratio,
    /// By department, drawn toward the shop.
    pub departments: BTreeMap<DepartmentId, Ratio>,
    /// By routing and step, drawn toward the department.
    pub steps: BTreeMap<(RoutingId, String), Ratio>,
    /// How parts arrive.
    pub deliveries: Deliveries,
}

/// Before anything is known: about as long as planned, two of three cards within a third of it. A prior of ours, common
/// practice has no number for it; it weighs as much as [`WEIGHT`] cards.
const PRIOR: Ratio = Ratio { count: 0, mean: 0.05, deviation: 0.35 };
/// Four of five deliveries in time, the others two days late: a prior of ours, too.
const DELIVERIES: Deliveries = Deliveries { count: 0, kept: 0.8, late_minutes: 2.0 * 24.0 * 60.0 };
/// The priors above weigh as much as this many cases of one's own.
const WEIGHT: f64 = 8.0;
/// Older work says little about today's people.
const MEMORY: Ms = 400 * 24 * 60 * MINUTE;
/// A clock left running must not teach anything: ratios beyond ten are taken as ten.
const FARTHEST: f64 = std::f64::consts::LN_10;
/// A delivery on the day it was due is in time.
const PUNCTUAL: Ms = 12 * 60 * MINUTE;

/// The 90th percentile of the standard normal distribution.
const Z90: f64 = 1.281_552;

impl Ratio {
    /// Clocked ÷ planned: half of the cards stay below it.
    pub fn median(&self) -> f64 {
        libm::exp(self.mean)
    }

    /// Clocked ÷ planned: nine of ten cards stay below it.
    pub fn p90(&self) -> f64 {
        libm::exp(self.mean + Z90 * self.deviation)
    }
}

#[derive(Default, Clone, Copy)]
struct Sum {
    count: u32,
    sum: f64,
    squares: f64,
}

impl Sum {
    fn add(&mut self, x: f64) {
        self.count += 1;
        self.sum += x;
        self.squares += x * x;
    }

    fn drawn_toward(&self, above: Ratio) -> Ratio {
        let n = f64::from(self.count);
        let mean = (self.sum + WEIGHT * above.mean) / (n + WEIGHT);
        // Squares about the shrunk mean, so that a group that merely lies elsewhere does not count as
        // scattered.
        let own = self.squares - 2.0 * mean * self.sum + n * mean * mean;
        let variance = (own.max(0.0) + WEIGHT * above.deviation * above.deviation) / (n + WEIGHT);
        Ratio { count: self.count, mean, deviation: libm::sqrt(variance) }
    }
}

/// From cards finished and parts arrived before `now`.
pub fn learn(state: &State, now: Ms) -> Learnt {
    let (mut shop, mut departments, mut steps) = (Sum::default(), BTreeMap::new(), BTreeMap::new());
    for card in state.cards.values() {
        let Some(ratio) = ratio(card, now) else { continue };
        shop.add(ratio);
        departments.entry(card.department.clone()).or_insert_with(Sum::default).add(ratio);
        if let Some(step) = step(card) {
            steps.entry(step).or_insert_with(|| (card.department.clone(), Sum::default())).1.add(ratio);
        }
    }
    let shop = shop.drawn_toward(PRIOR);
    let departments: BTreeMap<DepartmentId, Ratio> =
        departments.into_iter().map(|(id, sum)| (id, sum.drawn_toward(shop))).collect();
    let above = |id: &DepartmentId| departments.get(id).copied().unwrap_or(shop);
    let steps = steps.into_iter().map(|(key, (id, sum))| (key, sum.drawn_toward(above(&id)))).collect();
    Learnt { shop, departments, steps, deliveries: deliveries(state, now) }
}

impl Learnt {
    /// For this card: from its routing's step, else its department, else the shop.
    pub fn of(&self, card: &Card) -> Ratio {
        let step = step(card).and_then(|step| self.steps.get(&step));
        *step.or_else(|| self.departments.get(&card.department)).unwrap_or(&self.shop)
    }
}

fn step(card: &Card) -> Option<(RoutingId, String)> {
    Some((card.routing.clone()?, card.step.clone()?))
}

fn ratio(card: &Card, now: Ms) -> Option<f64> {
    let done = card
        .done_at
        .filter(|done| card.life == Life::Done && (now.saturating_sub(MEMORY)..=now).contains(done))?;
    let clocked: Ms = card
        .spans
        .iter()
        .fold(0, |sum: Ms, s| sum.saturating_add(s.to.unwrap_or(done).saturating_sub(s.from).max(0)));
    if clocked < MINUTE || card.planned_minutes == 0 {
        return None;
    }
    let planned = f64::from(card.planned_minutes) * MINUTE as f64;
    Some(libm::log(clocked as f64 / planned).clamp(-FARTHEST, FARTHEST))
}

fn deliveries(state: &State, now: Ms) -> Deliveries {
    let (mut count, mut kept, mut late) = (0u32, 0.0, 0.0);
    let holds = state.orders.values().flat_map(|o| o.holds.iter()).filter(|h| h.what == HoldKind::Parts);
    // A date a year or more off was a slip, and says nothing about deliveries.
    let told = |(due, ended): &(Ms, Ms)| *ended <= now && ended.abs_diff(*due) <= MEMORY.unsigned_abs();
    for (due, ended) in holds.filter_map(|h| h.first_due.or(h.due).zip(h.ended)).filter(told) {
        count += 1;
        if ended <= due + PUNCTUAL {
            kept += 1.0;
        } else {
            late += (ended - due) as f64 / MINUTE as f64;
        }
    }
    let n = f64::from(count);
    Deliveries {
        count,
        kept: (kept + WEIGHT * DELIVERIES.kept) / (n + WEIGHT),
        late_minutes: (late + WEIGHT * DELIVERIES.late_minutes) / (n - kept + WEIGHT),
    }
}
