//! Dates as people and spreadsheets write them.
//!
//! Invariant: nothing is guessed silently: whether 3/5 is the third of May or the fifth of March is
//! settled by the whole column, else by the language, and then said.

use domain::calendar;
use domain::state::State;
use domain::{MINUTE, Ms};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    DayFirst,
    MonthFirst,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    Exact(Ms),
    /// Minute of the day, where one is given.
    Local(Date, Option<u16>),
}

/// Which end of a day a date without a time means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    Opening,
    Closing,
}

/// How a column writes its dates; none if no value tells (both readings are possible).
pub fn order_of<'a>(values: impl Iterator<Item = &'a str>) -> Option<Order> {
    let mut found = None;
    for value in values {
        let Some((parts, _)) = split(value) else { continue };
        let slashed = parts.sep != '.' && parts.words[0].len() <= 2;
        let numbers = (parts.words[0].parse::<u8>(), parts.words[1].parse::<u8>());
        if let (true, (Ok(first), Ok(second))) = (slashed, numbers) {
            match (first > 12, second > 12) {
                (true, false) => found = Some(Order::DayFirst),
                (false, true) => found = Some(Order::MonthFirst),
                _ => {}
            }
        }
    }
    found
}

/// Whether a value reads differently in the two orders.
pub fn is_ambiguous(value: &str) -> bool {
    read(value, Order::DayFirst) != read(value, Order::MonthFirst)
}

pub fn read(value: &str, order: Order) -> Option<When> {
    if let Ok(exact) = value.trim().parse::<Timestamp>() {
        return Some(When::Exact(exact.as_millisecond()));
    }
    let (parts, minute) = split(value)?;
    let [a, b, c] = &parts.words;
    let number = |word: &str| word.parse::<i16>().ok();
    let (year, month, day) = match (month_named(a), month_named(b)) {
        (Some(month), _) => (number(c)?, month, number(b)?),
        (_, Some(month)) if a.len() == 4 => (number(a)?, month, number(c)?),
        (_, Some(month)) => (number(c)?, month, number(a)?),
        _ if a.len() == 4 => (number(a)?, number(b)?, number(c)?),
        _ if parts.sep == '.' || order == Order::DayFirst => (number(c)?, number(b)?, number(a)?),
        _ => (number(c)?, number(a)?, number(b)?),
    };
    let year_digits = if a.len() == 4 { 4 } else { c.len() };
    let year = match year_digits {
        2 => 2000 + year,
        4 => year,
        _ => return None,
    };
    let date = Date::new(year, month.try_into().ok()?, day.try_into().ok()?).ok()?;
    Some(When::Local(date, minute))
}

/// The instant that is meant, in the shop's zone.
pub fn instant(when: When, edge: Edge, state: &State, zone: &TimeZone) -> Option<Ms> {
    match when {
        When::Exact(at) => Some(at),
        When::Local(date, Some(minute)) => calendar::instant(date, minute, zone),
        When::Local(date, None) => {
            let (begin, end) = (calendar::instant(date, 0, zone)?, calendar::instant(date, 24 * 60, zone)?);
            let open = calendar::of_shop(state, zone, begin, end);
            match edge {
                Edge::Opening => Some(open.first().map_or(begin + 8 * 60 * MINUTE, |(from, _)| *from)),
                // Midnight is another day already.
                Edge::Closing => {
                    Some(open.last().map_or(begin + 17 * 60 * MINUTE, |(_, to)| (*to).min(end - MINUTE)))
                }
            }
        }
    }
}

struct Parts {
    words: [String; 3],
    sep: char,
}

/// The three parts of a date, and the minute of the day if there is a time.
fn split(value: &str) -> Option<(Parts, Option<u16>)> {
    let lower = value.trim().to_lowercase().replace(',', " ").replace(['\u{a0}', '\u{202f}'], " ");
    let lower = lower.replace("a. m.", "am").replace("p. m.", "pm");
    // "2026-03-05t14:30"
    let lower = match lower.split_once('t') {
        Some((date, time)) if date.ends_with(|c: char| c.is_ascii_digit()) && time.contains(':') => {
            format!("{date} {time}")
        }
        _ => lower,
    };
    let mut date: Vec<&str> = Vec::new();
    let (mut clock, mut half) = (None, None);
    for word in lower.split_whitespace() {
        let bare = word.replace('.', "");
        match bare.as_str() {
            "am" | "pm" => half = Some(bare == "pm"),
            "de" | "at" | "h" => {}
            _ if word.contains(':') => clock = Some(word),
            _ => date.push(word),
        }
    }
    let sep = date.first().and_then(|word| word.chars().find(|c| "/.-".contains(*c))).unwrap_or(' ');
    let words: Vec<String> = date
        .iter()
        .flat_map(|word| word.split(['/', '.', '-']))
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect();
    let minute = match clock {
        Some(clock) => Some(minute_of(clock, half)?),
        None if half.is_some() => return None,
        None => None,
    };
    Some((Parts { words: words.try_into().ok()?, sep }, minute))
}

