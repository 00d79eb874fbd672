//! The forecast against closed forms of probability and against itself.

mod support;

use plan::{
    Budget, Delay, Demand, Hold, Job, Minutes, Options, Problem, Resource, Spread, Successor, Task, Until,
    forecast, solve,
};

const RUNS: usize = 20_000;

/// Quantiles of the standard normal distribution (Abramowitz & Stegun, table 26.1).
const Z90: f64 = 1.281_552;
const Z95: f64 = 1.644_854;

fn tasks(durations: &[Minutes], chained: bool) -> Problem {
    let mut p = Problem::default();
    p.jobs.push(Job { id: "j".into(), due: None, weight: 1, release: 0 });
    for (i, &d) in durations.iter().enumerate() {
        let mut task = Task { job: Some(0), ..Task::new(format!("t{i}"), d) };
        if chained && i + 1 < durations.len() {
            task.successors.push(Successor::after(i + 1));
        }
        p.tasks.push(task);
    }
    p
}

fn spread(planned: Minutes, mean: f64, deviation: f64) -> Spread {
    Spread { planned, mean, deviation, ..Spread::default() }
}

/// Within what 20,000 draws can differ by, five standard errors.
fn near(found: Minutes, expected: f64, error: f64) {
    let off = (found as f64 - expected).abs();
    assert!(off <= 5.0 * error + 0.5, "{found} is not near {expected} (± {error})");
}

/// A lognormal quantile is planned · exp(mean + z · deviation); the standard error of a sample quantile is
/// √(q(1−q)/n) ÷ density (Mood, Graybill & Boes 1974, told from memory).
#[test]
fn one_task_has_lognormal_quantiles() {
    let (planned, mean, deviation) = (1000, 0.1, 0.4);
    let f = forecast(&tasks(&[planned], false), &[0], &[spread(planned, mean, deviation)], RUNS, 7).unwrap();
    for (share, z) in [(0.05, -Z95), (0.1, -Z90), (0.5, 0.0), (0.9, Z90), (0.95, Z95)] {
        let expected = planned as f64 * (mean + z * deviation).exp();
        let density = (-z * z / 2.0f64).exp() / (2.0 * std::f64::consts::PI).sqrt() / (expected * deviation);
        near(f.by(0, share).unwrap(), expected, (share * (1.0 - share) / RUNS as f64).sqrt() / density);
        let p = f.probability(0, expected as Minutes).unwrap();
        assert!((p - share).abs() < 0.015, "{p} for {share}");
    }
}

/// Means and variances of independent lengths add, whatever their distribution.
#[test]
fn a_chain_adds_means_and_variances() {
    let planned = [300, 500, 200, 800];
    let spreads = planned.map(|d| spread(d, 0.05, 0.3));
    let f = forecast(&tasks(&planned, true), &[0, 300, 800, 1000], &spreads, RUNS, 3).unwrap();
    let all = &f.jobs[0];
    let mean = all.iter().sum::<Minutes>() as f64 / all.len() as f64;
    let var = all.iter().map(|&x| (x as f64 - mean).powi(2)).sum::<f64>() / all.len() as f64;
    // Mean and variance of a lognormal (NIST/SEMATECH e-Handbook, 1.3.6.6.9).
    let (m, s2) = (0.05, 0.09f64);
    let one = planned.map(|d| d as f64 * (m + s2 / 2.0f64).exp());
    let expected = one.iter().sum::<f64>();
    let expected_var = one.iter().map(|x| x * x * (s2.exp() - 1.0)).sum::<f64>();
    assert!((mean - expected).abs() < 5.0 * (expected_var / RUNS as f64).sqrt(), "{mean} {expected}");
    assert!((var / expected_var - 1.0).abs() < 0.1, "{var} {expected_var}");
}

/// Two tasks beside each other are both done with the product of their probabilities; on one person, one waits for the other.
#[test]
fn beside_each_other_or_behind_each_other() {
    let mut p = tasks(&[1000, 1000], false);
    let spreads = [spread(1000, 0.0, 0.3); 2];
    let f = forecast(&p, &[0, 0], &spreads, RUNS, 5).unwrap();
    let one = 1000.0 * (0.3 * Z90).exp();
    let both = f.probability(0, one as Minutes).unwrap();
    assert!((both - 0.81).abs() < 0.015, "{both}");
    p.resources.push(Resource::people("body", 1));
    p.tasks.iter_mut().for_each(|t| t.demands.push(Demand { resource: 0, qty: 1 }));
    let f = forecast(&p, &[0, 1000], &spreads, RUNS, 5).unwrap();
    let mean = f.jobs[0].iter().sum::<Minutes>() as f64 / RUNS as f64;
    near(mean as Minutes, 2000.0 * (0.045f64).exp(), 1000.0 * 0.45 / (RUNS as f64).sqrt());
}

