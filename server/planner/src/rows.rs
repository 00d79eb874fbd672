//! A solution as people read it: each department's queue with the reason of every place, and when each
//! vehicle will be finished and why not sooner.
//!
//! Invariant: reasons are data; words are made by whoever shows them, in their language.

use std::collections::{BTreeMap, BTreeSet};

use domain::ids::*;
use domain::state::State;
use domain::stored::*;
use domain::waiting::{self, Fact, Reason as Because};
use domain::{MINUTE, Ms, depends};
use plan::{Binding as Kept, Solution};
use serde::Serialize;
use utoipa::ToSchema;

use super::problem::{Built, Stands};

/// Shown times are rounded, for they are not better known than that.
pub(super) const ROUND_MS: Ms = 5 * MINUTE;

#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct Plan {
    pub rev: u64,
    pub at_seq: u64,
    pub at_time: Ms,
    pub rows: Vec<PlanRow>,
    pub vehicles: Vec<PlanVehicle>,
    /// Why there is no plan, as a sentence for the planner: people must free something by hand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trouble: Option<String>,
}

/// What is new in a plan for a phone that has the plan `base`; any other phone pulls the whole.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlanChange {
    pub rev: u64,
    pub base: u64,
    pub at_seq: u64,
    pub at_time: Ms,
    /// New rows, and those whose place, times or reason changed.
    pub rows: Vec<PlanRow>,
    /// Cards that have no row any more.
    pub gone: Vec<CardId>,
    pub vehicles: Vec<PlanVehicle>,
    /// Vehicles that are no longer planned.
    pub left: Vec<OrderId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trouble: Option<String>,
}

impl PlanChange {
    pub fn between(before: &Plan, now: &Plan) -> Self {
        let (rows, gone) = changed(&before.rows, &now.rows, |row| row.card);
        let (vehicles, left) = changed(&before.vehicles, &now.vehicles, |vehicle| vehicle.order);
        let Plan { rev, at_seq, at_time, ref trouble, .. } = *now;
        Self { rev, base: before.rev, at_seq, at_time, rows, gone, vehicles, left, trouble: trouble.clone() }
    }
}

/// What is new or different, and what is gone.
fn changed<T: Clone + PartialEq, K: Ord + Copy>(
    before: &[T],
    now: &[T],
    key: impl Fn(&T) -> K,
) -> (Vec<T>, Vec<K>) {
    let then: BTreeMap<K, &T> = before.iter().map(|row| (key(row), row)).collect();
    let kept: BTreeSet<K> = now.iter().map(&key).collect();
    let different = now.iter().filter(|row| then.get(&key(row)) != Some(row)).cloned().collect();
    (different, then.into_keys().filter(|key| !kept.contains(key)).collect())
}

#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlanRow {
    pub card: CardId,
    pub order: OrderId,
    pub department: DepartmentId,
    /// 1 is next in its department; 0 has started.
    pub place: u32,
    pub from: Ms,
    pub to: Ms,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<PersonId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub equipment: Option<EquipmentId>,
    pub reason: Reason,
}

/// Why here in the queue, and why not earlier.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Reason {
    pub binding: Binding,
    /// What this vehicle goes to next.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next: Option<Next>,
    /// Minutes between the planned end of the vehicle and its promise; below zero: late.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slack_minutes: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub put_first: Option<PutFirst>,
}

#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Next {
    pub department: DepartmentId,
    pub card: CardId,
    pub at: Ms,
    /// Nothing else is missing for it.
    pub waits_only_for_this: bool,
}

/// What keeps a card from being earlier.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Binding {
    Now,
    Started,
    After {
        card: CardId,
        until: Ms,
    },
    Curing {
        until: Ms,
    },
    People {
        department: DepartmentId,
        until: Ms,
    },
    Person {
        person: PersonId,
        until: Ms,
    },
    Equipment {
        equipment: EquipmentKind,
        order: Option<OrderId>,
        until: Ms,
    },
    Vehicle {
        card: CardId,
        until: Ms,
    },
    Shift {
        until: Ms,
    },
    Expected {
        until: Ms,
    },
    Hold {
        what: HoldKind,
        due: Option<Ms>,
    },
    /// It waits so that what it opens can be closed in one piece.
    OneRun {
        until: Ms,
    },
    PutFirst {
        card: CardId,
        until: Ms,
    },
    Qualified {
        qualification: Qualification,
    },
    /// It was closed over this: it must be opened again first.
    Shut {
        open: OpenId,
    },
    /// Nothing keeps it: it stays where it was shown, and may be begun sooner.
    Kept {
        until: Ms,
    },
}

