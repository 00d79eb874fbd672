//! Work on cards and what happens to the vehicle: the facts, and taking.

use super::*;
use crate::waiting::Reason;
use crate::{MINUTE, depends, open};

impl Work<'_> {
    pub(super) fn take(&mut self, id: CardId) -> Decided {
        let card = self.card(id)?;
        self.order_here(card.order)?;
        if card.taken_by == Some(self.context.by) && !card.life.is_over() {
            return Ok(());
        }
        self.can_be_taken(&card, self.context.by)?;
        self.emit_taken(id, self.context.by);
        Ok(())
    }

    fn emit_taken(&mut self, card: CardId, by: PersonId) {
        self.emit(Event::Taken { card, by, at: self.context.at, op: self.context.op });
    }

    fn can_be_taken(&self, card: &Card, by: PersonId) -> Decided {
        match card.life {
            Life::Done => {
                return Err(Refusal::first(Code::Done, "This is done already.", card.done_by, card.done_at));
            }
            Life::Cancelled => return Err(Refusal::new(Code::Cancelled, "This card was cancelled.")),
            Life::Proposed => return Err(Refusal::new(Code::NotReady, "This is not approved yet.")),
            _ => {}
        }
        if card.taken_by.is_some_and(|holder| holder != by) {
            let message = "Somebody else has taken this.";
            return Err(Refusal::first(Code::Taken, message, card.taken_by, card.taken_at));
        }
        let undone = depends::undone_before(&self.state, card);
        if let Some(before) = undone.first().and_then(|id| self.state.cards.get(id)) {
            return Err(Refusal::new(Code::NotReady, format!("«{}» must be done first.", before.title.text)));
        }
        if let Some(held) = self.held(card, Blocks::Start) {
            let message = format!("The vehicle is on hold ({}).", hold_word(held.what));
            return Err(Refusal::new(Code::NotReady, message));
        }
        self.may_work(card, by)
    }

    fn may_work(&self, card: &Card, by: PersonId) -> Decided {
        let Some(person) = self.state.people.get(&by) else {
            return Err(Refusal::new(Code::UnknownPerson, "There is no such person in this shop."));
        };
        if person.department != card.department && !person.also.contains(&card.department) {
            let department = self.state.departments.get(&card.department);
            let title = department.map_or(card.department.0.as_str(), |d| d.title.text.as_str());
            return Err(Refusal::new(Code::NotYours, format!("This is work of {title}.")));
        }
        if let Some(needed) = self.lacks(card, by) {
            let message = format!("This needs the qualification «{needed}».");
            return Err(Refusal::new(Code::NotQualified, message));
        }
        Ok(())
    }

    pub(super) fn lacks(&self, card: &Card, by: PersonId) -> Option<Qualification> {
        let needed = card.needs.qualification.as_ref()?;
        (!self.holds(by, needed)).then(|| needed.clone())
    }

    /// A hold that keeps the card from being started, or from being finished.
    pub(super) fn held(&self, card: &Card, blocks: Blocks) -> Option<Hold> {
        let order = self.state.orders.get(&card.order)?;
        let holds = |h: &&Hold| h.blocks == blocks && open::keeps(&self.state, h, card);
        order.holds.iter().filter(holds).min_by_key(|h| Reason::of_hold(h.what)).cloned()
    }

    pub(super) fn give_back(&mut self, id: CardId) -> Decided {
        let card = self.card(id)?;
        match card.taken_by {
            None => return Ok(()),
            Some(holder) if holder != self.context.by => {
                let message = "Only who took it, or a planner, can give it back.";
                self.at_least(Role::Planner, "give back what others took")
                    .map_err(|_| Refusal::first(Code::NotYours, message, card.taken_by, card.taken_at))?;
            }
            Some(_) => {}
        }
        if card.life.is_over() {
            return Err(Refusal::first(Code::Done, "This is done already.", card.done_by, card.done_at));
        }
        if card.life == Life::Working {
            self.stop_spans(&card, PauseWhy::OtherWork);
        }
        self.emit(Event::GivenBack { card: id, from: card.taken_by });
        Ok(())
    }

    pub(super) fn stop_spans(&mut self, card: &Card, why: PauseWhy) {
        let running: Vec<PersonId> = card.spans.iter().filter(|s| s.to.is_none()).map(|s| s.person).collect();
        for by in running {
            self.emit_paused(card.id, by, Some(why));
        }
    }

    pub(super) fn emit_paused(&mut self, card: CardId, by: PersonId, why: Option<PauseWhy>) {
        let (at, op) = (self.context.at, self.context.op);
        let until = self.state.worked_until.get(&by).copied();
        self.emit(Event::Paused { card, by, at, why, op });
        self.check_overlap(card, by, until);
    }

    /// Nobody can have worked on two cards at once. Noticed when work ends, because what was done offline on
    /// another device comes late; `until` is the latest possible end of the person's other work.
    fn check_overlap(&mut self, id: CardId, person: PersonId, until: Option<Ms>) {
        let Some(card) = self.state.cards.get(&id) else { return };
        let Some(span) = card.spans.iter().rfind(|s| s.person == person && s.to.is_some()) else { return };
        let runs = self.state.running_cards(person).any(|other| other != id);
        if runs || until.is_some_and(|until| until > span.from) {
            self.check_overlap_of(id, span.id, person);
        }
    }

    pub(super) fn check_overlap_of(&mut self, id: CardId, span: SpanId, person: PersonId) {
        let Some(card) = self.state.cards.get(&id).cloned() else { return };
        let Some(span) = card.spans.iter().find(|s| s.id == span) else { return };
        let overlaps = |other: &&Span| {
            let (ends, other_ends) = (span.to.unwrap_or(Ms::MAX), other.to.unwrap_or(Ms::MAX));
            other.id != span.id && other.person == person && other.from < ends && span.from < other_ends
        };
        // A clock that is years behind may reach back to where everything is packed.
        let about: Vec<CardId> = self
            .state
            .warmed(span.from)
            .cards
            .values()
            .filter(|c| c.spans.iter().any(|s| overlaps(&s)))
            .map(|c| c.id)
            .collect();
        let said = |other: &CardId| {
            self.state.exceptions.values().any(|e| {
                let both = (e.card == Some(id) && e.about.contains(other))
                    || (e.card == Some(*other) && e.about.contains(&id));
                e.kind == ExceptionKind::TwoAtOnce && e.owner == Some(person) && both && e.since >= span.from
            })
        };
        let about: Vec<CardId> = about.into_iter().filter(|other| !said(other)).collect();
        if !about.is_empty() {
            self.raise_for(Some(person), ExceptionKind::TwoAtOnce, card.order, Some(id), about);
        }
    }

    pub(super) fn help(&mut self, id: CardId) -> Decided {
        let card = self.card(id)?;
        if card.life.is_over() {
            return Err(Refusal::first(Code::Done, "This is done already.", card.done_by, card.done_at));
        }
        if card.taken_by == Some(self.context.by) || card.helpers.contains(&self.context.by) {
            return Ok(());
        }
        self.emit(Event::HelpJoined { card: id, by: self.context.by });
        Ok(())
    }

    pub(super) fn assign(&mut self, id: CardId, to: PersonId) -> Decided {
        self.at_least(Role::Planner, "give work to somebody")?;
        let card = self.card(id)?;
        self.order_here(card.order)?;
        if card.life.is_over() {
            return Err(Refusal::first(Code::Done, "This is done already.", card.done_by, card.done_at));
        }
        if card.life == Life::Proposed {
            return Err(Refusal::new(Code::NotReady, "This is not approved yet."));
        }
        if self.state.people.get(&to).is_some_and(|person| person.retired) {
            return Err(Refusal::new(Code::UnknownPerson, "Whom you give this to has left the shop."));
        }
        self.may_work(&card, to)?;
        if card.taken_by == Some(to) {
            return Ok(());
        }
        if card.taken_by.is_some() {
            self.give_back(id)?;
        }
        self.emit_taken(id, to);
        Ok(())
    }

    pub(super) fn start(&mut self, id: CardId, on: Option<&EquipmentId>) -> Decided {
        let card = self.card(id)?;
        let order = self.order(card.order)?;
        let used = self.used_for(&order, &card, on)?;
        let (by, at) = (self.context.by, self.context.at);
        if card.spans.iter().any(|s| s.person == by && s.to.is_none()) {
            return Ok(());
        }
        self.leave_running_work(&card);
        let early = depends::early_for(&self.state, &card, at);
        if card.life.is_over() || order.stage == Stage::Delivered {
            self.raise(ExceptionKind::AfterEnd, order.id, Some(id), Vec::new());
        } else if !early.is_empty() {
            self.raise(ExceptionKind::StartedEarly, order.id, Some(id), early);
        } else if fold::not_open(&self.state, &card).is_some() {
            self.raise(ExceptionKind::NotOpen, order.id, Some(id), Vec::new());
        }
        self.raise_for_begun(&order, &card, used.as_ref());
        self.raise_for_lateness(&order, &card, at);
        if card.taken_by.is_none() && !card.life.is_over() {
            self.emit_taken(id, by);
        }
        if let Some(used) = &used {
            self.raise_for_lift(&order, Some(id), used);
        }
        if let Some(other) = used.as_ref().and_then(|e| open::other_occupant(&self.state, e, order.id)) {
            let about = self.state.cards_of(other).map(|c| c.id).take(1).collect();
            self.raise(ExceptionKind::Occupied, order.id, Some(id), about);
        }
        let span = SpanId(self.context.op.0);
        self.emit(Event::Started { card: id, span, by, at, uncertain: self.context.uncertain, used });
        Ok(())
    }

    /// What should have kept this person from starting this work.
    fn raise_for_begun(&mut self, order: &Order, card: &Card, on: Option<&EquipmentId>) {
        if card.life == Life::Proposed || self.held(card, Blocks::Start).is_some() {
            self.raise(ExceptionKind::DuringHold, order.id, Some(card.id), Vec::new());
        }
        if self.lacks(card, self.context.by).is_some() {
            self.raise(ExceptionKind::Unqualified, order.id, Some(card.id), Vec::new());
        }
        self.raise_for_equipment(order, card, on);
        if super::energy::is_unsafe(&self.state, order, card) {
            self.raise(ExceptionKind::HighVoltage, order.id, Some(card.id), Vec::new());
        }
        self.look_before_driving(order, card);
    }

    /// A person works on one card at a time: starting another pauses the first, unless the times overlap in a
    /// way that only the person can explain.
    fn leave_running_work(&mut self, card: &Card) {
        let (by, at) = (self.context.by, self.context.at);
        let running: Vec<CardId> = self.state.running_cards(by).filter(|other| *other != card.id).collect();
        let mut at_once = Vec::new();
        for other in running {
            let began = self
                .state
                .cards
                .get(&other)
                .and_then(|c| c.spans.iter().rfind(|s| s.person == by && s.to.is_none()).map(|s| s.from));
            if began.is_some_and(|began| began > at) {
                at_once.push(other);
            } else {
                self.emit_paused(other, by, Some(PauseWhy::OtherWork));
            }
        }
        if !at_once.is_empty() {
            self.raise(ExceptionKind::TwoAtOnce, card.order, Some(card.id), at_once);
        }
    }

    pub(super) fn pause(&mut self, id: CardId, why: Option<PauseWhy>) -> Decided {
        let card = self.card(id)?;
        let by = self.context.by;
        if card.spans.iter().any(|s| s.person == by && s.to.is_none()) {
            self.emit_paused(id, by, why);
        }
        self.ended_before_leaving(&card);
        Ok(())
    }

    pub(super) fn finish(&mut self, id: CardId, checks: &[u32], wet_minutes: Option<u32>) -> Decided {
        let card = self.card(id)?;
        let order = self.order(card.order)?;
        let (by, at, op) = (self.context.by, self.context.at, self.context.op);
        if card.life.is_over() {
            let runs = card.spans.iter().any(|s| s.to.is_none());
            if card.life == Life::Done && card.done_by == Some(by) && !runs {
                return Ok(());
            }
            self.raise(ExceptionKind::AfterEnd, order.id, Some(id), Vec::new());
        } else {
            let undone = depends::undone_before(&self.state, &card);
            let undone_none = undone.is_empty();
            if !undone_none {
                self.raise(ExceptionKind::FinishedEarly, order.id, Some(id), undone);
            }
            if card.taken_by.is_some_and(|holder| holder != by) && !card.helpers.contains(&by) {
                self.raise(ExceptionKind::DoneByAnother, order.id, Some(id), Vec::new());
            }
            if self.held(&card, Blocks::Finish).is_some() {
                self.raise(ExceptionKind::DuringHold, order.id, Some(id), Vec::new());
            }
            // Somebody who only reports the end also started it.
            if card.spans.is_empty() {
                if undone_none && fold::not_open(&self.state, &card).is_some() {
                    self.raise(ExceptionKind::NotOpen, order.id, Some(id), Vec::new());
                }
                self.raise_for_begun(&order, &card, None);
                self.raise_for_lateness(&order, &card, self.begun_as_planned(&card));
            } else {
                self.raise_for_equipment(&order, &card, None);
            }
        }
        let running: Vec<(PersonId, Option<Ms>)> = card
            .spans
            .iter()
            .filter(|s| s.to.is_none())
            .map(|s| (s.person, self.state.worked_until.get(&s.person).copied()))
            .collect();
        self.ended_before_leaving(&card);
        let wet_until = wet_minutes.map(|minutes| at + Ms::from(minutes.min(LAG_MINUTES_MAX)) * MINUTE);
        self.emit(Event::Finished { card: id, by, at, checks: checks.to_vec(), wet_until, op });
        for (person, until) in running {
            self.check_overlap(id, person, until);
        }
        if !card.life.is_over() {
            self.open_or_close(&order, &card);
            self.energy_after(&card);
        }
        Ok(())
    }

    fn open_or_close(&mut self, order: &Order, card: &Card) {
        let at = self.context.at;
        if let Some(opens) = &card.needs.opens
            && open::is_open(order, opens).is_none()
        {
            let equipment = card.used.clone().or_else(|| open::equipment_for(&self.state, order, card, at));
            self.emit(Event::Opened { order: order.id, open: opens.clone(), card: card.id, equipment, at });
        }
        if let Some(closes) = &card.needs.closes {
            let undone = open::undone_inside(&self.state, order.id, closes);
            if !undone.is_empty() {
                self.raise(ExceptionKind::ClosedOverUndone, order.id, Some(card.id), undone);
            }
            if open::is_open(order, closes).is_some() {
                self.emit(Event::Closed { order: order.id, open: closes.clone(), card: card.id, at });
            }
        }
    }

    pub(super) fn note(&mut self, order: OrderId, card: Option<CardId>, body: &str) -> Decided {
        self.add_note(order, card, None, body)
    }

    pub(super) fn found(
        &mut self,
        order: OrderId,
        card: Option<CardId>,
        what: Found,
        note: Option<&str>,
    ) -> Decided {
        self.add_note(order, card, Some(what), note.unwrap_or_default().trim())
    }

    fn add_note(
        &mut self,
        order: OrderId,
        card: Option<CardId>,
        found: Option<Found>,
        body: &str,
    ) -> Decided {
        self.order(order)?;
        let card = self.on_this_order(order, card)?;
        if found.is_none() || !body.is_empty() {
            fitting("The note", body, NOTE_CHARS_MAX)?;
        }
        let id = NoteId(self.context.op.0);
        let note =
            Note { id, order, card, by: self.context.by, at: self.context.at, found, body: body.to_owned() };
        self.emit(Event::Noted { note });
        Ok(())
    }

    /// A report about a card that was never laid out, because the routing had changed or the ask was refused,
    /// is kept on the vehicle.
    pub(super) fn on_this_order(
        &self,
        order: OrderId,
        card: Option<CardId>,
    ) -> Result<Option<CardId>, Refusal> {
        let Some(known) = card.and_then(|id| self.state.cards.get(&id)) else { return Ok(None) };
        if known.order != order {
            return Err(Refusal::new(Code::UnknownCard, "That card belongs to another vehicle."));
        }
        Ok(card)
    }

    pub(super) fn moved(&mut self, id: OrderId, to: &PlaceId, on: Option<StandsOn>) -> Decided {
        let order = self.order(id)?;
        let Some(place) = self.state.places.get(to).cloned() else {
            return Err(Refusal::new(Code::UnknownPlace, format!("There is no place «{to}» in this shop.")));
        };
        if order.condition.place.as_ref() == Some(to) && (on.is_none() || order.condition.on == on) {
            return Ok(());
        }
        let leaves = order.open.iter().any(|now| now.equipment.is_some() && now.equipment != place.equipment);
        if leaves {
            let about = order.open.iter().map(|now| now.by).collect();
            self.raise(ExceptionKind::MovedOpen, id, None, about);
        }
        let taken = place.equipment.as_ref().and_then(|e| open::other_occupant(&self.state, e, id));
        if taken.is_some() {
            self.raise(ExceptionKind::Occupied, id, None, Vec::new());
        }
        if let Some(onto) = &place.equipment {
            self.raise_for_lift(&order, None, onto);
        }
        self.emit(Event::Moved { order: id, to: to.clone(), on, at: self.context.at, by: self.context.by });
        Ok(())
    }

    pub(super) fn condition(&mut self, id: OrderId, change: &ConditionChange) -> Decided {
        let order = self.order(id)?;
        check_condition(change)?;
        let change = &self.condition_within_reach(change);
        let mut after = order.condition.clone();
        fold::apply_condition_change(&mut after, change);
        if after != order.condition {
            self.emit(Event::ConditionChanged { order: id, change: change.clone() });
        }
        Ok(())
    }
}

pub(super) fn check_condition(change: &ConditionChange) -> Decided {
    for (what, text) in [("Where the keys are", &change.keys), ("Where the bolts are", &change.bolts)] {
        if let Some(text) = text {
            fitting(what, text, TITLE_CHARS_MAX)?;
        }
    }
    Ok(())
}

fn hold_word(what: HoldKind) -> &'static str {
    match what {
        HoldKind::Approval => "waiting for approval",
        HoldKind::Parts => "waiting for parts",
        HoldKind::Customer => "waiting for the customer",
        HoldKind::Sublet => "at a sublet",
        HoldKind::Other => "other reason",
    }
}
