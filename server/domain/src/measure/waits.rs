//! How long vehicles waited, for whom and for what.
//!
//! Invariant: an hour of a vehicle counts for one reason and, where a card is waited for, for one
//! department; hours in which somebody works on it, or on a loose part of it, count for none.

use std::collections::BTreeMap;

use super::cases::Sums;
use super::standing::{Doing, Stretch};
use super::{Clock, Measure, View};
use crate::Ms;
use crate::ids::OrderId;
use crate::waiting::Reason;

/// Stands for the department where no card is waited for.
const NO_DEPARTMENT: &str = "no_department";

pub(super) type Stood<'a> = BTreeMap<OrderId, Vec<Stretch<'a>>>;

impl View<'_> {
    /// Stretches in which vehicles waited, limited to what is asked about.
    pub(super) fn waiting<'b>(
        &'b self,
        stood: &'b Stood<'b>,
    ) -> impl Iterator<Item = (OrderId, &'b Stretch<'b>, Reason)> {
        let wanted = move |order: &OrderId| self.wants_order(*order);
        stood.iter().filter(move |(order, _)| wanted(order)).flat_map(move |(order, stretches)| {
            stretches.iter().filter_map(move |stretch| match stretch.doing {
                Doing::Stands(reason) if !stretch.loose => {
                    let asked = match (self.question.department.as_ref(), stretch.card) {
                        (None, _) => true,
                        (Some(department), Some(card)) => card.department == *department,
                        (Some(_), None) => false,
                    };
                    asked.then_some((*order, stretch, reason))
                }
                _ => None,
            })
        })
    }

    /// Vehicle-hours by reason, by department, and by both ("body/parts"), on both clocks: nights matter to the
    /// customer, open hours can be used. The counts are of vehicles.
    pub(super) fn waits(&self, stood: &Stood<'_>) -> [Measure; 4] {
        let mut sums: [Sums; 4] = Default::default();
        let mut vehicles: BTreeMap<OrderId, BTreeMap<(&str, Reason), [Ms; 2]>> = BTreeMap::new();
        for (order, stretch, reason) in self.waiting(stood) {
            let department = stretch.card.map_or(NO_DEPARTMENT, |card| &card.department.0);
            let [all, open] = vehicles.entry(order).or_default().entry((department, reason)).or_default();
            *all += stretch.to - stretch.from;
            *open += self.open.between(stretch.from, stretch.to);
        }
        for waits in vehicles.values() {
            for (clock, sums) in sums.chunks_mut(2).enumerate() {
                let [by_reason, by_department] = sums else { continue };
                let (mut reasons, mut departments) = (BTreeMap::new(), BTreeMap::new());
                for ((department, reason), lengths) in waits {
                    let length = lengths[clock];
                    if length > 0 {
                        *reasons.entry(*reason).or_insert(0) += length;
                        *departments.entry(*department).or_insert(0) += length;
                        by_department.add_to(&[&format!("{department}/{}", reason.word())], 1, length);
                    }
                }
                let all: Ms = reasons.values().sum();
                if all > 0 {
                    by_reason.all.take(1, all);
                    by_department.all.take(1, all);
                }
                reasons.iter().for_each(|(reason, length)| by_reason.add_to(&[reason.word()], 1, *length));
                departments.iter().for_each(|(key, length)| by_department.add_to(&[key], 1, *length));
            }
        }
        let [by_reason, by_department, by_reason_open, by_department_open] = sums;
        [
            by_reason.hours("wait_by_reason", Clock::Calendar),
            by_reason_open.hours("wait_by_reason_working", Clock::Working),
            by_department.hours("wait_by_department", Clock::Calendar),
            by_department_open.hours("wait_by_department_working", Clock::Working),
        ]
    }
}
