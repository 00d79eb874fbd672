//! What happens to hand-offs because of their cards and the vehicle.
//!
//! Invariants: a hand-off is handed back only when all its cards are over; one that joined what others
//! opened is open, and handed back, together with it.

use super::*;

pub(super) fn edit_handoff(
    state: &mut State,
    id: Option<HandoffId>,
    changed: &mut Changed,
    change: impl FnOnce(&mut Handoff),
) {
    if let Some(id) = id {
        edit(&mut state.handoffs, &id, Key::Handoff, changed, change);
    }
}

pub(super) fn settle_handoff(state: &mut State, card: &Card, event: &Event, changed: &mut Changed) {
    if let (Event::CardCancelled { .. }, Some(opens)) = (event, &card.needs.opens) {
        cancel_joined(state, card.order, opens, changed);
    }
    let Some(handoff) = card.handoff.and_then(|id| state.handoffs.get(&id)).cloned() else { return };
    let own = card.department == handoff.to;
    match event {
        Event::Taken { by, at, .. } if own && handoff.taken_at.is_none() => {
            edit_handoff(state, card.handoff, changed, |h| {
                if h.life == HandoffLife::Asked {
                    h.life = HandoffLife::Taken;
                }
                (h.taken_by, h.taken_at) = (Some(*by), Some(*at));
            });
        }
        Event::GivenBack { .. } if handoff.life == HandoffLife::Taken => {
            put_handoff(state, from_cards(state, &handoff), changed);
        }
        Event::Started { at, .. } if own && handoff.started_at.is_none() => {
            edit_handoff(state, card.handoff, changed, |h| {
                if matches!(h.life, HandoffLife::Asked | HandoffLife::Taken) {
                    h.life = HandoffLife::Started;
                }
                h.started_at = Some(*at);
            });
        }
        Event::Finished { at, .. } if is_over(state, &handoff) && !joined_open(state, &handoff) => {
            edit_handoff(state, card.handoff, changed, |h| {
                h.life = HandoffLife::HandedBack;
                h.handed_back_at = Some(*at);
            });
        }
        Event::CardCancelled { .. } if is_over(state, &handoff) => {
            let last_done = cards_of_handoff(state, &handoff).filter_map(|c| c.done_at).max();
            edit_handoff(state, card.handoff, changed, |h| match last_done {
                None => h.life = HandoffLife::Cancelled,
                Some(done) if h.life != HandoffLife::HandedBack => {
                    (h.life, h.handed_back_at) = (HandoffLife::HandedBack, Some(done));
                }
                Some(_) => {}
            });
        }
        _ => {}
    }
}

fn cards_of_handoff<'a>(state: &'a State, handoff: &'a Handoff) -> impl Iterator<Item = &'a Card> {
    handoff.cards.iter().filter_map(|id| state.cards.get(id)).map(|card| &**card)
}

/// Works a hand-off's life out from its cards, after something was given or taken back.
pub(super) fn from_cards(state: &State, before: &Handoff) -> Handoff {
    let mut handoff = before.clone();
    let own = || cards_of_handoff(state, before).filter(|c| c.department == before.to);
    let still_taken = own().any(|c| c.taken_by.is_some() && c.taken_by == before.taken_by);
    let started = own().flat_map(|c| &c.spans).map(|span| span.from).min();
    if started.is_none() {
        handoff.started_at = None;
        if !still_taken {
            let taken = own().filter_map(|c| c.taken_at.zip(c.taken_by)).min();
            (handoff.taken_at, handoff.taken_by) = taken.unzip();
        }
    }
    let opened = before.joined
        || cards_of_handoff(state, before).any(|c| c.needs.opens.is_some() && c.life == Life::Done);
    handoff.opened_at = before.opened_at.filter(|_| opened);
    handoff.handed_back_at = before.handed_back_at.filter(|_| is_over(state, before));
    handoff.life = if handoff.handed_back_at.is_some() {
        HandoffLife::HandedBack
    } else if handoff.opened_at.is_some() {
        HandoffLife::Open
    } else if handoff.started_at.is_some() {
        HandoffLife::Started
    } else if handoff.taken_by.is_some() {
        HandoffLife::Taken
    } else {
        HandoffLife::Asked
    };
    handoff
}

