//! Anytime improvement of the list.
//!
//! Invariants: one thread, one generator, the best list only ever gets better; the budget counts decodes or decoded tasks, so a
//! run can be repeated exactly.

use crate::decode::{self, Decoder};
use crate::dispatch::Dispatch;
use crate::jobshop::JobShop;
use crate::keep::{AT_ONCE, FILL_LEAST, Keep, Known, Movement, Repair};
use crate::lists::{Cooling, Current, FLOW_SHARE, Moves, moved, worth};
use crate::model::Model;
use crate::problem::Problem;
use crate::project::{self, Project};
use crate::rng::Rng;
use crate::rules::{self, RULES};
use crate::shape::Shape;
use crate::solve::{Budget, Options, TracePoint};
use crate::{FAR, NONE, Score, Time};

pub(crate) struct Best {
    pub order: Vec<u32>,
    pub start: Vec<Time>,
    pub end: Vec<Time>,
    pub score: Score,
}

pub(crate) struct Outcome {
    pub best: Best,
    pub repaired: Option<Best>,
    pub decodes: u64,
    pub trace: Vec<TracePoint>,
}

pub(crate) struct Search<'m, 'o> {
    p: &'m Problem,
    m: &'m Model,
    o: &'o Options<'o>,
    d: Decoder<'m>,
    decodes: u64,
    best: Option<Best>,
    trace: Vec<TracePoint>,
    blocked: Vec<u32>,
}

fn over(budget: Budget, decodes: u64, work: u64) -> bool {
    match budget {
        Budget::First => false,
        Budget::Decodes(n) => decodes >= n,
        Budget::Tasks(n) => work >= n,
    }
}

impl<'m, 'o> Search<'m, 'o> {
    pub(crate) fn new(p: &'m Problem, m: &'m Model, o: &'o Options<'o>) -> Self {
        Self { p, m, o, d: Decoder::new(m), decodes: 0, best: None, trace: Vec::new(), blocked: Vec::new() }
    }

    /// `Err`: the units that started holds block for good.
    pub(crate) fn run(mut self) -> Result<Outcome, Vec<u32>> {
        let mut repaired = None;
        let mut known = self.o.previous.map(|previous| Known::new(self.m, previous));
        if let Some(known) = &mut known {
            repaired = self.repair(known);
        }
        // After a change the repaired plan is the first answer, and what is searched near it needs no rules.
        let stays = repaired.is_some() && (self.o.budget == Budget::First || self.o.keep.is_some());
        for rule in RULES {
            if stays || (self.best.is_some() && self.spent()) {
                break;
            }
            let order = rules::rule_list(self.m, rule);
            self.evaluate(&order);
        }
        if self.best.is_none() {
            return Err(self.blocked);
        }
        if self.o.budget != Budget::First && self.m.units > 1 {
            if let (Some(keep), Some(old), Some(known)) = (self.o.keep, &repaired, &known) {
                self.improve_near(&keep, old, known);
            } else if let Some(shop) = JobShop::new(self.m) {
                self.disjunctive(shop);
            } else if let Some(back) = project::mirrored(self.p).and_then(|p| Model::new(&p).ok()) {
                self.genetic(&back);
            } else {
                self.improve();
            }
        }
        let best = self.best.take().expect("checked above");
        Ok(Outcome { best, repaired, decodes: self.decodes, trace: self.trace })
    }

    fn spent(&self) -> bool {
        over(self.o.budget, self.decodes, self.d.work) || self.o.stop.is_some_and(|stop| stop())
    }

    fn evaluate(&mut self, order: &[u32]) -> Option<Score> {
        self.decodes += 1;
        if let Err(blocked) = self.d.decode(order) {
            self.blocked = blocked;
            return None;
        }
        Some(self.keep(order))
    }

    /// Remembers the decoded plan if it is the best so far.
    fn keep(&mut self, order: &[u32]) -> Score {
        let score = self.d.score();
        if self.best.as_ref().is_none_or(|b| score < b.score) {
            self.best = Some(self.snapshot(order));
            self.trace.push(TracePoint { decodes: self.decodes, score });
        }
        score
    }

