//! Events make state. Nothing else does.
//!
//! Invariants: folding never fails and never judges (rules may change, history may not): an event about
//! something unknown changes nothing; every changed document is named, so that phones get exactly those.

mod erased;
mod handoffs;

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::Ms;
use crate::depends;
use crate::ids::*;
use crate::open;
use crate::state::{ClientMark, Docs, Key, State};
use crate::stored::*;
use handoffs::{edit_handoff, from_cards, put_handoff, settle_handoff, settle_joined};

/// Documents that a batch of events changed.
pub type Changed = BTreeSet<Key>;

/// Everything one log entry does to the state.
pub fn entry(state: &mut State, entry: &Entry) -> Changed {
    let mut changed = Changed::new();
    state.warm_named(&entry.events);
    for event in &entry.events {
        fold(state, event, &mut changed);
    }
    let mark = ClientMark { person: entry.by, last_n: entry.n, last_act_at: entry.act_at };
    state.clients.insert(entry.client, mark);
    changed
}

/// Applies one event to the state and adds the keys of the documents it changed to `changed`.
pub fn fold(state: &mut State, event: &Event, changed: &mut Changed) {
    match event {
        Event::ShopSet { shop } => {
            state.shop = Some(Arc::new(shop.clone()));
            changed.insert(Key::Shop);
        }
        Event::DepartmentSet { department: d } => {
            put(&mut state.departments, d.id.clone(), d, Key::Department, changed);
        }
        Event::PersonSet { person: p } => put(&mut state.people, p.id, p, Key::Person, changed),
        Event::PersonErased { person, at } => erased::person(state, *person, *at, changed),
        Event::EquipmentSet { equipment: e } => {
            put(&mut state.equipment, e.id.clone(), e, Key::Equipment, changed)
        }
        Event::EquipmentOut { equipment, absence } => {
            edit(&mut state.equipment, equipment, Key::Equipment, changed, |e| {
                e.out_of_service.push(absence.clone());
            });
        }
        Event::EquipmentBack { equipment, at } => {
            edit(&mut state.equipment, equipment, Key::Equipment, changed, |e| {
                e.out_of_service.iter_mut().filter(|a| a.from <= *at && *at < a.to).for_each(|a| a.to = *at);
                e.out_of_service.retain(|a| a.from < a.to);
            });
        }
        Event::PlaceSet { place: p } => put(&mut state.places, p.id.clone(), p, Key::Place, changed),
        Event::CalendarSet { calendar: c } => {
            put(&mut state.calendars, c.id.clone(), c, Key::Calendar, changed)
        }
        Event::RoutingSet { routing: r } => put(&mut state.routings, r.id.clone(), r, Key::Routing, changed),
        Event::OrderOpened { .. }
        | Event::OrderEdited { .. }
        | Event::StageReached { .. }
        | Event::StageTakenBack { .. }
        | Event::Promised { .. }
        | Event::Moved { .. }
        | Event::ConditionChanged { .. }
        | Event::EnergyChanged { .. }
        | Event::LeadSet { .. }
        | Event::HoldSet { .. }
        | Event::HoldMoved { .. }
        | Event::HoldEnded { .. }
        | Event::Opened { .. }
        | Event::Closed { .. } => order_event(state, event, changed),
        Event::Noted { note } => put(&mut state.notes, note.id, note, Key::Note, changed),
        Event::PhotoNoted { photo } => {
            put(&mut state.photos, photo.id, photo, Key::Photo, changed);
            state.pictures.entry(photo.sha256.clone()).or_default().insert(photo.id);
        }
        Event::PhotoHere { sha256 } => photo_here(state, sha256, changed),
        Event::PhotoMarked { photo, marked } => {
            edit(&mut state.photos, photo, Key::Photo, changed, |p| {
                p.marks.retain(|other| other.by != marked.by);
                if !marked.marks.is_empty() {
                    p.marks.push(marked.clone());
                }
            });
        }
        Event::ExceptionRaised { exception: e } => {
            put(&mut state.exceptions, e.id, e, Key::Exception, changed)
        }
        Event::ExceptionAnswered { exception, by, at, reason } => {
            edit(&mut state.exceptions, exception, Key::Exception, changed, |e| {
                e.answered_by = Some(*by);
                e.answered_at = Some(*at);
                e.reason = Some(reason.clone());
            });
        }
        Event::Reminded { .. } => {}
        _ => card_event(state, event, changed),
    }
}

