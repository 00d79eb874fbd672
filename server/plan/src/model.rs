//! The problem, checked and compiled for fast decoding.
//!
//! Invariants: units (single tasks, or everything between the opener and the closer of holds that touch each other) form a graph
//! without circles, so some order of them always exists; fixed tasks belong to no unit and are part of the base profiles;
//! started holds bind no unit: they are reservations without end that their closing task gives back.

use crate::calendar::Work;
use crate::graph::{
    Union, between, between_any, is_crowded, longest_within, make_units, meets, reversed, topological,
};
use crate::problem::{FARTHEST_MINUTES, Hold, Kind, Minutes, Objective, PlanError, Problem, Until};
use crate::profile::Profile;
use crate::{FAR, NONE, Time};

/// Rows of different length in one vector.
#[derive(Clone, Debug, Default)]
pub(crate) struct Rows<T> {
    at: Vec<u32>,
    items: Vec<T>,
}

impl<T: Clone> Rows<T> {
    pub(crate) fn of(rows: &[Vec<T>]) -> Self {
        let mut at = Vec::with_capacity(rows.len() + 1);
        let mut items = Vec::new();
        at.push(0);
        for row in rows {
            items.extend_from_slice(row);
            at.push(items.len() as u32);
        }
        Self { at, items }
    }
    #[inline]
    pub(crate) fn row(&self, i: usize) -> &[T] {
        &self.items[self.at[i] as usize..self.at[i + 1] as usize]
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Need {
    pub res: u32,
    pub qty: i32,
    pub wall: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Arc {
    pub task: u32,
    pub lag: Time,
}

/// A hold inside a unit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct UnitHold {
    pub res: u32,
    pub qty: i32,
    pub from: u32,
    pub to: u32,
    pub until: Until,
    /// It lasts at least this long, whatever else happens.
    pub least: Time,
}

/// What the end of a task gives back: a started hold.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Close {
    pub res: u32,
    pub qty: i32,
    pub until: Until,
}

#[derive(Clone, Copy, Debug)]
pub(crate) struct Soft {
    pub from: u32,
    pub to: u32,
    pub max_lag: Time,
}

#[derive(Clone, Debug)]
pub(crate) struct Model {
    pub tasks: usize,
    pub units: usize,
    pub makespan: bool,
    pub max_lag_price: i64,
    pub dur: Vec<Time>,
    pub cal: Vec<u32>,
    pub one_go: Vec<bool>,
    pub job: Vec<u32>,
    pub fixed: Vec<bool>,
    /// Starts and ends of fixed tasks; zero elsewhere.
    pub fixed_start: Vec<Time>,
    pub fixed_end: Vec<Time>,
    /// Earliest start by release, now and fixed predecessors.
    pub est: Vec<Time>,
    pub needs: Rows<Need>,
    /// Free predecessors and successors (neither end fixed).
    pub preds: Rows<Arc>,
    pub succs: Rows<Arc>,
    pub calendars: Vec<Work>,
    pub base: Vec<Profile>,
    pub now: Time,
    /// How many tasks and holds use each resource.
    pub users: Vec<u32>,
    /// There is never more than one of it.
    pub single: Vec<bool>,
    /// Crowded units or facts may overbook it for a while.
    pub overbooked: Vec<bool>,
    pub due: Vec<Option<Time>>,
    pub weight: Vec<i64>,
    pub release: Vec<Time>,
    pub unit_of: Vec<u32>,
    pub members: Rows<u32>,
    pub unit_holds: Rows<UnitHold>,
    pub unit_softs: Rows<Soft>,
    /// Uses of one resource inside the unit may meet: they have to be reserved while it is being placed.
    pub crowded: Vec<bool>,
    pub unit_preds: Rows<u32>,
    pub unit_succs: Rows<u32>,
    /// 0 put first, 1 sticky, 2 the rest; what a unit needs is never in a later class.
    pub class: Vec<u8>,
    pub closes: Rows<Close>,
    pub any_started_hold: bool,
    pub softs: Vec<Soft>,
    /// Per unit: holds that its opener (by task) must respect when it starts.
    pub opens: Rows<UnitHold>,
    /// Estimated wall minutes from the start of a task to the end of its longest chain.
    pub tail: Vec<Time>,
    /// Latest start that keeps every due date downstream, by estimates; large without due dates.
    pub late: Vec<i64>,
    /// At least this much passes from the end of a task to the end of everything behind it …
    pub after_least: Vec<Time>,
    /// … and to the end of its own job.
    pub job_after_least: Vec<Time>,
    /// Least completion of each job (`Time::MIN`: it has no tasks) and of everything, before anything is placed.
    pub job_least: Vec<Time>,
    pub last_least: Time,
    pub least_cost: i64,
    /// Precedence or a unit ties tasks of different jobs together.
    pub jobs_meet: bool,
    /// Some task belongs to no job.
    pub any_loose: bool,
    /// All tasks in an order that respects precedence.
    pub topo: Vec<u32>,
}

pub(crate) const NO_DUE: i64 = 1 << 27;

impl Model {
    pub(crate) fn new(p: &Problem) -> Result<Self, PlanError> {
        check(p)?;
        let n = p.tasks.len();
        let t = |m: Minutes| m as Time;
        let calendars: Vec<Work> = p
            .calendars
            .iter()
            .map(|c| Work::new(c.open.iter().map(|&(a, b)| (t(a), t(b))).collect()))
            .collect();
        let fixed: Vec<bool> = p.tasks.iter().map(|k| k.fixed_start.is_some()).collect();
        let mut fixed_start = vec![0; n];
        let mut fixed_end = vec![0; n];
        for (i, k) in p.tasks.iter().enumerate() {
            if let Some(s) = k.fixed_start {
                let s = t(s);
                fixed_start[i] = s;
                fixed_end[i] = match k.calendar {
                    Some(c) if k.duration > 0 => calendars[c].finish(calendars[c].next(s), t(k.duration)),
                    _ => s + t(k.duration),
                };
            }
        }
        let mut est = vec![t(p.now); n];
        for (i, k) in p.tasks.iter().enumerate() {
            let job = k.job.map_or(p.now, |j| p.jobs[j].release);
            est[i] = est[i].max(t(job)).max(k.release.map_or(t(p.now), t));
        }
        let mut preds: Vec<Vec<Arc>> = vec![Vec::new(); n];
        let mut succs: Vec<Vec<Arc>> = vec![Vec::new(); n];
        let mut softs = Vec::new();
        let mut arc = |from: usize, to: usize, lag: Time, est: &mut Vec<Time>| {
            if fixed[to] {
                return; // it has started: a fact, whatever should have come first
            }
            if fixed[from] {
                est[to] = est[to].max(fixed_end[from] + lag);
                return;
            }
            preds[to].push(Arc { task: from as u32, lag });
            succs[from].push(Arc { task: to as u32, lag });
        };
        for (i, k) in p.tasks.iter().enumerate() {
            for s in &k.successors {
                arc(i, s.task, t(s.min_lag), &mut est);
                if let Some(m) = s.max_lag {
                    softs.push(Soft { from: i as u32, to: s.task as u32, max_lag: t(m.max(s.min_lag)) });
                }
            }
        }
        let full: Vec<Vec<u32>> =
            p.tasks.iter().map(|k| k.successors.iter().map(|s| s.task as u32).collect()).collect();
        let back = reversed(&full);
        // Holds: started ones are reservations, the others bind tasks together.
        let mut base: Vec<Profile> = p
            .resources
            .iter()
            .map(|r| {
                let mut profile = Profile::new(r.capacity as i32);
                for s in &r.availability {
                    profile.take(t(s.from), t(s.to), r.capacity as i32 - s.capacity as i32);
                }
                profile
            })
            .collect();
        let mut needs: Vec<Vec<Need>> = vec![Vec::new(); n];
        for (i, k) in p.tasks.iter().enumerate() {
            for d in &k.demands {
                if d.qty == 0 {
                    continue;
                }
                let res = d.resource as u32;
                match needs[i].iter_mut().find(|x| x.res == res) {
                    Some(x) => x.qty += d.qty as i32,
                    None => {
                        needs[i].push(Need { res, qty: d.qty as i32, wall: p.resources[d.resource].wall })
                    }
                }
            }
            // The scarcest first: it decides most often.
            needs[i].sort_by_key(|x| {
                (p.resources[x.res as usize].kind == Kind::Place, p.resources[x.res as usize].capacity, x.res)
            });
        }
        let mut closes: Vec<Vec<Close>> = vec![Vec::new(); n];
        let mut any_started_hold = false;
        let mut group = Union::new(n);
        let mut free_holds: Vec<(Hold, usize)> = Vec::new();
        for h in &p.holds {
            let qty = h.qty as i32;
            if qty == 0 {
                continue;
            }
            let begun = match h.from {
                None => Some(Time::MIN / 2),
                Some(f) if fixed[f] => Some(fixed_start[f]),
                Some(_) => None,
            };
            let closed =
                fixed[h.to].then(|| if h.until == Until::End { fixed_end[h.to] } else { fixed_start[h.to] });
            match (begun, closed) {
                (Some(a), Some(b)) => base[h.resource].take(a, b, qty),
                (Some(a), None) => {
                    base[h.resource].take(a, FAR, qty);
                    closes[h.to].push(Close { res: h.resource as u32, qty, until: h.until });
                    any_started_hold = true;
                }
                (None, Some(_)) => {} // closed before it was opened: there is nothing left to hold
                (None, None) => {
                    let from = h.from.expect("an unstarted hold has an opener");
                    let between = between(from, h.to, &full, &back);
                    if between.is_empty() && from != h.to {
                        if !between_any(h.to, from, &full).is_empty() {
                            return Err(PlanError::HoldReversed {
                                resource: p.resources[h.resource].id.clone(),
                                from: p.tasks[from].id.clone(),
                                to: p.tasks[h.to].id.clone(),
                            });
                        }
                        // Nothing orders them: the closing task follows the opening one.
                        preds[h.to].push(Arc { task: from as u32, lag: 0 });
                        succs[from].push(Arc { task: h.to as u32, lag: 0 });
                    }
                    group.join(from, h.to);
                    for x in between {
                        if !fixed[x] {
                            group.join(from, x);
                        }
                    }
                    free_holds.push((*h, from));
                }
            }
        }
        for s in &softs {
            if !fixed[s.from as usize] && !fixed[s.to as usize] {
                group.join(s.from as usize, s.to as usize);
            }
        }
        for (i, k) in p.tasks.iter().enumerate() {
            if fixed[i] {
                let wall = needs[i].iter().filter(|x| x.wall || k.calendar.is_none());
                for x in wall {
                    base[x.res as usize].take(fixed_start[i], fixed_end[i], x.qty);
                }
                if let Some(c) = k.calendar {
                    for x in needs[i].iter().filter(|x| !x.wall) {
                        for (a, b) in calendars[c].pieces(fixed_start[i], fixed_end[i]) {
                            base[x.res as usize].take(a, b, x.qty);
                        }
                    }
                }
            }
        }
        let topo_succs: Vec<Vec<u32>> = succs.iter().map(|r| r.iter().map(|a| a.task).collect()).collect();
        let stretch = |i: usize| p.tasks[i].calendar.map_or(1024, |c| calendars[c].stretch());
        let dur: Vec<Time> = p.tasks.iter().map(|k| t(k.duration)).collect();
        let wall_dur = |i: usize| (i64::from(dur[i]) * stretch(i) / 1024).min(FARTHEST_MINUTES) as Time;
        // Tails and latest starts over all tasks, backwards.
        let rough = topological(&topo_succs, &fixed, |i| i as i64).map_err(|left| cycle(p, left))?;
        let due: Vec<Option<Time>> = p.jobs.iter().map(|j| j.due.map(t)).collect();
        let mut tail = vec![0 as Time; n];
        let mut late = vec![NO_DUE; n];
        for &i in rough.iter().rev() {
            let i = i as usize;
            let own = wall_dur(i);
            let mut longest = 0;
            let mut latest = p.tasks[i].job.and_then(|j| due[j]).map_or(NO_DUE, i64::from);
            for a in &succs[i] {
                longest = longest.max(a.lag + tail[a.task as usize]);
                latest = latest.min(late[a.task as usize] - i64::from(a.lag));
            }
            tail[i] = own + longest;
            late[i] = latest - i64::from(own);
        }
        let topo = topological(&topo_succs, &fixed, |i| late[i]).map_err(|left| cycle(p, left))?;
        let job_of = |i: usize| p.tasks[i].job;
        let mut after_least = vec![0 as Time; n];
        let mut job_after_least = vec![0 as Time; n];
        let mut job_least = vec![Time::MIN; p.jobs.len()];
        let mut last_least = 0;
        for &i in topo.iter().rev() {
            let i = i as usize;
            for a in &succs[i] {
                let (s, own) = (a.task as usize, a.lag + dur[a.task as usize]);
                after_least[i] = after_least[i].max(own + after_least[s]);
                if job_of(s) == job_of(i) {
                    job_after_least[i] = job_after_least[i].max(own + job_after_least[s]);
                }
            }
            let end = if fixed[i] { fixed_end[i] } else { est[i] + dur[i] };
            last_least = last_least.max(end + after_least[i]);
            if let Some(j) = job_of(i) {
                job_least[j] = job_least[j].max(end + job_after_least[i]);
            }
        }
        let least_cost = (0..p.jobs.len()).map(|j| lateness(due[j], p.jobs[j].weight, job_least[j])).sum();
        // Units: joined tasks, and whatever a circle of units would tie together.
        let (unit_of, units) = make_units(n, &fixed, &mut group, &topo_succs, &topo);
        let mut members: Vec<Vec<u32>> = vec![Vec::new(); units];
        for &i in &topo {
            if !fixed[i as usize] {
                members[unit_of[i as usize] as usize].push(i);
            }
        }
        let mut unit_holds: Vec<Vec<UnitHold>> = vec![Vec::new(); units];
        let mut opens: Vec<Vec<UnitHold>> = vec![Vec::new(); n];
        for (h, from) in free_holds {
            let u = unit_of[from] as usize;
            let least = longest_within(&members[u], from, h.to, h.until, &succs, &dur);
            let hold = UnitHold {
                res: h.resource as u32,
                qty: h.qty as i32,
                from: from as u32,
                to: h.to as u32,
                until: h.until,
                least,
            };
            unit_holds[u].push(hold);
            opens[from].push(hold);
        }
        let mut unit_softs: Vec<Vec<Soft>> = vec![Vec::new(); units];
        for s in &softs {
            if !fixed[s.from as usize] && !fixed[s.to as usize] {
                unit_softs[unit_of[s.from as usize] as usize].push(*s);
            }
        }
        let mut unit_preds: Vec<Vec<u32>> = vec![Vec::new(); units];
        for i in 0..n {
            for a in &preds[i] {
                let (u, v) = (unit_of[a.task as usize], unit_of[i]);
                if u != v {
                    unit_preds[v as usize].push(u);
                }
            }
        }
        for row in &mut unit_preds {
            row.sort_unstable();
            row.dedup();
        }
        let unit_succs = reversed(&unit_preds);
        let crowded: Vec<bool> =
            (0..units).map(|u| is_crowded(&members[u], &unit_holds[u], &needs, &succs)).collect();
        for u in 0..units {
            check_unit(p, &members[u], &unit_holds[u], &needs, &full, &back)?;
        }
        let mut users = vec![0u32; p.resources.len()];
        let mut overbooked = vec![false; p.resources.len()];
        for t in 0..n {
            let crowd = !fixed[t] && crowded[unit_of[t] as usize];
            for r in needs[t].iter().map(|x| x.res).chain(opens[t].iter().map(|h| h.res)) {
                users[r as usize] += 1;
                overbooked[r as usize] |= crowd || base[r as usize].overbooked();
            }
        }
        let class = classes(p, &members, &unit_preds);
        Ok(Self {
            tasks: n,
            units,
            makespan: p.objective == Objective::Makespan,
            max_lag_price: p.max_lag_price.max(0),
            cal: p.tasks.iter().map(|k| k.calendar.map_or(NONE, |c| c as u32)).collect(),
            one_go: p.tasks.iter().map(|k| k.one_go).collect(),
            job: p.tasks.iter().map(|k| k.job.map_or(NONE, |j| j as u32)).collect(),
            dur,
            fixed,
            fixed_start,
            fixed_end,
            est,
            needs: Rows::of(&needs),
            preds: Rows::of(&preds),
            succs: Rows::of(&succs),
            calendars,
            base,
            now: t(p.now),
            users,
            single: p
                .resources
                .iter()
                .map(|r| r.capacity <= 1 && r.availability.iter().all(|s| s.capacity <= 1))
                .collect(),
            overbooked,
            due,
            weight: p.jobs.iter().map(|j| j.weight).collect(),
            release: p.jobs.iter().map(|j| t(j.release)).collect(),
            unit_of,
            members: Rows::of(&members),
            unit_holds: Rows::of(&unit_holds),
            unit_softs: Rows::of(&unit_softs),
            crowded,
            unit_preds: Rows::of(&unit_preds),
            unit_succs: Rows::of(&unit_succs),
            class,
            closes: Rows::of(&closes),
            any_started_hold,
            softs,
            opens: Rows::of(&opens),
            tail,
            late,
            after_least,
            job_after_least,
            job_least,
            last_least,
            least_cost,
            jobs_meet: meets(&members, &unit_preds, &job_of),
            any_loose: p.tasks.iter().any(|k| k.job.is_none()),
            topo,
        })
    }