fn minute_of(clock: &str, half: Option<bool>) -> Option<u16> {
    let (clock, half) = match (clock.strip_suffix("am"), clock.strip_suffix("pm")) {
        (Some(bare), _) => (bare, Some(false)),
        (_, Some(bare)) => (bare, Some(true)),
        _ => (clock, half),
    };
    let mut parts = clock.split(':');
    let (hour, minute) = (parts.next()?.parse::<u16>().ok()?, parts.next()?.parse::<u16>().ok()?);
    if parts.any(|seconds| seconds.parse::<f32>().is_err()) || minute > 59 {
        return None;
    }
    let hour = match half {
        None => hour,
        Some(_) if !(1..=12).contains(&hour) => return None,
        Some(pm) => hour % 12 + if pm { 12 } else { 0 },
    };
    (hour < 24).then_some(hour * 60 + minute)
}

/// English and Spanish, whole or cut to three letters or more.
fn month_named(word: &str) -> Option<i16> {
    const MONTHS: [(&str, &str); 12] = [
        ("january", "enero"),
        ("february", "febrero"),
        ("march", "marzo"),
        ("april", "abril"),
        ("may", "mayo"),
        ("june", "junio"),
        ("july", "julio"),
        ("august", "agosto"),
        ("september", "septiembre"),
        ("october", "octubre"),
        ("november", "noviembre"),
        ("december", "diciembre"),
    ];
    if word.len() < 3 || !word.chars().all(char::is_alphabetic) {
        return None;
    }
    let at = MONTHS.iter().position(|(en, es)| {
        en.starts_with(word) || es.starts_with(word) || word == "sept" && *en == "september"
    })?;
    Some(at as i16 + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(year: i16, month: i8, day: i8) -> When {
        When::Local(Date::constant(year, month, day), None)
    }

    #[test]
    fn dates_as_they_are_written() {
        let (d, m) = (Order::DayFirst, Order::MonthFirst);
        for (text, order, date) in [
            ("2026-03-05", m, day(2026, 3, 5)),
            ("2026/3/5", d, day(2026, 3, 5)),
            ("3/5/2026", m, day(2026, 3, 5)),
            ("3/5/2026", d, day(2026, 5, 3)),
            ("05.03.2026", m, day(2026, 3, 5)),
            ("5-3-26", d, day(2026, 3, 5)),
            ("Mar 5, 2026", d, day(2026, 3, 5)),
            ("5 de marzo de 2026", m, day(2026, 3, 5)),
            ("5-mar-26", m, day(2026, 3, 5)),
        ] {
            assert_eq!(read(text, order), Some(date), "{text}");
        }
        for text in ["soon", "2026-13-01", "31/31/2026", "3/5", "2026-02-30", "", "45000", "3/5/202"] {
            assert_eq!(read(text, m), None, "{text}");
        }
    }

    #[test]
    fn times_in_both_halves_of_the_day() {
        let at = |text: &str| match read(text, Order::MonthFirst) {
            Some(When::Local(_, minute)) => minute,
            other => panic!("{text}: {other:?}"),
        };
        assert_eq!(at("3/5/2026 14:30"), Some(870));
        assert_eq!(at("3/5/2026 2:30 PM"), Some(870));
        assert_eq!(at("3/5/2026 2:30pm"), Some(870));
        assert_eq!(at("3/5/2026 12:05 a.m."), Some(5));
        assert_eq!(at("3/5/2026 12:05 p. m."), Some(725));
        assert_eq!(at("2026-03-05T14:30:15"), Some(870));
        assert_eq!(read("3/5/2026 25:00", Order::MonthFirst), None);
        assert_eq!(read("3/5/2026 13:00 pm", Order::MonthFirst), None);
        // RFC 3339, with its offset: the instant is certain.
        assert_eq!(read("2026-03-05T14:30:00-06:00", Order::DayFirst), Some(When::Exact(1_772_742_600_000)));
    }

    #[test]
    fn a_column_tells_its_order_by_a_number_above_twelve() {
        assert_eq!(order_of(["3/5/2026", "13/5/2026"].into_iter()), Some(Order::DayFirst));
        assert_eq!(order_of(["3/5/2026", "5/13/2026 8:00"].into_iter()), Some(Order::MonthFirst));
        assert_eq!(order_of(["3/5/2026", "2026-05-13", "13.5.2026"].into_iter()), None);
        assert!(is_ambiguous("3/5/2026") && !is_ambiguous("3/3/2026") && !is_ambiguous("2026-03-05"));
    }
}
