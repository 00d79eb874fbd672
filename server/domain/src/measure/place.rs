//! Lifts, benches, booths: which vehicle was on which piece, when all of a kind were occupied, and what their
//! open hours were spent on.
//!
//! Invariants: an hour of a piece is counted once; a piece out of service is neither used nor empty.
//! The state does not keep the equipment a place belonged to before, nor when a piece was retired.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::rc::Rc;

use super::cases::Sums;
use super::span::{common, merged, minus, within};
use super::standing::{Doing, Stretch};
use super::visit::Visit;
use super::waits::Stood;
use super::{Clock, Measure, View};
use crate::Ms;
use crate::calendar::{self, Interval};
use crate::ids::*;
use crate::state::State;
use crate::stored::*;
use crate::waiting::Reason;

struct Use {
    from: Ms,
    to: Ms,
    order: OrderId,
}

#[derive(Default)]
struct Piece {
    /// Vehicles on it.
    uses: Vec<Use>,
    /// Work on a card that names it.
    worked: Vec<Use>,
}

pub(super) struct Places<'a> {
    state: &'a State,
    from: Ms,
    to: Ms,
    pieces: BTreeMap<&'a EquipmentId, Piece>,
    /// What each vehicle occupied.
    of_order: BTreeMap<OrderId, BTreeMap<&'a EquipmentKind, Vec<Interval>>>,
    full: BTreeMap<EquipmentKind, Rc<Vec<Interval>>>,
}

impl<'a> Places<'a> {
    pub fn new(view: &View<'a>) -> Self {
        let mut places = Self {
            state: view.state,
            from: view.from,
            to: view.to,
            pieces: BTreeMap::new(),
            of_order: BTreeMap::new(),
            full: BTreeMap::new(),
        };
        for visit in view.here() {
            places.visit(visit, view.now);
        }
        for list in places.of_order.values_mut().flat_map(BTreeMap::values_mut) {
            *list = merged(std::mem::take(list));
        }
        for piece in places.pieces.values_mut() {
            piece.uses.sort_by_key(|one| (one.from, one.to));
            piece.worked.sort_by_key(|one| (one.from, one.to));
        }
        places
    }

    fn visit(&mut self, visit: &Visit<'a>, now: Ms) {
        let (state, order, left) = (self.state, visit.order, visit.over.unwrap_or(now));
        let ends = order.stood.iter().skip(1).map(|s| s.from).chain([left]);
        for (stood, end) in order.stood.iter().zip(ends) {
            let place = state.places.get(&stood.place);
            if let Some(on) = place.and_then(|place| place.equipment.as_ref()) {
                self.put(on, order.id, stood.from, end);
            }
        }
        for card in &visit.cards {
            let Some(used) = &card.used else { continue };
            for span in &card.spans {
                let (a, b) = (span.from.max(self.from), span.to.unwrap_or(now).min(self.to));
                if a < b {
                    self.put(used, order.id, a, b);
                    if let Some((id, _)) = state.equipment.get_key_value(used) {
                        let worked = Use { from: a, to: b, order: order.id };
                        self.pieces.entry(id).or_default().worked.push(worked);
                    }
                }
            }
            if let Some((a, b)) = held(visit, card, left) {
                self.put(used, order.id, a, b);
            }
        }
    }

    fn put(&mut self, on: &EquipmentId, order: OrderId, from: Ms, to: Ms) {
        let (from, to) = (from.max(self.from), to.min(self.to));
        let Some((id, equipment)) = self.state.equipment.get_key_value(on) else { return };
        if from < to {
            self.pieces.entry(id).or_default().uses.push(Use { from, to, order });
            self.of_order.entry(order).or_default().entry(&equipment.kind).or_default().push((from, to));
        }
    }

    /// When every piece of a kind had a vehicle on it or was out of service. Never, if the shop has none.
    pub fn full(&mut self, kind: &EquipmentKind) -> Rc<Vec<Interval>> {
        if let Some(known) = self.full.get(kind) {
            return known.clone();
        }
        let of_kind = self.state.equipment.values().filter(|e| e.kind == *kind && !e.retired);
        let taken = of_kind.map(|e| {
            let uses = self.pieces.get(&e.id).into_iter().flat_map(|piece| &piece.uses);
            let out = e.out_of_service.iter().map(|a| (a.from.max(self.from), a.to.min(self.to)));
            merged(uses.map(|one| (one.from, one.to)).chain(out))
        });
        let full = Rc::new(taken.reduce(|one, other| common(&one, &other)).unwrap_or_default());
        self.full.insert(kind.clone(), full.clone());
        full
    }

    /// When this vehicle itself was on a piece of this kind.
    pub fn own(&self, order: OrderId, kind: &EquipmentKind) -> &[Interval] {
        self.of_order.get(&order).and_then(|kinds| kinds.get(kind)).map_or(&[], Vec::as_slice)
    }
}

/// From the first work on an opening card until what it opened is closed: that long its equipment is held, at
/// most until the vehicle has left.
fn held(visit: &Visit<'_>, card: &Card, left: Ms) -> Option<Interval> {
    let opens = card.needs.opens.as_ref()?;
    let begin = card.spans.iter().map(|s| s.from).min()?;
    let closers = visit.cards.iter().filter(|c| c.needs.closes.as_ref() == Some(opens));
    let end = closers.filter_map(|c| c.done_at).filter(|end| *end >= begin).min().unwrap_or(left);
    Some((begin, end.min(left)))
}

