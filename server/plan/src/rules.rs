//! Priority rules: quick whole lists to start from.
//!
//! Invariant: every list holds each unit once, respects precedence between units and the classes (put first, sticky, the rest);
//! ties go by index.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::Time;
use crate::model::{Model, NO_DUE};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rule {
    /// Due date minus remaining path: the latest start.
    LatestStart,
    /// Earliest due date of the job (Jackson's rule).
    DueDate,
    /// Slack divided by weight.
    WeightedSlack,
    /// Work left in the job divided by its weight (Smith's rule).
    ShortestJob,
    /// As they came.
    Fifo,
    /// Longest remaining path first.
    MostWork,
    /// Shortest task first.
    ShortestTask,
}

pub(crate) const RULES: [Rule; 7] = [
    Rule::LatestStart,
    Rule::WeightedSlack,
    Rule::DueDate,
    Rule::ShortestJob,
    Rule::Fifo,
    Rule::MostWork,
    Rule::ShortestTask,
];

/// One key per unit, smaller goes first.
pub(crate) fn keys(m: &Model, rule: Rule) -> Vec<i64> {
    let mut job_work = vec![0i64; m.weight.len()];
    for t in 0..m.tasks {
        if !m.fixed[t] && m.job[t] != crate::NONE {
            job_work[m.job[t] as usize] += i64::from(m.dur[t]);
        }
    }
    let of = |t: usize| -> i64 {
        let job = (m.job[t] != crate::NONE).then_some(m.job[t] as usize);
        let weight = job.map_or(1, |j| m.weight[j]).max(1);
        match rule {
            Rule::LatestStart => m.late[t],
            Rule::DueDate => job.and_then(|j| m.due[j]).map_or(NO_DUE, i64::from),
            Rule::WeightedSlack => {
                // Relative to the earliest start: what has slack may wait in proportion to its weight, what is late hurries.
                let slack = m.late[t] - i64::from(m.est[t]);
                i64::from(m.est[t]) + if slack >= 0 { slack * 4 / (3 + weight) } else { slack * weight }
            }
            Rule::ShortestJob => job.map_or(i64::from(m.dur[t]), |j| job_work[j]) * 64 / weight,
            Rule::Fifo => job.map_or(i64::from(m.est[t]), |j| i64::from(m.release[j]) * 4096 + j as i64),
            Rule::MostWork => -i64::from(m.tail[t]),
            Rule::ShortestTask => i64::from(m.dur[t]),
        }
    };
    (0..m.units).map(|u| m.members.row(u).iter().map(|&t| of(t as usize)).min().unwrap_or(0)).collect()
}

/// The list that takes the smallest key among the units whose predecessors are listed.
pub(crate) fn list(m: &Model, keys: &[i64]) -> Vec<u32> {
    let mut order = list_by(m, |u| (m.class[u], keys[u]));
    // A ready unit of a later class may have gone before one of an earlier class whose turn came later.
    m.by_class(&mut order);
    order
}

/// The list that takes the smallest rank among the units whose predecessors are listed; ties go by index.
pub(crate) fn list_by<R: Ord + Copy>(m: &Model, rank: impl Fn(usize) -> R) -> Vec<u32> {
    let mut waits: Vec<u32> = (0..m.units).map(|u| m.unit_preds.row(u).len() as u32).collect();
    let entry = |u: u32| Reverse((rank(u as usize), u));
    let mut ready: BinaryHeap<_> =
        (0..m.units as u32).filter(|&u| waits[u as usize] == 0).map(entry).collect();
    let mut order = Vec::with_capacity(m.units);
    while let Some(Reverse((_, u))) = ready.pop() {
        order.push(u);
        for &v in m.unit_succs.row(u as usize) {
            waits[v as usize] -= 1;
            if waits[v as usize] == 0 {
                ready.push(entry(v));
            }
        }
    }
    order
}

/// The list of a rule; what the closer of a started hold needs goes first, else its reservation pushes everybody behind it.
pub(crate) fn rule_list(m: &Model, rule: Rule) -> Vec<u32> {
    let mut order = list(m, &keys(m, rule));
    if m.any_started_hold {
        let mut first = vec![false; m.units];
        let mut todo: Vec<u32> =
            (0..m.tasks).filter(|&t| !m.closes.row(t).is_empty()).map(|t| m.unit_of[t]).collect();
        while let Some(u) = todo.pop() {
            if !std::mem::replace(&mut first[u as usize], true) {
                todo.extend_from_slice(m.unit_preds.row(u as usize));
            }
        }
        order.sort_by_key(|&u| (m.class[u as usize], !first[u as usize]));
    }
    order
}

/// The list of a whole plan: units by their first start.
pub(crate) fn by_starts(m: &Model, start: &[Time]) -> Vec<u32> {
    let first = |u: usize| m.members.row(u).iter().map(|&t| i64::from(start[t as usize])).min().unwrap_or(0);
    let keys: Vec<i64> = (0..m.units).map(first).collect();
    list(m, &keys)
}
