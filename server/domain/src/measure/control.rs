//! Is the shop steady? Individuals charts of visits, cumulative flow, percentile bands, Little's law as a
//! check, and what was waited for week by week.
//!
//! Invariants: stopped orders are on no chart; points stand in the order in which vehicles came; a chart
//! of fewer than two visits has no limits.

use std::collections::BTreeMap;

use jiff::Span;
use jiff::civil::Weekday;
use jiff::tz::TimeZone;

use super::cases::{days, length, mean};
use super::waits::Stood;
use super::{Class, DAY, HOUR, Question, Reason, View, percentile};
use crate::Ms;
use crate::calendar::{instant, local_date};
use crate::ids::{DepartmentId, OrderId};
use crate::state::State;
use crate::stored::{Order, Stage};

/// Mean ± 3 × mean moving range ÷ 1.128, which is ± 2.66 × mean moving range (NIST/SEMATECH e-Handbook,
/// 6.3.2.2). The moving range is that of two neighbours, 1.128 is what such a range is on average in
/// units of the standard deviation of normal data. Lengths of visits are skewed to the right, so a point
/// above the limit is a reason to look and not a proof.
const SPREAD: f64 = 3.0 / 1.128;

/// So many points in a row on one side of the mean are a signal. Common practice (the fourth of the
/// Western Electric rules, 1956).
const ROW: usize = 8;

/// Why a point is a signal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rule {
    /// Beyond a limit.
    Beyond,
    /// The eighth, or a later one, in a row on one side of the mean.
    OneSide,
}

/// The limits of an individuals chart, in the unit of its values.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// Mean of all values.
    pub mean: f64,
    /// Mean difference between neighbouring values.
    pub moving_range: f64,
    /// A value below this is a signal. May be below zero: then no value is short enough to be one.
    pub lower: f64,
    /// A value above this is a signal.
    pub upper: f64,
    /// Index of each point that is a signal, and why; a point can be there twice.
    pub signals: Vec<(usize, Rule)>,
}

/// An individuals chart. None for fewer than two values.
pub fn individuals(values: &[f64]) -> Option<Limits> {
    let ranges: Vec<f64> = values.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    let (mean, moving_range) = (mean(values)?, mean(&ranges)?);
    let (lower, upper) = (mean - SPREAD * moving_range, mean + SPREAD * moving_range);
    let mut signals = Vec::new();
    let (mut row, mut side) = (0, 0.0);
    for (place, value) in values.iter().enumerate() {
        if !(lower..=upper).contains(value) {
            signals.push((place, Rule::Beyond));
        }
        let now = if *value == mean { 0.0 } else { (value - mean).signum() };
        row = if now != 0.0 && now == side { row + 1 } else { usize::from(now != 0.0) };
        side = now;
        if row >= ROW {
            signals.push((place, Rule::OneSide));
        }
    }
    Some(Limits { mean, moving_range, lower, upper, signals })
}

/// One visit: keys to keys in calendar days.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// The order of the visit.
    pub order: OrderId,
    /// The shop's number of that order.
    pub number: String,
    /// Keys in, UTC ms.
    pub start: Ms,
    /// Calendar days from keys in to keys back.
    pub days: f64,
}

/// The visits of one class, in the order in which they came.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// Which class.
    pub class: Class,
    /// Its visits.
    pub points: Vec<Point>,
    /// None with fewer than two visits.
    pub limits: Option<Limits>,
}

/// The end of a local day, or now on the last one.
#[derive(Debug, Clone, PartialEq)]
pub struct Day {
    /// The instant counted at, UTC ms.
    pub at: Ms,
    /// Vehicles in the shop by stage: arrived, authorised, away, ready, stopped.
    pub stages: [u32; 5],
    /// Vehicles that came since the beginning of the stretch.
    pub came: u32,
    /// Vehicles that left since the beginning of the stretch.
    pub left: u32,
}

/// Keys to keys, in calendar days, of one month of delivery.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Local month, "2026-03".
    pub month: String,
    /// How many visits ended in it.
    pub count: u32,
    /// 10th, 25th, 50th, 75th and 90th percentile.
    pub days: [f64; 5],
}

const BANDS: [f64; 5] = [0.1, 0.25, 0.5, 0.75, 0.9];

/// Mean number = rate × mean time (Little 1961): exact over a stretch that begins and ends with an empty
/// shop; otherwise the two sides differ by what was in it at the ends, or by records that are wrong.
#[derive(Debug, Clone, PartialEq)]
pub struct Little {
    /// Mean number in the shop, from counts over time.
    pub number: f64,
    /// Vehicles that left, per day, and their mean time in the shop, from the vehicles.
    pub rate_per_day: f64,
    /// Mean calendar days in the shop, of the vehicles that left.
    pub mean_days: f64,
    /// Vehicles in the shop when the stretch begins.
    pub at_begin: u32,
    /// Vehicles in the shop when it ends.
    pub at_end: u32,
}