fn put<K: Ord + Clone, V: Clone>(
    docs: &mut Docs<K, V>,
    id: K,
    body: &V,
    key: fn(K) -> Key,
    changed: &mut Changed,
) {
    docs.insert(id.clone(), Arc::new(body.clone()));
    changed.insert(key(id));
}

fn edit<K: Ord + Clone, V: Clone>(
    docs: &mut Docs<K, V>,
    id: &K,
    key: fn(K) -> Key,
    changed: &mut Changed,
    change: impl FnOnce(&mut V),
) {
    if let Some(doc) = docs.get_mut(id) {
        change(Arc::make_mut(doc));
        changed.insert(key(id.clone()));
    }
}

fn order_event(state: &mut State, event: &Event, changed: &mut Changed) {
    let mut edit_order = |id: &OrderId, change: &mut dyn FnMut(&mut Order)| {
        edit(&mut state.orders, id, Key::Order, changed, |order| change(order));
    };
    match event {
        Event::OrderOpened { order } => {
            state.numbers.insert(order.number.clone(), order.id);
            put(&mut state.orders, order.id, order, Key::Order, changed);
            keep_active(state, order.id);
        }
        Event::OrderEdited { order, change } => {
            if let (Some(number), Some(old)) = (&change.number, state.orders.get(order)) {
                state.numbers.remove(&old.number);
                state.numbers.insert(number.clone(), *order);
            }
            edit(&mut state.orders, order, Key::Order, changed, |o| apply_order_change(o, change));
        }
        Event::StageReached { order, stage, at, reason } => {
            edit_order(order, &mut |o| {
                o.stage = *stage;
                o.stages.push(StageAt { stage: *stage, at: *at, reason: reason.clone() });
                o.stages.sort_by_key(|reached| reached.at);
                if *stage == Stage::Authorised && o.first_promise.is_none() {
                    o.first_promise = o.promise;
                }
            });
            keep_active(state, *order);
        }
        Event::StageTakenBack { order, taken_back } => {
            edit_order(order, &mut |o| {
                let was = |s: &StageAt| (s.stage, s.at) == (taken_back.stage, taken_back.reached_at);
                if let Some(last) = o.stages.iter().rposition(was) {
                    o.stages.remove(last);
                }
                o.stage = o.stages.last().map_or(Stage::Expected, |reached| reached.stage);
                o.taken_back.push(taken_back.clone());
            });
            keep_active(state, *order);
        }
        Event::Promised { order, due, by, at } => edit_order(order, &mut |o| {
            let authorised = !matches!(o.stage, Stage::Expected | Stage::Arrived);
            if authorised && o.first_promise.is_some() && o.promise != *due {
                o.promise_moves += 1;
            }
            o.promise = *due;
            (o.promised_by, o.promised_at) = (*by, *at);
            if authorised && o.first_promise.is_none() {
                o.first_promise = *due;
            }
        }),
        Event::Moved { order, to, on, at, by } => edit_order(order, &mut |o| {
            o.stood.push(Stood { place: to.clone(), from: *at, by: *by });
            o.stood.sort_by_key(|stood| stood.from);
            o.condition.place = o.stood.last().map(|stood| stood.place.clone());
            if on.is_some() {
                o.condition.on = *on;
            }
        }),
        Event::ConditionChanged { order, change } => {
            edit_order(order, &mut |o| apply_condition_change(&mut o.condition, change));
        }
        Event::EnergyChanged { order, energy } => edit_order(order, &mut |o| o.energy = energy.clone()),
        Event::LeadSet { order, department, person } => edit_order(order, &mut |o| match person {
            Some(person) => {
                o.leads.insert(department.clone(), *person);
            }
            None => {
                o.leads.remove(department);
            }
        }),
        Event::HoldSet { order, .. } | Event::HoldMoved { order, .. } | Event::HoldEnded { order, .. } => {
            edit_order(order, &mut |o| hold_event(&mut o.holds, event));
        }
        Event::Opened { order, open, card, equipment, at } => {
            edit_order(order, &mut |o| {
                let now = OpenNow { open: open.clone(), since: *at, by: *card, equipment: equipment.clone() };
                o.open.push(now);
            });
            let handoff = state.cards.get(card).and_then(|c| c.handoff);
            edit_handoff(state, handoff, changed, |h| {
                if h.life != HandoffLife::HandedBack {
                    h.life = HandoffLife::Open;
                }
                h.opened_at = Some(*at);
            });
            settle_joined(state, *order, Some(*at), changed);
        }
        Event::Closed { order, open, at, .. } => {
            edit_order(order, &mut |o| o.open.retain(|now| now.open != *open));
            settle_joined(state, *order, Some(*at), changed);
        }
        _ => {}
    }
}

