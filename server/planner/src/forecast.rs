//! How sure the plan is: dates and probabilities for every vehicle, approximate times for every card, and what
//! could be promised.
//!
//! Invariants: made from the state, the shown order and the minute alone, with a fixed seed, so that the same
//! question has the same answer on every machine; the answer states what was learnt, and from how many cases.
//! Must not know: screens; the search.

use std::collections::BTreeMap;

use domain::ids::*;
use domain::learn::{self, Learnt};
use domain::state::State;
use domain::stored::*;
use domain::{MINUTE, Ms};
use plan::{Budget, Delay, Forecast, Minutes, Options, PlanError, Problem, Spread};
use serde::Serialize;
use utoipa::ToSchema;

use super::accuracy::{self, Slips};
use super::problem::{self, Built};
use super::{SEARCH_TASKS, Shown};
use sync::shop::View;

/// Runs behind the dates on the screen.
pub const RUNS: usize = 1_000;
const SEED: u64 = 1;
const SEARCH: Budget = Budget::Tasks(SEARCH_TASKS);
const ROUND_MS: Ms = 5 * MINUTE;
/// Of the deliveries without a date half come within the two days they are planned with, the rest two days
/// later: a guess of ours.
const UNDATED: Delay = Delay { kept: 0.5, mean: 2.0 * 24.0 * 60.0 };

/// How sure the plan is. Times are UTC ms in calendar time, rounded to five minutes.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Outlook {
    /// The log entry of the state it was made from.
    pub at_seq: u64,
    /// When it was made, UTC ms.
    pub at_time: Ms,
    /// How many times the shop was run.
    pub runs: u32,
    /// What the spread comes from.
    pub learnt: LearntFrom,
    /// One for each planned vehicle.
    pub vehicles: Vec<VehicleOutlook>,
    /// One for each planned card.
    pub cards: Vec<CardOutlook>,
}

/// How many cases the spread was learnt from; without any it is a prior.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct LearntFrom {
    /// Finished cards with clocked time.
    pub cards: u32,
    /// Finished vehicles whose end was compared with a forecast.
    pub vehicles: u32,
    /// Deliveries of parts that had a date.
    pub deliveries: u32,
    /// Clocked ÷ planned time of cards: the median.
    pub ratio: f64,
    /// Clocked ÷ planned time that nine of ten cards stay below.
    pub ratio90: f64,
}

/// When one vehicle will be finished.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct VehicleOutlook {
    /// The order of the vehicle.
    pub order: OrderId,
    /// The shop's number of that order.
    pub number: String,
    /// One of ten runs has finished it by then.
    pub p10: Ms,
    /// Half of the runs have finished it by then.
    pub p50: Ms,
    /// Nine of ten runs have finished it by then.
    pub p90: Ms,
    /// Its promise, UTC ms; absent if there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub promise: Option<Ms>,
    /// Share of the runs that keep the promise, 0 to 1; absent without a promise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kept: Option<f64>,
}

/// When one card will begin.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CardOutlook {
    /// Which card.
    pub card: CardId,
    /// One of ten runs begins it by then.
    pub p10: Ms,
    /// Half of the runs begin it by then.
    pub p50: Ms,
    /// Nine of ten runs begin it by then.
    pub p90: Ms,
}

/// When a new vehicle would be finished if it came into the shop as it is. UTC ms, calendar time.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Promise {
    /// When it would come.
    pub arriving: Ms,
    /// Half of the runs have finished it by then.
    pub p50: Ms,
    /// Eight of ten runs have finished it by then.
    pub p80: Ms,
    /// Nine of ten runs have finished it by then.
    pub p90: Ms,
    /// Vehicles whose own promise becomes less likely because of it.
    pub endangered: Vec<Endangered>,
}

/// A vehicle whose promise a new one endangers.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Endangered {
    /// The order of that vehicle.
    pub order: OrderId,
    /// The shop's number of that order.
    pub number: String,
    /// Share of the runs that keep its promise now, 0 to 1.
    pub kept_before: f64,
    /// Share that keeps it with the new vehicle, 0 to 1.
    pub kept_after: f64,
}

/// A promise that becomes less likely by this much is worth mentioning.
const ENDANGERED: f64 = 0.05;

/// `shown`: what people see. If nothing is shown (this server does not plan), an order is made.
pub fn outlook(view: &View, shown: &Shown, slips: &Slips, now: Ms) -> Result<Outlook, PlanError> {
    let built = problem::build(&view.state, &view.zone, now, shown, &|_| false);
    let learnt = learn::learn(&view.state, now);
    let starts = order_of(&built, shown, SEARCH)?;
    let mut found = run(&built, &view.state, &learnt, &starts, RUNS)?;
    slip(&mut found, &built, &view.state, slips);
    let at = |minutes: Minutes| rounded(&built, minutes);
    let vehicles = built.orders.iter().enumerate().filter_map(|(job, id)| {
        let due = built.problem.jobs[job].due;
        let order = view.state.orders.get(id)?;
        Some(VehicleOutlook {
            order: *id,
            number: order.number.clone(),
            p10: at(found.by(job, 0.1)?),
            p50: at(found.by(job, 0.5)?),
            p90: at(found.by(job, 0.9)?),
            promise: order.promise,
            kept: due.and_then(|due| found.probability(job, due)),
        })
    });
    let cards = built.cards.iter().zip(&found.starts);
    let cards =
        cards.map(|(card, [a, b, c])| CardOutlook { card: *card, p10: at(*a), p50: at(*b), p90: at(*c) });
    Ok(Outlook {
        at_seq: view.head.seq,
        at_time: now,
        runs: found.runs as u32,
        learnt: LearntFrom {
            cards: learnt.shop.count,
            deliveries: learnt.deliveries.count,
            vehicles: slips.vehicles(),
            ratio: learnt.shop.median(),
            ratio90: learnt.shop.p90(),
        },
        vehicles: vehicles.collect(),
        cards: cards.collect(),
    })
}

