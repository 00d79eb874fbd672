//! The simulated shop: its state, its clock, and the one way in which anything happens in it.
//!
//! Invariants: every act goes through the rules ([`domain::decide`]) and only what they accept changes
//! the state; the clock never runs back and never passes the end of the stretch of working time in hand.

use std::collections::{BTreeMap, BTreeSet};

use domain::decide::{self, Context, Refusal, SYSTEM};
use domain::ids::*;
use domain::state::State;
use domain::stored::*;
use domain::{MINUTE, Ms, calendar, fold};
use jiff::tz::TimeZone;
use uuid::{Builder, Uuid};

use super::DemoOp;
use super::agenda::Todo;
use super::chance::Chance;
use super::scenario::Script;
use super::staff::Staff;

pub(super) const DAY: Ms = 24 * 60 * MINUTE;

/// What somebody is at.
#[derive(Clone, Copy)]
pub(super) enum At {
    /// Has taken it and fetches the vehicle until then.
    Fetching {
        card: CardId,
        until: Ms,
    },
    Running {
        card: CardId,
        since: Ms,
    },
    /// Stopped for the break or the night, goes on with it.
    Break {
        card: CardId,
    },
}

/// How much work a card really is, and how much of it is done.
#[derive(Clone, Copy)]
pub(super) struct Effort {
    pub need: Ms,
    pub done: Ms,
}

/// What the simulation knows about a repair order besides the state.
#[derive(Clone, Default)]
pub(super) struct Job {
    /// Its acts come from a script, not from the queues.
    pub scripted: bool,
    /// Round trip the body technician will ask for.
    pub trip: Option<&'static str>,
    pub sublet: bool,
    pub supplement: bool,
    pub approval_days: i64,
    pub ready: bool,
}

pub(super) struct Sim<'a> {
    pub state: State,
    pub chance: Chance,
    pub zone: &'a TimeZone,
    pub at: Ms,
    pub limit: Ms,
    pub now: Ms,
    pub ops: Vec<DemoOp>,
    /// Acts that the rules refused although the simulation meant them: a mistake of ours, none in tests.
    pub dropped: Vec<String>,
    pub staff: Staff,
    pub agenda: BTreeMap<(Ms, u64), Todo>,
    pub scripts: Vec<Script>,
    /// Equipment that the scripts need, from when to when.
    pub reserved: BTreeMap<EquipmentId, (Ms, Ms)>,
    pub doing: BTreeMap<PersonId, At>,
    pub effort: BTreeMap<CardId, Effort>,
    pub jobs: BTreeMap<OrderId, Job>,
    pub pictures: Vec<(String, u64)>,
    pub number: u32,
    /// Working time of the shop, far beyond now.
    pub open: Vec<calendar::Interval>,
    /// Something happened since people last looked for work.
    pub stirred: bool,
    pub next_ready: Ms,
}

impl<'a> Sim<'a> {
    pub fn new(seed: u64, from: Ms, now: Ms, zone: &'a TimeZone) -> Self {
        let day = calendar::local_date(now, zone);
        let dated = (i64::from(day.year()) * 400 + i64::from(day.month()) * 31 + i64::from(day.day())) as u64;
        Self {
            state: State::default(),
            chance: Chance::new(seed.wrapping_mul(0x1000_0000_01B3) ^ dated),
            zone,
            at: from,
            limit: from + MINUTE,
            now,
            ops: Vec::new(),
            dropped: Vec::new(),
            staff: Staff::default(),
            agenda: BTreeMap::new(),
            scripts: Vec::new(),
            reserved: BTreeMap::new(),
            doing: BTreeMap::new(),
            effort: BTreeMap::new(),
            jobs: BTreeMap::new(),
            pictures: Vec::new(),
            number: 61_860,
            open: Vec::new(),
            stirred: true,
            next_ready: Ms::MAX,
        }
    }

    /// An id as a phone would make it: UUIDv7 (RFC 9562) of the moment, its chance from the seed.
    pub fn uuid(&mut self) -> Uuid {
        let chance = self.chance.bytes();
        Builder::from_unix_timestamp_millis(self.at.max(0) as u64, &chance).into_uuid()
    }

    /// Does it, a few seconds after the act before. None if the rules refuse it.
    pub fn act(&mut self, by: PersonId, act: Act) -> Option<OpId> {
        self.tick_on();
        let op = OpId(self.uuid());
        match self.decide(by, op, &act) {
            Ok(events) => {
                for event in &events {
                    fold::fold(&mut self.state, event, &mut fold::Changed::new());
                }
                if !events.is_empty() {
                    self.stirred = true;
                    self.follow_up(&events);
                    self.ops.push(DemoOp { at: self.at, by, op, act, refused: false });
                }
                Some(op)
            }
            Err(no) => {
                self.dropped.push(format!("{no}: {act:?}"));
                None
            }
        }
    }

    /// Somebody tries what the rules refuse: kept in the log, changes nothing.
    pub fn try_in_vain(&mut self, by: PersonId, act: Act) {
        self.tick_on();
        let op = OpId(self.uuid());
        if self.decide(by, op, &act).is_err() {
            self.ops.push(DemoOp { at: self.at, by, op, act, refused: true });
        }
    }

