//! What would be otherwise, as acts: the same acts that a question about the plan lays over a copy of the state are sent when
//! somebody makes it so.
//!
//! Invariants: every act has been decided by the shop's own rules, one after the other; nothing is written; the same state,
//! moment and change give the same acts, their ids too.
//! Must not know: plans.

use std::collections::BTreeMap;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use uuid::Uuid;

use crate::calendar;
use crate::decide::{self, Context, SYSTEM};
use crate::depends;
use crate::fold;
use crate::ids::*;
use crate::open;
use crate::state::State;
use crate::stored::*;
use crate::{MINUTE, Ms};

/// One thing that could be different. Where `from` is none, it begins now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// All open cards of a vehicle go first.
    VehicleFirst {
        /// The order of the vehicle.
        order: OrderId,
    },
    /// A card, and what must come before it, goes first.
    CardFirst {
        /// Which card.
        card: CardId,
    },
    /// A piece of equipment cannot be used.
    OutOfService {
        /// Which piece.
        equipment: EquipmentId,
        /// Since when, UTC ms; none: now.
        from: Option<Ms>,
        /// Until when, UTC ms.
        until: Ms,
    },
    /// A person is not there.
    Away {
        /// Who.
        person: PersonId,
        /// Since when, UTC ms; none: now.
        from: Option<Ms>,
        /// Until when, UTC ms.
        until: Ms,
    },
    /// A person is there after all, whatever absence their document names until then.
    Back {
        /// Who.
        person: PersonId,
        /// Until when, UTC ms.
        until: Ms,
    },
    /// A department has one more person, who works its hours and has no qualifications.
    Joins {
        /// Which department.
        department: DepartmentId,
        /// Until when, UTC ms.
        until: Ms,
    },
    /// Everybody at home in a department works one more shift.
    ExtraShift {
        /// Which department.
        department: DepartmentId,
        /// Local date, "2026-03-02".
        day: String,
        /// When it begins, in minutes after local midnight.
        from: u16,
        /// When it ends, in minutes after local midnight.
        to: u16,
    },
    /// What a vehicle waits for comes at this time.
    HoldUntil {
        /// The order of the vehicle.
        order: OrderId,
        /// Which hold.
        hold: HoldId,
        /// When it ends, UTC ms.
        due: Ms,
    },
    /// A vehicle is closed now so that it rolls, and opened again for what is undone inside.
    CloseUp {
        /// The order of the vehicle.
        order: OrderId,
        /// The way of being open.
        open: OpenId,
    },
}

impl Change {
    /// Whether it lets the card go before where it stood.
    pub fn frees(&self, state: &State, card: &Card) -> bool {
        match self {
            Self::VehicleFirst { order } => card.order == *order,
            Self::CardFirst { card: id } => card.id == *id || depends::leads_to(state, card.id, *id),
            _ => false,
        }
    }

    /// Acts that stand for somebody whom the shop does not have yet are nobody's to send.
    fn is_imagined(&self) -> bool {
        matches!(self, Self::Joins { .. })
    }
}

/// Why a change cannot be supposed, as one sentence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotSupposed {
    /// It names something the shop does not have; the word says what kind of thing.
    #[error("There is no such {0} in this shop.")]
    Unknown(&'static str),
    /// It would end in the past.
    #[error("That moment has passed; choose a later one.")]
    Past,
    /// It would end before it begins.
    #[error("It must end after it begins.")]
    Backwards,
    /// The day is no date; as it was typed.
    #[error("«{0}» is not a day like 2026-03-02.")]
    Day(String),
    /// The shift does not fit into one day.
    #[error("A shift begins and ends within one day, and ends after it begins.")]
    Shift,
    /// Everything it is about is done.
    #[error("Nothing of this is left to be done.")]
    Over,
    /// Nothing can be closed up there.
    #[error(
        "There is nothing to close up here: it is not open, nothing waits inside, or somebody works there."
    )]
    NotToClose,
    /// The hold is over.
    #[error("This hold has ended already.")]
    HoldEnded,
    /// The shop's own rules refuse one of its acts; their sentence.
    #[error("With this there would be no plan: {0}")]
    Refused(String),
}