/// `with`: the state with the new order beside the others. They keep the order that people see, so that the
/// result is what the new order does, not what another search would do.
pub fn promise(
    view: &View,
    shown: &Shown,
    slips: &Slips,
    with: &State,
    order: OrderId,
    arriving: Ms,
    now: Ms,
) -> Result<Option<Promise>, PlanError> {
    let learnt = learn::learn(&view.state, now);
    let before = problem::build(&view.state, &view.zone, now, shown, &|_| false);
    let after = problem::build(with, &view.zone, now, shown, &|_| false);
    let mut was = run(&before, &view.state, &learnt, &order_of(&before, shown, SEARCH)?, RUNS)?;
    let mut is = run(&after, with, &learnt, &order_of(&after, shown, SEARCH)?, RUNS)?;
    slip(&mut was, &before, &view.state, slips);
    slip(&mut is, &after, with, slips);
    let kept = |built: &Built, found: &Forecast| -> BTreeMap<OrderId, f64> {
        let of =
            |(job, id): (usize, &OrderId)| Some((*id, found.probability(job, built.problem.jobs[job].due?)?));
        built.orders.iter().enumerate().filter_map(of).collect()
    };
    let then = kept(&before, &was);
    let endangered = kept(&after, &is).into_iter().filter_map(|(id, kept_after)| {
        let kept_before = *then.get(&id)?;
        let number = with.orders.get(&id)?.number.clone();
        (kept_before - kept_after >= ENDANGERED).then_some(Endangered {
            order: id,
            number,
            kept_before,
            kept_after,
        })
    });
    let Some(job) = after.orders.iter().position(|id| *id == order) else { return Ok(None) };
    let by = |share| is.by(job, share).map(|minutes| rounded(&after, minutes));
    let (Some(p50), Some(p80), Some(p90)) = (by(0.5), by(0.8), by(0.9)) else { return Ok(None) };
    Ok(Some(Promise { arriving, p50, p80, p90, endangered: endangered.collect() }))
}

/// Rounded up: a date must not be announced earlier than it was found.
fn rounded(built: &Built, minutes: Minutes) -> Ms {
    -((-built.at(minutes)).div_euclid(ROUND_MS)) * ROUND_MS
}

/// Starts, as far as they matter here: who goes before whom. `search` is the effort for a shop without a known
/// order.
pub(super) fn order_of(built: &Built, shown: &Shown, search: Budget) -> Result<Vec<Minutes>, PlanError> {
    let origin = built.origin.div_euclid(MINUTE);
    let previous: Vec<Option<Minutes>> =
        built.cards.iter().map(|card| shown.starts.get(card).map(|at| at - origin)).collect();
    let known = previous.iter().any(Option::is_some);
    let options = Options {
        seed: SEED,
        budget: if known { Budget::First } else { search },
        previous: known.then_some(previous.as_slice()),
        ..Options::default()
    };
    Ok(plan::solve(&built.problem, &options)?.starts)
}

pub(super) fn run(
    built: &Built,
    state: &State,
    learnt: &Learnt,
    starts: &[Minutes],
    runs: usize,
) -> Result<Forecast, PlanError> {
    let spreads: Vec<Spread> = built
        .cards
        .iter()
        .zip(&built.problem.tasks)
        .map(|(id, task)| match state.cards.get(id) {
            Some(card) => spread(built, card, task.duration, learnt),
            None => Spread::default(),
        })
        .collect();
    let problem: &Problem = &built.problem;
    plan::forecast(problem, starts, &spreads, runs, SEED)
}

/// Adds what the past taught: how much later than the runs vehicles end.
fn slip(found: &mut Forecast, built: &Built, state: &State, slips: &Slips) {
    let open = accuracy::open_hours(state, built);
    for (job, id) in built.orders.iter().enumerate() {
        if let Some(order) = state.orders.get(id) {
            found.slip(job, &slips.of(state, order), &open, accuracy::seed_of(*id));
        }
    }
}

fn spread(built: &Built, card: &Card, left: Minutes, learnt: &Learnt) -> Spread {
    let ratio = learnt.of(card);
    let spent = card.spans.iter().map(|s| (s.to.unwrap_or(built.origin).min(built.origin) - s.from).max(0));
    let spent = spent.sum::<Ms>() / MINUTE;
    let deliveries = learnt.deliveries;
    let delay = built.held.get(&card.id).map(|hold| match hold.due {
        Some(_) => Delay { kept: deliveries.kept, mean: deliveries.late_minutes },
        None => UNDATED,
    });
    Spread {
        spent,
        // A vehicle without a plan of its own takes the dates the planner gives it, as uncertain as the others.
        planned: if card.planned_minutes > 0 { i64::from(card.planned_minutes) } else { left + spent },
        mean: ratio.mean,
        deviation: ratio.deviation,
        delay,
    }
}
