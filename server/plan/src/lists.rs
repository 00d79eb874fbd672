//! Improving a list of tasks by moving what makes jobs late, with annealing.
//!
//! Invariants: every list tried respects precedence; a move changes the list only between two places, so dispatching starts
//! again shortly before the first of them; what cannot beat the bound is dropped half-way; the kept list is in the order of
//! starts wherever that costs nothing, so a place in it is a moment.

use crate::decode::Outcome;
use crate::dispatch::Dispatch;
use crate::keep::Movement;
use crate::model::Model;
use crate::rng::Rng;
use crate::shape::Shape;
use crate::{NONE, Score, Time};

/// The kept list with its plan, and what moves need to know about it.
pub(crate) struct Current {
    pub list: Vec<u32>,
    pub place: Vec<u32>,
    pub start: Vec<Time>,
    pub end: Vec<Time>,
    pub done: Vec<Time>,
    pub score: Score,
}

pub(crate) struct Moves<'a> {
    m: &'a Model,
    movement: Option<&'a Movement>,
    /// Resources of each task, folded into 64 bits; equal resources meet, others may.
    uses: Vec<u64>,
    /// The last task of the holds it opens.
    keeps_until: Vec<u32>,
    job_tasks: Vec<Vec<u32>>,
    marked: Vec<u32>,
    stamp: u32,
    block: Vec<u32>,
    rest: Vec<u32>,
    picks: Vec<u32>,
    found: Vec<(u32, u32)>,
}

/// So far back a task looks for what it waits for.
const LOOK_BACK: usize = 300;

impl<'a> Moves<'a> {
    pub(crate) fn new(m: &'a Model, shape: &Shape, movement: Option<&'a Movement>) -> Self {
        let mut uses = vec![0u64; m.tasks];
        let mut keeps_until = vec![NONE; m.tasks];
        let mut job_tasks = vec![Vec::new(); m.weight.len()];
        for t in (0..m.tasks).filter(|&t| !m.fixed[t]) {
            for w in shape.wants(t) {
                uses[t] |= 1 << (w.res % 64);
                if w.to != NONE {
                    keeps_until[t] = w.to;
                }
            }
            if m.job[t] != NONE {
                job_tasks[m.job[t] as usize].push(t as u32);
            }
        }
        Self {
            m,
            movement,
            uses,
            keeps_until,
            job_tasks,
            marked: vec![0; m.tasks],
            stamp: 0,
            block: Vec::new(),
            rest: Vec::new(),
            picks: Vec::new(),
            found: Vec::new(),
        }
    }

    /// Moves the task at `from` to place `to` further ahead, together with what it needs from in between.
    fn advance(&mut self, list: &mut [u32], from: usize, to: usize) {
        self.stamp += 1;
        self.block.clear();
        self.rest.clear();
        self.marked[list[from] as usize] = self.stamp;
        for i in (to..=from).rev() {
            let t = list[i];
            if self.marked[t as usize] == self.stamp {
                self.block.push(t);
                for a in self.m.preds.row(t as usize) {
                    self.marked[a.task as usize] = self.stamp;
                }
            } else {
                self.rest.push(t);
            }
        }
        for (i, &t) in self.block.iter().rev().chain(self.rest.iter().rev()).enumerate() {
            list[to + i] = t;
        }
    }

    /// Moves the task at `from` back to place `to`, together with what needs it from in between.
    fn delay(&mut self, list: &mut [u32], from: usize, to: usize) {
        self.stamp += 1;
        self.block.clear();
        self.rest.clear();
        self.marked[list[from] as usize] = self.stamp;
        for &t in &list[from..=to] {
            if self.marked[t as usize] == self.stamp {
                self.block.push(t);
                for a in self.m.succs.row(t as usize) {
                    self.marked[a.task as usize] = self.stamp;
                }
            } else {
                self.rest.push(t);
            }
        }
        for (i, &t) in self.rest.iter().chain(&self.block).enumerate() {
            list[from + i] = t;
        }
    }

