//! The shop's state as a planning problem: which cards, whose hours, which equipment, what is held.
//!
//! Invariants: the same state and minute give the same problem, in the order of ids; what has started
//! stays where it is; one vehicle is in one place at a time.
//! Must not know: the search, the words of a reason.

use std::collections::{BTreeMap, BTreeSet};

use domain::calendar::{self, Interval};
use domain::ids::*;
use domain::state::State;
use domain::stored::*;
use domain::{MINUTE, Ms, depends, open};
use jiff::tz::TimeZone;

use super::Shown;
use plan::{Calendar, Demand, Job, Minutes, Problem, Resource, Successor, Task, Until};

/// How far calendars are unrolled: beyond it every minute counts as working time.
const HORIZON_MS: Ms = 70 * 24 * 60 * MINUTE;
/// A card that is kept without a date is looked at again after this time.
const UNDATED_MS: Ms = 2 * 24 * 60 * MINUTE;
/// Work that has used up its planned time is nearly done, as far as anybody knows.
const REMAINING_MINUTES_MIN: i64 = 15;
/// Dates further away are typing errors, or come from a wrong clock.
const SENSIBLE_MS: Ms = 6 * 366 * 24 * 60 * MINUTE;
/// Older logs are not limited.
const WEIGHT_MAX: u32 = 100;
/// Longer than any card or cure, because older logs are not limited.
const LENGTH_MINUTES_MAX: Minutes = 366 * 24 * 60;
/// Equipment is occupied this many times as long as the work takes: people have other work, and shifts end.
const KEPT_STRETCH: Minutes = 3;
/// Price of a minute past a maximum lag, in urgency × minutes.
const MAX_LAG_PRICE: i64 = 2;

/// A problem, and what its indexes stand for.
pub struct Built {
    pub problem: Problem,
    /// Zero of the minutes.
    pub origin: Ms,
    pub cards: Vec<CardId>,
    pub orders: Vec<OrderId>,
    pub resources: Vec<Stands>,
    pub task_of: BTreeMap<CardId, usize>,
    /// Cards that wait for a hold, with it.
    pub held: BTreeMap<CardId, Hold>,
    /// Cards whose cure ends later than now.
    pub curing: BTreeMap<CardId, Ms>,
    /// Cards for which nobody has the qualification.
    pub unqualified: BTreeMap<CardId, Qualification>,
    /// Undone inside what was closed over them: it must be opened again first.
    pub shut: BTreeMap<CardId, OpenId>,
    /// The piece of equipment on which people expect each card.
    pub pieces: BTreeMap<CardId, EquipmentId>,
    /// Moments, besides starts and ends of tasks, at which the plan changes.
    pub turns: Vec<Minutes>,
}

/// What a resource stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stands {
    Department(DepartmentId),
    Person(PersonId),
    /// All pieces of a kind, if they are interchangeable.
    Kind(EquipmentKind),
    /// One piece, if they are not.
    Piece(EquipmentId, EquipmentKind),
    Vehicle(OrderId),
}

impl Built {
    pub fn at(&self, minutes: Minutes) -> Ms {
        self.origin + minutes * MINUTE
    }
}

/// `shown`: what people see; a card stays on the piece on which they expect it. `left_out`: cards not to be
/// planned.
pub fn build(
    state: &State,
    zone: &TimeZone,
    now: Ms,
    shown: &Shown,
    left_out: &dyn Fn(OrderId) -> bool,
) -> Built {
    let origin = now - now.rem_euclid(MINUTE);
    let mut builder = Builder {
        state,
        zone,
        origin,
        shown,
        built: Built {
            problem: Problem { now: 0, max_lag_price: MAX_LAG_PRICE, ..Problem::default() },
            origin,
            cards: Vec::new(),
            orders: Vec::new(),
            resources: Vec::new(),
            task_of: BTreeMap::new(),
            held: BTreeMap::new(),
            curing: BTreeMap::new(),
            unqualified: BTreeMap::new(),
            shut: BTreeMap::new(),
            pieces: shown.pieces.clone(),
            turns: Vec::new(),
        },
        departments: BTreeMap::new(),
        people: BTreeMap::new(),
        kinds: BTreeMap::new(),
    };
    let orders: Vec<&Order> = state.in_shop().filter(|order| !left_out(order.id)).collect();
    orders.into_iter().for_each(|order| builder.order(order));
    builder.built
}

