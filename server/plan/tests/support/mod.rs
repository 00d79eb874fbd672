//! Invented shops for tests and benches, and a checker that shares no code with the engine.
#![allow(dead_code)] // each test binary uses a part

use plan::{
    Calendar, Demand, Hold, Job, Kind, Minutes, Objective, Problem, Resource, Solution, Step, Successor,
    Task, Until,
};

/// A small generator of its own, so that the shops do not change when the engine's generator does.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0xD1B5_4A32_D192_ED03)
    }
    pub fn roll(&mut self, low: i64, high: i64) -> i64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + ((self.0 >> 33) as i64).rem_euclid(high - low + 1)
    }
    pub fn odds(&mut self, percent: i64) -> bool {
        self.roll(1, 100) <= percent
    }
}

const DAY: Minutes = 24 * 60;

/// Working days of one department from Monday midnight on: two blocks a day, five days a week.
fn shift(open: Minutes, close: Minutes, weeks: Minutes) -> Calendar {
    let mut calendar = Calendar::default();
    for day in (0..weeks * 7).filter(|d| d % 7 < 5) {
        let lunch = (open + close) / 2;
        calendar.open.push((day * DAY + open, day * DAY + lunch));
        calendar.open.push((day * DAY + lunch + 30, day * DAY + close));
    }
    calendar
}

pub const BODY: usize = 0;
pub const MECH: usize = 1;
pub const PAINT: usize = 2;
pub const TRIM: usize = 3;
pub const LIFT: usize = 4;
pub const BENCH: usize = 5;
pub const STANDS: usize = 6;
pub const BOOTH: usize = 7;

pub struct Shop {
    pub p: Problem,
    calendars: bool,
    dice: Dice,
}

struct Vehicle {
    job: usize,
    place: usize,
    work: usize,
}

/// A shop of `vehicles`, with calendars or on one endless day, some of it in work.
pub fn shop(seed: u64, vehicles: usize, calendars: bool) -> Problem {
    let mut s =
        Shop { p: Problem { max_lag_price: 2, ..Problem::default() }, calendars, dice: Dice::new(seed) };
    let size = |per: usize| (vehicles / per + 1) as u32;
    for (id, n) in [("body", size(8)), ("mech", size(12)), ("paint", size(10)), ("trim", size(12))] {
        s.p.resources.push(Resource::people(id, n));
    }
    for (id, n) in [("lift", size(12)), ("bench", size(20)), ("stands", size(25)), ("booth", size(30))] {
        s.p.resources.push(Resource::equipment(id, n));
    }
    if calendars {
        s.p.now = 9 * 60 + 7;
        let weeks = 8 + vehicles as Minutes / 20;
        s.p.calendars.push(shift(7 * 60, 15 * 60 + 30, weeks));
        s.p.calendars.push(shift(8 * 60, 17 * 60, weeks));
        // Half the painters leave early; one lift is away for two days.
        for week in 0..weeks {
            for day in 0..5 {
                let at = (week * 7 + day) * DAY;
                let capacity = s.p.resources[PAINT].capacity.div_ceil(2);
                s.p.resources[PAINT].availability.push(Step { from: at + 15 * 60, to: at + DAY, capacity });
            }
        }
        let capacity = s.p.resources[LIFT].capacity - 1;
        s.p.resources[LIFT].availability.push(Step { from: DAY, to: 3 * DAY, capacity });
    }
    for v in 0..vehicles {
        s.vehicle(v);
    }
    s.p
}

impl Shop {
    fn card(
        &mut self,
        v: &Vehicle,
        name: &str,
        minutes: (i64, i64),
        pool: usize,
        after: &[(usize, i64)],
    ) -> usize {
        let duration = self.dice.roll(minutes.0, minutes.1);
        let id = format!("{}.{}", self.p.jobs[v.job].id, name);
        let calendar = self.calendars.then_some(if pool == BODY || pool == MECH { 0 } else { 1 });
        let demands = vec![Demand { resource: pool, qty: 1 }];
        let at = self.p.tasks.len();
        self.p.tasks.push(Task { calendar, demands, job: Some(v.job), ..Task::new(id, duration) });
        for &(before, min_lag) in after {
            self.p.tasks[before].successors.push(Successor { task: at, min_lag, max_lag: None });
        }
        at
    }

    fn at(&mut self, task: usize, resource: usize) {
        self.p.tasks[task].demands.push(Demand { resource, qty: 1 });
    }

    fn hold(&mut self, resource: usize, from: usize, to: usize) {
        self.p.holds.push(Hold { resource, from: Some(from), to, qty: 1, until: Until::End });
    }

