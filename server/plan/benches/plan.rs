//! By number of cards, on calendars: the first plan from rules, repair after one card changed, and replanning with a budget.
//! By number of vehicles: a forecast of 1,000 runs.

#[path = "../tests/support/mod.rs"]
mod support;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use plan::{Budget, Delay, Keep, Minutes, Options, Problem, Spread, forecast, solve};

/// An invented shop with about this many open cards.
fn cards(n: usize) -> Problem {
    let mut vehicles = n / 8;
    while support::shop(1, vehicles, true).tasks.len() < n {
        vehicles += 1;
    }
    support::shop(1, vehicles, true)
}

fn planning(c: &mut Criterion) {
    for n in [100, 300, 1000, 3000] {
        let mut p = cards(n);
        let old =
            solve(&p, &Options { budget: Budget::Decodes(8), ..Options::default() }).expect("plannable");
        let previous: Vec<Option<Minutes>> = old.starts.iter().map(|&s| Some(s)).collect();
        let mut group = c.benchmark_group(format!("{n} cards"));
        group.sample_size(10);
        let first = Options { budget: Budget::First, ..Options::default() };
        group.bench_function(BenchmarkId::from_parameter("first from rules"), |b| {
            b.iter(|| solve(&p, &first))
        });
        // One list costs what a hundred more cost on top of the first.
        let more = Options { budget: Budget::Decodes(108), ..Options::default() };
        group.bench_function(BenchmarkId::from_parameter("100 lists more"), |b| b.iter(|| solve(&p, &more)));
        let again = Options {
            budget: Budget::Tasks(200 * n as u64),
            previous: Some(&previous),
            ..Options::default()
        };
        group.bench_function(BenchmarkId::from_parameter("replanning, 200 lists' work"), |b| {
            b.iter(|| solve(&p, &again))
        });
        // A card in the middle takes twice as long as planned.
        let middle = p.tasks.len() / 2;
        p.tasks[middle].duration *= 2;
        let repair = Options { budget: Budget::First, previous: Some(&previous), ..Options::default() };
        group.bench_function(BenchmarkId::from_parameter("repair after one change"), |b| {
            b.iter(|| solve(&p, &repair))
        });
        // As the server does it in working hours.
        let keep = Keep {
            soon: 120,
            soon_price: 240,
            day_price: 90,
            moved_permille_max: 50,
            fill_max: 4,
            all: false,
        };
        let near = Options { keep: Some(keep), ..repair };
        group.bench_function(BenchmarkId::from_parameter("repair near what is shown"), |b| {
            b.iter(|| solve(&p, &near))
        });
        group.finish();
    }
}

fn forecasting(c: &mut Criterion) {
    let mut group = c.benchmark_group("forecast");
    group.sample_size(10);
    for vehicles in [30, 60, 120] {
        let p = support::shop(1, vehicles, true);
        let plan = solve(&p, &Options { budget: Budget::First, ..Options::default() }).expect("plannable");
        let spreads: Vec<Spread> = p
            .tasks
            .iter()
            .enumerate()
            .map(|(i, t)| Spread {
                planned: t.duration,
                mean: 0.05,
                deviation: 0.35,
                delay: (i % 12 == 0).then_some(Delay { kept: 0.8, mean: 2880.0 }),
                ..Spread::default()
            })
            .collect();
        let name = format!("{vehicles} vehicles, {} cards, 1,000 runs", p.tasks.len());
        group.bench_function(name, |b| b.iter(|| forecast(&p, &plan.starts, &spreads, 1_000, 1)));
    }
    group.finish();
}

criterion_group!(benches, planning, forecasting);
criterion_main!(benches);
