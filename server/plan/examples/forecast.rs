//! Forecasts one portable instance from standard input: beside what `plan::portable` reads, the text has
//! `"forecast": {"runs", "seed", "starts": {task: minute}, "spreads": {task: {spent, planned, mean, deviation, delay: {kept, mean}}},
//! "releases": {task: minute}}`. A task without a spread has the length the instance says.
//! A measuring tool for checks from outside (`tests/reference/forecast_*.py`); the server asks the crate itself.

use std::collections::BTreeMap;
use std::io::Read;

use plan::{Delay, Minutes, PlanError, Spread};
use serde::Deserialize;
use serde_json::json;

#[derive(Deserialize)]
struct File {
    forecast: Asked,
}

#[derive(Deserialize)]
struct Asked {
    runs: usize,
    seed: u64,
    starts: BTreeMap<String, Minutes>,
    #[serde(default)]
    spreads: BTreeMap<String, Law>,
    #[serde(default)]
    releases: BTreeMap<String, Minutes>,
}

#[derive(Deserialize, Default)]
#[serde(default, deny_unknown_fields)]
struct Law {
    spent: Minutes,
    planned: Minutes,
    mean: f64,
    deviation: f64,
    delay: Option<Late>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Late {
    kept: f64,
    mean: f64,
}

impl From<&Law> for Spread {
    fn from(l: &Law) -> Self {
        let delay = l.delay.as_ref().map(|d| Delay { kept: d.kept, mean: d.mean });
        Self { spent: l.spent, planned: l.planned, mean: l.mean, deviation: l.deviation, delay }
    }
}

fn answer(text: &str) -> Result<serde_json::Value, PlanError> {
    let bad = |detail: String| PlanError::Format { detail };
    let mut p = plan::portable::read(text)?.problem;
    let asked = serde_json::from_str::<File>(text).map_err(|e| bad(e.to_string()))?.forecast;
    let mut starts = Vec::with_capacity(p.tasks.len());
    let mut spreads = Vec::with_capacity(p.tasks.len());
    for t in &mut p.tasks {
        starts.push(*asked.starts.get(&t.id).ok_or_else(|| bad(format!("{} has no start", t.id)))?);
        spreads.push(asked.spreads.get(&t.id).map_or_else(Spread::default, Spread::from));
        t.release = asked.releases.get(&t.id).copied();
    }
    let f = plan::forecast(&p, &starts, &spreads, asked.runs, asked.seed)?;
    let jobs = p.jobs.iter().zip(&f.jobs).enumerate().map(|(j, (job, all))| {
        let n = all.len() as f64;
        let mean = all.iter().map(|&at| at as f64).sum::<f64>() / n;
        // Of a sample: n − 1. What is only one run has none.
        let squares = all.iter().map(|&at| (at as f64 - mean).powi(2)).sum::<f64>();
        let deviation = (all.len() > 1).then(|| (squares / (n - 1.0)).sqrt());
        json!({ "id": job.id, "runs": all.len(), "mean": mean, "deviation": deviation,
            "p50": f.by(j, 0.5), "p90": f.by(j, 0.9) })
    });
    Ok(json!({ "runs": f.runs, "locked": f.locked, "jobs": jobs.collect::<Vec<_>>() }))
}

fn main() {
    let mut text = String::new();
    let read = std::io::stdin().read_to_string(&mut text).map_err(|e| e.to_string());
    match read.and_then(|_| answer(&text).map_err(|e| e.to_string())) {
        Ok(json) => println!("{json}"),
        Err(e) => {
            eprintln!("{e}");
            std::process::exit(1);
        }
    }
}
