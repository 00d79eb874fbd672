//! The same problem, seed and budget give the same plan: a hundred times over, for each way the engine has to search, whatever
//! ran before. (Between a debug and a release build: `tests/reference/same_plans.py`.)
#![allow(clippy::disallowed_methods)] // a test may read its vectors and start threads

mod support;

use plan::{Budget, Objective, Options, Problem, Solution, portable, solve};
use support::shop;

const REPEATS: usize = 100;

fn run(p: &Problem, seed: u64, tasks: u64) -> Solution {
    solve(p, &Options { seed, budget: Budget::Tasks(tasks), ..Options::default() })
        .expect("it can be planned")
}

fn job_shop() -> Problem {
    let path = format!("{}/../../tests/vectors/plan/la01.json", env!("CARGO_MANIFEST_DIR"));
    portable::read(&std::fs::read_to_string(path).expect("the vector is there"))
        .expect("it is an instance")
        .problem
}

/// People and machines only, and a makespan: what is searched as a project.
fn project() -> Problem {
    let mut p = shop(4, 6, false);
    p.objective = Objective::Makespan;
    p.holds.clear();
    p.tasks.iter_mut().for_each(|t| t.fixed_start = None);
    p
}

#[test]
fn a_hundred_repeats_give_one_plan() {
    let problems = [job_shop(), project(), shop(2, 7, false), shop(3, 7, true)];
    for p in &problems {
        let first = run(p, 7, 2_000);
        assert!(first.trace.len() > 1, "a search that finds nothing could not differ");
        for repeat in 1..REPEATS {
            // Something else in between, so that nothing kept from it can go unnoticed.
            let other = &problems[repeat % problems.len()];
            run(other, repeat as u64, 300);
            assert_eq!(run(p, 7, 2_000).hash, first.hash, "repeat {repeat}");
        }
    }
}

#[test]
fn a_plan_does_not_depend_on_where_it_is_made() {
    let p = shop(5, 14, true);
    let here = run(&p, 3, 3_000);
    let elsewhere: Vec<Solution> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..4).map(|_| scope.spawn(|| run(&p.clone(), 3, 3_000))).collect();
        threads.into_iter().map(|t| t.join().expect("it ends")).collect()
    });
    assert!(elsewhere.iter().all(|s| *s == here));
    let other_seeds = (10..20).map(|seed| run(&p, seed, 3_000).hash);
    assert!(
        other_seeds.into_iter().any(|hash| hash != here.hash),
        "seeds that change nothing would make this blind"
    );
}

/// The name of a plan is SHA-256 over `id=start` lines in the order of ids: the digest of "a=5\nb=-3\n" by any other program.
#[test]
fn the_hash_is_the_published_one() {
    let tasks = vec![plan::Task::new("b", 1), plan::Task::new("a", 1)];
    let p = Problem { tasks, ..Problem::default() };
    let hash = plan::plan_hash(&p, &[-3, 5]);
    assert_eq!(hash, "532b1bbc4c5f6f2d6c60f3c19f04f11e305abe37da8012fc3915c31759a204fd");
}
