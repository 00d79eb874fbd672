//! What the compiled problem needs to know about its precedence graph: order, reach, groups.
//!
//! Invariant: results depend on indexes only, never on the order in which something was joined or visited.

use crate::model::{Arc, Need, UnitHold};
use crate::problem::Until;
use crate::{NONE, Time};

pub(crate) struct Union {
    up: Vec<u32>,
}

impl Union {
    pub(crate) fn new(n: usize) -> Self {
        Self { up: (0..n as u32).collect() }
    }
    pub(crate) fn root(&mut self, mut i: usize) -> usize {
        while self.up[i] as usize != i {
            self.up[i] = self.up[self.up[i] as usize];
            i = self.up[i] as usize;
        }
        i
    }
    pub(crate) fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        // The smaller index stays, so the result does not depend on the order of joins.
        self.up[a.max(b)] = a.min(b) as u32;
    }
}

pub(crate) fn reversed(rows: &[Vec<u32>]) -> Vec<Vec<u32>> {
    let mut back = vec![Vec::new(); rows.len()];
    for (i, row) in rows.iter().enumerate() {
        for &s in row {
            back[s as usize].push(i as u32);
        }
    }
    back
}

/// Smallest key first among what is ready; what a circle keeps out is returned as the error.
pub(crate) fn topological(
    succs: &[Vec<u32>],
    fixed: &[bool],
    key: impl Fn(usize) -> i64,
) -> Result<Vec<u32>, Vec<u32>> {
    let n = succs.len();
    let mut waits = vec![0u32; n];
    for row in succs {
        for &s in row {
            waits[s as usize] += 1;
        }
    }
    let mut ready: std::collections::BinaryHeap<std::cmp::Reverse<(i64, u32)>> =
        (0..n).filter(|&i| waits[i] == 0).map(|i| std::cmp::Reverse((key(i), i as u32))).collect();
    let mut order = Vec::with_capacity(n);
    while let Some(std::cmp::Reverse((_, i))) = ready.pop() {
        order.push(i);
        for &s in &succs[i as usize] {
            waits[s as usize] -= 1;
            if waits[s as usize] == 0 {
                ready.push(std::cmp::Reverse((key(s as usize), s)));
            }
        }
    }
    if order.len() < n {
        // Only those that can reach themselves; what hangs behind the circle is not to blame.
        let left: Vec<u32> = (0..n as u32).filter(|&i| waits[i as usize] > 0 && !fixed[i as usize]).collect();
        let guilty: Vec<u32> = left
            .iter()
            .copied()
            .filter(|&i| !between_any(i as usize, i as usize, succs).is_empty())
            .collect();
        return Err(if guilty.is_empty() { left } else { guilty });
    }
    Ok(order)
}

pub(crate) fn reach(from: usize, rows: &[Vec<u32>]) -> Vec<usize> {
    let mut seen = std::collections::BTreeSet::new();
    let mut todo = vec![from];
    while let Some(i) = todo.pop() {
        for &s in &rows[i] {
            if seen.insert(s as usize) {
                todo.push(s as usize);
            }
        }
    }
    seen.into_iter().collect()
}

/// Everything on a path from `from` to `to` (both included), empty if there is none.
pub(crate) fn between(from: usize, to: usize, full: &[Vec<u32>], back: &[Vec<u32>]) -> Vec<usize> {
    if from == to {
        return vec![from];
    }
    let down = reach(from, full);
    if down.binary_search(&to).is_err() {
        return Vec::new();
    }
    let up = reach(to, back);
    let mut on: Vec<usize> = down.into_iter().filter(|x| up.binary_search(x).is_ok()).collect();
    on.push(from);
    on.push(to);
    on
}

/// Not empty if a path of at least one arc leads from `from` to `to`.
pub(crate) fn between_any(from: usize, to: usize, rows: &[Vec<u32>]) -> Vec<usize> {
    let down = reach(from, rows);
    if down.binary_search(&to).is_ok() { vec![to] } else { Vec::new() }
}

