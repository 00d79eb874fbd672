//! How far the numbers and dates of an act may reach, and why: one value out of reach would stretch
//! calendars, plans and measures over centuries, for everybody.
//!
//! Rules: a wish or a setting beyond a limit is refused with a sentence that says what to do; the time of a
//! fact is brought within reach, because the fact stands. Older logs were never held to these limits: whatever
//! computes with the state must cope with any number.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use jiff::civil::Date;

use super::{Code, Decided, Refusal, TITLE_CHARS_MAX, Work, fitting_words};
use crate::ids::Qualification;
use crate::stored::*;
use crate::{MINUTE, Ms, calendar};

const DAY: Ms = 24 * 60 * MINUTE;

/// Nothing in a shop lies before 1970: such a time comes from a clock that lost its battery.
pub const EARLIEST: Ms = 0;
/// Five years: the longest leave, certificate and inspection end within them; a later date is a mistyped year.
pub const REACH: Ms = 5 * 366 * DAY;
/// Longer than any cure; more is a typing error.
pub const LAG_MINUTES_MAX: u32 = 90 * 24 * 60;
/// Longer than any single card (200 hours); more is a typing error.
pub const CARD_MINUTES_MAX: u32 = 60 * 200;
/// No repair of one vehicle sells two thousand hours.
pub const SOLD_MINUTES_MAX: u32 = 60 * 2_000;
/// A name is read on a card of the queue.
pub const NAME_CHARS_MAX: usize = 80;
/// A number of a repair order, and the short word of a step, stand in lines and addresses.
pub const NUMBER_CHARS_MAX: usize = 40;
/// Chassis numbers of other kinds than VINs are kept too, but nothing longer than a line.
pub const VIN_CHARS_MAX: usize = 40;
/// Can wait, normal, urgent: what a late vehicle's lateness is multiplied by.
pub const WEIGHTS: [u32; 3] = [1, 2, 4];
/// More than one absence a week over all of the reach. Every plan cuts everybody's shifts at each of them.
pub const ABSENCES_MAX: usize = 400;
/// Every day of the reach may be special, and some of the past. Each is read whenever a phone joins.
pub const SPECIAL_DAYS_MAX: usize = 2_000;
/// Ten times the longest routing a shop has: each step becomes a card on every vehicle.
pub const STEPS_MAX: usize = 100;
/// Routings of one repair order when it is opened.
pub const ROUTINGS_MAX: usize = 20;
/// A hundred tonnes: no lift of a repair shop carries more.
pub const LOAD_KG_MAX: u32 = 100_000;
/// Nothing is baked at less, and no vehicle at more.
pub const BAKE_CELSIUS: RangeInclusive<u32> = 30..=100;
/// Four hours: longer than any paint is baked.
pub const BAKE_MINUTES: RangeInclusive<u32> = 1..=240;
/// Far more than the server takes up of one picture.
pub const PICTURE_BYTES_MAX: u64 = 1 << 30;
/// A larger correction is no correction but another story.
pub const CORRECTED_BY_MAX: Ms = 7 * DAY;
/// More than anybody can read on one picture.
pub const MARKS_MAX: usize = 50;

/// The only shape in which [`calendar`] looks a special day up.
fn special_day(day: &str) -> Option<Date> {
    day.parse::<Date>().ok().filter(|date| date.to_string() == day)
}