#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlanVehicle {
    pub order: OrderId,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub finish: Option<Ms>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub promise: Option<Ms>,
    pub late_minutes: i64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub waits: Option<Waits>,
    /// From what ends it back to what decides it.
    pub chain: Vec<ChainLink>,
}

#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ChainLink {
    pub card: CardId,
    pub binding: Binding,
}

/// Reasons for waiting, one at a time, the first that applies (`domain::waiting`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum WaitReason {
    Stopped,
    Away,
    Approval,
    Parts,
    Customer,
    /// Another hold; its note says why.
    Other,
    Curing,
    NoEquipment,
    NobodyQualified,
    NobodyFree,
    TakenNotStarted,
    NoReason,
}

impl From<Because> for WaitReason {
    fn from(reason: Because) -> Self {
        match reason {
            Because::Stopped => Self::Stopped,
            Because::Away => Self::Away,
            Because::Approval => Self::Approval,
            Because::Parts => Self::Parts,
            Because::Customer => Self::Customer,
            Because::Other => Self::Other,
            Because::Curing => Self::Curing,
            Because::NoEquipment => Self::NoEquipment,
            Because::NobodyQualified => Self::NobodyQualified,
            Because::NobodyFree => Self::NobodyFree,
            Because::TakenNotStarted => Self::TakenNotStarted,
            Because::NoReason => Self::NoReason,
        }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Waits {
    pub reason: WaitReason,
    pub since: Ms,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub card: Option<CardId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub department: Option<DepartmentId>,
    /// Who holds what it waits for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by_order: Option<OrderId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub due: Option<Ms>,
    /// The hold that keeps it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hold: Option<HoldId>,
}

pub struct Writer<'a> {
    state: &'a State,
    built: &'a Built,
    solution: &'a Solution,
    now: Ms,
    finishes: BTreeMap<OrderId, Ms>,
}

impl<'a> Writer<'a> {
    pub fn new(state: &'a State, built: &'a Built, solution: &'a Solution, now: Ms) -> Self {
        let mut writer = Self { state, built, solution, now, finishes: BTreeMap::new() };
        let mut ends = vec![0; built.orders.len()];
        for (task, end) in built.problem.tasks.iter().zip(&solution.ends) {
            if let Some(job) = task.job {
                ends[job] = (*end).max(ends[job]);
            }
        }
        writer.finishes =
            built.orders.iter().zip(ends).map(|(order, end)| (*order, writer.rounded(end))).collect();
        writer
    }

    pub fn rows(&self) -> Vec<PlanRow> {
        let named = self.names();
        let mut queue: BTreeMap<&DepartmentId, u32> = BTreeMap::new();
        let mut rows = Vec::new();
        for task in &self.solution.order {
            let Some(card) = self.state.cards.get(&self.built.cards[*task]) else { continue };
            let started = matches!(card.life, Life::Working);
            let place = if started {
                0
            } else {
                let place = queue.entry(&card.department).or_default();
                *place += 1;
                *place
            };
            rows.push(PlanRow {
                card: card.id,
                order: card.order,
                department: card.department.clone(),
                place,
                from: self.rounded(self.solution.starts[*task]),
                to: self.rounded(self.solution.ends[*task]),
                person: card.taken_by.or_else(|| self.lead(card)),
                equipment: self.used(*task).or_else(|| named.get(task).cloned()),
                reason: self.reason(*task, card),
            });
        }
        rows
    }

    fn lead(&self, card: &Card) -> Option<PersonId> {
        self.state.orders.get(&card.order)?.leads.get(&card.department).copied()
    }

    fn rounded(&self, minutes: plan::Minutes) -> Ms {
        let at = self.built.at(minutes);
        (at + ROUND_MS / 2).div_euclid(ROUND_MS) * ROUND_MS
    }

    fn reason(&self, task: usize, card: &Card) -> Reason {
        let order = self.state.orders.get(&card.order);
        let slack = order
            .and_then(|o| o.promise)
            .zip(self.finish(card.order))
            .map(|(promise, end)| promise.saturating_sub(end) / MINUTE);
        Reason {
            binding: self.binding(task),
            next: self.next(task, card),
            slack_minutes: slack,
            put_first: card.put_first.clone().filter(|p| p.until > self.now),
        }
    }

    /// When the vehicle will be finished, as it is shown.
    fn finish(&self, order: OrderId) -> Option<Ms> {
        self.finishes.get(&order).copied()
    }

