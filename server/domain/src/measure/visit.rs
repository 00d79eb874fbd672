//! Visits: one vehicle from keys in to keys back. How long, how much of it was work, what was promised.
//!
//! Invariants: a visit counts when its keys went back inside the stretch measured; stopped ones never
//! count; what runs backwards took no time.

use super::cases::{Cases, Sums, days};
use super::span::{common, merged};
use super::{Clock, HOUR, Measure, Unit, View};
use crate::calendar::{self, Interval};
use crate::state::State;
use crate::stored::*;
use crate::{MINUTE, Ms};

/// Classes of vehicles that are never compared with each other: how they came, and how much work they are.
/// Sizes go by sold hours, or planned hours where none are sold. Classes are common practice, the limits are
/// ours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// Came on its own wheels.
    Rolling,
    /// Came on a tow truck.
    TowedIn,
    /// Less than 10 hours.
    Small,
    /// Less than 40 hours.
    Medium,
    /// 40 hours or more.
    Large,
}

impl Class {
    /// How they came first, then the sizes.
    pub const ALL: [Class; 5] = [Class::Rolling, Class::TowedIn, Class::Small, Class::Medium, Class::Large];

    /// Its stable name on the wire.
    pub fn word(self) -> &'static str {
        match self {
            Class::Rolling => "rolling",
            Class::TowedIn => "towed_in",
            Class::Small => "small",
            Class::Medium => "medium",
            Class::Large => "large",
        }
    }

    /// The class with this name, if there is one.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|class| class.word() == word)
    }
}

const SMALL_MINUTES: u32 = 10 * 60;
const MEDIUM_MINUTES: u32 = 40 * 60;

pub(super) struct Visit<'a> {
    pub order: &'a Order,
    /// Its cards as they were laid out; none if only the visit itself matters.
    pub cards: Vec<&'a Card>,
    pub classes: [Class; 2],
    pub arrived: Option<Ms>,
    pub authorised: Option<Ms>,
    pub ready: Option<Ms>,
    /// Keys back.
    pub left: Option<Ms>,
    pub stopped: Option<Ms>,
    /// From when on it waits for nothing and occupies nothing: keys back, or stopped and put back completely.
    /// Nobody may ever record that it left after that.
    pub over: Option<Ms>,
}

impl<'a> Visit<'a> {
    pub fn new(state: &State, order: &'a Order) -> Self {
        let first = |stage| order.stages.iter().find(|s| s.stage == stage).map(|s| s.at);
        let last = |stage| order.stages.iter().rfind(|s| s.stage == stage).map(|s| s.at);
        let left = (order.stage == Stage::Delivered).then(|| last(Stage::Delivered)).flatten();
        Self {
            order,
            cards: Vec::new(),
            classes: classes(state, order),
            arrived: first(Stage::Arrived),
            authorised: first(Stage::Authorised),
            // Reported too early and taken back: the last report counts.
            ready: last(Stage::Ready),
            left,
            stopped: first(Stage::Stopped),
            over: [left, put_away(state, order)].into_iter().flatten().min(),
        }
    }

    pub fn with_cards(self, state: &'a State) -> Self {
        Self { cards: state.cards_of(self.order.id).collect(), ..self }
    }

    pub fn keys(&self) -> [&'static str; 2] {
        self.classes.map(Class::word)
    }

    /// When it stopped being work in process.
    pub fn gone(&self) -> Option<Ms> {
        self.stopped.or(self.left)
    }
}

/// When a stopped vehicle was put back, if that is how its visit ended.
fn put_away(state: &State, order: &Order) -> Option<Ms> {
    let last = order.stages.iter().rfind(|s| s.stage != Stage::Delivered)?;
    let stopped = Some(last.at).filter(|_| last.stage == Stage::Stopped)?;
    let mut cards = state.cards_of(order.id);
    let put_back = cards.try_fold(stopped, |latest, card| match card.life {
        Life::Done => Some(card.done_at.map_or(latest, |done| done.max(latest))),
        Life::Cancelled | Life::Proposed => Some(latest),
        _ => None,
    });
    put_back.filter(|_| matches!(order.stage, Stage::Stopped | Stage::Delivered))
}

fn classes(state: &State, order: &Order) -> [Class; 2] {
    let came = if order.towed_in { Class::TowedIn } else { Class::Rolling };
    let planned = || {
        let cards = state.cards_of(order.id).filter(|c| c.life != Life::Cancelled);
        cards.fold(0_u32, |sum, card| sum.saturating_add(card.planned_minutes))
    };
    let size = match sold_minutes(state, order).unwrap_or_else(planned) {
        minutes if minutes < SMALL_MINUTES => Class::Small,
        minutes if minutes < MEDIUM_MINUTES => Class::Medium,
        _ => Class::Large,
    };
    [came, size]
}

/// Sold minutes of the order, else of its cards; none if nothing was sold.
pub(super) fn sold_minutes(state: &State, order: &Order) -> Option<u32> {
    order.sold_minutes.or_else(|| {
        let cards = state.cards_of(order.id).filter(|c| c.life != Life::Cancelled);
        let sold = cards.filter_map(|c| c.sold_minutes);
        Some(sold.fold(0, u32::saturating_add)).filter(|sold| *sold > 0)
    })
}

