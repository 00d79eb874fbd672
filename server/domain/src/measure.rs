//! Measures: where time goes. Computed from the state alone, so only from what the log says.
//!
//! Invariants: each measure says its unit, its clock and its count; stopped orders are left out; an
//! empty window gives no value, never a zero that looks like one; times that run backwards count as none.

use std::collections::BTreeMap;

use jiff::tz::TimeZone;

use crate::calendar::{self, Interval};
use crate::state::State;
use crate::stored::*;
use crate::{MINUTE, Ms};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    Days,
    Hours,
    Vehicles,
    /// Hours per day.
    HoursPerDay,
    /// Between 0 and 1.
    Share,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clock {
    /// Nights and weekends count.
    Calendar,
    /// Only hours in which the shop is open count.
    Working,
    /// A count or a sum of clocked or sold hours: no clock runs.
    None,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Measure {
    pub id: &'static str,
    pub unit: Unit,
    pub clock: Clock,
    pub all: Figure,
    /// The same, apart by class, department or equipment.
    pub by: BTreeMap<String, Figure>,
}

/// `count` cases; the value (a median, mean, sum or share as the measure defines) and the 90th percentile.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Figure {
    pub count: u32,
    pub value: Option<f64>,
    pub p90: Option<f64>,
}

const HOUR: f64 = 60.0 * MINUTE as f64;
const DAY: f64 = 24.0 * HOUR;

/// Every measure over `[from, to)`; `now` ends what still runs, and nothing is measured after it.
pub fn measures(state: &State, zone: &TimeZone, from: Ms, to: Ms, now: Ms) -> Vec<Measure> {
    // Nothing happened before 1970 or after now, whatever a window asks for.
    let from = from.max(0);
    let view = View { state, zone, from, to: to.min(now).max(from), now };
    vec![
        view.legs("keys_to_keys", Stage::Arrived, Stage::Delivered),
        view.legs("keys_to_authorised", Stage::Arrived, Stage::Authorised),
        view.legs("authorised_to_ready", Stage::Authorised, Stage::Ready),
        view.legs("ready_to_keys", Stage::Ready, Stage::Delivered),
        view.clocked(),
        view.sold_per_day(),
        view.waited(),
        view.latency("asked_to_taken", |h| h.taken_at),
        view.latency("asked_to_started", |h| h.started_at),
        view.latency("asked_to_handed_back", |h| h.handed_back_at),
        view.held("equipment_held", false),
        view.held("equipment_blocked", true),
        view.throughput(),
        view.sold_throughput(),
        view.in_process(),
        view.promise_kept(),
    ]
}

struct View<'a> {
    state: &'a State,
    zone: &'a TimeZone,
    from: Ms,
    to: Ms,
    now: Ms,
}

