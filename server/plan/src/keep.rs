//! Staying with the plan that people have been shown: what a change forces to move, where new and delayed work
//! goes, and what moving the rest costs.
//!
//! Invariants: what can stay where it was stays; work that is new, or cannot stay, goes into what is free, and
//! pushes others only if nothing is free in time; moving the rest has a price that falls with the distance from
//! now.
//! Must not know: how lists are searched.

use crate::decode::Decoder;
use crate::lists::{moved, worth};
use crate::model::Model;
use crate::problem::{FARTHEST_MINUTES, Minutes};
use crate::{NONE, Score, Time, rules};

/// What it costs to move what people have been shown, and what may move at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Keep {
    /// Wall minutes from now in which people have prepared for their work …
    pub soon: Minutes,
    /// … and the price of moving one task of it by an hour or more; in weight × minutes, like weighted tardiness.
    pub soon_price: i64,
    /// The same for the rest of the next 24 hours; after that it falls with the distance, to a third at the least.
    pub day_price: i64,
    /// Per thousand tasks, no more than this move by more than half an hour at once; the rest waits for a quiet
    /// hour.
    pub moved_permille_max: usize,
    /// At most this many tasks, the earliest, move up into what has become free.
    pub fill_max: usize,
    /// Jobs that are not late may be planned earlier too. For hours in which nobody works by the plan.
    pub all: bool,
}

/// Work that slips by no more than this many wall minutes keeps its turn and pushes what comes behind it.
const SLIP: Time = 30;
/// New or postponed work goes in turn if nothing is free within this time, or if waiting would make its job
/// late.
const PATIENCE: Time = 24 * 60;
/// Ways to build the plan; the cheapest is taken.
const WAYS: [Way; 5] = [
    Way { displaced_waits: false, pushed: None },
    Way { displaced_waits: false, pushed: Some(4 * 60) },
    Way { displaced_waits: false, pushed: Some(24 * 60) },
    Way { displaced_waits: true, pushed: Some(24 * 60) },
    WAITS,
];
const WAITS: Way = Way { displaced_waits: true, pushed: None };
/// How often work that found nothing free in time is put in turn; after that everything goes in turn.
const PASSES: usize = 3;
/// How many vehicles may give way to save many from moving, and how many are tried each time.
const EXCHANGES_MAX: usize = 4;
const EXCHANGE_TRIES: usize = 24;
/// At most this many units give up their places in one repair.
const ROOTS_MAX: usize = 4;
/// While such a vehicle is looked for, moves count this many times.
const QUIET_COUNTS: i64 = 3;
/// Per thousand tasks, this many may move before other ways are tried.
const SETTLED_PERMILLE: usize = 10;
/// Shown times are rounded, and nobody minds a quarter of an hour.
const UNNOTICED: Time = 15;
/// From this distance on a task has moved, however far.
const MOVED: Time = 60;
const DAY: i64 = 24 * 60;
/// Moving up is worthwhile from this gain on.
pub(crate) const FILL_LEAST: Time = 60;
/// What can begin this soon is begun earlier than planned, because somebody is free now.
pub(crate) const AT_ONCE: Time = 30;

/// What people have been shown, as far as tasks can still begin then.
pub(crate) struct Known {
    pub task: Vec<bool>,
    /// Where a task was shown, or when it can begin at the earliest.
    pub start: Vec<Time>,
    old: Vec<Option<Time>>,
}

impl Known {
    pub(crate) fn new(m: &Model, previous: &[Option<Minutes>]) -> Self {
        let within = |at: Minutes| at.clamp(-FARTHEST_MINUTES, FARTHEST_MINUTES) as Time;
        // What is put first, and what it needs, is not held to where it was.
        let first = |t: usize| !m.fixed[t] && m.class[m.unit_of[t] as usize] == 0;
        let known = |t: usize| previous.get(t).copied().flatten().filter(|_| !first(t)).map(within);
        let old: Vec<Option<Time>> = (0..m.tasks).map(known).collect();
        let start = old.iter().zip(&m.est).map(|(old, est)| old.map_or(*est, |old| old.max(*est)));
        Self { task: old.iter().map(Option::is_some).collect(), start: start.collect(), old }
    }