/// Since when the state that a hand-off joined has been open, if it is.
fn joined_since(state: &State, handoff: &Handoff) -> Option<crate::Ms> {
    let order = state.orders.get(&handoff.order).filter(|_| handoff.joined)?;
    order.open.iter().find(|now| joins(state, handoff, &now.open)).map(|now| now.since)
}

fn joined_open(state: &State, handoff: &Handoff) -> bool {
    joined_since(state, handoff).is_some()
}

fn joins(state: &State, handoff: &Handoff, open: &OpenId) -> bool {
    let inside = |id: &CardId| state.cards.get(id).is_some_and(|c| c.needs.inside.as_ref() == Some(open));
    let routing = || state.routings.get(&handoff.routing);
    handoff.for_card.iter().chain(&handoff.cards).any(inside)
        || routing().is_some_and(|r| r.steps.iter().any(|step| step.needs.opens.as_ref() == Some(open)))
}

/// Hand-offs that joined what others opened follow it: open, and handed back, together. Without a time,
/// something was taken back.
pub(super) fn settle_joined(state: &mut State, order: OrderId, at: Option<crate::Ms>, changed: &mut Changed) {
    let joined: Vec<Handoff> = state.handoffs_of(order).filter(|h| h.joined).cloned().collect();
    for handoff in joined {
        let since = joined_since(state, &handoff);
        let open = since.is_some();
        let back = !open && is_over(state, &handoff);
        let mut h = handoff;
        match (h.life, at) {
            (HandoffLife::Cancelled, _) => {}
            (HandoffLife::Asked | HandoffLife::Taken | HandoffLife::Started, Some(at)) if open => {
                (h.life, h.opened_at) = (HandoffLife::Open, Some(at));
            }
            (HandoffLife::Open, Some(at)) if back => {
                (h.life, h.handed_back_at) = (HandoffLife::HandedBack, Some(at));
            }
            (HandoffLife::HandedBack, None) if open => {
                // All of it may have been done before anything was open.
                (h.life, h.handed_back_at, h.opened_at) = (HandoffLife::Open, None, h.opened_at.or(since));
            }
            (HandoffLife::Open, None) if !open => {
                h.opened_at = None;
                h.life = match (h.started_at, h.taken_at) {
                    (Some(_), _) => HandoffLife::Started,
                    (None, Some(_)) => HandoffLife::Taken,
                    (None, None) => HandoffLife::Asked,
                };
            }
            _ => {}
        }
        put_handoff(state, h, changed);
    }
}

/// Nobody will open the state any more: hand-offs that joined it, and have no work of their own left, were
/// asked for in vain.
fn cancel_joined(state: &mut State, order: OrderId, opens: &OpenId, changed: &mut Changed) {
    let open = state.orders.get(&order).is_some_and(|order| open::is_open(order, opens).is_some());
    if open || open::will_open(state, order, opens).next().is_some() {
        return;
    }
    let waits = |h: &&Handoff| {
        h.joined && matches!(h.life, HandoffLife::Asked | HandoffLife::Taken) && joins(state, h, opens)
    };
    let in_vain = state.handoffs_of(order).filter(waits).filter(|h| is_over(state, h));
    let in_vain: Vec<HandoffId> = in_vain.map(|h| h.id).collect();
    for id in in_vain {
        edit_handoff(state, Some(id), changed, |h| h.life = HandoffLife::Cancelled);
    }
}

pub(super) fn put_handoff(state: &mut State, handoff: Handoff, changed: &mut Changed) {
    if state.handoffs.get(&handoff.id).is_some_and(|now| **now != handoff) {
        put(&mut state.handoffs, handoff.id, &handoff, Key::Handoff, changed);
    }
}

fn is_over(state: &State, handoff: &Handoff) -> bool {
    handoff.cards.iter().filter_map(|id| state.cards.get(id)).all(|card| card.life.is_over())
}
