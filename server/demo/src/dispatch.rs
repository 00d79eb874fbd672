//! Who works on what: people finish, look round, and take the most pressing thing that they can do.
//!
//! Invariants: a person is at one thing, a piece of equipment under one vehicle, a vehicle at one place;
//! nobody begins what waits for something else; what cannot be left overnight is begun only where it fits.

use std::collections::BTreeMap;

use domain::ids::*;
use domain::stored::*;
use domain::{MINUTE, Ms};

use super::agenda;
use super::sim::{At, DAY, Effort, Sim};
use super::{talk, trip};

/// After a break everybody goes on with what they had in hand.
pub(super) fn come_back(sim: &mut Sim<'_>) {
    for person in sim.staff.workers.clone() {
        let Some(At::Break { card }) = sim.doing.get(&person).copied() else { continue };
        sim.doing.remove(&person);
        let workable = sim.card(card).is_some_and(|c| !c.life.is_over());
        if !sim.here(person) || !workable {
            continue;
        }
        forgot_to_stop(sim, person, card);
        if sim.act(person, Act::Start { card, on: None }).is_some() {
            sim.doing.insert(person, At::Running { card, since: sim.at });
        }
    }
    sim.stirred = true;
}

/// Now and then somebody put the tool down earlier than the phone says, and says so the next morning.
fn forgot_to_stop(sim: &mut Sim<'_>, person: PersonId, id: CardId) {
    let last = sim.card(id).and_then(|c| c.spans.iter().rfind(|s| s.person == person).cloned());
    let Some(Span { id: span, from, to: Some(to), .. }) = last else { return };
    if to - from > 60 * MINUTE && sim.at - to > 8 * 60 * MINUTE && sim.chance.percent(2) {
        let earlier = to - sim.chance.between(15, 40) * MINUTE;
        sim.act(person, Act::Correct { card: id, span, from, to: Some(earlier) });
    }
}

/// Break or end of the shift: everybody stops.
pub(super) fn stop(sim: &mut Sim<'_>, night: bool) {
    let why = Some(if night { PauseWhy::EndOfShift } else { PauseWhy::Break });
    for (person, at) in sim.doing.clone() {
        match at {
            At::Running { card, since } => {
                if sim.act(person, Act::Pause { card, why }).is_some() {
                    worked(sim, card, since);
                    sim.doing.insert(person, At::Break { card });
                }
            }
            At::Fetching { card, .. } => {
                sim.doing.insert(person, At::Break { card });
            }
            At::Break { .. } => {}
        }
    }
}

pub(super) fn worked(sim: &mut Sim<'_>, card: CardId, since: Ms) {
    let at = sim.at;
    if let Some(effort) = sim.effort.get_mut(&card) {
        effort.done += at - since;
    }
}

pub(super) fn go_on(sim: &mut Sim<'_>) {
    for person in sim.staff.workers.clone() {
        match sim.doing.get(&person).copied() {
            Some(At::Running { card, since }) => {
                let over = sim.effort.get(&card).is_none_or(|e| e.done + sim.at - since >= e.need);
                if over {
                    finish(sim, person, card);
                }
            }
            Some(At::Fetching { card, until }) if until <= sim.at => {
                sim.doing.remove(&person);
                start(sim, person, card);
            }
            _ => {}
        }
    }
    if sim.stirred || sim.at >= sim.next_ready {
        look_round(sim);
    }
}

/// Cards that could be worked now, most pressing first.
fn ready_cards(sim: &mut Sim<'_>) -> Vec<(i64, CardId)> {
    let at = sim.at;
    let mut ready = Vec::new();
    let mut next = Ms::MAX;
    for order in sim.state.in_shop() {
        let scripted = sim.jobs.get(&order.id).is_some_and(|job| job.scripted);
        if scripted || matches!(order.stage, Stage::Expected | Stage::Away | Stage::Ready) {
            continue;
        }
        for card in sim.state.cards_of(order.id) {
            if !matches!(card.life, Life::Waiting | Life::Taken | Life::Paused) {
                continue;
            }
            let Some(ready_at) = card.ready_at else { continue };
            let ready_at = noticed_at(sim, card, ready_at);
            if ready_at > at {
                next = next.min(ready_at);
            } else if may_go(order, card) {
                ready.push((pressing(order, card, at), card.id));
            }
        }
    }
    sim.next_ready = next;
    ready.sort_unstable();
    ready
}