/// What has already taken longer than planned is not expected to end at once: the lengths that remain are those above it.
#[test]
fn what_is_spent_is_known() {
    let spent = 1500;
    let s = Spread { spent, ..spread(1000, 0.0, 0.4) };
    let mut p = tasks(&[15], false);
    p.tasks[0].fixed_start = Some(0);
    let f = forecast(&p, &[0], &[s], RUNS, 11).unwrap();
    // P(T ≤ t | T > spent) by the normal distribution function; ln 1.5 ÷ 0.4 = 1.01366: Φ = 0.84463; the conditional median is
    // where Φ = (1 + 0.84463) ÷ 2 = 0.92231, z = 1.4208.
    let median = 1000.0 * (1.4208f64 * 0.4).exp() - spent as f64;
    near(f.by(0, 0.5).unwrap(), median, 4.0);
}

#[test]
fn deliveries_are_kept_or_late() {
    let mut p = tasks(&[10], false);
    p.tasks[0].release = Some(100);
    let s = Spread { delay: Some(Delay { kept: 0.7, mean: 1000.0 }), ..Spread::default() };
    let f = forecast(&p, &[100], &[s], RUNS, 2).unwrap();
    let on_time = f.probability(0, 110).unwrap();
    assert!((on_time - 0.7).abs() < 0.015, "{on_time}");
    // Of the late ones half are later than mean · ln 2.
    let half = f.probability(0, 110 + 693).unwrap();
    assert!((half - 0.85).abs() < 0.015, "{half}");
}

/// The probability integral transform of what really happens is uniform if the forecast is honest (Dawid 1984); distance of the
/// two distribution functions as Kolmogorov and Smirnov have it, 1.63 ÷ √n at 1 %.
#[test]
fn it_is_calibrated_on_shops_that_behave_as_it_says() {
    let mut ranks: Vec<f64> = Vec::new();
    for seed in 0..40 {
        let p = support::shop(seed, 6, seed % 2 == 0);
        let plan = solve(&p, &Options { budget: Budget::Decodes(20), ..Options::default() }).unwrap();
        let spreads: Vec<Spread> = p
            .tasks
            .iter()
            .map(|t| Spread {
                spent: if t.fixed_start.is_some() { t.duration / 2 } else { 0 },
                ..spread(t.duration, 0.05, 0.3)
            })
            .collect();
        let f = forecast(&p, &plan.starts, &spreads, 400, seed).unwrap();
        let truth = forecast(&p, &plan.starts, &spreads, 1, 1000 + seed).unwrap();
        assert!(f.locked < 40, "{} runs of 400 locked up", f.locked);
        for (j, all) in f.jobs.iter().enumerate().filter(|(_, all)| all.first() != all.last()) {
            let Some(&at) = truth.jobs[j].first() else { continue };
            let (below, upto) = (all.partition_point(|&x| x < at), all.partition_point(|&x| x <= at));
            ranks.push((below + upto) as f64 / 2.0 / all.len() as f64);
        }
    }
    ranks.sort_by(f64::total_cmp);
    let n = ranks.len() as f64;
    let distance =
        ranks.iter().enumerate().map(|(i, r)| (r - (i as f64 + 0.5) / n).abs()).fold(0.0, f64::max);
    assert!(n > 150.0 && distance < 1.63 / n.sqrt(), "{n} jobs, distance {distance}");
}

#[test]
fn without_spread_people_keep_to_a_plan_that_leaves_nobody_idle() {
    let p = support::shop(4, 5, true);
    let plan = solve(&p, &Options { budget: Budget::Decodes(500), ..Options::default() }).unwrap();
    let f = forecast(&p, &plan.starts, &vec![Spread::default(); p.tasks.len()], 2, 1).unwrap();
    assert_eq!(f.jobs.iter().filter(|all| all.first() != all.last()).count(), 0);
    assert_eq!(f, forecast(&p, &plan.starts, &vec![Spread::default(); p.tasks.len()], 2, 9).unwrap());
}

#[test]
fn odd_input_has_defined_answers() {
    let empty = forecast(&Problem::default(), &[], &[], 100, 1).unwrap();
    assert!(empty.jobs.is_empty() && empty.starts.is_empty());
    let p = tasks(&[0, 5], true);
    let odd = [
        Spread { spent: 1 << 20, planned: 1, mean: f64::MAX, deviation: f64::MAX, delay: None },
        Spread {
            spent: -5,
            planned: 5,
            mean: -700.0,
            deviation: 0.0,
            delay: Some(Delay { kept: 0.0, mean: f64::MAX }),
        },
    ];
    let f = forecast(&p, &[0, 0], &odd, 50, 1).unwrap();
    assert_eq!(f.jobs[0].len(), 50);
    let none = forecast(&p, &[0, 0], &odd, 0, 1).unwrap();
    assert_eq!((none.by(0, 0.5), none.probability(0, 3), none.starts[1]), (None, None, [0, 0, 0]));
    assert!(forecast(&p, &[0], &odd, 1, 1).is_err());
}

