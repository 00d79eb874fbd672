//! Measures: where time goes. Computed from the state alone, so only from what the log says; work that arrives
//! late from an offline phone changes the past here as it does there.
//!
//! Invariants: each measure states its unit, its clock and its count; stopped orders are left out of every
//! visit; an empty stretch of time gives no value, never a zero that looks like one; what runs backwards took
//! no time. `MEASURES.md` defines each measure, and a test holds it against this code.
//!
//! Each measure passes once over what it needs: its cost grows with the shop, not with the square of it.

mod cases;
pub mod control;
mod crew;
pub mod pay;
mod place;
mod quality;
mod span;
mod standing;
mod visit;
mod waits;
mod work;

use std::collections::{BTreeMap, BTreeSet};

use jiff::tz::TimeZone;

use crate::ids::*;
use crate::state::State;
use crate::stored::*;
use crate::{MINUTE, Ms, calendar};
use crew::Crew;
use place::Places;
use span::OpenTime;
use visit::Visit;
use waits::Stood;

pub use crate::waiting::Reason;
pub use cases::percentile;
pub use visit::Class;

/// What the value of a measure counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Days of 24 hours.
    Days,
    /// Hours.
    Hours,
    /// Vehicles.
    Vehicles,
    /// Hours per day.
    HoursPerDay,
    /// Between 0 and 1.
    Share,
    /// One number divided by another of its kind.
    Ratio,
    /// How often a promise was moved.
    Moves,
}

impl Unit {
    /// Its stable name on the wire.
    pub fn word(self) -> &'static str {
        match self {
            Unit::Days => "days",
            Unit::Hours => "hours",
            Unit::Vehicles => "vehicles",
            Unit::HoursPerDay => "hours_per_day",
            Unit::Share => "share",
            Unit::Ratio => "ratio",
            Unit::Moves => "moves",
        }
    }
}

/// Which hours count in a measure of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clock {
    /// Nights and weekends count.
    Calendar,
    /// Only hours in which the shop is open count.
    Working,
    /// A count or a sum of clocked or sold hours: no clock runs.
    None,
}

impl Clock {
    /// Its stable name on the wire.
    pub fn word(self) -> &'static str {
        match self {
            Clock::Calendar => "calendar",
            Clock::Working => "working",
            Clock::None => "none",
        }
    }
}

/// One measure, overall and broken down.
#[derive(Debug, Clone, PartialEq)]
pub struct Measure {
    /// Stable name, as in MEASURES.md.
    pub id: &'static str,
    /// What its values count.
    pub unit: Unit,
    /// Which hours count.
    pub clock: Clock,
    /// Over everything that was asked about.
    pub all: Figure,
    /// Broken down by class of vehicle, department, equipment, reason or month; a slash joins two of them.
    pub by: BTreeMap<String, Figure>,
}

/// `count` cases; the value (a median, mean, sum or share as the measure defines) and the 90th percentile.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Figure {
    /// How many cases it rests on.
    pub count: u32,
    /// Median, mean, sum or share, as the measure defines; none without cases.
    pub value: Option<f64>,
    /// The 90th percentile; none where the measure has none.
    pub p90: Option<f64>,
}

const DAY_MS: Ms = 24 * 60 * MINUTE;
const HOUR: f64 = 60.0 * MINUTE as f64;
const DAY: f64 = DAY_MS as f64;

/// Calendars are unrolled no further back than this: anything older comes from a broken clock.
const HISTORY_MAX: Ms = 25 * 366 * DAY_MS;

/// What is asked about: `[from, to)`, optionally of one department or class of vehicles only. Whatever still
/// runs ends at `now`, and nothing after it is measured.
#[derive(Debug, Clone, Default)]
pub struct Question {
    /// The beginning of the stretch, UTC ms, included.
    pub from: Ms,
    /// Its end, UTC ms, not included.
    pub to: Ms,
    /// The present, UTC ms.
    pub now: Ms,
    /// Cards, hand-offs, waits and equipment of this department; visits on which it had a card.
    pub department: Option<DepartmentId>,
    /// Vehicles of this class. Open hours of equipment belong to no class and are left out then.
    pub class: Option<Class>,
}

impl Question {
    /// The state with every visit warm that the answer may concern: of vehicles that left before the stretch,
    /// those whose ninety days reach into it.
    fn warmed(&self, state: &State) -> State {
        state.warmed(self.from.saturating_sub(quality::MATURE))
    }
}

/// Every measure over `[from, to)`, of everything.
pub fn measures(state: &State, zone: &TimeZone, from: Ms, to: Ms, now: Ms) -> Vec<Measure> {
    answer(state, zone, &Question { from, to, now, ..Question::default() })
}

