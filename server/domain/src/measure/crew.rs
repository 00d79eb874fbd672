//! Who was free when: on shift, and clocked on nothing.
//!
//! The state does not keep the departments, qualifications and leads people had before: today's are used for
//! all of the past. Somebody who left the shop counts until then.

use std::collections::BTreeMap;
use std::rc::Rc;

use jiff::tz::TimeZone;

use super::View;
use super::span::{merged, minus};
use crate::Ms;
use crate::calendar::{self, Interval};
use crate::ids::*;
use crate::state::State;
use crate::stored::*;

/// Whose work a card is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Who<'a> {
    Person(PersonId),
    /// Anybody of the department.
    Department(&'a DepartmentId),
}

type Asked<'a> = (Who<'a>, Option<&'a Qualification>);

pub(super) struct Crew<'a> {
    state: &'a State,
    zone: &'a TimeZone,
    from: Ms,
    to: Ms,
    busy: BTreeMap<PersonId, Vec<Interval>>,
    shifts: BTreeMap<Option<CalendarId>, Rc<Vec<Interval>>>,
    free: BTreeMap<Asked<'a>, Rc<Vec<Interval>>>,
}

impl<'a> Crew<'a> {
    pub fn new(view: &View<'a>, from: Ms) -> Self {
        let View { state, zone, to, now, .. } = *view;
        let mut busy: BTreeMap<PersonId, Vec<Interval>> = BTreeMap::new();
        for span in view.every_card().flat_map(|card| &card.spans) {
            let (a, b) = (span.from.max(from), span.to.unwrap_or(now).min(to));
            if a < b {
                busy.entry(span.person).or_default().push((a, b));
            }
        }
        let busy = busy.into_iter().map(|(person, spans)| (person, merged(spans))).collect();
        Self { state, zone, from, to, busy, shifts: BTreeMap::new(), free: BTreeMap::new() }
    }

    /// When at least one of them was free, and qualified if a qualification is asked for.
    pub fn free(&mut self, who: Who<'a>, qualification: Option<&'a Qualification>) -> Rc<Vec<Interval>> {
        let key = (who, qualification);
        if let Some(known) = self.free.get(&key) {
            return known.clone();
        }
        let found = Rc::new(match who {
            Who::Person(id) => {
                self.state.people.get(&id).map_or_else(Vec::new, |person| self.free_of(person))
            }
            Who::Department(id) => self.free_in(id, qualification),
        });
        self.free.insert(key, found.clone());
        found
    }

    fn free_in(&mut self, id: &DepartmentId, qualification: Option<&Qualification>) -> Vec<Interval> {
        let state = self.state;
        let pool: Vec<&Person> = pool(state, id).collect();
        if pool.is_empty() {
            // A department without people is worked by anybody who comes by.
            return calendar::of_department(state, id, self.zone, self.from, self.to);
        }
        let mut free = Vec::new();
        for person in pool {
            let until = match qualification {
                None => Ms::MAX,
                Some(q) => match person.qualifications.get(q) {
                    None => continue,
                    Some(until) => until.unwrap_or(Ms::MAX),
                },
            };
            free.extend(self.free_of(person).into_iter().map(|(a, b)| (a, b.min(until))));
        }
        merged(free)
    }

    fn free_of(&mut self, person: &Person) -> Vec<Interval> {
        let shifts = self.shifts_of(person);
        let mut away = person.away.clone();
        if let Some(from) = person.retired_at.filter(|_| person.retired) {
            away.push(Absence { from, to: Ms::MAX, reason: None });
        } else if person.retired {
            return Vec::new();
        }
        let away = merged(away.iter().map(|a| (a.from, a.to)));
        let there = minus(&shifts, &away);
        self.busy.get(&person.id).map_or_else(|| there.clone(), |busy| minus(&there, busy))
    }

    /// Most people share a calendar, so it is unrolled once.
    fn shifts_of(&mut self, person: &Person) -> Rc<Vec<Interval>> {
        let own = person.calendar.clone();
        let of_department =
            || self.state.departments.get(&person.department).and_then(|d| d.calendar.clone());
        let id = own.or_else(of_department).or_else(|| self.state.shop.as_ref().map(|s| s.calendar.clone()));
        if let Some(known) = self.shifts.get(&id) {
            return known.clone();
        }
        let calendar = id.as_ref().and_then(|id| self.state.calendars.get(id));
        let unrolled =
            calendar.map_or_else(Vec::new, |c| calendar::intervals(c, self.zone, self.from, self.to));
        let unrolled = Rc::new(unrolled);
        self.shifts.insert(id, unrolled.clone());
        unrolled
    }

    /// Until when anybody of the department has the qualification; none: nobody ever had it.
    pub fn qualified_until(&self, id: &DepartmentId, qualification: &Qualification) -> Option<Ms> {
        pool(self.state, id)
            .filter_map(|p| p.qualifications.get(qualification))
            .map(|until| until.unwrap_or(Ms::MAX))
            .max()
    }
}

/// People who take this department's cards; managers and administrators do not.
fn pool<'a>(state: &'a State, id: &'a DepartmentId) -> impl Iterator<Item = &'a Person> {
    let people = state.people.values().map(|p| &**p);
    people.filter(move |p| {
        p.role <= Role::Planner
            && (!p.retired || p.retired_at.is_some())
            && (p.department == *id || p.also.contains(id))
    })
}
