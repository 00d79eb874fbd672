//! Open states: opened, needed and closed by cards. The state belongs to the vehicle, what is blocked
//! belongs to the place.
//!
//! Invariant: nothing hidden is forgotten. What is undone inside an open state is known before the state
//! closes, unless the state will be opened again for it.

use crate::Ms;
use crate::depends;
use crate::ids::{CardId, EquipmentId, EquipmentKind, OpenId, OrderId};
use crate::state::State;
use crate::stored::{Absence, AddCard, Card, Equipment, Hold, Life, Link, Needs, OpenNow, Order, Stage};

/// In what way a vehicle is open, if it is in this one.
pub fn is_open<'a>(order: &'a Order, open: &OpenId) -> Option<&'a OpenNow> {
    order.open.iter().find(|now| now.open == *open)
}

/// Cards that need the state, are still to be done and approved, and for which it will not be opened again.
pub fn undone_inside(state: &State, order: OrderId, open: &OpenId) -> Vec<CardId> {
    let undone = |c: &&Card| !c.life.is_over() && c.life != Life::Proposed;
    let again: Vec<CardId> = match state.orders.get(&order).and_then(|order| is_open(order, open)) {
        Some(now) => will_open(state, order, open).map(|c| c.id).filter(|id| *id != now.by).collect(),
        None => Vec::new(),
    };
    state
        .cards_of(order)
        .filter(|c| c.needs.inside.as_ref() == Some(open))
        .filter(undone)
        .filter(|c| !again.iter().any(|opener| depends::leads_to(state, *opener, c.id)))
        .map(|c| c.id)
        .collect()
}

/// Cards that will still open the state.
pub fn will_open<'a>(state: &'a State, order: OrderId, open: &'a OpenId) -> impl Iterator<Item = &'a Card> {
    state.cards_of(order).filter(move |c| c.needs.opens.as_ref() == Some(open) && !c.life.is_over())
}

/// The card that will close the state; if there are several, because it may be closed meanwhile, the last one.
pub fn closer<'a>(state: &'a State, order: OrderId, open: &'a OpenId) -> Option<&'a Card> {
    let closes = |c: &&Card| c.needs.closes.as_ref() == Some(open) && !c.life.is_over();
    let all: Vec<&Card> = state.cards_of(order).filter(closes).collect();
    let last =
        |c: &Card| all.iter().all(|other| other.id == c.id || !depends::leads_to(state, c.id, other.id));
    all.iter().copied().find(|c| last(c))
}

/// What cancelling the card would leave behind, none if nothing: an opening without a closing, undone work
/// inside, or other people's work for which it would not be opened.
pub fn called_off_leaves(state: &State, order: &Order, card: &Card) -> Option<Vec<CardId>> {
    let others = || state.cards_of(order.id).filter(|c| c.id != card.id && !c.life.is_over());
    if let Some(closes) = &card.needs.closes {
        let openings = is_open(order, closes).iter().count()
            + others().filter(|c| c.needs.opens.as_ref() == Some(closes)).count();
        let closings = others().filter(|c| c.needs.closes.as_ref() == Some(closes)).count();
        if openings > closings {
            let now = is_open(order, closes).map(|now| now.by);
            let to_come = will_open(state, order.id, closes).map(|c| c.id).filter(|id| *id != card.id);
            return Some(now.into_iter().chain(to_come).collect());
        }
    }
    let inside = card.needs.inside.as_ref().and_then(|inside| is_open(order, inside));
    if let Some(now) = inside.filter(|_| !card.life.is_over() && card.life != Life::Proposed) {
        return Some(vec![now.by]);
    }
    let opens = card.needs.opens.as_ref()?;
    if is_open(order, opens).is_some() || others().any(|c| c.needs.opens.as_ref() == Some(opens)) {
        return None;
    }
    let handoff = card.handoff.and_then(|id| state.handoffs.get(&id));
    // Cards that were laid out or asked for together count as one.
    let own = |c: &Card| {
        handoff.is_some_and(|h| h.for_card == Some(c.id))
            || (card.routing.is_some() && (&c.routing, c.handoff) == (&card.routing, card.handoff))
    };
    let waits = |c: &&Card| c.needs.inside.as_ref() == Some(opens) && !own(c);
    let waiting: Vec<CardId> = others().filter(waits).map(|c| c.id).collect();
    (!waiting.is_empty()).then_some(waiting)
}

