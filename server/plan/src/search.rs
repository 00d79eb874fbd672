//! Anytime improvement of the list.
//!
//! Invariants: one thread, one generator, the best list only ever gets better; the budget counts decodes or decoded tasks, so a
//! run can be repeated exactly.

use crate::decode::Decoder;
use crate::model::Model;
use crate::rng::Rng;
use crate::rules::{self, RULES};
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
    m: &'m Model,
    o: &'o Options<'o>,
    d: Decoder<'m>,
    rng: Rng,
    decodes: u64,
    best: Option<Best>,
    trace: Vec<TracePoint>,
    blocked: Vec<u32>,
}

impl<'m, 'o> Search<'m, 'o> {
    pub(crate) fn new(m: &'m Model, o: &'o Options<'o>) -> Self {
        Self {
            m,
            o,
            d: Decoder::new(m),
            rng: Rng::new(o.seed),
            decodes: 0,
            best: None,
            trace: Vec::new(),
            blocked: Vec::new(),
        }
    }

    /// `Err`: the units that started holds block for good.
    pub(crate) fn run(mut self) -> Result<Outcome, Vec<u32>> {
        let mut repaired = None;
        if let Some(previous) = self.o.previous {
            let order = rules::repair_list(self.m, previous);
            if self.evaluate(&order).is_some() {
                repaired = Some(self.snapshot(&order));
            }
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
            self.improve();
        }
        let best = self.best.take().expect("checked above");
        Ok(Outcome { best, repaired, decodes: self.decodes, trace: self.trace })
    }

    fn spent(&self) -> bool {
        let over = match self.o.budget {
            Budget::First => false,
            Budget::Decodes(n) => self.decodes >= n,
            Budget::Tasks(n) => self.d.work >= n,
        };
        over || self.o.stop.is_some_and(|stop| stop())
    }

    fn evaluate(&mut self, order: &[u32]) -> Option<Score> {
        self.decodes += 1;
        if let Err(blocked) = self.d.decode(order) {
            self.blocked = blocked;
            return None;
        }
        let score = self.d.score();
        if self.best.as_ref().is_none_or(|b| score < b.score) {
            self.best = Some(self.snapshot(order));
            self.trace.push(TracePoint { decodes: self.decodes, score });
        }
        Some(score)
    }

    fn snapshot(&self, order: &[u32]) -> Best {
        Best {
            order: order.to_vec(),
            start: self.d.start.clone(),
            end: self.d.end.clone(),
            score: self.d.score(),
        }
    }

    fn improve(&mut self) {
        let mut now = self.best.as_ref().expect("a first list").order.clone();
        let mut now_score = self.best.as_ref().expect("a first list").score;
        let mut place = vec![0usize; self.m.units];
        while !self.spent() {
            let mut next = now.clone();
            for (i, &u) in next.iter().enumerate() {
                place[u as usize] = i;
            }
            for _ in 0..1 + self.rng.below(2) {
                let from = self.rng.below(next.len());
                self.shift(&mut next, &mut place, from);
            }
            if let Some(score) = self.evaluate(&next)
                && score <= now_score
            {
                now_score = score;
                now = next;
            }
        }
    }

    /// Moves one unit somewhere else between its predecessors and successors, inside its class.
    fn shift(&mut self, order: &mut [u32], place: &mut [usize], from: usize) {
        let u = order[from] as usize;
        let class = self.m.class[u];
        let mut low = self.m.unit_preds.row(u).iter().map(|&v| place[v as usize] + 1).max().unwrap_or(0);
        let mut high =
            self.m.unit_succs.row(u).iter().map(|&v| place[v as usize] - 1).min().unwrap_or(order.len() - 1);
        while self.m.class[order[low] as usize] < class {
            low += 1;
        }
        while self.m.class[order[high] as usize] > class {
            high -= 1;
        }
        if low >= high {
            return;
        }
        let to = low + self.rng.below(high - low + 1);
        let unit = order[from];
        if to < from {
            order.copy_within(to..from, to + 1);
        } else {
            order.copy_within(from + 1..to + 1, from);
        }
        order[to] = unit;
        for i in from.min(to)..=from.max(to) {
            place[order[i] as usize] = i;
        }
    }
}
