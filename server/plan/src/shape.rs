//! What dispatching reads of the model, side by side: the tasks with what they need, and the resources as rows of moments.
//!
//! Invariant: a resource is left out only where precedence alone lets one use of it follow the other, so that nothing about it
//! is left to decide (nearly every vehicle's own place).
//! Must not know: lists; what has been given out.

use crate::model::{Arc, Model};
use crate::problem::{Problem, Until};
use crate::profile::Profile;
use crate::{FAR, NONE, Time};

/// A hold that ends with a task.
#[derive(Clone, Copy)]
pub(crate) struct HoldEnd {
    pub row: u32,
    pub len: u16,
    pub steps: u32,
    pub qty: i32,
    pub until: Until,
    /// Its opening task; `NONE` if it has started.
    pub from: u32,
}

/// A demand of a task or an opened hold.
#[derive(Clone, Copy)]
pub(crate) struct Want {
    pub res: u32,
    pub qty: i32,
    /// Its row of moments, and which of them must have passed; an empty row: it has steps.
    pub row: u32,
    pub len: u16,
    pub index: u16,
    pub steps: u32,
    pub wall: bool,
    /// For a hold: it lasts at least so long, and ends with this task.
    pub least: Time,
    pub to: u32,
}

/// All that dispatching asks of a task, side by side: this is read more often than anything else.
#[derive(Clone, Copy)]
pub(crate) struct Card {
    pub est: Time,
    /// Put-first and sticky tasks may not start later than in the first plan.
    pub limit: Time,
    pub dur: Time,
    pub after_least: Time,
    pub job_after_least: Time,
    pub job: u32,
    pub cal: u32,
    pub preds: (u32, u32),
    pub needs: (u32, u32),
    pub opens: u32,
    pub closes: (u32, u32),
    pub one_go: bool,
    /// Some demand is for a resource with steps.
    pub steps: bool,
}

/// What the list decides: the model without the resources that precedence alone keeps free of conflicts.
#[derive(Clone)]
pub(crate) struct Shape {
    pub cards: Vec<Card>,
    pub preds: Vec<Arc>,
    pub wants: Vec<Want>,
    pub closes: Vec<HoldEnd>,
    /// Moments at which each resource becomes free, first ones first.
    pub free: Vec<Time>,
    pub steps: Vec<Profile>,
}

impl Shape {
    /// `first`: starts of a plan that gives the put-first and sticky tasks their due.
    pub(crate) fn new(p: &Problem, m: &Model, first: &[Time]) -> Self {
        let mut est = m.est.clone();
        let mut kept = vec![true; p.resources.len()];
        let uses = Uses::of(p, m);
        for (r, kept) in kept.iter_mut().enumerate() {
            if p.resources[r].availability.is_empty() && uses.in_turn(r, p, m) {
                *kept = false;
                let until = uses.facts[r].iter().copied().filter(|&e| e < FAR).max().unwrap_or(Time::MIN);
                for &(from, _) in &uses.free[r] {
                    est[from as usize] = est[from as usize].max(until);
                }
            }
        }
        let steps_of: Vec<u32> = {
            let mut next = 0;
            let mut number = |r: usize| {
                let own = kept[r] && !p.resources[r].availability.is_empty();
                next += u32::from(own);
                if own { next - 1 } else { NONE }
            };
            (0..p.resources.len()).map(&mut number).collect()
        };
        let steps =
            (0..p.resources.len()).filter(|&r| steps_of[r] != NONE).map(|r| m.base[r].clone()).collect();
        let (mut free, mut row) = (Vec::new(), vec![0]);
        for r in 0..p.resources.len() {
            let mut own = uses.facts[r].clone();
            if !kept[r] || steps_of[r] != NONE {
                own.clear();
            } else {
                own.resize(own.len().max(p.resources[r].capacity as usize), Time::MIN);
                own.sort_unstable();
            }
            free.extend(own);
            row.push(free.len() as u32);
        }
        let want = |res: u32, qty: i32, wall: bool, least: Time, to: u32| {
            let r = res as usize;
            let (a, b) = (row[r], row[r + 1]);
            let index = if a == b { 0 } else { b - a - p.resources[r].capacity + qty as u32 - 1 };
            let (len, index) = ((b - a) as u16, index as u16);
            Want { res, qty, row: a, len, index, steps: steps_of[r], wall, least, to }
        };
        let mut ends: Vec<Vec<HoldEnd>> = vec![Vec::new(); m.tasks];
        let end = |res: u32, qty: i32, until: Until, from: u32| {
            let w = want(res, qty, true, 0, NONE);
            HoldEnd { row: w.row, len: w.len, steps: w.steps, qty, until, from }
        };
        for t in 0..m.tasks {
            let started = m.closes.row(t).iter().filter(|c| kept[c.res as usize]);
            ends[t].extend(started.map(|c| end(c.res, c.qty, c.until, NONE)));
            for h in m.opens.row(t).iter().filter(|h| kept[h.res as usize]) {
                ends[h.to as usize].push(end(h.res, h.qty, h.until, t as u32));
            }
        }
        let (mut cards, mut preds, mut wants, mut closes) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for t in 0..m.tasks {
            let begin = (preds.len() as u32, wants.len() as u32, closes.len() as u32);
            preds.extend_from_slice(m.preds.row(t));
            let own = m.needs.row(t).iter().filter(|x| kept[x.res as usize] && m.dur[t] > 0);
            wants.extend(own.map(|x| want(x.res, x.qty, x.wall || m.cal[t] == NONE, 0, NONE)));
            let opens = wants.len() as u32;
            let own = m.opens.row(t).iter().filter(|h| kept[h.res as usize]);
            wants.extend(own.map(|h| want(h.res, h.qty, true, h.least, h.to)));
            closes.append(&mut ends[t]);
            let class = if m.fixed[t] { 2 } else { m.class[m.unit_of[t] as usize] };
            cards.push(Card {
                est: est[t],
                limit: if class < 2 { first[t] } else { FAR },
                dur: m.dur[t],
                after_least: m.after_least[t],
                job_after_least: m.job_after_least[t],
                job: m.job[t],
                cal: if m.dur[t] == 0 { NONE } else { m.cal[t] },
                preds: (begin.0, preds.len() as u32),
                needs: (begin.1, opens),
                opens: wants.len() as u32,
                closes: (begin.2, closes.len() as u32),
                one_go: m.one_go[t],
                steps: wants[begin.1 as usize..].iter().any(|w: &Want| w.steps != NONE),
            });
        }
        Self { cards, preds, wants, closes, free, steps }
    }