fn hold_event(holds: &mut Vec<Hold>, event: &Event) {
    match event {
        Event::HoldSet { hold, .. } => holds.push(hold.clone()),
        Event::HoldMoved { hold, due, .. } => {
            for held in holds.iter_mut().filter(|held| held.id == *hold) {
                held.first_due = held.first_due.or(held.due);
                held.due = Some(*due);
            }
        }
        Event::HoldEnded { hold, at, .. } => {
            for held in holds.iter_mut().filter(|held| held.id == *hold && held.ended.is_none()) {
                held.ended = Some(*at);
            }
        }
        _ => {}
    }
}

fn apply_order_change(order: &mut Order, change: &OrderChange) {
    if let Some(number) = &change.number {
        order.number.clone_from(number);
    }
    if let Some(vehicle) = &change.vehicle {
        order.vehicle.clone_from(vehicle);
    }
    if let Some(vin) = &change.vin {
        order.vin = Some(vin.clone()).filter(|vin| !vin.is_empty());
        order.vin_doubtful = order.vin.as_ref().is_some_and(|vin| crate::vin::check(vin).is_err());
    }
    if let Some(weight) = change.weight {
        order.weight = weight;
    }
    if change.weight_reason.is_some() {
        order.weight_reason.clone_from(&change.weight_reason);
    }
    if change.expected_at.is_some() {
        order.expected_at = change.expected_at;
    }
    if change.sold_minutes.is_some() {
        order.sold_minutes = change.sold_minutes;
    }
}

pub(crate) fn apply_condition_change(condition: &mut Condition, change: &ConditionChange) {
    let change = change.clone();
    condition.keys = change.keys.or(condition.keys.take());
    condition.on = change.on.or(condition.on);
    condition.rolls = change.rolls.or(condition.rolls);
    condition.steers = change.steers.or(condition.steers);
    condition.brakes = change.brakes.or(condition.brakes);
    condition.lifting_points = change.lifting_points.or(condition.lifting_points);
    if let Some(weight_off) = change.weight_off {
        condition.weight_off = weight_off;
    }
    if let Some(loose) = change.loose {
        condition.loose = loose;
    }
    condition.bolts = change.bolts.or(condition.bolts.take());
    condition.wet_until = change.wet_until.or(condition.wet_until);
}

fn keep_active(state: &mut State, id: OrderId) {
    let Some(order) = state.orders.get(&id) else { return };
    let undone =
        || state.cards_of(id).any(|c| !matches!(c.life, Life::Done | Life::Cancelled | Life::Proposed));
    let ended = match order.stage {
        Stage::Delivered => true,
        Stage::Stopped => !undone(),
        _ => false,
    };
    if ended {
        state.active.remove(&id);
    } else {
        state.active.insert(id);
    }
}

fn card_event(state: &mut State, event: &Event, changed: &mut Changed) {
    let id = match event {
        Event::CardAdded { card } => {
            put(&mut state.cards, card.id, card, Key::Card, changed);
            edit(&mut state.orders, &card.order, Key::Order, changed, |o| {
                if !o.cards.contains(&card.id) {
                    o.cards.push(card.id);
                }
            });
            card.id
        }
        Event::Asked { handoff } => {
            put(&mut state.handoffs, handoff.id, handoff, Key::Handoff, changed);
            state.asked.entry(handoff.order).or_default().insert(handoff.id);
            return;
        }
        Event::HandoffCalledOff { handoff, .. } => {
            edit_handoff(state, Some(*handoff), changed, |h| h.life = HandoffLife::Cancelled);
            return;
        }
        Event::Undone { card, order_open, .. } => {
            undo(state, card, order_open, changed);
            card.id
        }
        Event::CardEdited { card, .. }
        | Event::CardCancelled { card, .. }
        | Event::Linked { card, .. }
        | Event::Unlinked { card, .. }
        | Event::PutFirst { card, .. }
        | Event::PutBack { card }
        | Event::Taken { card, .. }
        | Event::GivenBack { card, .. }
        | Event::HelpJoined { card, .. }
        | Event::Started { card, .. }
        | Event::Paused { card, .. }
        | Event::Finished { card, .. }
        | Event::SpanCorrected { card, .. } => *card,
        _ => return,
    };
    edit(&mut state.cards, &id, Key::Card, changed, |card| apply_card_event(card, event));
    settle(state, id, event, changed);
}

