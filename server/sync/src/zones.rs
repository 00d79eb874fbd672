//! A shop's time zone must be one that this server knows: with any other, every day would silently begin and
//! end at the wrong hour.
//!
//! Here and not in `domain`, which carries no time-zone data.

use domain::decide::{Code, Refusal};
use domain::stored::Act;
use jiff::tz::{self, TimeZone};

/// Names offered instead of one that is not known.
const OFFERED: usize = 3;

pub fn check(act: &Act) -> Result<(), Refusal> {
    let Act::SetShop { shop } = act else { return Ok(()) };
    if TimeZone::get(&shop.time_zone).is_ok() {
        return Ok(());
    }
    let typed: String = shop.time_zone.chars().take(64).collect();
    let offered = nearest(&typed);
    let instead = match offered.is_empty() {
        true => "write an IANA name, for example America/Chicago".to_owned(),
        false => format!("did you mean {}", offered.join(" or ")),
    };
    Err(Refusal::new(Code::Invalid, format!("There is no time zone «{typed}»; {instead}.")))
}

/// Known names that may have been meant, the likeliest first.
fn nearest(typed: &str) -> Vec<String> {
    let wanted = plain(typed);
    let mut found: Vec<(usize, String)> = tz::db()
        .available()
        .filter_map(|name| Some((far(&wanted, name.as_str())?, name.as_str().to_owned())))
        .collect();
    found.sort();
    found.into_iter().take(OFFERED).map(|(_, name)| name).collect()
}

fn plain(name: &str) -> String {
    name.trim().to_lowercase().replace([' ', '-'], "_")
}

/// How far a known name is from what was typed; none: too far.
fn far(wanted: &str, name: &str) -> Option<usize> {
    let name = plain(name);
    let place = name.rsplit('/').next().unwrap_or(&name);
    let typed = wanted.rsplit('/').next().unwrap_or(wanted);
    let letters = apart(typed, place);
    if typed.is_empty() || letters > typed.chars().count() / 3 {
        return None;
    }
    // Of two places with that name, the one on the continent that was typed.
    let other = usize::from(wanted.contains('/') && wanted.split('/').next() != name.split('/').next());
    Some(letters * 2 + other)
}

/// How many letters to change, add or leave out to turn one into the other (Levenshtein).
fn apart(one: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (i, a) in one.chars().enumerate() {
        let mut before = row[0];
        row[0] = i + 1;
        for (j, b) in other.iter().enumerate() {
            let change = before + usize::from(a != *b);
            before = row[j + 1];
            row[j + 1] = change.min(before + 1).min(row[j] + 1);
        }
    }
    row[other.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_meant_is_offered() {
        assert_eq!(nearest("Chicago"), ["America/Chicago"]);
        assert_eq!(nearest("america/chicgo"), ["America/Chicago"]);
        assert_eq!(nearest("Los Angeles"), ["America/Los_Angeles"]);
        assert_eq!(nearest("Europe/Madird")[0], "Europe/Madrid");
        assert!(nearest("the yard").is_empty() && nearest("").is_empty());
    }
}