/// One act, under the operation's id by which later ones name what it makes.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The id the act's operation would have.
    pub op: OpId,
    /// The act.
    pub act: Act,
}

/// The state as it would be, and how to get there.
#[derive(Clone)]
pub struct Supposed {
    /// The shop after these acts.
    pub state: State,
    /// In this order; empty if part of it is only imagined.
    pub steps: Vec<Step>,
    /// The lowest role that may do all of them.
    pub role: Role,
}

/// All changes together, in their order.
pub fn suppose(state: &State, zone: &TimeZone, now: Ms, changes: &[Change]) -> Result<Supposed, NotSupposed> {
    let mut so_far = Supposed { state: state.clone(), steps: Vec::new(), role: Role::Planner };
    for (n, change) in changes.iter().enumerate() {
        // Asked again later, it is another operation: what was closed up once may be closed up once more.
        let op = |k: usize| OpId(part_of(OpId(Uuid::nil()), &format!("{now}/{n}/{k}/{change:?}")));
        for (k, act) in acts(&so_far.state, zone, now, change, op(0))?.into_iter().enumerate() {
            so_far.does(zone, now, Step { op: op(k), act })?;
        }
    }
    if changes.iter().any(Change::is_imagined) {
        so_far.steps.clear();
    }
    Ok(so_far)
}

impl Supposed {
    fn does(&mut self, zone: &TimeZone, now: Ms, step: Step) -> Result<(), NotSupposed> {
        let decided = |role| {
            let context = Context { by: SYSTEM, role, op: step.op, at: now, uncertain: false, now, zone };
            decide::decide(&self.state, &step.act, &[], &context)
        };
        let roles = [Role::Planner, Role::Manager, Role::Admin].into_iter().filter(|role| *role >= self.role);
        let mut refused = String::new();
        for role in roles {
            match decided(role) {
                Ok(events) => {
                    events
                        .iter()
                        .for_each(|event| fold::fold(&mut self.state, event, &mut fold::Changed::new()));
                    self.role = role;
                    self.steps.push(step);
                    return Ok(());
                }
                Err(why) => refused = why.message,
            }
        }
        Err(NotSupposed::Refused(refused))
    }
}

/// `first`: the id of the first of them.
fn acts(
    state: &State,
    zone: &TimeZone,
    now: Ms,
    change: &Change,
    first: OpId,
) -> Result<Vec<Act>, NotSupposed> {
    Ok(match change {
        Change::VehicleFirst { order } => {
            let order = here(state, *order)?;
            let open = state.cards_of(order.id).filter(|c| !c.life.is_over());
            let acts: Vec<Act> = open.map(|card| put_first(card.id, now)).collect();
            if acts.is_empty() {
                return Err(NotSupposed::Over);
            }
            acts
        }
        Change::CardFirst { card } => {
            let card = state.cards.get(card).ok_or(NotSupposed::Unknown("card"))?;
            here(state, card.order)?;
            if card.life.is_over() {
                return Err(NotSupposed::Over);
            }
            vec![put_first(card.id, now)]
        }
        Change::OutOfService { equipment, from, until } => {
            let gap = stretch(now, *from, *until)?;
            let found = state.equipment.get(equipment).filter(|e| !e.retired);
            let mut equipment = (**found.ok_or(NotSupposed::Unknown("equipment"))?).clone();
            equipment.out_of_service = joined(&equipment.out_of_service, gap);
            vec![Act::SetEquipment { equipment }]
        }
        Change::Away { person, from, until } => {
            let (gap, mut person) = (stretch(now, *from, *until)?, here_still(state, *person)?);
            person.away = joined(&person.away, gap);
            vec![Act::SetPerson { person }]
        }
        Change::Back { person, until } => {
            let (there, mut person) = (stretch(now, None, *until)?, here_still(state, *person)?);
            person.away = cut(&person.away, &there);
            vec![Act::SetPerson { person }]
        }
        Change::Joins { department, until } => {
            let there = stretch(now, None, *until)?;
            vec![joins(state, department, there.to, first)?]
        }
        Change::ExtraShift { department, day, from, to } => {
            let date: Date = day.parse().map_err(|_| NotSupposed::Day(day.clone()))?;
            if from >= to || *to > 24 * 60 {
                return Err(NotSupposed::Shift);
            }
            if calendar::instant(date, *to, zone).is_none_or(|end| end <= now) {
                return Err(NotSupposed::Past);
            }
            Longer::new(state, date, Shift { from: *from, to: *to }).acts(department)?
        }
        Change::HoldUntil { order, hold, due } => {
            let order = here(state, *order)?;
            if *due <= now {
                return Err(NotSupposed::Past);
            }
            let found = order.holds.iter().find(|h| h.id == *hold).ok_or(NotSupposed::Unknown("hold"))?;
            if found.ended.is_some() {
                return Err(NotSupposed::HoldEnded);
            }
            vec![Act::HoldDue { order: order.id, hold: *hold, due: *due }]
        }
        Change::CloseUp { order, open } => {
            let order = here(state, *order)?;
            let up = open::close_up(state, order, open).ok_or(NotSupposed::NotToClose)?;
            let close = Act::AddCard(up.close.clone());
            vec![close, Act::AddCard(up.reopen_after(CardId(first.0)))]
        }
    })
}

