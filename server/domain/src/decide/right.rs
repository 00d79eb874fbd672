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
        if to.is_some_and(|to| to < from) || from > self.context.now || to.is_some_and(|to| to > self.context.now) {
            let message = "Work begins before it ends, and not in the future.";
            return Err(Refusal::new(Code::Invalid, message));
        }
        if to.is_none() && own.to.is_some() {
            return Err(Refusal::new(Code::Invalid, "This work has ended; say when."));
        }
        if (own.from, own.to) != (from, to) {
            self.emit(Event::SpanCorrected { card: id, span, from, to });
        }
        Ok(())
    }

    /// Takes back one's own last act on a card, while nothing has built on it.
    pub(super) fn undo(&mut self, op: OpId, id: CardId) -> Decided {
        let card = self.card(id)?;
        let nothing = || Refusal::new(Code::NothingToUndo, "This can no longer be taken back; correct it instead.");
        if card.last_act != Some(op) {
            return Err(nothing());
        }
        let started = depends::successors(&self.state, &card).any(|next| !next.spans.is_empty() || next.life.is_over());
        let (before, by) = before_last_act(&card, op).ok_or_else(nothing)?;
        if by != self.context.by || (card.life == Life::Done && started) {
            return Err(nothing());
        }
        let order_open = self.open_before(&card);
        self.emit(Event::Undone { card: before, order_open });
        // What its finishing made ready is so no longer.
        let later: Vec<CardId> = depends::successors(&self.state, &card).map(|next| next.id).collect();
        for next in later {
            let after = self.state.cards.get(&next).and_then(|c| c.after.iter().find(|l| l.card == id).cloned());
            if let Some(after) = after {
                self.emit(Event::Linked { card: next, after });
            }
        }
        Ok(())
    }

    fn open_before(&self, card: &Card) -> Vec<OpenNow> {
        let mut open = self.state.orders.get(&card.order).map_or_else(Vec::new, |o| o.open.clone());
        if card.life != Life::Done {
            return open;
        }
        open.retain(|now| now.by != card.id);
        let opener = card.needs.closes.as_ref().and_then(|closes| {
            self.state.cards_of(card.order).find(|c| c.needs.opens.as_ref() == Some(closes) && c.life == Life::Done)
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

    pub(super) fn remind(&mut self, about: Reminder, card: Option<CardId>, order: Option<OrderId>) -> Decided {
        if self.context.by != SYSTEM {
            return Err(Refusal::new(Code::Forbidden, "Only the server itself reminds."));
        }
        self.emit(Event::Reminded { about, card, order });
        Ok(())
    }
}

/// The card as it was before its last act, and whose act that was.
fn before_last_act(card: &Card, op: OpId) -> Option<(Card, PersonId)> {
    let mut before = card.clone();
    before.last_act = None;
    match card.life {
        Life::Taken => {
            (before.life, before.taken_by, before.taken_at) = (Life::Waiting, None, None);
            Some((before, card.taken_by?))
        }
        Life::Working => {
            let span = card.spans.iter().find(|s| s.id.0 == op.0)?;
            before.spans.retain(|s| s.id != span.id);
            before.life = match before.spans.last() {
                Some(last) if last.to.is_none() => Life::Working,
                Some(_) => Life::Paused,
                None if card.taken_by.is_some() => Life::Taken,
                None => Life::Waiting,
            };
            Some((before, span.person))
        }
        Life::Paused => {
            let span = before.spans.iter_mut().max_by_key(|s| s.to)?;
            span.to = None;
            let person = span.person;
            (before.life, before.paused_why) = (Life::Working, None);
            Some((before, person))
        }
        Life::Done => {
            let ended = card.done_at;
            before.spans.iter_mut().filter(|s| s.to == ended).for_each(|s| s.to = None);
            let runs = before.spans.iter().any(|s| s.to.is_none());
            before.life = match (runs, before.spans.is_empty(), before.taken_by) {
                (true, _, _) => Life::Working,
                (false, false, _) => Life::Paused,
                (false, true, Some(_)) => Life::Taken,
                (false, true, None) => Life::Waiting,
            };
            (before.done_at, before.done_by) = (None, None);
            before.checks_done.clear();
            Some((before, card.done_by?))
        }
        Life::Waiting | Life::Proposed | Life::Cancelled => None,
    }
}
