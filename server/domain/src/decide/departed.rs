//! Work held by somebody who has left the shop: what they did before they left counts; what they hold falls
//! free, however late it is sent.

use std::collections::BTreeSet;

use super::*;

impl Work<'_> {
    /// Runs after the act: makes sure that somebody who has left neither holds nor works on anything because of
    /// it.
    pub(super) fn free_what_departed_hold(&mut self) {
        for id in self.handed() {
            let Some(card) = self.state.cards.get(&id).cloned() else { continue };
            let runs: Vec<PersonId> =
                card.spans.iter().filter(|s| s.to.is_none()).map(|s| s.person).collect();
            for person in runs {
                if let Some(left) = self.left_at(person) {
                    let op = self.context.op;
                    let why = Some(PauseWhy::OtherWork);
                    self.emit(Event::Paused { card: id, by: person, at: left, why, op });
                }
            }
            let holder = card.taken_by.filter(|holder| self.left_at(*holder).is_some());
            if holder.is_some() && !card.life.is_over() {
                self.emit(Event::GivenBack { card: id, from: holder });
            }
        }
    }

    /// Work that was ended by the person's leaving really ended at the time reported now.
    pub(super) fn ended_before_leaving(&mut self, card: &Card) {
        let (by, at) = (self.context.by, self.context.at);
        let Some(left) = self.left_at(by) else { return };
        let span = card.spans.iter().rfind(|s| s.person == by && s.to == Some(left));
        if let Some(span) = span.filter(|span| span.from <= at && at < left) {
            let (span, from, to) = (span.id, span.from, Some(at));
            self.emit(Event::SpanCorrected { card: card.id, span, from, to });
        }
    }

    fn left_at(&self, person: PersonId) -> Option<Ms> {
        let person = self.state.people.get(&person).filter(|person| person.retired)?;
        Some(person.retired_at.unwrap_or(self.context.at))
    }

    /// Cards that the act may have put into somebody's hands.
    fn handed(&self) -> BTreeSet<CardId> {
        let mut cards = BTreeSet::new();
        for event in &self.events {
            match event {
                Event::Taken { card, .. } | Event::Started { card, .. } => cards.extend([*card]),
                Event::Undone { card, .. } => cards.extend([card.id]),
                Event::StageTakenBack { order, .. } => {
                    cards.extend(self.state.cards_of(*order).map(|card| card.id));
                }
                _ => {}
            }
        }
        cards
    }
}