    /// From here on, where these stand now is known.
    pub(crate) fn move_to(&mut self, tasks: &[u32], start: &[Time]) {
        for &t in tasks {
            self.start[t as usize] = start[t as usize];
        }
    }
}

/// Who waits for whom.
#[derive(Clone, Copy, PartialEq, Eq)]
struct Way {
    /// What is new or put off takes what is free, however late.
    displaced_waits: bool,
    /// What others have pushed goes in turn if there is nothing free within this; it is never put elsewhere if there is none.
    pushed: Option<Time>,
}

/// A previous plan, as far as the facts let it stand.
#[derive(Clone)]
pub(crate) struct Repair<'m> {
    m: &'m Model,
    known: &'m Known,
    /// Where each unit belongs: its tasks' old starts, or, if later, when they can begin.
    key: Vec<Time>,
    /// It is new, or late by more than a slip.
    displaced: Vec<bool>,
    /// It goes in turn, no matter what comes behind it.
    in_turn: Vec<bool>,
    /// Jobs that give up their places and go into what is free then.
    gives_way: Vec<bool>,
    floor: Vec<Time>,
}

impl<'m> Repair<'m> {
    pub(crate) fn new(m: &'m Model, known: &'m Known) -> Self {
        let old = &known.old;
        let mut at = m.fixed_start.clone();
        let mut key = vec![Time::MAX; m.units];
        let mut was = vec![Time::MAX; m.units];
        for &t in &m.topo {
            let t = t as usize;
            if m.fixed[t] {
                continue;
            }
            let after = |a: &crate::model::Arc| m.end_of(a.task as usize, at[a.task as usize]) + a.lag;
            let ready = m.preds.row(t).iter().map(after).max().unwrap_or(Time::MIN).max(m.est[t]);
            // What no longer fits before the end of a shift has lost its place, as if it had been put off.
            at[t] = m.begins_alone(t, old[t].map_or(ready, |old| old.max(ready)));
            let u = m.unit_of[t] as usize;
            // Only what was there before says where a unit belongs, if any of it was.
            match (old[t], was[u]) {
                (Some(old), Time::MAX) => (was[u], key[u]) = (old, at[t]),
                (Some(old), before) => (was[u], key[u]) = (before.min(old), key[u].min(at[t])),
                (None, Time::MAX) => key[u] = key[u].min(at[t]),
                (None, _) => {}
            }
        }
        let displaced = |u: usize| was[u] == Time::MAX || key[u] - was[u] > SLIP;
        Self {
            m,
            known,
            gives_way: vec![false; m.weight.len()],
            floor: known.start.clone(),
            displaced: (0..m.units).map(|u| m.class[u] > 0 && displaced(u)).collect(),
            in_turn: m.class.iter().map(|class| *class == 0).collect(),
            key,
        }
    }

    /// Builds the plan in the cheapest way; returns the order of units, or what started holds block for good.
    /// `keep`: the price of moving.
    pub(crate) fn build(&mut self, d: &mut Decoder<'_>, keep: Option<&Keep>) -> Result<Vec<u32>, Vec<u32>> {
        let order = self.clone().build_with(d, WAYS[0])?;
        let Some(keep) = keep else { return Ok(order) };
        let movement = Movement::new(self.m, keep, self.known);
        let cost = |d: &Decoder<'_>| worth(moved(d.score(), Some(&movement), &d.start));
        let mut best = Built::of(d, cost(d), order);
        self.try_ways(d, &WAYS[1..], &movement, &mut best);
        // What cannot keep its place gives it up, before it sends all behind it elsewhere.
        for _ in 0..ROOTS_MAX {
            let Some(u) = self.root(&best).filter(|_| self.unsettled(&movement, &best)) else { break };
            self.displaced[u] = true;
            if !self.try_ways(d, &WAYS, &movement, &mut best) {
                self.displaced[u] = false;
                break;
            }
        }
        d.load(&best.start, &best.end);
        Ok(best.order)
    }