    /// A job picked by how much its lateness costs beyond what cannot be helped; none if nothing is late.
    fn late_job(&self, c: &Current, rng: &mut Rng) -> Option<usize> {
        let mut total = 0i64;
        let mut pick = None;
        // One pass: keep each with the odds of its share so far.
        for (j, &done) in c.done.iter().enumerate() {
            let cost = self.m.lateness(j as u32, done) - self.m.lateness(j as u32, self.m.job_least[j]);
            if cost > 0 {
                total += cost;
                if ((rng.next() >> 20) as i64).rem_euclid(total) < cost {
                    pick = Some(j);
                }
            }
        }
        pick
    }

    /// The task whose end costs: the last of a late job, or of everything.
    fn latest(&self, c: &Current, rng: &mut Rng) -> Option<u32> {
        let by_end = |&t: &u32| (c.end[t as usize], std::cmp::Reverse(t));
        if self.m.makespan {
            return c.list.iter().copied().max_by_key(by_end);
        }
        self.job_tasks[self.late_job(c, rng)?].iter().copied().max_by_key(by_end)
    }

    /// Near a known plan, every other time: a task that was pushed from where people know it.
    fn pushed(&self, c: &Current, rng: &mut Rng) -> Option<u32> {
        let movement = self.movement.filter(|_| c.score.churn > 0 && rng.chance(1, 2))?;
        let picks = (0..8).map(|_| c.list[rng.below(c.list.len())]);
        picks.into_iter().find(|&t| movement.later(t as usize, c.start[t as usize]))
    }

    fn ready(&self, c: &Current, t: u32) -> Time {
        let preds = self.m.preds.row(t as usize).iter().map(|a| c.end[a.task as usize] + a.lag);
        preds.max().unwrap_or(Time::MIN).max(self.m.est[t as usize])
    }

    /// One move on `list`, a copy of the kept one. False if none was found.
    pub(crate) fn step(&mut self, c: &Current, list: &mut [u32], rng: &mut Rng) -> bool {
        let kind = rng.below(100);
        if kind < 75
            && let Some(last) = self.pushed(c, rng).or_else(|| self.latest(c, rng))
        {
            return self.hurry(c, list, last, rng);
        }
        let from = rng.below(list.len());
        if kind < 92 {
            let reach = 1 + rng.below(1 + list.len() / 8);
            if rng.chance(1, 2) {
                let to = from.saturating_sub(reach);
                if to < from {
                    self.advance(list, from, to);
                }
            } else {
                let to = (from + reach).min(list.len() - 1);
                if to > from {
                    self.delay(list, from, to);
                }
            }
            return true;
        }
        self.shift_job(list, from, rng)
    }

    /// Walks back from the end of a late job through what binds it, and takes one waiting task past what it waits for.
    fn hurry(&mut self, c: &Current, list: &mut [u32], last: u32, rng: &mut Rng) -> bool {
        let mut t = last;
        self.found.clear();
        for _ in 0..40 {
            let (ready, start) = (self.ready(c, t), c.start[t as usize]);
            let mut next = None;
            if start > ready {
                let at = c.place[t as usize] as usize;
                let mine = self.uses[t as usize];
                self.picks.clear();
                for i in (at.saturating_sub(LOOK_BACK)..at).rev() {
                    let v = list[i] as usize;
                    if self.uses[v] & mine == 0 {
                        continue;
                    }
                    let until = match self.keeps_until[v] {
                        NONE => c.end[v],
                        k => c.end[k as usize].max(c.end[v]),
                    };
                    if c.start[v] < start && until > ready {
                        self.picks.push(i as u32);
                        if until == start && next.is_none() {
                            next = Some(if self.keeps_until[v] == NONE {
                                v as u32
                            } else {
                                self.keeps_until[v]
                            });
                        }
                        if self.picks.len() >= 12 {
                            break;
                        }
                    }
                }
                if !self.picks.is_empty() {
                    let k = rng.below(self.picks.len()).min(rng.below(self.picks.len()));
                    self.found.push((at as u32, self.picks[k]));
                }
                if let Some(n) = next
                    && rng.chance(1, 2)
                {
                    t = n;
                    continue;
                }
            }
            let before = self.m.preds.row(t as usize).iter().max_by_key(|a| c.end[a.task as usize] + a.lag);
            match before.map(|a| a.task).or(next) {
                Some(n) => t = n,
                None => break,
            }
        }
        if self.found.is_empty() {
            return false;
        }
        let (at, to) = self.found[rng.below(self.found.len())];
        let (at, to) = (at as usize, to as usize);
        // One card alone seldom helps a job: what comes after it would wait in turn.
        match rng.below(10) {
            0..3 => self.pair(list, at, to),
            3..6 => self.train(list, at, to),
            6 => self.delay(list, to, at),
            _ => self.advance(list, at, to),
        }
        true
    }

