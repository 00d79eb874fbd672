//! Sold hours of people, for pay, and everybody's own figures. Figures of others are not computed here.
//!
//! Invariants: what was sold on a card is shared by the hours clocked on it, what was sold on an order
//! and on none of its cards by the hours clocked on the order; the shares add up to what was sold; a sold
//! hour is nobody's before it is done (the card, or the order's keys back).

use std::collections::BTreeMap;

use super::cases::{Sums, length};
use super::visit::Visit;
use super::{Clock, HOUR, Measure, Unit};
use crate::ids::*;
use crate::state::State;
use crate::stored::*;
use crate::{MINUTE, Ms};

/// One person's part of what was sold, on one card or on a whole order.
#[derive(Debug, Clone, PartialEq)]
pub struct SoldShare {
    /// The order on which it was sold.
    pub order: OrderId,
    /// The card on which it was sold; none: on the order as a whole.
    pub card: Option<CardId>,
    /// Whose share it is.
    pub person: PersonId,
    /// When it counts as done, UTC ms: the card done, or the order's keys back.
    pub done_at: Ms,
    /// Milliseconds this person clocked there.
    pub clocked: Ms,
    /// Milliseconds everybody clocked there.
    pub clocked_by_all: Ms,
    /// Minutes of labour sold there, for all of them together.
    pub sold_minutes: u32,
}

impl SoldShare {
    /// This person's share of the sold minutes, by clocked time.
    pub fn minutes(&self) -> f64 {
        f64::from(self.sold_minutes) * self.clocked as f64 / self.clocked_by_all as f64
    }
}

/// Everybody's part of everything that was sold and is done.
pub fn sold_shares(state: &State, now: Ms) -> Vec<SoldShare> {
    shares(&state.warmed(Ms::MIN), now)
}

fn shares(state: &State, now: Ms) -> Vec<SoldShare> {
    let mut found = Vec::new();
    for order in state.orders.values() {
        let mut all: BTreeMap<PersonId, Ms> = BTreeMap::new();
        let mut on_cards = false;
        for card in state.cards_of(order.id) {
            let clocked = clocked(card, now);
            clocked.iter().for_each(|(person, time)| *all.entry(*person).or_default() += time);
            let Some(sold) = card.sold_minutes.filter(|sold| *sold > 0) else { continue };
            on_cards = true;
            if let (Life::Done, Some(done_at)) = (card.life, card.done_at) {
                share(&mut found, order.id, Some(card.id), done_at, sold, &clocked);
            }
        }
        if let (Some(sold), Some(left), false) =
            (order.sold_minutes.filter(|sold| *sold > 0), Visit::new(state, order).left, on_cards)
        {
            share(&mut found, order.id, None, left, sold, &all);
        }
    }
    found
}

fn clocked(card: &Card, now: Ms) -> BTreeMap<PersonId, Ms> {
    let mut by = BTreeMap::new();
    for span in &card.spans {
        *by.entry(span.person).or_insert(0) += length(span.from.max(0), span.to.unwrap_or(now).min(now));
    }
    by
}

fn share(
    found: &mut Vec<SoldShare>,
    order: OrderId,
    card: Option<CardId>,
    done_at: Ms,
    sold_minutes: u32,
    clocked: &BTreeMap<PersonId, Ms>,
) {
    let clocked_by_all = clocked.values().sum();
    for (person, clocked) in clocked.iter().filter(|(_, clocked)| **clocked > 0) {
        let (person, clocked) = (*person, *clocked);
        found.push(SoldShare { order, card, person, done_at, clocked, clocked_by_all, sold_minutes });
    }
}

/// One person's own figures over `[from, to)`: clocked hours by department, and the sold hours earned.
pub fn own(state: &State, person: PersonId, from: Ms, to: Ms, now: Ms) -> Vec<Measure> {
    let to = to.min(now);
    let state = &state.warmed(from);
    let mut hours = Sums::default();
    for card in state.cards.values() {
        for span in card.spans.iter().filter(|span| span.person == person) {
            let (a, b) = (span.from.max(from).max(0), span.to.unwrap_or(now).min(to));
            if a < b {
                hours.add(&[&card.department.0], b - a);
            }
        }
    }
    let mut sold = Sums::default();
    for share in shares(state, now) {
        if share.person == person && (from..to).contains(&share.done_at) {
            sold.add(&[], (share.minutes() * MINUTE as f64).round() as Ms);
        }
    }
    vec![hours.hours("own_clocked", Clock::None), sold.measure("own_sold", Unit::Hours, Clock::None, HOUR)]
}