    /// The previous plan with as little moved as the facts allow; without a price on moving, also its list decoded afresh.
    fn repair(&mut self, known: &mut Known) -> Option<Best> {
        self.decodes += 1;
        let mut repair = Repair::new(self.m, known);
        let order = match repair.build(&mut self.d, self.o.keep.as_ref()) {
            Ok(order) => order,
            Err(blocked) => {
                self.blocked = blocked;
                return None;
            }
        };
        let order = match &self.o.keep {
            Some(keep) if self.o.budget != Budget::First => repair.exchange(&mut self.d, keep, order),
            _ => order,
        };
        match self.o.keep {
            Some(keep) => {
                self.d.close_gaps(self.m.now + AT_ONCE);
                let filled = self.d.fill_gaps(keep.fill_max, FILL_LEAST);
                known.move_to(&filled, &self.d.start);
            }
            None => self.d.close_gaps(FAR),
        }
        let kept = self.snapshot(&order);
        self.keep(&order);
        if self.o.budget != Budget::First && self.o.keep.is_none() {
            self.evaluate(&order);
        }
        Some(kept)
    }

    fn snapshot(&self, order: &[u32]) -> Best {
        Best {
            order: order.to_vec(),
            start: self.d.start.clone(),
            end: self.d.end.clone(),
            score: self.d.score(),
        }
    }

    /// Job-shop-shaped problems: the disjunctive graph searches, the decoder confirms.
    fn disjunctive(&mut self, mut shop: JobShop<'m>) {
        let best = self.best.as_ref().expect("a first list");
        shop.load(&best.start, &best.order);
        let mut rng = Rng::new(self.o.seed);
        let (budget, stop, tasks) = (self.o.budget, self.o.stop, self.m.tasks as u64);
        let (mut decodes, mut work) = (self.decodes, self.d.work);
        let counted = std::cell::Cell::new(decodes);
        let mut spent = || {
            decodes += 1;
            work += tasks;
            counted.set(decodes);
            over(budget, decodes, work) || stop.is_some_and(|stop| stop())
        };
        let mut found = |order: &[u32]| {
            self.decodes = counted.get();
            if self.d.decode(order).is_ok() {
                self.keep(order);
            }
        };
        shop.run(&mut rng, &mut spent, &mut found);
        self.decodes = counted.get();
        self.d.work = work;
    }

    /// Far enough behind the best plan that no list worth having reaches it.
    fn horizon(&self, best: &Best) -> Time {
        let end = best.end.iter().copied().max().unwrap_or(self.m.now);
        let longest = self.m.tail.iter().copied().max().unwrap_or(0);
        end + (end - self.m.now) / 4 + longest + 1
    }

    /// Projects: makespan on pools.
    fn genetic(&mut self, back: &Model) {
        let best = self.best.as_ref().expect("a first list");
        let mut project = Project::new(self.m, back, self.horizon(best));
        let order = best.order.clone();
        let keys = rules::keys(self.m, rules::Rule::MostWork);
        let mut rng = Rng::new(self.o.seed);
        let (budget, stop) = (self.o.budget, self.o.stop);
        let (decodes, work) = (self.decodes, self.d.work);
        let last = std::cell::Cell::new((decodes, work));
        let mut spent = |d: u64, w: u64| {
            last.set((decodes + d, work + w));
            over(budget, decodes + d, work + w) || stop.is_some_and(|stop| stop())
        };
        let mut found = |order: &[u32], d: u64| {
            self.decodes = decodes + d;
            if self.d.decode(order).is_ok() {
                self.keep(order);
            }
        };
        project.run(&order, &keys, &mut rng, &mut spent, &mut found);
        (self.decodes, self.d.work) = last.get();
    }

    /// Everything else: lists of tasks, dispatched and annealed; the decoder builds the best of them.
    fn improve(&mut self) {
        let best = self.best.as_ref().expect("a first list");
        let shape = Shape::new(self.p, self.m, &best.start);
        let (first, order) = ((best.score, best.start.clone()), best.order.clone());
        let mut d = Dispatch::new(self.m, &shape);
        let Some(mut c) = Current::new(&mut d, self.m, &first.1, &order, None) else { return };
        let top = if c.score < first.0 { (c.score, c.start.clone()) } else { first.clone() };
        let top = self.anneal(&mut d, &mut c, &shape, top, None);
        if top.0 < first.0 {
            self.confirm(&top.1);
        }
    }