    /// From place `to` on, everything of the job at `at` goes before everything of the job at `to`.
    fn pair(&mut self, list: &mut [u32], at: usize, to: usize) {
        let (mine, other) = (self.m.job[list[at] as usize], self.m.job[list[to] as usize]);
        if mine == other || mine == NONE || other == NONE || self.m.jobs_meet {
            return self.advance(list, at, to);
        }
        self.block.clear();
        self.rest.clear();
        self.picks.clear();
        for (i, &t) in list.iter().enumerate().skip(to) {
            let j = self.m.job[t as usize];
            if j == mine {
                self.block.push(t);
            } else if j == other {
                self.rest.push(t);
            } else {
                continue;
            }
            self.picks.push(i as u32);
        }
        for (&i, &t) in self.picks.iter().zip(self.block.iter().chain(&self.rest)) {
            list[i as usize] = t;
        }
    }

    /// Moves the task at `at` to place `to` and what follows it in its job by as much.
    fn train(&mut self, list: &mut [u32], at: usize, to: usize) {
        let job = self.m.job[list[at] as usize];
        if job == NONE {
            return self.advance(list, at, to);
        }
        let by = at - to;
        let mut picks = std::mem::take(&mut self.picks);
        picks.clear();
        picks.extend((at..list.len()).filter(|&i| self.m.job[list[i] as usize] == job).map(|i| i as u32));
        for &i in &picks {
            self.advance(list, i as usize, i as usize - by);
        }
        self.picks = picks;
    }

    /// Moves all tasks of one job ahead or back.
    fn shift_job(&mut self, list: &mut [u32], from: usize, rng: &mut Rng) -> bool {
        let j = self.m.job[list[from] as usize];
        if j == NONE {
            return false;
        }
        let reach = 1 + rng.below(1 + list.len() / 6);
        let ahead = rng.chance(1, 2);
        let mut places: Vec<usize> = (0..list.len()).filter(|&i| self.m.job[list[i] as usize] == j).collect();
        if !ahead {
            places.reverse();
        }
        for i in places {
            if ahead {
                let to = i.saturating_sub(reach);
                if to < i {
                    self.advance(list, i, to);
                }
            } else {
                let to = (i + reach).min(list.len() - 1);
                if to > i {
                    self.delay(list, i, to);
                }
            }
        }
        true
    }
}

impl Current {
    /// A plan's list by its starts, dispatched; where places change hands in a circle at one moment, unit by unit instead.
    pub(crate) fn new(
        d: &mut Dispatch<'_>,
        m: &Model,
        start: &[Time],
        units: &[u32],
        movement: Option<&Movement>,
    ) -> Option<Self> {
        let mut list: Vec<u32> = m.topo.iter().copied().filter(|&t| !m.fixed[t as usize]).collect();
        list.sort_by_key(|&t| start[t as usize]);
        let mut outcome = d.run(&list, 0, i64::MAX, true);
        if !matches!(outcome, Outcome::Done(_)) {
            list = units.iter().flat_map(|&u| m.members.row(u as usize)).copied().collect();
            outcome = d.run(&list, 0, i64::MAX, true);
        }
        let Outcome::Done(score) = outcome else { return None };
        let score = moved(score, movement, &d.start);
        let mut c = Self {
            place: vec![0; m.tasks],
            start: d.start.clone(),
            end: d.end.clone(),
            done: d.completions().to_vec(),
            list,
            score,
        };
        c.accept(d, score, 0, movement);
        Some(c)
    }

