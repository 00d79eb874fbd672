//! What if: the plan as it would be, beside the plan as it is. A question changes a copy of the state, and both
//! are planned in the same way, from the order that people see now.
//!
//! Invariants: nothing is written; the same state, plan, minute and question give the same answer; a vehicle is
//! named only if the time shown for it changes.
//! Must not know: HTTP, roles.

use std::collections::BTreeMap;
use std::sync::Arc;

use domain::calendar;
use domain::decide::{self, Context, SYSTEM};
use domain::fold;
use domain::ids::*;
use domain::open;
use domain::state::State;
use domain::stored::*;
use domain::{MINUTE, Ms, depends};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use uuid::Uuid;

use super::{Effort, Plan, Published, plan_now};
use crate::shop::View;

/// Changes in one question: more than these nobody can judge by the answer.
pub const CHANGES_MAX: usize = 20;

/// One thing that would be otherwise. Where a beginning may be left out, it is now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// All of a vehicle's open cards.
    VehicleFirst {
        order: OrderId,
    },
    CardFirst {
        card: CardId,
    },
    OutOfService {
        equipment: EquipmentId,
        from: Option<Ms>,
        until: Ms,
    },
    Away {
        person: PersonId,
        from: Option<Ms>,
        until: Ms,
    },
    /// There after all, whatever absence stands in the calendar until then.
    Back {
        person: PersonId,
        until: Ms,
    },
    /// One more in a department, by its hours and without qualifications.
    Joins {
        department: DepartmentId,
        until: Ms,
    },
    /// Everybody at home in a department works then, too; minutes of the local day.
    ExtraShift {
        department: DepartmentId,
        day: String,
        from: u16,
        to: u16,
    },
    /// What a vehicle waits for comes then.
    HoldUntil {
        order: OrderId,
        hold: HoldId,
        due: Ms,
    },
    /// Closed now so that it rolls, and opened again for what is undone inside.
    CloseUp {
        order: OrderId,
        open: OpenId,
    },
}

impl Change {
    fn frees(&self, state: &State, card: &Card) -> bool {
        match self {
            Self::VehicleFirst { order } => card.order == *order,
            Self::CardFirst { card: id } => card.id == *id || depends::leads_to(state, card.id, *id),
            _ => false,
        }
    }
}

/// Why there is no answer, as one sentence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoAnswer {
    #[error("There is no such {0} in this shop.")]
    Unknown(&'static str),
    #[error("That moment has passed; choose a later one.")]
    Past,
    #[error("It must end after it begins.")]
    Backwards,
    #[error("«{0}» is not a day like 2026-03-02.")]
    Day(String),
    #[error("A shift begins and ends within one day, and ends after it begins.")]
    Shift,
    #[error("Nothing of this is left to be done.")]
    Over,
    #[error(
        "There is nothing to close up here: it is not open, nothing waits inside, or somebody works there."
    )]
    NotToClose,
    #[error("This hold has ended already.")]
    HoldEnded,
    #[error("Say what would be otherwise: one to {CHANGES_MAX} changes.")]
    Changes,
    #[error("There is no plan yet; ask again in a moment.")]
    NoPlan,
    #[error("There is no plan to compare with: {0}")]
    Trouble(String),
    #[error("With this there would be no plan: {0}")]
    Impossible(String),
}

/// Both plans, where they differ.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    pub at: Ms,
    pub seq: u64,
    /// Whoever gets later first.
    pub rows: Vec<Row>,
    /// Vehicles whose time stays.
    pub same: u32,
    pub before: Lateness,
    pub after: Lateness,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    pub order: OrderId,
    pub finish_before: Ms,
    pub finish_after: Ms,
    pub promise: Option<Ms>,
    /// Calendar minutes after the promise; 0 if kept or none.
    pub late_before_minutes: i64,
    pub late_after_minutes: i64,
}

impl Row {
    /// Below zero: earlier.
    pub fn later_minutes(&self) -> i64 {
        (self.finish_after - self.finish_before) / MINUTE
    }
}

/// Of all vehicles of a plan.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Lateness {
    pub late_vehicles: u32,
    /// Calendar minutes after promises, each times the vehicle's urgency.
    pub weighted_minutes: i64,
}

