//! How sure a plan is: the same shop is run many times with lengths as they turn out, while people keep to the
//! order of the plan.
//!
//! In every run each task draws its length (lognormal about the planned one, given the time already spent) and
//! each delivery its delay. Then each resource that becomes free begins what can begin first; of several at the
//! same moment, what the plan has further ahead. Nothing is searched again: people do not replan every two
//! minutes either.
//! Invariants: the same problem, starts, spreads, seed and runs give the same samples on every machine
//! (logarithms and exponentials are libm's, which is software); a length without spread is always the planned
//! one.
//! Must not know: where spreads come from.

use std::collections::BTreeSet;

use crate::decode::Outcome;
use crate::dispatch::{Day, Dispatch};
use crate::model::Model;
use crate::problem::{Minutes, PlanError, Problem};
use crate::rng::Rng;
use crate::shape::Shape;
use crate::{NONE, Time};

/// How a task's length turns out.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spread {
    /// Minutes already worked on it: its whole length is known to exceed them.
    pub spent: Minutes,
    /// Whole planned length, time spent included; 0: as the problem says, without spread.
    pub planned: Minutes,
    /// ln(length ÷ planned) has this mean …
    pub mean: f64,
    /// … and this standard deviation.
    pub deviation: f64,
    /// How its release turns out; none: as the problem says.
    pub delay: Option<Delay>,
}

/// How a task's release turns out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Delay {
    /// Share of releases that are kept.
    pub kept: f64,
    /// Mean minutes of the others, exponentially distributed.
    pub mean: f64,
}

/// What happened in all runs. Times are minutes from the problem's origin, sorted.
#[derive(Clone, Debug, PartialEq)]
pub struct Forecast {
    /// How many runs.
    pub runs: usize,
    /// Completions of each job, one per run.
    pub jobs: Vec<Vec<Minutes>>,
    /// The 10th, 50th and 90th percentile of each task's start.
    pub starts: Vec<[Minutes; 3]>,
    /// Runs in which holds locked each other up, so that the plan's own order was kept to the letter instead.
    pub locked: usize,
}

impl Forecast {
    /// The least of the sampled completions that `share` of the runs do not exceed.
    pub fn by(&self, job: usize, share: f64) -> Option<Minutes> {
        percentile(&self.jobs[job], share)
    }

    /// Share of the runs in which the job was complete by then.
    pub fn probability(&self, job: usize, due: Minutes) -> Option<f64> {
        let all = &self.jobs[job];
        (!all.is_empty()).then(|| all.partition_point(|&at| at <= due) as f64 / all.len() as f64)
    }
}

fn percentile(sorted: &[Minutes], share: f64) -> Option<Minutes> {
    let rank = libm::ceil(share.clamp(0.0, 1.0) * sorted.len() as f64) as usize;
    sorted.get(rank.max(1) - 1).copied()
}