    /// Takes over what was just dispatched, put into the order of starts: then nearly everything starts as before or earlier.
    pub(crate) fn accept(
        &mut self,
        d: &mut Dispatch<'_>,
        score: Score,
        same: usize,
        movement: Option<&Movement>,
    ) {
        let from = d.kept_before(same);
        let placed = std::mem::take(&mut d.list);
        self.list.clone_from(&placed);
        self.list[from..].sort_by_key(|&t| d.start[t as usize]);
        let sorted = match d.run(&self.list, from, i64::MAX, true) {
            Outcome::Done(sorted) => Some(moved(sorted, movement, &d.start)),
            _ => None,
        };
        self.score = match sorted {
            Some(sorted) if movement.map_or(sorted <= score, |_| worth(sorted) <= worth(score)) => sorted,
            // What is opened earlier may be kept over a time when there is none of it.
            _ => {
                d.run(&placed, from, i64::MAX, true);
                score
            }
        };
        self.list.copy_from_slice(&d.list);
        for (i, &t) in self.list.iter().enumerate().skip(from) {
            let t = t as usize;
            self.place[t] = i as u32;
            self.start[t] = d.start[t];
            self.end[t] = d.end[t];
        }
        self.done.copy_from_slice(d.completions());
    }

    /// Puts the plan back after a list that was not taken: the places from `from` up to `to`.
    pub(crate) fn restore(&self, d: &mut Dispatch<'_>, from: usize, to: usize) {
        for &t in &self.list[from..to] {
            d.start[t as usize] = self.start[t as usize];
            d.end[t as usize] = self.end[t as usize];
        }
    }
}

/// Simulated annealing in cycles, each twice as long as the last, so that it is good whenever it is stopped.
pub(crate) struct Cooling {
    at: u64,
    length: u64,
    /// Twice a usual task's length: what a small shop tolerates, whose best plan may cost next to nothing.
    least: f64,
    /// Later cycles are longer, so they may begin warmer: what holds a short search fast is then left behind.
    cycle: u32,
}

/// Lists of the first cycle.
const CYCLE: u64 = 2_000;
/// Share of the best cost that a cycle tolerates at its beginning.
const WARMTH: f64 = 0.006;

impl Cooling {
    pub(crate) fn new(m: &Model) -> Self {
        let free = (0..m.tasks).filter(|&t| !m.fixed[t]);
        let (count, sum) = free.fold((0, 0), |(n, sum), t| (n + 1, sum + i64::from(m.dur[t])));
        Self { at: 0, length: CYCLE, least: 2.0 * sum as f64 / f64::from(count.max(1)), cycle: 0 }
    }

    /// How much worse than the current cost is still taken this time.
    pub(crate) fn allowance(&mut self, best: i64, rng: &mut Rng) -> i64 {
        if self.at == self.length {
            self.at = 0;
            self.length *= 2;
            self.cycle += 1;
        }
        let left = 1.0 - self.at as f64 / self.length as f64;
        self.at += 1;
        let warmth =
            (best as f64 * WARMTH).max(self.least) * left * left * (1.0 + f64::from(self.cycle) / 2.0);
        (warmth * exponential(rng)) as i64
    }
}

/// An exponentially distributed number by von Neumann's comparisons: only additions, so the same on every machine.
fn exponential(rng: &mut Rng) -> f64 {
    let mut whole = 0.0;
    let uniform = |rng: &mut Rng| (rng.next() >> 11) as f64 / (1u64 << 53) as f64;
    loop {
        let first = uniform(rng);
        let mut last = first;
        let mut falls = 1;
        loop {
            let next = uniform(rng);
            if next > last {
                break;
            }
            last = next;
            falls += 1;
        }
        if falls % 2 == 1 {
            return whole + first;
        }
        whole += 1.0;
    }
}

/// A cost of weighted tardiness is worth this many minutes of flow.
pub(crate) const FLOW_SHARE: i64 = 20;

/// Lateness, moves and flow in one figure.
pub(crate) fn worth(score: Score) -> i64 {
    (score.primary + score.churn) * FLOW_SHARE + score.flow
}

/// While searching near a plan, churn is the price of what moved.
pub(crate) fn moved(score: Score, movement: Option<&Movement>, start: &[Time]) -> Score {
    Score { churn: movement.map_or(0, |movement| movement.cost(start)), ..score }
}