impl Little {
    /// The right-hand side, to compare with `number`.
    pub fn rate_times_time(&self) -> f64 {
        self.rate_per_day * self.mean_days
    }
}

/// Vehicle-hours waited in one week (from Monday), calendar time.
#[derive(Debug, Clone, PartialEq)]
pub struct Week {
    /// Monday, local midnight, UTC ms.
    pub from: Ms,
    /// Vehicle-hours by reason; reasons that did not occur are absent.
    pub hours: BTreeMap<Reason, f64>,
}

/// Open hours in which a vehicle waited for a department without any reason.
#[derive(Debug, Clone, PartialEq)]
pub struct Unexplained {
    /// The order of the vehicle.
    pub order: OrderId,
    /// The shop's number of that order.
    pub number: String,
    /// None: not even a card was laid out.
    pub department: Option<DepartmentId>,
    /// How many open hours.
    pub hours: f64,
}

/// At most this many are named, the longest first.
const NAMED_MAX: usize = 12;

/// Everything the control charts show for one stretch of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Control {
    /// Time in the shop, one chart for each class.
    pub charts: Vec<Chart>,
    /// Vehicles that came, stayed and left, day by day.
    pub flow: Vec<Day>,
    /// Time in the shop by month of delivery.
    pub bands: Vec<Band>,
    /// None if nothing left, or nothing was there.
    pub little: Option<Little>,
    /// What vehicles waited for, week by week.
    pub waits: Vec<Week>,
    /// The longest waits without a reason.
    pub unexplained: Vec<Unexplained>,
}

/// Computes the control charts for the stretch, department and class that are asked about.
pub fn control(state: &State, zone: &TimeZone, question: &Question) -> Control {
    let state = question.warmed(state);
    let view = View::new(&state, zone, question);
    let (stood, _) = view.stood();
    Control {
        charts: view.charts(),
        flow: view.flow(),
        bands: view.bands(),
        little: view.little(),
        waits: view.weeks(&stood),
        unexplained: view.unexplained(&stood),
    }
}

