//! What a vehicle was doing at every moment, and why it stood: one reason at a time, in the order of
//! [`crate::waiting`].
//!
//! A vehicle waits for one card. Among the cards that nothing before them or outside keeps, that is the one
//! that was started next; only if there is none, it is one of those that something keeps. So a vehicle that
//! lacks a part waits for people as long as there is other work on it. This is read off afterwards, from what
//! was started, not from what had been planned.
//!
//! Invariants: stretches are in order and do not overlap; while somebody works on the vehicle it waits for
//! nothing.
//! The state does not keep: when a proposed card was approved or a card cancelled (proposed cards wait for
//! approval as long as they are proposed, cancelled ones count only if they were worked on), earlier links, and
//! who held a card before its last holder.

use std::collections::{BTreeMap, BTreeSet};

use super::crew::{Crew, Who};
use super::place::Places;
use super::span::{minus, split};
use super::visit::Visit;
use crate::Ms;
use crate::calendar::Interval;
use crate::ids::{CardId, OrderId};
use crate::open;
use crate::state::State;
use crate::stored::*;
use crate::waiting::{self, Reason};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Doing {
    /// Somebody works at the vehicle.
    Worked,
    /// Done, not picked up.
    Ready,
    Stands(Reason),
}

#[derive(Debug, Clone, Copy)]
pub(super) struct Stretch<'a> {
    pub from: Ms,
    pub to: Ms,
    pub doing: Doing,
    /// Meanwhile somebody works on a part that is off the vehicle: then it waits for nobody.
    pub loose: bool,
    /// What it waits for.
    pub card: Option<&'a Card>,
}

enum Change {
    Stage(Stage),
    /// Nothing before it is undone any more.
    Due(usize),
    Dry(usize),
    Begun(usize),
    Ended(usize),
    Taken(usize),
    Done(usize),
    Held(usize, HoldKind, i32),
}

/// One card as the sweep passes over time.
struct Task<'a> {
    card: &'a Card,
    /// Starts of work still to come, the next one last.
    begins: Vec<Ms>,
    running: i32,
    due: bool,
    dry: bool,
    taken: bool,
    begun: bool,
    done: bool,
    holds: [i32; 5],
    spot: Option<(Spot, Ms)>,
}

/// Which of the two lists a card stands in: nothing keeps it, or something does.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Spot {
    Free,
    Kept,
}

impl Task<'_> {
    fn kept(&self) -> Option<Reason> {
        let holds = HOLDS.iter().zip(self.holds).filter(|(_, count)| *count > 0);
        let holds = holds.map(|(what, _)| Reason::of_hold(*what));
        let proposed = (self.card.life == Life::Proposed).then_some(Reason::Approval);
        let wet = (!self.dry).then_some(Reason::Curing);
        waiting::first(holds.chain(proposed).chain(wet))
    }

    fn spot(&self) -> Option<(Spot, Ms)> {
        let stands = self.due && !self.done && self.running == 0;
        let next = self.begins.last().copied().unwrap_or(Ms::MAX);
        stands.then(|| (if self.kept().is_some() { Spot::Kept } else { Spot::Free }, next))
    }
}

const HOLDS: [HoldKind; 5] =
    [HoldKind::Approval, HoldKind::Parts, HoldKind::Customer, HoldKind::Sublet, HoldKind::Other];

fn hold_place(what: HoldKind) -> usize {
    HOLDS.iter().position(|known| *known == what).unwrap_or(HOLDS.len() - 1)
}

struct Sweep<'a> {
    tasks: Vec<Task<'a>>,
    free: BTreeSet<(Ms, usize)>,
    kept: BTreeSet<(Ms, usize)>,
    stage: Option<Stage>,
    here: i32,
    loose: i32,
}

/// The vehicle of one order between `from` and `to`; nothing before its keys were in or the order was opened
/// (nobody recorded why it stood before that), nothing after they left.
pub(super) fn stretches<'a>(
    state: &'a State,
    visit: &Visit<'a>,
    (from, to, now): (Ms, Ms, Ms),
    crew: &mut Crew<'a>,
    places: &mut Places<'a>,
) -> Vec<Stretch<'a>> {
    let order = visit.order;
    let from = from.max(order.created_at);
    let mut sweep = Sweep::new(visit, now);
    let mut changes = sweep.changes(state, order, now);
    changes.sort_by_key(|(at, _)| *at);
    let end = visit.over.unwrap_or(now).min(to);
    let mut found = Found { list: Vec::new(), from };
    let mut at = Ms::MIN;
    for (next, change) in changes {
        if next >= end {
            break;
        }
        if next > at {
            if next > from {
                sweep.emit(state, order, (at.max(from), next), crew, places, &mut found);
            }
            at = next;
        }
        sweep.apply(at, change);
    }
    sweep.emit(state, order, (at.max(from), end), crew, places, &mut found);
    found.list
}

