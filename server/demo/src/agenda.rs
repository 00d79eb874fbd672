//! What happens to a repair order between the work: keys in, approval, parts, promises, keys back.

use domain::ids::*;
use domain::leaving::{self, Left};
use domain::stored::*;
use domain::{MINUTE, Ms, calendar};

use super::sim::{DAY, Sim};
use super::{job, talk};

/// Something that is due at a time.
#[derive(Clone, Debug)]
pub(super) enum Todo {
    Arrive {
        order: OrderId,
    },
    /// A new vehicle stands at the door unannounced.
    WalkIn,
    Authorise {
        order: OrderId,
        hold: Option<HoldId>,
    },
    PartsHere {
        order: OrderId,
        hold: HoldId,
    },
    Approve {
        order: OrderId,
        hold: HoldId,
        card: CardId,
    },
    Back {
        order: OrderId,
        hold: HoldId,
    },
    /// The promise is looked at again.
    Chase {
        order: OrderId,
    },
    KeysBack {
        order: OrderId,
    },
    Answer {
        exception: ExceptionId,
    },
    /// Back to where it stood while it was open.
    Return {
        order: OrderId,
        place: PlaceId,
    },
}

pub(super) fn due(sim: &mut Sim<'_>) {
    while let Some(((at, n), todo)) = sim.agenda.first_key_value().map(|(key, todo)| (*key, todo.clone())) {
        if at > sim.at {
            return;
        }
        sim.agenda.remove(&(at, n));
        act_on(sim, todo);
    }
}

fn act_on(sim: &mut Sim<'_>, todo: Todo) {
    let (planner, manager) = (sim.staff.planner.0, sim.staff.manager.0);
    match todo {
        Todo::WalkIn => job::open(sim, true),
        Todo::Arrive { order } => arrive(sim, order),
        Todo::Authorise { order, hold } => authorise(sim, order, hold),
        Todo::PartsHere { order, hold } => {
            let by = sim.staff.parts.0;
            sim.act(by, Act::Unhold { order, hold });
            if sim.chance.percent(30) {
                let body = talk::parts_note(&mut sim.chance).to_owned();
                sim.act(by, Act::Note { order, card: None, body });
            }
        }
        Todo::Approve { order, hold, card } => {
            sim.act(
                planner,
                Act::EditCard { card, change: CardChange { approved: true, ..CardChange::default() } },
            );
            sim.act(planner, Act::Unhold { order, hold });
        }
        Todo::Back { order, hold } => {
            sim.act(planner, Act::Stage { order, stage: Stage::Authorised, reason: None });
            sim.act(planner, Act::Unhold { order, hold });
            sim.act(planner, Act::Move { order, to: "lot".into(), on: Some(StandsOn::Wheels) });
        }
        Todo::Chase { order } => chase(sim, order),
        Todo::KeysBack { order } => {
            let by = if sim.chance.percent(60) { planner } else { manager };
            let change =
                ConditionChange { keys: Some("with the customer".into()), ..ConditionChange::default() };
            sim.act(by, Act::Condition { order, change });
            sim.act(by, Act::Stage { order, stage: Stage::Delivered, reason: None });
        }
        Todo::Answer { exception } => {
            let stands = sim.state.exceptions.get(&exception).filter(|e| e.answered_by.is_none());
            let kind = stands.map(|e| e.kind);
            if let Some(kind) = kind {
                let reason = talk::answer(kind, &mut sim.chance).to_owned();
                sim.act(planner, Act::Answer { exception, reason });
            }
        }
        Todo::Return { order, place } => {
            let by = sim.staff.mechanics[0];
            let still_open = sim.order(order).is_some_and(|o| !o.open.is_empty());
            if still_open {
                sim.act(by, Act::Move { order, to: place, on: Some(StandsOn::Lift) });
            }
        }
    }
}

/// Keys in for a vehicle that was booked.
fn arrive(sim: &mut Sim<'_>, order: OrderId) {
    let planner = sim.staff.planner.0;
    sim.act(planner, Act::Stage { order, stage: Stage::Arrived, reason: None });
    sim.act(planner, Act::Move { order, to: "front".into(), on: Some(StandsOn::Wheels) });
    job::keys_in(sim, order);
}

pub(super) fn authorise(sim: &mut Sim<'_>, id: OrderId, hold: Option<HoldId>) {
    let planner = sim.staff.planner.0;
    if let Some(hold) = hold {
        sim.act(planner, Act::Unhold { order: id, hold });
    }
    sim.act(planner, Act::Stage { order: id, stage: Stage::Authorised, reason: None });
    promise(sim, id);
    let job = sim.jobs.get(&id).cloned().unwrap_or_default();
    if !job.scripted && sim.chance.percent(52) {
        parts(sim, id);
    }
}

/// A date that the shop believes in: the planned work, the usual waiting, then the afternoon of that day.
fn promise(sim: &mut Sim<'_>, id: OrderId) {
    let left: u32 = sim.state.cards_of(id).filter(|c| !c.life.is_over()).map(|c| c.planned_minutes).sum();
    let slack = sim.chance.between(5, 9) * 510;
    let at = sim.after(sim.at, (i64::from(left) * 14 / 10 + slack) * MINUTE);
    let due = sim.clock(at, 15 * 60 + 30);
    let planner = sim.staff.planner.0;
    if sim.act(planner, Act::Promise { order: id, due: Some(due), reason: None }).is_some() {
        // Looked at again the morning before.
        let look = sim.clock(due - DAY, 8 * 60 + 20);
        sim.on(look, Todo::Chase { order: id });
    }
}

