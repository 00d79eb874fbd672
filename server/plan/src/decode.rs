//! Serial schedule generation: takes units in list order and gives each its earliest feasible start.
//!
//! Invariants: a unit is inserted whole or not at all, so nothing is ever half-held and no circular wait can arise; what a
//! *started* hold blocks is put off until its closing task is placed; placing never moves what is already placed.
//! Must not know: why the list is in this order.

use crate::grid::Grid;
use crate::model::{Model, UnitHold};
use crate::problem::{PlanError, Problem, Until};
use crate::profile::Capacity;
use crate::{FAR, Score, Time};

#[derive(Clone, Copy, Debug)]
pub(crate) struct Take {
    pub res: u32,
    pub from: Time,
    pub to: Time,
    pub qty: i32,
}

pub(crate) struct Decoder<'m> {
    pub m: &'m Model,
    pub profiles: Vec<Capacity>,
    base: Vec<Capacity>,
    pub start: Vec<Time>,
    pub end: Vec<Time>,
    /// Units in the order in which they were actually inserted.
    pub inserted: Vec<u32>,
    /// No task starts before this: releases, or the starts of a plan that is being repaired.
    pub floor: Vec<Time>,
    placed: Vec<bool>,
    least: Vec<Time>,
    put_off: Vec<u32>,
    log: Vec<Take>,
    /// Least possible completion of each job (and of everything) as far as decoded, and what to restore when undoing.
    job_least: Vec<Time>,
    last_least: Time,
    cost: i64,
    marks: Vec<Mark>,
    /// Tasks decoded so far, for budgets.
    pub work: u64,
}

/// What a unit changed in the bounds: undone in reverse.
#[derive(Clone, Copy, Debug)]
struct Mark {
    job: u32,
    least: Time,
    last: Time,
}

/// How a bounded decode went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Outcome {
    Done(Score),
    /// It cannot get as good as the bound.
    Worse,
    /// Started holds block something for good.
    Blocked,
}

/// A longest lag is honoured by starting its first task later, at most this often; after that it is priced.
const SOFT_TRIES: usize = 6;
/// A resource with fewer users is quicker as steps; grids over longer horizons would not stay in the cache.
const GRID_USERS: u32 = 6;
const GRID_MINUTES: Time = 1 << 17;

impl<'m> Decoder<'m> {
    pub(crate) fn new(m: &'m Model) -> Self {
        Self::with(m, m.base.iter().map(|p| Capacity::Steps(p.clone())).collect())
    }

    /// For very frequent decoding: minute grids up to `horizon` for busy resources. Plans that reach further
    /// are refused.
    pub(crate) fn fast(m: &'m Model, horizon: Time) -> Self {
        let (origin, len) = (m.now, horizon - m.now);
        let base = m.base.iter().enumerate().map(|(r, p)| {
            let worth = m.users[r] >= GRID_USERS && len < GRID_MINUTES;
            if worth {
                Capacity::Grid(Grid::new(p, origin, len, m.single[r] && !m.overbooked[r]))
            } else {
                Capacity::Steps(p.clone())
            }
        });
        Self::with(m, base.collect())
    }

    fn with(m: &'m Model, base: Vec<Capacity>) -> Self {
        let mut d = Self {
            m,
            profiles: base.clone(),
            base,
            start: m.fixed_start.clone(),
            end: m.fixed_end.clone(),
            inserted: Vec::with_capacity(m.units),
            floor: m.est.clone(),
            placed: vec![false; m.units],
            least: m.est.clone(),
            put_off: Vec::new(),
            log: Vec::new(),
            job_least: m.job_least.clone(),
            last_least: m.last_least,
            cost: 0,
            marks: Vec::new(),
            work: 0,
        };
        d.reset();
        d
    }

    pub(crate) fn reset(&mut self) {
        for (p, b) in self.profiles.iter_mut().zip(&self.base) {
            p.copy_from(b);
        }
        self.placed.fill(false);
        self.put_off.clear();
        self.inserted.clear();
        self.marks.clear();
        self.job_least.copy_from_slice(&self.m.job_least);
        self.last_least = self.m.last_least;
        self.cost = self.m.least_cost;
    }

