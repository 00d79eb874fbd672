//! Improving a list by moving what makes jobs late.
//!
//! Invariants: every list tried respects precedence between units and their classes; a move changes the list only between two
//! places, so decoding starts again at the first of them; what cannot beat the bound is dropped half-way.

use crate::decode::Decoder;
use crate::model::Model;
use crate::rng::Rng;
use crate::{Score, Time};

/// A list with the plan it decodes to, and what moves need to know about it.
pub(crate) struct Current {
    pub order: Vec<u32>,
    pub place: Vec<u32>,
    pub start: Vec<Time>,
    pub end: Vec<Time>,
    pub score: Score,
}

pub(crate) struct Moves<'m> {
    m: &'m Model,
    /// Resources of each unit, folded into 64 bits; equal resources meet, others may.
    uses: Vec<u64>,
    /// Tasks of each job that are not fixed.
    job_tasks: Vec<Vec<u32>>,
    marked: Vec<u32>,
    stamp: u32,
    block: Vec<u32>,
    rest: Vec<u32>,
    picks: Vec<u32>,
    found: Vec<(u32, u32)>,
}

impl<'m> Moves<'m> {
    pub(crate) fn new(m: &'m Model) -> Self {
        let mut uses = vec![0u64; m.units];
        let mut job_tasks = vec![Vec::new(); m.weight.len()];
        for t in 0..m.tasks {
            if m.fixed[t] {
                continue;
            }
            let u = m.unit_of[t] as usize;
            for x in m.needs.row(t) {
                uses[u] |= 1 << (x.res % 64);
            }
            for h in m.opens.row(t) {
                uses[u] |= 1 << (h.res % 64);
            }
            if m.job[t] != crate::NONE {
                job_tasks[m.job[t] as usize].push(t as u32);
            }
        }
        Self {
            m,
            uses,
            job_tasks,
            marked: vec![0; m.units],
            stamp: 0,
            block: Vec::new(),
            rest: Vec::new(),
            picks: Vec::new(),
            found: Vec::new(),
        }
    }

    /// Moves the unit at `from` to place `to` further ahead, together with what it needs from in between.
    pub(crate) fn advance(&mut self, order: &mut [u32], from: usize, to: usize) {
        self.stamp += 1;
        self.block.clear();
        self.rest.clear();
        self.marked[order[from] as usize] = self.stamp;
        for i in (to..=from).rev() {
            let u = order[i];
            if self.marked[u as usize] == self.stamp {
                self.block.push(u);
                for &v in self.m.unit_preds.row(u as usize) {
                    self.marked[v as usize] = self.stamp;
                }
            } else {
                self.rest.push(u);
            }
        }
        for (i, &u) in self.block.iter().rev().chain(self.rest.iter().rev()).enumerate() {
            order[to + i] = u;
        }
    }

    /// Moves the unit at `from` back to place `to`, together with what needs it from in between.
    pub(crate) fn delay(&mut self, order: &mut [u32], from: usize, to: usize) {
        self.stamp += 1;
        self.block.clear();
        self.rest.clear();
        self.marked[order[from] as usize] = self.stamp;
        for &u in &order[from..=to] {
            if self.marked[u as usize] == self.stamp {
                self.block.push(u);
                for &v in self.m.unit_succs.row(u as usize) {
                    self.marked[v as usize] = self.stamp;
                }
            } else {
                self.rest.push(u);
            }
        }
        for (i, &u) in self.rest.iter().chain(&self.block).enumerate() {
            order[from + i] = u;
        }
    }

    fn class_bounds(&self, order: &[u32], at: usize) -> (usize, usize) {
        let class = self.m.class[order[at] as usize];
        let low = order.partition_point(|&u| self.m.class[u as usize] < class);
        let high = order.partition_point(|&u| self.m.class[u as usize] <= class);
        (low, high)
    }

