//! A checked problem, compiled: [`Model::new`], its parts in the order in which they need each other.
//!
//! Invariants: what has started is a fact (it goes into the base profiles and no longer binds anything);
//! everything between the opener and the closer of a hold is one unit; units form a graph without cycles, or
//! the problem is refused with the tasks of the cycle.

use crate::calendar::Work;
use crate::check::{check, enough};
use crate::graph::{
    Union, between, between_any, is_crowded, longest_within, make_units, meets, reversed, topological,
};
use crate::model::{Arc, Close, Model, NO_DUE, Need, Rows, Soft, UnitHold, lateness};
use crate::problem::{FARTHEST_MINUTES, Hold, Kind, Minutes, Objective, PlanError, Problem, Task, Until};
use crate::profile::Profile;
use crate::{FAR, NONE, Time};

fn t(minutes: Minutes) -> Time {
    minutes as Time
}

/// What has started, and the earliest start of everything else.
struct Facts {
    calendars: Vec<Work>,
    fixed: Vec<bool>,
    start: Vec<Time>,
    end: Vec<Time>,
    est: Vec<Time>,
}

impl Facts {
    fn of(p: &Problem) -> Self {
        let n = p.tasks.len();
        let calendars: Vec<Work> = p
            .calendars
            .iter()
            .map(|c| Work::new(c.open.iter().map(|&(a, b)| (t(a), t(b))).collect()))
            .collect();
        let (mut start, mut end) = (vec![0; n], vec![0; n]);
        let mut est = vec![t(p.now); n];
        for (i, k) in p.tasks.iter().enumerate() {
            if let Some(s) = k.fixed_start {
                start[i] = t(s);
                end[i] = match k.calendar {
                    Some(c) if k.duration > 0 => calendars[c].finish(calendars[c].next(t(s)), t(k.duration)),
                    _ => t(s) + t(k.duration),
                };
            }
            let job = k.job.map_or(p.now, |j| p.jobs[j].release);
            est[i] = est[i].max(t(job)).max(k.release.map_or(t(p.now), t));
        }
        let fixed = p.tasks.iter().map(|k| k.fixed_start.is_some()).collect();
        Self { calendars, fixed, start, end, est }
    }
}

/// Precedence.
struct Order {
    /// Between tasks that have not started.
    preds: Vec<Vec<Arc>>,
    succs: Vec<Vec<Arc>>,
    softs: Vec<Soft>,
    /// Between all tasks, there and back.
    full: Vec<Vec<u32>>,
    back: Vec<Vec<u32>>,
}

impl Order {
    /// Moves `facts.est` behind what has started.
    fn of(p: &Problem, facts: &mut Facts) -> Self {
        let n = p.tasks.len();
        let full: Vec<Vec<u32>> =
            p.tasks.iter().map(|k| k.successors.iter().map(|s| s.task as u32).collect()).collect();
        let back = reversed(&full);
        let (preds, succs) = (vec![Vec::new(); n], vec![Vec::new(); n]);
        let mut order = Self { preds, succs, softs: Vec::new(), full, back };
        for (i, k) in p.tasks.iter().enumerate() {
            for s in &k.successors {
                order.arc(i, s.task, t(s.min_lag), facts);
                if let Some(m) = s.max_lag {
                    let max_lag = t(m.max(s.min_lag));
                    order.softs.push(Soft { from: i as u32, to: s.task as u32, max_lag });
                }
            }
        }
        order
    }

    fn arc(&mut self, from: usize, to: usize, lag: Time, facts: &mut Facts) {
        if facts.fixed[to] {
            return; // it has started: a fact, whatever should have come first
        }
        if facts.fixed[from] {
            facts.est[to] = facts.est[to].max(facts.end[from] + lag);
            return;
        }
        self.preds[to].push(Arc { task: from as u32, lag });
        self.succs[from].push(Arc { task: to as u32, lag });
    }

    /// Tasks tied together by a longest lag that is wished for, while neither has started.
    fn tied(&self, facts: &Facts) -> impl Iterator<Item = &Soft> {
        self.softs.iter().filter(|s| !facts.fixed[s.from as usize] && !facts.fixed[s.to as usize])
    }
}

