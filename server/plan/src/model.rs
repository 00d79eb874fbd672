//! The problem, checked and compiled for fast decoding.
//!
//! Invariants: units (single tasks, or everything between the opener and the closer of holds that touch each other) form a graph
//! without circles, so some order of them always exists; fixed tasks belong to no unit and are part of the base profiles;
//! started holds bind no unit: they are reservations without end that their closing task gives back.

use crate::calendar::Work;
use crate::problem::Until;
use crate::profile::Profile;
use crate::{NONE, Time};

/// Rows of different length in one vector.
#[derive(Clone, Debug, Default)]
pub(crate) struct Rows<T> {
    at: Vec<u32>,
    items: Vec<T>,
}

impl<T: Clone> Rows<T> {
    pub(crate) fn of(rows: &[Vec<T>]) -> Self {
        let mut at = Vec::with_capacity(rows.len() + 1);
        let mut items = Vec::new();
        at.push(0);
        for row in rows {
            items.extend_from_slice(row);
            at.push(items.len() as u32);
        }
        Self { at, items }
    }
    #[inline]
    pub(crate) fn row(&self, i: usize) -> &[T] {
        &self.items[self.at[i] as usize..self.at[i + 1] as usize]
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Need {
    pub res: u32,
    pub qty: i32,
    pub wall: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Arc {
    pub task: u32,
    pub lag: Time,
}

/// A hold inside a unit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct UnitHold {
    pub res: u32,
    pub qty: i32,
    pub from: u32,
    pub to: u32,
    pub until: Until,
    /// It lasts at least this long, whatever else happens.
    pub least: Time,
}

/// What the end of a task gives back: a started hold.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Close {
    pub res: u32,
    pub qty: i32,
    pub until: Until,
}

#[derive(Clone, Copy, Debug)]
pub(crate) struct Soft {
    pub from: u32,
    pub to: u32,
    pub max_lag: Time,
}

#[derive(Clone, Debug)]
pub(crate) struct Model {
    pub tasks: usize,
    pub units: usize,
    pub makespan: bool,
    pub max_lag_price: i64,
    pub dur: Vec<Time>,
    pub cal: Vec<u32>,
    pub one_go: Vec<bool>,
    pub job: Vec<u32>,
    pub fixed: Vec<bool>,
    /// Starts and ends of fixed tasks; zero elsewhere.
    pub fixed_start: Vec<Time>,
    pub fixed_end: Vec<Time>,
    /// Earliest start by release, now and fixed predecessors.
    pub est: Vec<Time>,
    pub needs: Rows<Need>,
    /// Free predecessors and successors (neither end fixed).
    pub preds: Rows<Arc>,
    pub succs: Rows<Arc>,
    pub calendars: Vec<Work>,
    pub base: Vec<Profile>,
    pub now: Time,
    /// How many tasks and holds use each resource.
    pub users: Vec<u32>,
    /// There is never more than one of it.
    pub single: Vec<bool>,
    /// Crowded units or facts may overbook it for a while.
    pub overbooked: Vec<bool>,
    pub due: Vec<Option<Time>>,
    pub weight: Vec<i64>,
    pub release: Vec<Time>,
    pub unit_of: Vec<u32>,
    pub members: Rows<u32>,
    pub unit_holds: Rows<UnitHold>,
    pub unit_softs: Rows<Soft>,
    /// Uses of one resource inside the unit may meet: they have to be reserved while it is being placed.
    pub crowded: Vec<bool>,
    pub unit_preds: Rows<u32>,
    pub unit_succs: Rows<u32>,
    /// 0 put first, 1 sticky, 2 the rest; what a unit needs is never in a later class.
    pub class: Vec<u8>,
    pub closes: Rows<Close>,
    pub any_started_hold: bool,
    pub softs: Vec<Soft>,
    /// Per unit: holds that its opener (by task) must respect when it starts.
    pub opens: Rows<UnitHold>,
    /// Estimated wall minutes from the start of a task to the end of its longest chain.
    pub tail: Vec<Time>,
    /// Latest start that keeps every due date downstream, by estimates; large without due dates.
    pub late: Vec<i64>,
    /// At least this much passes from the end of a task to the end of everything behind it …
    pub after_least: Vec<Time>,
    /// … and to the end of its own job.
    pub job_after_least: Vec<Time>,
    /// Least completion of each job (`Time::MIN`: it has no tasks) and of everything, before anything is placed.
    pub job_least: Vec<Time>,
    pub last_least: Time,
    pub least_cost: i64,
    /// Precedence or a unit ties tasks of different jobs together.
    pub jobs_meet: bool,
    /// Some task belongs to no job.
    pub any_loose: bool,
    /// All tasks in an order that respects precedence.
    pub topo: Vec<u32>,
}

pub(crate) const NO_DUE: i64 = 1 << 27;

impl Model {
    #[inline]
    pub(crate) fn lateness(&self, job: u32, end: Time) -> i64 {
        lateness(self.due[job as usize], self.weight[job as usize], end)
    }

    /// The first start from `from` on that its calendar allows.
    pub(crate) fn begins_alone(&self, t: usize, from: Time) -> Time {
        match self.cal[t] {
            NONE => from,
            _ if self.dur[t] == 0 => from,
            c if self.one_go[t] => self.calendars[c as usize].next_one_go(from, self.dur[t]),
            c => self.calendars[c as usize].next(from),
        }
    }

    /// Where a task begun at `start` ends.
    pub(crate) fn end_of(&self, t: usize, start: Time) -> Time {
        match self.cal[t] {
            NONE => start + self.dur[t],
            _ if self.dur[t] == 0 => start,
            c => self.calendars[c as usize].finish(self.calendars[c as usize].next(start), self.dur[t]),
        }
    }

    /// The class of a unit may not fall along the list; `order` keeps its own sequence inside each class.
    pub(crate) fn by_class(&self, order: &mut [u32]) {
        order.sort_by_key(|&u| self.class[u as usize]);
    }
}

#[inline]
pub(crate) fn lateness(due: Option<Time>, weight: i64, end: Time) -> i64 {
    due.map_or(0, |d| weight * (i64::from(end) - i64::from(d)).max(0))
}
