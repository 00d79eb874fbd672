//! Work on cards and between departments: clocked, planned, waited for, handed over.
//!
//! Invariants: planned, sold and clocked hours are three numbers and are never mixed; a hand-off's
//! latency begins with the later of asked and really ready.

use std::collections::BTreeMap;

use super::cases::{Cases, Sum, Sums, hours, length};
use super::{Clock, Figure, Measure, Unit, View};
use crate::Ms;
use crate::calendar;
use crate::ids::*;
use crate::stored::*;

/// For this long after the end of a shift somebody may still be finishing up.
const OVERTIME: Ms = 60 * crate::MINUTE;
/// Nobody works longer than this without a break.
const SPAN_MAX: Ms = 12 * 60 * crate::MINUTE;

impl View<'_> {
    /// Hours people were clocked on the card, whenever.
    pub(super) fn clocked_on(&self, card: &Card) -> Ms {
        card.spans.iter().map(|s| length(s.from, s.to.unwrap_or(self.now))).fold(0, Ms::saturating_add)
    }

    /// Clocked hours by department, and those that are in doubt: corrected later, with clocks that disagreed,
    /// or of a span that seems to have been left running. And breaks inside of spans.
    pub(super) fn clocked(&self) -> [Measure; 2] {
        let (mut all, mut doubtful) = (Sums::default(), Sums::default());
        for card in self.cards() {
            for span in &card.spans {
                let (a, b) = (span.from.max(self.from), span.to.unwrap_or(self.now).min(self.to));
                if a >= b {
                    continue;
                }
                all.add(&[&card.department.0], b - a);
                match self.doubt(span) {
                    Some(why) => doubtful.add(&[why], b - a),
                    None => {
                        let breaks = self.breaks_in(span).into_iter();
                        let inside = breaks.map(|(from, to)| (to.min(b) - from.max(a)).max(0)).sum();
                        if inside > 0 {
                            doubtful.add(&["over_break"], inside);
                        }
                    }
                }
            }
        }
        [all.hours("touch_clocked", Clock::None), doubtful.hours("clocked_doubtful", Clock::None)]
    }

    fn doubt(&self, span: &Span) -> Option<&'static str> {
        if span.corrected || span.uncertain {
            return Some(if span.corrected { "corrected" } else { "uncertain" });
        }
        let to = span.to.unwrap_or(self.now);
        let ended = self.shifts_around(span).last().map(|(_, end)| *end).filter(|end| span.from < *end);
        let past = ended.is_some_and(|end| to > end + OVERTIME) || length(span.from, to) > SPAN_MAX;
        past.then_some("past_shift")
    }

    /// The person's breaks that lie wholly inside a span: somebody who seems to have worked through one forgot
    /// to pause.
    fn breaks_in(&self, span: &Span) -> Vec<(Ms, Ms)> {
        let to = span.to.unwrap_or(self.now);
        let shifts = self.shifts_around(span);
        let breaks = shifts.windows(2).map(|pair| (pair[0].1, pair[1].0));
        breaks.filter(|(from, until)| span.from < *from && *until < to).collect()
    }

    /// When its person works on the day it begins.
    fn shifts_around(&self, span: &Span) -> Vec<(Ms, Ms)> {
        let Some(person) = self.state.people.get(&span.person) else { return Vec::new() };
        let date = calendar::local_date(span.from, self.zone);
        let midnight = |date: jiff::civil::Date| calendar::instant(date, 0, self.zone);
        match (midnight(date), date.tomorrow().ok().and_then(midnight)) {
            (Some(from), Some(to)) => calendar::of_person(self.state, person, self.zone, from, to),
            _ => Vec::new(),
        }
    }

    /// Planned and clocked hours of the cards done inside the stretch that somebody clocked on, by
    /// department and by department and routing; and the second divided by the first.
    pub(super) fn planned(&self) -> [Measure; 3] {
        let mut done: BTreeMap<(&DepartmentId, Option<&RoutingId>), [Sum; 2]> = BTreeMap::new();
        for card in self.cards().filter(|c| c.life == Life::Done && !c.spans.is_empty()) {
            if card.done_at.is_some_and(|at| self.inside(at)) {
                let [planned, clocked] = done.entry((&card.department, card.routing.as_ref())).or_default();
                planned.take(1, Ms::from(card.planned_minutes) * crate::MINUTE);
                clocked.take(1, self.clocked_on(card));
            }
        }
        let (mut planned, mut clocked) = (Sums::default(), Sums::default());
        for ((department, routing), sums) in done {
            for (all, sum) in [&mut planned, &mut clocked].into_iter().zip(sums) {
                all.all.take(sum.count, sum.amount);
                all.add_to(&[&department.0], sum.count, sum.amount);
                if let Some(routing) = routing {
                    all.add_to(&[&format!("{department}/{routing}")], sum.count, sum.amount);
                }
            }
        }
        let planned = planned.hours("planned_done", Clock::None);
        let clocked = clocked.hours("clocked_done", Clock::None);
        let ratio = clocked.divided_by("clocked_to_planned", &planned);
        [planned, clocked, ratio]
    }

    /// From ready to started, by department of the card.
    pub(super) fn waited(&self) -> Measure {
        let mut cases = Cases::default();
        for card in self.cards() {
            let first = card.spans.iter().map(|s| s.from).min();
            if let (Some(ready), Some(first)) = (card.ready_at, first)
                && self.inside(first)
            {
                cases.add(&[&card.department.0], hours(ready, first));
            }
        }
        cases.medians("waited", Unit::Hours, Clock::Calendar)
    }

    pub(super) fn latencies(&self) -> [Measure; 3] {
        let latency = |id, end: fn(&Handoff) -> Option<Ms>| {
            let mut cases = Cases::default();
            for handoff in self.state.handoffs.values() {
                let Some(end) = end(handoff).filter(|end| self.inside(*end)) else { continue };
                if self.wants(&handoff.to) && self.wants_order(handoff.order) {
                    let begin = handoff.ready_at.map_or(handoff.asked_at, |at| at.max(handoff.asked_at));
                    cases.add(&[&handoff.to.0], hours(begin, end));
                }
            }
            cases.medians(id, Unit::Hours, Clock::Calendar)
        };
        [
            latency("asked_to_taken", |h| h.taken_at),
            latency("asked_to_started", |h| h.started_at),
            latency("asked_to_handed_back", |h| h.handed_back_at),
        ]
    }
}

impl Measure {
    /// Hours divided by hours of the same cases, key by key; none if there is nothing to divide by.
    fn divided_by(&self, id: &'static str, by: &Measure) -> Measure {
        let ratio = |over: &Figure, under: Option<&Figure>| {
            let (a, b) = over.value.zip(under.and_then(|u| u.value)).unwrap_or_default();
            match b > 0.0 {
                true => Figure { count: over.count, value: Some(a / b), p90: None },
                false => Figure::default(),
            }
        };
        let parts = self.by.iter().map(|(key, over)| (key.clone(), ratio(over, by.by.get(key))));
        Measure {
            id,
            unit: Unit::Ratio,
            clock: Clock::None,
            all: ratio(&self.all, Some(&by.all)),
            by: parts.collect(),
        }
    }
}
