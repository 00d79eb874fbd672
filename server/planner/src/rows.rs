//! A solution as people read it: each department's queue with a reason for every position, and when each
//! vehicle will be finished and why not sooner.
//!
//! Invariant: reasons are data; the app makes sentences of them, in the reader's language.

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

/// Shown times are rounded, because they are not known any better.
pub(super) const ROUND_MS: Ms = 5 * MINUTE;

/// The order of the whole shop, as people read it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct Plan {
    /// One more with every change that is shown; starts anew with the server. 0: there is no plan.
    pub rev: u64,
    /// The log entry of the state it was made from.
    pub at_seq: u64,
    /// The server's clock when it was made, UTC ms.
    pub at_time: Ms,
    /// One for each planned card, in the order of the plan; a department's queue is this list filtered.
    pub rows: Vec<PlanRow>,
    /// One for each vehicle in the shop.
    pub vehicles: Vec<PlanVehicle>,
    /// What could not be planned and why, as an English sentence for the planner; absent if all was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trouble: Option<String>,
}

/// What is new in a plan for a phone that has the plan `base`. Any other phone pulls the whole plan.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlanChange {
    /// Revision of the new plan.
    pub rev: u64,
    /// Revision of the plan it changes.
    pub base: u64,
    /// The log entry of the state the new plan was made from.
    pub at_seq: u64,
    /// The server's clock when it was made, UTC ms.
    pub at_time: Ms,
    /// New rows, and those of which anything changed.
    pub rows: Vec<PlanRow>,
    /// Cards that no longer have a row.
    pub gone: Vec<CardId>,
    /// New vehicles, and those of which anything changed.
    pub vehicles: Vec<PlanVehicle>,
    /// Vehicles that are no longer planned.
    pub left: Vec<OrderId>,
    /// What could not be planned and why; absent if all was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trouble: Option<String>,
}

impl PlanChange {
    /// What changes from one plan to another.
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

/// One card's position in its department's queue.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlanRow {
    /// Which card.
    pub card: CardId,
    /// The order it belongs to.
    pub order: OrderId,
    /// Whose queue it is in.
    pub department: DepartmentId,
    /// Position in that queue: 1 is next, 0 has started.
    pub place: u32,
    /// When it is to begin, or began, UTC ms, rounded to five minutes.
    pub from: Ms,
    /// When it is to be done, UTC ms, rounded to five minutes; nights and weekends lie in between.
    pub to: Ms,
    /// Who holds it, else the vehicle's lead in that department; absent if there is neither.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<PersonId>,
    /// The piece it is planned on; absent if it needs none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub equipment: Option<EquipmentId>,
    /// Why it has this position.
    pub reason: Reason,
}

/// Why here in the queue, and why not earlier.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Reason {
    /// What keeps it from being earlier.
    pub binding: Binding,
    /// Where the vehicle goes next; absent if no other department follows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next: Option<Next>,
    /// Calendar minutes from the vehicle's planned end to its promise; below zero: late. Absent without a
    /// promise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slack_minutes: Option<i64>,
    /// A planner's overruling that is in force.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub put_first: Option<PutFirst>,
}

/// The card of another department that comes directly after.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Next {
    /// Whose it is.
    pub department: DepartmentId,
    /// Which card.
    pub card: CardId,
    /// When it is to begin, UTC ms, rounded to five minutes.
    pub at: Ms,
    /// Whether nothing else keeps it.
    pub waits_only_for_this: bool,
}