/// Runs the shop `runs` times. `starts` is the plan; `spreads` has one entry per task.
pub fn forecast(
    p: &Problem,
    starts: &[Minutes],
    spreads: &[Spread],
    runs: usize,
    seed: u64,
) -> Result<Forecast, PlanError> {
    if starts.len() != p.tasks.len() || spreads.len() != p.tasks.len() {
        return Err(PlanError::Format { detail: "as many starts and spreads as tasks are needed".into() });
    }
    let live = loosened(p);
    let m = Model::new(&live)?;
    let first = vec![0; m.tasks];
    let mut shape = Shape::new(&live, &m, &first);
    let usual: Vec<(Time, Time)> = (0..m.tasks).map(|t| (m.dur[t], shape.est(t))).collect();
    let mut list: Vec<u32> = m.topo.iter().copied().filter(|&t| !m.fixed[t as usize]).collect();
    // Work that has begun goes on first.
    list.sort_by_key(|&t| (p.tasks[t as usize].fixed_start.is_none(), starts[t as usize]));
    let mut rank = vec![0u32; m.tasks];
    for (i, &t) in list.iter().enumerate() {
        rank[t as usize] = i as u32;
    }
    let gates = gates(&m, &rank);
    let mut rng = Rng::new(seed);
    let mut day = Day::default();
    let mut jobs = vec![Vec::with_capacity(runs); p.jobs.len()];
    let mut begun: Vec<Vec<Time>> = vec![Vec::with_capacity(runs); m.tasks];
    let mut locked = 0;
    for _ in 0..runs {
        for t in (0..m.tasks).filter(|&t| !m.fixed[t]) {
            let (dur, est) = usual[t];
            let s = &spreads[t];
            shape.vary(t, s.length(dur, &mut rng), est + s.late(&mut rng));
        }
        let mut d = Dispatch::new(&m, &shape);
        if !d.live(&rank, &gates, &mut day) {
            locked += 1;
            if !matches!(d.run(&list, 0, i64::MAX, false), Outcome::Done(_)) {
                continue;
            }
        }
        let mut done = vec![Time::MIN; p.jobs.len()];
        begun.iter_mut().zip(&d.start).for_each(|(all, &at)| all.push(at));
        for t in 0..m.tasks {
            if m.job[t] != NONE {
                let j = m.job[t] as usize;
                done[j] = done[j].max(d.end[t]);
            }
        }
        for (all, &at) in jobs.iter_mut().zip(&done).filter(|(_, at)| **at > Time::MIN) {
            all.push(Minutes::from(at));
        }
    }
    jobs.iter_mut().for_each(|all| all.sort_unstable());
    let starts = begun.iter_mut().zip(starts).map(|(all, &planned)| low_middle_high(all, planned)).collect();
    Ok(Forecast { runs, jobs, starts, locked })
}

fn low_middle_high(all: &mut [Time], planned: Minutes) -> [Minutes; 3] {
    [0.1, 0.5, 0.9].map(|share| {
        let rank = (libm::ceil(share * all.len() as f64) as usize).max(1) - 1;
        if rank >= all.len() { planned } else { Minutes::from(*all.select_nth_unstable(rank).1) }
    })
}

/// A group of tasks that holds one thing while it wants another.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Nest {
    rank: u32,
    openers: Vec<u32>,
    wanting: Vec<u32>,
    what: BTreeSet<u32>,
}

/// Vehicles that hold one thing and will want another could lock each other up, so a vehicle further back in
/// the plan opens only when the one ahead has got all it wants. For each task: the openers that wait for it to
/// begin.
fn gates(m: &Model, rank: &[u32]) -> Vec<Vec<u32>> {
    let mut held = vec![false; m.base.len()];
    for t in 0..m.tasks {
        m.opens.row(t).iter().for_each(|h| held[h.res as usize] = true);
        m.closes.row(t).iter().for_each(|c| held[c.res as usize] = true);
    }
    let wants = |t: u32| {
        let needs = m.needs.row(t as usize).iter().map(|x| x.res);
        let all: Vec<u32> = needs.chain(m.opens.row(t as usize).iter().map(|h| h.res)).collect();
        all.into_iter().filter(|&r| held[r as usize]).collect::<Vec<_>>()
    };
    // Vehicles that are open already come first, then units in the order of the plan.
    let mut groups: Vec<Nest> = Vec::new();
    for closer in (0..m.tasks as u32).filter(|&t| !m.closes.row(t as usize).is_empty()) {
        let mut todo = vec![closer];
        let mut inside = BTreeSet::from([closer]);
        while let Some(t) = todo.pop() {
            todo.extend(m.preds.row(t as usize).iter().map(|a| a.task).filter(|&q| inside.insert(q)));
        }
        let mut what: BTreeSet<u32> = inside.iter().flat_map(|&t| wants(t)).collect();
        what.extend(m.closes.row(closer as usize).iter().map(|c| c.res));
        let wanting = inside.into_iter().filter(|&t| !wants(t).is_empty()).collect();
        groups.push(Nest { rank: 0, openers: Vec::new(), wanting, what });
    }
    for u in (0..m.units).filter(|&u| !m.unit_holds.row(u).is_empty()) {
        let members = m.members.row(u);
        let openers: Vec<u32> = m.unit_holds.row(u).iter().map(|h| h.from).collect();
        let what: BTreeSet<u32> = members.iter().flat_map(|&t| wants(t)).collect();
        let first = openers.iter().map(|&t| rank[t as usize] + 1).min().unwrap_or(0);
        let wanting = members.iter().copied().filter(|&t| !wants(t).is_empty()).collect();
        groups.push(Nest { rank: first, openers, wanting, what });
    }
    groups.retain(|g| g.what.len() > 1);
    groups.sort();
    let mut gates = vec![Vec::new(); m.tasks];
    for (i, behind) in groups.iter().enumerate() {
        for ahead in groups[..i].iter().filter(|ahead| ahead.what.intersection(&behind.what).next().is_some())
        {
            for &t in ahead.wanting.iter().filter(|t| !behind.wanting.contains(t)) {
                gates[t as usize].extend(behind.openers.iter().copied().filter(|o| *o != t));
            }
        }
    }
    gates.iter_mut().for_each(|row| {
        row.sort_unstable();
        row.dedup();
    });
    gates
}

