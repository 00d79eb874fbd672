//! The order of the whole shop: planned again when something changed, kept where nothing did.
//!
//! Invariants: a plan is made from the durable state only; the same state, shown plan, minute and seed give the
//! same plan; what cannot be planned is left out with a reason and never empties the order of the others.

#![deny(missing_docs)]

pub mod accuracy;
pub mod forecast;
pub mod hindsight;
pub mod jam;
pub mod keeper;
mod places;
mod problem;
mod rows;
pub mod what_if;
mod when;

use std::collections::BTreeMap;

use domain::ids::{CardId, EquipmentId, OrderId};
use domain::{MINUTE, Ms};
use plan::{Budget, Keep, Minutes, Options, PlanError, Solution};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

pub use places::{FIRST_PLACES, first_places};
pub use rows::{Binding, ChainLink, Next, Plan, PlanChange, PlanRow, PlanVehicle, Reason, WaitReason, Waits};

use problem::Built;
use sync::shop::View;

/// A plan as it goes out: serialised once.
pub struct Published {
    /// Revision of the plan: one more with every change that is shown.
    pub rev: u64,
    /// What people see.
    pub plan: Plan,
    /// The same, to the minute.
    pub shown: Shown,
    /// The plan as JSON.
    pub json: Box<RawValue>,
    /// What is new in it, as JSON, for phones that have the one before ([`PlanChange`]).
    pub change: String,
}

impl Published {
    /// Serialises a plan and what is new in it since `before`.
    pub fn new(plan: Plan, shown: Shown, before: &Plan) -> serde_json::Result<Self> {
        let json = serde_json::value::to_raw_value(&plan)?;
        let change = PlanChange::between(before, &plan);
        tracing::debug!(
            rev = plan.rev,
            rows = plan.rows.len(),
            changed = change.rows.len(),
            vehicles = change.vehicles.len(),
            "plan"
        );
        let change = serde_json::to_string(&change)?;
        Ok(Self { rev: plan.rev, plan, shown, json, change })
    }
}

/// Before the first plan.
impl Default for Published {
    fn default() -> Self {
        let empty = Self::new(Plan::default(), Shown::default(), &Plan::default());
        empty.expect("an empty plan can be written")
    }
}

/// Tasks placed while looking for a better order, in the background.
pub const SEARCH_TASKS: u64 = 200_000;
/// The same while people work by the order: little of it may move then.
const AT_WORK_TASKS: u64 = 120_000;

/// What it costs to move a card from where people know it, in urgency × minutes: within the next two hours as
/// much as two hours of a usual vehicle, on the same day three quarters of an hour, later less and less.
const AT_WORK: Keep =
    Keep { soon: 120, soon_price: 240, day_price: 90, moved_permille_max: 50, fill_max: 0, all: false };
/// While nobody is there, the whole order may be improved: nobody has begun to prepare.
const QUIET: Keep =
    Keep { soon: 120, soon_price: 20, day_price: 5, moved_permille_max: 1_000, fill_max: 0, all: true };
/// How many cards move up at once into what has become free: people look for them, and the rest follows in
/// time.
const FILL_MAX: usize = 4;
/// If somebody comes in sooner than this, it is not a quiet hour.
const QUIET_MINUTES_MIN: i64 = 60;

/// Shown times are rounded, and nobody minds a quarter of an hour.
const UNNOTICED_MINUTES: Minutes = 15;

/// What people have been shown, to the minute. Plans continue from it, also over a restart.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Shown {
    /// Starts, in minutes since 1970.
    pub starts: BTreeMap<CardId, i64>,
    /// Which piece of equipment a card was to be worked on.
    pub pieces: BTreeMap<CardId, EquipmentId>,
}

impl Shown {
    /// Whether nothing has been shown yet.
    pub fn is_empty(&self) -> bool {
        self.starts.is_empty()
    }

    /// How many cards stand more than `minutes` from where they were.
    pub fn moved_from(&self, before: &Self, minutes: Minutes) -> usize {
        let far = |(card, at): &(&CardId, &i64)| {
            before.starts.get(card).is_some_and(|was| (*at - was).abs() > minutes)
        };
        self.starts.iter().filter(far).count()
    }

    /// Whether it has the same cards, in places so close that nobody would notice.
    pub fn stands_as(&self, before: &Self) -> bool {
        self.starts.len() == before.starts.len() && self.moved_from(before, UNNOTICED_MINUTES) == 0
    }

    /// Leaves out the cards that are to find a new place.
    pub fn without(&self, moves: impl Fn(&CardId) -> bool) -> Self {
        let mut left = self.clone();
        left.starts.retain(|card, _| !moves(card));
        left.pieces.retain(|card, _| !moves(card));
        left
    }
}

/// How much is done for a plan.
#[derive(Clone, Copy)]
pub enum Effort<'a> {
    /// What was shown, as far as it still holds; what is late slips.
    Stand,
    /// What was shown, with what has changed moved, and a few cards moved up into what has become free. Takes a
    /// few milliseconds.
    Repair,
    /// A better order is looked for, too.
    Search {
        /// Nobody has prepared for what is shown, so all of it may move.
        fresh: bool,
        /// Asked often; true ends the search. For callers with a clock.
        stop: Option<&'a dyn Fn() -> bool>,
    },
}

