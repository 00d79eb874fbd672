//! Dispatching a list of tasks: each starts as soon as what it needs is free behind everything given out before it.
//!
//! Some ten times cheaper than placing units into gaps, and no worse for searching: sorted by start, any plan comes out of
//! its own list again, so what a gap could give, an exchange in the list gives too.
//! Invariants: a resource that is always there is a row of moments at which one of it becomes free, so nothing is filled in
//! behind; one that comes and goes keeps its steps; a hold keeps its resource without end until its closing task is placed;
//! a task whose resource is held, or whose predecessor waits, waits for that; a plan counts only after the decoder has built it.
//! Must not know: why the list is in this order.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::decode::Outcome;
use crate::model::{Arc, Model};
use crate::problem::{Problem, Until};
use crate::profile::Profile;
use crate::{FAR, NONE, Score, Time};

/// A hold that ends with a task.
#[derive(Clone, Copy)]
struct HoldEnd {
    row: u32,
    len: u16,
    steps: u32,
    qty: i32,
    until: Until,
    /// Its opening task; `NONE` if it has started.
    from: u32,
}

/// A demand of a task or an opened hold.
#[derive(Clone, Copy)]
pub(crate) struct Want {
    pub res: u32,
    qty: i32,
    /// Its row of moments, and which of them must have passed; an empty row: it has steps.
    row: u32,
    len: u16,
    index: u16,
    steps: u32,
    wall: bool,
    /// For a hold: it lasts at least so long, and ends with this task.
    least: Time,
    pub to: u32,
}

/// All that dispatching asks of a task, side by side: this is read more often than anything else.
#[derive(Clone, Copy)]
struct Card {
    est: Time,
    /// Put-first and sticky tasks may not start later than in the first plan.
    limit: Time,
    dur: Time,
    after_least: Time,
    job_after_least: Time,
    job: u32,
    cal: u32,
    preds: (u32, u32),
    needs: (u32, u32),
    opens: u32,
    closes: (u32, u32),
    one_go: bool,
    /// Some demand is for a resource with steps.
    steps: bool,
}

/// What the list decides: the model without the resources that precedence alone keeps free of conflicts.
pub(crate) struct Shape {
    cards: Vec<Card>,
    preds: Vec<Arc>,
    wants: Vec<Want>,
    closes: Vec<HoldEnd>,
    /// Moments at which each resource becomes free, first ones first.
    free: Vec<Time>,
    steps: Vec<Profile>,
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

/// The state is kept every so many tasks, so that a changed list is dispatched from shortly before its change.
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
    /// A plan may not hold what goes away; when it happens, it happens.
    strict: bool,
    /// Tasks dispatched so far, for budgets.
    pub work: u64,
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

    /// Goes through the day as people do: whoever becomes free begins what can begin first, at the same moment what stands
    /// further ahead in the list (`rank`, by task). `gates`: for each task, those that wait for its beginning. False if holds
    /// lock each other up all the same.
    pub(crate) fn live(&mut self, rank: &[u32], gates: &[Vec<u32>], waits: &mut [u32]) -> bool {
        let m = self.m;
        self.strict = false;
        self.now.copy_from(&self.kept[0]);
        self.list.clear();
        self.waiting.clear();
        self.done.copy_from_slice(&m.fixed);
        let mut due = BinaryHeap::with_capacity(m.tasks);
        let mut left = 0;
        waits.fill(0);
        for &o in gates.iter().flatten() {
            waits[o as usize] += 1;
        }
        for t in (0..m.tasks).filter(|&t| !m.fixed[t]) {
            waits[t] += m.preds.row(t).len() as u32;
            left += 1;
            if waits[t] == 0 {
                due.push(Reverse((self.shape.cards[t].est, rank[t], t as u32)));
            }
        }
        while let Some(Reverse((at, first, t))) = due.pop() {
            match self.place(t, at) {
                Placed::From(s) => due.push(Reverse((s, first, t))),
                Placed::Waits => self.waiting.push(t),
                Placed::Never => return false,
                Placed::Yes => {
                    left -= 1;
                    for a in m.succs.row(t as usize) {
                        let s = a.task as usize;
                        waits[s] -= 1;
                        if waits[s] == 0 {
                            due.push(Reverse((self.end[t as usize] + a.lag, rank[s], a.task)));
                        }
                    }
                    for &o in &gates[t as usize] {
                        waits[o as usize] -= 1;
                        if waits[o as usize] == 0 {
                            due.push(Reverse((at, rank[o as usize], o)));
                        }
                    }
                    let card = &self.shape.cards[t as usize];
                    if card.closes.0 < card.closes.1 {
                        due.extend(self.waiting.drain(..).map(|w| Reverse((at, rank[w as usize], w))));
                    }
                }
            }
        }
        left == 0
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
