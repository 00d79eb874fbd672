//! Properties over random shops: allowed, honest about its score, the same every time, never worse with more budget.

mod support;

use plan::{Budget, Options, Problem, Solution, solve};
use proptest::prelude::*;
use support::{faults, objective, overrun, shop, two_places};

fn run(p: &Problem, budget: Budget, seed: u64) -> Solution {
    solve(p, &Options { seed, budget, ..Options::default() }).expect("a shop can always be planned")
}

/// What judges the plans here must see it when one card is begun too early, at another card's time.
#[test]
fn the_checker_sees_a_card_in_a_wrong_place() {
    let (mut tried, mut seen) = (0, 0);
    for seed in 0..20 {
        let p = shop(seed, 6, false);
        let good = run(&p, Budget::Decodes(40), seed);
        for t in (0..p.tasks.len()).filter(|&t| p.tasks[t].fixed_start.is_none()) {
            let before = (0..p.tasks.len()).find(|&b| p.tasks[b].successors.iter().any(|s| s.task == t));
            let Some(before) = before else { continue };
            let mut bad = good.clone();
            let length = good.ends[t] - good.starts[t];
            (bad.starts[t], bad.ends[t]) = (good.starts[before], good.starts[before] + length);
            tried += 1;
            assert_ne!(faults(&p, &bad), Vec::<String>::new(), "{}", p.tasks[t].id);
            seen += usize::from(!two_places(&p, &bad).is_empty());
        }
    }
    assert!(tried > 300 && seen > tried / 3, "{seen} of {tried} in two places");
}

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { failure_persistence: None, cases, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(cases(1_000))]

    #[test]
    fn every_plan_is_allowed_and_scored_right(seed in any::<u64>(), vehicles in 1usize..9, calendars in any::<bool>()) {
        let p = shop(seed, vehicles, calendars);
        for budget in [Budget::First, Budget::Decodes(40)] {
            let s = run(&p, budget, seed);
            prop_assert_eq!(faults(&p, &s), Vec::<String>::new());
            prop_assert_eq!(two_places(&p, &s), Vec::<String>::new());
            prop_assert_eq!(s.objective, objective(&p, &s) + overrun(&p, &s));
        }
    }
}

proptest! {
    #![proptest_config(cases(60))]

    /// Where there are more people and machines, more can go wrong at once.
    #[test]
    fn larger_shops_are_allowed_too(seed in any::<u64>(), vehicles in 9usize..25, calendars in any::<bool>()) {
        let p = shop(seed, vehicles, calendars);
        let s = run(&p, Budget::Decodes(60), seed);
        prop_assert_eq!(faults(&p, &s), Vec::<String>::new());
        prop_assert_eq!(two_places(&p, &s), Vec::<String>::new());
        prop_assert_eq!(s.objective, objective(&p, &s) + overrun(&p, &s));
    }

    #[test]
    fn the_same_problem_seed_and_budget_give_the_same_plan(seed in any::<u64>(), vehicles in 2usize..10, tasks in 500u64..8000) {
        let p = shop(seed, vehicles, seed % 2 == 0);
        prop_assert_eq!(run(&p, Budget::Tasks(tasks), seed), run(&p, Budget::Tasks(tasks), seed));
    }
}

proptest! {
    #![proptest_config(cases(200))]

    #[test]
    fn makespan_plans_are_allowed_too(seed in any::<u64>(), vehicles in 1usize..8) {
        let mut p = shop(seed, vehicles, false);
        p.objective = plan::Objective::Makespan;
        let s = run(&p, Budget::Decodes(200), seed);
        prop_assert_eq!(faults(&p, &s), Vec::<String>::new());
        prop_assert_eq!(s.objective, objective(&p, &s) + overrun(&p, &s));
    }

    #[test]
    fn the_trace_only_gets_better(seed in any::<u64>(), vehicles in 2usize..10) {
        let p = shop(seed, vehicles, true);
        let s = run(&p, Budget::Decodes(150), seed);
        prop_assert!(s.trace.windows(2).all(|w| w[1].score < w[0].score && w[1].decodes > w[0].decodes));
        let last = s.trace.last().expect("at least the first plan").score;
        prop_assert_eq!((s.score.primary, s.score.flow), (last.primary, last.flow));
    }

    #[test]
    fn repairing_an_unchanged_problem_changes_nothing(seed in any::<u64>(), vehicles in 2usize..12, calendars in any::<bool>()) {
        let p = shop(seed, vehicles, calendars);
        let old = run(&p, Budget::Decodes(80), seed);
        let previous: Vec<Option<i64>> = old.starts.iter().map(|&x| Some(x)).collect();
        let new = solve(&p, &Options { budget: Budget::First, previous: Some(&previous), ..Options::default() }).unwrap();
        prop_assert!((new.score.primary, new.score.flow) <= (old.score.primary, old.score.flow));
        prop_assert_eq!(faults(&p, &new), Vec::<String>::new());
    }
}
