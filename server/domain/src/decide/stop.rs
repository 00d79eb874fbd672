//! A vehicle is stopped: a total loss, or withdrawn. What was planned for it is cancelled in the same act; what
//! is open is put back, so that it rolls out.
//!
//! Rules: of the undone cards only those stay that close what is open or just being opened, one for each state.
//! Where there is none, one is laid out as the shop's routings close that state, else as it was opened. Work
//! that runs on anything else ends.

use std::collections::{BTreeMap, BTreeSet};

use super::handoff::blank_card;
use super::*;
use crate::open;

impl Work<'_> {
    /// What follows from stopping it.
    pub(super) fn stop(&mut self, order: &Order, reason: Option<&str>) {
        let openers = self.open_by(order);
        let mut kept: BTreeSet<CardId> = BTreeSet::new();
        let mut missing = Vec::new();
        for (state, opener) in &openers {
            match self.put_back_by(order.id, state) {
                Some(closer) => {
                    kept.insert(closer);
                }
                None => missing.extend(self.laid_put_back(order.id, state, opener)),
            }
        }
        let undone: Vec<Card> =
            self.state.cards_of(order.id).filter(|c| !c.life.is_over()).cloned().collect();
        for card in undone.iter().filter(|card| !kept.contains(&card.id)) {
            self.stop_spans(card, PauseWhy::OtherWork);
            self.emit_cancelled(card.id, reason);
        }
        for card in missing {
            self.emit(Event::CardAdded { card });
        }
    }

    /// States that are open or that somebody has begun to open, with the opening card.
    fn open_by(&self, order: &Order) -> BTreeMap<OpenId, CardId> {
        let begun = self.state.cards_of(order.id).filter(|c| !c.life.is_over() && !c.spans.is_empty());
        let begun = begun.filter_map(|c| Some((c.needs.opens.clone()?, c.id)));
        let open = order.open.iter().map(|now| (now.open.clone(), now.by));
        begun.chain(open).collect()
    }

    /// The card that puts it back: somebody who works on one, or holds one, goes on with it.
    fn put_back_by(&self, order: OrderId, state: &OpenId) -> Option<CardId> {
        let closes = |c: &&Card| c.needs.closes.as_ref() == Some(state) && !c.life.is_over();
        let with = |life: Life| self.state.cards_of(order).filter(closes).find(|c| c.life == life);
        let held = [Life::Working, Life::Paused, Life::Taken].into_iter().find_map(with);
        held.or_else(|| open::closer(&self.state, order, state).filter(|c| c.life != Life::Proposed))
            .map(|c| c.id)
    }

    fn laid_put_back(&self, order: OrderId, state: &OpenId, opener: &CardId) -> Option<Card> {
        let opener = self.state.cards.get(opener)?;
        let blank = Card {
            id: CardId(part_of(self.context.op, &format!("put-back/{state}"))),
            order,
            ..blank_card(self.context.at)
        };
        if let Some(step) = self.step_that_closes(state, opener.routing.as_ref()) {
            return Some(Card {
                department: step.department.clone(),
                title: step.title.clone(),
                planned_minutes: step.planned_minutes,
                needs: step.needs.clone(),
                ..blank
            });
        }
        let Needs { equipment, qualification, cautions, .. } = opener.needs.clone();
        let closes = Some(state.clone());
        Some(Card {
            department: opener.department.clone(),
            title: put_back_title(&opener.title),
            planned_minutes: opener.planned_minutes,
            needs: Needs { equipment, closes, qualification, cautions, ..Needs::default() },
            ..blank
        })
    }

    /// From the routing by which it was opened, else from any other, by name.
    fn step_that_closes(&self, state: &OpenId, opened_by: Option<&RoutingId>) -> Option<&Step> {
        let all = || self.state.routings.values().filter(|r| !r.retired);
        let own = all().filter(|r| Some(&r.id) == opened_by);
        let here = |d: &DepartmentId| self.state.departments.get(d).is_some_and(|d| !d.retired);
        own.chain(all())
            .flat_map(|routing| &routing.steps)
            .find(|step| step.needs.closes.as_ref() == Some(state) && here(&step.department))
    }
}

fn put_back_title(opened: &Words) -> Words {
    let with = |what: &str, title: &str| format!("{what}: {title}").chars().take(TITLE_CHARS_MAX).collect();
    Words {
        text: with("Put back", &opened.text),
        es: opened.es.as_ref().map(|es| with("Volver a montar", es)),
    }
}