#[test]
fn the_same_seed_gives_the_same_samples() {
    let p = support::shop(9, 8, true);
    let plan = solve(&p, &Options { budget: Budget::First, ..Options::default() }).unwrap();
    let spreads: Vec<Spread> = p.tasks.iter().map(|t| spread(t.duration, 0.0, 0.35)).collect();
    let run = |seed| forecast(&p, &plan.starts, &spreads, 60, seed).unwrap();
    assert_eq!(run(1), run(1));
    assert_ne!(run(1), run(2));
}

/// Two lifts: one held by a until 101, the other by b until 10. `c` goes before `d` in the plan and wants a lift at 2, when only
/// the end of a's hold is known; b's hold ends before. By the rule c begins at 10, and d after it on the same lift.
#[test]
fn a_hold_that_ends_sooner_wakes_who_waits_for_a_later_one() {
    let shop = r#"{"objective": "makespan", "resources": [{"id": "lift", "capacity": 2}],
        "tasks": [
            {"id": "a1", "duration": 1, "job": "a", "successors": [{"id": "a2"}]}, {"id": "a2", "duration": 100, "job": "a"},
            {"id": "b1", "duration": 5, "job": "b", "successors": [{"id": "b2"}]}, {"id": "b2", "duration": 5, "job": "b"},
            {"id": "c", "duration": 1, "job": "c", "demands": {"lift": 1}},
            {"id": "d", "duration": 50, "job": "d", "demands": {"lift": 1}}],
        "jobs": [{"id": "a"}, {"id": "b"}, {"id": "c", "release": 2}, {"id": "d", "release": 6}],
        "holds": [{"resource": "lift", "from_task": "a1", "to_task": "a2"}, {"resource": "lift", "from_task": "b1", "to_task": "b2"}]}"#;
    let p = plan::portable::read(shop).unwrap().problem;
    let f = forecast(&p, &[0, 1, 0, 5, 10, 11], &[Spread::default(); 6], 1, 1).unwrap();
    assert_eq!(f.jobs, [[101], [10], [11], [61]]);
}

/// A card in work that opens or closes a hold is as uncertain as any other; what it holds stays held until its closing is done.
#[test]
fn what_holds_something_may_take_longer_too() {
    let durations = [100, 60, 50, 80];
    let s = spread(100, 0.0, 0.4);
    let mut p = tasks(&durations, false);
    p.jobs.push(Job { id: "k".into(), due: None, weight: 1, release: 0 });
    p.tasks[3].job = Some(1);
    p.resources.push(Resource::equipment("lift", 1));
    p.tasks[0].successors.push(Successor::after(1));
    p.tasks[1].successors.push(Successor::after(2));
    p.holds.push(Hold { resource: 0, from: Some(0), to: 2, qty: 1, until: Until::End });
    p.tasks[3].demands.push(Demand { resource: 0, qty: 1 });
    p.tasks[0].fixed_start = Some(0);
    let certain = Spread::default();
    // The opening in work: the lift is free again when the two behind it are done, and then for the other vehicle.
    let f = forecast(&p, &[0, 100, 160, 210], &[s, certain, certain, certain], RUNS, 4).unwrap();
    for (share, z) in [(0.1, -Z90), (0.5, 0.0), (0.9, Z90)] {
        let expected = 100.0 * (z * 0.4f64).exp() + 110.0;
        near(f.by(0, share).unwrap(), expected, 1.0);
        near(f.by(1, share).unwrap(), expected + 80.0, 1.0);
    }
    assert_eq!(f.locked, 0);
    // The closing in work, of what was opened long ago.
    let mut p = tasks(&[50, 80], false);
    p.jobs.push(Job { id: "k".into(), due: None, weight: 1, release: 0 });
    p.tasks[1].job = Some(1);
    p.resources.push(Resource::equipment("lift", 1));
    p.holds.push(Hold { resource: 0, from: None, to: 0, qty: 1, until: Until::End });
    p.tasks[1].demands.push(Demand { resource: 0, qty: 1 });
    p.tasks[0].fixed_start = Some(0);
    let f = forecast(&p, &[0, 50], &[spread(50, 0.0, 0.4), certain], RUNS, 4).unwrap();
    near(f.by(1, 0.9).unwrap(), 50.0 * (Z90 * 0.4).exp() + 80.0, 1.0);
    assert_eq!(f.locked, 0);
}