struct Builder<'a> {
    state: &'a State,
    zone: &'a TimeZone,
    origin: Ms,
    shown: &'a Shown,
    built: Built,
    /// Resource and calendar of each department.
    departments: BTreeMap<DepartmentId, (usize, usize)>,
    people: BTreeMap<PersonId, (usize, usize)>,
    kinds: BTreeMap<EquipmentKind, Pieces>,
}

impl Builder<'_> {
    /// A date that no shop can mean counts as none, so that it does not disturb the others.
    fn sensible(&self, at: Ms) -> bool {
        at.abs_diff(self.origin) <= SENSIBLE_MS.unsigned_abs()
    }

    fn minutes(&self, at: Ms) -> Minutes {
        at.clamp(self.origin - SENSIBLE_MS, self.origin + SENSIBLE_MS)
            .saturating_sub(self.origin)
            .div_euclid(MINUTE)
    }

    /// Rounded up: never before it really holds.
    fn minutes_up(&self, at: Ms) -> Minutes {
        let at = at.clamp(self.origin - SENSIBLE_MS, self.origin + SENSIBLE_MS);
        -((self.origin - at).div_euclid(MINUTE))
    }

    fn resource(&mut self, stands: Stands, resource: Resource) -> usize {
        self.built.resources.push(stands);
        self.built.problem.resources.push(resource);
        self.built.problem.resources.len() - 1
    }

    fn calendar(&mut self, open: Vec<Interval>) -> usize {
        let open = open
            .into_iter()
            .map(|(from, to)| (self.minutes(from), self.minutes(to)))
            .filter(|(from, to)| from < to)
            .collect();
        self.built.problem.calendars.push(Calendar { open });
        self.built.problem.calendars.len() - 1
    }

    fn end(&self) -> Ms {
        self.origin + HORIZON_MS
    }

    /// The people of a department as a pool: as many as are on shift.
    fn department(&mut self, id: &DepartmentId) -> (usize, usize) {
        if let Some(found) = self.departments.get(id) {
            return *found;
        }
        let home: Vec<&Person> = self
            .state
            .people
            .values()
            .map(|p| &**p)
            .filter(|p| p.department == *id && !p.retired && works(p))
            .collect();
        let (from, to) = (self.origin, self.end());
        let mut edges: BTreeMap<Ms, i64> = BTreeMap::new();
        for person in &home {
            for (a, b) in calendar::of_person(self.state, person, self.zone, from, to) {
                *edges.entry(a).or_default() += 1;
                *edges.entry(b).or_default() -= 1;
            }
        }
        // A department without people is worked by anybody who can, one at a time.
        let heads = home.len().max(1) as u32;
        let (mut open, mut steps): (Vec<Interval>, Vec<plan::Step>) = (Vec::new(), Vec::new());
        if home.is_empty() {
            open = calendar::of_department(self.state, id, self.zone, from, to);
        }
        let (mut count, mut since) = (0_i64, from);
        for (at, change) in edges {
            if count > 0 && at > since {
                match open.last_mut() {
                    Some(last) if last.1 == since => last.1 = at,
                    _ => open.push((since, at)),
                }
                if (count as u32) < heads {
                    let (from, to) = (self.minutes(since), self.minutes(at));
                    steps.push(plan::Step { from, to, capacity: count as u32 });
                }
            }
            count += change;
            since = at;
        }
        steps.retain(|step| step.from < step.to);
        let resource = Resource { availability: steps, ..Resource::people(format!("people:{id}"), heads) };
        let resource = self.resource(Stands::Department(id.clone()), resource);
        let calendar = self.calendar(open);
        self.departments.insert(id.clone(), (resource, calendar));
        (resource, calendar)
    }

    fn person(&mut self, id: PersonId) -> Option<(usize, usize)> {
        if let Some(found) = self.people.get(&id) {
            return Some(*found);
        }
        let person = self.state.people.get(&id)?;
        let open = calendar::of_person(self.state, person, self.zone, self.origin, self.end());
        if open.is_empty() {
            return None;
        }
        let resource = self.resource(Stands::Person(id), Resource::people(format!("person:{id}"), 1));
        let calendar = self.calendar(open);
        self.people.insert(id, (resource, calendar));
        Some((resource, calendar))
    }

    /// All equipment of one kind; none if the shop has none (then nothing waits for it).
    fn kind(&mut self, kind: &EquipmentKind) -> Option<&mut Pieces> {
        if !self.kinds.contains_key(kind) {
            let pieces = self.pieces(kind)?;
            self.kinds.insert(kind.clone(), pieces);
        }
        self.kinds.get_mut(kind)
    }

    fn pieces(&mut self, kind: &EquipmentKind) -> Option<Pieces> {
        // Retired equipment counts only for the vehicle that is still on it.
        let here = |e: &Equipment| !e.retired || open::occupant(self.state, &e.id).is_some();
        let all: Vec<&Equipment> =
            self.state.equipment.values().map(|e| &**e).filter(|e| e.kind == *kind && here(e)).collect();
        if all.iter().all(|e| e.retired) {
            return None;
        }
        let gaps: Vec<Vec<plan::Step>> = all.iter().map(|e| self.gaps(e)).collect();
        if gaps.iter().all(Vec::is_empty) {
            let resource = Resource::equipment(format!("kind:{kind}"), all.len() as u32);
            return Some(Pieces::Alike(self.resource(Stands::Kind(kind.clone()), resource)));
        }
        let mut pieces = Vec::new();
        for (equipment, availability) in all.into_iter().zip(gaps) {
            let out_now = availability.first().is_some_and(|gap| gap.from <= 0);
            let free_from = availability.first().filter(|_| out_now).map_or(0, |gap| gap.to);
            let resource =
                Resource { availability, ..Resource::equipment(format!("piece:{}", equipment.id), 1) };
            let resource = self.resource(Stands::Piece(equipment.id.clone(), kind.clone()), resource);
            let (id, gone) = (equipment.id.clone(), equipment.retired);
            pieces.push(Piece { id, resource, out_now, gone, free_from, given: 0 });
        }
        Some(Pieces::Each(pieces))
    }

    /// When a piece is not available. If it is held open and no card will close it, it is blocked for as long
    /// as anybody knows.
    fn gaps(&self, equipment: &Equipment) -> Vec<plan::Step> {
        let (from, end) = (self.origin, self.end());
        let there = match self.blocked_for_good(&equipment.id) {
            true => Vec::new(),
            false => calendar::of_equipment(equipment, from, end),
        };
        let (mut gaps, mut since) = (Vec::new(), from);
        for (a, b) in there.into_iter().chain([(end, end)]) {
            let (from, to) = (self.minutes(since), self.minutes(a));
            if from < to {
                gaps.push(plan::Step { from, to, capacity: 0 });
            }
            since = b;
        }
        gaps
    }

    /// The piece a card is worked on: the one it is on, else the one people expect, else the one that is free
    /// soonest. `minutes`: for how long it will be kept.
    fn piece(
        &mut self,
        kind: &EquipmentKind,
        card: CardId,
        on: Option<&EquipmentId>,
        minutes: Minutes,
    ) -> Option<Spot> {
        let known = self.shown.pieces.get(&card).cloned();
        match self.kind(kind)? {
            Pieces::Alike(resource) => Some(Spot { resource: *resource, out_now: false }),
            Pieces::Each(pieces) => {
                let by = |id: Option<&EquipmentId>| id.and_then(|id| pieces.iter().position(|p| p.id == *id));
                let usable = |i: &usize| !pieces[*i].gone && !pieces[*i].out_now;
                let soonest = || {
                    (0..pieces.len())
                        .filter(|i| !pieces[*i].gone)
                        .min_by_key(|i| (pieces[*i].free_from + pieces[*i].given, *i))
                };
                let chosen = by(on).or_else(|| by(known.as_ref()).filter(usable)).or_else(soonest)?;
                let piece = &mut pieces[chosen];
                piece.given += minutes;
                Some(Spot { resource: piece.resource, out_now: piece.out_now })
            }
        }
    }

    fn blocked_for_good(&self, equipment: &EquipmentId) -> bool {
        self.state.in_shop().any(|order| {
            order.open.iter().any(|now| {
                now.equipment.as_ref() == Some(equipment)
                    && domain::open::closer(self.state, order.id, &now.open).is_none()
            })
        })
    }

    fn order(&mut self, order: &Order) {
        self.turns(order);
        let cards: Vec<Card> = self
            .state
            .cards_of(order.id)
            .filter(|c| !c.life.is_over() && c.life != Life::Proposed)
            .cloned()
            .collect();
        if cards.is_empty() {
            return;
        }
        let release = match order.stage {
            Stage::Expected => {
                let expected = order.expected_at.filter(|at| self.sensible(*at));
                self.minutes_up(expected.unwrap_or(self.origin + UNDATED_MS)).max(0)
            }
            _ => 0,
        };
        let job = self.built.orders.len();
        self.built.orders.push(order.id);
        self.built.problem.jobs.push(Job {
            id: order.number.clone(),
            due: order.promise.filter(|due| self.sensible(*due)).map(|due| self.minutes(due)),
            weight: i64::from(order.weight.clamp(1, WEIGHT_MAX)),
            release,
        });
        for card in &cards {
            self.card(order, card, job);
        }
        for card in &cards {
            self.links(card);
        }
        self.places(order, &cards);
    }

    fn turns(&mut self, order: &Order) {
        for card in self.state.cards_of(order.id) {
            let until = card.put_first.as_ref().map(|first| first.until).filter(|until| *until > self.origin);
            self.built.turns.extend(until.map(|until| self.minutes_up(until)));
        }
    }

    fn card(&mut self, order: &Order, card: &Card, job: usize) {
        let (department, mut calendar) = self.department(&card.department);
        let mut demands = vec![Demand { resource: department, qty: 1 }];
        if let Some((person, own)) = card.taken_by.and_then(|holder| self.person(holder)) {
            demands.push(Demand { resource: person, qty: 1 });
            calendar = own;
            // Somebody of another department works here, so its own people are not needed.
            let home = card.taken_by.and_then(|p| self.state.people.get(&p)).map(|p| &p.department);
            if home != Some(&card.department) {
                demands.remove(0);
            }
        }
        let length =
            |s: &Span| self.minutes(s.to.unwrap_or(self.origin).min(self.origin)) - self.minutes(s.from);
        let clocked: i64 = card.spans.iter().map(length).map(|minutes| minutes.max(0)).sum();
        let left = i64::from(card.planned_minutes).min(LENGTH_MINUTES_MAX) - clocked;
        let again = self.opened_again(card);
        let duration = left.max(REMAINING_MINUTES_MIN) + again;
        let task = self.built.cards.len();
        self.built.cards.push(card.id);
        self.built.task_of.insert(card.id, task);
        let put_first = card.put_first.as_ref().is_some_and(|p| p.until > self.origin);
        self.note_qualification(card);
        let release = self.release(order, card);
        let fixed = card.life == Life::Working;
        self.built.problem.tasks.push(Task {
            duration,
            calendar: Some(calendar),
            one_go: card.needs.one_go && self.fits_in_one_go(calendar, duration),
            demands,
            job: Some(job),
            release: release.filter(|_| !fixed),
            fixed_start: fixed.then_some(0),
            priority: put_first,
            sticky: matches!(card.life, Life::Taken | Life::Paused),
            ..Task::new(card.id.to_string(), duration)
        });
    }

    /// Work that was closed over and that nobody will open again: planning it costs one more opening and
    /// closing, no matter who orders them.
    fn opened_again(&mut self, card: &Card) -> Minutes {
        let Some(open) = card.needs.inside.as_ref().filter(|_| card.life != Life::Working) else { return 0 };
        let Some(order) = self.state.orders.get(&card.order) else { return 0 };
        if open::is_open(order, open).is_some()
            || open::will_open(self.state, card.order, open).next().is_some()
        {
            return 0;
        }
        let did = |which: fn(&Needs) -> Option<&OpenId>| {
            let done = self
                .state
                .cards_of(card.order)
                .filter(|c| c.life == Life::Done && which(&c.needs) == Some(open));
            done.max_by_key(|c| c.done_at).map(|c| i64::from(c.planned_minutes))
        };
        let Some(opening) = did(|needs| needs.opens.as_ref()) else { return 0 };
        let closing = did(|needs| needs.closes.as_ref()).unwrap_or(opening);
        self.built.shut.insert(card.id, open.clone());
        (opening + closing).min(LENGTH_MINUTES_MAX)
    }

    fn note_qualification(&mut self, card: &Card) {
        let Some(needed) = &card.needs.qualification else { return };
        let somebody = self.state.people_of(&card.department).any(|p| {
            p.qualifications.get(needed).is_some_and(|until| until.is_none_or(|until| until > self.origin))
        });
        if !somebody {
            self.built.unqualified.insert(card.id, needed.clone());
        }
    }

    /// A paint job longer than any shift would never fit; then it is planned like other work.
    fn fits_in_one_go(&self, calendar: usize, duration: Minutes) -> bool {
        self.built.problem.calendars[calendar].open.iter().any(|(from, to)| to - from >= duration)
    }

    /// The earliest start: holds, and cures of work that is done.
    fn release(&mut self, order: &Order, card: &Card) -> Option<Minutes> {
        let mut earliest = None;
        for hold in order.holds.iter().filter(|h| h.blocks == Blocks::Start) {
            if domain::open::keeps(self.state, hold, card) {
                let due = hold.due.filter(|due| *due > self.origin && self.sensible(*due));
                let due = due.unwrap_or(self.origin + UNDATED_MS);
                if earliest.is_none_or(|before| before < due) {
                    earliest = Some(due);
                    self.built.held.insert(card.id, hold.clone());
                }
            }
        }
        if order.stage == Stage::Away && earliest.is_none() {
            earliest = Some(self.origin + UNDATED_MS);
        }
        for link in &card.after {
            let done =
                self.state.cards.get(&link.card).filter(|c| c.life == Life::Done).and_then(|c| c.done_at);
            let lag = Ms::from(link.lag_minutes).min(LENGTH_MINUTES_MAX);
            let dry = done.filter(|done| self.sensible(*done)).map(|done| done + lag * MINUTE);
            if let Some(dry) = dry.filter(|dry| *dry > self.origin) {
                self.built.curing.entry(card.id).and_modify(|at| *at = dry.max(*at)).or_insert(dry);
                earliest = Some(earliest.map_or(dry, |before: Ms| before.max(dry)));
            }
        }
        earliest.map(|at| self.minutes_up(at).max(0))
    }

    fn links(&mut self, card: &Card) {
        let task = self.built.task_of[&card.id];
        for link in &card.after {
            if let Some(before) = self.built.task_of.get(&link.card).copied() {
                let bounded = |minutes: u32| i64::from(minutes).min(LENGTH_MINUTES_MAX);
                self.add_link(before, task, bounded(link.lag_minutes), link.lag_minutes_max.map(bounded));
            }
        }
        // What is worked inside an open state lies between its opening and its closing, linked or not.
        let Some(inside) = &card.needs.inside else { return };
        let others: Vec<Card> = self.state.cards_of(card.order).cloned().collect();
        for other in others.iter().filter(|c| c.id != card.id) {
            let Some(index) = self.built.task_of.get(&other.id).copied() else { continue };
            if other.needs.opens.as_ref() == Some(inside) && !depends::leads_to(self.state, card.id, other.id)
            {
                self.add_link(index, task, 0, None);
            }
            if other.needs.closes.as_ref() == Some(inside)
                && !depends::leads_to(self.state, other.id, card.id)
            {
                self.add_link(task, index, 0, None);
            }
        }
    }

    fn add_link(&mut self, before: usize, after: usize, min_lag: Minutes, max_lag: Option<Minutes>) {
        let successors = &mut self.built.problem.tasks[before].successors;
        match successors.iter_mut().find(|s| s.task == after) {
            Some(link) => {
                link.min_lag = link.min_lag.max(min_lag);
                link.max_lag = link.max_lag.or(max_lag);
            }
            None => successors.push(Successor { task: after, min_lag, max_lag }),
        }
    }

    /// One place at a time: open states hold the vehicle's place and their equipment from the opening
    /// card to the closing one; cards inside exclude each other; loose parts use neither.
    fn places(&mut self, order: &Order, cards: &[Card]) {
        let place = self.resource(Stands::Vehicle(order.id), Resource::place(format!("place:{}", order.id)));
        let work = self.resource(Stands::Vehicle(order.id), Resource::place(format!("work:{}", order.id)));
        let groups = self.groups(order, cards);
        let outermost = |group: &Group| {
            !groups
                .iter()
                .any(|g| g.members.len() > group.members.len() && group.members.is_subset(&g.members))
        };
        // Groups that keep their equipment from opening to closing; on a piece that is out of service each card
        // waits for it instead.
        let mut kept = vec![false; groups.len()];
        let mut dead: Vec<Option<usize>> = vec![None; groups.len()];
        for (i, group) in groups.iter().enumerate() {
            let Some(to) = group.closer else { continue };
            let hold = |resource| plan::Hold { resource, from: group.opener, to, qty: 1, until: Until::End };
            if outermost(group) {
                self.built.problem.holds.push(hold(place));
            }
            let Some(kind) = &group.equipment else { continue };
            let card = self.built.cards[group.opener.unwrap_or(to)];
            let minutes =
                group.members.iter().map(|t| self.built.problem.tasks[*t].duration).sum::<Minutes>()
                    * KEPT_STRETCH;
            let Some(spot) = self.piece(kind, card, group.on.as_ref(), minutes) else { continue };
            if spot.out_now && group.opener.is_none() {
                dead[i] = Some(spot.resource);
            } else {
                self.built.problem.holds.push(hold(spot.resource));
                kept[i] = true;
            }
        }
        for card in cards {
            let task = self.built.task_of[&card.id];
            let in_groups: Vec<usize> =
                (0..groups.len()).filter(|i| groups[*i].members.contains(&task)).collect();
            if let Some(kind) = card.needs.equipment.clone().or_else(|| self.equipment_again(card)) {
                let own = |i: &&usize| {
                    groups[**i].closer.is_some() && groups[**i].equipment.as_ref() == Some(&kind)
                };
                let covered = in_groups.iter().find(own).copied();
                let resource = match covered {
                    Some(i) if kept[i] => None,
                    Some(i) if dead[i].is_some() => dead[i],
                    _ => {
                        let on =
                            card.used.clone().filter(|_| matches!(card.life, Life::Working | Life::Paused));
                        let minutes = self.built.problem.tasks[task].duration;
                        self.piece(&kind, card.id, on.as_ref(), minutes).map(|spot| spot.resource)
                    }
                };
                if let Some(resource) = resource {
                    self.built.problem.tasks[task].demands.push(Demand { resource, qty: 1 });
                }
            } else if let Some(resource) = in_groups.iter().find_map(|i| dead[*i])
                && !card.needs.off_vehicle
            {
                // It stands on what is out of service.
                self.built.problem.tasks[task].demands.push(Demand { resource, qty: 1 });
            }
            if !card.needs.off_vehicle && !card.needs.beside {
                let closed = in_groups.iter().any(|i| groups[*i].closer.is_some());
                let resource = if closed { work } else { place };
                self.built.problem.tasks[task].demands.push(Demand { resource, qty: 1 });
            }
        }
    }

    /// What is needed to open once more for a card that was closed over.
    fn equipment_again(&self, card: &Card) -> Option<EquipmentKind> {
        let open = self.built.shut.get(&card.id)?;
        let opened = |c: &&Card| c.life == Life::Done && c.needs.opens.as_ref() == Some(open);
        self.state.cards_of(card.order).filter(opened).max_by_key(|c| c.done_at)?.needs.equipment.clone()
    }

    /// When a state is open: nearly always once; twice if it is closed up meanwhile, so that the vehicle rolls.
    fn windows<'c>(&self, order: &Order, cards: &'c [Card], open: &OpenId) -> Vec<Window<'c>> {
        let leads = |a: &Card, b: &Card| depends::leads_to(self.state, a.id, b.id);
        let openers: Vec<&Card> = cards.iter().filter(|c| c.needs.opens.as_ref() == Some(open)).collect();
        let closers: Vec<&Card> = cards.iter().filter(|c| c.needs.closes.as_ref() == Some(open)).collect();
        let (again, first): (Vec<&Card>, Vec<&Card>) =
            openers.into_iter().partition(|opener| closers.iter().any(|closer| leads(closer, opener)));
        let is_open = order.open.iter().any(|now| now.open == *open);
        let mut windows = Vec::new();
        if is_open || !first.is_empty() || again.is_empty() {
            let closer = closers.iter().copied().find(|c| !again.iter().any(|opener| leads(opener, c)));
            windows.push(Window { opener: first.first().copied(), closer, again: false });
        }
        for opener in &again {
            let later = |c: &Card| again.iter().any(|o| leads(opener, o) && o.id != opener.id && leads(o, c));
            let closer = closers.iter().copied().find(|c| leads(opener, c) && !later(c));
            windows.push(Window { opener: Some(opener), closer, again: true });
        }
        windows
    }

    fn groups(&mut self, order: &Order, cards: &[Card]) -> Vec<Group> {
        let mut states: BTreeSet<OpenId> = cards.iter().filter_map(|c| c.needs.opens.clone()).collect();
        states.extend(order.open.iter().map(|now| now.open.clone()));
        let task = |c: &Card| self.built.task_of[&c.id];
        let mut groups = Vec::new();
        for open in states {
            for window in self.windows(order, cards, &open) {
                let Window { opener, closer, again } = window;
                let now = order.open.iter().find(|now| now.open == open).filter(|_| !again);
                // An opening that was begun and left has the vehicle up already.
                let begun = opener.is_some_and(|c| c.life == Life::Paused);
                let equipment = opener
                    .and_then(|c| c.needs.equipment.clone())
                    .or_else(|| self.state.equipment.get(now?.equipment.as_ref()?).map(|e| e.kind.clone()))
                    .or_else(|| closer.and_then(|c| c.needs.equipment.clone()));
                let from = opener.filter(|_| !begun && now.is_none()).map(&task);
                let mut members: BTreeSet<usize> = BTreeSet::new();
                members.extend(opener.into_iter().chain(closer).map(&task));
                let follows = |c: &Card, from: Option<&Card>| {
                    from.is_some_and(|f| depends::leads_to(self.state, f.id, c.id))
                };
                let inside = cards.iter().filter(|c| c.needs.inside.as_ref() == Some(&open));
                let here = inside.filter(|c| !follows(c, closer) && (!again || follows(c, opener)));
                members.extend(here.map(&task));
                if let Some(closer) = closer {
                    // Whatever must happen between opening and closing happens inside.
                    let after_opener = |c: &&Card| match opener {
                        Some(opener) => depends::leads_to(self.state, opener.id, c.id),
                        None => now.is_some_and(|now| depends::leads_to(self.state, now.by, c.id)),
                    };
                    let between = cards
                        .iter()
                        .filter(|c| depends::leads_to(self.state, c.id, closer.id))
                        .filter(after_opener);
                    members.extend(between.map(&task));
                }
                let on = now
                    .and_then(|now| now.equipment.clone())
                    .or_else(|| opener.filter(|_| begun).and_then(|opener| opener.used.clone()));
                groups.push(Group { opener: from, closer: closer.map(&task), equipment, on, members });
            }
        }
        groups
    }
}

/// From an opening to its closing.
struct Window<'a> {
    opener: Option<&'a Card>,
    closer: Option<&'a Card>,
    /// It was closed before.
    again: bool,
}

struct Group {
    /// None: open already.
    opener: Option<usize>,
    closer: Option<usize>,
    equipment: Option<EquipmentKind>,
    /// Which piece it is on, if it is open already.
    on: Option<EquipmentId>,
    members: BTreeSet<usize>,
}

/// The equipment of one kind.
enum Pieces {
    /// One resource for all of them, because they are interchangeable.
    Alike(usize),
    Each(Vec<Piece>),
}

struct Piece {
    id: EquipmentId,
    resource: usize,
    out_now: bool,
    /// The shop no longer has it.
    gone: bool,
    /// Minutes from now until it is available at all, and minutes of work given to it.
    free_from: Minutes,
    given: Minutes,
}

/// What a card or group was given.
struct Spot {
    resource: usize,
    out_now: bool,
}

/// People who work on cards; managers and administrators do not.
pub(super) fn works(person: &Person) -> bool {
    person.role <= Role::Planner
}
