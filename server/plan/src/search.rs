//! Anytime improvement of the list.
//!
//! Invariants: one thread, one generator, the best list only ever gets better; the budget counts decodes or decoded tasks, so a
//! run can be repeated exactly.

use crate::decode::{self, Decoder};
use crate::dispatch::Dispatch;
use crate::jobshop::JobShop;
use crate::lists::{Cooling, Current, FLOW_SHARE, Moves};
use crate::model::Model;
use crate::problem::{FARTHEST_MINUTES, Problem};
use crate::project::{self, Project};
use crate::rng::Rng;
use crate::rules::{self, RULES};
use crate::shape::Shape;
use crate::solve::{Budget, Options, TracePoint};
use crate::{Score, Time};

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
        if let Some(previous) = self.o.previous {
            repaired = self.repair(previous);
        }
        for rule in RULES {
            if self.best.is_some() && self.spent() {
                break;
            }
            // After a change the repaired plan is the first answer; rules need more time than there is then.
            if self.o.budget == Budget::First && self.best.is_some() && repaired.is_some() {
                break;
            }
            let order = rules::rule_list(self.m, rule);
            self.evaluate(&order);
        }
        if self.best.is_none() {
            return Err(self.blocked);
        }
        if self.o.budget != Budget::First && self.m.units > 1 {
            if let Some(shop) = JobShop::new(self.m) {
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

    /// The previous plan with as little moved as the facts allow, then gaps closed; and its list decoded afresh.
    fn repair(&mut self, previous: &[Option<i64>]) -> Option<Best> {
        let order = rules::repair_list(self.m, previous);
        let floor: Vec<Time> = (0..self.m.tasks)
            .map(|t| {
                // What is put first, and what it needs, is not held to where it was.
                if !self.m.fixed[t] && self.m.class[self.m.unit_of[t] as usize] == 0 {
                    return self.m.est[t];
                }
                let old = previous.get(t).copied().flatten().unwrap_or(0);
                self.m.est[t].max(old.clamp(-FARTHEST_MINUTES, FARTHEST_MINUTES) as Time)
            })
            .collect();
        self.decodes += 1;
        if self.d.decode_from(&order, &floor).is_ok() {
            self.d.close_gaps();
            let kept = self.snapshot(&order);
            self.keep(&order);
            if self.o.budget != Budget::First {
                self.evaluate(&order);
            }
            return Some(kept);
        }
        self.evaluate(&order);
        None
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
        let mut d = Dispatch::new(self.m, &shape);
        let Some(mut c) = Current::new(&mut d, self.m, &best.start, &best.order) else { return };
        let mut moves = Moves::new(self.m, &shape);
        let mut cooling = Cooling::new(self.m);
        let mut next = c.list.clone();
        let mut rng = Rng::new(self.o.seed);
        let mut top =
            if c.score < best.score { (c.score, c.start.clone()) } else { (best.score, best.start.clone()) };
        let mut improved = c.score < best.score;
        let mut unlike = c.list.len();
        let before = self.d.work;
        loop {
            self.d.work = before + d.work;
            if self.spent() {
                break;
            }
            self.decodes += 1;
            next.copy_from_slice(&c.list);
            if !moves.step(&c, &mut next, &mut rng) {
                continue;
            }
            let same = next.iter().zip(&c.list).take_while(|(a, b)| a == b).count();
            if same == next.len() {
                continue;
            }
            let from = d.kept_before(same);
            if unlike < from {
                c.restore(&mut d, unlike, from);
            }
            unlike = from;
            let more = cooling.allowance(top.0.primary, &mut rng);
            let bound = c.score.primary + more;
            let decode::Outcome::Done(score) = d.run(&next, same, bound, false) else { continue };
            let worse = (score.primary - c.score.primary) * FLOW_SHARE + (score.flow - c.score.flow);
            if worse > more * FLOW_SHARE {
                continue;
            }
            c.accept(&mut d, score, same);
            unlike = c.list.len();
            if c.score < top.0 {
                top.0 = c.score;
                top.1.copy_from_slice(&c.start);
                improved = true;
            }
        }
        if improved {
            self.confirm(&top.1);
        }
    }

    /// Builds a plan known by its starts: as it is, with its gaps closed, and its list afresh.
    fn confirm(&mut self, start: &[Time]) {
        let starts: Vec<Option<i64>> = start.iter().map(|&s| Some(i64::from(s))).collect();
        let order = rules::repair_list(self.m, &starts);
        let floor: Vec<Time> = (0..self.m.tasks).map(|t| self.m.est[t].max(start[t])).collect();
        if self.d.decode_from(&order, &floor).is_ok() {
            self.d.close_gaps();
            self.keep(&order);
        }
        self.evaluate(&order);
    }
}
