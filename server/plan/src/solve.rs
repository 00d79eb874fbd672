//! The front door: check, search, explain, sign.

use sha2::{Digest, Sha256};

use crate::decode::{self, Decoder};
use crate::explain::{self, Binding};
use crate::model::Model;
use crate::problem::{Minutes, PlanError, Problem};
use crate::search::{Best, Search};

/// How much work to do. Counted, not timed, so that a run can be repeated exactly.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Budget {
    /// The repaired previous plan, or without one the best priority rule. No search.
    First,
    /// Whole lists decoded (a partly decoded list counts as one).
    Decodes(u64),
    /// Tasks placed.
    Tasks(u64),
}

/// When a new plan is worth unsettling people.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Adopt {
    /// Weighted tardiness must fall by this many thousandths of the repaired plan's …
    pub primary_permille: i64,
    /// … or, being no worse, flow by this many. In both cases …
    pub flow_permille: i64,
    /// … it must also fall by more than this for every task that begins within `near` in one of the plans and moves: what
    /// people have prepared for. In weight × minutes (flow: minutes).
    pub price: i64,
    /// Wall minutes from now.
    pub near: Minutes,
}

pub struct Options<'a> {
    pub seed: u64,
    pub budget: Budget,
    /// Starts of the previous plan by task index; `None` for tasks it did not have.
    pub previous: Option<&'a [Option<Minutes>]>,
    /// Keep the repaired previous plan unless the new one is this much better.
    pub adopt: Option<Adopt>,
    /// Asked often; true ends the search. For callers with a clock.
    pub stop: Option<&'a dyn Fn() -> bool>,
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self { seed: 1, budget: Budget::Decodes(2_000), previous: None, adopt: None, stop: None }
    }
}

/// Compared in this order; smaller is better.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Score {
    /// Weighted tardiness or makespan, with the price of overrun maximum lags.
    pub primary: i64,
    /// Sum of the completion times of jobs (of tasks where they have no job).
    pub flow: i64,
    /// Minutes by which starts moved against the previous plan.
    pub churn: i64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TracePoint {
    pub decodes: u64,
    pub score: Score,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Solution {
    pub starts: Vec<Minutes>,
    pub ends: Vec<Minutes>,
    /// The instance's objective: weighted tardiness or makespan.
    pub objective: i64,
    pub score: Score,
    /// Score of the repaired previous plan, if there was one.
    pub repaired: Option<Score>,
    /// True if the repaired plan was kept because nothing better was worth the change.
    pub kept: bool,
    pub decodes: u64,
    /// SHA-256 over the starts, lower-case hexadecimal.
    pub hash: String,
    pub bindings: Vec<Binding>,
    /// Tasks in the order the engine took them: fixed ones first, by start; the queue of a department is this order filtered.
    pub order: Vec<usize>,
    pub trace: Vec<TracePoint>,
}

pub fn solve(p: &Problem, o: &Options<'_>) -> Result<Solution, PlanError> {
    let m = Model::new(p)?;
    let outcome = Search::new(p, &m, o).run().map_err(|blocked| decode::deadlock(p, &m, &blocked))?;
    let mut best = outcome.best;
    let mut kept = false;
    let churn = |b: &Best| churn(&m, o.previous, b);
    let repaired = outcome.repaired.as_ref().map(|r| Score { churn: churn(r), ..r.score });
    if let (Some(adopt), Some(old)) = (o.adopt, outcome.repaired) {
        let price = adopt.price.max(0) * moved_soon(&m, &old, &best, adopt.near);
        let worth = |new: i64, old: i64, permille: i64| {
            old - new > price && (old - new) * 1000 > old.abs() * permille.max(0)
        };
        let better = worth(best.score.primary, old.score.primary, adopt.primary_permille)
            || (best.score.primary <= old.score.primary
                && worth(best.score.flow, old.score.flow, adopt.flow_permille));
        if !better {
            best = old;
            kept = true;
        }
    }
    let score = Score { churn: churn(&best), ..best.score };
    let mut d = Decoder::new(&m);
    let bindings = explain::bindings(p, &m, &mut d, &best.start, &best.end);
    let starts: Vec<Minutes> = best.start.iter().map(|&t| Minutes::from(t)).collect();
    let ends: Vec<Minutes> = best.end.iter().map(|&t| Minutes::from(t)).collect();
    Ok(Solution {
        objective: score.primary,
        score,
        repaired,
        kept,
        decodes: outcome.decodes,
        hash: plan_hash(p, &starts),
        bindings,
        order: task_order(&m, &best.start, &best.order),
        trace: outcome.trace,
        starts,
        ends,
    })
}

/// The score of given starts (the referee's arithmetic, not a check of feasibility).
pub fn evaluate(p: &Problem, starts: &[Minutes]) -> Result<Score, PlanError> {
    let m = Model::new(p)?;
    if starts.len() != m.tasks || starts.iter().any(|s| s.abs() > crate::FARTHEST_MINUTES * 2) {
        return Err(PlanError::Format {
            detail: "as many starts as tasks are needed, within reach of the origin".into(),
        });
    }
    let start: Vec<crate::Time> = starts.iter().map(|&s| s as crate::Time).collect();
    let end: Vec<crate::Time> = (0..m.tasks).map(|t| m.end_of(t, start[t])).collect();
    Ok(decode::score(&m, &start, &end))
}

/// The name of a plan: SHA-256 over `id=start` lines in the order of ids.
pub fn plan_hash(p: &Problem, starts: &[Minutes]) -> String {
    let mut lines: Vec<(&str, Minutes)> =
        p.tasks.iter().zip(starts).map(|(t, &s)| (t.id.as_str(), s)).collect();
    lines.sort_unstable();
    let mut sha = Sha256::new();
    for (id, s) in lines {
        sha.update(id.as_bytes());
        sha.update(b"=");
        sha.update(s.to_string().as_bytes());
        sha.update(b"\n");
    }
    sha.finalize().iter().map(|b| format!("{b:02x}")).collect()
}

fn churn(m: &Model, previous: Option<&[Option<Minutes>]>, b: &Best) -> i64 {
    let Some(previous) = previous else { return 0 };
    let moved =
        |t: usize| previous.get(t).copied().flatten().map_or(0, |s| (s - i64::from(b.start[t])).abs());
    (0..m.tasks).filter(|&t| !m.fixed[t]).map(moved).sum()
}

/// Tasks near enough to be prepared for that begin at another time; small shifts that follow from others do not count.
fn moved_soon(m: &Model, a: &Best, b: &Best, near: Minutes) -> i64 {
    const SHIFT: Minutes = 15;
    let until = Minutes::from(m.now) + near;
    let moved = |t: &usize| {
        let (x, y) = (Minutes::from(a.start[*t]), Minutes::from(b.start[*t]));
        x.min(y) < until && (x - y).abs() > SHIFT
    };
    (0..m.tasks).filter(|&t| !m.fixed[t]).filter(moved).count() as i64
}

fn task_order(m: &Model, start: &[crate::Time], order: &[u32]) -> Vec<usize> {
    let mut place = vec![0usize; m.units];
    for (i, &u) in order.iter().enumerate() {
        place[u as usize] = i + 1;
    }
    let mut tasks: Vec<usize> = (0..m.tasks).collect();
    let unit = |t: usize| if m.fixed[t] { 0 } else { place[m.unit_of[t] as usize] };
    tasks.sort_by_key(|&t| (!m.fixed[t], start[t], unit(t), t));
    tasks
}