/// Longest path from start(from) to the end (or start) of `to`, inside one unit.
pub(crate) fn longest_within(
    members: &[u32],
    from: usize,
    to: usize,
    until: Until,
    succs: &[Vec<Arc>],
    dur: &[Time],
) -> Time {
    let mut at: std::collections::BTreeMap<u32, Time> = std::collections::BTreeMap::new();
    at.insert(from as u32, 0);
    for &m in members {
        let Some(&s) = at.get(&m) else { continue };
        for a in &succs[m as usize] {
            let x = at.entry(a.task).or_insert(0);
            *x = (*x).max(s + dur[m as usize] + a.lag);
        }
    }
    let start = at.get(&(to as u32)).copied().unwrap_or(0);
    if until == Until::End { start + dur[to] } else { start }
}

/// Numbers the units. Units that wait for each other in a circle become one.
pub(crate) fn make_units(
    n: usize,
    fixed: &[bool],
    group: &mut Union,
    succs: &[Vec<u32>],
    topo: &[u32],
) -> (Vec<u32>, usize) {
    loop {
        let mut number = vec![NONE; n];
        let mut unit_of = vec![NONE; n];
        let mut units = 0;
        for &i in topo {
            let i = i as usize;
            if fixed[i] {
                continue;
            }
            let r = group.root(i);
            if number[r] == NONE {
                number[r] = units as u32;
                units += 1;
            }
            unit_of[i] = number[r];
        }
        let mut graph: Vec<Vec<u32>> = vec![Vec::new(); units];
        let mut one: Vec<usize> = vec![0; units];
        for i in (0..n).filter(|&i| !fixed[i]) {
            one[unit_of[i] as usize] = i;
            for &s in &succs[i] {
                if unit_of[i] != unit_of[s as usize] {
                    graph[unit_of[i] as usize].push(unit_of[s as usize]);
                }
            }
        }
        match topological(&graph, &vec![false; units], |i| i as i64) {
            Ok(_) => return (unit_of, units),
            Err(left) => {
                // Join what reaches each other; two units of one circle reach each other both ways.
                let reaches: Vec<Vec<usize>> = left.iter().map(|&u| reach(u as usize, &graph)).collect();
                for (x, &u) in left.iter().enumerate() {
                    for (y, &v) in left.iter().enumerate().skip(x + 1) {
                        if reaches[x].binary_search(&(v as usize)).is_ok()
                            && reaches[y].binary_search(&(u as usize)).is_ok()
                        {
                            group.join(one[u as usize], one[v as usize]);
                        }
                    }
                }
            }
        }
    }
}

/// True if two uses of one resource inside the unit are not ordered by precedence.
pub(crate) fn is_crowded(
    members: &[u32],
    holds: &[UnitHold],
    needs: &[Vec<Need>],
    succs: &[Vec<Arc>],
) -> bool {
    if members.len() == 1 {
        return false;
    }
    let place = |t: u32| members.iter().position(|&m| m == t).expect("a member");
    // after[x]: members that start only after x has ended.
    let mut after: Vec<Vec<bool>> = vec![vec![false; members.len()]; members.len()];
    for (x, &m) in members.iter().enumerate().rev() {
        for a in &succs[m as usize] {
            if let Some(y) = members.iter().position(|&k| k == a.task) {
                after[x][y] = true;
                let far = after[y].clone();
                after[x].iter_mut().zip(far).for_each(|(to, from)| *to |= from);
            }
        }
    }
    // (resource, first, last, ends at the start of last)
    let mut uses: Vec<(u32, usize, usize, bool)> = Vec::new();
    for (x, &m) in members.iter().enumerate() {
        uses.extend(needs[m as usize].iter().map(|k| (k.res, x, x, false)));
    }
    uses.extend(holds.iter().map(|h| (h.res, place(h.from), place(h.to), h.until == Until::Start)));
    let before =
        |a: &(u32, usize, usize, bool), b: &(u32, usize, usize, bool)| after[a.2][b.1] || (a.3 && a.2 == b.1);
    uses.iter()
        .enumerate()
        .any(|(i, a)| uses[i + 1..].iter().any(|b| a.0 == b.0 && !before(a, b) && !before(b, a)))
}

pub(crate) fn meets(
    members: &[Vec<u32>],
    unit_preds: &[Vec<u32>],
    job_of: &dyn Fn(usize) -> Option<usize>,
) -> bool {
    let job = |u: usize| job_of(members[u][0] as usize);
    let mixed = |u: usize| members[u].iter().any(|&t| job_of(t as usize) != job(u));
    let tied = |u: usize| unit_preds[u].iter().any(|&v| job(v as usize) != job(u));
    (0..members.len()).any(|u| mixed(u) || tied(u))
}