/// The two cards of closing a vehicle up so that it rolls, while what is undone inside waits for something.
#[derive(Debug, Clone, PartialEq)]
pub struct CloseUp {
    /// Closes the vehicle so that it rolls.
    pub close: AddCard,
    /// Comes after the closing, and before everything undone inside; its link to the closing is the caller's.
    pub reopen: AddCard,
}

/// None if it is not open, no card will close it, nothing is undone inside, or somebody works there now.
pub fn close_up(state: &State, order: &Order, open: &OpenId) -> Option<CloseUp> {
    let now = is_open(order, open)?;
    let closer = closer(state, order.id, open)?;
    let opener = state.cards.get(&now.by)?;
    let inside = undone_inside(state, order.id, open);
    let working = |id: &CardId| state.cards.get(id).is_some_and(|c| c.life == Life::Working);
    if inside.is_empty() || inside.iter().chain([&closer.id]).any(working) {
        return None;
    }
    let again = |card: &Card, needs: Needs, before: Vec<CardId>| AddCard {
        order: order.id,
        department: card.department.clone(),
        title: card.title.clone(),
        planned_minutes: card.planned_minutes,
        sold_minutes: None,
        after: Vec::new(),
        before,
        proposed: false,
        needs,
    };
    let mut before = inside;
    before.push(closer.id);
    Some(CloseUp {
        close: again(closer, Needs { opens: None, inside: None, ..closer.needs.clone() }, Vec::new()),
        reopen: again(opener, Needs { inside: None, closes: None, ..opener.needs.clone() }, before),
    })
}

impl CloseUp {
    /// The opening again, once the closing is a card.
    pub fn reopen_after(self, close: CardId) -> AddCard {
        AddCard { after: vec![Link { card: close, lag_minutes: 0, lag_minutes_max: None }], ..self.reopen }
    }
}

/// A closing after which it is opened again: the vehicle rolls meanwhile.
fn is_meanwhile(state: &State, card: &Card) -> bool {
    let again = |opener: &Card| !opener.life.is_over();
    opened_after(state, card, again)
}

/// The same for a closing in the past, whatever has been done since: as long as it was still to come, the card
/// that opens the state again was too.
pub(crate) fn was_meanwhile(state: &State, card: &Card) -> bool {
    opened_after(state, card, |opener| opener.life != Life::Cancelled)
}

fn opened_after(state: &State, card: &Card, counts: impl Fn(&Card) -> bool) -> bool {
    let Some(closes) = &card.needs.closes else { return false };
    let opens = |c: &&Card| c.needs.opens.as_ref() == Some(closes) && counts(c);
    state.cards_of(card.order).filter(opens).any(|opener| depends::leads_to(state, card.id, opener.id))
}

/// Whether the hold keeps the card. A vehicle that waits as a whole may still be closed meanwhile, so that it
/// rolls and leaves the lift; a stopped one waits for nothing as a whole, and is put back.
pub fn keeps(state: &State, hold: &Hold, card: &Card) -> bool {
    let about = match hold.cards.is_empty() {
        true => !is_meanwhile(state, card) && !is_stopped(state, card.order),
        false => hold.cards.contains(&card.id),
    };
    hold.ended.is_none() && about
}

fn is_stopped(state: &State, order: OrderId) -> bool {
    state.orders.get(&order).is_some_and(|order| order.stage == Stage::Stopped)
}

/// Who is on a piece of equipment: by standing there, by an open state, or by running work.
pub fn occupant(state: &State, equipment: &EquipmentId) -> Option<OrderId> {
    occupants(state, equipment).next()
}

/// Another vehicle that is on the equipment.
pub fn other_occupant(state: &State, equipment: &EquipmentId, order: OrderId) -> Option<OrderId> {
    occupants(state, equipment).find(|other| *other != order)
}