/// Nobody jumps up: a finished step of another department is noticed after a while, a round trip that
/// was asked for by word of mouth later still. What is in hand or keeps equipment is not forgotten.
fn noticed_at(sim: &Sim<'_>, card: &Card, ready_at: Ms) -> Ms {
    let inside = card.needs.inside.is_some() || card.needs.closes.is_some();
    let minutes_max: u64 = match (card.life, card.department.0.as_str()) {
        (Life::Paused | Life::Taken, _) => return ready_at,
        _ if may_not_wait(card) => 10,
        _ if inside => 25,
        _ if card.handoff.is_some() => 420,
        (_, "body") => 20,
        _ => 75,
    };
    let (high, low) = card.id.0.as_u64_pair();
    let minutes = (high ^ low.rotate_left(23)) % minutes_max;
    sim.after(ready_at, minutes as Ms * MINUTE)
}

/// Not on hold, and authorised as far as it needs to be.
fn may_go(order: &Order, card: &Card) -> bool {
    let held = order.holds.iter().any(|h| {
        h.ended.is_none() && h.blocks == Blocks::Start && (h.cards.is_empty() || h.cards.contains(&card.id))
    });
    let before = card.routing.as_ref().is_some_and(|r| matches!(r.0.as_str(), "keys-in" | "teardown"));
    let opened = match card.needs.inside.as_ref().or(card.needs.closes.as_ref()) {
        Some(open) => order.open.iter().any(|now| now.open == *open),
        None => true,
    };
    !held && opened && (before || order.stage != Stage::Arrived)
}

/// Bare metal, an open coat: it has to be gone on with within a time.
fn may_not_wait(card: &Card) -> bool {
    card.after.iter().any(|link| link.lag_minutes_max.is_some())
}

/// Smaller is more pressing: promise, urgency, and what keeps equipment from others.
fn pressing(order: &Order, card: &Card, at: Ms) -> i64 {
    let mut score = order.promise.unwrap_or(order.created_at + 12 * DAY);
    if card.put_first.as_ref().is_some_and(|first| first.until > at) {
        score -= 60 * DAY;
    }
    if order.open.iter().any(|now| now.equipment.is_some()) {
        score -= 20 * DAY;
    } else if !order.open.is_empty() {
        score -= 3 * DAY;
    }
    if card.life == Life::Paused {
        score -= 5 * DAY;
    }
    if may_not_wait(card) {
        score -= 30 * DAY;
    }
    score
        + match order.weight {
            4 => -4 * DAY,
            1 => 3 * DAY,
            _ => 0,
        }
}

fn look_round(sim: &mut Sim<'_>) {
    let idle: Vec<PersonId> =
        sim.staff.workers.iter().copied().filter(|p| !sim.doing.contains_key(p) && sim.here(*p)).collect();
    sim.stirred = false;
    if idle.is_empty() {
        return;
    }
    let ready = ready_cards(sim);
    let mut occupied = sim.occupied();
    for person in idle {
        let at_vehicle = sim.at_vehicle();
        let found = ready.iter().map(|(_, id)| *id).find_map(|id| {
            let how = can_begin(sim, person, id, &occupied, &at_vehicle)?;
            Some((id, how))
        });
        if let Some((card, how)) = found {
            begin(sim, person, card, how);
            occupied = sim.occupied();
        } else if sim.staff.body.contains(&person) {
            take_over(sim, person, &ready);
        }
    }
}

/// A vehicle whose lead has not come to it for half a day goes to a body technician with nothing to do.
fn take_over(sim: &mut Sim<'_>, person: PersonId, ready: &[(i64, CardId)]) {
    let patience = sim.at - 5 * 60 * MINUTE;
    let waits = |id: &CardId| {
        let card = sim.card(*id)?;
        let lead = sim.order(card.order)?.leads.get(&card.department).copied();
        let untouched = card.life == Life::Waiting && card.department.0 == "body" && lead != Some(person);
        let since = noticed_at(sim, card, card.ready_at?);
        (untouched && since < patience).then_some(card.order)
    };
    if let Some(order) = ready.iter().find_map(|(_, id)| waits(id)) {
        let lead = Act::Lead { order, department: "body".into(), person: Some(person) };
        sim.act(sim.staff.planner.0, lead);
    }
}

