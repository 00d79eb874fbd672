//! What comes before what on one vehicle.
//!
//! Invariant: links never form a cycle; every link joins two cards of one order.

use std::collections::BTreeSet;

use crate::ids::CardId;
use crate::state::State;
use crate::stored::{Card, Life, Link};
use crate::{MINUTE, Ms};

/// Whether `before` would follow, directly or not, from `card`: then "card after before" is a cycle.
pub fn leads_to(state: &State, card: CardId, before: CardId) -> bool {
    let mut seen = BTreeSet::new();
    let mut open = vec![before];
    while let Some(next) = open.pop() {
        if next == card {
            return true;
        }
        if seen.insert(next)
            && let Some(next) = state.cards.get(&next)
        {
            open.extend(next.after.iter().map(|link| link.card));
        }
    }
    false
}

/// Cards that come directly after this one.
pub fn successors<'a>(state: &'a State, card: &'a Card) -> impl Iterator<Item = &'a Card> {
    state.cards_of(card.order).filter(move |next| next.after.iter().any(|link| link.card == card.id))
}

/// Predecessors that are not done (cancelled ones no longer count).
pub fn undone_before(state: &State, card: &Card) -> Vec<CardId> {
    let counts = |id: &CardId| state.cards.get(id).is_some_and(|c| !c.life.is_over());
    card.after.iter().map(|link| link.card).filter(counts).collect()
}

/// Predecessors that keep the card from starting at this time: undone, or still curing.
pub fn early_for(state: &State, card: &Card, at: Ms) -> Vec<CardId> {
    let early = |link: &&Link| {
        state.cards.get(&link.card).is_some_and(|before| match (before.life, before.done_at) {
            (Life::Cancelled, _) => false,
            (Life::Done, Some(done)) => dry_after(done, link) > at,
            _ => true,
        })
    };
    card.after.iter().filter(early).map(|link| link.card).collect()
}

/// Predecessors after which the card begins later than their link allows.
pub fn late_for(state: &State, card: &Card, begun: Ms) -> Vec<CardId> {
    let late = |link: &&Link| {
        let done = state.cards.get(&link.card).filter(|c| c.life == Life::Done).and_then(|c| c.done_at);
        let last = done.zip(link.lag_minutes_max);
        last.is_some_and(|(done, most)| done.saturating_add(Ms::from(most) * MINUTE) < begun)
    };
    card.after.iter().filter(late).map(|link| link.card).collect()
}

fn dry_after(done: Ms, link: &Link) -> Ms {
    done.saturating_add(Ms::from(link.lag_minutes) * MINUTE)
}

/// When the card could start as far as its predecessors go; none while one of them is undone.
pub fn ready_at(state: &State, card: &Card) -> Option<Ms> {
    let mut latest = card.created_at;
    for link in &card.after {
        let Some(before) = state.cards.get(&link.card) else { continue };
        match (before.life, before.done_at) {
            (Life::Cancelled, _) => {}
            (Life::Done, Some(done)) => latest = latest.max(dry_after(done, link)),
            _ => return None,
        }
    }
    Some(latest)
}