    fn decide(&self, by: PersonId, op: OpId, act: &Act) -> Result<Vec<Event>, Refusal> {
        let role = if by == SYSTEM {
            Role::Admin
        } else {
            self.state.people.get(&by).map_or(Role::Technician, |p| p.role)
        };
        let context = Context { by, role, op, at: self.at, uncertain: false, now: self.at, zone: self.zone };
        decide::decide(&self.state, act, &[], &context)
    }

    fn tick_on(&mut self) {
        self.at = (self.at + self.chance.between(1_500, 14_000)).min(self.limit);
    }

    /// Exceptions are answered later, nearly all of them.
    fn follow_up(&mut self, events: &[Event]) {
        for event in events {
            if let Event::ExceptionRaised { exception } = event {
                let scripted = self.jobs.get(&exception.order).is_some_and(|job| job.scripted);
                if !scripted {
                    let after = self.chance.between(40, 500);
                    self.later(after, Todo::Answer { exception: exception.id });
                }
            }
        }
    }

    pub fn order(&self, id: OrderId) -> Option<&Order> {
        self.state.orders.get(&id).map(|order| &**order)
    }

    pub fn card(&self, id: CardId) -> Option<&Card> {
        self.state.cards.get(&id).map(|card| &**card)
    }

    /// The last card of an order laid out by this step of this routing.
    pub fn step_card(&self, order: OrderId, routing: &str, step: &str) -> Option<CardId> {
        let is =
            |c: &&Card| c.step.as_deref() == Some(step) && c.routing.as_ref().is_some_and(|r| r.0 == routing);
        self.state.cards_of(order).filter(is).last().map(|c| c.id)
    }

    /// Puts something on the agenda, so many working minutes from now on.
    pub fn later(&mut self, working_minutes: i64, todo: Todo) {
        let at = self.after(self.at, working_minutes * MINUTE);
        self.on(at, todo);
    }

    pub fn on(&mut self, at: Ms, todo: Todo) {
        self.agenda.insert((at, self.agenda.len() as u64 + self.chance.next() % 1_000_000 * 1_000), todo);
    }

    /// The instant after so much working time from `from`.
    pub fn after(&self, from: Ms, mut time: Ms) -> Ms {
        let first = self.open.partition_point(|(_, to)| *to <= from);
        for (begin, end) in &self.open[first..] {
            let begin = (*begin).max(from);
            if begin + time < *end {
                return begin + time;
            }
            time -= end - begin;
        }
        from + time
    }

    /// The instant so much working time before now.
    pub fn before_now(&self, minutes: i64) -> Ms {
        if minutes < 0 {
            return self.after(self.now, -minutes * MINUTE);
        }
        let mut time = minutes * MINUTE;
        for (begin, end) in self.open.iter().rev().filter(|(begin, _)| *begin < self.now) {
            let end = (*end).min(self.now);
            if time <= end - begin {
                return end - time;
            }
            time -= end - begin;
        }
        self.open.first().map_or(self.now, |(begin, _)| *begin)
    }

    /// A local time of that day.
    pub fn clock(&self, day: Ms, minute: u16) -> Ms {
        calendar::instant(calendar::local_date(day, self.zone), minute, self.zone).unwrap_or(day)
    }

    pub fn midnight(&self, at: Ms) -> Ms {
        self.clock(at, 0)
    }

    pub fn here(&self, person: PersonId) -> bool {
        let away = |p: &Person| p.away.iter().any(|a| (a.from..a.to).contains(&self.at));
        self.state.people.get(&person).is_some_and(|p| !away(p))
    }

    /// Which vehicle is on which equipment, and which equipment work on a loose part uses.
    pub fn occupied(&self) -> BTreeMap<EquipmentId, OrderId> {
        let mut on = BTreeMap::new();
        for order in self.state.in_shop() {
            let place = order.condition.place.as_ref().and_then(|p| self.state.places.get(p));
            if let Some(equipment) = place.and_then(|p| p.equipment.clone()) {
                on.insert(equipment, order.id);
            }
            for equipment in order.open.iter().filter_map(|now| now.equipment.clone()) {
                on.insert(equipment, order.id);
            }
            for card in self.state.cards_of(order.id) {
                if let (Some(used), Life::Working | Life::Paused) = (&card.used, card.life) {
                    on.insert(used.clone(), order.id);
                }
            }
        }
        for card in self.doing.values().filter_map(|at| self.card(at.card())) {
            if let (true, Some(kind)) = (card.needs.off_vehicle, &card.needs.equipment) {
                let mut of_kind = self.state.equipment.values().filter(|e| e.kind == *kind);
                on.extend(of_kind.next().map(|e| (e.id.clone(), card.order)));
            }
        }
        on
    }

    /// Vehicles that somebody works at, and whether somebody else may work beside.
    pub fn at_vehicle(&self) -> BTreeMap<OrderId, bool> {
        let mut at = BTreeMap::new();
        for doing in self.doing.values() {
            if let Some(card) = self.card(doing.card()).filter(|c| !c.needs.off_vehicle) {
                let beside = at.entry(card.order).or_insert(true);
                *beside &= card.needs.beside;
            }
        }
        at
    }

    pub fn places_taken(&self) -> BTreeSet<PlaceId> {
        self.state.in_shop().filter_map(|o| o.condition.place.clone()).collect()
    }
}

impl At {
    pub fn card(self) -> CardId {
        match self {
            At::Fetching { card, .. } | At::Running { card, .. } | At::Break { card } => card,
        }
    }
}