/// What each task takes, scarcest first, because that decides most often.
fn needs(p: &Problem) -> Vec<Vec<Need>> {
    let of = |k: &Task| {
        let mut needs: Vec<Need> = Vec::new();
        for d in k.demands.iter().filter(|d| d.qty > 0) {
            let (res, qty) = (d.resource as u32, d.qty as i32);
            match needs.iter_mut().find(|x| x.res == res) {
                Some(x) => x.qty += qty,
                None => needs.push(Need { res, qty, wall: p.resources[d.resource].wall }),
            }
        }
        needs.sort_by_key(|x| {
            let resource = &p.resources[x.res as usize];
            (resource.kind == Kind::Place, resource.capacity, x.res)
        });
        needs
    };
    p.tasks.iter().map(of).collect()
}

/// What is taken before anything is ordered, and what holds bind together.
struct Holds {
    base: Vec<Profile>,
    closes: Vec<Vec<Close>>,
    group: Union,
    /// Neither opened nor closed yet, with the opener.
    free: Vec<(Hold, usize)>,
}

impl Holds {
    fn of(p: &Problem, facts: &Facts, order: &mut Order) -> Result<Self, PlanError> {
        let n = p.tasks.len();
        let base = p.resources.iter().map(|r| {
            let mut profile = Profile::new(r.capacity as i32);
            for s in &r.availability {
                profile.take(t(s.from), t(s.to), r.capacity as i32 - s.capacity as i32);
            }
            profile
        });
        let mut holds = Self {
            base: base.collect(),
            closes: vec![Vec::new(); n],
            group: Union::new(n),
            free: Vec::new(),
        };
        for hold in p.holds.iter().filter(|hold| hold.qty > 0) {
            holds.enter(p, facts, order, hold)?;
        }
        for s in order.tied(facts) {
            holds.group.join(s.from as usize, s.to as usize);
        }
        Ok(holds)
    }

    /// A hold that has begun is a reservation; one that has not ties its tasks together.
    fn enter(&mut self, p: &Problem, facts: &Facts, order: &mut Order, h: &Hold) -> Result<(), PlanError> {
        let qty = h.qty as i32;
        let begun = match h.from {
            None => Some(Time::MIN / 2),
            Some(f) if facts.fixed[f] => Some(facts.start[f]),
            Some(_) => None,
        };
        let closed = facts.fixed[h.to].then(|| match h.until {
            Until::End => facts.end[h.to],
            Until::Start => facts.start[h.to],
        });
        match (begun, closed) {
            (Some(a), Some(b)) => self.base[h.resource].take(a, b, qty),
            (Some(a), None) => {
                self.base[h.resource].take(a, FAR, qty);
                self.closes[h.to].push(Close { res: h.resource as u32, qty, until: h.until });
            }
            (None, Some(_)) => {} // closed before it was opened: there is nothing left to hold
            (None, None) => {
                let from = h.from.expect("an unstarted hold has an opener");
                self.bind(p, facts, order, from, h)?;
            }
        }
        Ok(())
    }

    fn bind(
        &mut self,
        p: &Problem,
        facts: &Facts,
        order: &mut Order,
        from: usize,
        h: &Hold,
    ) -> Result<(), PlanError> {
        let inside = between(from, h.to, &order.full, &order.back);
        if inside.is_empty() && from != h.to {
            if !between_any(h.to, from, &order.full).is_empty() {
                return Err(PlanError::HoldReversed {
                    resource: p.resources[h.resource].id.clone(),
                    from: p.tasks[from].id.clone(),
                    to: p.tasks[h.to].id.clone(),
                });
            }
            // Nothing orders them: the closing task follows the opening one.
            order.preds[h.to].push(Arc { task: from as u32, lag: 0 });
            order.succs[from].push(Arc { task: h.to as u32, lag: 0 });
        }
        self.group.join(from, h.to);
        for x in inside.into_iter().filter(|&x| !facts.fixed[x]) {
            self.group.join(from, x);
        }
        self.free.push((*h, from));
        Ok(())
    }

