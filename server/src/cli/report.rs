//! `turnbuckle report`: every measure with unit, clock and count, and whether the shop is steady.

use std::fmt::Write as _;
use std::path::Path;

use domain::calendar::{instant, local_date};
use jiff::Span;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde_json::{Value, json};

use super::data::existing;
use super::remote::Server;
use super::{Failure, ReportArgs};
use crate::clock::Clock;
use crate::http::measures::{Control, Measures, question};
use crate::serve::ServeError;
use crate::shop::View;

pub fn run(args: ReportArgs) -> Result<(), Failure> {
    let report = match &args.server.server {
        Some(_) => from_server(&args)?,
        None => from_directory(&args.data.clone().or_default(), &args)?,
    };
    if args.json {
        say!("{report}")?;
    } else {
        say_on!("{}", shown(&report))?;
    }
    Ok(())
}

/// Of a report that names none.
const DAYS: i64 = 30;

/// Days without a word for them: the last thirty, today among them.
fn days(args: &ReportArgs, today: Date) -> Result<(Date, Date), Failure> {
    let last = args.to.unwrap_or(today);
    let first = args.from.unwrap_or_else(|| last.saturating_sub(Span::new().days(DAYS - 1)));
    if first > last {
        return Err(Failure::Usage("--to must not lie before --from".into()));
    }
    Ok((first, last))
}

fn from_directory(dir: &Path, args: &ReportArgs) -> Result<Value, Failure> {
    let shop = existing(dir).map_err(in_use)?;
    let (view, now) = (shop.view(), shop.clock.now());
    report_of(&view, args, now)
}

/// A directory that a server uses is not read beside it: half an entry is no entry.
pub(super) fn in_use(failure: Failure) -> Failure {
    match &failure {
        Failure::Serve(ServeError::Store(store::Error::InUse { .. })) => Failure::Said(format!(
            "{failure}; ask the server that runs there with --server URL --token-file FILE"
        )),
        _ => failure,
    }
}

fn report_of(view: &View, args: &ReportArgs, now: domain::Ms) -> Result<Value, Failure> {
    let (first, last) = days(args, local_date(now, &view.zone))?;
    let edge = |date: Date| instant(date, 0, &view.zone).unwrap_or(now);
    let stretch = (edge(first), edge(last.tomorrow().unwrap_or(last)), now);
    let question = question(view, stretch, args.department.clone(), args.class.clone());
    let question = question.map_err(Failure::Usage)?;
    let mut report = json!(Measures::of(view, &question));
    report["control"] = without_asked(json!(Control::of(view, &question)));
    Ok(report)
}

/// The same from a server that runs, through its API; days are those of its shop.
fn from_server(args: &ReportArgs) -> Result<Value, Failure> {
    let server = Server::new(&args.server)?;
    // The shop's day may be another one already; who needs it exactly says it.
    let today = local_date(Clock::System.now(), &TimeZone::UTC);
    let (first, last) = days(args, today)?;
    let mut query = format!("from={first}&to={last}");
    for (word, value) in [("department", &args.department), ("class", &args.class)] {
        if let Some(value) = value {
            _ = write!(query, "&{word}={}", super::remote::escaped(value));
        }
    }
    let mut report = server.get(&format!("/api/v1/measures?{query}"))?;
    report["control"] = without_asked(server.get(&format!("/api/v1/measures/control?{query}"))?);
    Ok(report)
}

/// What was asked stands above already.
fn without_asked(mut control: Value) -> Value {
    if let Some(control) = control.as_object_mut() {
        for word in ["from", "to", "now", "seq", "department", "class"] {
            control.remove(word);
        }
    }
    control
}

/// The report as a table for people; made from the same JSON that programs get.
fn shown(report: &Value) -> String {
    let mut text = String::new();
    let utc = |word: &str| report[word].as_i64().map_or_else(|| "?".into(), utc);
    _ = writeln!(
        text,
        "From {} to {} (not included), log up to entry {}.",
        utc("from"),
        utc("to"),
        report["seq"]
    );
    for (word, said) in [("department", "department"), ("class", "class of vehicles")] {
        if let Some(only) = report[word].as_str() {
            _ = writeln!(text, "Only the {said} «{only}».");
        }
    }
    let wide = widest(report);
    _ = writeln!(
        text,
        "\n{:<wide$} {:>8} {:>11} {:>11}  {:<14} clock",
        "measure", "count", "value", "p90", "unit"
    );
    for measure in list(&report["measures"]) {
        let (unit, clock) = (word(&measure["unit"]), word(&measure["clock"]));
        row(&mut text, wide, word(&measure["id"]), measure, &format!("  {unit:<14} {clock}"));
        for (key, figure) in measure["by"].as_object().into_iter().flatten() {
            row(&mut text, wide, &format!("  {key}"), figure, "");
        }
    }
    control_shown(&mut text, &report["control"]);
    text
}