/// Every measure that the question asks for.
pub fn answer(state: &State, zone: &TimeZone, question: &Question) -> Vec<Measure> {
    let state = question.warmed(state);
    let view = View::new(&state, zone, question);
    let mut found = Vec::new();
    found.extend(view.legs());
    found.extend(view.promises());
    found.extend(view.touch());
    found.extend(view.latencies());
    found.extend(view.clocked());
    found.extend(view.planned());
    found.push(view.waited());
    let (stood, places) = view.stood();
    found.extend(view.waits(&stood));
    if question.class.is_none() {
        found.push(view.equipment_time(&places, &stood));
    }
    found.extend(view.equipment_held());
    found.extend(view.throughput());
    found.extend(view.in_shop());
    found.extend(view.comebacks());
    found.extend(view.rework());
    found
}

struct View<'a> {
    state: &'a State,
    zone: &'a TimeZone,
    question: &'a Question,
    from: Ms,
    to: Ms,
    now: Ms,
    /// No vehicle came before this.
    began: Ms,
    /// Visits that were not over before the stretch, with their cards.
    visits: Vec<Visit<'a>>,
    /// Cards of other visits on which something happened in the stretch all the same.
    stray: Vec<&'a Card>,
    /// When the shop was open, from the first vehicle on.
    open: OpenTime,
}

impl<'a> View<'a> {
    fn new(state: &'a State, zone: &'a TimeZone, question: &'a Question) -> Self {
        // Nothing happened before 1970 or after now, whatever the question says.
        let from = question.from.max(0);
        let to = question.to.min(question.now).max(from);
        let over = |order: &Order| {
            let ended = order.stages.iter().rfind(|s| s.stage == Stage::Delivered);
            order.stage == Stage::Delivered && ended.is_some_and(|s| s.at < from)
        };
        let (mut visits, mut ids) = (Vec::new(), BTreeSet::new());
        for order in state.orders.values().filter(|order| !over(order)) {
            visits.push(Visit::new(state, order).with_cards(state));
            ids.insert(order.id);
        }
        // One pass over every card; visits that are long over are looked at in no other way.
        let moved = |card: &&Card| {
            card.done_at.is_some_and(|at| at >= from)
                || card.spans.iter().any(|s| s.to.is_none_or(|to| to >= from) || s.from >= from)
        };
        let cards = state.cards.values().map(|card| &**card);
        let stray = cards.filter(moved).filter(|card| !ids.contains(&card.order)).collect();
        let firsts = state.orders.values().filter_map(|order| order.stages.first());
        let began = firsts.map(|first| first.at).min().unwrap_or(to).clamp(0, to);
        let began = began.max(to - HISTORY_MAX);
        let open = OpenTime::new(calendar::of_shop(state, zone, began, to));
        Self { state, zone, question, from, to, now: question.now, began, visits, stray, open }
    }

    fn inside(&self, at: Ms) -> bool {
        (self.from..self.to).contains(&at)
    }

    /// Visits that were in the shop at some time in the stretch, whatever else is asked of them.
    fn here(&self) -> impl Iterator<Item = &Visit<'a>> {
        let here = |visit: &&Visit<'a>| {
            visit.order.stage != Stage::Expected
                && visit.order.stages.first().is_some_and(|first| first.at < self.to)
                && visit.over.is_none_or(|over| over > self.from)
        };
        self.visits.iter().filter(here)
    }

    /// What every vehicle was doing all the time, and who was on which equipment.
    fn stood(&self) -> (Stood<'a>, Places<'a>) {
        let began = self.from.max(self.began);
        let mut crew = Crew::new(self, began);
        let mut places = Places::new(self);
        let window = (self.from, self.to, self.now);
        let mut stood = Stood::new();
        for visit in self.here() {
            let found = standing::stretches(self.state, visit, window, &mut crew, &mut places);
            stood.insert(visit.order.id, found);
        }
        (stood, places)
    }

    fn wants(&self, department: &DepartmentId) -> bool {
        self.question.department.as_ref().is_none_or(|asked| asked == department)
    }

    fn wants_class(&self, classes: [Class; 2]) -> bool {
        self.question.class.is_none_or(|asked| classes.contains(&asked))
    }

    fn wants_order(&self, id: OrderId) -> bool {
        self.question.class.is_none()
            || self.state.orders.get(&id).is_some_and(|o| self.wants_class(Visit::new(self.state, o).classes))
    }

    fn wants_visit(&self, visit: &Visit<'_>) -> bool {
        let cards = || self.state.cards_of(visit.order.id).filter(|c| c.life != Life::Cancelled);
        self.wants_class(visit.classes)
            && (self.question.department.is_none() || cards().any(|card| self.wants(&card.department)))
    }

    fn wants_equipment(&self, id: &EquipmentId) -> bool {
        self.state.equipment.get(id).map_or(self.question.department.is_none(), |e| self.wants(&e.department))
    }

    /// Every card on which something may have happened in the stretch.
    fn every_card(&self) -> impl Iterator<Item = &'a Card> {
        self.visits.iter().flat_map(|visit| &visit.cards).chain(&self.stray).copied()
    }

    /// Those that are asked about.
    fn cards(&self) -> impl Iterator<Item = &'a Card> {
        self.every_card().filter(|card| self.wants(&card.department) && self.wants_order(card.order))
    }
}
