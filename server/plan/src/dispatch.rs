//! Dispatching a list of tasks: each starts as soon as what it needs is free behind everything given out before it.
//!
//! Much cheaper than placing units into gaps, and no worse for searching: sorted by start, any plan comes out of
//! its own list again, so what a gap could give, an exchange in the list gives too.
//! Invariants: a resource that is always there is a row of moments at which one of it becomes free, so nothing is filled in
//! behind; one that comes and goes keeps its steps; a hold keeps its resource without end until its closing task is placed;
//! a task whose resource is held, or whose predecessor waits, waits for that; a plan counts only after the decoder has built it.
//! Must not know: why the list is in this order.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::decode::Outcome;
use crate::model::Model;
use crate::problem::Until;
use crate::profile::Profile;
use crate::shape::{Card, HoldEnd, Shape, Want};
use crate::{FAR, NONE, Score, Time};

/// Everything that changes while dispatching, besides starts and ends.
#[derive(Clone)]
struct State {
    placed: usize,
    free: Vec<Time>,
    steps: Vec<Profile>,
    job_least: Vec<Time>,
    last_least: Time,
    cost: i64,
}

impl State {
    fn copy_from(&mut self, o: &Self) {
        self.placed = o.placed;
        self.free.copy_from_slice(&o.free);
        self.steps.iter_mut().zip(&o.steps).for_each(|(a, b)| a.copy_from(b));
        self.job_least.copy_from_slice(&o.job_least);
        self.last_least = o.last_least;
        self.cost = o.cost;
    }
}

/// The state is saved every so many tasks, so that a changed list is dispatched from shortly before its change.
const STRIDE: usize = 16;

pub(crate) struct Dispatch<'a> {
    m: &'a Model,
    pub shape: &'a Shape,
    pub start: Vec<Time>,
    pub end: Vec<Time>,
    /// Tasks in the order they were really placed.
    pub list: Vec<u32>,
    now: State,
    kept: Vec<State>,
    done: Vec<bool>,
    waiting: Vec<u32>,
    may_wait: bool,
    /// A plan must not hold what goes away; on the day it may happen all the same.
    strict: bool,
    /// Tasks dispatched so far, for budgets.
    pub work: u64,
}

/// What going through a day needs besides the resources themselves. Kept from run to run to reuse its memory.
///
/// A task that cannot begin because something is not free stands in line for it, the one that comes first in
/// the plan in front. Only the first of a line is woken, and lets the next one try when it has left, so each
/// task tries about as often as it is first.
#[derive(Default)]
pub(crate) struct Day {
    /// Moment, rank and task, soonest first.
    due: BinaryHeap<Reverse<(Time, u32, u32)>>,
    /// How many must still begin before it may.
    before: Vec<u32>,
    /// By moment in [`State::free`]: rank and task of who stands in line for it.
    lines: Vec<BinaryHeap<Reverse<(u32, u32)>>>,
    /// The line in which a task stands, or [`NONE`].
    stands: Vec<u32>,
}

impl Day {
    fn begin(&mut self, tasks: usize, moments: usize) {
        self.due.clear();
        self.lines.iter_mut().for_each(BinaryHeap::clear);
        self.lines.resize_with(moments, BinaryHeap::new);
        for (all, with) in [(&mut self.before, 0), (&mut self.stands, NONE)] {
            all.clear();
            all.resize(tasks, with);
        }
    }

    /// In line for a moment at which it is expected to be free; [`FAR`]: until somebody gives it back.
    fn stand(&mut self, line: u32, free: Time, rank: u32, t: u32) {
        self.stands[t as usize] = line;
        let all = &mut self.lines[line as usize];
        all.push(Reverse((rank, t)));
        if free < FAR && all.peek() == Some(&Reverse((rank, t))) {
            self.due.push(Reverse((free, rank, t)));
        }
    }

    /// Takes a task out of its line, if it stands in none or first in one.
    fn leaves(&mut self, rank: u32, t: u32) -> bool {
        let line = self.stands[t as usize];
        if line == NONE {
            return true;
        }
        let all = &mut self.lines[line as usize];
        let first = all.peek() == Some(&Reverse((rank, t)));
        if first {
            all.pop();
        }
        first
    }

    /// The first of a line tries now.
    fn wake(&mut self, line: u32, at: Time) {
        if let Some(Reverse((rank, t))) = self.lines[line as usize].peek() {
            self.due.push(Reverse((at, *rank, *t)));
        }
    }
}

enum Placed {
    Yes,
    Waits,
    /// Not placed: it could not begin before this.
    From(Time),
    /// Later than it may, or a hold that does not fit.
    Never,
}

