//! `turnbuckle plan`: the engine alone, on a file.

use std::fs;
use std::time::{Duration, Instant};

use plan::{Budget, Options, portable};

use super::{Failure, PlanArgs};

/// Without a budget: what a phone would wait for.
const DEFAULT_MS: u64 = 1_000;

pub fn run(args: &PlanArgs) -> Result<(), Failure> {
    let shown = args.instance.display();
    let text = fs::read_to_string(&args.instance).map_err(Failure::io(format!("{shown} cannot be read")))?;
    let instance = portable::read(&text)?;
    let began = Instant::now();
    let limit = Duration::from_millis(args.budget_ms.unwrap_or(DEFAULT_MS));
    let over = || began.elapsed() >= limit;
    let options = Options {
        seed: args.seed,
        budget: Budget::Decodes(args.decodes.unwrap_or(u64::MAX)),
        stop: if args.decodes.is_some() { None } else { Some(&over) },
        ..Options::default()
    };
    let solution = plan::solve(&instance.problem, &options)?;
    let answer =
        portable::answer(&instance.problem, &solution, began.elapsed().as_millis() as u64, args.trace);
    match &args.out {
        Some(file) => fs::write(file, format!("{answer}\n"))
            .map_err(Failure::io(format!("{} cannot be written", file.display()))),
        None => {
            say!("{answer}")?;
            Ok(())
        }
    }
}
