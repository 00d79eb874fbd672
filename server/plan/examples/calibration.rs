//! Is the forecast as sure as it says? `calibration MONTHS SEED FACTOR` prints JSON for `tests/reference/forecast_calibration.py`.
//!
//! Each month is an invented shop of twelve vehicles and its real course, one run of the forecast's own law. One vehicle of it is
//! forecast three times: when it arrives, when it is authorised, when half of its work is done, each time with what is known by
//! then (what has ended, what is in work and for how long, what has not come) and nothing of what follows.
//! FACTOR ≠ 1: the forecast is told deviations so many times the real ones; the check must notice.
//! It says whether the engine conditions rightly on what is known; that its law is the rule of the shop is SimPy's part.

#[path = "../tests/support/mod.rs"]
mod support;

use plan::{
    Budget, Delay, Demand, Hold, Job, Minutes, Options, Problem, Resource, Spread, Successor, Task, Until,
    forecast, solve,
};
use serde_json::json;
use support::Dice;

const VEHICLES: usize = 12;
/// With 399 runs the ranks of 50 % and 90 % are exactly that: the 200th and the 360th of 400 places for one more.
const RUNS: usize = 399;
const BODY: usize = 0;
const MECHANICS: usize = 1;
const PAINT: usize = 2;
const LIFT: usize = 3;
const BOOTH: usize = 4;

#[derive(Default)]
struct Month {
    p: Problem,
    starts: Vec<Minutes>,
    spreads: Vec<Spread>,
    /// Per vehicle, its task that waits for a yes.
    authorised: Vec<usize>,
}

impl Month {
    fn card(
        &mut self,
        job: usize,
        minutes: (i64, i64),
        wants: &[usize],
        after: &[usize],
        d: &mut Dice,
    ) -> usize {
        let at = self.p.tasks.len();
        let planned = d.roll(minutes.0, minutes.1);
        let demands = wants.iter().map(|&resource| Demand { resource, qty: 1 }).collect();
        self.p.tasks.push(Task { job: Some(job), demands, ..Task::new(format!("t{at}"), planned) });
        let deviation = d.roll(25, 50) as f64 / 100.0;
        self.spreads.push(Spread { planned, mean: 0.05, deviation, ..Spread::default() });
        after.iter().for_each(|&a| self.p.tasks[a].successors.push(Successor::after(at)));
        at
    }

    fn new(seed: u64) -> Self {
        let mut m = Self::default();
        let d = &mut Dice::new(seed);
        for (id, n) in [("body", 3), ("mechanics", 2), ("paint", 2)] {
            m.p.resources.push(Resource::people(id, n));
        }
        m.p.resources.push(Resource::equipment("lift", 2));
        m.p.resources.push(Resource::equipment("booth", 1));
        for j in 0..VEHICLES {
            let release = d.roll(0, 4500);
            m.p.jobs.push(Job { id: format!("v{j}"), due: Some(release + 3000), weight: 1, release });
            let look = m.card(j, (40, 120), &[BODY], &[], d);
            let yes = m.card(j, (200, 1200), &[], &[look], d);
            m.spreads[yes].deviation = 0.8;
            m.authorised.push(yes);
            let delivery = m.card(j, (1, 1), &[], &[], d);
            m.p.tasks[delivery].release = Some(release + d.roll(300, 1500));
            let delay = Some(Delay { kept: 0.7, mean: 600.0 });
            m.spreads[delivery] = Spread { delay, ..Spread::default() };
            let mut last = yes;
            if d.odds(50) {
                let drop = m.card(j, (40, 120), &[MECHANICS], &[last], d);
                let weld = m.card(j, (120, 400), &[BODY], &[drop], d);
                last = m.card(j, (60, 200), &[MECHANICS], &[weld], d);
                m.p.holds.push(Hold {
                    resource: LIFT,
                    from: Some(drop),
                    to: last,
                    qty: 1,
                    until: Until::End,
                });
            }
            let panels = m.card(j, (200, 600), &[BODY], &[last], d);
            let prep = m.card(j, (100, 300), &[PAINT], &[panels], d);
            let spray = m.card(j, (60, 120), &[PAINT, BOOTH], &[prep], d);
            m.p.tasks[prep].successors[0].min_lag = d.roll(20, 90);
            m.card(j, (100, 300), &[BODY], &[spray, delivery], d);
        }
        let options = Options { budget: Budget::Decodes(20), ..Options::default() };
        m.starts = solve(&m.p, &options).expect("a plan").starts;
        m
    }

    /// Start and end of every task as it really goes: one run in which every task is a job, so that its end is told.
    fn course(&self, seed: u64) -> Vec<(Minutes, Minutes)> {
        let mut p = self.p.clone();
        p.jobs =
            p.tasks.iter().map(|t| Job { id: t.id.clone(), ..self.p.jobs[t.job.unwrap()].clone() }).collect();
        p.tasks.iter_mut().enumerate().for_each(|(i, t)| t.job = Some(i));
        let f = forecast(&p, &self.starts, &self.spreads, 1, seed).expect("a course");
        assert_eq!(f.locked, 0, "one kind of hold at a time does not lock up");
        f.starts.iter().zip(&f.jobs).map(|(s, all)| (s[1], all[0])).collect()
    }