/// What has to be moved before a card can begin.
pub(super) struct How {
    pub onto: Option<EquipmentId>,
}

fn can_begin(
    sim: &Sim<'_>,
    person: PersonId,
    id: CardId,
    occupied: &BTreeMap<EquipmentId, OrderId>,
    at_vehicle: &BTreeMap<OrderId, bool>,
) -> Option<How> {
    let card = sim.card(id)?;
    let order = sim.order(card.order)?;
    let who = sim.state.people.get(&person)?;
    if !matches!(card.life, Life::Waiting | Life::Taken | Life::Paused)
        || card.taken_by.is_some_and(|holder| holder != person)
    {
        return None;
    }
    if who.department != card.department && !who.also.contains(&card.department) {
        return None;
    }
    let lead = order.leads.get(&card.department);
    // Whoever has it in hand goes on with it, also when the vehicle has gone to somebody else.
    if card.department.0 == "body" && lead != Some(&person) && card.taken_by != Some(person) {
        return None;
    }
    let qualified =
        |q: &Qualification| who.qualifications.get(q).is_some_and(|until| until.is_none_or(|t| t > sim.at));
    if card.needs.qualification.as_ref().is_some_and(|q| !qualified(q)) {
        return None;
    }
    if sim.doing.values().any(|at| at.card() == id) {
        return None;
    }
    if !card.needs.off_vehicle
        && at_vehicle.get(&order.id).is_some_and(|beside| !(*beside || card.needs.beside))
    {
        return None;
    }
    let left = sim.limit - sim.at;
    let need = sim.effort.get(&id).map_or(i64::from(card.planned_minutes) * MINUTE, |e| e.need - e.done);
    if card.needs.one_go && need * 12 / 10 + 10 * MINUTE > left && sim.limit < sim.now {
        return None;
    }
    // Nobody lays metal bare late in the day to prime it the next morning.
    let successors = domain::depends::successors(&sim.state, card).filter(|next| may_not_wait(next));
    let then: Ms = successors.map(|next| i64::from(next.planned_minutes) * MINUTE).sum();
    let late = (need + then) * 12 / 10 + 20 * MINUTE > left && sim.limit < sim.now;
    if then > 0 && card.life != Life::Paused && late {
        return None;
    }
    // Nothing new in the last quarter of an hour.
    if left < 15 * MINUTE && card.life != Life::Paused {
        return None;
    }
    equipment(sim, order, card, occupied).map(|onto| How { onto })
}

/// The equipment to be moved onto, none if it needs none or is there already; outer none: not free.
fn equipment(
    sim: &Sim<'_>,
    order: &Order,
    card: &Card,
    occupied: &BTreeMap<EquipmentId, OrderId>,
) -> Option<Option<EquipmentId>> {
    let Some(kind) = &card.needs.equipment else { return Some(None) };
    let is_kind = |id: &EquipmentId| sim.state.equipment.get(id).is_some_and(|e| e.kind == *kind);
    let free =
        |id: &EquipmentId| occupied.get(id).is_none_or(|on| *on == order.id && !card.needs.off_vehicle);
    if card.needs.off_vehicle {
        let piece = sim.state.equipment.keys().find(|id| is_kind(id))?;
        return free(piece).then_some(None);
    }
    if order.open.iter().any(|now| now.equipment.as_ref().is_some_and(is_kind)) {
        return Some(None);
    }
    let stands = order
        .condition
        .place
        .as_ref()
        .and_then(|p| sim.state.places.get(p))
        .and_then(|p| p.equipment.clone());
    if let Some(piece) = stands.filter(|piece| is_kind(piece)) {
        return free(&piece).then_some(None);
    }
    let reserved =
        |id: &EquipmentId| sim.reserved.get(id).is_some_and(|(from, to)| (*from..*to).contains(&sim.at));
    let choice: Vec<&EquipmentId> =
        sim.state.equipment.keys().filter(|id| is_kind(id) && free(id) && !reserved(id)).collect();
    let any = (order.created_at / 1000) as usize;
    (!choice.is_empty()).then(|| Some(choice[any % choice.len()].clone()))
}