    /// What has started takes what it needs: people while its calendar is open, the rest all the time.
    fn take_facts(&mut self, p: &Problem, facts: &Facts, needs: &[Vec<Need>]) {
        for (i, k) in p.tasks.iter().enumerate().filter(|(i, _)| facts.fixed[*i]) {
            for x in needs[i].iter().filter(|x| x.wall || k.calendar.is_none()) {
                self.base[x.res as usize].take(facts.start[i], facts.end[i], x.qty);
            }
            let Some(c) = k.calendar else { continue };
            for x in needs[i].iter().filter(|x| !x.wall) {
                for (a, b) in facts.calendars[c].pieces(facts.start[i], facts.end[i]) {
                    self.base[x.res as usize].take(a, b, x.qty);
                }
            }
        }
    }
}

/// How long the work after a task takes: estimated, for ordering, and at least, for what a plan can cost.
struct Ahead {
    topo: Vec<u32>,
    tail: Vec<Time>,
    late: Vec<i64>,
    after_least: Vec<Time>,
    job_after_least: Vec<Time>,
    job_least: Vec<Time>,
    last_least: Time,
}

impl Ahead {
    fn of(
        p: &Problem,
        facts: &Facts,
        order: &Order,
        dur: &[Time],
        topo_succs: &[Vec<u32>],
    ) -> Result<Self, PlanError> {
        let n = p.tasks.len();
        let stretch = |i: usize| p.tasks[i].calendar.map_or(1024, |c| facts.calendars[c].stretch());
        let wall = |i: usize| (i64::from(dur[i]) * stretch(i) / 1024).min(FARTHEST_MINUTES) as Time;
        let rough = topological(topo_succs, &facts.fixed, |i| i as i64).map_err(|left| cycle(p, left))?;
        let (mut tail, mut late) = (vec![0 as Time; n], vec![NO_DUE; n]);
        for &i in rough.iter().rev() {
            let i = i as usize;
            let own = wall(i);
            let mut longest = 0;
            let mut latest = p.tasks[i].job.and_then(|j| p.jobs[j].due).unwrap_or(NO_DUE);
            for a in &order.succs[i] {
                longest = longest.max(a.lag + tail[a.task as usize]);
                latest = latest.min(late[a.task as usize] - i64::from(a.lag));
            }
            tail[i] = own + longest;
            late[i] = latest - i64::from(own);
        }
        let topo = topological(topo_succs, &facts.fixed, |i| late[i]).map_err(|left| cycle(p, left))?;
        let (after_least, job_after_least) = (vec![0; n], vec![0; n]);
        let job_least = vec![Time::MIN; p.jobs.len()];
        let mut ahead = Self { topo, tail, late, after_least, job_after_least, job_least, last_least: 0 };
        ahead.least(p, facts, order, dur);
        Ok(ahead)
    }

    fn least(&mut self, p: &Problem, facts: &Facts, order: &Order, dur: &[Time]) {
        for &i in self.topo.iter().rev() {
            let i = i as usize;
            for a in &order.succs[i] {
                let (s, own) = (a.task as usize, a.lag + dur[a.task as usize]);
                self.after_least[i] = self.after_least[i].max(own + self.after_least[s]);
                if p.tasks[s].job == p.tasks[i].job {
                    self.job_after_least[i] = self.job_after_least[i].max(own + self.job_after_least[s]);
                }
            }
            let end = if facts.fixed[i] { facts.end[i] } else { facts.est[i] + dur[i] };
            self.last_least = self.last_least.max(end + self.after_least[i]);
            if let Some(j) = p.tasks[i].job {
                self.job_least[j] = self.job_least[j].max(end + self.job_after_least[i]);
            }
        }
    }
}

/// Joined tasks, and anything else that a cycle of units would tie together.
struct Units {
    of: Vec<u32>,
    members: Vec<Vec<u32>>,
    holds: Vec<Vec<UnitHold>>,
    opens: Vec<Vec<UnitHold>>,
    softs: Vec<Vec<Soft>>,
    preds: Vec<Vec<u32>>,
}