    fn vehicle(&mut self, n: usize) {
        let id = format!("v{n:03}");
        let release = if self.dice.odds(60) { 0 } else { self.dice.roll(0, 5 * DAY) };
        let due = release + self.dice.roll(DAY, 9 * DAY);
        let weight = [1, 2, 2, 4][self.dice.roll(0, 3) as usize];
        let due = (!self.dice.odds(10)).then_some(due);
        self.p.jobs.push(Job { id: id.clone(), due, weight, release });
        self.p.resources.push(Resource::place(format!("place:{id}")));
        self.p.resources.push(Resource::place(format!("work:{id}")));
        let v = Vehicle { job: n, place: self.p.resources.len() - 2, work: self.p.resources.len() - 1 };
        let first = self.p.tasks.len();
        let mut last = self.card(&v, "teardown", (20, 120), BODY, &[]);
        self.at(last, v.place);
        if self.dice.odds(35) {
            let mount = self.card(&v, "mount", (15, 50), BODY, &[(last, 0)]);
            let pull = self.card(&v, "pull", (60, 300), BODY, &[(mount, 0)]);
            let down = self.card(&v, "dismount", (10, 40), BODY, &[(pull, 0)]);
            self.hold(BENCH, mount, down);
            self.hold(v.place, mount, down);
            self.at(pull, v.work);
            last = down;
        }
        if self.dice.odds(45) {
            let drop = self.card(&v, "drop", (20, 90), MECH, &[(last, 0)]);
            let seal = self.card(&v, "seal", (15, 70), BODY, &[(drop, 0)]);
            let cure = self.dice.roll(30, 240);
            let refit = self.card(&v, "refit", (30, 120), MECH, &[(seal, cure)]);
            self.hold(LIFT, drop, refit);
            self.hold(v.place, drop, refit);
            self.at(seal, v.work);
            if self.dice.odds(30) {
                let out = self.card(&v, "cradle_out", (15, 60), MECH, &[(drop, 0)]);
                let back = self.card(&v, "cradle_in", (15, 60), MECH, &[(out, 0), (seal, 0)]);
                self.p.tasks[back].successors.push(Successor::after(refit));
                self.hold(STANDS, out, back);
                self.at(out, v.work);
                self.at(back, v.work);
            }
            last = refit;
        }
        if self.dice.odds(70) {
            let prep = self.card(&v, "prep", (30, 180), PAINT, &[(last, 0)]);
            self.at(prep, v.place);
            let paint = self.card(&v, "paint", (30, 80), PAINT, &[(prep, 0)]);
            self.p.tasks[paint].one_go = self.calendars;
            // Paint within the recoat time of the primer: a wish with a price.
            self.p.tasks[prep].successors.last_mut().expect("prep leads to paint").max_lag = Some(DAY);
            let unload = self.card(&v, "unload", (5, 15), PAINT, &[(paint, 45)]);
            self.hold(BOOTH, paint, unload);
            self.hold(v.place, paint, unload);
            last = unload;
        }
        let trim = self.card(&v, "trim", (30, 200), TRIM, &[(last, 0)]);
        self.at(trim, v.place);
        let wash = self.card(&v, "wash", (10, 40), TRIM, &[(trim, 0)]);
        self.at(wash, v.place);
        if self.dice.odds(10) {
            self.p.tasks[trim].release = Some(release + self.dice.roll(0, 4 * DAY));
        }
        // Some vehicles are on their teardown right now, as far as there are people.
        let busy = self.p.tasks.iter().filter(|t| t.fixed_start.is_some()).count();
        if release == 0 && busy < self.p.resources[BODY].capacity as usize && self.dice.odds(40) {
            self.p.tasks[first].fixed_start = Some(self.p.now);
        }
    }
}

/// Everything wrong with a schedule; empty if nothing is.
pub fn faults(p: &Problem, s: &Solution) -> Vec<String> {
    let mut bad = Vec::new();
    for (i, t) in p.tasks.iter().enumerate() {
        let (start, end) = (s.starts[i], s.ends[i]);
        match t.fixed_start {
            Some(f) if f != start => bad.push(format!("{} was moved", t.id)),
            Some(_) => {}
            None => {
                let release =
                    t.job.map_or(0, |j| p.jobs[j].release).max(t.release.unwrap_or(i64::MIN)).max(p.now);
                if start < release {
                    bad.push(format!("{} starts at {start}, before {release}", t.id));
                }
            }
        }
        bad.extend(duration_faults(p, t, start, end));
        for x in &t.successors {
            if p.tasks[x.task].fixed_start.is_none() && s.starts[x.task] < end + x.min_lag {
                bad.push(format!("{} starts before {} has ended and cured", p.tasks[x.task].id, t.id));
            }
        }
    }
    for (r, resource) in p.resources.iter().enumerate() {
        let spans = spans(p, s, r);
        let mut bounds: Vec<Minutes> = spans.iter().flat_map(|&(a, b, _)| [a, b]).collect();
        bounds.extend(resource.availability.iter().flat_map(|x| [x.from, x.to]));
        bounds.sort_unstable();
        bounds.dedup();
        for &at in &bounds {
            let used: u32 = spans.iter().filter(|&&(a, b, _)| a <= at && at < b).map(|x| x.2).sum();
            let step = resource.availability.iter().find(|x| x.from <= at && at < x.to);
            let there = step.map_or(resource.capacity, |x| x.capacity);
            if used > there && used > fixed_use(p, s, r, at) {
                bad.push(format!("{} is used {used} times at {at}, there are {there}", resource.id));
                break;
            }
        }
    }
    bad
}