fn occupants<'a>(state: &'a State, equipment: &'a EquipmentId) -> impl Iterator<Item = OrderId> + 'a {
    let is_used = |card: &Card| card.used.as_ref() == Some(equipment);
    let running = state.running.values().flatten().filter_map(|id| state.cards.get(id));
    let worked: Vec<OrderId> =
        running.filter(|c| c.life == Life::Working && is_used(c)).map(|card| card.order).collect();
    let here = state.in_shop().filter(move |order| {
        let place = order.condition.place.as_ref();
        let stands_there = || {
            place
                .and_then(|place| state.places.get(place)?.equipment.as_ref())
                .is_some_and(|at| at == equipment)
        };
        let held = || order.open.iter().any(|now| now.equipment.as_ref() == Some(equipment));
        // Paused work occupies the equipment only until somebody reports the vehicle elsewhere.
        let paused = || {
            place.is_none() && state.cards_of(order.id).any(|card| card.life == Life::Paused && is_used(card))
        };
        worked.contains(&order.id) || stands_there() || held() || paused()
    });
    here.map(|order| order.id)
}

/// The absence that keeps the equipment out of service at this moment.
pub fn out_of_service(equipment: &Equipment, at: Ms) -> Option<&Absence> {
    equipment.out_of_service.iter().find(|absence| absence.from <= at && at < absence.to)
}

/// The equipment a card is worked on, as far as it is known: where the vehicle is open, else where it
/// stands, else the only free one of its kind that is in service. Never a guess between several.
pub fn equipment_for(state: &State, order: &Order, card: &Card, at: Ms) -> Option<EquipmentId> {
    let kind = card.needs.equipment.as_ref()?;
    let of_kind = |id: &EquipmentId| state.equipment.get(id).is_some_and(|e| e.kind == *kind && !e.retired);
    let open_on = order.open.iter().filter_map(|now| now.equipment.clone()).find(|id| of_kind(id));
    let stands_on = || {
        let place = state.places.get(order.condition.place.as_ref()?)?;
        place.equipment.clone().filter(|id| of_kind(id))
    };
    open_on.or_else(stands_on).or_else(|| only_free(state, kind, at))
}

/// The equipment a card is worked on, whether fit for use or not: what it began on, where the vehicle is open
/// or stands, else the only one of its kind.
pub fn worked_on(state: &State, order: &Order, card: &Card, at: Ms) -> Option<EquipmentId> {
    let inside = || is_open(order, card.needs.inside.as_ref()?)?.equipment.clone();
    let Some(kind) = card.needs.equipment.as_ref() else { return inside() };
    let of_kind = |id: &EquipmentId| state.equipment.get(id).is_some_and(|e| e.kind == *kind);
    let began_on = card.used.clone().filter(|_| card.spans.iter().any(|span| span.to.is_none()));
    let open_on = || order.open.iter().filter_map(|now| now.equipment.clone()).find(|id| of_kind(id));
    let stands_on = || {
        let place = state.places.get(order.condition.place.as_ref()?)?;
        place.equipment.clone().filter(|id| of_kind(id))
    };
    began_on.or_else(open_on).or_else(stands_on).or_else(|| equipment_for(state, order, card, at))
}

/// Of those in service; if there are none, of all.
fn only_free(state: &State, kind: &EquipmentKind, at: Ms) -> Option<EquipmentId> {
    let of_kind = |e: &&std::sync::Arc<Equipment>| e.kind == *kind && !e.retired;
    let free = || state.equipment.values().filter(of_kind).filter(|e| occupant(state, &e.id).is_none());
    let only = |mut free: Vec<EquipmentId>| if free.len() == 1 { free.pop() } else { None };
    let fit: Vec<EquipmentId> =
        free().filter(|e| out_of_service(e, at).is_none()).map(|e| e.id.clone()).collect();
    if fit.is_empty() { only(free().map(|e| e.id.clone()).collect()) } else { only(fit) }
}
