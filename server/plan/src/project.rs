//! Makespan with resources of which there are several (projects): a genetic search over lists with forward-backward passes.
//!
//! Invariant: a plan counts only as decoded forwards by the ordinary decoder; the mirrored problem merely proposes lists.
//! After Hartmann 1998 (lists, two-point crossover) and Valls, Ballestín & Quintanilla 2005 (justification).

use crate::decode::{Decoder, Outcome};
use crate::model::Model;
use crate::problem::{Objective, Problem, Successor};
use crate::rng::Rng;
use crate::{Score, Time};

const POPULATION: usize = 40;

/// The problem run backwards, if running it backwards means anything: nothing has a date.
pub(crate) fn mirrored(p: &Problem) -> Option<Problem> {
    let plain = p.objective == Objective::Makespan
        && p.holds.is_empty()
        && p.jobs.iter().all(|j| j.release <= p.now)
        && p.resources.iter().all(|r| r.availability.is_empty())
        && p.tasks.iter().all(|t| {
            t.calendar.is_none() && t.fixed_start.is_none() && t.release.is_none() && !t.priority && !t.sticky
        })
        && p.tasks.iter().flat_map(|t| &t.successors).all(|s| s.max_lag.is_none());
    if !plain {
        return None;
    }
    let mut back = p.clone();
    back.tasks.iter_mut().for_each(|t| t.successors.clear());
    for (i, t) in p.tasks.iter().enumerate() {
        for s in &t.successors {
            back.tasks[s.task].successors.push(Successor { task: i, ..*s });
        }
    }
    Some(back)
}

struct One {
    order: Vec<u32>,
    score: Score,
}

pub(crate) struct Project<'a, 'm> {
    m: &'m Model,
    back: &'a Model,
    ahead: Decoder<'m>,
    behind: Decoder<'a>,
    pub decodes: u64,
    pub work: u64,
}

impl<'a, 'm> Project<'a, 'm> {
    /// `horizon`: no list worth keeping reaches further.
    pub(crate) fn new(m: &'m Model, back: &'a Model, horizon: Time) -> Self {
        let (ahead, behind) = (Decoder::fast(m, horizon), Decoder::fast(back, horizon));
        Self { m, back, ahead, behind, decodes: 0, work: 0 }
    }

    fn forward(&mut self, order: &[u32]) -> Option<Score> {
        self.decodes += 1;
        match self.ahead.decode_bounded(order, i64::MAX) {
            Outcome::Done(s) => Some(s),
            Outcome::Worse | Outcome::Blocked => None,
        }
    }

    /// Units by falling end of the forward plan, in the mirrored problem's numbers.
    fn from_the_end(m: &Model, other: &Model, d: &Decoder<'_>) -> Vec<u32> {
        let mut tasks: Vec<u32> = (0..m.tasks as u32).collect();
        let mut place = vec![0u32; m.units];
        for (i, &u) in d.inserted.iter().enumerate() {
            place[u as usize] = i as u32;
        }
        let key = |t: u32| (d.end[t as usize], d.start[t as usize], place[m.unit_of[t as usize] as usize]);
        tasks.sort_by_key(|&t| std::cmp::Reverse(key(t)));
        tasks.iter().map(|&t| other.unit_of[t as usize]).collect()
    }

    /// Decodes, then pushes everything to the end and back to the front. Nothing gets longer by it.
    fn polish(&mut self, order: &[u32]) -> Option<One> {
        let mut score = self.forward(order)?;
        let mut best = One { order: self.ahead.inserted.clone(), score };
        for _ in 0..2 {
            let list = Self::from_the_end(self.m, self.back, &self.ahead);
            self.decodes += 1;
            if !matches!(self.behind.decode_bounded(&list, i64::MAX), Outcome::Done(_)) {
                break;
            }
            let list = Self::from_the_end(self.back, self.m, &self.behind);
            let Some(next) = self.forward(&list) else { break };
            let gained = next.primary < score.primary;
            score = next;
            if next <= best.score {
                best = One { order: self.ahead.inserted.clone(), score };
            }
            if !gained {
                break;
            }
        }
        self.work = self.ahead.work + self.behind.work;
        Some(best)
    }

    /// Child of two lists: a middle stretch in the father's order, the rest in the mother's.
    fn cross(&self, a: &[u32], b: &[u32], rng: &mut Rng, taken: &mut [bool]) -> Vec<u32> {
        let n = a.len();
        let (x, y) = (rng.below(n), rng.below(n));
        let (low, high) = (x.min(y), x.max(y));
        taken.fill(false);
        let mut child = Vec::with_capacity(n);
        let add = |u: u32, child: &mut Vec<u32>, taken: &mut [bool]| {
            if !std::mem::replace(&mut taken[u as usize], true) {
                child.push(u);
            }
        };
        a[..low].iter().for_each(|&u| add(u, &mut child, taken));
        let mut i = 0;
        while child.len() < high {
            add(b[i], &mut child, taken);
            i += 1;
        }
        a.iter().for_each(|&u| add(u, &mut child, taken));
        // Neighbours that precedence allows to change places sometimes do.
        for i in 1..n {
            if rng.chance(1, 25) && !self.m.unit_preds.row(child[i] as usize).contains(&child[i - 1]) {
                child.swap(i - 1, i);
            }
        }
        child
    }

    /// A list by latest start, disturbed.
    fn seedling(&self, keys: &[i64], noise: i64, rng: &mut Rng) -> Vec<u32> {
        let keys: Vec<i64> =
            keys.iter().map(|k| k * 16 + rng.below((noise * 16 + 1) as usize) as i64).collect();
        crate::rules::list(self.m, &keys)
    }

    pub(crate) fn run(
        &mut self,
        first: &[u32],
        keys: &[i64],
        rng: &mut Rng,
        spent: &mut dyn FnMut(u64, u64) -> bool,
        found: &mut dyn FnMut(&[u32], u64),
    ) {
        let mut best: Option<Score> = None;
        let mut taken = vec![false; self.m.units];
        let span = keys.iter().max().unwrap_or(&0) - keys.iter().min().unwrap_or(&0);
        loop {
            let mut people: Vec<One> = Vec::new();
            let mut idle = 0;
            let mut age = 0;
            while idle < 60 * POPULATION {
                let order = if people.is_empty() && best.is_none() {
                    first.to_vec()
                } else if age < POPULATION {
                    self.seedling(keys, span / 4 + 1, rng)
                } else {
                    let pick = |rng: &mut Rng| rng.below(people.len()).min(rng.below(people.len()));
                    let (a, b) = (pick(rng), pick(rng));
                    self.cross(&people[a].order, &people[b].order, rng, &mut taken)
                };
                age += 1;
                idle += 1;
                let one = self.polish(&order);
                if spent(self.decodes, self.work) {
                    return;
                }
                let Some(one) = one else { continue };
                if best.is_none_or(|b| one.score < b) {
                    best = Some(one.score);
                    found(&one.order, self.decodes);
                    idle = 0;
                }
                if people.iter().any(|o| o.score == one.score) {
                    continue;
                }
                let at = people.partition_point(|o| o.score < one.score);
                people.insert(at, one);
                people.truncate(POPULATION);
            }
        }
    }
}
