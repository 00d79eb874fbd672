//! What if: the plan as it would be, beside the plan as it is. A question changes a copy of the state, and both
//! are planned in the same way, starting from the order that people see now.
//!
//! Invariants: nothing is written; the same state, plan, minute and question give the same answer; a vehicle is
//! named only if the time shown for it changes.
//! Must not know: HTTP, roles.

use std::collections::BTreeMap;

use domain::ids::*;
use domain::stored::*;
use domain::suppose::{Change, NotSupposed, Step, Supposed, suppose};
use domain::{MINUTE, Ms};

use super::{Effort, Plan, Published, Shown, plan_now};
use sync::shop::View;

/// More changes than this in one question, and nobody can judge them by the answer.
pub const CHANGES_MAX: usize = 20;

/// Why there is no answer, as one sentence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoAnswer {
    /// One of the changes cannot be supposed.
    #[error(transparent)]
    NotSupposed(#[from] NotSupposed),
    /// No changes, or too many.
    #[error("Say what would be otherwise: one to {CHANGES_MAX} changes.")]
    Changes,
    /// The server has not planned yet.
    #[error("There is no plan yet; ask again in a moment.")]
    NoPlan,
    /// Nothing is planned now; why.
    #[error("There is no plan to compare with: {0}")]
    Trouble(String),
    /// Nothing could be planned with these changes; why.
    #[error("With this there would be no plan: {0}")]
    Impossible(String),
}

/// Both plans, where they differ.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// When it was asked, UTC ms.
    pub at: Ms,
    /// The log entry of the state it was made from.
    pub seq: u64,
    /// Vehicles whose time would change, whoever gets later first.
    pub rows: Vec<Row>,
    /// How many vehicles keep their time.
    pub same: u32,
    /// How late vehicles are now.
    pub before: Lateness,
    /// How late they would be.
    pub after: Lateness,
    /// The acts that would make it so.
    pub steps: Vec<Step>,
    /// The lowest role that may do them.
    pub role: Role,
}

/// One vehicle whose time would change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// The order of the vehicle.
    pub order: OrderId,
    /// When it will be finished as things are, UTC ms.
    pub finish_before: Ms,
    /// When it would be finished, UTC ms.
    pub finish_after: Ms,
    /// Its promise, UTC ms; none: it has none.
    pub promise: Option<Ms>,
    /// Calendar minutes after the promise as things are; 0 if kept or none.
    pub late_before_minutes: i64,
    /// The same with the changes.
    pub late_after_minutes: i64,
}

impl Row {
    /// By how many minutes it would be later; below zero: earlier.
    pub fn later_minutes(&self) -> i64 {
        (self.finish_after - self.finish_before) / MINUTE
    }
}

/// How late the vehicles of a plan are.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Lateness {
    /// How many are planned past their promise.
    pub late_vehicles: u32,
    /// Calendar minutes after promises, each times the vehicle's urgency.
    pub weighted_minutes: i64,
}

/// `shown` is the plan that people see: the answer says what would move in it.
pub fn what_if(view: &View, now: Ms, shown: &Published, changes: &[Change]) -> Result<Answer, NoAnswer> {
    if changes.is_empty() || changes.len() > CHANGES_MAX {
        return Err(NoAnswer::Changes);
    }
    let Supposed { state, steps, role } = suppose(&view.state, &view.zone, now, changes)?;
    if shown.rev == 0 {
        return Err(NoAnswer::NoPlan);
    }
    let (before, kept) = current(view, now, shown);
    if let Some(trouble) = before.trouble.as_ref().filter(|_| before.rows.is_empty()) {
        return Err(NoAnswer::Trouble(trouble.clone()));
    }
    // A vehicle that goes first now is not held back by where it stood, nor is what it needs.
    let free = |card: &Card| changes.iter().any(|change| change.frees(&state, card));
    let order = kept.without(|id| state.cards.get(id).is_some_and(|card| free(card)));
    let with = View { head: view.head, state, zone: view.zone.clone() };
    // As it would happen: what is shown is repaired, then searched.
    let repaired = plan_now(&with, now, &order, Effort::Repair);
    let after = plan_now(&with, now, &repaired.shown, Effort::SEARCH).plan;
    if let Some(trouble) = after.trouble.clone().filter(|_| after.rows.is_empty()) {
        return Err(NoAnswer::Impossible(trouble));
    }
    let rows = differing(view, &before, &after);
    Ok(Answer {
        at: now,
        seq: view.head.seq,
        same: (before.vehicles.iter().filter(|v| v.finish.is_some()).count() - rows.len()) as u32,
        rows,
        before: lateness(view, &before),
        after: lateness(view, &after),
        steps,
        role,
    })
}

/// The plan that people see; if somebody has acted since, as they will see it in a moment.
fn current(view: &View, now: Ms, shown: &Published) -> (Plan, Shown) {
    if shown.plan.at_seq == view.head.seq {
        return (shown.plan.clone(), shown.shown.clone());
    }
    let stands = plan_now(view, now, &shown.shown, Effort::Stand);
    let same = stands.shown.stands_as(&shown.shown);
    let is = if same { stands } else { plan_now(view, now, &shown.shown, Effort::Repair) };
    (is.plan, is.shown)
}

fn differing(view: &View, before: &Plan, after: &Plan) -> Vec<Row> {
    let then: BTreeMap<OrderId, _> = before.vehicles.iter().map(|v| (v.order, v)).collect();
    let pairs = after.vehicles.iter().filter_map(|v| Some((*then.get(&v.order)?, v)));
    let mut rows: Vec<Row> = pairs
        .filter_map(|(was, is)| {
            let (finish_before, finish_after) = (was.finish?, is.finish?);
            (finish_before != finish_after).then_some(Row {
                order: is.order,
                finish_before,
                finish_after,
                promise: is.promise,
                late_before_minutes: was.late_minutes,
                late_after_minutes: is.late_minutes,
            })
        })
        .collect();
    let number = |row: &Row| view.state.orders.get(&row.order).map(|o| o.number.clone());
    rows.sort_by_cached_key(|row| {
        let worse = row.late_after_minutes - row.late_before_minutes;
        (row.later_minutes() < 0, -worse, -row.later_minutes(), number(row))
    });
    rows
}

pub(super) fn lateness(view: &View, plan: &Plan) -> Lateness {
    plan.vehicles.iter().fold(Lateness::default(), |sum, vehicle| {
        let weight = view.state.orders.get(&vehicle.order).map_or(0, |o| i64::from(o.weight));
        Lateness {
            late_vehicles: sum.late_vehicles + u32::from(vehicle.late_minutes > 0),
            weighted_minutes: sum.weighted_minutes + weight * vehicle.late_minutes,
        }
    })
}

#[cfg(test)]
pub(super) mod tests;