impl<'a> Dispatch<'a> {
    pub(crate) fn new(m: &'a Model, shape: &'a Shape) -> Self {
        let now = State {
            placed: 0,
            free: shape.free.clone(),
            steps: shape.steps.clone(),
            job_least: m.job_least.clone(),
            last_least: m.last_least,
            cost: m.least_cost,
        };
        let may_wait = !shape.closes.is_empty();
        Self {
            m,
            shape,
            start: m.fixed_start.clone(),
            end: m.fixed_end.clone(),
            list: Vec::with_capacity(m.tasks),
            kept: vec![now.clone()],
            now,
            done: m.fixed.clone(),
            waiting: Vec::new(),
            may_wait,
            strict: true,
            work: 0,
        }
    }

    /// How much of the beginning of a list that shares `same` tasks with the kept one need not be dispatched again.
    pub(crate) fn kept_before(&self, same: usize) -> usize {
        self.kept[self.kept_at(same)].placed
    }

    /// The last kept state that has placed no more than the first `same` tasks.
    fn kept_at(&self, same: usize) -> usize {
        let mut at = (same / STRIDE).min(self.kept.len() - 1);
        while self.kept[at].placed > same {
            at -= 1;
        }
        at
    }

    /// Dispatches `order`, whose first `same` tasks are those of the kept list, and gives up once it must cost more than `bound`.
    /// Starts and ends of the tasks before `kept_before(same)` must be in place. `keep`: later lists begin like this one.
    pub(crate) fn run(&mut self, order: &[u32], same: usize, bound: i64, keep: bool) -> Outcome {
        let at = self.kept_at(same);
        let from = self.kept[at].placed;
        self.now.copy_from(&self.kept[at]);
        if keep {
            self.kept.truncate(at + 1);
        }
        self.list.clear();
        self.list.extend_from_slice(&order[..from]);
        self.waiting.clear();
        if self.may_wait {
            order[from..].iter().for_each(|&t| self.done[t as usize] = false);
        }
        for &t in &order[from..] {
            match self.place(t, FAR) {
                Placed::Yes => {
                    if !self.waiting.is_empty() && !self.retry() {
                        return Outcome::Worse;
                    }
                }
                Placed::Waits => self.waiting.push(t),
                Placed::Never | Placed::From(_) => return Outcome::Worse,
            }
            if self.bound_cost() > bound {
                return Outcome::Worse;
            }
            if keep && self.list.len() >= self.kept.len() * STRIDE && self.waiting.is_empty() {
                self.now.placed = self.list.len();
                self.kept.push(self.now.clone());
            }
        }
        if self.waiting.is_empty() { Outcome::Done(self.score()) } else { Outcome::Blocked }
    }

    /// Goes through the day as people do: a resource that becomes free begins what can begin first; of several
    /// at the same moment, what stands further ahead in the list (`rank`, by task). `gates`: for each task,
    /// those that wait for it to begin. False if holds lock each other up all the same.
    pub(crate) fn live(&mut self, rank: &[u32], gates: &[Vec<u32>], day: &mut Day) -> bool {
        let m = self.m;
        self.strict = false;
        self.now.copy_from(&self.kept[0]);
        self.list.clear();
        self.waiting.clear();
        self.done.copy_from_slice(&m.fixed);
        day.begin(m.tasks, self.now.free.len());
        let mut left = 0;
        for &o in gates.iter().flatten() {
            day.before[o as usize] += 1;
        }
        for t in (0..m.tasks).filter(|&t| !m.fixed[t]) {
            day.before[t] += m.preds.row(t).len() as u32;
            left += 1;
            if day.before[t] == 0 {
                day.due.push(Reverse((self.shape.cards[t].est, rank[t], t as u32)));
            }
        }
        while let Some(Reverse((at, first, t))) = day.due.pop() {
            let i = t as usize;
            // Woken more than once: it has begun since, or somebody stands before it.
            if self.done[i] || !day.leaves(first, t) {
                continue;
            }
            let stood = std::mem::replace(&mut day.stands[i], NONE);
            match self.place(t, at) {
                Placed::Never => return false,
                Placed::Yes => {
                    left -= 1;
                    for a in m.succs.row(i) {
                        let s = a.task as usize;
                        day.before[s] -= 1;
                        if day.before[s] == 0 {
                            day.due.push(Reverse((self.end[i] + a.lag, rank[s], a.task)));
                        }
                    }
                    for &o in &gates[i] {
                        day.before[o as usize] -= 1;
                        if day.before[o as usize] == 0 {
                            day.due.push(Reverse((at, rank[o as usize], o)));
                        }
                    }
                    let card = &self.shape.cards[i];
                    let closes = &self.shape.closes[card.closes.0 as usize..card.closes.1 as usize];
                    // What a hold gives back may be free sooner than anybody knew.
                    closes
                        .iter()
                        .for_each(|c| (c.row..c.row + u32::from(c.len)).for_each(|q| day.wake(q, at)));
                    if !closes.is_empty() && !self.waiting.is_empty() {
                        self.waiting.sort_unstable();
                        self.waiting.dedup();
                        day.due.extend(self.waiting.drain(..).map(|w| Reverse((at, rank[w as usize], w))));
                    }
                }
                failed => match self.kept_by(t) {
                    Some((row, free)) if free > at => {
                        day.stand(row, free, first, t);
                        if row == stood {
                            continue;
                        }
                    }
                    kept => {
                        if let Placed::From(s) = failed {
                            day.due.push(Reverse((s, first, t)));
                        }
                        // A calendar keeps its hours, but what has steps may be given back sooner.
                        if kept.is_none() {
                            self.waiting.push(t);
                        }
                    }
                },
            }
            if stood != NONE {
                day.wake(stood, at);
            }
        }
        left == 0
    }

