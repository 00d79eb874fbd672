//! A vehicle is driven, becomes ready, or its keys go back: what is left on it is reported once, loudly.
//!
//! Rules: reaching *ready* or *keys back* over anything open, isolated, loose, owed or unanswered is an
//! exception; so is anything of the kind that comes to light while it is ready or gone, whatever act brings it
//! up.

use std::collections::BTreeSet;

use super::*;
use crate::leaving::{self, Left};

impl Work<'_> {
    /// Runs after the act; `before` is the state that the act met.
    pub(super) fn look_at_what_leaves(&mut self, before: &State) {
        for id in self.touched() {
            let Some(order) = self.state.orders.get(&id).cloned() else { continue };
            if !matches!(order.stage, Stage::Ready | Stage::Delivered) {
                continue;
            }
            let mut left = leaving::on_vehicle(&self.state, &order);
            match before.orders.get(&id) {
                Some(was) if !self.reached(id) => {
                    let known = leaving::on_vehicle(before, was);
                    left.retain(|one| !known.contains(one));
                }
                Some(was) => left.extend(leaving::unanswered(before, was)),
                None => {}
            }
            if !left.is_empty() {
                let about = leaving::cards(&self.state, &order, &left);
                self.raise(ExceptionKind::LeftOpen, id, None, about);
            }
        }
    }

    /// What keeps a vehicle from being driven also does so for a road test.
    pub(super) fn look_before_driving(&mut self, order: &Order, card: &Card) {
        if !leaving::drives(card) {
            return;
        }
        // What it is driven for may be to find out whether the alignment is owed.
        let mut left = leaving::on_vehicle(&self.state, order);
        left.retain(|one| !matches!(one, Left::Owed(_)));
        if !left.is_empty() {
            let about = leaving::cards(&self.state, order, &left);
            self.raise(ExceptionKind::LeftOpen, order.id, Some(card.id), about);
        }
    }

    fn reached(&self, id: OrderId) -> bool {
        self.events.iter().any(|event| match event {
            Event::StageReached { order, .. } => *order == id,
            Event::OrderOpened { order } => order.id == id,
            _ => false,
        })
    }

    /// Vehicles touched by this act that may have something left on them.
    fn touched(&self) -> BTreeSet<OrderId> {
        let of_card = |id: &CardId| self.state.cards.get(id).map(|card| card.order);
        let order = |event: &Event| match event {
            Event::OrderOpened { order } => Some(order.id),
            Event::StageReached { order, .. }
            | Event::ConditionChanged { order, .. }
            | Event::EnergyChanged { order, .. }
            | Event::Opened { order, .. } => Some(*order),
            Event::Noted { note } => Some(note.order),
            Event::Undone { card, .. } => Some(card.order),
            // An alignment reported done when it ended may have ended before it was found to be owed.
            Event::CardEdited { card, .. } | Event::SpanCorrected { card, .. } => of_card(card),
            _ => None,
        };
        self.events.iter().filter_map(order).collect()
    }
}