    fn unsettled(&self, movement: &Movement, built: &Built) -> bool {
        movement.moved(&built.start) * 1000 > self.m.tasks * SETTLED_PERMILLE
    }

    /// True if one is better than `best`, and then it is that one.
    fn try_ways(&self, d: &mut Decoder<'_>, ways: &[Way], movement: &Movement, best: &mut Built) -> bool {
        let cost = |d: &Decoder<'_>| worth(moved(d.score(), Some(movement), &d.start));
        let mut better = false;
        for &way in ways {
            if !self.unsettled(movement, best) {
                break;
            }
            let Ok(order) = self.clone().build_with(d, way) else { continue };
            let cost = cost(d);
            if cost < best.cost && movement.moved(&d.start) <= movement.moved(&best.start) {
                (*best, better) = (Built::of(d, cost, order), true);
            }
        }
        better
    }

    /// The first unit that has kept its place and yet does not begin where it was.
    fn root(&self, built: &Built) -> Option<usize> {
        let begins = |u: usize| self.m.members.row(u).iter().map(|&t| built.start[t as usize]).min();
        let late = |u: &usize| begins(*u).is_some_and(|at| at - self.key[*u] > SLIP);
        (0..self.m.units).filter(|u| !self.displaced[*u] && late(u)).min_by_key(|u| (self.key[*u], *u))
    }