    /// Decodes a list, keeping what its beginning shares with the one decoded before, and gives up once the result must be worse
    /// than `bound`.
    pub(crate) fn decode_bounded(&mut self, order: &[u32], bound: i64) -> Outcome {
        let same = self.inserted.iter().zip(order).take_while(|(a, b)| a == b).count();
        self.undo_to(same);
        self.put_off.clear();
        for &u in &order[same..] {
            if !self.try_unit(u) {
                self.put_off.push(u);
            } else if !self.put_off.is_empty() && self.gives_back(u) {
                self.retry();
            }
            if self.bound_cost() > bound {
                return Outcome::Worse;
            }
        }
        if self.put_off.is_empty() { Outcome::Done(self.score_now()) } else { Outcome::Blocked }
    }

    fn undo_to(&mut self, keep: usize) {
        while self.inserted.len() > keep {
            let u = self.inserted.pop().expect("longer than keep");
            self.placed[u as usize] = false;
            self.take_unit(u, -1);
            for _ in self.m.members.row(u as usize) {
                let k = self.marks.pop().expect("one mark per task");
                self.last_least = k.last;
                if k.job != crate::NONE {
                    self.cost += self.m.lateness(k.job, k.least)
                        - self.m.lateness(k.job, self.job_least[k.job as usize]);
                    self.job_least[k.job as usize] = k.least;
                }
            }
        }
    }

    #[inline]
    fn bound_cost(&self) -> i64 {
        if self.m.makespan { i64::from(self.last_least) } else { self.cost }
    }

    #[inline]
    fn mark(&mut self, t: u32) {
        let i = t as usize;
        let least = self.end[i] + self.m.after_least[i];
        let job = self.m.job[i];
        let old = if job == crate::NONE { 0 } else { self.job_least[job as usize] };
        self.marks.push(Mark { job, least: old, last: self.last_least });
        self.last_least = self.last_least.max(least);
        if job != crate::NONE {
            let least = self.end[i] + self.m.job_after_least[i];
            if least > old {
                self.cost += self.m.lateness(job, least) - self.m.lateness(job, old);
                self.job_least[job as usize] = least;
            }
        }
    }

    /// The score from what was counted on the way, once all units are placed.
    fn score_now(&self) -> Score {
        let m = self.m;
        let mut flow: i64 = self.job_least.iter().filter(|&&c| c > Time::MIN).map(|&c| i64::from(c)).sum();
        if m.any_loose {
            flow += (0..m.tasks)
                .filter(|&t| m.job[t] == crate::NONE)
                .map(|t| i64::from(self.end[t]))
                .sum::<i64>();
        }
        let over = m
            .softs
            .iter()
            .map(|s| (self.start[s.to as usize] - self.end[s.from as usize] - s.max_lag).max(0));
        let over: i64 = over.map(i64::from).sum();
        Score { primary: self.bound_cost() + over * m.max_lag_price, flow, churn: 0 }
    }

    /// Decodes a list of all units that respects precedence between them. `Err`: the units that started holds block for good.
    pub(crate) fn decode(&mut self, order: &[u32]) -> Result<(), Vec<u32>> {
        self.reset();
        for &u in order {
            self.push(u);
        }
        if self.put_off.is_empty() { Ok(()) } else { Err(self.put_off.clone()) }
    }

    /// Inserts the next unit of the list, or puts it off.
    fn push(&mut self, u: u32) {
        if !self.try_unit(u) {
            self.put_off.push(u);
            return;
        }
        if !self.put_off.is_empty() && self.gives_back(u) {
            self.retry();
        }
    }

    fn retry(&mut self) {
        let mut i = 0;
        while i < self.put_off.len() {
            let u = self.put_off[i];
            if self.try_unit(u) {
                self.put_off.remove(i);
                // It may have closed a hold, or be what a postponed unit waits for.
                i = 0;
            } else {
                i += 1;
            }
        }
    }