    /// The same near a plan that people know: what moves from there has its price, and is taken back where it does not pay.
    fn improve_near(&mut self, keep: &Keep, old: &Best, known: &Known) {
        let m = self.m;
        let late = |j: u32| m.lateness(j, self.done(j, &old.end)) > m.lateness(j, m.job_least[j as usize]);
        // A job that is in time has nothing to win by being earlier, and others would have to look again.
        let mut free: Vec<bool> = (0..m.weight.len() as u32).map(|j| keep.all || late(j)).collect();
        for t in (0..m.tasks).filter(|&t| !m.fixed[t] && !known.task[t] && m.job[t] != NONE) {
            free[m.job[t] as usize] = true;
        }
        let movement = Movement::new(m, keep, known);
        let first = (moved(old.score, Some(&movement), &old.start), old.start.clone());
        if first.0.churn == 0 && !free.contains(&true) {
            return;
        }
        let mut shape = Shape::new(self.p, m, &old.start);
        shape.hold_back(m, &known.start, &free);
        let top = {
            let mut d = Dispatch::new(m, &shape);
            let Some(mut c) = Current::new(&mut d, m, &old.start, &old.order, Some(&movement)) else {
                return;
            };
            let better = worth(c.score) < worth(first.0);
            let top = if better { (c.score, c.start.clone()) } else { first.clone() };
            self.anneal(&mut d, &mut c, &shape, top, Some(&movement))
        };
        if worth(top.0) < worth(first.0) {
            let share = m.tasks * keep.moved_permille_max / 1000;
            let most = movement.moved(&old.start).max(share).max(FEW);
            let top = self.take_back(&movement, shape, free, top, most);
            if movement.moved(&top.1) <= most {
                self.confirm_near(&movement, first.0, &top);
            }
        }
    }

    fn done(&self, job: u32, end: &[Time]) -> Time {
        let own = (0..self.m.tasks).filter(|&t| self.m.job[t] == job);
        own.map(|t| end[t]).max().unwrap_or(Time::MIN)
    }

    /// Tries list after list until the budget is spent; the best score and starts.
    fn anneal(
        &mut self,
        d: &mut Dispatch<'_>,
        c: &mut Current,
        shape: &Shape,
        mut top: (Score, Vec<Time>),
        movement: Option<&Movement>,
    ) -> (Score, Vec<Time>) {
        let mut moves = Moves::new(self.m, shape, movement);
        let mut cooling = Cooling::new(self.m);
        let mut next = c.list.clone();
        let mut rng = Rng::new(self.o.seed);
        let mut unlike = c.list.len();
        let before = self.d.work;
        let mut tries = 0;
        loop {
            self.d.work = before + d.work + tries * TRY_TASKS;
            if self.spent() {
                return top;
            }
            tries += 1;
            self.decodes += 1;
            next.copy_from_slice(&c.list);
            if !moves.step(c, &mut next, &mut rng) {
                continue;
            }
            let same = next.iter().zip(&c.list).take_while(|(a, b)| a == b).count();
            if same == next.len() {
                continue;
            }
            let from = d.kept_before(same);
            if unlike < from {
                c.restore(d, unlike, from);
            }
            unlike = from;
            let more = cooling.allowance(top.0.primary + top.0.churn, &mut rng);
            let bound = c.score.primary + c.score.churn + more;
            let decode::Outcome::Done(score) = d.run(&next, same, bound, false) else { continue };
            let score = moved(score, movement, &d.start);
            let worse = worth(score) - worth(c.score);
            if worse > more * FLOW_SHARE {
                continue;
            }
            c.accept(d, score, same, movement);
            unlike = c.list.len();
            let better = match movement {
                Some(_) => worth(c.score) < worth(top.0),
                None => c.score < top.0,
            };
            if better {
                top.0 = c.score;
                top.1.copy_from_slice(&c.start);
            }
        }
    }