impl View<'_> {
    fn charts(&self) -> Vec<Chart> {
        let mut by: BTreeMap<Class, Vec<Point>> = BTreeMap::new();
        for (visit, left) in self.delivered() {
            let Some(start) = visit.arrived else { continue };
            for class in visit.classes {
                by.entry(class).or_default().push(Point {
                    order: visit.order.id,
                    number: visit.order.number.clone(),
                    start,
                    days: days(start, left),
                });
            }
        }
        let charts = by.into_iter().map(|(class, mut points)| {
            points.sort_by(|a, b| (a.start, &a.number).cmp(&(b.start, &b.number)));
            let values: Vec<f64> = points.iter().map(|p| p.days).collect();
            Chart { class, points, limits: individuals(&values) }
        });
        charts.collect()
    }

    /// Local midnights inside the stretch and its end.
    fn edges(&self, first_weekday: Option<Weekday>) -> Vec<Ms> {
        let mut edges = Vec::new();
        let begin = self.from.max(self.began);
        let mut date = local_date(begin, self.zone);
        while let Ok(next) = date.tomorrow() {
            date = next;
            let Some(at) = instant(date, 0, self.zone).filter(|at| *at < self.to) else { break };
            if at > begin && first_weekday.is_none_or(|day| date.weekday() == day) {
                edges.push(at);
            }
        }
        if begin < self.to {
            edges.push(self.to);
        }
        edges
    }

    fn flow(&self) -> Vec<Day> {
        let edges = self.edges(None);
        // How each count changes at each edge; added up at the end.
        let mut steps = vec![[0_i32; 7]; edges.len() + 1];
        // What happens at an edge belongs to the day that begins there, as everywhere.
        let place = |at: Ms| edges.partition_point(|edge| *edge <= at);
        for visit in self.visits.iter().filter(|v| self.wants_visit(v)) {
            let stages = &visit.order.stages;
            let gone = visit.over.unwrap_or(Ms::MAX);
            let ends = stages.iter().skip(1).map(|s| s.at.min(gone)).chain([gone]);
            for (stage, end) in stages.iter().zip(ends) {
                if let Some(which) = shown(stage.stage).filter(|_| stage.at < end) {
                    steps[place(stage.at)][which] += 1;
                    steps[place(end)][which] -= 1;
                }
            }
            for (at, which) in [(visit.arrived, 5), (visit.over, 6)] {
                if let Some(at) = at.filter(|at| self.inside(*at)) {
                    steps[place(at)][which] += 1;
                }
            }
        }
        let mut sum = [0_i32; 7];
        let rows = edges.iter().zip(steps).map(|(at, step)| {
            for (sum, step) in sum.iter_mut().zip(step) {
                *sum += step;
            }
            let [arrived, authorised, away, ready, stopped, came, left] = sum.map(|n| n.max(0) as u32);
            Day { at: *at, stages: [arrived, authorised, away, ready, stopped], came, left }
        });
        rows.collect()
    }

    fn bands(&self) -> Vec<Band> {
        let mut by: BTreeMap<String, Vec<f64>> = BTreeMap::new();
        for (visit, left) in self.delivered() {
            if let Some(arrived) = visit.arrived {
                let date = local_date(left, self.zone);
                let month = format!("{:04}-{:02}", date.year(), date.month());
                by.entry(month).or_default().push(days(arrived, left));
            }
        }
        let bands = by.into_iter().map(|(month, values)| Band {
            month,
            count: values.len() as u32,
            days: BANDS.map(|p| percentile(&values, p).unwrap_or_default()),
        });
        bands.collect()
    }

    fn little(&self) -> Option<Little> {
        let whole = self.to - self.from;
        let (mut area, mut times, mut at_begin, mut at_end) = (0, Vec::new(), 0, 0);
        for visit in self.visits.iter().filter(|v| self.wants_visit(v)) {
            let Some(arrived) = visit.arrived else { continue };
            let gone = visit.gone().unwrap_or(Ms::MAX);
            area += length(arrived.max(self.from), gone.min(self.to));
            at_begin += u32::from(arrived < self.from && gone >= self.from);
            at_end += u32::from(arrived < self.to && gone >= self.to);
            if self.inside(gone) {
                times.push(days(arrived, gone));
            }
        }
        let mean_days = mean(&times)?;
        Some(Little {
            number: area as f64 / whole as f64,
            rate_per_day: times.len() as f64 / (whole as f64 / DAY),
            mean_days,
            at_begin,
            at_end,
        })
    }

    fn weeks(&self, stood: &Stood<'_>) -> Vec<Week> {
        let edges = self.edges(Some(Weekday::Monday));
        let Some(last) = edges.last() else { return Vec::new() };
        let mut sums: Vec<BTreeMap<Reason, Ms>> = vec![BTreeMap::new(); edges.len()];
        for (_, stretch, reason) in self.waiting(stood) {
            let mut from = stretch.from;
            while from < stretch.to.min(*last) {
                let week = edges.partition_point(|edge| *edge <= from);
                let Some(end) = edges.get(week) else { break };
                let to = stretch.to.min(*end);
                *sums[week].entry(reason).or_default() += to - from;
                from = to;
            }
        }
        let monday = |at: Ms| {
            let date = local_date(at, self.zone);
            let back = Span::new().days(i64::from(date.weekday().to_monday_zero_offset()));
            instant(date.saturating_sub(back), 0, self.zone).unwrap_or(at)
        };
        let begins = [self.from.max(self.began)].into_iter().chain(edges.iter().copied());
        let weeks = begins.zip(sums).map(|(begin, sums)| Week {
            from: monday(begin),
            hours: sums.into_iter().map(|(reason, sum)| (reason, sum as f64 / HOUR)).collect(),
        });
        weeks.collect()
    }

    fn unexplained(&self, stood: &Stood<'_>) -> Vec<Unexplained> {
        let mut sums: BTreeMap<(OrderId, Option<&DepartmentId>), Ms> = BTreeMap::new();
        for (order, stretch, _) in self.waiting(stood).filter(|(_, _, reason)| *reason == Reason::NoReason) {
            let department = stretch.card.map(|card| &card.department);
            *sums.entry((order, department)).or_default() += self.open.between(stretch.from, stretch.to);
        }
        let mut named: Vec<(Ms, &Order, Option<&DepartmentId>)> = sums
            .into_iter()
            .filter(|(_, length)| *length > 0)
            .filter_map(|((id, of), length)| Some((length, &**self.state.orders.get(&id)?, of)))
            .collect();
        named.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.number.cmp(&b.1.number)));
        let shown = named.into_iter().take(NAMED_MAX).map(|(length, order, department)| Unexplained {
            order: order.id,
            number: order.number.clone(),
            department: department.cloned(),
            hours: length as f64 / HOUR,
        });
        shown.collect()
    }
}

fn shown(stage: Stage) -> Option<usize> {
    match stage {
        Stage::Expected | Stage::Delivered => None,
        Stage::Arrived => Some(0),
        Stage::Authorised => Some(1),
        Stage::Away => Some(2),
        Stage::Ready => Some(3),
        Stage::Stopped => Some(4),
    }
}