    /// Tasks of jobs that are not `free` begin no earlier than in a plan that people know.
    pub(crate) fn hold_back(&mut self, m: &Model, start: &[Time], free: &[bool]) {
        for (t, card) in self.cards.iter_mut().enumerate() {
            let may = m.job[t] != NONE && free[m.job[t] as usize];
            if !m.fixed[t] && !may && m.class[m.unit_of[t] as usize] > 0 {
                card.est = card.est.max(start[t]);
            }
        }
    }

    /// Another length and earliest start of a task, for one run of a forecast.
    pub(crate) fn vary(&mut self, t: usize, dur: Time, est: Time) {
        self.cards[t].dur = dur;
        self.cards[t].est = est;
    }

    pub(crate) fn est(&self, t: usize) -> Time {
        self.cards[t].est
    }

    pub(crate) fn wants(&self, t: usize) -> &[Want] {
        let c = &self.cards[t];
        &self.wants[c.needs.0 as usize..c.opens as usize]
    }
}

/// Who uses each resource.
struct Uses {
    /// Ends of what facts keep; `FAR` until a closing task.
    facts: Vec<Vec<Time>>,
    /// First and last task of each free use, and of started holds (`NONE`, last).
    free: Vec<Vec<(u32, u32)>>,
    closers: Vec<Vec<u32>>,
}

impl Uses {
    fn of(p: &Problem, m: &Model) -> Self {
        let n = p.resources.len();
        let mut u =
            Self { facts: vec![Vec::new(); n], free: vec![Vec::new(); n], closers: vec![Vec::new(); n] };
        let repeat = |end: Time, qty: i32| std::iter::repeat_n(end, qty.max(0) as usize);
        for &t in &m.topo {
            let i = t as usize;
            for x in m.needs.row(i) {
                if m.fixed[i] {
                    u.facts[x.res as usize].extend(repeat(m.fixed_end[i], x.qty));
                } else if m.dur[i] > 0 {
                    u.free[x.res as usize].push((t, t));
                }
            }
            for h in m.opens.row(i) {
                u.free[h.res as usize].push((t, h.to));
            }
            for c in m.closes.row(i) {
                u.facts[c.res as usize].extend(repeat(FAR, c.qty));
                u.closers[c.res as usize].push(t);
            }
        }
        for h in &p.holds {
            let begun = h.from.is_none_or(|f| m.fixed[f]);
            if begun && m.fixed[h.to] {
                let end = if h.until == Until::End { m.fixed_end[h.to] } else { m.fixed_start[h.to] };
                u.facts[h.resource].extend(repeat(end, h.qty as i32));
            }
        }
        u
    }

    /// True if precedence alone lets one use follow the other: then nothing about this resource is left to decide.
    fn in_turn(&self, r: usize, p: &Problem, m: &Model) -> bool {
        let mut last: Option<u32> = match *self.closers[r] {
            [] => None,
            [c] => Some(c),
            _ => return false,
        };
        if self.free[r].len() > 64
            || (self.closers[r].len() == 1 && self.facts[r].len() > p.resources[r].capacity as usize)
        {
            return false;
        }
        for &(from, to) in &self.free[r] {
            if last.is_some_and(|l| !leads(m, l, from)) {
                return false;
            }
            last = Some(to);
        }
        true
    }
}

/// A path from the end of one task to the start of another.
fn leads(m: &Model, from: u32, to: u32) -> bool {
    let mut todo = vec![from];
    let mut seen = std::collections::BTreeSet::new();
    while let Some(t) = todo.pop() {
        for a in m.succs.row(t as usize) {
            if a.task == to {
                return true;
            }
            if seen.insert(a.task) {
                todo.push(a.task);
            }
        }
    }
    false
}