fn duration_faults(p: &Problem, t: &Task, start: Minutes, end: Minutes) -> Option<String> {
    let Some(c) = t.calendar.filter(|_| t.duration > 0) else {
        return (end - start != t.duration).then(|| format!("{} lasts {} minutes", t.id, end - start));
    };
    let open = &p.calendars[c].open;
    let last = open.last().map_or(i64::MIN, |x| x.1);
    let pieces: Vec<(Minutes, Minutes)> = working_pieces(open, last, start, end);
    let work: Minutes = pieces.iter().map(|(a, b)| b - a).sum();
    if work != t.duration {
        return Some(format!("{} works {work} minutes of {}", t.id, t.duration));
    }
    if t.fixed_start.is_none() && pieces.first().map(|x| x.0) != Some(start) {
        return Some(format!("{} starts outside working time", t.id));
    }
    if t.one_go && t.fixed_start.is_none() && end - start != t.duration {
        return Some(format!("{} is broken off though it must go in one", t.id));
    }
    None
}

fn working_pieces(
    open: &[(Minutes, Minutes)],
    last: Minutes,
    start: Minutes,
    end: Minutes,
) -> Vec<(Minutes, Minutes)> {
    let mut pieces = Vec::new();
    for &(a, b) in open {
        let (a, b) = (a.max(start), b.min(end));
        if a < b {
            pieces.push((a, b));
        }
    }
    if end > last {
        pieces.push((start.max(last), end));
    }
    pieces
}

/// Who uses a resource, from when to when, how much.
fn spans(p: &Problem, s: &Solution, r: usize) -> Vec<(Minutes, Minutes, u32)> {
    let mut spans = Vec::new();
    for (i, t) in p.tasks.iter().enumerate() {
        for d in t.demands.iter().filter(|d| d.resource == r) {
            match t.calendar {
                Some(c) if !p.resources[r].wall => {
                    let open = &p.calendars[c].open;
                    let last = open.last().map_or(i64::MIN, |x| x.1);
                    spans.extend(
                        working_pieces(open, last, s.starts[i], s.ends[i])
                            .into_iter()
                            .map(|(a, b)| (a, b, d.qty)),
                    );
                }
                _ => spans.push((s.starts[i], s.ends[i], d.qty)),
            }
        }
    }
    for h in p.holds.iter().filter(|h| h.resource == r) {
        let from = h.from.map_or(p.now, |f| s.starts[f]);
        let to = if h.until == Until::End { s.ends[h.to] } else { s.starts[h.to] };
        spans.push((from, to, h.qty));
    }
    spans
}

/// What started work alone uses: the engine must not be blamed for it.
fn fixed_use(p: &Problem, s: &Solution, r: usize, at: Minutes) -> u32 {
    let on = |i: usize| p.tasks[i].fixed_start.is_some() && s.starts[i] <= at && at < s.ends[i];
    let tasks = p.tasks.iter().enumerate().filter(|(i, _)| on(*i));
    tasks.flat_map(|(_, t)| &t.demands).filter(|d| d.resource == r).map(|d| d.qty).sum()
}

/// Cards of one vehicle that are worked at the same time although all of them need to be at it; said without its resources'
/// capacities, as one would see it on the floor.
pub fn two_places(p: &Problem, s: &Solution) -> Vec<String> {
    let at_vehicle = |t: usize| {
        let place = |r: usize| p.resources[r].kind == Kind::Place;
        p.tasks[t].demands.iter().any(|d| place(d.resource))
            || p.holds.iter().any(|h| place(h.resource) && (h.from == Some(t) || h.to == t))
    };
    let cards: Vec<usize> =
        (0..p.tasks.len()).filter(|&t| p.tasks[t].duration > 0 && at_vehicle(t)).collect();
    let mut bad = Vec::new();
    for (i, &a) in cards.iter().enumerate() {
        for &b in cards[i + 1..].iter().filter(|&&b| p.tasks[b].job == p.tasks[a].job) {
            if s.starts[a] < s.ends[b] && s.starts[b] < s.ends[a] {
                bad.push(format!("{} and {} at once", p.tasks[a].id, p.tasks[b].id));
            }
        }
    }
    bad
}

/// Weighted tardiness or makespan, counted anew (without the price of maximum lags).
pub fn objective(p: &Problem, s: &Solution) -> i64 {
    if p.objective == Objective::Makespan {
        return s.ends.iter().copied().max().unwrap_or(0);
    }
    let done = |j: usize| (0..p.tasks.len()).filter(|&t| p.tasks[t].job == Some(j)).map(|t| s.ends[t]).max();
    (0..p.jobs.len()).filter_map(|j| Some(p.jobs[j].weight * (done(j)? - p.jobs[j].due?).max(0))).sum()
}

/// Price of the maximum lags that were overrun.
pub fn overrun(p: &Problem, s: &Solution) -> i64 {
    let mut minutes = 0;
    for (i, t) in p.tasks.iter().enumerate() {
        for x in &t.successors {
            minutes += x.max_lag.map_or(0, |m| (s.starts[x.task] - s.ends[i] - m.max(x.min_lag)).max(0));
        }
    }
    minutes * p.max_lag_price
}