    /// The earliest card of another department that comes directly after.
    fn next(&self, task: usize, card: &Card) -> Option<Next> {
        let successors = &self.built.problem.tasks[task].successors;
        let after = successors.iter().map(|s| s.task).filter_map(|t| {
            let next = self.state.cards.get(&self.built.cards[t])?;
            (next.department != card.department).then_some((self.solution.starts[t], t, next))
        });
        let (start, _, next) = after.min_by_key(|(start, t, _)| (*start, *t))?;
        let only = depends::undone_before(self.state, next).iter().all(|id| *id == card.id);
        Some(Next {
            department: next.department.clone(),
            card: next.id,
            at: self.rounded(start),
            waits_only_for_this: only,
        })
    }

    fn binding(&self, task: usize) -> Binding {
        let card = self.built.cards[task];
        let until = self.rounded(self.solution.starts[task]);
        if let Some(qualification) = self.built.unqualified.get(&card) {
            return Binding::Qualified { qualification: qualification.clone() };
        }
        if let Some(open) = self.built.shut.get(&card) {
            return Binding::Shut { open: open.clone() };
        }
        let by_release = || {
            if let Some(hold) = self.built.held.get(&card) {
                return Binding::Hold { what: hold.what, due: hold.due };
            }
            match self.built.curing.get(&card) {
                Some(dry) => Binding::Curing { until: *dry },
                None => Binding::Expected { until },
            }
        };
        match &self.solution.bindings[task] {
            Kept::Nothing if self.solution.starts[task] <= 0 => Binding::Now,
            Kept::Nothing => by_release(),
            Kept::Frozen => Binding::Started,
            Kept::Release => by_release(),
            Kept::Predecessor { lag, .. } if *lag > 0 => Binding::Curing { until },
            Kept::Predecessor { task: before, .. } => {
                Binding::After { card: self.built.cards[*before], until }
            }
            Kept::People { resource, .. } => match &self.built.resources[*resource] {
                Stands::Person(person) => Binding::Person { person: *person, until },
                Stands::Department(department) => Binding::People { department: department.clone(), until },
                _ => Binding::Shift { until },
            },
            Kept::Equipment { resource, holders } => {
                self.equipment_binding(*resource, holders.first().copied(), until)
            }
            Kept::Place { holders, .. } => match holders.first() {
                Some(holder) => Binding::Vehicle { card: self.built.cards[*holder], until },
                None => Binding::Shift { until },
            },
            Kept::Calendar { .. } => Binding::Shift { until },
            Kept::Hold { resource, holders } => match resource {
                Some(resource) => self.equipment_binding(*resource, holders.first().copied(), until),
                None => Binding::OneRun { until },
            },
            Kept::Kept => Binding::Kept { until },
            Kept::PutFirst { task: first, .. } => Binding::PutFirst { card: self.built.cards[*first], until },
        }
    }

    fn equipment_binding(&self, resource: usize, holder: Option<usize>, until: Ms) -> Binding {
        let order = holder.and_then(|t| self.state.cards.get(&self.built.cards[t])).map(|c| c.order);
        match &self.built.resources[resource] {
            Stands::Kind(kind) | Stands::Piece(_, kind) => {
                Binding::Equipment { equipment: kind.clone(), order, until }
            }
            Stands::Vehicle(_) => match holder {
                Some(t) => Binding::Vehicle { card: self.built.cards[t], until },
                None => Binding::OneRun { until },
            },
            Stands::Department(department) => Binding::People { department: department.clone(), until },
            Stands::Person(person) => Binding::Person { person: *person, until },
        }
    }

    /// The piece of equipment of each card that has one, for the next plan to go on from.
    pub fn pieces(&self) -> BTreeMap<CardId, EquipmentId> {
        self.names().into_iter().map(|(task, piece)| (self.built.cards[task], piece)).collect()
    }

    /// Which lift: pieces that differ are planned by name; alike ones are named afterwards, in the order of time, where people
    /// know them if they can. What is occupied now keeps its name.
    fn names(&self) -> BTreeMap<usize, EquipmentId> {
        let mut named = BTreeMap::new();
        let mut uses = Vec::new();
        for (task, built) in self.built.problem.tasks.iter().enumerate() {
            let (from, to) = (self.solution.starts[task], self.solution.ends[task]);
            for demand in &built.demands {
                self.name(demand.resource, task, &mut named, |kind| {
                    uses.push((from, to, task, kind, self.used(task)))
                });
            }
        }
        for hold in &self.built.problem.holds {
            let from = hold.from.map_or(plan::Minutes::MIN, |t| self.solution.starts[t]);
            let (to, task) = (self.solution.ends[hold.to], hold.from.unwrap_or(hold.to));
            let on = || self.used(task).or_else(|| self.open_on(hold.to));
            self.name(hold.resource, task, &mut named, |kind| uses.push((from, to, task, kind, on())));
        }
        uses.sort_by_key(|(from, _, task, _, used)| (*from, used.is_none(), *task));
        let all = self.state.equipment.values().filter(|e| !e.retired);
        let mut free: BTreeMap<EquipmentId, plan::Minutes> =
            all.map(|e| (e.id.clone(), plan::Minutes::MIN)).collect();
        for (from, to, task, kind, used) in uses {
            let fits = |id: &EquipmentId, at: plan::Minutes| {
                at <= from && self.state.equipment.get(id).is_some_and(|e| e.kind == *kind)
            };
            let known = || {
                let id = self.built.pieces.get(&self.built.cards[task])?;
                free.get(id).is_some_and(|at| fits(id, *at)).then(|| id.clone())
            };
            let first = || free.iter().find(|(id, at)| fits(id, **at)).map(|(id, _)| id.clone());
            let Some(id) = used.or_else(known).or_else(first) else { continue };
            free.entry(id.clone()).and_modify(|at| *at = to.max(*at));
            named.insert(task, id);
        }
        named
    }

