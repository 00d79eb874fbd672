//! Who is told what, from one log entry and the state after it.
//!
//! Rules: nobody is told about their own act, except that their wish was refused; nobody is told twice
//! of one entry; an entry always yields the same notices, so that they can be made anew from the log.

use std::collections::BTreeMap;

use jiff::tz::TimeZone;

use crate::calendar;
use crate::decide::SYSTEM;
use crate::depends;
use crate::ids::*;
use crate::state::State;
use crate::stored::*;

/// Everybody who is to be told of this entry. `state` is the state after it.
pub fn notices(state: &State, entry: &Entry, zone: &TimeZone) -> Vec<Notice> {
    let mut told = Told { state, entry, zone, by_person: BTreeMap::new() };
    if entry.verdict == Verdict::Refused && entry.by != SYSTEM {
        let card = entry.op.pointer("/args/card").and_then(|c| serde_json::from_value(c.clone()).ok());
        let order = card.and_then(|c| state.cards.get(&c)).map(|c| c.order);
        let by = entry.other.as_ref().and_then(|other| other.by);
        let refused = Notice { card, order, by, ..told.blank(entry.by, NoticeKind::Refused) };
        told.by_person.insert(entry.by, refused);
    }
    for event in &entry.events {
        told.event(event);
    }
    told.by_person.into_values().collect()
}

struct Told<'a> {
    state: &'a State,
    entry: &'a Entry,
    zone: &'a TimeZone,
    by_person: BTreeMap<PersonId, Notice>,
}