impl Effort<'_> {
    /// A search that ends by itself, while people work by what is shown.
    pub const SEARCH: Self = Effort::Search { fresh: false, stop: None };
}

/// A plan, and what follows from it.
pub struct Planned {
    /// As people read it.
    pub plan: Plan,
    /// The same, to the minute.
    pub shown: Shown,
    /// The next moment at which it changes though nobody does anything.
    pub next_look: Ms,
    /// What was planned for: promise and urgency of every vehicle.
    pub asked: Vec<(OrderId, Option<Minutes>, i64)>,
}

/// Continues from what was shown; if nothing was, finds an order.
pub fn plan_now(view: &View, now: Ms, shown: &Shown, effort: Effort<'_>) -> Planned {
    let mut left_out = LeftOut::default();
    loop {
        let built = problem::build(&view.state, &view.zone, now, shown, &|order| left_out.has(order));
        match solve(&built, shown, effort) {
            Ok(solution) => return planned(view, now, &built, &solution, &left_out),
            Err(error) => {
                if !left_out.add(&error, &built, view) {
                    let trouble = Some(left_out.trouble().unwrap_or_else(|| error.to_string()));
                    let plan = Plan { trouble, ..blank(view, now) };
                    let next_look = when::next_look(&built, None, now);
                    return Planned { plan, shown: shown.clone(), next_look, asked: Vec::new() };
                }
            }
        }
    }
}

fn solve(built: &Built, shown: &Shown, effort: Effort<'_>) -> Result<Solution, PlanError> {
    let origin = built.origin / MINUTE;
    let previous: Vec<Option<i64>> =
        built.cards.iter().map(|card| shown.starts.get(card).map(|at| at - origin)).collect();
    let known = !shown.is_empty();
    let fresh = matches!(effort, Effort::Search { fresh: true, .. });
    let quiet = fresh || when::opens_in(built).is_none_or(|minutes| minutes >= QUIET_MINUTES_MIN);
    let (budget, stop) = match effort {
        Effort::Stand | Effort::Repair => (Budget::First, None),
        Effort::Search { stop, .. } => {
            (Budget::Tasks(if quiet { 2 * SEARCH_TASKS } else { AT_WORK_TASKS }), stop)
        }
    };
    let keep = if quiet { QUIET } else { AT_WORK };
    // Once for each change: searches that follow it look for more than what is free.
    let fill_max = if matches!(effort, Effort::Repair) { FILL_MAX } else { 0 };
    let options = Options {
        seed: 1,
        budget,
        previous: known.then_some(previous.as_slice()),
        keep: known.then_some(Keep { fill_max, ..keep }),
        stop,
    };
    plan::solve(&built.problem, &options)
}

fn blank(view: &View, now: Ms) -> Plan {
    Plan { rev: 0, at_seq: view.head.seq, at_time: now, ..Plan::default() }
}

fn planned(view: &View, now: Ms, built: &Built, solution: &Solution, left_out: &LeftOut) -> Planned {
    let origin = built.origin / MINUTE;
    let starts = built.cards.iter().zip(&solution.starts).map(|(card, start)| (*card, start + origin));
    let writer = rows::Writer::new(&view.state, built, solution, now);
    let plan = Plan {
        rows: writer.rows(),
        vehicles: writer.vehicles(),
        trouble: left_out.trouble(),
        ..blank(view, now)
    };
    let pieces = writer.pieces();
    let next_look = when::next_look(built, Some(solution), now);
    let of = |(job, id): (&plan::Job, &OrderId)| (*id, job.due.map(|due| due + origin), job.weight);
    let asked = built.problem.jobs.iter().zip(&built.orders).map(of).collect();
    Planned { plan, shown: Shown { starts: starts.collect(), pieces }, next_look, asked }
}

/// Vehicles that cannot be planned as they stand, because people must first put something right by hand.
#[derive(Default)]
struct LeftOut {
    orders: Vec<OrderId>,
    sentences: Vec<String>,
}

impl LeftOut {
    fn has(&self, order: OrderId) -> bool {
        self.orders.contains(&order)
    }

    /// Leaves out the vehicles an error names. False if it names none that is not left out already.
    fn add(&mut self, error: &PlanError, built: &Built, view: &View) -> bool {
        // Card ids mean nothing to people: the sentence names the vehicle and the task.
        let mut text = error.to_string();
        let before = self.orders.len();
        for (task, card) in built.cards.iter().enumerate() {
            let id = card.to_string();
            let Some(card) = view.state.cards.get(card).filter(|_| text.contains(&id)) else { continue };
            let job = built.problem.tasks[task].job.map(|job| built.problem.jobs[job].id.as_str());
            text = text.replace(&id, &format!("{} «{}»", job.unwrap_or_default(), card.title.text));
            self.orders.push(card.order);
        }
        let jobs = built.problem.jobs.iter().zip(&built.orders);
        self.orders
            .extend(jobs.filter(|(job, _)| text.contains(&format!("job {} ", job.id))).map(|(_, id)| *id));
        self.orders.sort_unstable();
        self.orders.dedup();
        self.sentences.push(text);
        self.orders.len() > before
    }

    fn trouble(&self) -> Option<String> {
        (!self.sentences.is_empty()).then(|| self.sentences.join("; "))
    }
}
