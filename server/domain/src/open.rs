//! Open states: opened, needed and closed by cards. The state belongs to the vehicle, what is blocked
//! belongs to the place.
//!
//! Invariant: nothing hidden is forgotten: what is undone inside an open state is known before it closes.

use crate::ids::{CardId, EquipmentId, EquipmentKind, OpenId, OrderId};
use crate::state::State;
use crate::stored::{Card, Life, OpenNow, Order};

pub fn is_open<'a>(order: &'a Order, open: &OpenId) -> Option<&'a OpenNow> {
    order.open.iter().find(|now| now.open == *open)
}

/// Cards that need the state and are neither done nor cancelled nor only proposed.
pub fn undone_inside(state: &State, order: OrderId, open: &OpenId) -> Vec<CardId> {
    let undone = |c: &&Card| !c.life.is_over() && c.life != Life::Proposed;
    state
        .cards_of(order)
        .filter(|c| c.needs.inside.as_ref() == Some(open))
        .filter(undone)
        .map(|c| c.id)
        .collect()
}

/// Cards still to come that open the state.
pub fn will_open<'a>(state: &'a State, order: OrderId, open: &'a OpenId) -> impl Iterator<Item = &'a Card> {
    state.cards_of(order).filter(move |c| c.needs.opens.as_ref() == Some(open) && !c.life.is_over())
}

/// The card still to come that closes the state.
pub fn closer<'a>(state: &'a State, order: OrderId, open: &'a OpenId) -> Option<&'a Card> {
    state.cards_of(order).find(|c| c.needs.closes.as_ref() == Some(open) && !c.life.is_over())
}

/// Who is on a piece of equipment: by standing there, by an open state, or by running work.
pub fn occupant(state: &State, equipment: &EquipmentId) -> Option<OrderId> {
    occupants(state, equipment).next()
}

/// Another vehicle than this one that is on the equipment.
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
        // Paused work keeps the equipment only as long as nobody said where the vehicle stands.
        let paused = || {
            place.is_none() && state.cards_of(order.id).any(|card| card.life == Life::Paused && is_used(card))
        };
        worked.contains(&order.id) || stands_there() || held() || paused()
    });
    here.map(|order| order.id)
}

/// The equipment a card is worked on, as far as it is known: where the vehicle is open, else where it
/// stands, else the only free one of its kind. Never a guess between several.
pub fn equipment_for(state: &State, order: &Order, card: &Card) -> Option<EquipmentId> {
    let kind = card.needs.equipment.as_ref()?;
    let of_kind = |id: &EquipmentId| state.equipment.get(id).is_some_and(|e| e.kind == *kind && !e.retired);
    let open_on = order.open.iter().filter_map(|now| now.equipment.clone()).find(|id| of_kind(id));
    let stands_on = || {
        let place = state.places.get(order.condition.place.as_ref()?)?;
        place.equipment.clone().filter(|id| of_kind(id))
    };
    open_on.or_else(stands_on).or_else(|| only_free(state, kind))
}

fn only_free(state: &State, kind: &EquipmentKind) -> Option<EquipmentId> {
    let mut free = state
        .equipment
        .values()
        .filter(|e| e.kind == *kind && !e.retired && occupant(state, &e.id).is_none())
        .map(|e| e.id.clone());
    let first = free.next()?;
    free.next().is_none().then_some(first)
}