    /// A vehicle that can wait, or come sooner, may save many from moving: looks for up to [`EXCHANGES_MAX`] of them. `order`
    /// has been built; the order that is built now, if it costs less.
    ///
    /// Begun from two ends: from a plan in which all that was pushed moves on, and from one in which what has lost its place
    /// waits until something is free, from where each that gives up its place to it makes it better.
    pub(crate) fn exchange(self, d: &mut Decoder<'_>, keep: &Keep, order: Vec<u32>) -> Vec<u32> {
        let m = self.m;
        let movement = Movement::new(m, keep, self.known);
        // What is looked for here is quiet; what is late is the search's.
        let cost = |d: &Decoder<'_>| {
            let score = moved(d.score(), Some(&movement), &d.start);
            worth(Score { churn: score.churn * QUIET_COUNTS, ..score })
        };
        let most = movement.moved(&d.start);
        let mut best = Built::of(d, cost(d), order);
        for way in [WAYS[0], WAITS] {
            let mut repair = self.clone();
            let mut from = best.clone();
            if way == WAITS {
                if most * 1000 <= m.tasks * SETTLED_PERMILLE {
                    break;
                }
                let Some(waits) = repair.all_wait(d, &cost) else { break };
                from = waits;
            }
            for _ in 0..EXCHANGES_MAX {
                let mut found = None;
                let tries =
                    if way == WAITS { repair.can_wait(&from) } else { repair.pushed(&movement, &from.start) };
                for j in tries {
                    repair.give_way(j, true);
                    if let Ok(order) = repair.clone().build_with(d, way) {
                        let cost = cost(d);
                        if cost < from.cost && (way == WAITS || movement.moved(&d.start) <= most) {
                            from = Built::of(d, cost, order);
                            found = Some(j);
                        }
                    }
                    repair.give_way(j, false);
                }
                let Some(j) = found else { break };
                repair.give_way(j, true);
            }
            if from.cost < best.cost && movement.moved(&from.start) <= most {
                best = from;
            }
        }
        d.load(&best.start, &best.end);
        best.order
    }

    /// What has lost its place waits for something free, and so does what it would have pushed.
    fn all_wait(&mut self, d: &mut Decoder<'_>, cost: &impl Fn(&Decoder<'_>) -> i64) -> Option<Built> {
        for left in (0..=ROOTS_MAX).rev() {
            let order = self.clone().build_with(d, WAITS).ok()?;
            let built = Built::of(d, cost(d), order);
            match self.root(&built).filter(|_| left > 0) {
                Some(u) => self.displaced[u] = true,
                None => return Some(built),
            }
        }
        None
    }

    /// Jobs that lose least by giving up their places to what waits longest for one, those first.
    fn can_wait(&self, now: &Built) -> Vec<usize> {
        let m = self.m;
        let (mut done, mut open) = (vec![Time::MIN; m.weight.len()], vec![false; m.weight.len()]);
        let mut longest = 0;
        for t in (0..m.tasks).filter(|&t| m.job[t] != NONE) {
            let j = m.job[t] as usize;
            done[j] = done[j].max(now.end[t]);
            open[j] |= !m.fixed[t];
            let u = m.unit_of[t] as usize;
            if !m.fixed[t] && self.displaced[u] {
                longest = longest.max(now.start[t] - self.key[u]);
            }
        }
        let loses = |j: &usize| {
            let j = *j as u32;
            m.lateness(j, done[j as usize] + longest) - m.lateness(j, done[j as usize])
        };
        let mut jobs: Vec<usize> = (0..done.len()).filter(|&j| open[j] && !self.gives_way[j]).collect();
        jobs.sort_by_key(|j| (loses(j), *j));
        jobs.truncate(EXCHANGE_TRIES);
        jobs
    }

    /// Jobs that have moved, the farthest first.
    fn pushed(&self, movement: &Movement, start: &[Time]) -> Vec<usize> {
        let m = self.m;
        let mut shift = vec![0i64; m.weight.len()];
        for t in (0..m.tasks).filter(|&t| m.job[t] != NONE && movement.later(t, start[t])) {
            shift[m.job[t] as usize] += i64::from(start[t] - movement.from(t));
        }
        let mut jobs: Vec<usize> = (0..shift.len()).filter(|&j| shift[j] > 0 && !self.gives_way[j]).collect();
        jobs.sort_by_key(|&j| (std::cmp::Reverse(shift[j]), j));
        jobs.truncate(EXCHANGE_TRIES);
        jobs
    }

    fn give_way(&mut self, job: usize, gives: bool) {
        self.gives_way[job] = gives;
        for t in (0..self.m.tasks).filter(|&t| self.m.job[t] as usize == job) {
            self.floor[t] = if gives { self.m.est[t] } else { self.known.start[t] };
        }
    }

    fn gives(&self, u: usize) -> bool {
        self.m.members.row(u).iter().any(|&t| {
            let job = self.m.job[t as usize];
            job != NONE && self.gives_way[job as usize]
        })
    }

    fn build_with(mut self, d: &mut Decoder<'_>, way: Way) -> Result<Vec<u32>, Vec<u32>> {
        for pass in 0..=PASSES {
            let order = self.order();
            d.decode_keeping(&order, &self.floor, &self.latest(way.pushed))?;
            if pass == PASSES || !self.hurry(d, way) {
                return Ok(order);
            }
            if pass + 1 == PASSES {
                self.in_turn.fill(true);
            }
        }
        unreachable!("the last pass returns")
    }

    /// What stays, in the order in which it was; behind it what has lost its place.
    fn order(&self) -> Vec<u32> {
        let behind = i64::from(Time::MAX);
        let rank = |u: usize| {
            let key = i64::from(self.key[u]);
            let waits = (self.displaced[u] && !self.in_turn[u]) || self.gives(u);
            (self.m.class[u].min(1), if waits { key + behind } else { key }, self.displaced[u])
        };
        let mut order = rules::list_by(self.m, rank);
        order.sort_by_key(|&u| self.m.class[u as usize].min(1));
        order
    }

    fn latest(&self, pushed: Option<Time>) -> Vec<Time> {
        let stays = |u: usize| pushed.is_some() && !self.in_turn[u] && !self.displaced[u];
        (0..self.m.units).map(|u| if stays(u) { self.key[u] + SLIP } else { Time::MAX }).collect()
    }

    /// Puts in turn what has found nothing free in time: soon enough, and without its job being late for it. False if there is
    /// nothing of that kind.
    fn hurry(&mut self, d: &Decoder<'_>, way: Way) -> bool {
        let m = self.m;
        let mut done = vec![Time::MIN; m.weight.len()];
        for t in (0..m.tasks).filter(|&t| m.job[t] != NONE) {
            let done = &mut done[m.job[t] as usize];
            *done = d.end[t].max(*done);
        }
        let late = |t: u32| {
            let job = m.job[t as usize];
            let late_by = |end: Time| m.lateness(job, end);
            job != NONE && late_by(done[job as usize]) > late_by(m.job_least[job as usize])
        };
        let mut any = false;
        for u in 0..m.units {
            let patience = match (self.displaced[u], way.displaced_waits) {
                (true, true) => None,
                (true, false) => Some(PATIENCE),
                (false, _) => way.pushed,
            };
            let Some(patience) = patience.filter(|_| !self.in_turn[u] && !self.gives(u)) else { continue };
            let waits = d.begins(u as u32) - self.key[u];
            if waits > patience || (waits > SLIP && m.members.row(u).iter().any(|&t| late(t))) {
                self.in_turn[u] = true;
                any = true;
            }
        }
        any
    }
}

