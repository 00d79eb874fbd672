//! What came back, and what was done twice before it left: two numbers that are never added.
//!
//! Invariant: a month is judged only when each of its visits has had its ninety days.

use std::collections::{BTreeMap, BTreeSet};

use super::cases::{Cases, Sums};
use super::visit::Visit;
use super::{Clock, DAY_MS, Measure, Unit, View};
use crate::Ms;
use crate::calendar::local_date;
use crate::ids::OrderId;
use crate::stored::*;

/// For this long after keys back a vehicle can still come back.
pub(super) const MATURE: Ms = 90 * DAY_MS;

impl View<'_> {
    /// Of the vehicles whose ninety days after keys back ended inside the stretch: how many came back, by month
    /// of delivery and by the department of the card that caused it.
    pub(super) fn comebacks(&self) -> [Measure; 2] {
        let came_back = self.came_back();
        let (mut share, mut caused) = (Cases::default(), Sums::default());
        for visit in self.matured() {
            let Some(left) = visit.left.filter(|_| visit.stopped.is_none() && self.wants_visit(&visit))
            else {
                continue;
            };
            let date = local_date(left, self.zone);
            let month = format!("{:04}-{:02}", date.year(), date.month());
            let back: Vec<&Card> = came_back
                .get(&visit.order.id)
                .into_iter()
                .flatten()
                .filter(|(at, _)| (left..left.saturating_add(MATURE)).contains(at))
                .map(|(_, card)| *card)
                .collect();
            share.add(&[&month], if back.is_empty() { 0.0 } else { 1.0 });
            for card in back {
                caused.add(&[&card.department.0], 1);
            }
        }
        [share.means("comebacks", Unit::Share, Clock::None), caused.vehicles("comebacks_caused")]
    }

    /// Visits whose ninety days ended inside the stretch.
    fn matured(&self) -> impl Iterator<Item = Visit<'_>> {
        let ended = |order: &&Order| {
            let last = order.stages.iter().rfind(|s| s.stage == Stage::Delivered);
            order.stage == Stage::Delivered && last.is_some_and(|s| self.inside(s.at.saturating_add(MATURE)))
        };
        let orders = self.state.orders.values().map(|order| &**order);
        orders.filter(ended).map(|order| Visit::new(self.state, order))
    }

    /// When vehicles came back, and for which card.
    fn came_back(&self) -> BTreeMap<OrderId, Vec<(Ms, &Card)>> {
        let mut found: BTreeMap<OrderId, Vec<(Ms, &Card)>> = BTreeMap::new();
        for order in self.state.orders.values() {
            let Some(card) = order.comeback_of.and_then(|id| self.state.cards.get(&id)) else { continue };
            let came = order.stages.iter().find(|s| s.stage == Stage::Arrived).map(|s| s.at);
            found.entry(card.order).or_default().push((came.unwrap_or(order.created_at), card));
        }
        found
    }

    /// Work done once and laid out again on the same visit: the same step of the same routing, after it had
    /// been finished. Round trips that were asked for may be needed twice and do not count.
    pub(super) fn rework(&self) -> [Measure; 2] {
        let (mut share, mut clocked) = (Cases::default(), Sums::default());
        for (visit, _) in self.delivered() {
            let first = visit.cards.iter().filter_map(|c| c.done_at).min();
            if first.is_none_or(|first| visit.cards.iter().all(|c| c.created_at < first)) {
                // Everything was laid out before any of it was done.
                share.add(&visit.keys(), 0.0);
                continue;
            }
            let mut done: BTreeMap<_, Ms> = BTreeMap::new();
            let counts = |c: &&Card| c.handoff.is_none() && c.life != Life::Cancelled;
            let mut cards: Vec<&Card> = visit.cards.iter().copied().filter(counts).collect();
            cards.sort_by_key(|c| c.created_at);
            let mut departments = BTreeSet::new();
            for card in cards {
                let (Some(routing), Some(step)) = (&card.routing, &card.step) else { continue };
                let before = done.get(&(routing, step));
                if before.is_some_and(|before| *before <= card.created_at) {
                    departments.insert(&card.department);
                    clocked.add(&[&card.department.0], self.clocked_on(card));
                }
                if let Some(at) = card.done_at {
                    done.entry((routing, step)).and_modify(|d| *d = at.min(*d)).or_insert(at);
                }
            }
            share.add(&visit.keys(), if departments.is_empty() { 0.0 } else { 1.0 });
        }
        [share.means("rework", Unit::Share, Clock::None), clocked.hours("rework_clocked", Clock::None)]
    }
}
