//! Properties over random shops: allowed, honest about its score, the same every time, never worse with more budget.

mod support;

use plan::{Budget, Options, Problem, Solution, solve};
use proptest::prelude::*;
use support::{faults, objective, overrun, shop};

fn run(p: &Problem, budget: Budget, seed: u64) -> Solution {
    solve(p, &Options { seed, budget, ..Options::default() }).expect("a shop can always be planned")
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_plan_is_allowed_and_scored_right(seed in any::<u64>(), vehicles in 1usize..14, calendars in any::<bool>()) {
        let p = shop(seed, vehicles, calendars);
        for budget in [Budget::First, Budget::Decodes(60)] {
            let s = run(&p, budget, seed);
            prop_assert_eq!(faults(&p, &s), Vec::<String>::new());
            prop_assert_eq!(s.objective, objective(&p, &s) + overrun(&p, &s));
        }
    }

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
    fn the_same_problem_seed_and_budget_give_the_same_plan(seed in any::<u64>(), vehicles in 2usize..10, tasks in 500u64..8000) {
        let p = shop(seed, vehicles, seed % 2 == 0);
        let first = run(&p, Budget::Tasks(tasks), seed);
        for _ in 0..3 {
            prop_assert_eq!(&run(&p, Budget::Tasks(tasks), seed), &first);
        }
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