/// A plan on the way.
#[derive(Clone)]
struct Built {
    cost: i64,
    order: Vec<u32>,
    start: Vec<Time>,
    end: Vec<Time>,
}

impl Built {
    fn of(d: &Decoder<'_>, cost: i64, order: Vec<u32>) -> Self {
        Self { cost, order, start: d.start.clone(), end: d.end.clone() }
    }
}

/// The price of each task's moving.
pub(crate) struct Movement {
    from: Vec<Time>,
    price: Vec<i64>,
}

impl Movement {
    /// What is new may stand anywhere.
    pub(crate) fn new(m: &Model, keep: &Keep, known: &Known) -> Self {
        let from = &known.start;
        let price = |t: usize| {
            if m.fixed[t] || m.class[m.unit_of[t] as usize] == 0 || !known.task[t] {
                return 0;
            }
            let distance = i64::from(from[t] - m.now).max(0);
            match distance {
                soon if soon <= keep.soon => keep.soon_price,
                far => (keep.day_price * DAY / far.max(DAY)).max(keep.day_price / 3),
            }
        };
        Self { from: from.clone(), price: (0..m.tasks).map(price).collect() }
    }

    /// Of a whole plan, in weight × minutes.
    pub(crate) fn cost(&self, start: &[Time]) -> i64 {
        let full = MOVED - UNNOTICED;
        let of = |((s, from), price): ((&Time, &Time), &i64)| {
            i64::from(((s - from).abs() - UNNOTICED).clamp(0, full)) * price
        };
        start.iter().zip(&self.from).zip(&self.price).map(of).sum::<i64>() / i64::from(full)
    }

    /// Tasks that people would see somewhere else.
    pub(crate) fn moved(&self, start: &[Time]) -> usize {
        let far = |((s, from), price): &((&Time, &Time), &i64)| **price > 0 && (*s - *from).abs() > SLIP;
        start.iter().zip(&self.from).zip(&self.price).filter(far).count()
    }

    /// It begins later than people expect.
    pub(crate) fn later(&self, t: usize, start: Time) -> bool {
        self.price[t] > 0 && start - self.from[t] > UNNOTICED
    }

    pub(crate) fn from(&self, t: usize) -> Time {
        self.from[t]
    }
}
