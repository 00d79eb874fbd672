//! Working time: shifts by weekday, special days, absences; across daylight saving.
//!
//! Invariants: shifts are local clock times, results are UTC; an interval never overlaps the next one;
//! the time zone comes from the caller, so that every machine computes the same.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::Ms;
use crate::ids::{CalendarId, DepartmentId};
use crate::state::State;
use crate::stored::{Absence, Calendar, Equipment, Person, Shift};

/// A stretch of working time, `from` before `to`.
pub type Interval = (Ms, Ms);

/// What is wrong with a calendar, as one sentence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Wrong {
    /// A week with another number of days than seven; how many it has.
    #[error("A week has seven days, Monday first; this one has {0}.")]
    Week(usize),
    /// A shift that ends before it begins or after midnight, or overlaps the one before it.
    #[error("A shift must end after it begins and within the day, and not overlap the one before it.")]
    Shift,
    /// A special day that is no date; as it was typed.
    #[error("A special day is written as year-month-day, for example 2026-12-25; this one is «{0}».")]
    Day(String),
}

/// Whether every shift and special day of a calendar can be computed with.
pub fn check(calendar: &Calendar) -> Result<(), Wrong> {
    if calendar.week.len() != 7 {
        return Err(Wrong::Week(calendar.week.len()));
    }
    for shifts in calendar.week.iter().chain(calendar.days.values()) {
        let fits = shifts.iter().all(|s| s.from < s.to && s.to <= 24 * 60);
        if !fits || shifts.windows(2).any(|pair| pair[0].to > pair[1].from) {
            return Err(Wrong::Shift);
        }
    }
    match calendar.days.keys().find(|day| day.parse::<Date>().is_err()) {
        Some(day) => Err(Wrong::Day(day.clone())),
        None => Ok(()),
    }
}

/// The local date of an instant. Instants outside the calendar's range fall on its first or last day.
pub fn local_date(at: Ms, zone: &TimeZone) -> Date {
    let far = if at < 0 { Date::MIN } else { Date::MAX };
    Timestamp::from_millisecond(at).map_or(far, |t| zone.to_datetime(t).date())
}

/// The instant of a local minute of a day. A time skipped in spring is an hour later, one doubled in
/// autumn is the first (RFC 5545's "compatible" reading).
pub fn instant(date: Date, minute: u16, zone: &TimeZone) -> Option<Ms> {
    let (date, minute) = if minute >= 24 * 60 { (date.tomorrow().ok()?, 0) } else { (date, minute) };
    let local = date.at((minute / 60) as i8, (minute % 60) as i8, 0, 0);
    zone.to_timestamp(local).ok().map(|t| t.as_millisecond())
}

fn shifts_of(calendar: &Calendar, date: Date) -> &[Shift] {
    let special = calendar.days.get(&date.to_string());
    let weekday = date.weekday().to_monday_zero_offset() as usize;
    special.or_else(|| calendar.week.get(weekday)).map_or(&[], Vec::as_slice)
}

/// Working time of a calendar between two instants, cut at both.
pub fn intervals(calendar: &Calendar, zone: &TimeZone, from: Ms, to: Ms) -> Vec<Interval> {
    let mut found: Vec<Interval> = Vec::new();
    let mut date = local_date(from, zone);
    let last = local_date(to, zone);
    while date <= last {
        for shift in shifts_of(calendar, date) {
            let (Some(begin), Some(end)) = (instant(date, shift.from, zone), instant(date, shift.to, zone))
            else {
                continue;
            };
            let (begin, end) = (begin.max(from), end.min(to));
            if begin < end {
                match found.last_mut() {
                    Some(before) if before.1 >= begin => before.1 = before.1.max(end),
                    _ => found.push((begin, end)),
                }
            }
        }
        let Ok(next) = date.tomorrow() else { break };
        date = next;
    }
    found
}

/// What is left of `open` when the absences are taken out.
pub fn without(open: Vec<Interval>, absences: &[Absence]) -> Vec<Interval> {
    absences.iter().fold(open, |open, absence| {
        let mut left = Vec::with_capacity(open.len());
        for (from, to) in open {
            if absence.to <= from || to <= absence.from {
                left.push((from, to));
            } else {
                left.extend([(from, absence.from), (absence.to, to)].into_iter().filter(|(a, b)| a < b));
            }
        }
        left
    })
}

fn calendar_of<'a>(
    state: &'a State,
    own: Option<&CalendarId>,
    department: Option<&DepartmentId>,
) -> Option<&'a Calendar> {
    let of_department = || state.departments.get(department?)?.calendar.as_ref();
    let of_shop = || state.shop.as_ref().map(|shop| &shop.calendar);
    let id = own.or_else(of_department).or_else(of_shop)?;
    state.calendars.get(id).map(|c| &**c)
}

/// When a person works: own calendar, else the department's, else the shop's, without absences.
pub fn of_person(state: &State, person: &Person, zone: &TimeZone, from: Ms, to: Ms) -> Vec<Interval> {
    if person.retired {
        return Vec::new();
    }
    let calendar = calendar_of(state, person.calendar.as_ref(), Some(&person.department));
    without(calendar.map_or_else(Vec::new, |c| intervals(c, zone, from, to)), &person.away)
}

/// When a department is open.
pub fn of_department(
    state: &State,
    department: &DepartmentId,
    zone: &TimeZone,
    from: Ms,
    to: Ms,
) -> Vec<Interval> {
    calendar_of(state, None, Some(department)).map_or_else(Vec::new, |c| intervals(c, zone, from, to))
}

/// When the shop is open.
pub fn of_shop(state: &State, zone: &TimeZone, from: Ms, to: Ms) -> Vec<Interval> {
    calendar_of(state, None, None).map_or_else(Vec::new, |c| intervals(c, zone, from, to))
}

/// When equipment can be used: always, except out of service.
pub fn of_equipment(equipment: &Equipment, from: Ms, to: Ms) -> Vec<Interval> {
    if equipment.retired { Vec::new() } else { without(vec![(from, to)], &equipment.out_of_service) }
}

/// Whether equipment cannot be used at this moment.
pub fn out_of_service(equipment: &Equipment, at: Ms) -> bool {
    equipment.retired || equipment.out_of_service.iter().any(|out| out.from <= at && at < out.to)
}

/// Whether a person works at this instant, by their calendar and their absences.
pub fn on_shift(state: &State, person: &Person, zone: &TimeZone, at: Ms) -> bool {
    !of_person(state, person, zone, at, at.saturating_add(1)).is_empty()
}

/// Whether the shop works at all on the local day of `at`.
pub fn open_day(state: &State, zone: &TimeZone, at: Ms) -> bool {
    let date = local_date(at, zone);
    calendar_of(state, None, None).is_none_or(|calendar| !shifts_of(calendar, date).is_empty())
}

/// Length of a list of intervals.
pub fn length(intervals: &[Interval]) -> Ms {
    intervals.iter().fold(0, |sum: Ms, (from, to)| sum.saturating_add(to.saturating_sub(*from)))
}

/// Length of the part of `[from, to)` that lies inside the intervals.
pub fn length_within(intervals: &[Interval], from: Ms, to: Ms) -> Ms {
    intervals
        .iter()
        .fold(0, |sum: Ms, (a, b)| sum.saturating_add((*b).min(to).saturating_sub((*a).max(from)).max(0)))
}
