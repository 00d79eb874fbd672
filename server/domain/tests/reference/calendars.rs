//! Shifts across daylight saving, in real hours. Dates of the changes from the IANA time zone database.

use domain::calendar::{instant, intervals, length, local_date, of_person};
use domain::ids::CalendarId;
use domain::stored::{Calendar, Role, Shift};
use domain::{MINUTE, Ms};
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::support::*;

const HOUR: Ms = 60 * MINUTE;

fn shifts(list: &[(u16, u16)]) -> Calendar {
    Calendar {
        id: CalendarId("late".into()),
        title: "Late".into(),
        week: week(list, 7),
        days: Default::default(),
    }
}

fn zone(name: &str) -> TimeZone {
    TimeZone::get(name).expect("bundled time zones")
}

fn date(text: &str) -> Date {
    text.parse().expect("a date")
}

fn hours_of(calendar: &Calendar, zone: &TimeZone, day: &str) -> f64 {
    let from = instant(date(day), 0, zone).expect("midnight");
    let to = instant(date(day).tomorrow().expect("a day"), 0, zone).expect("midnight");
    length(&intervals(calendar, zone, from, to)) as f64 / HOUR as f64
}

fn utc(text: &str) -> Ms {
    text.parse::<jiff::Timestamp>().expect("a time").as_millisecond()
}

/// (zone, day clocks go forward, day they go back, UTC of the change forward, UTC of the change back)
/// as in the IANA database: Chicago changes at 02:00 local, Madrid at 01:00 UTC, Sydney at 02:00 and
/// 03:00 local on the other half of the year.
const CHANGES: [(&str, &str, &str, &str, &str); 3] = [
    ("America/Chicago", "2026-03-08", "2026-11-01", "2026-03-08T08:00:00Z", "2026-11-01T07:00:00Z"),
    ("Europe/Madrid", "2026-03-29", "2026-10-25", "2026-03-29T01:00:00Z", "2026-10-25T01:00:00Z"),
    ("Australia/Sydney", "2026-10-04", "2026-04-05", "2026-10-03T16:00:00Z", "2026-04-04T16:00:00Z"),
];

#[test]
fn a_night_shift_is_an_hour_shorter_in_spring_and_longer_in_autumn() {
    let night = shifts(&[(0, 6 * 60)]);
    let day = shifts(&[(8 * 60, 17 * 60)]);
    let all = shifts(&[(0, 24 * 60)]);
    for (name, forward, back, _, _) in CHANGES {
        let zone = zone(name);
        assert_eq!(hours_of(&night, &zone, forward), 5.0, "{name} forward");
        assert_eq!(hours_of(&night, &zone, back), 7.0, "{name} back");
        assert_eq!(hours_of(&all, &zone, forward), 23.0, "{name} forward");
        assert_eq!(hours_of(&all, &zone, back), 25.0, "{name} back");
        assert_eq!(hours_of(&day, &zone, forward), 9.0, "{name}: by day nothing changes");
        assert_eq!(hours_of(&day, &zone, back), 9.0, "{name}: by day nothing changes");
    }
}

#[test]
fn the_change_itself_is_where_the_database_says() {
    let night = shifts(&[(0, 6 * 60)]);
    for (name, forward, back, forward_at, back_at) in CHANGES {
        let zone = zone(name);
        for (day, at, hours) in [(forward, forward_at, 5), (back, back_at, 7)] {
            let begin = instant(date(day), 0, &zone).expect("midnight");
            let end = instant(date(day), 6 * 60, &zone).expect("six");
            assert_eq!(end - begin, hours * HOUR, "{name} {day}");
            let change = utc(at);
            assert!(begin < change && change < end, "{name} {day}");
            assert_eq!(intervals(&night, &zone, begin, end), vec![(begin, end)], "{name} {day}: one stretch");
            assert_eq!(local_date(change, &zone), date(day));
        }
    }
}

#[test]
fn a_shift_that_begins_in_the_skipped_hour_begins_after_it() {
    // Chicago, 8 March: 02:00 to 03:00 does not exist.
    let chicago = zone("America/Chicago");
    assert_eq!(hours_of(&shifts(&[(2 * 60, 4 * 60)]), &chicago, "2026-03-08"), 1.0);
    assert_eq!(hours_of(&shifts(&[(2 * 60, 3 * 60)]), &chicago, "2026-03-08"), 0.0);
    // 1 November: 01:00 to 02:00 comes twice, and a shift over both is two hours long.
    assert_eq!(hours_of(&shifts(&[(60, 2 * 60)]), &chicago, "2026-11-01"), 2.0);
}

#[test]
fn a_week_over_the_change_has_its_hours() {
    // 9 hours on each of 7 days, wherever the clock jumps.
    let day = shifts(&[(8 * 60, 12 * 60), (12 * 60 + 30, 17 * 60 + 30)]);
    for (name, forward, back, _, _) in CHANGES {
        let zone = zone(name);
        for change in [forward, back] {
            let first = date(change).checked_sub(jiff::Span::new().days(3)).expect("a day");
            let last = first.checked_add(jiff::Span::new().days(7)).expect("a day");
            let (from, to) = (instant(first, 0, &zone).unwrap(), instant(last, 0, &zone).unwrap());
            assert_eq!(length(&intervals(&day, &zone, from, to)), 63 * HOUR, "{name} {change}");
            assert_ne!(to - from, 7 * 24 * HOUR, "the week itself is not 168 hours");
        }
    }
}

#[test]
fn a_person_works_real_hours_across_the_change() {
    let mut shop = TestShop::new();
    let calendar = shifts(&[(0, 6 * 60)]);
    shop.ok("mara", domain::stored::Act::SetCalendar { calendar });
    let night = domain::stored::Person {
        calendar: Some("late".into()),
        ..a_person("milo", "mechanical", Role::Technician)
    };
    shop.ok("mara", domain::stored::Act::SetPerson { person: night.clone() });
    let (from, to) = (local("2026-03-07T00:00"), local("2026-03-09T00:00"));
    assert_eq!(length(&of_person(&shop.state, &night, &shop.zone, from, to)), 11 * HOUR, "six and five");
    assert_eq!(to - from, 47 * HOUR);
}

#[test]
fn shifts_never_overlap_whatever_the_clock_does() {
    let dense = Calendar {
        week: (0..7)
            .map(|_| (0..48).map(|half| Shift { from: half * 30, to: half * 30 + 30 }).collect())
            .collect(),
        ..shifts(&[])
    };
    for (name, forward, back, _, _) in CHANGES {
        let zone = zone(name);
        for change in [forward, back] {
            let from = instant(date(change).yesterday().unwrap(), 0, &zone).unwrap();
            let to = instant(date(change).tomorrow().unwrap(), 24 * 60, &zone).unwrap();
            let open = intervals(&dense, &zone, from, to);
            assert_eq!(open, vec![(from, to)], "{name} {change}: half hours without gaps are one stretch");
        }
    }
}