impl<'a> Sweep<'a> {
    fn new(visit: &Visit<'a>, now: Ms) -> Self {
        let tasks = visit.cards.iter().copied().map(|card| {
            // A stretch without length is no work, here as in `changes`.
            let lasts = |s: &&Span| s.from < s.to.unwrap_or(now);
            let mut begins: Vec<Ms> = card.spans.iter().filter(lasts).map(|s| s.from).collect();
            begins.sort_unstable_by(|a, b| b.cmp(a));
            Task {
                card,
                begins,
                running: 0,
                due: false,
                dry: false,
                taken: false,
                begun: false,
                done: card.life == Life::Cancelled,
                holds: [0; 5],
                spot: None,
            }
        });
        let (free, kept) = (BTreeSet::new(), BTreeSet::new());
        Self { tasks: tasks.collect(), free, kept, stage: None, here: 0, loose: 0 }
    }

    /// Everything that happened to the vehicle.
    fn changes(&self, state: &State, order: &Order, now: Ms) -> Vec<(Ms, Change)> {
        let mut all: Vec<(Ms, Change)> =
            order.stages.iter().map(|s| (s.at, Change::Stage(s.stage))).collect();
        let place: BTreeMap<CardId, usize> =
            self.tasks.iter().enumerate().map(|(i, task)| (task.card.id, i)).collect();
        for (i, task) in self.tasks.iter().enumerate() {
            let card = task.card;
            all.extend(self.due(card, &place).map(|at| (at, Change::Due(i))));
            all.extend(card.ready_at.map(|at| (at, Change::Dry(i))));
            all.extend(card.taken_at.filter(|_| card.taken_by.is_some()).map(|at| (at, Change::Taken(i))));
            if card.life == Life::Done {
                all.push((card.done_at.unwrap_or(card.created_at), Change::Done(i)));
            }
            for span in &card.spans {
                let end = span.to.unwrap_or(now);
                if span.from < end {
                    all.push((span.from, Change::Begun(i)));
                    all.push((end, Change::Ended(i)));
                }
            }
        }
        for hold in order.holds.iter().filter(|h| h.blocks == Blocks::Start) {
            let end = hold.ended.unwrap_or(Ms::MAX);
            let named: Vec<usize> = match hold.cards.is_empty() {
                true => {
                    let kept = |i: &usize| !open::was_meanwhile(state, self.tasks[*i].card);
                    (0..self.tasks.len()).filter(kept).collect()
                }
                false => hold.cards.iter().filter_map(|id| place.get(id).copied()).collect(),
            };
            for i in named.into_iter().filter(|_| hold.since < end) {
                all.push((hold.since, Change::Held(i, hold.what, 1)));
                all.push((end, Change::Held(i, hold.what, -1)));
            }
        }
        all
    }

    /// When the last predecessor of the card was done, cure left aside; none while one is undone.
    fn due(&self, card: &Card, place: &BTreeMap<CardId, usize>) -> Option<Ms> {
        let mut latest = card.created_at;
        for before in card.after.iter().filter_map(|link| place.get(&link.card)) {
            let before = self.tasks[*before].card;
            match before.life {
                Life::Cancelled => {}
                Life::Done => latest = latest.max(before.done_at.unwrap_or(latest)),
                _ => return None,
            }
        }
        Some(latest)
    }

    fn apply(&mut self, at: Ms, change: Change) {
        let i = match change {
            Change::Stage(stage) => {
                self.stage = Some(stage);
                return;
            }
            Change::Due(i)
            | Change::Dry(i)
            | Change::Begun(i)
            | Change::Ended(i)
            | Change::Taken(i)
            | Change::Done(i)
            | Change::Held(i, ..) => i,
        };
        let task = &mut self.tasks[i];
        let working = if task.card.needs.off_vehicle { &mut self.loose } else { &mut self.here };
        match change {
            Change::Stage(_) => {}
            Change::Due(_) => task.due = true,
            Change::Dry(_) => task.dry = true,
            Change::Taken(_) => task.taken = true,
            Change::Done(_) => task.done = true,
            Change::Held(_, what, by) => task.holds[hold_place(what)] += by,
            Change::Begun(_) => {
                (task.running, task.begun, *working) = (task.running + 1, true, *working + 1);
                while task.begins.last().is_some_and(|next| *next <= at) {
                    task.begins.pop();
                }
            }
            Change::Ended(_) => (task.running, *working) = (task.running - 1, *working - 1),
        }
        let spot = task.spot();
        let before = std::mem::replace(&mut task.spot, spot);
        if spot != before {
            if let Some((list, next)) = before {
                self.list(list).remove(&(next, i));
            }
            if let Some((list, next)) = spot {
                self.list(list).insert((next, i));
            }
        }
    }

