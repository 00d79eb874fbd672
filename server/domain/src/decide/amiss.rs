//! Work on equipment that is out of service, and work begun too late after what comes before it.

use super::*;
use crate::{MINUTE, calendar, depends, open};

impl Work<'_> {
    /// Raised once per card, for the piece that was named or is certain: when work begins, not again when it
    /// ends.
    pub(super) fn raise_for_equipment(&mut self, order: &Order, card: &Card, said: Option<&EquipmentId>) {
        let kind = ExceptionKind::OutOfService;
        let asked = |e: &Exception| e.kind == kind && e.card == Some(card.id) && e.answered_at.is_none();
        let worked_on = || open::worked_on(&self.state, order, card, self.context.at);
        let on = said.cloned().or_else(worked_on).and_then(|id| self.state.equipment.get(&id));
        let out = on.is_some_and(|equipment| calendar::out_of_service(equipment, self.context.at));
        if out && !self.state.exceptions.values().any(|e| asked(e)) {
            self.raise(kind, order.id, Some(card.id), Vec::new());
        }
    }

    /// `begun`: for the first time. Work that goes on after a break was begun before.
    pub(super) fn raise_for_lateness(&mut self, order: &Order, card: &Card, begun: Ms) {
        let late = depends::late_for(&self.state, card, begun);
        if card.spans.is_empty() && !card.life.is_over() && !late.is_empty() {
            self.raise(ExceptionKind::TooLate, order.id, Some(card.id), late);
        }
    }

    /// If only the end was reported, nobody knows when it began: the planned time is assumed.
    pub(super) fn begun_as_planned(&self, card: &Card) -> Ms {
        self.context.at.saturating_sub(Ms::from(card.planned_minutes) * MINUTE)
    }
}
