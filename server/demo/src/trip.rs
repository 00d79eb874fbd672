//! What follows from finished work: repair plans ask for approval, body technicians ask for round trips,
//! and the vehicle's condition is said.

use domain::MINUTE;
use domain::ids::*;
use domain::stored::*;

use super::agenda::{self, Todo};
use super::dispatch;
use super::sim::Sim;
use super::talk;

/// The facts of a vehicle that was just taken down or put together.
pub(super) fn condition_after(sim: &mut Sim<'_>, person: PersonId, card: &Card) {
    let state = card.needs.opens.as_ref().or(card.needs.closes.as_ref()).map(|o| o.0.clone());
    let opened = card.needs.opens.is_some();
    let Some(state) = state else { return };
    let (loose, end) = match state.as_str() {
        "suspension-down-rear" => (Loose::SuspensionLoose, Some(End::Rear)),
        "suspension-down-front" => (Loose::SuspensionLoose, Some(End::Front)),
        "cradle-down" => (Loose::SteeringLoose, Some(End::Front)),
        "tank-out" => (Loose::FuelDrained, None),
        "interior-out" => (Loose::SeatsOut, None),
        _ => return,
    };
    let rolls = matches!(state.as_str(), "tank-out" | "interior-out");
    let change = ConditionChange {
        rolls: Some(!opened || rolls),
        steers: Some(!opened || end != Some(End::Front)),
        weight_off: Some(if opened { end.into_iter().collect() } else { Vec::new() }),
        loose: Some(if opened { vec![loose] } else { Vec::new() }),
        bolts: Some(if opened { "red tray, shelf by the lift".into() } else { "all back in".into() }),
        ..ConditionChange::default()
    };
    sim.act(person, Act::Condition { order: card.order, change });
}

pub(super) fn after(sim: &mut Sim<'_>, person: PersonId, card: &Card) {
    let job = sim.jobs.get(&card.order).cloned().unwrap_or_default();
    if job.scripted {
        return;
    }
    let routing = card.routing.as_ref().map_or("", |r| r.0.as_str());
    let step = card.step.as_deref().unwrap_or_default();
    match (routing, step) {
        ("teardown", "plan") if job.approval_days > 0 => approval(sim, card.order, job.approval_days),
        ("structure", "pull") if job.supplement => supplement(sim, card),
        ("panel-joined", "join") | ("panel-repair", "repair") => ask(sim, card),
        ("refinish", "polish") if job.sublet => agenda::send_away(sim, card.order),
        _ => {}
    }
    if card.needs.opens.as_ref().is_some_and(|o| o.0.starts_with("suspension")) && sim.chance.percent(12) {
        moved_open(sim, person, card.order);
    }
    if step == "scan" && routing == "delivery" && sim.chance.percent(3) {
        washed_too_early(sim, card.order);
    }
    if step == "road-test" && sim.chance.percent(2) {
        not_mine_to_promise(sim, person, card.order);
    }
}

fn approval(sim: &mut Sim<'_>, order: OrderId, days: i64) {
    let planner = sim.staff.planner.0;
    let undone: Vec<CardId> = sim
        .state
        .cards_of(order)
        .filter(|c| !c.life.is_over() && c.routing.as_ref().is_some_and(|r| r.0 != "teardown"))
        .map(|c| c.id)
        .collect();
    let wait = days * 510 - sim.chance.between(0, 400);
    let due = Some(sim.after(sim.at, days * 510 * MINUTE));
    let note = Some("Supplement sent with photos.".to_owned());
    let hold = Act::Hold { order, what: HoldKind::Approval, cards: undone, blocks: Blocks::Start, due, note };
    if let Some(op) = sim.act(planner, hold) {
        sim.later(wait.max(30), Todo::Authorise { order, hold: Some(HoldId(op.0)) });
    }
}