    /// The resource that becomes free last of those a task wants: its place among the moments, and that moment. None where
    /// moments are not all there is to it.
    fn kept_by(&self, t: u32) -> Option<(u32, Time)> {
        let card = &self.shape.cards[t as usize];
        let closes = &self.shape.closes[card.closes.0 as usize..card.closes.1 as usize];
        if card.steps || closes.iter().any(|c| c.until == Until::Start) {
            return None;
        }
        let wants = &self.shape.wants[card.needs.0 as usize..card.opens as usize];
        let rows = wants.iter().filter(|w| w.len > 0).map(|w| w.row + u32::from(w.index));
        rows.map(|row| (row, self.now.free[row as usize])).max_by_key(|(_, free)| *free)
    }

    fn retry(&mut self) -> bool {
        let mut i = 0;
        while i < self.waiting.len() {
            match self.place(self.waiting[i], FAR) {
                Placed::Yes => {
                    self.waiting.remove(i);
                    i = 0;
                }
                Placed::Waits => i += 1,
                Placed::Never | Placed::From(_) => return false,
            }
        }
        true
    }

    #[inline]
    fn bound_cost(&self) -> i64 {
        if self.m.makespan { i64::from(self.now.last_least) } else { self.now.cost }
    }

    /// Places a task if it can begin by `latest`.
    fn place(&mut self, t: u32, latest: Time) -> Placed {
        let (shape, i) = (self.shape, t as usize);
        let card = &shape.cards[i];
        let mut s = card.est;
        for a in &shape.preds[card.preds.0 as usize..card.preds.1 as usize] {
            if self.may_wait && !self.done[a.task as usize] {
                return Placed::Waits;
            }
            s = s.max(self.end[a.task as usize] + a.lag);
        }
        let wants = &shape.wants[card.needs.0 as usize..card.opens as usize];
        let closes = &shape.closes[card.closes.0 as usize..card.closes.1 as usize];
        // What ends when this one starts is free for it.
        let handed = closes
            .iter()
            .any(|c| c.until == Until::Start && wants.iter().any(|w| w.row == c.row && c.len > 0));
        if handed {
            self.hand_over(closes, FAR, Time::MIN);
        }
        for w in wants {
            if w.len > 0 {
                s = s.max(self.now.free[w.row as usize + w.index as usize]);
            }
        }
        let (s, e) = self.fit(card, wants, s);
        if s >= FAR || s > card.limit.min(latest) {
            if handed {
                self.hand_over(closes, Time::MIN, FAR);
            }
            return match s {
                FAR.. => Placed::Waits,
                _ if s > card.limit => Placed::Never,
                _ => Placed::From(s),
            };
        }
        if handed {
            self.hand_over(closes, Time::MIN, s);
        }
        self.start[i] = s;
        self.end[i] = e;
        self.work += 1;
        for w in wants {
            self.give_out(card, w, s, if w.to == NONE { e } else { FAR });
        }
        for c in closes {
            let at = if c.until == Until::End { e } else { s };
            if c.steps != NONE {
                let steps = &mut self.now.steps[c.steps as usize];
                steps.take(at, FAR, -c.qty);
                // While it was held, the resource may have gone away.
                if self.strict
                    && c.from != NONE
                    && steps.conflict(self.start[c.from as usize], at, 0).is_some()
                {
                    return Placed::Never;
                }
            } else if c.until == Until::End || !handed {
                self.take_back(c, at);
            }
        }
        self.done[i] = true;
        self.list.push(t);
        self.mark(card, e);
        Placed::Yes
    }