fn widest(report: &Value) -> usize {
    let measures = list(&report["measures"]);
    let keys = measures.iter().flat_map(|m| m["by"].as_object().into_iter().flat_map(|by| by.keys()));
    keys.map(|key| key.chars().count() + 2).chain([28]).max().unwrap_or_default()
}

fn row(text: &mut String, wide: usize, name: &str, figure: &Value, end: &str) {
    let (value, p90) = (number(&figure["value"]), number(&figure["p90"]));
    let line = format!("{name:<wide$} {:>8} {value:>11} {p90:>11}{end}", figure["count"].to_string());
    _ = writeln!(text, "{}", line.trim_end());
}

fn control_shown(text: &mut String, control: &Value) {
    let charts = list(&control["charts"]);
    if !charts.is_empty() {
        _ = writeln!(text, "\nkeys_to_keys, days, individuals charts in the order in which vehicles came");
        _ = writeln!(
            text,
            "{:<12} {:>8} {:>9} {:>9} {:>9}  signals",
            "class", "count", "mean", "lower", "upper"
        );
    }
    for chart in charts {
        let points = list(&chart["points"]);
        let signals: Vec<String> = points
            .iter()
            .filter(|point| !list(&point["signals"]).is_empty())
            .map(|point| {
                let rules: Vec<&str> = list(&point["signals"]).iter().map(word).collect();
                format!("{} ({})", word(&point["number"]), rules.join(", "))
            })
            .collect();
        let limits = &chart["limits"];
        let line = format!(
            "{:<12} {:>8} {:>9} {:>9} {:>9}  {}",
            word(&chart["class"]),
            points.len(),
            number(&limits["mean"]),
            number(&limits["lower"]),
            number(&limits["upper"]),
            signals.join(", ")
        );
        _ = writeln!(text, "{}", line.trim_end());
    }
    let unexplained = list(&control["unexplained"]);
    if !unexplained.is_empty() {
        _ = writeln!(text, "\nwaited longest without any reason, open hours");
    }
    for one in unexplained {
        let department = one["department"].as_str().unwrap_or("nothing laid out");
        _ = writeln!(text, "{:<12} {:>8}  {department}", word(&one["number"]), number(&one["hours"]));
    }
    let little = &control["little"];
    if little.is_object() {
        _ = writeln!(
            text,
            "\nLittle's law: {} in the shop by counting; {} a day × {} days = {} ({} in at the beginning, {} at the end)",
            number(&little["number"]),
            number(&little["rate_per_day"]),
            number(&little["mean_days"]),
            number(&little["rate_times_time"]),
            little["at_begin"],
            little["at_end"]
        );
    }
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn word(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}

fn number(value: &Value) -> String {
    value.as_f64().map_or_else(|| "-".into(), |v| format!("{v:.2}"))
}

fn utc(at: i64) -> String {
    jiff::Timestamp::from_millisecond(at)
        .map_or_else(|_| at.to_string(), |t| t.strftime("%Y-%m-%d %H:%M UTC").to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_numbers_stand_in_columns() {
        let report = json!({
            "from": 0, "to": 86_400_000, "seq": 7, "class": "rolling",
            "measures": [
                {"id": "keys_to_keys", "unit": "days", "clock": "calendar", "count": 2, "value": 3.5, "p90": 4.25,
                 "by": {"a-rather-long-department/with-a-rather-long-routing": {"count": 1, "value": 3.0}}},
                {"id": "comebacks", "unit": "share", "clock": "none", "count": 0, "by": {}},
            ],
            "control": {"charts": [{"class": "rolling", "points": [
                {"number": "2041", "signals": ["beyond"]}, {"number": "2042"}],
                "limits": {"mean": 3.5, "lower": 1.0, "upper": 6.0}}]},
        });
        let text = shown(&report);
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(
            lines[0],
            "From 1970-01-01 00:00 UTC to 1970-01-02 00:00 UTC (not included), log up to entry 7."
        );
        assert_eq!(lines[1], "Only the class of vehicles «rolling».");
        let end = |line: &str, of: &str| line.find(of).map(|at| at + of.len());
        let count = end(lines[3], "count");
        assert_eq!(end(lines[4], " 2"), count, "{text}");
        assert_eq!(end(lines[5], " 1"), count, "{text}");
        assert_eq!(end(lines[4], "3.50"), end(lines[3], "value"), "{text}");
        assert!(lines[6].starts_with("comebacks") && lines[6].contains(" -"), "{text}");
        assert!(text.contains("2041 (beyond)") && !text.contains("2042"), "{text}");
    }
}
