//! Checks against results published elsewhere.
#![allow(clippy::disallowed_methods)] // a test may read its vectors

mod support;

use plan::{Budget, Demand, Job, Objective, Options, Problem, Resource, Successor, Task, portable, solve};
use support::{Dice, faults};

fn options(decodes: u64) -> Options<'static> {
    Options { budget: Budget::Decodes(decodes), ..Options::default() }
}

fn vector(name: &str) -> Problem {
    let path = format!("{}/../../tests/vectors/plan/{name}.json", env!("CARGO_MANIFEST_DIR"));
    portable::read(&std::fs::read_to_string(path).expect("the vector is there"))
        .expect("it is an instance")
        .problem
}

/// Fisher & Thompson 1963: ft06 has the optimum 55. Lawrence 1984: la01 has 666.
#[test]
fn published_job_shops_reach_their_optimum() {
    for (name, optimum) in [("ft06", 55), ("la01", 666)] {
        let p = vector(name);
        let s = solve(&p, &options(60_000)).unwrap();
        assert_eq!(faults(&p, &s), Vec::<String>::new());
        assert_eq!(s.objective, optimum, "{name}");
    }
}

/// Hillier & Lieberman, Introduction to Operations Research, project chapter (quoted from memory [MEM]): 44 weeks, along
/// A-B-C-E-F-J-L-N.
#[test]
fn critical_path_of_the_construction_project() {
    let activities = [
        ("A", 2, ""),
        ("B", 4, "A"),
        ("C", 10, "B"),
        ("D", 6, "C"),
        ("E", 4, "C"),
        ("F", 5, "E"),
        ("G", 7, "D"),
        ("H", 9, "EG"),
        ("I", 7, "C"),
        ("J", 8, "FI"),
        ("K", 4, "J"),
        ("L", 5, "J"),
        ("M", 2, "H"),
        ("N", 6, "KL"),
    ];
    let mut p = Problem { objective: Objective::Makespan, ..Problem::default() };
    p.jobs.push(Job { id: "house".into(), due: None, weight: 1, release: 0 });
    for (id, weeks, _) in activities {
        p.tasks.push(Task { job: Some(0), ..Task::new(id, weeks) });
    }
    for (i, (_, _, before)) in activities.iter().enumerate() {
        for b in before.chars() {
            let from = activities.iter().position(|a| a.0.starts_with(b)).expect("named above");
            p.tasks[from].successors.push(Successor::after(i));
        }
    }
    let s = solve(&p, &options(20)).unwrap();
    assert_eq!(s.objective, 44);
    let mut path: Vec<&str> = plan::chain(&p, &s, 0).iter().map(|l| p.tasks[l.task].id.as_str()).collect();
    path.reverse();
    assert_eq!(path.concat(), "ABCEFJLN");
}

/// One machine, one task a job.
fn machine(jobs: &[(i64, i64, Option<i64>)]) -> Problem {
    let mut p = Problem::default();
    p.resources.push(Resource::equipment("machine", 1));
    for (i, &(duration, weight, due)) in jobs.iter().enumerate() {
        p.jobs.push(Job { id: format!("j{i}"), due, weight, release: 0 });
        let demands = vec![Demand { resource: 0, qty: 1 }];
        p.tasks.push(Task { job: Some(i), demands, ..Task::new(format!("t{i}"), duration) });
    }
    p
}

fn permutations(n: usize) -> Vec<Vec<usize>> {
    if n == 0 {
        return vec![Vec::new()];
    }
    let mut all = Vec::new();
    for shorter in permutations(n - 1) {
        for at in 0..n {
            let mut longer = shorter.clone();
            longer.insert(at, n - 1);
            all.push(longer);
        }
    }
    all
}

fn cost_of(order: &[usize], jobs: &[(i64, i64, Option<i64>)], cost: impl Fn(usize, i64) -> i64) -> Vec<i64> {
    let mut at = 0;
    order
        .iter()
        .map(|&j| {
            at += jobs[j].0;
            cost(j, at)
        })
        .collect()
}

/// W. E. Smith 1956: weight ÷ duration order minimises weighted completion. With due dates of zero that is weighted tardiness.
#[test]
fn smiths_rule() {
    let mut dice = Dice::new(56);
    for _ in 0..30 {
        let jobs: Vec<_> = (0..6).map(|_| (dice.roll(1, 20), dice.roll(1, 9), Some(0))).collect();
        let sum = |order: &[usize]| cost_of(order, &jobs, |j, c| jobs[j].1 * c).iter().sum::<i64>();
        let best = permutations(6).iter().map(|o| sum(o)).min().unwrap();
        let mut smith: Vec<usize> = (0..6).collect();
        smith.sort_by(|&a, &b| (jobs[b].1 * jobs[a].0).cmp(&(jobs[a].1 * jobs[b].0)));
        assert_eq!(sum(&smith), best);
        assert_eq!(solve(&machine(&jobs), &options(3_000)).unwrap().objective, best);
    }
}

/// J. R. Jackson 1955: earliest due date minimises the largest lateness; so if any order is on time, the engine's is.
#[test]
fn jacksons_rule() {
    let mut dice = Dice::new(55);
    let mut on_time = 0;
    for _ in 0..60 {
        let jobs: Vec<_> = (0..6).map(|_| (dice.roll(1, 20), 1, Some(dice.roll(10, 90)))).collect();
        let largest =
            |order: &[usize]| cost_of(order, &jobs, |j, c| c - jobs[j].2.unwrap()).into_iter().max().unwrap();
        let best = permutations(6).iter().map(|o| largest(o)).min().unwrap();
        let mut jackson: Vec<usize> = (0..6).collect();
        jackson.sort_by_key(|&j| jobs[j].2);
        assert_eq!(largest(&jackson), best);
        // Already the rules find a plan on time where there is one.
        let first = solve(&machine(&jobs), &Options { budget: Budget::First, ..Options::default() }).unwrap();
        on_time += usize::from(best <= 0);
        assert_eq!(first.objective == 0, best <= 0);
    }
    assert!(on_time > 5, "the test needs some that can be on time, had {on_time}");
}

/// Weighted tardiness on one machine against brute force (no rule is optimal for it).
#[test]
fn one_machine_weighted_tardiness_is_optimal_when_small() {
    let mut dice = Dice::new(3);
    for _ in 0..25 {
        let jobs: Vec<_> =
            (0..7).map(|_| (dice.roll(1, 20), dice.roll(1, 4), Some(dice.roll(5, 70)))).collect();
        let sum = |order: &[usize]| {
            cost_of(order, &jobs, |j, c| jobs[j].1 * (c - jobs[j].2.unwrap()).max(0)).iter().sum::<i64>()
        };
        let best = permutations(7).iter().map(|o| sum(o)).min().unwrap();
        assert_eq!(solve(&machine(&jobs), &options(6_000)).unwrap().objective, best);
    }
}