    /// Start and end at or after `from` by the calendar and by what comes and goes.
    #[inline]
    fn fit(&self, card: &Card, wants: &[Want], from: Time) -> (Time, Time) {
        if from >= FAR || (card.cal == NONE && !card.steps) {
            return (from, from.saturating_add(card.dur));
        }
        let work = (card.cal != NONE).then(|| &self.m.calendars[card.cal as usize]);
        let mut s = from;
        'again: loop {
            let e = match work {
                None => s + card.dur,
                Some(work) => {
                    s = if card.one_go { work.next_one_go(s, card.dur) } else { work.next(s) };
                    work.finish(s, card.dur)
                }
            };
            if !card.steps {
                return (s, e);
            }
            for w in wants.iter().filter(|w| w.steps != NONE) {
                let steps = &self.now.steps[w.steps as usize];
                let clash = match work {
                    Some(work) if !w.wall => work.pieces(s, e).find_map(|(a, b)| steps.conflict(a, b, w.qty)),
                    _ => steps.conflict(s, e.max(s + w.least), w.qty),
                };
                if let Some((_, end)) = clash {
                    if end >= FAR {
                        return (FAR, FAR);
                    }
                    s = end;
                    continue 'again;
                }
            }
            return (s, e);
        }
    }

    #[inline]
    fn give_out(&mut self, card: &Card, w: &Want, s: Time, until: Time) {
        if w.len > 0 {
            let row = &mut self.now.free[w.row as usize..w.row as usize + w.len as usize];
            for _ in 0..w.qty {
                // The one that became free last: what is free earlier is left for others.
                let mut k = w.index as usize + 1 - w.qty as usize;
                while k + 1 < row.len() && row[k + 1] <= s {
                    k += 1;
                }
                while k + 1 < row.len() && row[k + 1] < until {
                    row[k] = row[k + 1];
                    k += 1;
                }
                row[k] = until;
            }
            return;
        }
        let steps = &mut self.now.steps[w.steps as usize];
        if w.wall {
            steps.take(s, until, w.qty);
        } else {
            let work = &self.m.calendars[card.cal as usize];
            work.pieces(s, until).for_each(|(a, b)| steps.take(a, b, w.qty));
        }
    }

    /// A hold gives back what it kept without end.
    #[inline]
    fn take_back(&mut self, c: &HoldEnd, at: Time) {
        let row = &mut self.now.free[c.row as usize..c.row as usize + c.len as usize];
        for _ in 0..c.qty {
            let mut k = row.len() - 1;
            while k > 0 && row[k - 1] > at {
                row[k] = row[k - 1];
                k -= 1;
            }
            row[k] = at;
        }
    }

    /// For a task that needs what holds which end at its start keep: in their rows, `from` becomes `to`.
    fn hand_over(&mut self, closes: &[HoldEnd], from: Time, to: Time) {
        for c in closes.iter().filter(|c| c.until == Until::Start) {
            let row = &mut self.now.free[c.row as usize..c.row as usize + c.len as usize];
            for _ in 0..c.qty {
                if let Some(k) = row.iter().position(|&f| f == from) {
                    row[k] = to;
                }
            }
            row.sort_unstable();
        }
    }

    #[inline]
    fn mark(&mut self, card: &Card, end: Time) {
        let now = &mut self.now;
        now.last_least = now.last_least.max(end + card.after_least);
        if card.job != NONE {
            let (old, least) = (now.job_least[card.job as usize], end + card.job_after_least);
            if least > old {
                now.cost += self.m.lateness(card.job, least) - self.m.lateness(card.job, old);
                now.job_least[card.job as usize] = least;
            }
        }
    }

    /// Completion of each job, once all is placed.
    pub(crate) fn completions(&self) -> &[Time] {
        &self.now.job_least
    }

    fn score(&self) -> Score {
        let m = self.m;
        let done = self.now.job_least.iter().filter(|&&c| c > Time::MIN).map(|&c| i64::from(c));
        let mut flow: i64 = done.sum();
        if m.any_loose {
            flow += (0..m.tasks).filter(|&t| m.job[t] == NONE).map(|t| i64::from(self.end[t])).sum::<i64>();
        }
        let over = |s: &crate::model::Soft| {
            i64::from((self.start[s.to as usize] - self.end[s.from as usize] - s.max_lag).max(0))
        };
        let over: i64 = m.softs.iter().map(over).sum();
        Score { primary: self.bound_cost() + over * m.max_lag_price, flow, churn: 0 }
    }
}