    #[inline]
    pub(crate) fn lateness(&self, job: u32, end: Time) -> i64 {
        lateness(self.due[job as usize], self.weight[job as usize], end)
    }

    /// The first start from `from` on that its calendar allows.
    pub(crate) fn begins_alone(&self, t: usize, from: Time) -> Time {
        match self.cal[t] {
            NONE => from,
            _ if self.dur[t] == 0 => from,
            c if self.one_go[t] => self.calendars[c as usize].next_one_go(from, self.dur[t]),
            c => self.calendars[c as usize].next(from),
        }
    }

    /// Where a task begun at `start` ends.
    pub(crate) fn end_of(&self, t: usize, start: Time) -> Time {
        match self.cal[t] {
            NONE => start + self.dur[t],
            _ if self.dur[t] == 0 => start,
            c => self.calendars[c as usize].finish(self.calendars[c as usize].next(start), self.dur[t]),
        }
    }

    /// The class of a unit may not fall along the list; `order` keeps its own sequence inside each class.
    pub(crate) fn by_class(&self, order: &mut [u32]) {
        order.sort_by_key(|&u| self.class[u as usize]);
    }
}

#[inline]
fn lateness(due: Option<Time>, weight: i64, end: Time) -> i64 {
    due.map_or(0, |d| weight * (i64::from(end) - i64::from(d)).max(0))
}

/// Everything that can be said about the problem before ordering it.
fn check(p: &Problem) -> Result<(), PlanError> {
    let far = |m: Minutes| m.abs() > FARTHEST_MINUTES;
    let too_far = |owner: &str| PlanError::TooFar { owner: owner.to_owned() };
    if far(p.now) {
        return Err(too_far("now"));
    }
    for (i, c) in p.calendars.iter().enumerate() {
        if c.open.iter().any(|&(a, b)| a >= b) || c.open.windows(2).any(|w| w[0].1 > w[1].0) {
            return Err(PlanError::BadCalendar { calendar: i });
        }
        if c.open.iter().any(|&(a, b)| far(a) || far(b)) {
            return Err(too_far(&format!("calendar {i}")));
        }
    }
    for r in &p.resources {
        if r.availability.iter().any(|s| s.from >= s.to)
            || r.availability.windows(2).any(|w| w[0].to > w[1].from)
        {
            return Err(PlanError::BadAvailability { resource: r.id.clone() });
        }
        if r.availability.iter().any(|s| far(s.from) || far(s.to)) || r.capacity > 1 << 20 {
            return Err(too_far(&format!("resource {}", r.id)));
        }
    }
    for j in &p.jobs {
        if !(0..=1_000_000).contains(&j.weight) {
            return Err(PlanError::BadWeight { job: j.id.clone() });
        }
        if j.due.is_some_and(far) || far(j.release) {
            return Err(too_far(&format!("job {}", j.id)));
        }
    }
    let unknown =
        |what, owner: &str, index| Err(PlanError::UnknownIndex { what, owner: owner.to_owned(), index });
    let mut total: Minutes = 0;
    for k in &p.tasks {
        if k.duration < 0 {
            return Err(PlanError::NegativeDuration { task: k.id.clone() });
        }
        let owner = || format!("task {}", k.id);
        if far(k.duration) || k.release.is_some_and(far) || k.fixed_start.is_some_and(far) {
            return Err(too_far(&owner()));
        }
        total = total.saturating_add(k.duration);
        if let Some(c) = k.calendar.filter(|&c| c >= p.calendars.len()) {
            return unknown("calendar", &owner(), c);
        }
        if let Some(j) = k.job.filter(|&j| j >= p.jobs.len()) {
            return unknown("job", &owner(), j);
        }
        for d in &k.demands {
            if d.resource >= p.resources.len() {
                return unknown("resource", &owner(), d.resource);
            }
            let same: u32 = k.demands.iter().filter(|x| x.resource == d.resource).map(|x| x.qty).sum();
            enough(p, d.resource, same, owner)?;
        }
        for s in &k.successors {
            if s.task >= p.tasks.len() {
                return unknown("task", &owner(), s.task);
            }
            if s.min_lag < 0 || s.max_lag.is_some_and(|m| m < 0) {
                return Err(PlanError::NegativeLag {
                    task: k.id.clone(),
                    successor: p.tasks[s.task].id.clone(),
                });
            }
            if far(s.min_lag) || s.max_lag.is_some_and(far) {
                return Err(too_far(&owner()));
            }
            total = total.saturating_add(s.min_lag);
        }
    }
    if total > FARTHEST_MINUTES {
        return Err(too_far("the sum of all work"));
    }
    for h in &p.holds {
        let owner = || format!("hold until {}", p.tasks.get(h.to).map_or("?", |k| k.id.as_str()));
        if h.resource >= p.resources.len() {
            return unknown("resource", &owner(), h.resource);
        }
        for i in h.from.iter().chain([&h.to]) {
            if *i >= p.tasks.len() {
                return unknown("task", "a hold", *i);
            }
        }
        enough(p, h.resource, h.qty, owner)?;
    }
    Ok(())
}

fn enough(p: &Problem, resource: usize, wanted: u32, owner: impl Fn() -> String) -> Result<(), PlanError> {
    let r = &p.resources[resource];
    if wanted > r.capacity {
        return Err(PlanError::DemandOverCapacity {
            owner: owner(),
            resource: r.id.clone(),
            wanted,
            capacity: r.capacity,
        });
    }
    Ok(())
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
            let of = |k: &crate::problem::Task| {
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