    /// A job picked by how much its lateness costs; none if nothing is late.
    fn late_job(&self, c: &Current, rng: &mut Rng) -> Option<usize> {
        let cost = |j: usize| {
            let done = self.job_tasks[j].iter().map(|&t| c.end[t as usize]).max();
            let least = self.m.lateness(j as u32, self.m.job_least[j]);
            done.map_or(0, |d| self.m.lateness(j as u32, d) - least)
        };
        let mut total = 0i64;
        let mut pick = None;
        // One pass: keep each with the odds of its share so far.
        for j in 0..self.job_tasks.len() {
            let cost = cost(j);
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
            return (0..self.m.tasks as u32).filter(|&t| !self.m.fixed[t as usize]).max_by_key(by_end);
        }
        self.job_tasks[self.late_job(c, rng)?].iter().copied().max_by_key(by_end)
    }

    fn ready(&self, c: &Current, t: u32) -> Time {
        let preds = self.m.preds.row(t as usize).iter().map(|a| c.end[a.task as usize] + a.lag);
        preds.max().unwrap_or(Time::MIN).max(self.m.est[t as usize])
    }

    /// One move on `order`, a copy of the current list. False if none was found.
    pub(crate) fn step(&mut self, c: &Current, order: &mut [u32], rng: &mut Rng) -> bool {
        let kind = rng.below(100);
        if kind < 85
            && let Some(last) = self.latest(c, rng)
        {
            return self.hurry(c, order, last, rng);
        }
        let from = rng.below(order.len());
        let (low, high) = self.class_bounds(order, from);
        if kind < 97 {
            let reach = 1 + rng.below(1 + order.len() / 8);
            if rng.chance(1, 2) {
                let to = from.saturating_sub(reach).max(low);
                if to < from {
                    self.advance(order, from, to);
                    return true;
                }
            } else {
                let to = (from + reach).min(high - 1);
                if to > from {
                    self.delay(order, from, to);
                    return true;
                }
            }
            return false;
        }
        self.shift_job(order, from, rng)
    }

