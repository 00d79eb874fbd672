//! What a shop's own past adds to a forecast: how much later vehicles were finished than the runs said, whatever the cause.
//!
//! A run knows how lengths and deliveries turn out and keeps to the order. It does not know of work nobody has found yet, of
//! approvals, of people called away. So what is left of a vehicle, in hours in which the shop is open, is multiplied by a factor,
//! lognormal about what was learnt from vehicles that came before.
//! Invariants: without cases there is a prior, and few change it little; vehicles still open teach that they took longer than so
//! far, else the slow ones would be missing; the samples stay sorted; same cases and seed → same samples on every machine.
//! Must not know: which moments of a visit are told apart; where cases come from.

use crate::Time;
use crate::calendar::Work;
use crate::forecast::{Forecast, LONGEST, above, normal};
use crate::problem::{Calendar, Minutes};
use crate::rng::Rng;

/// Open hours from the problem's origin on.
pub struct OpenHours(Work);

impl OpenHours {
    /// A shop without hours is always open.
    pub fn new(calendar: &Calendar) -> Self {
        let minutes = |at: Minutes| Time::try_from(at).unwrap_or(Time::MAX / 4);
        Self(Work::new(calendar.open.iter().map(|&(a, b)| (minutes(a), minutes(b))).collect()))
    }

    /// Open minutes between two moments.
    pub fn between(&self, from: Minutes, to: Minutes) -> Minutes {
        let clamp = |at: Minutes| Time::try_from(at.max(0)).unwrap_or(Time::MAX / 4);
        self.0.pieces(clamp(from), clamp(to)).map(|(a, b)| Minutes::from(b - a)).sum()
    }

    /// The moment after so many open minutes from the origin.
    fn after(&self, minutes: Minutes) -> Minutes {
        let minutes = Time::try_from(minutes).unwrap_or(Time::MAX / 4);
        Minutes::from(self.0.finish(self.0.next(0), minutes))
    }
}

/// What the runs say of one vehicle, as far as it can be held against what happens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foreseen {
    /// Open minutes that half of the runs need.
    pub median: Minutes,
    /// Variance of ln(open minutes ÷ median) over the runs.
    pub variance: f64,
}

/// A vehicle that was forecast, and how it went on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Case {
    /// What the runs said.
    pub foreseen: Foreseen,
    /// Open minutes since the forecast, to its end or to now.
    pub took: Minutes,
    /// Whether it is finished; if not, it will have taken longer than `took`.
    pub over: bool,
}

/// ln(factor): mean and deviation, and from how many finished vehicles.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Slip {
    /// Finished vehicles it was learnt from; 0: it is the prior.
    pub count: u32,
    /// Mean of ln(factor).
    pub mean: f64,
    /// Standard deviation of ln(factor).
    pub deviation: f64,
}

/// Before anything is known: a fifth longer, two of three within half as much again. A prior of ours, common practice has no
/// number for it; it weighs as much as [`WEIGHT`] vehicles.
impl Default for Slip {
    fn default() -> Self {
        Self { count: 0, mean: 0.2, deviation: 0.4 }
    }
}

const WEIGHT: f64 = 8.0;
/// Less is not told apart.
const LEAST: Minutes = 15;
/// Expectation and maximisation (Dempster, Laird & Rubin 1977, told from memory) settle well before.
const ROUNDS: usize = 30;

impl Slip {
    /// What these cases teach, starting from the prior.
    pub fn learn(cases: impl IntoIterator<Item = Case>) -> Self {
        let prior = Self::default();
        let cases: Vec<(f64, bool, f64)> = cases
            .into_iter()
            .map(|case| {
                let x = libm::log(case.took.max(LEAST) as f64 / case.foreseen.median.max(LEAST) as f64);
                (x, case.over, case.foreseen.variance)
            })
            .collect();
        let count = cases.iter().filter(|case| case.1).count();
        if count == 0 {
            return prior;
        }
        let foreseen = cases.iter().map(|case| case.2).sum::<f64>() / cases.len() as f64;
        let wide = |mean: f64, beyond: f64| {
            let n = cases.len() as f64;
            let share = n / (n + WEIGHT);
            let variance = share * beyond + (1.0 - share) * prior.deviation * prior.deviation;
            (share * mean + (1.0 - share) * prior.mean, variance)
        };
        let (mut mean, mut beyond) = (prior.mean, prior.deviation * prior.deviation);
        for _ in 0..ROUNDS {
            let deviation = libm::sqrt(beyond + foreseen).max(0.05);
            let (mut sum, mut squares) = (0.0, 0.0);
            for &(x, over, _) in &cases {
                // Of what is open, what is to be expected of those that take longer than it has so far.
                let (first, second) = if over { (x, x * x) } else { beyond_of(x, mean, deviation) };
                sum += first;
                squares += second;
            }
            let n = cases.len() as f64;
            let variance = (squares / n - (sum / n) * (sum / n)).max(0.0);
            // What the runs spread by themselves is in what was seen.
            (mean, beyond) = wide(sum / n, (variance - foreseen).max(0.0));
        }
        Self { count: count as u32, mean, deviation: libm::sqrt(beyond) }
    }

    /// The factor half of the vehicles stay below.
    pub fn median(&self) -> f64 {
        libm::exp(self.mean)
    }

    fn is_none(&self) -> bool {
        self.mean == 0.0 && self.deviation == 0.0
    }
}

/// First and second moment of a normal variable known to be above `least` (Johnson, Kotz & Balakrishnan 1994, from memory).
fn beyond_of(least: f64, mean: f64, deviation: f64) -> (f64, f64) {
    let a = (least - mean) / deviation;
    // Far out in the tail nothing is left of either; the hazard is then about the distance itself.
    let tail = above(a);
    let hazard = if tail > 1e-12 {
        libm::exp(-a * a / 2.0) / (libm::sqrt(std::f64::consts::TAU) * tail)
    } else {
        a + 1.0 / a
    };
    let first = mean + deviation * hazard;
    let variance = deviation * deviation * (1.0 + a * hazard - hazard * hazard).clamp(0.0, 1.0);
    (first, variance + first * first)
}

impl Forecast {
    /// What the runs say of a job, in open minutes; none if it has no samples.
    pub fn foreseen(&self, job: usize, open: &OpenHours) -> Option<Foreseen> {
        let all: Vec<Minutes> =
            self.jobs.get(job)?.iter().map(|&at| open.between(0, at).max(LEAST)).collect();
        let median = *all.get(all.len() / 2)?;
        let logs = all.iter().map(|&left| libm::log(left as f64 / median as f64));
        let (sum, squares) = logs.fold((0.0, 0.0), |(sum, squares), x| (sum + x, squares + x * x));
        let n = all.len() as f64;
        Some(Foreseen { median, variance: (squares / n - (sum / n) * (sum / n)).max(0.0) })
    }

    /// The completions of a job as they are when it slips like the others did.
    pub fn slip(&mut self, job: usize, slip: &Slip, open: &OpenHours, seed: u64) {
        if slip.is_none() {
            return;
        }
        let mut rng = Rng::new(seed);
        let least = libm::log(LONGEST);
        for at in &mut self.jobs[job] {
            let left = open.between(0, *at).max(1) as f64;
            let factor = (slip.mean + slip.deviation * normal(&mut rng)).clamp(-least, least);
            *at = open.after(libm::round(left * libm::exp(factor)) as Minutes);
        }
        self.jobs[job].sort_unstable();
    }
}