impl View<'_> {
    fn inside(&self, at: Ms) -> bool {
        (self.from..self.to).contains(&at)
    }

    fn delivered(&self) -> impl Iterator<Item = (&Order, Ms)> {
        self.state.orders.values().filter_map(|order| {
            let at = reached(order, Stage::Delivered)?;
            let stopped = order.stages.iter().any(|s| s.stage == Stage::Stopped);
            (!stopped && self.inside(at)).then_some((&**order, at))
        })
    }

    fn legs(&self, id: &'static str, begin: Stage, end: Stage) -> Measure {
        let mut cases = Cases::default();
        for (order, _) in self.delivered() {
            if let (Some(a), Some(b)) = (reached(order, begin), reached(order, end)) {
                let class = if order.towed_in { "towed_in" } else { "rolling" };
                cases.add(class, (b - a).max(0) as f64 / DAY);
            }
        }
        cases.medians(id, Unit::Days, Clock::Calendar)
    }

    fn spans(&self) -> impl Iterator<Item = (&Card, &Span, Interval)> {
        self.state.cards.values().flat_map(move |card| {
            card.spans.iter().filter_map(move |span| {
                let (a, b) = (span.from.max(self.from), span.to.unwrap_or(self.now).min(self.to));
                (a < b).then_some((&**card, span, (a, b)))
            })
        })
    }

    /// Hours people were clocked on cards, by department.
    fn clocked(&self) -> Measure {
        let mut cases = Cases::default();
        for (card, _, (a, b)) in self.spans() {
            cases.add(&card.department.0, (b - a) as f64 / HOUR);
        }
        cases.sums("touch_clocked", Unit::Hours, Clock::None)
    }

    /// Sold hours divided by calendar days in the shop: the trade's "touch time".
    fn sold_per_day(&self) -> Measure {
        let mut cases = Cases::default();
        for (order, out) in self.delivered() {
            let days = reached(order, Stage::Arrived).map_or(0.0, |arrived| (out - arrived) as f64 / DAY);
            if let (Some(sold), true) = (self.sold_minutes(order), days > 0.0) {
                let class = if order.towed_in { "towed_in" } else { "rolling" };
                cases.add(class, sold / 60.0 / days);
            }
        }
        cases.means("touch_sold", Unit::HoursPerDay, Clock::Calendar)
    }

    fn sold_minutes(&self, order: &Order) -> Option<f64> {
        let cards: u32 = self.state.cards_of(order.id).filter_map(|c| c.sold_minutes).sum();
        order.sold_minutes.or((cards > 0).then_some(cards)).map(f64::from)
    }

    /// From ready to started, by department of the card.
    fn waited(&self) -> Measure {
        let mut cases = Cases::default();
        for card in self.state.cards.values() {
            let first = card.spans.iter().map(|s| s.from).min();
            if let (Some(ready), Some(first)) = (card.ready_at, first)
                && self.inside(first)
            {
                cases.add(&card.department.0, (first - ready).max(0) as f64 / HOUR);
            }
        }
        cases.medians("waited", Unit::Hours, Clock::Calendar)
    }

    /// Hand-off latency counts from the later of asked and really ready: asking early is good.
    fn latency(&self, id: &'static str, end: impl Fn(&Handoff) -> Option<Ms>) -> Measure {
        let mut cases = Cases::default();
        for handoff in self.state.handoffs.values() {
            let begin = handoff.ready_at.map_or(handoff.asked_at, |ready| ready.max(handoff.asked_at));
            if let Some(end) = end(handoff).filter(|end| self.inside(*end)) {
                cases.add(&handoff.to.0, (end - begin).max(0) as f64 / HOUR);
            }
        }
        cases.medians(id, Unit::Hours, Clock::Calendar)
    }

    /// Hours a piece of equipment was held by an opened vehicle; `idle` leaves out the hours in which
    /// somebody worked on that vehicle, and the hours in which the shop was closed.
    fn held(&self, id: &'static str, idle: bool) -> Measure {
        let open = calendar::of_shop(self.state, self.zone, self.from, self.to);
        let mut cases = Cases::default();
        for card in self.state.cards.values() {
            let (Some(opens), Some(used)) = (&card.needs.opens, &card.used) else { continue };
            let Some(begin) = card.spans.iter().map(|s| s.from).min() else { continue };
            let closed = self.state.cards_of(card.order).filter(|c| c.needs.closes.as_ref() == Some(opens));
            let end = closed.filter_map(|c| c.done_at).find(|end| *end >= begin).unwrap_or(self.now);
            let (a, b) = (begin.max(self.from), end.min(self.to));
            if a >= b {
                continue;
            }
            let hours = if idle {
                let worked = merged(
                    self.state
                        .cards_of(card.order)
                        .flat_map(|c| &c.spans)
                        .map(|s| (s.from, s.to.unwrap_or(self.now))),
                );
                let open_here: Vec<Interval> = cut(&open, a, b);
                let busy: Ms = open_here.iter().map(|(x, y)| calendar::length_within(&worked, *x, *y)).sum();
                (calendar::length(&open_here) - busy).max(0)
            } else {
                b - a
            };
            cases.add(&used.0, hours as f64 / HOUR);
        }
        cases.sums(id, Unit::Hours, if idle { Clock::Working } else { Clock::Calendar })
    }

    fn throughput(&self) -> Measure {
        let mut cases = Cases::default();
        for (order, _) in self.delivered() {
            cases.add(if order.towed_in { "towed_in" } else { "rolling" }, 1.0);
        }
        cases.sums("throughput", Unit::Vehicles, Clock::None)
    }

    fn sold_throughput(&self) -> Measure {
        let mut cases = Cases::default();
        for (order, _) in self.delivered() {
            if let Some(sold) = self.sold_minutes(order) {
                cases.add(if order.towed_in { "towed_in" } else { "rolling" }, sold / 60.0);
            }
        }
        cases.sums("throughput_sold", Unit::Hours, Clock::None)
    }

    /// Mean number of vehicles in the shop, from counts over time.
    fn in_process(&self) -> Measure {
        let mut cases = Cases::default();
        let length = (self.to - self.from) as f64;
        for order in self.state.orders.values() {
            let Some(arrived) = reached(order, Stage::Arrived) else { continue };
            let left = reached(order, Stage::Delivered)
                .or_else(|| reached(order, Stage::Stopped))
                .unwrap_or(Ms::MAX);
            let (a, b) = (arrived.max(self.from), left.min(self.to));
            if a < b {
                cases.add(if order.towed_in { "towed_in" } else { "rolling" }, (b - a) as f64 / length);
            }
        }
        cases.sums("in_process", Unit::Vehicles, Clock::Calendar)
    }

    /// Against the first promise after authorisation.
    fn promise_kept(&self) -> Measure {
        let mut cases = Cases::default();
        for (order, out) in self.delivered() {
            if let Some(promise) = order.first_promise {
                let ready = reached(order, Stage::Ready).unwrap_or(out);
                let class = if order.towed_in { "towed_in" } else { "rolling" };
                cases.add(class, if ready <= promise { 1.0 } else { 0.0 });
            }
        }
        cases.means("promise_kept", Unit::Share, Clock::None)
    }
}