/// Hidden damage in the middle: proposed, and what comes after the structure waits for the answer.
fn supplement(sim: &mut Sim<'_>, card: &Card) {
    let order = card.order;
    sim.jobs.entry(order).or_default().supplement = false;
    let Some(weld) = sim.step_card(order, "structure", "weld") else { return };
    let add = AddCard {
        order,
        department: "body".into(),
        title: Words {
            text: "Reinforcement behind the rail".into(),
            es: Some("Refuerzo detrás del larguero".into()),
        },
        planned_minutes: 90,
        sold_minutes: Some(84),
        after: vec![link(card.id)],
        before: vec![weld],
        proposed: true,
        needs: Needs {
            inside: Some("on-the-bench".into()),
            cautions: vec![Caution::HotWork],
            ..Needs::default()
        },
    };
    let lead = lead(sim, order);
    let Some(added) = sim.act(lead, Act::AddCard(add)) else { return };
    let due = Some(sim.after(sim.at, 800 * MINUTE));
    let note = Some("Torn reinforcement, photos sent.".to_owned());
    let hold =
        Act::Hold { order, what: HoldKind::Approval, cards: vec![weld], blocks: Blocks::Start, due, note };
    if let Some(op) = sim.act(lead, hold) {
        let wait = sim.chance.between(150, 900);
        sim.later(wait, Todo::Approve { order, hold: HoldId(op.0), card: CardId(added.0) });
    }
}

fn lead(sim: &Sim<'_>, order: OrderId) -> PersonId {
    let lead = sim.order(order).and_then(|o| o.leads.get(&DepartmentId::from("body")).copied());
    lead.unwrap_or(sim.staff.body[0])
}

pub(super) fn link(card: CardId) -> Link {
    Link { card, lag_minutes: 0, lag_minutes_max: None }
}

/// The body technician needs another department before going on: own card, then the asking.
fn ask(sim: &mut Sim<'_>, card: &Card) {
    let order = card.order;
    let Some(trip) = sim.jobs.get_mut(&order).and_then(|job| job.trip.take()) else { return };
    let (text, es, minutes) = talk::own_work(trip);
    let before = ["prep", "colour"]
        .iter()
        .filter_map(|s| sim.step_card(order, "refinish", s))
        .filter(|id| sim.card(*id).is_some_and(|c| c.life == Life::Waiting));
    let before: Vec<CardId> = before.collect();
    let person = lead(sim, order);
    let last = sim.step_card(order, "panel-joined", "seal").or(sim.step_card(order, "panel-repair", "fit"));
    let add = AddCard {
        order,
        department: "body".into(),
        title: Words { text: text.into(), es: Some(es.into()) },
        planned_minutes: minutes,
        sold_minutes: None,
        after: last.map(link).into_iter().collect(),
        before,
        proposed: false,
        needs: Needs::default(),
    };
    let Some(own) = sim.act(person, Act::AddCard(add)) else { return };
    let (note, not_yet) = talk::ask_note(trip, &mut sim.chance);
    let ask = Ask {
        order,
        routing: trip.into(),
        from: "body".into(),
        for_card: Some(CardId(own.0)),
        after: last.map(link).into_iter().collect(),
        note: Some(note.to_owned()),
        not_yet: not_yet.map(str::to_owned),
        condition: ConditionChange { rolls: Some(true), ..ConditionChange::default() },
        minutes: Default::default(),
    };
    let Some(op) = sim.act(person, Act::Ask(ask)) else { return };
    dispatch::photo(sim, person, order, Some(CardId(own.0)), Some(HandoffId(op.0)));
    // Alignment before the last scan: the planner sees to it.
    let align = CardId(domain::ids::part_of(op, "align"));
    if let (true, Some(scan)) = (sim.card(align).is_some(), sim.step_card(order, "delivery", "scan")) {
        sim.act(sim.staff.planner.0, Act::Link { card: scan, after: link(align) });
    }
}

/// Pushed aside for ten minutes although it is open: recorded, and asked about.
fn moved_open(sim: &mut Sim<'_>, person: PersonId, order: OrderId) {
    let place = sim.order(order).and_then(|o| o.condition.place.clone());
    if let Some(place) = place {
        sim.act(person, Act::Move { order, to: "mech-bay".into(), on: Some(StandsOn::Dollies) });
        sim.later(12, Todo::Return { order, place });
    }
}

/// Detailed before the road test, because it stood there: recorded, and asked about.
fn washed_too_early(sim: &mut Sim<'_>, order: OrderId) {
    let (bea, card) = (sim.staff.detail.0, sim.step_card(order, "delivery", "detail"));
    let free = !sim.doing.contains_key(&bea) && sim.here(bea);
    if let Some(card) = card.filter(|_| free) {
        dispatch::start(sim, bea, card);
    }
}

/// Only planners promise: the phone says so.
fn not_mine_to_promise(sim: &mut Sim<'_>, person: PersonId, order: OrderId) {
    let due = Some(sim.clock(sim.after(sim.at, 900 * MINUTE), 15 * 60));
    sim.try_in_vain(person, Act::Promise { order, due, reason: None });
}