    /// What is left at a minute, as somebody knows it who has seen the course until then.
    fn left(&self, now: Minutes, course: &[(Minutes, Minutes)], factor: f64) -> Self {
        let mut place = vec![None; course.len()];
        for (open, t) in (0..course.len()).filter(|&t| course[t].1 > now).enumerate() {
            place[t] = Some(open);
        }
        let mut m = Self {
            p: Problem { now, tasks: Vec::new(), holds: Vec::new(), ..self.p.clone() },
            ..Self::default()
        };
        for (t, task) in self.p.tasks.iter().enumerate().filter(|(t, _)| place[*t].is_some()) {
            let (mut task, mut s) = (task.clone(), self.spreads[t]);
            s.deviation *= factor;
            task.successors.retain(|x| place[x.task].is_some());
            task.successors.iter_mut().for_each(|x| x.task = place[x.task].unwrap());
            if course[t].0 < now {
                s.spent = now - course[t].0;
                task.fixed_start = Some(now);
                task.duration = (task.duration - s.spent).max(1);
                s.delay = None;
            } else if task.release.is_some_and(|r| r < now) {
                // It was due and is not here: how much longer does not depend on how long already.
                s.delay.iter_mut().for_each(|d| d.kept = 0.0);
            }
            m.p.tasks.push(task);
            m.starts.push(self.starts[t]);
            m.spreads.push(s);
        }
        // What has ended may still be waited for: it cures.
        for (t, task) in self.p.tasks.iter().enumerate().filter(|(t, _)| place[*t].is_none()) {
            for x in &task.successors {
                if let Some(after) = place[x.task] {
                    let release = &mut m.p.tasks[after].release;
                    *release = Some(release.unwrap_or(now).max(course[t].1 + x.min_lag));
                }
            }
        }
        m.p.holds = self
            .p
            .holds
            .iter()
            .filter_map(|h| Some(Hold { from: place[h.from?], to: place[h.to]?, ..*h }))
            .collect();
        m
    }

    /// When the vehicle arrives, when it is authorised, and when half of the work planned on it has ended.
    fn ages(&self, job: usize, course: &[(Minutes, Minutes)]) -> [Minutes; 3] {
        let work = |t: &usize| self.p.tasks[*t].job == Some(job) && !self.p.tasks[*t].demands.is_empty();
        let mut all: Vec<usize> = (0..course.len()).filter(work).collect();
        all.sort_by_key(|&t| course[t].1);
        let mut missing = all.iter().map(|&t| self.p.tasks[t].duration).sum::<Minutes>() / 2;
        let half = all.iter().find(|&&t| {
            missing -= self.p.tasks[t].duration;
            missing <= 0
        });
        [self.p.jobs[job].release, course[self.authorised[job]].1, course[*half.expect("some work")].1]
    }
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [months, seed, factor] = &args[..] else { panic!("calibration MONTHS SEED FACTOR") };
    let (months, seed): (u64, u64) = (months.parse().expect("months"), seed.parse().expect("seed"));
    let factor: f64 = factor.parse().expect("factor");
    let mut ages = ["arrival", "authorised", "half-way"].map(|age| (age, 0, 0, 0, 0.0, Vec::new()));
    for n in 0..months {
        let m = Month::new(seed + n);
        let course = m.course(1_000_000 + seed + n);
        let d = &mut Dice::new(2_000_000 + seed + n);
        let job = d.roll(0, VEHICLES as i64 - 1) as usize;
        let real = (0..course.len()).filter(|&t| m.p.tasks[t].job == Some(job)).map(|t| course[t].1).max();
        let real = real.expect("the vehicle has cards");
        for (now, age) in m.ages(job, &course).into_iter().zip(&mut ages) {
            let left = m.left(now, &course, factor);
            let f = forecast(&left.p, &left.starts, &left.spreads, RUNS, 3_000_000 + seed + n)
                .expect("a forecast");
            let all = &f.jobs[job];
            let (below, upto) = (all.partition_point(|&x| x < real), all.partition_point(|&x| x <= real));
            // Its rank among the runs, drawn among equals: exactly uniform if it is one more of them.
            let share = d.roll(0, 999_999) as f64 / 1e6;
            age.5.push((below as f64 + share * (upto - below + 1) as f64) / (all.len() + 1) as f64);
            age.1 += usize::from(real <= f.by(job, 0.5).expect("runs"));
            age.2 += usize::from(real <= f.by(job, 0.9).expect("runs"));
            age.3 += f.locked;
            age.4 += (f.by(job, 0.9).expect("runs") - f.by(job, 0.5).expect("runs")) as f64 / months as f64;
        }
    }
    let ages = ages.map(|(age, by50, by90, locked, width, pit)| {
        json!({ "age": age, "by50": by50, "by90": by90, "locked": locked, "width": width, "pit": pit })
    });
    println!("{}", json!({ "months": months, "runs": RUNS, "ages": ages }));
}