/// When an order first reached a stage.
pub fn reached(order: &Order, stage: Stage) -> Option<Ms> {
    order.stages.iter().find(|s| s.stage == stage).map(|s| s.at)
}

fn cut(intervals: &[Interval], from: Ms, to: Ms) -> Vec<Interval> {
    intervals.iter().map(|(a, b)| ((*a).max(from), (*b).min(to))).filter(|(a, b)| a < b).collect()
}

fn merged(intervals: impl Iterator<Item = Interval>) -> Vec<Interval> {
    let mut sorted: Vec<Interval> = intervals.filter(|(a, b)| a < b).collect();
    sorted.sort_unstable();
    let mut merged: Vec<Interval> = Vec::new();
    for (a, b) in sorted {
        match merged.last_mut() {
            Some(last) if last.1 >= a => last.1 = last.1.max(b),
            _ => merged.push((a, b)),
        }
    }
    merged
}

type ValueAndP90 = (Option<f64>, Option<f64>);

#[derive(Default)]
struct Cases {
    by: BTreeMap<String, Vec<f64>>,
}

impl Cases {
    fn add(&mut self, key: &str, value: f64) {
        self.by.entry(key.to_owned()).or_default().push(value);
    }

    fn medians(self, id: &'static str, unit: Unit, clock: Clock) -> Measure {
        self.into_measure(id, unit, clock, |v| (percentile(v, 0.5), percentile(v, 0.9)))
    }

    fn means(self, id: &'static str, unit: Unit, clock: Clock) -> Measure {
        self.into_measure(id, unit, clock, |v| {
            ((!v.is_empty()).then(|| v.iter().sum::<f64>() / v.len() as f64), None)
        })
    }

    fn sums(self, id: &'static str, unit: Unit, clock: Clock) -> Measure {
        self.into_measure(id, unit, clock, |v| ((!v.is_empty()).then(|| v.iter().sum()), None))
    }

    fn into_measure(
        self,
        id: &'static str,
        unit: Unit,
        clock: Clock,
        value: fn(&[f64]) -> ValueAndP90,
    ) -> Measure {
        let figure = |values: &[f64]| {
            let (value, p90) = value(values);
            Figure { count: values.len() as u32, value, p90 }
        };
        let all: Vec<f64> = self.by.values().flatten().copied().collect();
        let by = self.by.iter().map(|(key, values)| (key.clone(), figure(values))).collect();
        Measure { id, unit, clock, all: figure(&all), by }
    }
}

/// The percentile of NIST/SEMATECH e-Handbook 7.2.6.2: position p(N+1) between the ordered values,
/// the first or last where that lies outside.
pub fn percentile(values: &[f64], p: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let position = p * (sorted.len() as f64 + 1.0);
    let below = position.floor();
    let (first, last) = (*sorted.first()?, *sorted.last()?);
    if below < 1.0 {
        return Some(first);
    }
    match (sorted.get(below as usize - 1), sorted.get(below as usize)) {
        (Some(a), Some(b)) => Some(a + (position - below) * (b - a)),
        _ => Some(last),
    }
}
