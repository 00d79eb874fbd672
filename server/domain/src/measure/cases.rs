//! Cases become figures: medians, means, sums, shares; overall and broken down.
//!
//! Invariants: without cases there is no value; every value is finite; times are added as whole milliseconds
//! and divided once, so that anybody who adds them again gets the same digits.

use std::collections::BTreeMap;

use super::{Clock, DAY, Figure, HOUR, Measure, Unit};
use crate::Ms;

type ValueAndP90 = (Option<f64>, Option<f64>);

/// Numbers, each under the keys of the groups it belongs to.
#[derive(Default)]
pub(super) struct Cases {
    all: Vec<f64>,
    by: BTreeMap<String, Vec<f64>>,
}

impl Cases {
    pub fn add(&mut self, keys: &[&str], value: f64) {
        self.all.push(value);
        for key in keys {
            match self.by.get_mut(*key) {
                Some(values) => values.push(value),
                None => _ = self.by.insert((*key).to_owned(), vec![value]),
            }
        }
    }

    pub fn medians(self, id: &'static str, unit: Unit, clock: Clock) -> Measure {
        self.figures(id, unit, clock, |v| (percentile(v, 0.5), percentile(v, 0.9)))
    }

    pub fn means(self, id: &'static str, unit: Unit, clock: Clock) -> Measure {
        self.figures(id, unit, clock, |v| (mean(v), None))
    }

    fn figures(
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
        let by = self.by.iter().map(|(key, values)| (key.clone(), figure(values))).collect();
        Measure { id, unit, clock, all: figure(&self.all), by }
    }
}

/// Whole amounts (milliseconds, minutes, vehicles), added under keys. Cases are counted apart from amounts:
/// three stretches of one vehicle are one case.
#[derive(Default)]
pub(super) struct Sums {
    pub all: Sum,
    pub by: BTreeMap<String, Sum>,
}

#[derive(Default, Clone, Copy)]
pub(super) struct Sum {
    pub count: u32,
    pub amount: i64,
}

impl Sums {
    pub fn add(&mut self, keys: &[&str], amount: i64) {
        self.all.take(1, amount);
        self.add_to(keys, 1, amount);
    }

    /// Adds to some groups only, not to the whole.
    pub fn add_to(&mut self, keys: &[&str], count: u32, amount: i64) {
        for key in keys {
            match self.by.get_mut(*key) {
                Some(sum) => sum.take(count, amount),
                None => _ = self.by.insert((*key).to_owned(), Sum { count, amount }),
            }
        }
    }

    pub fn hours(self, id: &'static str, clock: Clock) -> Measure {
        self.measure(id, Unit::Hours, clock, HOUR)
    }

    pub fn vehicles(self, id: &'static str) -> Measure {
        self.measure(id, Unit::Vehicles, Clock::None, 1.0)
    }

    /// Amounts divided by `one`, the size of the unit.
    pub fn measure(self, id: &'static str, unit: Unit, clock: Clock, one: f64) -> Measure {
        let figure = |sum: &Sum, there: bool| Figure {
            count: sum.count,
            value: there.then(|| sum.amount as f64 / one),
            p90: None,
        };
        // A group exists because something was added to it: empty hours belong to no vehicle.
        let by = self.by.iter().map(|(key, sum)| (key.clone(), figure(sum, true))).collect();
        let all = figure(&self.all, self.all.count > 0);
        Measure { id, unit, clock, all, by }
    }
}

impl Sum {
    pub fn take(&mut self, count: u32, amount: i64) {
        self.count = self.count.saturating_add(count);
        self.amount = self.amount.saturating_add(amount);
    }
}

/// None if it runs backwards.
pub(super) fn length(from: Ms, to: Ms) -> Ms {
    to.saturating_sub(from).max(0)
}

pub(super) fn days(from: Ms, to: Ms) -> f64 {
    length(from, to) as f64 / DAY
}

pub(super) fn hours(from: Ms, to: Ms) -> f64 {
    length(from, to) as f64 / HOUR
}

pub(super) fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// The percentile of NIST/SEMATECH e-Handbook 7.2.6.2: position p(N+1) between the ordered values, the
/// first or last where that lies outside. Among the usual definitions this one is unbiased in the
/// middle whatever the distribution, and says no more than the data do at the ends: with four visits the
/// 90th percentile is the longest of them, not a number between two (numpy calls it "weibull").
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