/// `shown` is the plan that people see now: the answer says what would move in it.
pub fn what_if(view: &View, now: Ms, shown: &Published, changes: &[Change]) -> Result<Answer, NoAnswer> {
    if changes.is_empty() || changes.len() > CHANGES_MAX {
        return Err(NoAnswer::Changes);
    }
    let mut state = view.state.clone();
    for change in changes {
        apply(&mut state, &view.zone, now, change)?;
    }
    if shown.rev == 0 {
        return Err(NoAnswer::NoPlan);
    }
    if let Some(trouble) = shown.plan.trouble.as_ref().filter(|_| shown.plan.rows.is_empty()) {
        return Err(NoAnswer::Trouble(trouble.clone()));
    }
    // What goes first now is not held back by where it stood, nor is what it needs.
    let free = |card: &Card| changes.iter().any(|change| change.frees(&state, card));
    let order = shown.shown.without(|id| state.cards.get(id).is_some_and(|card| free(card)));
    let with = View { head: view.head, state, zone: view.zone.clone() };
    // As it would come: what is shown is repaired, then searched.
    let repaired = plan_now(&with, now, &order, Effort::Repair);
    let after = plan_now(&with, now, &repaired.shown, Effort::SEARCH).plan;
    if let Some(trouble) = after.trouble.clone().filter(|_| after.rows.is_empty()) {
        return Err(NoAnswer::Impossible(trouble));
    }
    let before = &shown.plan;
    let rows = differing(view, before, &after);
    Ok(Answer {
        at: now,
        seq: view.head.seq,
        same: (before.vehicles.iter().filter(|v| v.finish.is_some()).count() - rows.len()) as u32,
        rows,
        before: lateness(view, before),
        after: lateness(view, &after),
    })
}

fn differing(view: &View, before: &Plan, after: &Plan) -> Vec<Row> {
    let then: BTreeMap<OrderId, _> = before.vehicles.iter().map(|v| (v.order, v)).collect();
    let pairs = after.vehicles.iter().filter_map(|v| Some((*then.get(&v.order)?, v)));
    let mut rows: Vec<Row> = pairs
        .filter_map(|(was, is)| {
            let (finish_before, finish_after) = (was.finish?, is.finish?);
            (finish_before != finish_after).then_some(Row {
                order: is.order,
                finish_before,
                finish_after,
                promise: is.promise,
                late_before_minutes: was.late_minutes,
                late_after_minutes: is.late_minutes,
            })
        })
        .collect();
    let number = |row: &Row| view.state.orders.get(&row.order).map(|o| o.number.clone());
    rows.sort_by_cached_key(|row| {
        let worse = row.late_after_minutes - row.late_before_minutes;
        (row.later_minutes() < 0, -worse, -row.later_minutes(), number(row))
    });
    rows
}

pub(super) fn lateness(view: &View, plan: &Plan) -> Lateness {
    plan.vehicles.iter().fold(Lateness::default(), |sum, vehicle| {
        let weight = view.state.orders.get(&vehicle.order).map_or(0, |o| i64::from(o.weight));
        Lateness {
            late_vehicles: sum.late_vehicles + u32::from(vehicle.late_minutes > 0),
            weighted_minutes: sum.weighted_minutes + weight * vehicle.late_minutes,
        }
    })
}