/// What keeps a card from being earlier.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Binding {
    /// Nothing: it can begin now.
    Now,
    /// It has started.
    Started,
    /// A card before it is not done.
    After {
        /// Which card.
        card: CardId,
        /// When this card is planned to begin, UTC ms.
        until: Ms,
    },
    /// Something before it is wet or cures.
    Curing {
        /// When that ends, UTC ms, as far as it is known; else when this card is planned to begin.
        until: Ms,
    },
    /// Nobody of the department is free.
    People {
        /// Which department.
        department: DepartmentId,
        /// When this card is planned to begin, UTC ms.
        until: Ms,
    },
    /// The person who is to do it is busy.
    Person {
        /// Who.
        person: PersonId,
        /// When this card is planned to begin, UTC ms.
        until: Ms,
    },
    /// The equipment is occupied.
    Equipment {
        /// Which kind.
        equipment: EquipmentKind,
        /// The vehicle that is on it; none: it is out of service.
        order: Option<OrderId>,
        /// When this card is planned to begin, UTC ms.
        until: Ms,
    },
    /// Other work goes on at the same vehicle.
    Vehicle {
        /// Which card.
        card: CardId,
        /// When this card is planned to begin, UTC ms.
        until: Ms,
    },
    /// Nobody is on shift.
    Shift {
        /// When this card is planned to begin, UTC ms.
        until: Ms,
    },
    /// The vehicle is not here yet.
    Expected {
        /// When this card is planned to begin, UTC ms.
        until: Ms,
    },
    /// A hold keeps it.
    Hold {
        /// What is waited for.
        what: HoldKind,
        /// When that is expected, UTC ms; none: nobody knows.
        due: Option<Ms>,
    },
    /// It waits so that what it opens can be closed without a pause in between.
    OneRun {
        /// When this card is planned to begin, UTC ms.
        until: Ms,
    },
    /// A planner put another card first.
    PutFirst {
        /// Which card.
        card: CardId,
        /// When this card is planned to begin, UTC ms.
        until: Ms,
    },
    /// Nobody who could do it has the qualification.
    Qualified {
        /// Which one.
        qualification: Qualification,
    },
    /// The vehicle was closed over this card and must be opened again first.
    Shut {
        /// The way of being open.
        open: OpenId,
    },
    /// Nothing keeps it. It stays where it was shown, and may be begun sooner.
    Kept {
        /// When this card is planned to begin, UTC ms.
        until: Ms,
    },
}

/// When one vehicle will be finished, and what decides that.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlanVehicle {
    /// The order of the vehicle.
    pub order: OrderId,
    /// When its last card will be done, UTC ms, rounded to five minutes; absent if it cannot be planned.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub finish: Option<Ms>,
    /// When it is promised, UTC ms; absent if it is not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub promise: Option<Ms>,
    /// Calendar minutes from the promise to the planned end; 0: in time, or not promised.
    pub late_minutes: i64,
    /// What it waits for now; absent if somebody works on it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub waits: Option<Waits>,
    /// From the card that ends it, back to the one that decides when.
    pub chain: Vec<ChainLink>,
}

/// One step of the story behind a vehicle's end.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ChainLink {
    /// Which card.
    pub card: CardId,
    /// What keeps it from being earlier.
    pub binding: Binding,
}

/// Why a vehicle waits: one reason at a time, the first that applies (`domain::waiting`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum WaitReason {
    /// The job was stopped.
    Stopped,
    /// The vehicle is at a sublet.
    Away,
    /// Somebody has to approve.
    Approval,
    /// Parts have to come.
    Parts,
    /// The customer has to decide or bring something.
    Customer,
    /// Another hold; its note says why.
    Other,
    /// Something is wet or cures.
    Curing,
    /// The equipment it needs is occupied or out of service.
    NoEquipment,
    /// Nobody who is there has the qualification.
    NobodyQualified,
    /// Everybody of the department is busy or off shift.
    NobodyFree,
    /// Somebody holds the card and has not started.
    TakenNotStarted,
    /// It could go on, and nobody goes on.
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

/// What a vehicle waits for now.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Waits {
    /// Why it waits.
    pub reason: WaitReason,
    /// Since when, UTC ms.
    pub since: Ms,
    /// The card that waits; absent where the vehicle waits as a whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub card: Option<CardId>,
    /// Whose card that is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub department: Option<DepartmentId>,
    /// The vehicle that occupies what it waits for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by_order: Option<OrderId>,
    /// When the waiting is expected to end, UTC ms; absent if nobody knows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub due: Option<Ms>,
    /// The hold behind it, if it is a hold.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hold: Option<HoldId>,
}

/// Turns a solution into rows.
pub struct Writer<'a> {
    state: &'a State,
    built: &'a Built,
    solution: &'a Solution,
    now: Ms,
    finishes: BTreeMap<OrderId, Ms>,
}

impl<'a> Writer<'a> {
    /// Of one solution.
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

    /// Every card's position, in the order of the queues.
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

    /// Which lift: pieces that differ are planned by name; interchangeable ones are named afterwards, in order
    /// of time, where people expect them if possible. What is occupied now keeps its name.
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

    /// Every vehicle's end.
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

    /// Why nobody works on it now; none while somebody does, or when everything is done. The domain chooses the
    /// reason; the plan adds until when, and who is in the way.
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

    /// What equipment and people are lacking for a card that nothing else keeps.
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