    /// True if something put off may fit now: a closed hold, or a predecessor that is there at last.
    fn gives_back(&self, u: u32) -> bool {
        self.m.members.row(u as usize).iter().any(|&t| !self.m.closes.row(t as usize).is_empty())
    }

    fn try_unit(&mut self, u: u32) -> bool {
        let m = self.m;
        if self.m.any_started_hold && m.unit_preds.row(u as usize).iter().any(|&v| !self.placed[v as usize]) {
            return false;
        }
        let members = m.members.row(u as usize);
        self.work += members.len() as u64;
        let ok = if let [t] = *members { self.place_single(t) } else { self.place_group(u as usize) };
        if ok {
            self.placed[u as usize] = true;
            self.inserted.push(u);
            for &t in members {
                self.mark(t);
            }
        }
        ok
    }

    #[inline]
    pub(crate) fn earliest_by_preds(&self, t: u32) -> Time {
        let mut s = self.floor[t as usize];
        for a in self.m.preds.row(t as usize) {
            s = s.max(self.end[a.task as usize] + a.lag);
        }
        s
    }

    fn place_single(&mut self, t: u32) -> bool {
        let from = self.earliest_by_preds(t);
        let (s, e) = self.fit(t, from);
        if s >= FAR {
            return false;
        }
        self.start[t as usize] = s;
        self.end[t as usize] = e;
        self.take_task(t, 1);
        for h in self.m.opens.row(t as usize) {
            self.profiles[h.res as usize].take(s, if h.until == Until::End { e } else { s }, h.qty);
        }
        self.close(t);
        true
    }

    fn close(&mut self, t: u32) {
        for c in self.m.closes.row(t as usize) {
            let from = if c.until == Until::End { self.end[t as usize] } else { self.start[t as usize] };
            self.profiles[c.res as usize].take(from, FAR, -c.qty);
        }
    }

    /// Takes (or gives back, `sign` −1) what a placed task needs.
    fn take_task(&mut self, t: u32, sign: i32) {
        let (m, i) = (self.m, t as usize);
        let (s, e) = (self.start[i], self.end[i]);
        let cal = m.cal[i];
        for x in m.needs.row(i) {
            let p = &mut self.profiles[x.res as usize];
            if x.wall || cal == crate::NONE {
                p.take(s, e, x.qty * sign);
            } else {
                for (a, b) in m.calendars[cal as usize].pieces(s, e) {
                    p.take(a, b, x.qty * sign);
                }
            }
        }
    }