    /// Job by job, what moved earlier goes back to where people know it, with those it pushed, unless that costs more; then what
    /// wins least for its moves, until no more than `most` tasks move.
    fn take_back(
        &mut self,
        movement: &Movement,
        mut shape: Shape,
        mut free: Vec<bool>,
        mut top: (Score, Vec<Time>),
        most: usize,
    ) -> (Score, Vec<Time>) {
        let m = self.m;
        // Those that moved least first: they win least by it.
        let shift = |j: usize, start: &[Time]| -> i64 {
            let own = (0..m.tasks).filter(|&t| m.job[t] as usize == j && !m.fixed[t]);
            own.map(|t| i64::from((start[t] - movement.from(t)).abs())).sum()
        };
        let mut jobs: Vec<usize> = (0..free.len()).filter(|&j| free[j]).collect();
        jobs.sort_by_cached_key(|&j| (shift(j, &top.1), j));
        for &j in &jobs {
            if shift(j, &top.1) == 0 {
                continue;
            }
            match self.back(movement, &shape, &free, &top.1, j) {
                Some((back, score, start)) if worth(score) <= worth(top.0) => {
                    (shape, top, free[j]) = (back, (score, start), false);
                }
                _ => {}
            }
        }
        while movement.moved(&top.1) > most {
            let moved = movement.moved(&top.1);
            let mut cheapest: Option<(i64, usize, Shape, Score, Vec<Time>)> = None;
            for &j in jobs.iter().filter(|&&j| free[j] && shift(j, &top.1) > 0) {
                let Some((back, score, start)) = self.back(movement, &shape, &free, &top.1, j) else {
                    continue;
                };
                let fewer = moved.saturating_sub(movement.moved(&start)) as i64;
                if fewer > 0 {
                    let loss = (worth(score) - worth(top.0)) / fewer;
                    if cheapest.as_ref().is_none_or(|(least, ..)| loss < *least) {
                        cheapest = Some((loss, j, back, score, start));
                    }
                }
            }
            let Some((_, j, back, score, start)) = cheapest else { break };
            (shape, top, free[j]) = (back, (score, start), false);
        }
        top
    }

    /// The plan with one job where people know it.
    fn back(
        &mut self,
        movement: &Movement,
        shape: &Shape,
        free: &[bool],
        start: &[Time],
        job: usize,
    ) -> Option<(Shape, Score, Vec<Time>)> {
        let m = self.m;
        let old: Vec<Time> = (0..m.tasks).map(|t| movement.from(t)).collect();
        let mut free = free.to_vec();
        free[job] = false;
        let mut back = shape.clone();
        back.hold_back(m, &old, &free);
        let mut list: Vec<u32> = m.topo.iter().copied().filter(|&t| !m.fixed[t as usize]).collect();
        list.sort_by_key(
            |&t| if m.job[t as usize] as usize == job { old[t as usize] } else { start[t as usize] },
        );
        let mut d = Dispatch::new(m, &back);
        let done = d.run(&list, 0, i64::MAX, false);
        self.d.work += d.work;
        let decode::Outcome::Done(score) = done else { return None };
        let (score, start) = (moved(score, Some(movement), &d.start), std::mem::take(&mut d.start));
        drop(d);
        Some((back, score, start))
    }

    /// Builds a plan known by its starts: as it is, with its gaps closed, and its list afresh.
    fn confirm(&mut self, start: &[Time]) {
        let order = rules::by_starts(self.m, start);
        let floor: Vec<Time> = (0..self.m.tasks).map(|t| self.m.est[t].max(start[t])).collect();
        if self.d.decode_from(&order, &floor).is_ok() {
            self.d.close_gaps(FAR);
            self.keep(&order);
        }
        self.evaluate(&order);
    }

    /// Builds it as it is; it counts if it is worth its moves then too.
    fn confirm_near(&mut self, movement: &Movement, first: Score, top: &(Score, Vec<Time>)) {
        let order = rules::by_starts(self.m, &top.1);
        let floor: Vec<Time> = (0..self.m.tasks).map(|t| self.m.est[t].max(top.1[t])).collect();
        self.decodes += 1;
        if self.d.decode_from(&order, &floor).is_err() {
            return;
        }
        let score = moved(self.d.score(), Some(movement), &self.d.start);
        if worth(score) + LEAST_GAIN * FLOW_SHARE < worth(first) {
            self.best = Some(self.snapshot(&order));
            self.trace.push(TracePoint { decodes: self.decodes, score: self.d.score() });
        }
    }
}

/// A list that is not worth dispatching costs as much as dispatching this many tasks, so that every search ends.
const TRY_TASKS: u64 = 16;
/// So many tasks may move in any shop: of a small one a share would be none.
const FEW: usize = 6;
/// A new order wins at least this much beyond the price of its moves, in weight × minutes.
const LEAST_GAIN: i64 = 30;