/// Brings the vehicle, takes the card, and starts at once or after fetching it.
pub(super) fn begin(sim: &mut Sim<'_>, person: PersonId, id: CardId, how: How) {
    let Some(card) = sim.card(id).cloned() else { return };
    let round_trip = card.handoff.is_some() && card.life == Life::Waiting;
    let fetch = card.life == Life::Waiting && sim.chance.percent(if round_trip { 60 } else { 10 });
    if fetch {
        if sim.act(person, Act::Take { card: id }).is_none() {
            return;
        }
        somebody_else_tries(sim, person, &card);
        if sim.chance.percent(3) && how.onto.is_some() {
            sim.act(person, Act::GiveBack { card: id });
            return;
        }
    }
    bring(sim, person, &card, how.onto);
    if fetch {
        let until = sim.at + sim.chance.between(6, 25) * MINUTE;
        sim.doing.insert(person, At::Fetching { card: id, until });
    } else {
        start(sim, person, id);
    }
}

/// Two phones, one card: the second one is told who was first.
fn somebody_else_tries(sim: &mut Sim<'_>, holder: PersonId, card: &Card) {
    let other =
        sim.staff.mechanics.iter().copied().find(|p| *p != holder && card.department.0 == "mechanical");
    if let Some(other) = other.filter(|_| sim.chance.percent(9)) {
        sim.try_in_vain(other, Act::Take { card: card.id });
    }
}

pub(super) fn start(sim: &mut Sim<'_>, person: PersonId, id: CardId) {
    let Some(planned) = sim.card(id).map(|c| c.planned_minutes) else { return };
    let need = sim.chance.stretch(planned);
    if sim.act(person, Act::Start { card: id, on: None }).is_some() {
        sim.effort.entry(id).or_insert(Effort { need, done: 0 });
        sim.doing.insert(person, At::Running { card: id, since: sim.at });
    }
}

/// Moves the vehicle to where the work is.
pub(super) fn bring(sim: &mut Sim<'_>, person: PersonId, card: &Card, onto: Option<EquipmentId>) {
    let Some(order) = sim.order(card.order).cloned() else { return };
    if card.needs.off_vehicle {
        return;
    }
    if let Some(onto) = onto {
        let lifted = sim.state.equipment.get(&onto).is_some_and(|e| e.kind.0 == "lift");
        let on = Some(if lifted { StandsOn::Lift } else { StandsOn::Wheels });
        sim.act(person, Act::Move { order: order.id, to: PlaceId(onto.0), on });
        return;
    }
    let on_equipment = order
        .condition
        .place
        .as_ref()
        .and_then(|p| sim.state.places.get(p))
        .is_some_and(|p| p.equipment.is_some());
    let held = order.open.iter().any(|now| now.equipment.is_some());
    let bays: &[&str] = match card.department.0.as_str() {
        "body" => &["bay-1", "bay-2", "bay-3", "bay-4"],
        "assembly" => &["bay-5", "bay-6", "bay-4"],
        "detail" => &["detail-bay"],
        _ => return,
    };
    let here = order.condition.place.as_ref().is_some_and(|p| bays.contains(&p.0.as_str()));
    if !held && !on_equipment && !here {
        to_bay(sim, person, order.id, bays);
    }
}

/// Into a free bay; if there is none, something that nobody works at has to go to the lot.
fn to_bay(sim: &mut Sim<'_>, person: PersonId, order: OrderId, bays: &[&str]) {
    let taken = sim.places_taken();
    let free = bays.iter().map(|b| PlaceId::from(*b)).find(|b| !taken.contains(b));
    let bay = free.or_else(|| {
        let busy = sim.at_vehicle();
        let idle = sim.state.in_shop().find(|o| {
            let in_bay = o.condition.place.as_ref().is_some_and(|p| bays.contains(&p.0.as_str()));
            in_bay && o.id != order && o.open.is_empty() && !busy.contains_key(&o.id)
        })?;
        let (other, bay) = (idle.id, idle.condition.place.clone()?);
        sim.act(person, Act::Move { order: other, to: "lot".into(), on: None });
        Some(bay)
    });
    if let Some(bay) = bay {
        sim.act(person, Act::Move { order, to: bay, on: None });
    }
}

