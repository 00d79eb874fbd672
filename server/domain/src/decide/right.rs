//! Making right: corrections, undo, answers to exceptions. Each is an event of its own.

use super::*;
use crate::depends;

impl Work<'_> {
    pub(super) fn correct(&mut self, id: CardId, span: SpanId, from: Ms, to: Option<Ms>) -> Decided {
        let card = self.card(id)?;
        let Some(own) = card.spans.iter().find(|s| s.id == span) else {
            return Err(Refusal::new(Code::Unknown, "There is no such stretch of work on this card."));
        };
        if own.person != self.context.by {
            self.at_least(Role::Planner, "correct other people's times")?;
        }
        if to.is_some_and(|to| to < from)
            || from > self.context.now
            || to.is_some_and(|to| to > self.context.now)
        {
            let message = "Work begins before it ends, and not in the future.";
            return Err(Refusal::new(Code::Invalid, message));
        }
        self.within_reach("The time at which work began", from)?;
        self.maybe_within_reach("The time at which work ended", to)?;
        let moved = |was: Ms, is: Ms| was.abs_diff(is) > CORRECTED_BY_MAX.unsigned_abs();
        if moved(own.from, from) || own.to.zip(to).is_some_and(|(was, is)| moved(was, is)) {
            return Err(Refusal::new(Code::Invalid, "A time can be corrected by at most seven days."));
        }
        if to.is_none() && own.to.is_some() {
            return Err(Refusal::new(Code::Invalid, "This work has ended; say when."));
        }
        if (own.from, own.to) == (from, to) {
            return Ok(());
        }
        let (person, runs) = (own.person, own.to.is_none());
        if runs && to.is_some() {
            self.emit_paused(id, person, None);
        }
        self.emit(Event::SpanCorrected { card: id, span, from, to });
        self.check_overlap_of(id, span, person);
        Ok(())
    }

    /// Takes back one's own last act on a card, while nothing has built on it.
    pub(super) fn undo(&mut self, op: OpId, id: CardId) -> Decided {
        let card = self.card(id)?;
        let nothing =
            || Refusal::new(Code::NothingToUndo, "This can no longer be taken back; correct it instead.");
        if card.last_act != Some(op) {
            return Err(nothing());
        }
        let (before, by) = self.before_last_act(&card, op).ok_or_else(nothing)?;
        if by != self.context.by || self.built_upon(&card) {
            return Err(nothing());
        }
        let order_open = self.open_before(&card);
        self.emit(Event::Undone { card: before, order_open, was: Some(card.life) });
        self.energy_before(&card);
        if card.life == Life::Working {
            self.resume_what_it_paused(op, id);
        }
        Ok(())
    }

    /// Whether others went on from the finished card: with what comes after it, or inside what it opened.
    fn built_upon(&self, card: &Card) -> bool {
        let inside = |c: &Card| {
            card.needs.opens.is_some()
                && c.needs.inside == card.needs.opens
                && c.spans.iter().any(|s| card.done_at.is_some_and(|done| s.from >= done))
        };
        card.life == Life::Done
            && (depends::successors(&self.state, card)
                .any(|next| !next.spans.is_empty() || next.life.is_over())
                || self.state.cards_of(card.order).any(inside))
    }

    /// Starting had paused the person's other work: that resumes.
    fn resume_what_it_paused(&mut self, op: OpId, started: CardId) {
        let paused = |c: &&Card| c.id != started && c.last_act == Some(op) && c.life == Life::Paused;
        let orders: Vec<OrderId> = self.state.in_shop().map(|order| order.id).collect();
        let cards: Vec<Card> =
            orders.iter().flat_map(|order| self.state.cards_of(*order)).filter(paused).cloned().collect();
        for card in cards {
            if let Some((before, _)) = self.before_last_act(&card, op) {
                let order_open = self.open_before(&card);
                self.emit(Event::Undone { card: before, order_open, was: Some(card.life) });
            }
        }
    }

    /// The card as it was before its last act, and whose act that was.
    fn before_last_act(&self, card: &Card, op: OpId) -> Option<(Card, PersonId)> {
        let mut before = card.clone();
        before.last_act = None;
        match card.life {
            Life::Taken => {
                (before.life, before.taken_by, before.taken_at) = (Life::Waiting, None, None);
                Some((before, card.taken_by?))
            }
            Life::Working => {
                let span = card.spans.iter().find(|s| s.id.0 == op.0 && !s.corrected)?;
                before.spans.retain(|s| s.id != span.id);
                // Starting a card that nobody held had also taken it, at the same moment.
                if before.spans.is_empty()
                    && (card.taken_by, card.taken_at) == (Some(span.person), Some(span.from))
                {
                    (before.taken_by, before.taken_at) = (None, None);
                }
                before.life = life_of(&before);
                // Starting an unapproved card and undoing that does not approve it.
                let early = format!("exception/{:?}/{}", ExceptionKind::DuringHold, card.id);
                let raised = self.state.exceptions.contains_key(&ExceptionId(part_of(op, &early)));
                if before.spans.is_empty() && raised && self.held(card, Blocks::Start).is_none() {
                    before.life = Life::Proposed;
                }
                Some((before, span.person))
            }
            Life::Paused => {
                // Taking paused work is given back, not undone; taken later than paused means that it was
                // taken.
                let span = card.spans.iter().max_by_key(|s| s.to)?;
                let taken_since = card.taken_at.is_some_and(|taken| Some(taken) > span.to);
                if span.corrected || taken_since || self.runs_elsewhere(span.person, card.id) {
                    return None;
                }
                let (id, person) = (span.id, span.person);
                before.spans.iter_mut().filter(|s| s.id == id).for_each(|s| s.to = None);
                (before.life, before.paused_why) = (Life::Working, None);
                Some((before, person))
            }
            Life::Done => {
                let ended = |s: &&mut Span| s.to.is_some() && s.to == card.done_at;
                if before.spans.iter_mut().filter(ended).any(|s| s.corrected) {
                    return None;
                }
                for span in before.spans.iter_mut().filter(ended) {
                    // Somebody who has begun something else since does not work on both.
                    if !self.runs_elsewhere(span.person, card.id) {
                        span.to = None;
                    }
                }
                (before.done_at, before.done_by) = (None, None);
                before.checks_done.clear();
                before.life = life_of(&before);
                Some((before, card.done_by?))
            }
            Life::Waiting | Life::Proposed | Life::Cancelled => None,
        }
    }

    fn runs_elsewhere(&self, person: PersonId, card: CardId) -> bool {
        self.state.running_cards(person).any(|other| other != card)
    }

    fn open_before(&self, card: &Card) -> Vec<OpenNow> {
        let mut open = self.state.orders.get(&card.order).map_or_else(Vec::new, |o| o.open.clone());
        if card.life != Life::Done {
            return open;
        }
        open.retain(|now| now.by != card.id);
        let done = |c: &&Card| c.life == Life::Done && c.id != card.id;
        let opener = card.needs.closes.as_ref().and_then(|closes| {
            let opens = |c: &&Card| c.needs.opens.as_ref() == Some(closes) && c.done_at <= card.done_at;
            self.state.cards_of(card.order).filter(done).filter(opens).max_by_key(|c| c.done_at)
        });
        // Another card had closed it before this one did.
        let opener = opener.filter(|opener| {
            let closes = |c: &Card| c.needs.closes == card.needs.closes && c.done_at >= opener.done_at;
            !self.state.cards_of(card.order).filter(done).any(|c| closes(c) && c.done_at <= card.done_at)
        });
        if let (Some(closes), Some(opener)) = (&card.needs.closes, opener)
            && !open.iter().any(|now| now.open == *closes)
        {
            let since = opener.done_at.unwrap_or(self.context.at);
            open.push(OpenNow { open: closes.clone(), since, by: opener.id, equipment: opener.used.clone() });
        }
        open
    }

    pub(super) fn answer(&mut self, id: ExceptionId, reason: &str) -> Decided {
        let Some(exception) = self.state.exceptions.get(&id).cloned() else {
            return Err(Refusal::new(Code::Unknown, "There is no such exception in this shop."));
        };
        if exception.answered_by.is_some() {
            let message = "Somebody has answered this already.";
            return Err(Refusal::first(Code::Done, message, exception.answered_by, exception.answered_at));
        }
        if exception.owner != Some(self.context.by) {
            self.at_least(Role::Planner, "answer for others")?;
        }
        fitting("The reason", reason, NOTE_CHARS_MAX)?;
        let (by, at) = (self.context.by, self.context.at);
        self.emit(Event::ExceptionAnswered { exception: id, by, at, reason: reason.to_owned() });
        Ok(())
    }

    /// Only the server knows that a photo's bytes have arrived, and what its clock says.
    fn only_system(&self) -> Decided {
        if self.context.by == SYSTEM {
            return Ok(());
        }
        Err(Refusal::new(Code::Forbidden, "Only the server itself says this."))
    }

    pub(super) fn photo_here(&mut self, sha256: &str) -> Decided {
        self.only_system()?;
        if self.state.photos.values().any(|p| p.sha256 == sha256 && !p.here) {
            self.emit(Event::PhotoHere { sha256: sha256.to_owned() });
        }
        Ok(())
    }

    pub(super) fn remind(
        &mut self,
        about: Reminder,
        card: Option<CardId>,
        order: Option<OrderId>,
    ) -> Decided {
        self.only_system()?;
        self.emit(Event::Reminded { about, card, order });
        Ok(())
    }
}

/// The life that follows from a card's spans and holder, if it is neither over nor proposed.
fn life_of(card: &Card) -> Life {
    if card.spans.iter().any(|s| s.to.is_none()) {
        Life::Working
    } else if !card.spans.is_empty() {
        Life::Paused
    } else if card.taken_by.is_some() {
        Life::Taken
    } else {
        Life::Waiting
    }
}