fn apply_card_event(card: &mut Card, event: &Event) {
    match event {
        Event::CardEdited { change, .. } => apply_card_change(card, change),
        Event::CardCancelled { by, at, reason, .. } => {
            card.life = Life::Cancelled;
            card.put_first = None;
            card.cancelled = by.zip(*at).map(|(by, at)| Cancelled { by, at, reason: reason.clone() });
        }
        Event::Linked { after, .. } => {
            card.after.retain(|link| link.card != after.card);
            card.after.push(after.clone());
        }
        Event::Unlinked { after, .. } => card.after.retain(|link| link.card != *after),
        Event::PutFirst { put_first, .. } => card.put_first = Some(put_first.clone()),
        Event::PutBack { .. } => card.put_first = None,
        Event::Taken { by, at, op, .. } => {
            card.last_act = Some(*op);
            card.taken_by = Some(*by);
            card.taken_at = Some(*at);
            card.helpers.retain(|helper| helper != by);
            if card.life == Life::Waiting {
                card.life = Life::Taken;
            }
        }
        Event::GivenBack { .. } => {
            card.taken_by = None;
            card.taken_at = None;
            card.last_act = None;
            if card.life == Life::Taken {
                card.life = Life::Waiting;
            }
        }
        Event::HelpJoined { by, .. } if !card.helpers.contains(by) => card.helpers.push(*by),
        Event::Started { span, by, at, uncertain, used, .. } => {
            if !card.life.is_over() {
                card.life = Life::Working;
            }
            card.paused_why = None;
            card.last_act = (!card.life.is_over()).then_some(OpId(span.0));
            if used.is_some() {
                card.used.clone_from(used);
            }
            card.spans.push(Span {
                id: *span,
                person: *by,
                from: *at,
                to: None,
                uncertain: *uncertain,
                corrected: false,
            });
        }
        Event::Paused { by, at, why, op, .. } => {
            end_spans(card, Some(*by), *at);
            card.last_act = (!card.life.is_over()).then_some(*op);
            if card.life == Life::Working && card.spans.iter().all(|span| span.to.is_some()) {
                card.life = Life::Paused;
                card.paused_why = *why;
            }
        }
        Event::Finished { at, .. } if card.life.is_over() => {
            end_spans(card, None, *at);
            card.last_act = None;
        }
        Event::Finished { by, at, checks, op, .. } => {
            end_spans(card, None, *at);
            card.last_act = Some(*op);
            card.life = Life::Done;
            card.done_at = Some(*at);
            card.done_by = Some(*by);
            card.checks_done.clone_from(checks);
            card.put_first = None;
        }
        Event::SpanCorrected { span, from, to, .. } => {
            let done_at = card.done_at;
            let ended_with = card.spans.iter().any(|own| own.id == *span && own.to == done_at);
            for own in card.spans.iter_mut().filter(|own| own.id == *span) {
                (own.from, own.to, own.corrected) = (*from, *to, true);
            }
            // The card was done when this work ended, so it moves with the corrected end.
            if card.life == Life::Done && ended_with {
                card.done_at = card.spans.iter().filter_map(|span| span.to).max().or(done_at);
            }
        }
        _ => {}
    }
}

fn apply_card_change(card: &mut Card, change: &CardChange) {
    let change = change.clone();
    if let Some(title) = change.title {
        card.title = title;
    }
    if let Some(department) = change.department {
        card.department = department;
    }
    if let Some(minutes) = change.planned_minutes {
        card.planned_minutes = minutes;
    }
    card.sold_minutes = change.sold_minutes.or(card.sold_minutes);
    if let Some(needs) = change.needs {
        card.needs = needs;
    }
    if change.approved && card.life == Life::Proposed {
        card.life = if card.taken_by.is_some() { Life::Taken } else { Life::Waiting };
    }
}

fn end_spans(card: &mut Card, person: Option<PersonId>, at: crate::Ms) {
    for span in card.spans.iter_mut().filter(|s| s.to.is_none() && person.is_none_or(|p| p == s.person)) {
        span.to = Some(at.max(span.from));
    }
}

/// Brings everything that follows from the card into line with it.
fn settle(state: &mut State, id: CardId, event: &Event, changed: &mut Changed) {
    let Some(card) = state.cards.get(&id).cloned() else { return };
    note_running(state, &card);
    settle_ready(state, &card, changed);
    if let Event::Finished { wet_until: Some(wet), .. } = event {
        edit(&mut state.orders, &card.order, Key::Order, changed, |o| o.condition.wet_until = Some(*wet));
    }
    settle_handoff(state, &card, event, changed);
    keep_active(state, card.order);
}

