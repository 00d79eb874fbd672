//! The head of every queue.

use std::collections::BTreeMap;

use domain::ids::{CardId, DepartmentId, OrderId};

use crate::Plan;

/// As much of a queue as people look at.
pub const FIRST_PLACES: usize = 5;
/// The first cards of every department's queue, with some vehicles left out.
pub fn first_places(plan: &Plan, without: &[OrderId]) -> BTreeMap<DepartmentId, Vec<CardId>> {
    let mut queues: BTreeMap<DepartmentId, Vec<(u32, CardId)>> = BTreeMap::new();
    for row in plan.rows.iter().filter(|row| row.place > 0 && !without.contains(&row.order)) {
        queues.entry(row.department.clone()).or_default().push((row.place, row.card));
    }
    let cut = |mut rows: Vec<(u32, CardId)>| {
        rows.sort_unstable();
        rows.into_iter().map(|(_, card)| card).take(FIRST_PLACES).collect()
    };
    queues.into_iter().map(|(department, rows)| (department, cut(rows))).collect()
}