impl View<'_> {
    /// Hours an open vehicle held a piece of equipment, nights included; and the part of them in which the shop
    /// was open and nobody worked on the vehicle.
    pub(super) fn equipment_held(&self) -> [Measure; 2] {
        let (mut all, mut idle) = (Sums::default(), Sums::default());
        for visit in self.here().filter(|v| self.wants_class(v.classes)) {
            for card in &visit.cards {
                let Some(used) = card.used.as_ref().filter(|used| self.wants_equipment(used)) else {
                    continue;
                };
                let Some((a, b)) = held(visit, card, visit.over.unwrap_or(self.now)) else { continue };
                let (a, b) = (a.max(self.from), b.min(self.to));
                if a >= b {
                    continue;
                }
                let spans = visit.cards.iter().flat_map(|c| &c.spans);
                let spans = spans.map(|s| (s.from, s.to.unwrap_or(self.now)));
                let open: Vec<Interval> = within(self.open.intervals(), a, b).collect();
                all.add(&[&used.0], b - a);
                idle.add(&[&used.0], calendar::length(&minus(&open, &merged(spans))));
            }
        }
        [all.hours("equipment_held", Clock::Calendar), idle.hours("equipment_blocked", Clock::Working)]
    }

    /// The open hours of every piece: worked, ready to be moved, waiting (for what, or for which department),
    /// empty. Keys are "piece/what"; the whole of a piece stands under its name. The counts are of pieces, and
    /// for each part of vehicles.
    pub(super) fn equipment_time(&self, places: &Places<'_>, stood: &Stood<'_>) -> Measure {
        let mut sums = Sums::default();
        let none = Piece::default();
        let mut hours: BTreeMap<&DepartmentId, Vec<Interval>> = BTreeMap::new();
        for equipment in self.state.equipment.values().filter(|e| self.wants_equipment(&e.id)) {
            let piece = places.pieces.get(&equipment.id);
            if equipment.retired && piece.is_none() {
                continue;
            }
            let begin = self.from.max(self.began);
            let hours = hours.entry(&equipment.department).or_insert_with_key(|department| {
                calendar::of_department(self.state, department, self.zone, begin, self.to)
            });
            let open = minus(hours, &merged(equipment.out_of_service.iter().map(|a| (a.from, a.to))));
            let whole = calendar::length(&open);
            if whole == 0 {
                continue;
            }
            let id = &equipment.id.0;
            sums.add(&[id], whole);
            let mut used = 0;
            for (spent, (length, vehicles)) in self.spent(piece.unwrap_or(&none), &open, stood) {
                used += length;
                sums.add_to(&[&format!("{id}/{spent}")], vehicles.len() as u32, length);
            }
            if used < whole {
                sums.add_to(&[&format!("{id}/empty")], 0, whole - used);
            }
        }
        sums.hours("equipment_time", Clock::Working)
    }

    /// What the open hours of one piece were spent on, and with which vehicles.
    fn spent<'b>(
        &self,
        piece: &Piece,
        open: &[Interval],
        stood: &'b Stood<'b>,
    ) -> BTreeMap<Spent<'b>, (Ms, BTreeSet<OrderId>)> {
        let mut found: BTreeMap<Spent<'b>, (Ms, BTreeSet<OrderId>)> = BTreeMap::new();
        let mut put = |spent, order, length: Ms| {
            if length > 0 {
                let (sum, vehicles) = found.entry(spent).or_default();
                *sum += length;
                vehicles.insert(order);
            }
        };
        let worked = merged(piece.worked.iter().map(|one| (one.from, one.to)));
        let mut at = self.from;
        for one in &piece.worked {
            let from = one.from.max(at);
            at = at.max(one.to);
            let length = within(open, from, one.to).map(|(a, b)| b - a).sum();
            put(Spent::Worked, one.order, length);
        }
        let mut at = self.from;
        for one in &piece.uses {
            let from = one.from.max(at);
            at = at.max(one.to);
            let rest: Vec<Interval> = within(open, from, one.to).collect();
            let stretches = stood.get(&one.order).map_or(&[][..], Vec::as_slice);
            for (a, b) in minus(&rest, &worked) {
                let first = stretches.partition_point(|s| s.to <= a);
                let mut left = b - a;
                for stretch in stretches[first..].iter().take_while(|s| s.from < b) {
                    let length = stretch.to.min(b) - stretch.from.max(a);
                    left -= length;
                    put(Spent::of(stretch), one.order, length);
                }
                // It stood there before its keys were in.
                put(Spent::Waited(Reason::NoReason), one.order, left);
            }
        }
        found
    }
}

#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum Spent<'a> {
    Worked,
    Ready,
    Waited(Reason),
    For(&'a DepartmentId),
}

impl<'a> Spent<'a> {
    fn of(stretch: &Stretch<'a>) -> Self {
        match (stretch.doing, stretch.card) {
            (Doing::Worked, _) => Spent::Worked,
            (Doing::Ready, _) => Spent::Ready,
            (Doing::Stands(reason), Some(card)) if reason.is_inside() => Spent::For(&card.department),
            (Doing::Stands(reason), _) => Spent::Waited(reason),
        }
    }
}

impl fmt::Display for Spent<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Spent::Worked => f.write_str("worked"),
            Spent::Ready => f.write_str("ready"),
            Spent::Waited(reason) => f.write_str(reason.word()),
            Spent::For(department) => write!(f, "for:{department}"),
        }
    }
}