impl Units {
    fn of(
        facts: &Facts,
        order: &Order,
        holds: &mut Holds,
        dur: &[Time],
        topo_succs: &[Vec<u32>],
        topo: &[u32],
    ) -> Self {
        let n = facts.fixed.len();
        let (of, count) = make_units(n, &facts.fixed, &mut holds.group, topo_succs, topo);
        let mut units = Self {
            of,
            members: vec![Vec::new(); count],
            holds: vec![Vec::new(); count],
            opens: vec![Vec::new(); n],
            softs: vec![Vec::new(); count],
            preds: vec![Vec::new(); count],
        };
        for &i in topo.iter().filter(|&&i| !facts.fixed[i as usize]) {
            units.members[units.of[i as usize] as usize].push(i);
        }
        for (h, from) in holds.free.drain(..) {
            let u = units.of[from] as usize;
            let hold = UnitHold {
                res: h.resource as u32,
                qty: h.qty as i32,
                from: from as u32,
                to: h.to as u32,
                until: h.until,
                least: longest_within(&units.members[u], from, h.to, h.until, &order.succs, dur),
            };
            units.holds[u].push(hold);
            units.opens[from].push(hold);
        }
        for s in order.tied(facts) {
            units.softs[units.of[s.from as usize] as usize].push(*s);
        }
        // What has started is in no unit, and waits for nothing.
        for (i, preds) in order.preds.iter().enumerate().filter(|(i, _)| !facts.fixed[*i]) {
            let v = units.of[i];
            let others = preds.iter().map(|a| units.of[a.task as usize]).filter(|&u| u != v);
            units.preds[v as usize].extend(others);
        }
        for row in &mut units.preds {
            row.sort_unstable();
            row.dedup();
        }
        units
    }

    fn len(&self) -> usize {
        self.members.len()
    }
}

impl Model {
    pub(crate) fn new(p: &Problem) -> Result<Self, PlanError> {
        check(p)?;
        let dur: Vec<Time> = p.tasks.iter().map(|k| t(k.duration)).collect();
        let needs = needs(p);
        let mut facts = Facts::of(p);
        let mut order = Order::of(p, &mut facts);
        let mut holds = Holds::of(p, &facts, &mut order)?;
        holds.take_facts(p, &facts, &needs);
        let topo_succs: Vec<Vec<u32>> =
            order.succs.iter().map(|row| row.iter().map(|a| a.task).collect()).collect();
        let ahead = Ahead::of(p, &facts, &order, &dur, &topo_succs)?;
        let units = Units::of(&facts, &order, &mut holds, &dur, &topo_succs, &ahead.topo);
        let crowded: Vec<bool> = (0..units.len())
            .map(|u| is_crowded(&units.members[u], &units.holds[u], &needs, &order.succs))
            .collect();
        for u in 0..units.len() {
            check_unit(p, &units.members[u], &units.holds[u], &needs, &order.full, &order.back)?;
        }
        let (users, overbooked) = usage(&facts, &units, &crowded, &needs, &holds.base);
        let due: Vec<Option<Time>> = p.jobs.iter().map(|j| j.due.map(t)).collect();
        let least_cost =
            (0..p.jobs.len()).map(|j| lateness(due[j], p.jobs[j].weight, ahead.job_least[j])).sum();
        let single = p
            .resources
            .iter()
            .map(|r| r.capacity <= 1 && r.availability.iter().all(|s| s.capacity <= 1))
            .collect();
        Ok(Self {
            tasks: p.tasks.len(),
            units: units.len(),
            makespan: p.objective == Objective::Makespan,
            max_lag_price: p.max_lag_price.max(0),
            cal: p.tasks.iter().map(|k| k.calendar.map_or(NONE, |c| c as u32)).collect(),
            one_go: p.tasks.iter().map(|k| k.one_go).collect(),
            job: p.tasks.iter().map(|k| k.job.map_or(NONE, |j| j as u32)).collect(),
            dur,
            fixed: facts.fixed,
            fixed_start: facts.start,
            fixed_end: facts.end,
            est: facts.est,
            needs: Rows::of(&needs),
            preds: Rows::of(&order.preds),
            succs: Rows::of(&order.succs),
            calendars: facts.calendars,
            base: holds.base,
            now: t(p.now),
            users,
            single,
            overbooked,
            due,
            weight: p.jobs.iter().map(|j| j.weight).collect(),
            release: p.jobs.iter().map(|j| t(j.release)).collect(),
            class: classes(p, &units.members, &units.preds),
            jobs_meet: meets(&units.members, &units.preds, &|i| p.tasks[i].job),
            unit_of: units.of,
            members: Rows::of(&units.members),
            unit_holds: Rows::of(&units.holds),
            unit_softs: Rows::of(&units.softs),
            crowded,
            unit_preds: Rows::of(&units.preds),
            unit_succs: Rows::of(&reversed(&units.preds)),
            any_started_hold: holds.closes.iter().any(|closes| !closes.is_empty()),
            closes: Rows::of(&holds.closes),
            softs: order.softs,
            opens: Rows::of(&units.opens),
            tail: ahead.tail,
            late: ahead.late,
            after_least: ahead.after_least,
            job_after_least: ahead.job_after_least,
            job_least: ahead.job_least,
            last_least: ahead.last_least,
            least_cost,
            any_loose: p.tasks.iter().any(|k| k.job.is_none()),
            topo: ahead.topo,
        })
    }
}