    fn list(&mut self, spot: Spot) -> &mut BTreeSet<(Ms, usize)> {
        match spot {
            Spot::Free => &mut self.free,
            Spot::Kept => &mut self.kept,
        }
    }

    /// What it does from here to the next change.
    fn emit(
        &self,
        state: &'a State,
        order: &'a Order,
        (from, to): Interval,
        crew: &mut Crew<'a>,
        places: &mut Places<'a>,
        found: &mut Found<'a>,
    ) {
        if from >= to {
            return;
        }
        let loose = self.loose > 0;
        let plain = |doing, card| Stretch { from, to, doing, loose, card };
        let stands = |reason| plain(Doing::Stands(reason), None);
        let first = |list: &BTreeSet<(Ms, usize)>| list.first().map(|(_, i)| &self.tasks[*i]);
        match self.stage {
            None | Some(Stage::Expected | Stage::Delivered) => {}
            _ if self.here > 0 => found.push(plain(Doing::Worked, None)),
            Some(Stage::Ready) => found.push(plain(Doing::Ready, None)),
            Some(Stage::Stopped) => found.push(stands(Reason::Stopped)),
            Some(Stage::Away) => found.push(stands(Reason::Away)),
            Some(stage @ (Stage::Arrived | Stage::Authorised)) => {
                if let Some(task) = first(&self.free) {
                    let whose = whose(state, order, task);
                    for (from, to, reason) in why(order.id, task, whose, (from, to), crew, places) {
                        let doing = Doing::Stands(reason);
                        found.push(Stretch { from, to, doing, loose, card: Some(task.card) });
                    }
                } else if let Some((task, reason)) = first(&self.kept).and_then(|t| Some((t, t.kept()?))) {
                    found.push(plain(Doing::Stands(reason), Some(task.card)));
                } else if stage == Stage::Arrived {
                    // Nothing is left that may be done before the repair is authorised.
                    found.push(stands(Reason::Approval));
                } else {
                    found.push(stands(Reason::NoReason));
                }
            }
        }
    }
}

/// Who would go on with it: its holder, else the vehicle's lead, else anybody of the department.
fn whose<'a>(state: &State, order: &Order, task: &Task<'a>) -> Who<'a> {
    let card = task.card;
    let taken = card.taken_by.filter(|_| task.taken);
    let by_lead = || state.departments.get(&card.department).is_some_and(|d| d.working == Working::Lead);
    let lead = || order.leads.get(&card.department).copied().filter(|_| by_lead());
    taken.or_else(lead).map_or(Who::Department(&card.department), Who::Person)
}

/// Why nobody works on a card that nothing keeps.
fn why<'a>(
    order: OrderId,
    task: &Task<'a>,
    whose: Who<'a>,
    (from, to): Interval,
    crew: &mut Crew<'a>,
    places: &mut Places<'a>,
) -> Vec<(Ms, Ms, Reason)> {
    let card = task.card;
    let mut found = Vec::new();
    let mut blocked = Vec::new();
    if let Some(kind) = &card.needs.equipment {
        let full: Vec<Interval> = super::span::within(&places.full(kind), from, to).collect();
        blocked = minus(&full, places.own(order, kind));
    }
    let needed = card.needs.qualification.as_ref();
    let qualified = needed.map_or(Some(Ms::MAX), |q| crew.qualified_until(&card.department, q));
    let free = crew.free(whose, needed);
    let idle = task.taken && !task.begun;
    for (a, b, no_equipment) in split(&blocked, from, to) {
        let last = qualified.unwrap_or(a).clamp(a, b);
        for (a, b, nobody_qualified) in [(a, last, false), (last, b, true)] {
            for (a, b, somebody) in split(&free, a, b) {
                let lacks = [
                    (no_equipment, Reason::NoEquipment),
                    (nobody_qualified, Reason::NobodyQualified),
                    (!somebody, Reason::NobodyFree),
                    (idle, Reason::TakenNotStarted),
                    (true, Reason::NoReason),
                ];
                let reason = waiting::first(lacks.into_iter().filter(|(lacks, _)| *lacks).map(|(_, r)| r));
                found.push((a, b, reason.unwrap_or(Reason::NoReason)));
            }
        }
    }
    found
}

struct Found<'a> {
    list: Vec<Stretch<'a>>,
    from: Ms,
}

impl<'a> Found<'a> {
    /// Goes on with the stretch before where nothing changed.
    fn push(&mut self, stretch: Stretch<'a>) {
        if stretch.to <= self.from {
            return;
        }
        let same = |last: &Stretch<'_>| {
            last.to == stretch.from
                && last.doing == stretch.doing
                && last.loose == stretch.loose
                && last.card.map(|c| c.id) == stretch.card.map(|c| c.id)
        };
        match self.list.last_mut().filter(|last| same(last)) {
            Some(last) => last.to = stretch.to,
            None => self.list.push(stretch),
        }
    }
}
