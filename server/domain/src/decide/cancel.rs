//! Calling off: a card, and with the card that opens a vehicle all that was asked for inside.
//!
//! Rules: people cancel what they asked for themselves, a planner cancels anything. A card that closes an open
//! vehicle, or is undone inside one, can only be cancelled by a planner, with a reason that is kept and an
//! exception that stands. The asker's own card no longer waits for an opening that will not happen.

use super::handoff::stood_for;
use super::*;
use crate::{calendar, depends, open};

impl Work<'_> {
    pub(super) fn cancel_card(&mut self, id: CardId, reason: Option<&str>) -> Decided {
        let card = self.card(id)?;
        let order = self.order(card.order)?;
        let grave = open::called_off_leaves(&self.state, &order, &card);
        let asked_by = card.handoff.and_then(|h| self.state.handoffs.get(&h)).map(|h| h.asked_by);
        if grave.is_some() && !card.life.is_over() {
            self.answers_for(&card)?;
        } else if asked_by != Some(self.context.by) {
            self.at_least(Role::Planner, "cancel a card that others asked for")?;
        }
        match card.life {
            Life::Cancelled => return Ok(()),
            Life::Done => {
                return Err(Refusal::first(Code::Done, "This is done already.", card.done_by, card.done_at));
            }
            Life::Working => {
                let message = "Somebody is working on this; speak with them first.";
                return Err(Refusal::first(Code::Taken, message, card.taken_by, card.taken_at));
            }
            _ => {}
        }
        let reason = reason.map(str::trim).filter(|reason| !reason.is_empty());
        reason.map_or(Ok(()), |reason| fitting("The reason", reason, NOTE_CHARS_MAX))?;
        if grave.is_some() && reason.is_none() {
            let message = "The vehicle is open, or will be: say why this is called off all the same.";
            return Err(Refusal::new(Code::ReasonNeeded, message));
        }
        self.emit_cancelled(id, reason);
        if let Some(about) = grave {
            self.raise(ExceptionKind::CancelledOpen, order.id, Some(id), about);
        }
        self.call_off_the_rest(&card, reason);
        Ok(())
    }

    /// An ask that only joined another's. What the others asked for stays; the asker's own card no longer
    /// depends on it.
    pub(super) fn call_off(&mut self, id: HandoffId, reason: Option<&str>) -> Decided {
        let Some(handoff) = self.state.handoffs.get(&id).map(|h| (**h).clone()) else {
            return Err(Refusal::new(Code::Unknown, "There is no such ask in this shop."));
        };
        if handoff.asked_by != self.context.by {
            self.at_least(Role::Planner, "call off what others asked for")?;
        }
        let reason = reason.map(str::trim).filter(|reason| !reason.is_empty());
        reason.map_or(Ok(()), |reason| fitting("The reason", reason, NOTE_CHARS_MAX))?;
        match handoff.life {
            HandoffLife::Cancelled => return Ok(()),
            HandoffLife::HandedBack => {
                let message = "This is handed back already.";
                return Err(Refusal::first(Code::Done, message, None, handoff.handed_back_at));
            }
            _ => {}
        }
        let undone = |id: &CardId| self.state.cards.get(id).is_some_and(|card| !card.life.is_over());
        if !handoff.joined || handoff.cards.iter().any(undone) {
            let message = "There are cards of this ask: call those off.";
            return Err(Refusal::new(Code::Invalid, message));
        }
        let (by, at) = (self.context.by, self.context.at);
        self.emit(Event::HandoffCalledOff { handoff: id, by, at, reason: reason.map(str::to_owned) });
        // If it was asked for twice for the same card, the card stays where the other ask put it.
        let same =
            |h: &Handoff| h.for_card == handoff.for_card && h.id != id && h.life != HandoffLife::Cancelled;
        let own = handoff.for_card.and_then(|id| self.state.cards.get(&id)).cloned();
        let (Some(own), false) = (own, self.state.handoffs_of(handoff.order).any(same)) else {
            return Ok(());
        };
        let Some(open) = own.needs.inside.clone() else { return Ok(()) };
        self.let_go(&handoff, Some(&open));
        // What closes no longer waits for it.
        let closers = self.state.cards_of(own.order).filter(|c| {
            let waits = c.after.iter().any(|link| link.card == own.id);
            c.needs.closes.as_ref() == Some(&open) && !c.life.is_over() && waits
        });
        let closers: Vec<CardId> = closers.map(|c| c.id).collect();
        closers.into_iter().for_each(|card| self.emit(Event::Unlinked { card, after: own.id }));
        Ok(())
    }

    pub(super) fn emit_cancelled(&mut self, card: CardId, reason: Option<&str>) {
        let (by, at) = (Some(self.context.by), Some(self.context.at));
        self.emit(Event::CardCancelled { card, by, at, reason: reason.map(str::to_owned) });
    }

    /// A planner; while none is on shift, the people who answer for the department.
    fn answers_for(&self, card: &Card) -> Decided {
        let plans = |p: &&std::sync::Arc<Person>| matches!(p.role, Role::Planner | Role::Manager);
        let (zone, at) = (self.context.zone, self.context.at);
        let on_shift = |p: &std::sync::Arc<Person>| calendar::on_shift(&self.state, p, zone, at);
        let deputy = self
            .state
            .departments
            .get(&card.department)
            .is_some_and(|department| department.deputies.contains(&self.context.by));
        if deputy && !self.state.people.values().filter(plans).any(on_shift) {
            return Ok(());
        }
        self.at_least(Role::Planner, "call off what closes an open vehicle, or is undone inside")
    }

    /// Nothing will be opened: what was asked for together with the opening goes too, unless somebody has begun
    /// it, and the asker's own card waits for none of it.
    fn call_off_the_rest(&mut self, card: &Card, reason: Option<&str>) {
        let Some(handoff) = card.handoff.and_then(|id| self.state.handoffs.get(&id)).cloned() else { return };
        let order = self.state.orders.get(&card.order).cloned();
        let opens = card.needs.opens.clone().filter(|opens| {
            order.is_some_and(|order| open::is_open(&order, opens).is_none())
                && open::will_open(&self.state, card.order, opens).next().is_none()
        });
        if opens.is_some() {
            let follows = |id: &CardId| {
                let unbegun = |c: &Card| !c.life.is_over() && c.spans.is_empty();
                self.state.cards.get(id).is_some_and(|c| unbegun(c))
                    && depends::leads_to(&self.state, card.id, *id)
            };
            let rest: Vec<CardId> = handoff.cards.iter().copied().filter(follows).collect();
            rest.into_iter().for_each(|id| self.emit_cancelled(id, reason));
        }
        let over = handoff
            .cards
            .iter()
            .all(|id| self.state.cards.get(id).is_none_or(|card| card.life == Life::Cancelled));
        if opens.is_some() || over {
            self.let_go(&handoff, opens.as_ref());
        }
        // What had joined the opening, and nothing else, was asked for in vain.
        let joined = |h: &&Handoff| h.joined && h.life == HandoffLife::Cancelled && opens.is_some();
        let in_vain: Vec<Handoff> = self.state.handoffs_of(card.order).filter(joined).cloned().collect();
        for joined in in_vain {
            self.let_go(&joined, opens.as_ref());
        }
    }

    /// Restores the asker's own card to what it was before the ask.
    fn let_go(&mut self, handoff: &Handoff, open: Option<&OpenId>) {
        let own = handoff.for_card.and_then(|id| self.state.cards.get(&id)).cloned();
        let Some(own) = own.filter(|own| !own.life.is_over()) else { return };
        if open.is_some() && own.needs.inside.as_ref() == open {
            let routing = |id: &RoutingId| self.state.routings.get(id).cloned();
            let asked = routing(&handoff.routing);
            let step = asked.as_ref().and_then(|routing| stood_for(routing, &handoff.from, &own));
            let step = step.map(|step| step.needs.clone()).unwrap_or_default();
            // Checks of the card's own routing stay, even if the step had them too.
            let laid = own.routing.as_ref().and_then(routing);
            let laid =
                laid.as_ref().and_then(|r| r.steps.iter().find(|s| Some(&s.step) == own.step.as_ref()));
            let laid = laid.map(|step| step.needs.clone()).unwrap_or_default();
            let mut needs = Needs { inside: None, ..own.needs.clone() };
            needs.checks.retain(|check| !step.checks.contains(check) || laid.checks.contains(check));
            needs.cautions.retain(|one| !step.cautions.contains(one) || laid.cautions.contains(one));
            let change = CardChange { needs: Some(needs), ..CardChange::default() };
            self.emit(Event::CardEdited { card: own.id, change });
        }
        // An ask that joined has no opening card of its own: its link goes to the opening that serves both.
        let opened = |id: &CardId| {
            open.is_some() && self.state.cards.get(id).is_some_and(|c| c.needs.opens.as_ref() == open)
        };
        let asked = |id: &CardId| handoff.cards.contains(id) || opened(id);
        let links: Vec<CardId> = own.after.iter().map(|link| link.card).filter(asked).collect();
        for after in links {
            self.emit(Event::Unlinked { card: own.id, after });
        }
    }
}