pub(super) fn apply(state: &mut State, zone: &TimeZone, now: Ms, change: &Change) -> Result<(), NoAnswer> {
    match change {
        Change::VehicleFirst { order } => {
            let order = here(state, *order)?;
            let open: Vec<CardId> =
                state.cards_of(order.id).filter(|c| !c.life.is_over()).map(|c| c.id).collect();
            if open.is_empty() {
                return Err(NoAnswer::Over);
            }
            open.into_iter().try_for_each(|card| first(state, now, card))
        }
        Change::CardFirst { card } => first(state, now, *card),
        Change::OutOfService { equipment, from, until } => {
            let gap = stretch(now, *from, *until)?;
            let found = state.equipment.get(equipment).filter(|e| !e.retired);
            let mut changed = (**found.ok_or(NoAnswer::Unknown("equipment"))?).clone();
            changed.out_of_service = joined(&changed.out_of_service, gap);
            state.equipment.insert(equipment.clone(), Arc::new(changed));
            Ok(())
        }
        Change::Away { person, from, until } => {
            let gap = stretch(now, *from, *until)?;
            edit_person(state, *person, |p| p.away = joined(&p.away, gap))
        }
        Change::Back { person, until } => {
            let there = stretch(now, None, *until)?;
            edit_person(state, *person, |p| p.away = cut(&p.away, &there))
        }
        Change::Joins { department, until } => {
            let there = stretch(now, None, *until)?;
            joins(state, department, there.to)
        }
        Change::ExtraShift { department, day, from, to } => {
            let date: Date = day.parse().map_err(|_| NoAnswer::Day(day.clone()))?;
            if from >= to || *to > 24 * 60 {
                return Err(NoAnswer::Shift);
            }
            if calendar::instant(date, *to, zone).is_none_or(|end| end <= now) {
                return Err(NoAnswer::Past);
            }
            extra_shift(state, department, date, Shift { from: *from, to: *to })
        }
        Change::HoldUntil { order, hold, due } => {
            let mut order = here(state, *order)?;
            if *due <= now {
                return Err(NoAnswer::Past);
            }
            let found = order.holds.iter_mut().find(|h| h.id == *hold).ok_or(NoAnswer::Unknown("hold"))?;
            if found.ended.is_some() {
                return Err(NoAnswer::HoldEnded);
            }
            found.due = Some(*due);
            state.orders.insert(order.id, Arc::new(order));
            Ok(())
        }
        Change::CloseUp { order, open } => {
            let order = here(state, *order)?;
            let up = open::close_up(state, &order, open).ok_or(NoAnswer::NotToClose)?;
            let ids =
                ["close", "reopen"].map(|part| OpId(part_of(OpId(order.id.0), &format!("{part}/{open}"))));
            add(state, zone, now, ids[0], up.close.clone())?;
            let reopen = up.reopen_after(CardId(ids[0].0));
            add(state, zone, now, ids[1], reopen)
        }
    }
}

/// A card more, as if somebody had added it.
fn add(state: &mut State, zone: &TimeZone, now: Ms, op: OpId, card: AddCard) -> Result<(), NoAnswer> {
    let context = Context { by: SYSTEM, role: Role::Admin, op, at: now, uncertain: false, now, zone };
    let events = decide::decide(state, &Act::AddCard(card), &[], &context)
        .map_err(|refused| NoAnswer::Impossible(refused.message))?;
    events.iter().for_each(|event| fold::fold(state, event, &mut fold::Changed::new()));
    Ok(())
}

/// A vehicle that is still in work.
fn here(state: &State, id: OrderId) -> Result<Order, NoAnswer> {
    let known = state.orders.get(&id).ok_or(NoAnswer::Unknown("vehicle"))?;
    state.in_shop().any(|order| order.id == id).then(|| (**known).clone()).ok_or(NoAnswer::Over)
}

fn first(state: &mut State, now: Ms, id: CardId) -> Result<(), NoAnswer> {
    let mut card = (**state.cards.get(&id).ok_or(NoAnswer::Unknown("card"))?).clone();
    here(state, card.order)?;
    if card.life.is_over() {
        return Err(NoAnswer::Over);
    }
    // A card put first keeps that in a plan for as long as it is not over at the plan's own minute.
    card.put_first = Some(PutFirst { by: SYSTEM, reason: String::new(), until: now + MINUTE });
    state.cards.insert(id, Arc::new(card));
    Ok(())
}

fn stretch(now: Ms, from: Option<Ms>, until: Ms) -> Result<Absence, NoAnswer> {
    let from = from.unwrap_or(now).max(now);
    match until {
        until if until <= now => Err(NoAnswer::Past),
        until if until <= from => Err(NoAnswer::Backwards),
        to => Ok(Absence { from, to, reason: None }),
    }
}

fn edit_person(state: &mut State, id: PersonId, edit: impl FnOnce(&mut Person)) -> Result<(), NoAnswer> {
    let found = state.people.get(&id).filter(|p| !p.retired).ok_or(NoAnswer::Unknown("person"))?;
    let mut person = (**found).clone();
    edit(&mut person);
    state.people.insert(id, Arc::new(person));
    Ok(())
}

