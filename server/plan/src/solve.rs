//! The front door: check, search, explain, sign.

use sha2::{Digest, Sha256};

use crate::decode::{self, Decoder};
use crate::explain::{self, Binding};
use crate::keep::Keep;
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

/// How a problem is solved.
pub struct Options<'a> {
    /// Of the random numbers: the same seed gives the same plan.
    pub seed: u64,
    /// How much work to do.
    pub budget: Budget,
    /// Starts of the previous plan by task index; `None` for tasks it did not have.
    pub previous: Option<&'a [Option<Minutes>]>,
    /// With a previous plan: what moving from it costs, beside what is late.
    pub keep: Option<Keep>,
    /// Asked often; true ends the search. For callers with a clock.
    pub stop: Option<&'a dyn Fn() -> bool>,
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self { seed: 1, budget: Budget::Decodes(2_000), previous: None, keep: None, stop: None }
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

/// When the search found something better.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TracePoint {
    /// Lists decoded until then.
    pub decodes: u64,
    /// What it had found.
    pub score: Score,
}

/// A plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Solution {
    /// Start of each task.
    pub starts: Vec<Minutes>,
    /// End of each task.
    pub ends: Vec<Minutes>,
    /// The instance's objective: weighted tardiness or makespan.
    pub objective: i64,
    /// What plans are compared by.
    pub score: Score,
    /// Score of the repaired previous plan, if there was one.
    pub repaired: Option<Score>,
    /// The repaired plan stays: nothing better was worth the change.
    pub kept: bool,
    /// Lists decoded.
    pub decodes: u64,
    /// SHA-256 over the starts, lower-case hexadecimal.
    pub hash: String,
    /// What kept each task from being earlier.
    pub bindings: Vec<Binding>,
    /// Tasks in the order the engine took them: fixed ones first, by start; the queue of a department is this order filtered.
    pub order: Vec<usize>,
    /// How the search got there.
    pub trace: Vec<TracePoint>,
}

/// Plans a problem.
pub fn solve(p: &Problem, o: &Options<'_>) -> Result<Solution, PlanError> {
    let m = Model::new(p)?;
    let outcome = Search::new(p, &m, o).run().map_err(|blocked| decode::deadlock(p, &m, &blocked))?;
    let best = outcome.best;
    let churn = |b: &Best| churn(&m, o.previous, b);
    let kept = outcome.repaired.as_ref().is_some_and(|r| r.start == best.start);
    let repaired = outcome.repaired.as_ref().map(|r| Score { churn: churn(r), ..r.score });
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
        order: task_order(&m, &best.start),
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

/// By start; of those that begin together, what is put first, then what has least time: so it is the same however it was found.
fn task_order(m: &Model, start: &[crate::Time]) -> Vec<usize> {
    let mut tasks: Vec<usize> = (0..m.tasks).collect();
    let class = |t: usize| if m.fixed[t] { 0 } else { m.class[m.unit_of[t] as usize] };
    tasks.sort_by_key(|&t| (!m.fixed[t], start[t], class(t), m.late[t], t));
    tasks
}