impl Work<'_> {
    fn latest(&self) -> Ms {
        self.context.now.saturating_add(REACH)
    }

    /// A date that somebody wishes or sets up.
    pub(super) fn within_reach(&self, what: &str, at: Ms) -> Decided {
        if (EARLIEST..=self.latest()).contains(&at) {
            return Ok(());
        }
        let message = format!("{what} must lie between 1970 and five years from now; check the year.");
        Err(Refusal::new(Code::Invalid, message))
    }

    pub(super) fn maybe_within_reach(&self, what: &str, at: Option<Ms>) -> Decided {
        at.map_or(Ok(()), |at| self.within_reach(what, at))
    }

    pub(super) fn fitting_absences(&self, absences: &[Absence]) -> Decided {
        if absences.len() > ABSENCES_MAX {
            let message = format!("At most {ABSENCES_MAX} absences are kept; remove those that are over.");
            return Err(Refusal::new(Code::Invalid, message));
        }
        for absence in absences {
            self.within_reach("The beginning of an absence", absence.from)?;
            self.within_reach("The end of an absence", absence.to)?;
            if absence.from >= absence.to {
                return Err(Refusal::new(Code::Invalid, "An absence ends after it begins."));
            }
        }
        Ok(())
    }

    pub(super) fn fitting_qualifications(&self, until: &BTreeMap<Qualification, Option<Ms>>) -> Decided {
        until.values().try_for_each(|until| self.maybe_within_reach("The end of a qualification", *until))
    }

    pub(super) fn fitting_days(&self, calendar: &Calendar) -> Decided {
        if calendar.days.len() > SPECIAL_DAYS_MAX {
            let message = format!(
                "A calendar has at most {SPECIAL_DAYS_MAX} special days; remove those that are over."
            );
            return Err(Refusal::new(Code::Invalid, message));
        }
        let last = calendar::local_date(self.latest(), self.context.zone);
        let reach = Date::constant(1970, 1, 1)..=last;
        match calendar.days.keys().find(|day| !special_day(day).is_some_and(|date| reach.contains(&date))) {
            None => Ok(()),
            Some(day) => {
                let message = format!(
                    "A special day is written like 2026-12-25 and lies between 1970 and five years from now; check «{day}»."
                );
                Err(Refusal::new(Code::Invalid, message))
            }
        }
    }

    /// A report about a vehicle is a fact: it is kept, and counts as dry after the longest cure at the latest.
    pub(super) fn condition_within_reach(&self, change: &ConditionChange) -> ConditionChange {
        let last = self.context.at.saturating_add(Ms::from(LAG_MINUTES_MAX) * MINUTE);
        let wet_until = change.wet_until.map(|until| until.clamp(EARLIEST, last));
        ConditionChange { wet_until, ..change.clone() }
    }
}

pub(super) fn fitting_needs(needs: &Needs) -> Decided {
    needs.checks.iter().try_for_each(|check| fitting_words("A check", check, TITLE_CHARS_MAX))
}

pub(super) fn fitting_lag(lag_minutes: u32, lag_minutes_max: Option<u32>) -> Decided {
    if lag_minutes.max(lag_minutes_max.unwrap_or(0)) > LAG_MINUTES_MAX {
        return Err(Refusal::new(Code::Invalid, "The time between two cards is at most 90 days."));
    }
    if lag_minutes_max.is_some_and(|most| most < lag_minutes) {
        let message =
            "The longest time between two cards is not shorter than the shortest; change one of them.";
        return Err(Refusal::new(Code::Invalid, message));
    }
    Ok(())
}

pub(super) fn fitting_link(link: &Link) -> Decided {
    fitting_lag(link.lag_minutes, link.lag_minutes_max)
}

pub(super) fn check_minutes(minutes: u32) -> Decided {
    if (1..=CARD_MINUTES_MAX).contains(&minutes) {
        return Ok(());
    }
    Err(Refusal::new(Code::Invalid, format!("Planned time is between 1 and {CARD_MINUTES_MAX} minutes.")))
}

pub(super) fn check_sold(minutes: Option<u32>) -> Decided {
    if minutes.is_none_or(|minutes| minutes <= SOLD_MINUTES_MAX) {
        return Ok(());
    }
    let hours = SOLD_MINUTES_MAX / 60;
    Err(Refusal::new(Code::Invalid, format!("At most {hours} hours are sold; check the number.")))
}

pub(super) fn check_load(kilograms: Option<u32>) -> Decided {
    if kilograms.is_none_or(|kilograms| (1..=LOAD_KG_MAX).contains(&kilograms)) {
        return Ok(());
    }
    let message = format!("A rated load is 1 to {LOAD_KG_MAX} kg; check the number, or leave it out.");
    Err(Refusal::new(Code::Invalid, message))
}

/// A limit below any bake protects nothing. It is better to know none, because then nothing is baked.
pub(super) fn check_energy(energy: &Energy) -> Decided {
    let fits = |limit: Option<u32>, range: &RangeInclusive<u32>| limit.is_none_or(|l| range.contains(&l));
    if fits(energy.bake_limit_celsius, &BAKE_CELSIUS) && fits(energy.bake_limit_minutes, &BAKE_MINUTES) {
        return Ok(());
    }
    let message = "A limit for baking is 30 to 100 °C and 1 to 240 minutes; look at the maker's procedure.";
    Err(Refusal::new(Code::Invalid, message))
}