/// How many tasks and holds use each resource, and whether they may overbook it for a while.
fn usage(
    facts: &Facts,
    units: &Units,
    crowded: &[bool],
    needs: &[Vec<Need>],
    base: &[Profile],
) -> (Vec<u32>, Vec<bool>) {
    let (mut users, mut overbooked) = (vec![0u32; base.len()], vec![false; base.len()]);
    for (i, needs) in needs.iter().enumerate() {
        let crowd = !facts.fixed[i] && crowded[units.of[i] as usize];
        for r in needs.iter().map(|x| x.res).chain(units.opens[i].iter().map(|h| h.res)) {
            users[r as usize] += 1;
            overbooked[r as usize] |= crowd || base[r as usize].overbooked();
        }
    }
    (users, overbooked)
}

/// A unit whose own uses of a resource must overlap and together exceed it could never be placed.
fn check_unit(
    p: &Problem,
    members: &[u32],
    holds: &[UnitHold],
    needs: &[Vec<Need>],
    full: &[Vec<u32>],
    back: &[Vec<u32>],
) -> Result<(), PlanError> {
    for h in holds {
        let inside = between(h.from as usize, h.to as usize, full, back);
        for &m in members {
            let m = m as usize;
            let overlaps = m == h.from as usize
                || (inside.contains(&m) && !(m == h.to as usize && h.until == Until::Start))
                || (m == h.to as usize && h.until == Until::End);
            let also: i32 = needs[m].iter().filter(|x| x.res == h.res).map(|x| x.qty).sum();
            if overlaps && also > 0 && p.tasks[m].duration > 0 {
                enough(p, h.res as usize, (h.qty + also) as u32, || {
                    format!("task {} inside a hold", p.tasks[m].id)
                })?;
            }
        }
        for g in holds.iter().filter(|g| g.res == h.res && (g.from, g.to) != (h.from, h.to)) {
            let opened_inside = inside.contains(&(g.from as usize)) && g.from != h.to;
            if opened_inside && g.from != h.from {
                enough(p, h.res as usize, (h.qty + g.qty) as u32, || {
                    format!("a hold inside the hold until {}", p.tasks[h.to as usize].id)
                })?;
            }
        }
    }
    Ok(())
}

fn cycle(p: &Problem, left: Vec<u32>) -> PlanError {
    PlanError::Cycle { tasks: left.into_iter().take(8).map(|i| p.tasks[i as usize].id.clone()).collect() }
}

fn classes(p: &Problem, members: &[Vec<u32>], unit_preds: &[Vec<u32>]) -> Vec<u8> {
    let mut class: Vec<u8> = members
        .iter()
        .map(|m| {
            let of = |k: &Task| {
                if k.priority {
                    0
                } else if k.sticky {
                    1
                } else {
                    2
                }
            };
            m.iter().map(|&i| of(&p.tasks[i as usize])).min().unwrap_or(2)
        })
        .collect();
    // What a unit needs goes with it.
    let mut todo: Vec<usize> = (0..members.len()).filter(|&u| class[u] < 2).collect();
    while let Some(u) = todo.pop() {
        for &v in &unit_preds[u] {
            if class[v as usize] > class[u] {
                class[v as usize] = class[u];
                todo.push(v as usize);
            }
        }
    }
    class
}
