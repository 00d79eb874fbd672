//! What a shop sets up about itself. Managers only.

use std::collections::BTreeSet;

use super::*;
use crate::calendar;

impl Work<'_> {
    fn sets_up(&self) -> Decided {
        self.at_least(Role::Manager, "set up the shop")
    }

    pub(super) fn set_shop(&mut self, shop: &Shop) -> Decided {
        self.sets_up()?;
        fitting("The shop's name", &shop.name, TITLE_CHARS_MAX)?;
        let plausible = shop.time_zone.len() <= 64 && shop.time_zone.is_ascii() && !shop.time_zone.is_empty();
        if !plausible {
            return Err(invalid("A time zone is an IANA name, for example America/Chicago."));
        }
        if !matches!(shop.language.as_str(), "en" | "es") {
            return Err(invalid("The language is en or es."));
        }
        if self.state.shop.as_deref() != Some(shop) {
            self.emit(Event::ShopSet { shop: shop.clone() });
        }
        Ok(())
    }

    pub(super) fn set_department(&mut self, department: &Department) -> Decided {
        self.sets_up()?;
        word("A department", department.id.well_formed())?;
        fitting_words("The department's title", &department.title, TITLE_CHARS_MAX)?;
        self.calendar_known(department.calendar.as_ref())?;
        if department.deputies.iter().any(|p| !self.state.people.contains_key(p)) {
            return Err(Refusal::new(
                Code::UnknownPerson,
                "One of the deputies is not a person of this shop.",
            ));
        }
        if self.state.departments.get(&department.id).map(|d| &**d) != Some(department) {
            self.emit(Event::DepartmentSet { department: department.clone() });
        }
        Ok(())
    }

    pub(super) fn set_person(&mut self, person: &Person) -> Decided {
        self.sets_up()?;
        fitting("The name", &person.name, NAME_CHARS_MAX)?;
        if person.id == SYSTEM {
            return Err(invalid("This id is the server's own; choose another."));
        }
        for department in std::iter::once(&person.department).chain(&person.also) {
            self.department_known(department)?;
        }
        self.calendar_known(person.calendar.as_ref())?;
        self.fitting_absences(&person.away)?;
        self.fitting_qualifications(&person.qualifications)?;
        if !matches!(person.language.as_str(), "en" | "es") {
            return Err(invalid("The language is en or es."));
        }
        let before = self.state.people.get(&person.id).cloned();
        let touches_admin =
            person.role == Role::Admin || before.as_ref().is_some_and(|p| p.role == Role::Admin);
        if touches_admin && before.as_deref() != Some(person) {
            self.at_least(Role::Admin, "make, change or remove administrators")?;
        }
        let last_admin = before.as_ref().is_some_and(|p| p.role == Role::Admin && !p.retired)
            && (person.role != Role::Admin || person.retired)
            && !self.state.people.values().any(|p| p.id != person.id && p.role == Role::Admin && !p.retired);
        if last_admin {
            return Err(invalid("This is the last administrator; make somebody else one first."));
        }
        let left = before.as_ref().and_then(|p| p.retired_at).unwrap_or(self.context.at);
        let erased_at = before.as_ref().and_then(|p| p.erased_at);
        if erased_at.is_some() && before.as_deref() != Some(person) {
            return Err(invalid("This person was erased; take them on as a new person."));
        }
        let person = Person { retired_at: person.retired.then_some(left), erased_at, ..person.clone() };
        if before.as_deref() == Some(&person) {
            return Ok(());
        }
        self.emit(Event::PersonSet { person: person.clone() });
        if person.retired && before.is_some_and(|p| !p.retired) {
            self.release(person.id);
        }
        Ok(())
    }

    /// A person who is erased leaves the shop by the same act.
    pub(super) fn erase_person(&mut self, id: PersonId) -> Decided {
        self.at_least(Role::Admin, "erase a person's name, texts and photos")?;
        let Some(before) = self.state.people.get(&id).cloned() else {
            return Err(Refusal::new(Code::UnknownPerson, "There is no such person in this shop."));
        };
        if id == self.context.by {
            return Err(invalid("Nobody erases themselves; another administrator does it."));
        }
        if before.erased_at.is_some() {
            return Ok(());
        }
        self.set_person(&Person { retired: true, ..(*before).clone() })?;
        self.emit(Event::PersonErased { person: id, at: self.context.at });
        Ok(())
    }

    /// A person who leaves holds nothing any more.
    fn release(&mut self, person: PersonId) {
        let running: Vec<CardId> = self.state.running_cards(person).collect();
        for card in running {
            self.emit_paused(card, person, Some(PauseWhy::OtherWork));
        }
        let orders: Vec<OrderId> = self.state.in_shop().map(|o| o.id).collect();
        for order in orders {
            let holds = |c: &&Card| c.taken_by == Some(person) && !c.life.is_over();
            let held: Vec<CardId> = self.state.cards_of(order).filter(holds).map(|c| c.id).collect();
            for card in held {
                self.emit(Event::GivenBack { card, from: Some(person) });
            }
            let leads: Vec<DepartmentId> = self.state.orders.get(&order).map_or_else(Vec::new, |o| {
                o.leads.iter().filter(|(_, lead)| **lead == person).map(|(d, _)| d.clone()).collect()
            });
            for department in leads {
                self.emit(Event::LeadSet { order, department, person: None });
            }
        }
    }

    pub(super) fn set_equipment(&mut self, equipment: &Equipment) -> Decided {
        self.sets_up()?;
        word("Equipment", equipment.id.well_formed() && equipment.kind.well_formed())?;
        fitting_words("The title", &equipment.title, TITLE_CHARS_MAX)?;
        self.department_known(&equipment.department)?;
        self.fitting_absences(&equipment.out_of_service)?;
        self.maybe_within_reach("The next inspection", equipment.inspection_due)?;
        check_load(equipment.rated_load_kg)?;
        if self.state.equipment.get(&equipment.id).map(|e| &**e) != Some(equipment) {
            self.emit(Event::EquipmentSet { equipment: equipment.clone() });
        }
        Ok(())
    }

    pub(super) fn set_place(&mut self, place: &Place) -> Decided {
        self.sets_up()?;
        word("A place", place.id.well_formed())?;
        fitting_words("The title", &place.title, TITLE_CHARS_MAX)?;
        if place.equipment.as_ref().is_some_and(|e| !self.state.equipment.contains_key(e)) {
            return Err(Refusal::new(
                Code::Unknown,
                "This place names equipment that the shop does not have.",
            ));
        }
        if self.state.places.get(&place.id).map(|p| &**p) != Some(place) {
            self.emit(Event::PlaceSet { place: place.clone() });
        }
        Ok(())
    }

    pub(super) fn set_calendar(&mut self, calendar: &Calendar) -> Decided {
        self.sets_up()?;
        word("A calendar", calendar.id.well_formed())?;
        fitting_words("The calendar's title", &calendar.title, TITLE_CHARS_MAX)?;
        calendar::check(calendar).map_err(|wrong| invalid(&wrong.to_string()))?;
        self.fitting_days(calendar)?;
        if self.state.calendars.get(&calendar.id).map(|c| &**c) != Some(calendar) {
            self.emit(Event::CalendarSet { calendar: calendar.clone() });
        }
        Ok(())
    }

    pub(super) fn set_routing(&mut self, routing: &Routing) -> Decided {
        self.sets_up()?;
        word("A routing", routing.id.well_formed())?;
        fitting_words("The title", &routing.title, TITLE_CHARS_MAX)?;
        if routing.steps.is_empty() {
            return Err(invalid("A routing has at least one step."));
        }
        if routing.steps.len() > STEPS_MAX {
            return Err(invalid(&format!("A routing has at most {STEPS_MAX} steps; make two of it.")));
        }
        let mut before: BTreeSet<&str> = BTreeSet::new();
        let mut opened: BTreeSet<&OpenId> = BTreeSet::new();
        for step in &routing.steps {
            self.department_known(&step.department)?;
            fitting_words("The step's title", &step.title, TITLE_CHARS_MAX)?;
            fitting("The step's short word", &step.step, NUMBER_CHARS_MAX)?;
            fitting_needs(&step.needs)?;
            check_minutes(step.planned_minutes)?;
            step.after.iter().try_for_each(|link| fitting_lag(link.lag_minutes, link.lag_minutes_max))?;
            // A step names only steps above it, so a routing cannot turn in a circle.
            if let Some(link) = step.after.iter().find(|link| !before.contains(link.step.as_str())) {
                let message =
                    format!("«{}» comes after «{}», which must stand above it.", step.step, link.step);
                return Err(Refusal::new(Code::Cycle, message));
            }
            let uses = step.needs.inside.iter().chain(&step.needs.closes);
            // A routing from an older log can be retired as it is.
            if let Some(open) = uses.into_iter().find(|open| !routing.retired && !opened.contains(open)) {
                let message = format!("«{}» needs «{open}», which no step above it opens.", step.step);
                return Err(invalid(&message));
            }
            opened.extend(&step.needs.opens);
            if !before.insert(&step.step) {
                return Err(invalid(&format!("Two steps have the short word «{}».", step.step)));
            }
        }
        let now = self.state.routings.get(&routing.id);
        let version = now.map_or(1, |r| r.version.saturating_add(1));
        let same = now.is_some_and(|r| Routing { version: r.version, ..routing.clone() } == **r);
        if !same {
            self.emit(Event::RoutingSet { routing: Routing { version, ..routing.clone() } });
        }
        Ok(())
    }

    fn calendar_known(&self, id: Option<&CalendarId>) -> Decided {
        match id {
            Some(id) if !self.state.calendars.contains_key(id) => {
                Err(Refusal::new(Code::Unknown, format!("There is no calendar «{id}» in this shop.")))
            }
            _ => Ok(()),
        }
    }
}

fn invalid(message: &str) -> Refusal {
    Refusal::new(Code::Invalid, message)
}

fn word(what: &str, well_formed: bool) -> Decided {
    let message =
        || format!("{what} is named by small letters, digits and hyphens, at most 40, for example lift-2.");
    if well_formed { Ok(()) } else { Err(invalid(&message())) }
}