/// A vehicle that is still in work.
fn here(state: &State, id: OrderId) -> Result<&Order, NotSupposed> {
    let known = state.orders.get(&id).ok_or(NotSupposed::Unknown("vehicle"))?;
    state.in_shop().any(|order| order.id == id).then_some(&**known).ok_or(NotSupposed::Over)
}

fn here_still(state: &State, id: PersonId) -> Result<Person, NotSupposed> {
    let found = state.people.get(&id).filter(|p| !p.retired).ok_or(NotSupposed::Unknown("person"))?;
    Ok((**found).clone())
}

/// Long enough that it has begun by then; who makes it so may say another day.
const FIRST_FOR: Ms = 7 * 24 * 60 * MINUTE;

fn put_first(card: CardId, now: Ms) -> Act {
    Act::PutFirst { card, reason: "?".into(), until: now + FIRST_FOR }
}

fn stretch(now: Ms, from: Option<Ms>, until: Ms) -> Result<Absence, NotSupposed> {
    let from = from.unwrap_or(now).max(now);
    match until {
        until if until <= now => Err(NotSupposed::Past),
        until if until <= from => Err(NotSupposed::Backwards),
        to => Ok(Absence { from, to, reason: None }),
    }
}

/// Further than any plan looks, and no farther than a date may lie.
const GONE_FOR: Ms = 3 * 366 * 24 * 60 * MINUTE;

/// Somebody whom no shop has, gone again at `until`.
fn joins(state: &State, department: &DepartmentId, until: Ms, id: OpId) -> Result<Act, NotSupposed> {
    state.departments.get(department).filter(|d| !d.retired).ok_or(NotSupposed::Unknown("department"))?;
    let person = Person {
        id: PersonId(id.0),
        name: "?".into(),
        department: department.clone(),
        also: Vec::new(),
        role: Role::Technician,
        language: "en".into(),
        qualifications: BTreeMap::new(),
        calendar: None,
        away: vec![Absence { from: until, to: until + GONE_FOR, reason: None }],
        retired: false,
        retired_at: None,
        erased_at: None,
    };
    Ok(Act::SetPerson { person })
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

/// Calendars with one shift more. Whoever shares theirs with others gets one of their own.
struct Longer<'a> {
    state: &'a State,
    day: Date,
    shift: Shift,
    acts: Vec<Act>,
    taken: Vec<CalendarId>,
}

/// Who works by a calendar.
struct Owner<'a> {
    id: &'a str,
    title: Words,
    calendar: Option<&'a CalendarId>,
}