/// Further than any plan looks.
const NEVER_AGAIN: Ms = 10 * 366 * 24 * 60 * MINUTE;

/// Somebody whom no shop has, gone again at `until`.
fn joins(state: &mut State, department: &DepartmentId, until: Ms) -> Result<(), NoAnswer> {
    state.departments.get(department).filter(|d| !d.retired).ok_or(NoAnswer::Unknown("department"))?;
    let id = PersonId(part_of(OpId(Uuid::nil()), &format!("joins/{department}/{}", state.people.len())));
    let person = Person {
        id,
        name: String::new(),
        department: department.clone(),
        also: Vec::new(),
        role: Role::Technician,
        language: String::new(),
        qualifications: BTreeMap::new(),
        calendar: None,
        away: vec![Absence { from: until, to: until + NEVER_AGAIN, reason: None }],
        retired: false,
        retired_at: None,
    };
    state.people.insert(id, Arc::new(person));
    Ok(())
}

/// One more absence, none overlapping another: a lift is out once, however often it was said.
fn joined(absences: &[Absence], more: Absence) -> Vec<Absence> {
    let mut all = cut(absences, &more);
    all.push(more);
    all.sort_by_key(|a| a.from);
    all
}

/// Absences without the stretch in which there is none.
fn cut(absences: &[Absence], there: &Absence) -> Vec<Absence> {
    let mut left = Vec::with_capacity(absences.len() + 1);
    for absence in absences {
        let (ends, begins) = (absence.to.min(there.from), absence.from.max(there.to));
        left.extend((absence.from < ends).then(|| Absence { to: ends, ..absence.clone() }));
        left.extend((begins < absence.to).then(|| Absence { from: begins, ..absence.clone() }));
    }
    left
}

fn extra_shift(state: &mut State, id: &DepartmentId, date: Date, shift: Shift) -> Result<(), NoAnswer> {
    let found = state.departments.get(id).filter(|d| !d.retired).ok_or(NoAnswer::Unknown("department"))?;
    let mut department = (**found).clone();
    let usual = department.calendar.clone().or_else(|| state.shop.as_ref().map(|s| s.calendar.clone()));
    department.calendar = with_shift(state, usual.as_ref(), date, shift);
    state.departments.insert(id.clone(), Arc::new(department));
    let own: Vec<Arc<Person>> = state.people.values().filter(|p| p.department == *id).cloned().collect();
    for person in own.into_iter().filter(|p| p.calendar.is_some() && !p.retired) {
        let longer = with_shift(state, person.calendar.as_ref(), date, shift);
        state.people.insert(person.id, Arc::new(Person { calendar: longer, ..(*person).clone() }));
    }
    Ok(())
}

/// A copy of a calendar with one shift more, under a name that no shop can give.
fn with_shift(state: &mut State, id: Option<&CalendarId>, date: Date, shift: Shift) -> Option<CalendarId> {
    let found = state.calendars.get(id?).map_or_else(
        || Calendar {
            id: CalendarId::from("none"),
            title: Words::default(),
            week: vec![Vec::new(); 7],
            days: BTreeMap::new(),
        },
        |c| (**c).clone(),
    );
    let usual = found.week.get(date.weekday().to_monday_zero_offset() as usize);
    let mut all = found.days.get(&date.to_string()).or(usual).cloned().unwrap_or_default();
    all.push(shift);
    all.sort_unstable();
    let mut day: Vec<Shift> = Vec::with_capacity(all.len());
    for shift in all {
        match day.last_mut() {
            Some(last) if shift.from <= last.to => last.to = last.to.max(shift.to),
            _ => day.push(shift),
        }
    }
    let id = CalendarId(format!("what-if/{}", state.calendars.len()));
    let mut calendar = Calendar { id: id.clone(), ..found };
    calendar.days.insert(date.to_string(), day);
    state.calendars.insert(id.clone(), Arc::new(calendar));
    Some(id)
}

#[cfg(test)]
pub(super) mod tests;