/// The problem in which work that has begun still has an unknown length: it begins at once instead of standing
/// fixed, and what it has opened is held already. If more has begun than there is of a resource, the facts
/// stand.
fn loosened(p: &Problem) -> Problem {
    let mut live = p.clone();
    let mut used = vec![0u32; p.resources.len()];
    for h in p.holds.iter().filter(|h| h.from.is_none_or(|f| p.tasks[f].fixed_start.is_some())) {
        used[h.resource] += h.qty;
    }
    for t in p.tasks.iter().filter(|t| t.fixed_start.is_some()) {
        t.demands.iter().for_each(|d| used[d.resource] += d.qty);
    }
    for (i, t) in live.tasks.iter_mut().enumerate() {
        t.priority = false;
        t.sticky = false;
        let fits = t.demands.iter().all(|d| used[d.resource] <= p.resources[d.resource].capacity);
        if t.fixed_start.is_some() && fits && t.duration > 0 {
            t.fixed_start = None;
            t.release = Some(p.now);
            live.holds.iter_mut().filter(|h| h.from == Some(i)).for_each(|h| h.from = None);
        }
    }
    live
}

/// Nothing takes longer than this many times the planned length.
pub(crate) const LONGEST: f64 = 20.0;
/// No delivery is later than a year.
const LATEST: f64 = 365.0 * 24.0 * 60.0;
const REST: f64 = 0.02;

impl Spread {
    fn length(&self, planned: Time, rng: &mut Rng) -> Time {
        if self.planned <= 0 || (self.deviation <= 0.0 && self.mean == 0.0) {
            return planned;
        }
        let z = if self.spent > 0 {
            let least = (libm::log(self.spent as f64 / self.planned as f64) - self.mean) / self.deviation;
            normal_above(least, rng)
        } else {
            normal(rng)
        };
        let whole = self.planned as f64 * libm::exp(self.mean + self.deviation * z);
        let left = whole.min(LONGEST * self.planned as f64) - self.spent.max(0) as f64;
        // Work that has outlasted everything learnt goes on for a share of what it has taken.
        libm::round(left.max(REST * self.spent as f64).max(1.0)) as Time
    }

    fn late(&self, rng: &mut Rng) -> Time {
        let Some(delay) = self.delay else { return 0 };
        if uniform(rng) < delay.kept {
            return 0;
        }
        libm::round((-libm::log(uniform(rng)) * delay.mean).min(LATEST)) as Time
    }
}

/// In (0, 1].
fn uniform(rng: &mut Rng) -> f64 {
    ((rng.next() >> 11) + 1) as f64 / (1u64 << 53) as f64
}

/// Box & Muller 1958.
pub(crate) fn normal(rng: &mut Rng) -> f64 {
    let radius = libm::sqrt(-2.0 * libm::log(uniform(rng)));
    radius * libm::cos(std::f64::consts::TAU * uniform(rng))
}

/// Share of normal draws above `z`.
pub(crate) fn above(z: f64) -> f64 {
    libm::erfc(z / std::f64::consts::SQRT_2) / 2.0
}

/// A normal draw known to be above `least`: the one behind which a random part of the tail lies, found by halving.
fn normal_above(least: f64, rng: &mut Rng) -> f64 {
    let tail = above(least) * uniform(rng);
    let (mut low, mut high) = (least.max(-9.0), least.max(0.0) + 9.0);
    for _ in 0..40 {
        let middle = (low + high) / 2.0;
        if above(middle) > tail { low = middle } else { high = middle }
    }
    high
}