impl<'a> Longer<'a> {
    fn new(state: &'a State, day: Date, shift: Shift) -> Self {
        Self { state, day, shift, acts: Vec::new(), taken: state.calendars.keys().cloned().collect() }
    }

    fn acts(mut self, id: &DepartmentId) -> Result<Vec<Act>, NotSupposed> {
        let found = self.state.departments.get(id).filter(|d| !d.retired);
        let department = found.ok_or(NotSupposed::Unknown("department"))?;
        let shop = self.state.shop.as_ref().map(|shop| &shop.calendar);
        let owner = Owner {
            id: &department.id.0,
            title: department.title.clone(),
            calendar: department.calendar.as_ref().or(shop),
        };
        let to = self.made(&owner)?;
        if department.calendar.as_ref() != Some(&to) {
            let department = Department { calendar: Some(to), ..(**department).clone() };
            self.acts.push(Act::SetDepartment { department });
        }
        // Those who keep their own hours stay, too: they are at home there.
        for person in self.state.people.values().filter(|p| p.department == *id && !p.retired) {
            if person.calendar.is_none() {
                continue;
            }
            let own = person.id.to_string();
            let title = Words { text: person.name.clone(), es: None };
            let to = self.made(&Owner { id: &own, title, calendar: person.calendar.as_ref() })?;
            if person.calendar.as_ref() != Some(&to) {
                let person = Person { calendar: Some(to), ..(**person).clone() };
                self.acts.push(Act::SetPerson { person });
            }
        }
        Ok(self.acts)
    }

    fn made(&mut self, owner: &Owner<'_>) -> Result<CalendarId, NotSupposed> {
        let found = owner.calendar.and_then(|id| self.state.calendars.get(id));
        let mut calendar = (**found.ok_or(NotSupposed::Unknown("calendar"))?).clone();
        calendar.days.insert(self.day.to_string(), self.longer(&calendar));
        if !self.alone(&calendar.id, owner) {
            (calendar.id, calendar.title) = (self.free(owner.id), owner.title.clone());
            self.taken.push(calendar.id.clone());
        }
        let id = calendar.id.clone();
        self.acts.push(Act::SetCalendar { calendar });
        Ok(id)
    }

    /// The day's shifts with one more; those that meet become one.
    fn longer(&self, calendar: &Calendar) -> Vec<Shift> {
        let usual = calendar.week.get(self.day.weekday().to_monday_zero_offset() as usize);
        let mut all = calendar.days.get(&self.day.to_string()).or(usual).cloned().unwrap_or_default();
        all.push(self.shift);
        all.sort_unstable();
        let mut day: Vec<Shift> = Vec::with_capacity(all.len());
        for shift in all {
            match day.last_mut() {
                Some(last) if shift.from <= last.to => last.to = last.to.max(shift.to),
                _ => day.push(shift),
            }
        }
        day
    }

    /// Whether nobody else works by this calendar.
    fn alone(&self, id: &CalendarId, owner: &Owner<'_>) -> bool {
        let departments = self.state.departments.values().filter(|d| !d.retired);
        let people = self.state.people.values().filter(|p| !p.retired);
        let by_department = departments.map(|d| (d.id.0.clone(), d.calendar.as_ref()));
        let by_person = people.map(|p| (p.id.to_string(), p.calendar.as_ref()));
        let others =
            by_department.chain(by_person).any(|(who, theirs)| theirs == Some(id) && who != owner.id);
        self.state.shop.as_ref().is_none_or(|shop| shop.calendar != *id) && !others
    }

    fn free(&self, owner: &str) -> CalendarId {
        // An id has forty characters at the most.
        let name = &owner[..owner.len().min(28)].trim_end_matches('-');
        let names =
            std::iter::once(format!("{name}-hours")).chain((2..).map(|n| format!("{name}-hours-{n}")));
        names.map(CalendarId).find(|id| !self.taken.contains(id)).unwrap_or_else(|| CalendarId(owner.into()))
    }
}

#[cfg(test)]
mod tests;
