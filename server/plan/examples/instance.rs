//! Solves portable instances from files: `instance MILLISECONDS SEED FILE…`, one line each; with `OUT=DIR` writes the schedules.
//! A measuring tool for work on the engine; the product's own command is `turnbuckle plan`.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)] // a shell around the engine: it may read files and the clock

use std::time::{Duration, Instant};

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let ms: u64 = args[0].parse().expect("milliseconds");
    let seed: u64 = args[1].parse().expect("seed");
    let decodes: Option<u64> = std::env::var("DECODES").ok().and_then(|x| x.parse().ok());
    let out = std::env::var("OUT").ok();
    for file in &args[2..] {
        let text = std::fs::read_to_string(file).expect("readable");
        let instance = match plan::portable::read(&text) {
            Ok(i) => i,
            Err(e) => {
                println!("{file}: {e}");
                continue;
            }
        };
        let from = Instant::now();
        // The processor's time, not the wall's: a busy machine must not make the engine look worse than it is.
        let calls = std::cell::Cell::new(0u32);
        let cpu = || -> u64 {
            let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
            text.split(' ').next().and_then(|x| x.parse().ok()).unwrap_or(0)
        };
        let cpu_from = cpu();
        let stop = || {
            calls.set(calls.get() + 1);
            from.elapsed() >= Duration::from_millis(ms)
                && calls.get().is_multiple_of(16)
                && cpu() - cpu_from >= ms * 1_000_000
        };
        let options = plan::Options {
            seed,
            budget: if let Some(n) = decodes {
                plan::Budget::Decodes(n)
            } else if ms == 0 {
                plan::Budget::First
            } else {
                plan::Budget::Decodes(u64::MAX)
            },
            stop: if ms == 0 || decodes.is_some() { None } else { Some(&stop) },
            ..plan::Options::default()
        };
        match plan::solve(&instance.problem, &options) {
            Ok(s) => {
                let took = from.elapsed();
                let gap = instance
                    .best_known
                    .map(|b| format!("{:.2} %", 100.0 * (s.objective - b) as f64 / b.max(1) as f64));
                println!(
                    "{:<14} {:>8} best known {:>8} gap {:>9} decodes {:>8} {:>6} ms",
                    instance.name,
                    s.objective,
                    instance.best_known.map_or("-".into(), |b| b.to_string()),
                    gap.unwrap_or("-".into()),
                    s.decodes,
                    took.as_millis()
                );
                if let Some(dir) = &out {
                    let answer =
                        plan::portable::answer(&instance.problem, &s, took.as_millis() as u64, false);
                    std::fs::write(format!("{dir}/{}.json", instance.name), answer.to_string())
                        .expect("written");
                }
            }
            Err(e) => println!("{}: {e}", instance.name),
        }
    }
}
