//! `turnbuckle forecast`: dates and probabilities of every vehicle in the shop.

use std::fmt::Write as _;

use domain::Ms;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde_json::{Value, json};

use super::data::existing;
use super::remote::Server;
use super::report::in_use;
use super::{Failure, ForecastArgs};
use planner::{Shown, accuracy, forecast};

pub fn run(args: ForecastArgs) -> Result<(), Failure> {
    // Days on the screen are the shop's; a server does not say its zone with every answer, so then they are UTC.
    let (found, zone) = match &args.server.server {
        Some(_) if args.accuracy => {
            (Server::new(&args.server)?.get("/api/v1/forecast/accuracy")?, TimeZone::UTC)
        }
        Some(_) => (Server::new(&args.server)?.get("/api/v1/forecast")?, TimeZone::UTC),
        None => {
            let shop = existing(&args.data.or_default()).map_err(in_use)?;
            let view = shop.view();
            let past = accuracy::past(&shop, shop.clock.now());
            let past = past.map_err(|error| Failure::Said(error.to_string()))?;
            if args.accuracy {
                return told(&json!(past.accuracy), args.json);
            }
            let found = forecast::outlook(&view, &Shown::default(), &past.slips, shop.clock.now());
            let found = found
                .map_err(|error| Failure::Said(format!("there is no plan to forecast from: {error}")))?;
            (json!(found), view.zone.clone())
        }
    };
    if args.accuracy {
        return told(&found, args.json);
    }
    if args.json {
        say!("{found}")?;
    } else {
        say_on!("{}", shown(&found, &zone))?;
    }
    Ok(())
}

fn told(found: &Value, as_json: bool) -> Result<(), Failure> {
    if as_json {
        say!("{found}")?;
        return Ok(());
    }
    say!("Of the vehicles whose dates, as they would have been given then, have passed:")?;
    for row in found["moments"].as_array().into_iter().flatten() {
        let number = |key: &str| row[key].as_u64().unwrap_or(0);
        let share = |key: &str| match number("vehicles") {
            0 => "-".to_owned(),
            all => format!("{:.0} %", 100.0 * number(key) as f64 / all as f64),
        };
        say!(
            "{:<12} {:>5} vehicles: by the date half sure {:>5}, by the one 90 % sure {:>5}; {:.2} times as long as the runs say",
            row["at"].as_str().unwrap_or("?"),
            number("vehicles"),
            share("by_p50"),
            share("by_p90"),
            row["factor"].as_f64().unwrap_or(1.0),
        )?;
    }
    Ok(())
}

fn shown(found: &Value, zone: &TimeZone) -> String {
    let time = |value: &Value| match value.as_i64() {
        Some(at) => said(at, zone),
        None => "-".to_owned(),
    };
    let mut text = String::new();
    let learnt = &found["learnt"];
    let cards = learnt["cards"].as_u64().unwrap_or(0);
    let _ = writeln!(
        text,
        "{} runs; lengths learnt from {cards} finished cards (clocked / planned: half below {:.2}, nine of ten below {:.2}){}",
        found["runs"],
        learnt["ratio"].as_f64().unwrap_or(0.0),
        learnt["ratio90"].as_f64().unwrap_or(0.0),
        if cards == 0 { ": a guess until work has been clocked" } else { "" },
    );
    let _ = writeln!(
        text,
        "Finished, by the shop's clock, nights and weekends included ({}):",
        zone.iana_name().unwrap_or("UTC")
    );
    let head = ["order", "half sure", "90 % sure", "promise"];
    let _ = writeln!(text, "{:<10} {:<22} {:<22} {:<22} kept", head[0], head[1], head[2], head[3]);
    for vehicle in found["vehicles"].as_array().into_iter().flatten() {
        let kept = vehicle["kept"].as_f64().map_or("-".to_owned(), |share| format!("{:.0} %", 100.0 * share));
        let _ = writeln!(
            text,
            "{:<10} {:<22} {:<22} {:<22} {kept}",
            vehicle["number"].as_str().unwrap_or("?"),
            time(&vehicle["p50"]),
            time(&vehicle["p90"]),
            time(&vehicle["promise"]),
        );
    }
    text
}

fn said(at: Ms, zone: &TimeZone) -> String {
    match Timestamp::from_millisecond(at) {
        Ok(at) => zone.to_datetime(at).strftime("%a %Y-%m-%d %H:%M").to_string(),
        Err(_) => "-".to_owned(),
    }
}