    /// Earliest start and end at or after `from` by calendar and free resources, holds it opens included.
    fn fit(&self, t: u32, from: Time) -> (Time, Time) {
        let (m, i) = (self.m, t as usize);
        let d = m.dur[i];
        let needs = if d == 0 { &[] } else { m.needs.row(i) };
        let opens = m.opens.row(i);
        let mut s = from;
        if m.cal[i] == crate::NONE || d == 0 {
            loop {
                let before = s;
                for x in needs {
                    s = self.profiles[x.res as usize].earliest(s, d, x.qty);
                    if s >= FAR {
                        return (FAR, FAR);
                    }
                }
                for h in opens {
                    if h.least > 0 {
                        s = self.profiles[h.res as usize].earliest(s, h.least, h.qty);
                        if s >= FAR {
                            return (FAR, FAR);
                        }
                    }
                }
                if s == before || needs.len() + opens.len() == 1 {
                    return (s, s + d);
                }
            }
        }
        let work = &m.calendars[m.cal[i] as usize];
        'again: loop {
            s = if m.one_go[i] { work.next_one_go(s, d) } else { work.next(s) };
            let e = work.finish(s, d);
            for h in opens {
                if let Some((_, end)) =
                    self.profiles[h.res as usize].conflict(s, s + h.least.max(e - s), h.qty)
                {
                    if end >= FAR {
                        return (FAR, FAR);
                    }
                    s = end;
                    continue 'again;
                }
            }
            for x in needs {
                let p = &self.profiles[x.res as usize];
                let clash = if x.wall {
                    p.conflict(s, e, x.qty)
                } else {
                    work.pieces(s, e).find_map(|(a, b)| p.conflict(a, b, x.qty))
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

    fn hold_span(&self, h: &UnitHold) -> (Time, Time) {
        let to = h.to as usize;
        (self.start[h.from as usize], if h.until == Until::End { self.end[to] } else { self.start[to] })
    }

    /// Places all members, then looks whether the holds between them fit; if not, the opener goes past what is in the way.
    fn place_group(&mut self, u: usize) -> bool {
        let m = self.m;
        let members = m.members.row(u);
        let crowded = m.crowded[u];
        for &t in members {
            self.least[t as usize] = self.floor[t as usize];
        }
        let mut soft_left = SOFT_TRIES;
        'again: loop {
            self.log.clear();
            if !(if crowded { self.place_crowded(u) } else { self.place_members(u) }) {
                self.undo_log();
                return false;
            }
            for h in m.unit_holds.row(u) {
                let (a, b) = self.hold_span(h);
                // A crowded unit has already taken its holds: overbooked shows as less than nothing free.
                let qty = if crowded { 0 } else { h.qty };
                if let Some((_, end)) = self.profiles[h.res as usize].conflict(a, b, qty) {
                    self.undo_log();
                    if end >= FAR {
                        return false;
                    }
                    let least = &mut self.least[h.from as usize];
                    *least = (*least).max(end).max(a + 1);
                    continue 'again;
                }
            }
            for s in m.unit_softs.row(u) {
                let wish = self.start[s.to as usize] - s.max_lag;
                let (i, gap) = (s.from as usize, wish - self.end[s.from as usize]);
                if gap > 0 && soft_left > 0 {
                    soft_left -= 1;
                    self.undo_log();
                    self.least[i] = self.start[i] + gap;
                    continue 'again;
                }
            }
            break;
        }
        if !crowded {
            for &t in members {
                self.take_task(t, 1);
            }
            for h in m.unit_holds.row(u) {
                let (a, b) = self.hold_span(h);
                self.profiles[h.res as usize].take(a, b, h.qty);
            }
        }
        self.log.clear();
        for &t in members {
            self.close(t);
        }
        true
    }

    fn place_members(&mut self, u: usize) -> bool {
        for &t in self.m.members.row(u) {
            let from = self.earliest_by_preds(t).max(self.least[t as usize]);
            let (s, e) = self.fit(t, from);
            if s >= FAR {
                return false;
            }
            self.start[t as usize] = s;
            self.end[t as usize] = e;
        }
        true
    }

    /// Reserves while placing; a member that an open hold of the unit itself blocks waits until that one is closed.
    fn place_crowded(&mut self, u: usize) -> bool {
        let mut waiting: Vec<u32> = self.m.members.row(u).to_vec();
        while !waiting.is_empty() {
            let mut still = Vec::new();
            for &t in &waiting {
                let ready = self.m.preds.row(t as usize).iter().all(|a| !still.contains(&a.task));
                let from = self.earliest_by_preds(t).max(self.least[t as usize]);
                let (s, e) = if ready { self.fit(t, from) } else { (FAR, FAR) };
                if s >= FAR {
                    still.push(t);
                    continue;
                }
                self.start[t as usize] = s;
                self.end[t as usize] = e;
                self.log_task(t, u);
            }
            if still.len() == waiting.len() {
                return false;
            }
            waiting = still;
        }
        true
    }

    /// Reserves a member of a crowded unit at once: its needs, the holds it opens (without end) and closes.
    fn log_task(&mut self, t: u32, u: usize) {
        let (m, i) = (self.m, t as usize);
        let (s, e) = (self.start[i], self.end[i]);
        let mut takes = Vec::new();
        for x in m.needs.row(i) {
            if x.wall || m.cal[i] == crate::NONE {
                takes.push(Take { res: x.res, from: s, to: e, qty: x.qty });
            } else {
                takes.extend(m.calendars[m.cal[i] as usize].pieces(s, e).map(|(from, to)| Take {
                    res: x.res,
                    from,
                    to,
                    qty: x.qty,
                }));
            }
        }
        for h in m.unit_holds.row(u) {
            if h.from == t {
                takes.push(Take { res: h.res, from: s, to: FAR, qty: h.qty });
            }
            if h.to == t {
                let from = if h.until == Until::End { e } else { s };
                takes.push(Take { res: h.res, from, to: FAR, qty: -h.qty });
            }
        }
        for k in takes {
            self.profiles[k.res as usize].take(k.from, k.to, k.qty);
            self.log.push(k);
        }
    }

    fn undo_log(&mut self) {
        while let Some(k) = self.log.pop() {
            self.profiles[k.res as usize].take(k.from, k.to, -k.qty);
        }
    }

    /// Decodes with every start kept from falling below a previous one: nothing moves forward that need not move back.
    pub(crate) fn decode_from(&mut self, order: &[u32], floor: &[Time]) -> Result<(), Vec<u32>> {
        self.floor.copy_from_slice(floor);
        let done = self.decode(order);
        self.floor.copy_from_slice(&self.m.est);
        done
    }

    /// The same, but a unit that would begin later than `latest` waits until all the others are placed.
    pub(crate) fn decode_keeping(
        &mut self,
        order: &[u32],
        floor: &[Time],
        latest: &[Time],
    ) -> Result<(), Vec<u32>> {
        self.floor.copy_from_slice(floor);
        self.reset();
        let mut waits = Vec::new();
        for &u in order {
            if self
                .m
                .unit_preds
                .row(u as usize)
                .iter()
                .any(|&v| !self.placed[v as usize] && waits.contains(&v))
            {
                waits.push(u);
                continue;
            }
            let before = self.inserted.len();
            self.push(u);
            if self.inserted.len() == before + 1 && self.begins(u) > latest[u as usize] {
                self.undo_to(before);
                waits.push(u);
            }
        }
        for u in waits {
            self.push(u);
        }
        self.floor.copy_from_slice(&self.m.est);
        if self.put_off.is_empty() { Ok(()) } else { Err(self.put_off.clone()) }
    }

    /// The first start of a placed unit.
    pub(crate) fn begins(&self, u: u32) -> Time {
        let members = self.m.members.row(u as usize);
        members.iter().map(|&t| self.start[t as usize]).min().unwrap_or(Time::MIN)
    }

    /// Lets each unit of a decoded plan start earlier where there is room before `until`, the first ones first. Nothing gets
    /// later.
    pub(crate) fn close_gaps(&mut self, until: Time) {
        for u in self.by_start() {
            self.pull_forward(u, |was, is| is < was && is <= until);
        }
    }

    /// The same for up to `most` tasks, where it wins at least `least`; those that moved.
    pub(crate) fn fill_gaps(&mut self, most: usize, least: Time) -> Vec<u32> {
        let mut moved = Vec::new();
        for u in self.by_start() {
            let members = self.m.members.row(u as usize);
            if moved.len() + members.len() <= most && self.pull_forward(u, |was, is| was - is >= least) {
                moved.extend_from_slice(members);
            }
        }
        moved
    }

    fn by_start(&self) -> Vec<u32> {
        // A loaded plan has been inserted in no order.
        let mut units: Vec<u32> = (0..self.m.units as u32).collect();
        units.sort_by_key(|&u| (self.begins(u), u));
        units
    }

    /// True if it moved; `worth` is asked of its first start before and after.
    fn pull_forward(&mut self, u: u32, worth: impl Fn(Time, Time) -> bool) -> bool {
        let members = self.m.members.row(u as usize);
        let was = self.begins(u);
        let soonest = members.iter().map(|&t| self.earliest_by_preds(t)).min().unwrap_or(was);
        if !worth(was, soonest) {
            return false;
        }
        let old: Vec<(Time, Time)> =
            members.iter().map(|&t| (self.start[t as usize], self.end[t as usize])).collect();
        self.take_unit(u, -1);
        let ok = if let [t] = *members { self.place_single(t) } else { self.place_group(u as usize) };
        let later = members
            .iter()
            .zip(&old)
            .any(|(&t, o)| self.start[t as usize] > o.0 || self.end[t as usize] > o.1);
        if ok && !later && worth(was, self.begins(u)) {
            return true;
        }
        if ok {
            self.take_unit(u, -1);
        }
        for (&t, o) in members.iter().zip(&old) {
            (self.start[t as usize], self.end[t as usize]) = *o;
        }
        self.take_unit(u, 1);
        false
    }

    fn take_unit(&mut self, u: u32, sign: i32) {
        for &t in self.m.members.row(u as usize) {
            self.take_all(t, sign);
            for c in self.m.closes.row(t as usize) {
                let from = if c.until == Until::End { self.end[t as usize] } else { self.start[t as usize] };
                self.profiles[c.res as usize].take(from, FAR, -c.qty * sign);
            }
        }
    }

    /// Puts a finished plan into the profiles, whatever made it.
    pub(crate) fn load(&mut self, start: &[Time], end: &[Time]) {
        self.reset();
        self.start.copy_from_slice(start);
        self.end.copy_from_slice(end);
        for t in 0..self.m.tasks as u32 {
            if !self.m.fixed[t as usize] {
                self.take_all(t, 1);
                self.close(t);
            }
        }
    }

    /// Takes (or gives back) what a task needs and the holds it opens.
    pub(crate) fn take_all(&mut self, t: u32, sign: i32) {
        self.take_task(t, sign);
        for h in self.m.opens.row(t as usize) {
            let (a, b) = self.hold_span(h);
            self.profiles[h.res as usize].take(a, b, h.qty * sign);
        }
    }

    pub(crate) fn score(&self) -> Score {
        score(self.m, &self.start, &self.end)
    }
}

/// Weighted tardiness (or makespan) with overrun max lags, then flow. Churn is the caller's.
pub(crate) fn score(m: &Model, start: &[Time], end: &[Time]) -> Score {
    let mut done = vec![Time::MIN; m.weight.len()];
    let mut last = 0i64;
    let mut loose = 0i64;
    for (&e, &job) in end.iter().zip(&m.job) {
        last = last.max(i64::from(e));
        match job {
            crate::NONE => loose += i64::from(e),
            j => done[j as usize] = done[j as usize].max(e),
        }
    }
    let mut tardiness = 0i64;
    let mut flow = loose;
    for (j, &c) in done.iter().enumerate() {
        if c == Time::MIN {
            continue;
        }
        flow += i64::from(c);
        if let Some(due) = m.due[j] {
            tardiness += m.weight[j] * i64::from((c - due).max(0));
        }
    }
    let mut over = 0i64;
    for s in &m.softs {
        over += i64::from((start[s.to as usize] - end[s.from as usize] - s.max_lag).max(0));
    }
    let primary = if m.makespan { last } else { tardiness } + over * m.max_lag_price;
    Score { primary, flow, churn: 0 }
}

/// Names, in the problem's terms, who is blocked by what.
pub(crate) fn deadlock(p: &Problem, m: &Model, blocked: &[u32]) -> PlanError {
    let mut tasks: Vec<String> = Vec::new();
    let mut resources: Vec<String> = Vec::new();
    for &u in blocked {
        // Only the first of a chain is blocked itself.
        if m.unit_preds.row(u as usize).iter().any(|v| blocked.contains(v)) {
            continue;
        }
        for &t in m.members.row(u as usize) {
            tasks.push(p.tasks[t as usize].id.clone());
            let held = |r: u32| {
                p.holds.iter().any(|h| h.resource == r as usize && h.from.is_none_or(|f| m.fixed[f]))
            };
            let wanted = m.needs.row(t as usize).iter().map(|x| x.res);
            for r in wanted.chain(m.opens.row(t as usize).iter().map(|h| h.res)).filter(|&r| held(r)) {
                resources.push(p.resources[r as usize].id.clone());
            }
        }
    }
    resources.sort();
    resources.dedup();
    PlanError::PhysicalDeadlock { tasks, resources }
}