impl Told<'_> {
    fn event(&mut self, event: &Event) {
        match event {
            Event::Asked { handoff } => {
                let people = self.of_department(&handoff.to);
                let about = Notice {
                    handoff: Some(handoff.id),
                    ..self.about_order(NoticeKind::Asked, handoff.order)
                };
                self.tell(people, &Notice { card: handoff.cards.first().copied(), ..about });
            }
            Event::Taken { card, by, .. } => {
                if *by != self.entry.by {
                    let about = self.about_card(NoticeKind::Assigned, *card);
                    self.tell(vec![*by], &about);
                }
                self.asker(*card, NoticeKind::Taken);
            }
            Event::GivenBack { card } => self.asker(*card, NoticeKind::GivenBack),
            Event::Opened { order, open, card, at, .. } => {
                let mut people = self.asked_by(*card);
                people.extend(self.joined(*order, |h| h.opened_at == Some(*at)));
                for inside in self.state.cards_of(*order).filter(|c| c.needs.inside.as_ref() == Some(open)) {
                    people.extend(self.who_works(inside));
                }
                let about = self.about_card(NoticeKind::Open, *card);
                self.tell(people, &about);
            }
            Event::Finished { card, .. } => self.finished(*card),
            Event::Closed { order, card, at, .. } => {
                let people = self.joined(*order, |h| h.handed_back_at == Some(*at));
                let about = self.about_card(NoticeKind::HandedBack, *card);
                self.tell(people, &about);
            }
            Event::ExceptionRaised { exception } => {
                let people = exception.owner.map_or_else(|| self.planners(), |owner| vec![owner]);
                let urgent = exception.kind == ExceptionKind::ClosedOverUndone;
                let about = self.about_order(NoticeKind::Exception, exception.order);
                let about = Notice { exception: Some(exception.id), card: exception.card, urgent, ..about };
                self.tell(people, &about);
            }
            Event::Reminded { about, card, order } => {
                let (kind, mut people) = match about {
                    Reminder::Untaken => (NoticeKind::Untaken, self.planners()),
                    Reminder::LiftBlocked => (NoticeKind::LiftBlocked, self.planners()),
                    Reminder::PromiseUnlikely => (NoticeKind::PromiseUnlikely, self.planners()),
                };
                if let (Reminder::Untaken, Some(card)) = (about, card.and_then(|c| self.state.cards.get(&c)))
                {
                    people.extend(self.of_department(&card.department));
                }
                self.tell(people, &Notice { card: *card, order: *order, ..self.blank(SYSTEM, kind) });
            }
            _ => {}
        }
    }

    fn finished(&mut self, id: CardId) {
        let Some(card) = self.state.cards.get(&id).cloned() else { return };
        let handoff = card.handoff.and_then(|h| self.state.handoffs.get(&h));
        if handoff.is_some_and(|h| h.life == HandoffLife::HandedBack && card.life == Life::Done) {
            self.asker(id, NoticeKind::HandedBack);
        }
        for next in depends::successors(self.state, &card) {
            let comes = next.ready_at.is_some() && next.department != card.department && !next.life.is_over();
            if comes {
                let people = self.who_works(next);
                let about = self.about_card(NoticeKind::Next, next.id);
                self.tell(people, &about);
            }
        }
    }

    /// Holder, else lead of the vehicle in that department, else the department.
    fn who_works(&self, card: &Card) -> Vec<PersonId> {
        let lead = || self.state.orders.get(&card.order)?.leads.get(&card.department).copied();
        card.taken_by
            .or_else(lead)
            .map_or_else(|| self.of_department(&card.department), |person| vec![person])
    }

    /// People of the department on shift; if nobody is, its deputies; else all of it.
    fn of_department(&self, id: &DepartmentId) -> Vec<PersonId> {
        let all: Vec<&Person> = self.state.people_of(id).filter(|p| p.role <= Role::Parts).collect();
        let at = self.entry.at;
        let on_shift: Vec<PersonId> =
            all.iter().filter(|p| calendar::on_shift(self.state, p, self.zone, at)).map(|p| p.id).collect();
        if !on_shift.is_empty() {
            return on_shift;
        }
        let deputies = self.state.departments.get(id).map_or_else(Vec::new, |d| d.deputies.clone());
        if deputies.is_empty() { all.iter().map(|p| p.id).collect() } else { deputies }
    }

    fn planners(&self) -> Vec<PersonId> {
        let with = |roles: &[Role]| -> Vec<PersonId> {
            self.state
                .people
                .values()
                .filter(|p| !p.retired && roles.contains(&p.role))
                .map(|p| p.id)
                .collect()
        };
        let planners = with(&[Role::Planner, Role::Manager]);
        if planners.is_empty() { with(&[Role::Admin]) } else { planners }
    }

    fn asked_by(&self, card: CardId) -> Vec<PersonId> {
        let handoff = self.state.cards.get(&card).and_then(|c| self.state.handoffs.get(&c.handoff?));
        handoff.map_or_else(Vec::new, |h| vec![h.asked_by])
    }

    /// Who asked for work inside what others had opened.
    fn joined(&self, order: OrderId, which: impl Fn(&Handoff) -> bool) -> Vec<PersonId> {
        self.state.handoffs_of(order).filter(|h| h.joined && which(h)).map(|h| h.asked_by).collect()
    }

    fn asker(&mut self, card: CardId, kind: NoticeKind) {
        // Only the first card of a hand-off speaks for being taken.
        let handoff = self.state.cards.get(&card).and_then(|c| self.state.handoffs.get(&c.handoff?));
        let speaks = kind != NoticeKind::Taken || handoff.is_some_and(|h| h.cards.first() == Some(&card));
        if speaks {
            let about = self.about_card(kind, card);
            self.tell(self.asked_by(card), &about);
        }
    }

    fn blank(&self, person: PersonId, kind: NoticeKind) -> Notice {
        let by = Some(self.entry.by).filter(|by| *by != SYSTEM);
        Notice {
            person,
            kind,
            at: self.entry.act_at,
            order: None,
            card: None,
            handoff: None,
            exception: None,
            by,
            urgent: false,
        }
    }

    fn about_order(&self, kind: NoticeKind, order: OrderId) -> Notice {
        Notice { order: Some(order), ..self.blank(SYSTEM, kind) }
    }

    fn about_card(&self, kind: NoticeKind, id: CardId) -> Notice {
        let card = self.state.cards.get(&id);
        let (order, handoff) = (card.map(|c| c.order), card.and_then(|c| c.handoff));
        Notice { order, handoff, card: Some(id), ..self.blank(SYSTEM, kind) }
    }

    fn tell(&mut self, people: Vec<PersonId>, about: &Notice) {
        for person in people {
            let gone = self.state.people.get(&person).is_none_or(|p| p.retired);
            let owns = about.kind == NoticeKind::Exception;
            if gone || (person == self.entry.by && !owns) {
                continue;
            }
            let notice = Notice { person, ..about.clone() };
            let told = self.by_person.entry(person).or_insert_with(|| notice.clone());
            // Of several the most important one; an alarm is not hidden behind another exception.
            if (notice.kind, !notice.urgent) < (told.kind, !told.urgent) {
                *told = notice;
            }
        }
    }
}