    fn name<'k>(
        &'k self,
        resource: usize,
        task: usize,
        named: &mut BTreeMap<usize, EquipmentId>,
        alike: impl FnOnce(&'k EquipmentKind),
    ) {
        match &self.built.resources[resource] {
            Stands::Piece(id, _) => drop(named.insert(task, id.clone())),
            Stands::Kind(kind) => alike(kind),
            _ => {}
        }
    }

    fn used(&self, task: usize) -> Option<EquipmentId> {
        let card = self.state.cards.get(&self.built.cards[task])?;
        card.used.clone().filter(|_| matches!(card.life, Life::Working | Life::Paused))
    }

    fn open_on(&self, closer: usize) -> Option<EquipmentId> {
        let card = self.state.cards.get(&self.built.cards[closer])?;
        let closes = card.needs.closes.as_ref()?;
        let order = self.state.orders.get(&card.order)?;
        order.open.iter().find(|now| now.open == *closes)?.equipment.clone()
    }

    pub fn vehicles(&self) -> Vec<PlanVehicle> {
        self.state.in_shop().map(|order| self.vehicle(order)).collect()
    }

    fn vehicle(&self, order: &Order) -> PlanVehicle {
        let job = self.built.orders.iter().position(|o| *o == order.id);
        let finish = self.finish(order.id);
        let late = order
            .promise
            .zip(finish)
            .map_or(0, |(promise, finish)| (finish.saturating_sub(promise) / MINUTE).max(0));
        let chain = job.map_or_else(Vec::new, |job| plan::chain(&self.built.problem, self.solution, job));
        let links =
            chain.iter().map(|l| ChainLink { card: self.built.cards[l.task], binding: self.binding(l.task) });
        PlanVehicle {
            order: order.id,
            finish,
            promise: order.promise,
            late_minutes: late,
            waits: self.waits(order),
            chain: links.collect(),
        }
    }

    /// Why nobody works on it now; none while somebody does, or when everything is done. The reason is the
    /// domain's to choose; until when, and who is in the way, the plan says.
    fn waits(&self, order: &Order) -> Option<Waits> {
        let next =
            |card: &Card| self.built.task_of.get(&card.id).map_or(i64::MAX, |t| self.solution.starts[*t]);
        let found = waiting::waits(self.state, order, self.now, next, |card| self.foreseen(card))?;
        let card = found.card.and_then(|id| self.state.cards.get(&id));
        let by_order = match card.and_then(|card| self.binding_of(card)) {
            Some(Binding::Equipment { order, .. }) if found.reason == Because::NoEquipment => order,
            _ => None,
        };
        Some(Waits {
            reason: found.reason.into(),
            since: found.since,
            card: found.card,
            department: card.map(|card| card.department.clone()),
            by_order,
            due: found.due,
            hold: found.hold,
        })
    }

    /// What place and people lack for a card that nothing else keeps.
    fn foreseen(&self, card: &Card) -> Vec<Fact> {
        let qualified = !self.built.unqualified.contains_key(&card.id);
        let lacks = match self.binding_of(card) {
            Some(Binding::Equipment { until, .. }) => Some(Fact::new(Because::NoEquipment, Some(until))),
            Some(
                Binding::People { .. }
                | Binding::Person { .. }
                | Binding::PutFirst { .. }
                | Binding::Shift { .. },
            ) => Some(Fact::new(Because::NobodyFree, None)),
            _ => None,
        };
        let nobody = (!qualified).then(|| Fact::new(Because::NobodyQualified, None));
        lacks.into_iter().chain(nobody).collect()
    }

    fn binding_of(&self, card: &Card) -> Option<Binding> {
        self.built.task_of.get(&card.id).map(|task| self.binding(*task))
    }
}
