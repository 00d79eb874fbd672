//! Vehicles whose story is told on purpose, at set distances from now, so that today's work shows what
//! the shop's day is made of. The stories themselves stand in `lines`.
//!
//! Invariant: a script acts through the same rules, people and equipment as everybody else; where
//! somebody or something is not free it waits, and its later lines with it.

use std::collections::{BTreeMap, VecDeque};

use domain::ids::*;
use domain::stored::*;
use domain::{MINUTE, Ms};

use super::agenda;
use super::dispatch;
use super::job;
use super::lines;
use super::sim::{At, Effort, Job, Sim};

type Doing = Box<dyn Fn(&mut Sim<'_>, &mut Cast)>;

enum Deed {
    Do(Doing),
    /// Somebody works so many minutes on a card; the next line waits until it is done.
    Work {
        who: PersonId,
        card: &'static str,
        minutes: i64,
        onto: Option<&'static str>,
    },
}

struct Line {
    at: Ms,
    deed: Deed,
}

/// The vehicle of a story and the names its cards and holds have there.
#[derive(Default)]
pub(super) struct Cast {
    order: Option<OrderId>,
    cards: BTreeMap<&'static str, CardId>,
    pub hold: Option<HoldId>,
}

impl Cast {
    pub fn order(&self) -> OrderId {
        self.order.unwrap_or(OrderId(uuid::Uuid::nil()))
    }

    /// A named card, else `routing/step`.
    pub fn card(&self, sim: &Sim<'_>, name: &str) -> CardId {
        let named = self.cards.get(name).copied();
        let step =
            || name.split_once('/').and_then(|(routing, step)| sim.step_card(self.order(), routing, step));
        named.or_else(step).unwrap_or(CardId(uuid::Uuid::nil()))
    }

    pub fn name(&mut self, name: &'static str, op: Option<OpId>) {
        if let Some(op) = op {
            self.cards.insert(name, CardId(op.0));
        }
    }
}

pub(super) struct Script {
    lines: VecDeque<Line>,
    cast: Cast,
    working: Option<CardId>,
    /// Afterwards the vehicle goes on like any other.
    released: bool,
}

/// A story being written: each line so many working minutes before now.
#[derive(Default)]
pub(super) struct Story {
    lines: Vec<(i64, Deed)>,
    released: bool,
}

impl Story {
    pub fn tell(&mut self, before: i64, doing: impl Fn(&mut Sim<'_>, &mut Cast) + 'static) -> &mut Self {
        self.lines.push((before, Deed::Do(Box::new(doing))));
        self
    }

    pub fn work(&mut self, before: i64, who: PersonId, card: &'static str, minutes: i64) -> &mut Self {
        self.lines.push((before, Deed::Work { who, card, minutes, onto: None }));
        self
    }

    pub fn work_on(
        &mut self,
        before: i64,
        who: PersonId,
        card: &'static str,
        minutes: i64,
        onto: &'static str,
    ) -> &mut Self {
        self.lines.push((before, Deed::Work { who, card, minutes, onto: Some(onto) }));
        self
    }

    /// Afterwards the vehicle goes on like any other.
    pub fn release(&mut self) -> &mut Self {
        self.released = true;
        self
    }

    /// Keys in for a vehicle with its work laid out, led by somebody.
    pub fn open(
        &mut self,
        before: i64,
        lead: PersonId,
        vehicle: &'static str,
        routings: &'static [&'static str],
    ) -> &mut Self {
        self.tell(before, move |sim, cast| {
            let open = blank_order(sim, vehicle, routings);
            enter(sim, cast, open, lead);
        })
    }

    /// The supplement is sent, and answered later.
    pub fn approval(&mut self, sent: i64, answered: i64) -> &mut Self {
        self.tell(sent, |sim, cast| {
            let cards: Vec<CardId> = sim
                .state
                .cards_of(cast.order())
                .filter(|c| !c.life.is_over() && c.routing.as_ref().is_some_and(|r| r.0 != "teardown"))
                .map(|c| c.id)
                .collect();
            let due = Some(sim.after(sim.at, 700 * MINUTE));
            let note = Some("Supplement sent with photos.".to_owned());
            let order = cast.order();
            let hold = Act::Hold { order, what: HoldKind::Approval, cards, blocks: Blocks::Start, due, note };
            cast.hold = sim.act(sim.staff.planner.0, hold).map(|op| HoldId(op.0));
        });
        self.tell(answered, |sim, cast| agenda::authorise(sim, cast.order(), cast.hold))
    }

    fn script(self, sim: &Sim<'_>) -> Script {
        let lines = self.lines.into_iter().map(|(before, deed)| Line { at: sim.before_now(before), deed });
        Script { lines: lines.collect(), cast: Cast::default(), working: None, released: self.released }
    }
}

pub(super) fn blank_order(sim: &mut Sim<'_>, vehicle: &str, routings: &[&str]) -> OpenOrder {
    sim.number += 1;
    OpenOrder {
        number: sim.number.to_string(),
        vehicle: vehicle.to_owned(),
        vin: Some(job::vin(&mut sim.chance)),
        towed_in: false,
        weight: 2,
        stage: Stage::Arrived,
        expected_at: None,
        promise: None,
        place: Some("lot".into()),
        energy: None,
        sold_minutes: Some(600 + 120 * routings.len() as u32),
        comeback_of: None,
        routings: routings.iter().map(|r| (*r).into()).collect(),
        arrived_at: None,
    }
}

pub(super) fn enter(sim: &mut Sim<'_>, cast: &mut Cast, open: OpenOrder, lead: PersonId) {
    let planner = sim.staff.planner.0;
    let here = open.stage != Stage::Expected;
    let Some(op) = sim.act(planner, Act::OpenOrder(open)) else { return };
    let order = OrderId(op.0);
    cast.order = Some(order);
    sim.jobs.insert(order, Job { scripted: true, ..Job::default() });
    if here {
        job::keys_in(sim, order);
    }
    sim.act(planner, Act::Lead { order, department: "body".into(), person: Some(lead) });
}

/// Writes the stories down and keeps the equipment free that they need.
pub(super) fn prepare(sim: &mut Sim<'_>) {
    let scripts: Vec<Script> =
        lines::stories(&sim.staff).into_iter().map(|story| story.script(sim)).collect();
    sim.scripts = scripts;
    for (equipment, from, to) in lines::RESERVED {
        let reserved = (sim.before_now(from), sim.before_now(to));
        sim.reserved.insert(equipment.into(), reserved);
    }
}

pub(super) fn go_on(sim: &mut Sim<'_>) {
    let mut scripts = std::mem::take(&mut sim.scripts);
    for script in &mut scripts {
        step(sim, script);
    }
    sim.scripts = scripts;
}

fn step(sim: &mut Sim<'_>, script: &mut Script) {
    loop {
        if script.working.is_some_and(|card| sim.card(card).is_some_and(|c| !c.life.is_over())) {
            return;
        }
        script.working = None;
        let Some(line) = script.lines.front() else { break };
        if line.at > sim.at {
            return;
        }
        match &line.deed {
            Deed::Do(doing) => doing(sim, &mut script.cast),
            Deed::Work { who, card, minutes, onto } => {
                let card = script.cast.card(sim, card);
                if !work(sim, *who, card, *minutes, *onto) {
                    return;
                }
                script.working = Some(card);
            }
        }
        script.lines.pop_front();
    }
    if script.released
        && let Some(job) = sim.jobs.get_mut(&script.cast.order())
    {
        job.scripted = false;
        script.released = false;
        sim.stirred = true;
    }
}

/// Begins a card if the person can leave what is in hand and the equipment is free.
fn work(sim: &mut Sim<'_>, who: PersonId, id: CardId, minutes: i64, onto: Option<&str>) -> bool {
    let Some(card) = sim.card(id).cloned() else {
        sim.dropped.push(format!("no card for a line of {minutes} minutes"));
        return true;
    };
    let busy = sim.doing.get(&who).and_then(|at| sim.card(at.card()));
    let cannot_leave = busy.is_some_and(|c| {
        c.needs.one_go || sim.jobs.get(&c.order).is_some_and(|job| job.scripted) || in_the_way(sim, c.order)
    });
    let onto = onto.map(EquipmentId::from);
    let occupied = sim.occupied();
    let other = onto.as_ref().and_then(|e| occupied.get(e)).is_some_and(|on| *on != card.order);
    let cured = card.ready_at.is_some_and(|ready| ready <= sim.at) || card.needs.closes.is_some();
    if cannot_leave || other || !cured || !sim.here(who) {
        return false;
    }
    if let Some(At::Running { card, since }) = sim.doing.remove(&who) {
        dispatch::worked(sim, card, since);
    }
    let stands = sim.order(card.order).and_then(|o| o.condition.place.as_ref()).map(|p| p.0.clone());
    let onto = onto.filter(|e| stands.as_ref() != Some(&e.0));
    dispatch::bring(sim, who, &card, onto);
    if sim.act(who, Act::Start { card: id, on: None }).is_some() {
        sim.effort.insert(id, Effort { need: minutes * MINUTE, done: 0 });
        sim.doing.insert(who, At::Running { card: id, since: sim.at });
    }
    true
}

/// The vehicle stands open where a story needs the equipment: that is finished first.
fn in_the_way(sim: &Sim<'_>, order: OrderId) -> bool {
    let reserved =
        |e: &EquipmentId| sim.reserved.get(e).is_some_and(|(from, to)| (*from..*to).contains(&sim.at));
    let held = sim.order(order).map_or(&[] as &[OpenNow], |o| &o.open);
    held.iter().any(|now| now.equipment.as_ref().is_some_and(reserved))
}