pub(super) fn finish(sim: &mut Sim<'_>, person: PersonId, id: CardId) {
    let Some(card) = sim.card(id).cloned() else { return };
    let cure = sim
        .state
        .cards_of(card.order)
        .flat_map(|c| &c.after)
        .filter(|l| l.card == id)
        .map(|l| l.lag_minutes)
        .max();
    let checks = (0..card.needs.checks.len() as u32).collect();
    said_on_the_way(sim, person, &card);
    let finish = Act::Finish { card: id, checks, wet_minutes: cure.filter(|minutes| *minutes > 0) };
    sim.doing.remove(&person);
    if sim.act(person, finish).is_none() {
        return;
    }
    trip::condition_after(sim, person, &card);
    leave_equipment(sim, person, &card);
    trip::after(sim, person, &card);
    agenda::ready_if_done(sim, card.order, person);
}

/// Notes, findings and photos, made while the work is in hand.
fn said_on_the_way(sim: &mut Sim<'_>, person: PersonId, card: &Card) {
    let Some(who) = sim.state.people.get(&person).cloned() else { return };
    let (order, own) = (card.order, Some(card.id));
    let taken_down = card.needs.opens.is_some() && card.handoff.is_some();
    if sim.chance.percent(if taken_down { 40 } else { 4 }) {
        let (what, note) = talk::finding(&who.department.0, &mut sim.chance);
        sim.act(person, Act::Found { order, card: own, what, note: Some(note.to_owned()) });
    } else if sim.chance.percent(8) {
        let body = talk::note(&card.department.0, who.language == "es", &mut sim.chance).to_owned();
        sim.act(person, Act::Note { order, card: own, body });
    }
    let shown = card.needs.inside.is_some() || taken_down || card.step.as_deref() == Some("look");
    if sim.chance.percent(if shown { 60 } else { 3 }) {
        photo(sim, person, order, own, card.handoff);
    }
}

pub(super) fn photo(
    sim: &mut Sim<'_>,
    person: PersonId,
    order: OrderId,
    card: Option<CardId>,
    handoff: Option<HandoffId>,
) {
    if sim.pictures.is_empty() {
        return;
    }
    let (sha256, bytes) = sim.pictures[sim.chance.next() as usize % sim.pictures.len()].clone();
    let taken_at = sim.at;
    sim.act(person, Act::Photo { order, card, handoff, sha256, mime: "image/jpeg".into(), bytes, taken_at });
}

/// The place is freed for the next vehicle, unless this one still needs the like of it.
fn leave_equipment(sim: &mut Sim<'_>, person: PersonId, done: &Card) {
    let Some(order) = sim.order(done.order).cloned() else { return };
    let stands = order
        .condition
        .place
        .as_ref()
        .and_then(|p| sim.state.places.get(p))
        .and_then(|p| p.equipment.clone());
    let Some(kind) = stands.and_then(|e| sim.state.equipment.get(&e)).map(|e| e.kind.clone()) else { return };
    if order.open.iter().any(|now| now.equipment.is_some()) {
        return;
    }
    let needs_kind = |c: &Card| c.needs.equipment.as_ref() == Some(&kind) && !c.needs.off_vehicle;
    let undone = |id: &CardId| sim.card(*id).filter(|c| !c.life.is_over());
    let stays = sim.state.cards_of(order.id).any(|c| {
        !c.life.is_over() && needs_kind(c) && c.after.iter().filter_map(|l| undone(&l.card)).all(needs_kind)
    });
    let next = sim
        .state
        .cards_of(order.id)
        .find(|c| matches!(c.life, Life::Waiting) && c.ready_at.is_some() && !c.needs.off_vehicle);
    let waits_for_booth = next.is_some_and(|c| c.needs.equipment == Some("booth".into()));
    if stays || (waits_for_booth && kind.0 == "prep" && sim.chance.percent(30)) {
        return;
    }
    let taken = sim.places_taken();
    let bays: &[&str] = match next.map(|c| c.department.0.as_str()) {
        Some("body") => &["bay-1", "bay-2", "bay-3", "bay-4"],
        Some("assembly") => &["bay-5", "bay-6"],
        _ => &[],
    };
    let free = bays.iter().map(|b| PlaceId::from(*b)).find(|b| !taken.contains(b));
    sim.act(
        person,
        Act::Move { order: order.id, to: free.unwrap_or_else(|| "lot".into()), on: Some(StandsOn::Wheels) },
    );
}
