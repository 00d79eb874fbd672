//! Many seeds, one after the other: `cargo run --release -p simulate -- --seeds 10000`.

use std::process::ExitCode;
use std::time::Instant;

use clap::Parser;
use simulate::bug::Bug;
use simulate::counts::Counts;
use simulate::world::{caught, run};

/// Phones, network and server from seeds; stops at the first broken promise.
#[derive(Parser)]
struct Arguments {
    /// How many seeds.
    #[arg(long, default_value_t = 1_000)]
    seeds: u64,
    /// The first one.
    #[arg(long, default_value_t = 1)]
    from: u64,
    /// Begin no further seed after so many seconds.
    #[arg(long)]
    seconds: Option<u64>,
    /// Steps of one run before everything turns quiet.
    #[arg(long, default_value_t = simulate::STEPS)]
    steps: u64,
    /// With this bug planted, by its name; "all": each in turn until it is caught.
    #[arg(long)]
    planted: Option<String>,
    /// How many of the last steps are shown of a failure.
    #[arg(long, default_value_t = 60)]
    last: usize,
    /// Go on after a failure.
    #[arg(long)]
    all: bool,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    if arguments.planted.as_deref() == Some("all") {
        return planted(&arguments);
    }
    let bug = match &arguments.planted {
        None => None,
        Some(name) => match Bug::ALL.iter().find(|bug| format!("{bug:?}") == *name) {
            Some(bug) => Some(*bug),
            None => {
                eprintln!("There is no planted bug {name}; there are {:?}.", Bug::ALL);
                return ExitCode::from(2);
            }
        },
    };
    let began = Instant::now();
    let (mut counts, mut failed) = (Counts::default(), 0);
    for seed in arguments.from..arguments.from + arguments.seeds {
        if arguments.seconds.is_some_and(|seconds| began.elapsed().as_secs() >= seconds) {
            break;
        }
        match run(seed, arguments.steps, bug) {
            Ok(one) => counts.add(&one),
            Err(failure) => {
                failed += 1;
                println!("seed {seed}: {}: {}", failure.violation.invariant, failure.violation.what);
                if !arguments.all {
                    let skip = failure.last.len().saturating_sub(arguments.last);
                    failure.last.iter().skip(skip).for_each(|line| println!("  {line}"));
                    break;
                }
            }
        }
    }
    println!("{counts:#?}\n{failed} failed, {:.1} s", began.elapsed().as_secs_f64());
    if failed > 0 { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

fn planted(arguments: &Arguments) -> ExitCode {
    let mut missed = 0;
    for bug in Bug::ALL {
        let seeds = arguments.from..arguments.from + arguments.seeds;
        match caught(bug, seeds, arguments.steps) {
            Some(failed) => println!(
                "{:<20} seed {:>3}: {}: {}",
                format!("{bug:?}"),
                failed.seed,
                failed.violation.invariant,
                failed.violation.what
            ),
            None => {
                missed += 1;
                println!("{:<20} NOT CAUGHT in {} seeds", format!("{bug:?}"), arguments.seeds);
            }
        }
    }
    if missed > 0 { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}