impl View<'_> {
    /// Visits that count, with when their keys went back.
    pub(super) fn delivered(&self) -> impl Iterator<Item = (&Visit<'_>, Ms)> {
        self.visits.iter().filter_map(|visit| {
            let left = visit.left.filter(|left| self.inside(*left) && visit.stopped.is_none())?;
            self.wants_visit(visit).then_some((visit, left))
        })
    }

    pub(super) fn legs(&self) -> [Measure; 5] {
        let leg = |id, ends: fn(&Visit<'_>, Ms) -> Option<(Ms, Ms)>| {
            let mut cases = Cases::default();
            for (visit, left) in self.delivered() {
                if let Some((from, to)) = ends(visit, left) {
                    cases.add(&visit.keys(), days(from, to));
                }
            }
            cases.medians(id, Unit::Days, Clock::Calendar)
        };
        let mut working = Cases::default();
        for (visit, left) in self.delivered() {
            if let Some(arrived) = visit.arrived {
                working.add(&visit.keys(), self.open.between(arrived, left) as f64 / HOUR);
            }
        }
        [
            leg("keys_to_keys", |v, left| Some((v.arrived?, left))),
            leg("keys_to_authorised", |v, _| Some((v.arrived?, v.authorised?))),
            leg("authorised_to_ready", |v, _| Some((v.authorised?, v.ready?))),
            leg("ready_to_keys", |v, left| Some((v.ready?, left))),
            working.medians("keys_to_keys_working", Unit::Hours, Clock::Working),
        ]
    }

    /// Judged by the first promise after authorisation; the last one, and how often it moved, are reported
    /// beside it.
    pub(super) fn promises(&self) -> [Measure; 3] {
        let (mut first, mut last, mut moves) = (Cases::default(), Cases::default(), Cases::default());
        for (visit, left) in self.delivered() {
            let done = visit.ready.unwrap_or(left);
            let kept = |promise: Ms| if done <= promise { 1.0 } else { 0.0 };
            let Some(promise) = visit.order.first_promise else { continue };
            first.add(&visit.keys(), kept(promise));
            last.add(&visit.keys(), kept(visit.order.promise.unwrap_or(promise)));
            moves.add(&visit.keys(), f64::from(visit.order.promise_moves));
        }
        [
            first.means("promise_kept", Unit::Share, Clock::None),
            last.means("promise_last_kept", Unit::Share, Clock::None),
            moves.means("promise_moves", Unit::Moves, Clock::None),
        ]
    }

    /// Hours per calendar day in the shop, sold ones (the trade's "touch time") and clocked ones: two
    /// numbers. And the share of open hours in which anybody worked on the vehicle.
    pub(super) fn touch(&self) -> [Measure; 3] {
        let (mut sold, mut clocked, mut flow) = (Cases::default(), Cases::default(), Cases::default());
        for (visit, left) in self.delivered() {
            let Some(arrived) = visit.arrived.filter(|arrived| *arrived < left) else { continue };
            let stay = days(arrived, left);
            if let Some(minutes) = sold_minutes(self.state, visit.order) {
                sold.add(&visit.keys(), f64::from(minutes) / 60.0 / stay);
            }
            let spans: Vec<Interval> = self.spans_of(visit).collect();
            let worked: Ms = spans.iter().map(|(a, b)| b - a).sum();
            clocked.add(&visit.keys(), worked as f64 / HOUR / stay);
            let open = self.open.between(arrived, left);
            if open > 0 {
                let inside: Vec<Interval> =
                    merged(spans.into_iter().map(|(a, b)| (a.max(arrived), b.min(left))));
                let worked = calendar::length(&common(&inside, self.open.intervals()));
                flow.add(&visit.keys(), worked as f64 / open as f64);
            }
        }
        [
            sold.means("touch_sold", Unit::HoursPerDay, Clock::Calendar),
            clocked.means("touch_clocked_per_day", Unit::HoursPerDay, Clock::Calendar),
            flow.medians("flow_efficiency", Unit::Share, Clock::Working),
        ]
    }

    /// Every stretch of work on a vehicle; work that still runs has lasted until now.
    fn spans_of(&self, visit: &Visit<'_>) -> impl Iterator<Item = Interval> {
        let spans = visit.cards.iter().flat_map(|c| &c.spans);
        spans.map(|s| (s.from.max(0), s.to.unwrap_or(self.now).min(self.now))).filter(|(a, b)| a < b)
    }

    pub(super) fn throughput(&self) -> [Measure; 2] {
        let (mut vehicles, mut sold) = (Sums::default(), Sums::default());
        for (visit, _) in self.delivered() {
            vehicles.add(&visit.keys(), 1);
            if let Some(minutes) = sold_minutes(self.state, visit.order) {
                sold.add(&visit.keys(), Ms::from(minutes) * MINUTE);
            }
        }
        [vehicles.vehicles("throughput"), sold.hours("throughput_sold", Clock::None)]
    }

    /// Mean number of vehicles in the shop, from counts over time; how many are in at the end, and how
    /// long they have been.
    pub(super) fn in_shop(&self) -> [Measure; 3] {
        let (mut mean, mut end, mut age) = (Sums::default(), Sums::default(), Cases::default());
        for visit in self.visits.iter().filter(|v| self.wants_visit(v)) {
            let Some(arrived) = visit.arrived else { continue };
            let gone = visit.gone().unwrap_or(Ms::MAX);
            let (a, b) = (arrived.max(self.from), gone.min(self.to));
            if a < b {
                mean.add(&visit.keys(), b - a);
            }
            if arrived < self.to && gone >= self.to {
                end.add(&visit.keys(), 1);
                age.add(&visit.keys(), days(arrived, self.to));
            }
        }
        let length = (self.to - self.from).max(1) as f64;
        [
            mean.measure("in_process", Unit::Vehicles, Clock::Calendar, length),
            end.vehicles("in_shop"),
            age.medians("age", Unit::Days, Clock::Calendar),
        ]
    }
}