    /// Walks back from the end of a late job through what binds it, and takes one waiting unit past what it waits for.
    fn hurry(&mut self, c: &Current, order: &mut [u32], last: u32, rng: &mut Rng) -> bool {
        let mut t = last;
        self.picks.clear();
        self.found.clear();
        for _ in 0..40 {
            let (ready, start) = (self.ready(c, t), c.start[t as usize]);
            let mut next = None;
            if start > ready {
                let u = self.m.unit_of[t as usize];
                let at = c.place[u as usize] as usize;
                let mine = self.uses[u as usize];
                let (low, _) = self.class_bounds(order, at);
                self.picks.clear();
                for i in (low..at).rev() {
                    let v = order[i] as usize;
                    if self.uses[v] & mine == 0 {
                        continue;
                    }
                    let members = self.m.members.row(v);
                    let first = c.start[members[0] as usize];
                    let last = c.end[members[members.len() - 1] as usize];
                    if first < start && last > ready {
                        self.picks.push(i as u32);
                        if last == start && next.is_none() {
                            next = Some(members[members.len() - 1]);
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
            0..3 => return self.pair(order, at, to),
            3..6 => return self.train(order, at, to),
            _ => {}
        }
        if rng.chance(1, 4) {
            self.delay(order, to, at);
        } else {
            self.advance(order, at, to);
        }
        true
    }

    fn job_of(&self, u: u32) -> u32 {
        self.m.job[self.m.members.row(u as usize)[0] as usize]
    }

    /// From place `to` on, everything of the job at `at` goes before everything of the job at `to`.
    fn pair(&mut self, order: &mut [u32], at: usize, to: usize) -> bool {
        let (mine, other) = (self.job_of(order[at]), self.job_of(order[to]));
        if mine == other || mine == crate::NONE || other == crate::NONE || self.m.jobs_meet {
            self.advance(order, at, to);
            return true;
        }
        let class = self.m.class[order[at] as usize];
        self.block.clear();
        self.rest.clear();
        self.picks.clear();
        for (i, &u) in order.iter().enumerate().skip(to) {
            let j = if self.m.class[u as usize] == class { self.job_of(u) } else { crate::NONE };
            if j == mine {
                self.block.push(u);
            } else if j == other {
                self.rest.push(u);
            } else {
                continue;
            }
            self.picks.push(i as u32);
        }
        for (&i, &u) in self.picks.iter().zip(self.block.iter().chain(&self.rest)) {
            order[i as usize] = u;
        }
        true
    }

    /// Moves the unit at `at` to place `to` and what follows it in its job by as much.
    fn train(&mut self, order: &mut [u32], at: usize, to: usize) -> bool {
        let job = self.job_of(order[at]);
        if job == crate::NONE {
            self.advance(order, at, to);
            return true;
        }
        let by = at - to;
        self.picks.clear();
        for (i, &u) in order.iter().enumerate().skip(at) {
            if self.job_of(u) == job {
                self.picks.push(i as u32);
            }
        }
        for k in 0..self.picks.len() {
            let i = self.picks[k] as usize;
            let (low, _) = self.class_bounds(order, i);
            self.advance(order, i, (i - by).max(low));
        }
        true
    }

    /// Moves all units of one job ahead or back.
    fn shift_job(&mut self, order: &mut [u32], from: usize, rng: &mut Rng) -> bool {
        let t = self.m.members.row(order[from] as usize)[0];
        let j = self.m.job[t as usize];
        if j == crate::NONE {
            return false;
        }
        let reach = 1 + rng.below(1 + order.len() / 6);
        let own = |u: u32| self.m.members.row(u as usize).iter().any(|&t| self.m.job[t as usize] == j);
        let ahead = rng.chance(1, 2);
        let mut places: Vec<usize> = (0..order.len()).filter(|&i| own(order[i])).collect();
        if !ahead {
            places.reverse();
        }
        for i in places {
            let (low, high) = self.class_bounds(order, i);
            if ahead {
                let to = i.saturating_sub(reach).max(low);
                if to < i {
                    self.advance(order, i, to);
                }
            } else {
                let to = (i + reach).min(high - 1);
                if to > i {
                    self.delay(order, i, to);
                }
            }
        }
        true
    }
}

impl Current {
    pub(crate) fn new(order: &[u32], d: &Decoder<'_>, score: Score) -> Self {
        let mut c = Self {
            order: order.to_vec(),
            place: vec![0; order.len()],
            start: d.start.clone(),
            end: d.end.clone(),
            score,
        };
        c.index();
        c
    }

    fn index(&mut self) {
        for (i, &u) in self.order.iter().enumerate() {
            self.place[u as usize] = i as u32;
        }
    }

    /// Takes over what was just decoded. The insertion order decodes to the same plan and nothing in it is put off.
    pub(crate) fn accept(&mut self, d: &Decoder<'_>, score: Score) {
        self.order.copy_from_slice(&d.inserted);
        self.start.copy_from_slice(&d.start);
        self.end.copy_from_slice(&d.end);
        self.score = score;
        self.index();
    }
}

/// Simulated annealing in cycles, each twice as long as the last, so that it is good whenever it is stopped.
pub(crate) struct Cooling {
    at: u64,
    length: u64,
}

/// Decodes of the first cycle. Long, because a cold list hardly moves any more.
const CYCLE: u64 = 40_000;
/// Share of the best cost that a cycle tolerates at its beginning.
const WARMTH: f64 = 0.006;

impl Cooling {
    pub(crate) fn new() -> Self {
        Self { at: 0, length: CYCLE }
    }

    /// How much worse than the current cost is still taken this time.
    pub(crate) fn allowance(&mut self, best: i64, rng: &mut Rng) -> i64 {
        if self.at == self.length {
            self.at = 0;
            self.length *= 2;
        }
        let left = 1.0 - self.at as f64 / self.length as f64;
        self.at += 1;
        let warmth = best as f64 * WARMTH * left * left;
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
