//! Who somebody is at a given moment: a department, the planners, the people on a card.
//!
//! Invariant: a department is never empty while there is anybody in the shop who can do something about it.

use jiff::tz::TimeZone;

use crate::Ms;
use crate::calendar;
use crate::ids::*;
use crate::state::State;
use crate::stored::*;

pub(super) struct People<'a> {
    pub state: &'a State,
    pub zone: &'a TimeZone,
    pub at: Ms,
}

impl People<'_> {
    pub fn gone(&self, person: PersonId) -> bool {
        self.state.people.get(&person).is_none_or(|p| p.retired)
    }

    /// The department's people who are on shift; if there are none, its deputies; else all of it; else the
    /// planners.
    pub fn of_department(&self, id: &DepartmentId) -> Vec<PersonId> {
        let all: Vec<&Person> = self.state.people_of(id).filter(|p| p.role <= Role::Parts).collect();
        let on_shift = all.iter().filter(|p| calendar::on_shift(self.state, p, self.zone, self.at));
        let deputies = || {
            let department = self.state.departments.get(id);
            let deputies = department.into_iter().flat_map(|d| d.deputies.iter().copied());
            deputies.filter(|deputy| !self.gone(*deputy)).collect()
        };
        first([
            &|| on_shift.clone().map(|p| p.id).collect(),
            &deputies,
            &|| all.iter().map(|p| p.id).collect(),
            &|| self.planners(),
        ])
    }

    pub fn planners(&self) -> Vec<PersonId> {
        let with = |roles: &[Role]| -> Vec<PersonId> {
            let people = self.state.people.values();
            people.filter(|p| !p.retired && roles.contains(&p.role)).map(|p| p.id).collect()
        };
        first([&|| with(&[Role::Planner, Role::Manager]), &|| with(&[Role::Admin])])
    }

    /// Holder, else lead of the vehicle in that department, else the department.
    pub fn who_works(&self, card: &Card) -> Vec<PersonId> {
        let lead = || self.state.orders.get(&card.order)?.leads.get(&card.department).copied();
        let one = card.taken_by.or_else(lead).filter(|person| !self.gone(*person));
        one.map_or_else(|| self.of_department(&card.department), |person| vec![person])
    }

    pub fn holders(&self, card: &Card) -> Vec<PersonId> {
        card.taken_by.into_iter().chain(card.helpers.iter().copied()).collect()
    }

    /// Everybody who works, or holds work, on the vehicle.
    pub fn at_vehicle(&self, order: OrderId) -> Vec<PersonId> {
        let undone = self.state.cards_of(order).filter(|card| !card.life.is_over());
        let running = |card: &Card| -> Vec<PersonId> {
            card.spans.iter().filter(|s| s.to.is_none()).map(|s| s.person).collect()
        };
        undone.flat_map(|card| [self.holders(card), running(card)].concat()).collect()
    }
}

/// The first of these groups that is not empty.
fn first<const N: usize>(of: [&dyn Fn() -> Vec<PersonId>; N]) -> Vec<PersonId> {
    of.into_iter().map(|people| people()).find(|people| !people.is_empty()).unwrap_or_default()
}