/// Some parts are not here yet: they hold up the first work or only the reassembly.
fn parts(sim: &mut Sim<'_>, id: OrderId) {
    let undone = |c: &&Card| !c.life.is_over() && c.spans.is_empty();
    let late = sim.chance.percent(45);
    let held: Vec<CardId> = sim
        .state
        .cards_of(id)
        .filter(undone)
        .filter(|c| {
            let word = c.routing.as_ref().map_or("", |r| r.0.as_str());
            if late {
                word == "reassembly"
            } else {
                matches!(word, "panel-joined" | "structure" | "bolt-on" | "loose-part")
            }
        })
        .map(|c| c.id)
        .collect();
    if held.is_empty() {
        return;
    }
    let days = sim.chance.between(1, if late { 8 } else { 4 });
    let due = sim.clock(sim.after(sim.at, days * 510 * MINUTE), 10 * 60);
    let note = Some(talk::parts_hold(&mut sim.chance).to_owned());
    let hold = Act::Hold {
        order: id,
        what: HoldKind::Parts,
        cards: held,
        blocks: Blocks::Start,
        due: Some(due),
        note,
    };
    if let Some(op) = sim.act(sim.staff.parts.0, hold) {
        let slip = if sim.chance.percent(25) { sim.chance.between(1, 3) * DAY } else { 0 };
        let minutes = sim.chance.between(-60, 180);
        let here = sim.after(due + slip + minutes * MINUTE, 0);
        sim.on(here, Todo::PartsHere { order: id, hold: HoldId(op.0) });
    }
}

/// The morning before the promise: what cannot be kept is said before the customer asks, mostly.
fn chase(sim: &mut Sim<'_>, id: OrderId) {
    let Some(order) = sim.order(id).cloned() else { return };
    let left: u32 = sim.state.cards_of(id).filter(|c| !c.life.is_over()).map(|c| c.planned_minutes).sum();
    if matches!(order.stage, Stage::Ready | Stage::Delivered | Stage::Stopped)
        || left < 400
        || sim.chance.percent(35)
    {
        return;
    }
    let days = i64::from(left) / 250 + 2;
    let due = sim.clock(sim.after(sim.at, days * 510 * MINUTE), 15 * 60 + 30);
    let reason = Some(talk::promise_reason(&mut sim.chance).to_owned());
    sim.act(sim.staff.planner.0, Act::Promise { order: id, due: Some(due), reason });
    sim.on(sim.clock(due - DAY, 8 * 60 + 20), Todo::Chase { order: id });
}

/// Everything is done: say so, tell the customer, hand the keys back.
pub(super) fn ready_if_done(sim: &mut Sim<'_>, id: OrderId, by: PersonId) {
    let undone = sim.state.cards_of(id).any(|c| !c.life.is_over() && c.life != Life::Proposed);
    let told = sim.jobs.get(&id).is_some_and(|job| job.ready);
    let stage = sim.order(id).map(|o| o.stage);
    if undone || told || !matches!(stage, Some(Stage::Authorised)) {
        return;
    }
    answer_what_stands(sim, id);
    sim.jobs.entry(id).or_default().ready = true;
    sim.act(by, Act::Stage { order: id, stage: Stage::Ready, reason: None });
    sim.act(by, Act::Move { order: id, to: "front".into(), on: Some(StandsOn::Wheels) });
    let wait = sim.chance.between(30, 700);
    sim.later(wait, Todo::KeysBack { order: id });
}

/// Nothing leaves unanswered: whoever calls it ready has the planner look first.
fn answer_what_stands(sim: &mut Sim<'_>, id: OrderId) {
    let Some(order) = sim.order(id).cloned() else { return };
    let planner = sim.staff.planner.0;
    let standing: Vec<Left> = leaving::unanswered(&sim.state, &order).collect();
    for left in standing {
        if let Left::Unanswered(exception) = left {
            sim.act(planner, Act::Answer { exception, reason: talk::LOOKED_AT.to_owned() });
        }
    }
}

/// Away to a sublet, with the keys, back some days later.
pub(super) fn send_away(sim: &mut Sim<'_>, id: OrderId) {
    let planner = sim.staff.planner.0;
    let days = sim.chance.between(1, 3);
    let due = sim.clock(sim.after(sim.at, days * 510 * MINUTE), 14 * 60);
    let note = Some(talk::sublet(&mut sim.chance).to_owned());
    let hold = Act::Hold {
        order: id,
        what: HoldKind::Sublet,
        cards: Vec::new(),
        blocks: Blocks::Start,
        due: Some(due),
        note,
    };
    let Some(op) = sim.act(planner, hold) else { return };
    sim.act(planner, Act::Move { order: id, to: "outside".into(), on: Some(StandsOn::Wheels) });
    sim.act(planner, Act::Stage { order: id, stage: Stage::Away, reason: None });
    let late = sim.chance.between(-90, 300) * MINUTE;
    let back: Ms = sim.after(due + late, 0);
    sim.on(back, Todo::Back { order: id, hold: HoldId(op.0) });
}

/// Vehicles that are here, and those booked.
pub(super) fn in_work(sim: &Sim<'_>) -> (usize, usize) {
    let expected = sim.state.in_shop().filter(|o| o.stage == Stage::Expected).count();
    (sim.state.in_shop().count() - expected, expected)
}

/// The first open day at or after `at`, at that local time.
pub(super) fn open_day(sim: &Sim<'_>, at: Ms, minute: u16) -> Ms {
    let mut day = at;
    for _ in 0..14 {
        if calendar::open_day(&sim.state, sim.zone, day) {
            break;
        }
        day += DAY;
    }
    sim.clock(day, minute)
}