fn note_running(state: &mut State, card: &Card) {
    for span in &card.spans {
        let still = card.spans.iter().any(|s| s.person == span.person && s.to.is_none());
        let mut cards = state.running.get(&span.person).cloned().unwrap_or_default();
        let before = cards.len();
        if still {
            cards.insert(card.id);
        } else {
            cards.remove(&card.id);
        }
        if cards.len() != before {
            state.running.insert(span.person, cards);
        }
        if let Some(to) = span.to
            && state.worked_until.get(&span.person).is_none_or(|until| *until < to)
        {
            state.worked_until.insert(span.person, to);
        }
    }
}

fn settle_ready(state: &mut State, card: &Card, changed: &mut Changed) {
    let mut touched: Vec<CardId> = depends::successors(state, card).map(|next| next.id).collect();
    touched.push(card.id);
    for id in touched {
        let Some(card) = state.cards.get(&id) else { continue };
        let ready_at = depends::ready_at(state, card);
        if card.ready_at == ready_at {
            continue;
        }
        let handoff = card.handoff;
        edit(&mut state.cards, &id, Key::Card, changed, |c| c.ready_at = ready_at);
        let Some(handoff) = handoff.and_then(|h| state.handoffs.get(&h)).cloned() else { continue };
        if handoff.cards.first() == Some(&id) && handoff.started_at.is_none() {
            edit_handoff(state, Some(handoff.id), changed, |h| h.ready_at = ready_at);
        }
    }
}

fn undo(state: &mut State, before: &Card, order_open: &[OpenNow], changed: &mut Changed) {
    if let Some(now) = state.cards.get(&before.id).cloned() {
        // Spans that vanish must leave the index of running work too.
        let mut ended = (*now).clone();
        for span in &mut ended.spans {
            let still = before.spans.iter().any(|s| s.id == span.id && s.to.is_none());
            span.to = if still { None } else { Some(span.from) };
        }
        note_running(state, &ended);
    }
    put(&mut state.cards, before.id, before, Key::Card, changed);
    edit(&mut state.orders, &before.order, Key::Order, changed, |o| o.open = order_open.to_vec());
    settle_joined(state, before.order, None, changed);
    if let Some(handoff) = before.handoff.and_then(|id| state.handoffs.get(&id)).cloned() {
        put_handoff(state, from_cards(state, &handoff), changed);
    }
}

fn photo_here(state: &mut State, sha256: &str, changed: &mut Changed) {
    for id in state.pictures.get(sha256).cloned().unwrap_or_default() {
        if state.photos.get(&id).is_some_and(|photo| !photo.here && !photo.erased) {
            edit(&mut state.photos, &id, Key::Photo, changed, |photo| photo.here = true);
        }
    }
}

/// Rebuilds the indexes of a state that was read from a snapshot; `worked` is the snapshot's
/// [`State::worked_until`].
pub fn reindex(state: &mut State, worked: impl IntoIterator<Item = (PersonId, Ms)>) {
    (state.active, state.numbers, state.running) = Default::default();
    (state.worked_until, state.asked, state.pictures) = Default::default();
    let orders: Vec<(OrderId, String)> = state.orders.iter().map(|(id, o)| (*id, o.number.clone())).collect();
    for (id, number) in orders {
        state.numbers.insert(number, id);
        keep_active(state, id);
    }
    let cards: Vec<Arc<Card>> = state.cards.values().cloned().collect();
    cards.iter().for_each(|card| note_running(state, card));
    for (person, until) in worked {
        let known = state.worked_until.entry(person).or_insert(until);
        *known = until.max(*known);
    }
    for handoff in state.handoffs.values() {
        state.asked.entry(handoff.order).or_default().insert(handoff.id);
    }
    for photo in state.photos.values() {
        state.pictures.entry(photo.sha256.clone()).or_default().insert(photo.id);
    }
}

/// The state in which the vehicle must be, and is not, for this card to be worked on. A stopped vehicle may be
/// put back from half way: an opening that was only begun never was one.
pub fn not_open<'a>(state: &State, card: &'a Card) -> Option<&'a OpenId> {
    let needed = card.needs.inside.as_ref().or(card.needs.closes.as_ref())?;
    let order = state.orders.get(&card.order)?;
    let half_way = order.stage == Stage::Stopped && card.needs.inside.is_none();
    (open::is_open(order, needed).is_none() && !half_way).then_some(needed)
}
