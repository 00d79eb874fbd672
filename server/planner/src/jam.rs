//! Where the shop jams: for which resource one more hour would save the most lateness, found by planning again
//! with it.
//!
//! For each department with open work, everybody at home there stays an hour longer on its next open day. For
//! each kind of equipment that such work needs, the shop has one more piece.
//! Invariants: nothing is written; both sides of a comparison keep what the other's search has found, so that
//! luck in searching does not count as the hour's worth; savings are never below zero.
//! Must not know: HTTP, roles.

use std::collections::BTreeSet;
use std::sync::Arc;

use domain::calendar;
use domain::ids::*;
use domain::state::State;
use domain::stored::*;
use domain::suppose::{Change, NotSupposed, suppose};
use domain::{MINUTE, Ms};

use super::what_if::{Lateness, NoAnswer, lateness};
use super::{Effort, Planned, Published, Shown, plan_now};
use sync::shop::View;

const EXTRA: u16 = 60;
/// A department that does not open within this time has no next open day.
const LOOK_AHEAD: Ms = 14 * 24 * 60 * MINUTE;

/// What a shop could have more of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Extra {
    /// An hour longer for the people at home in a department.
    Hour {
        /// Which department.
        department: DepartmentId,
        /// Local date of its next open day, "2026-03-02".
        day: String,
        /// When the hour begins, in minutes after local midnight.
        from: u16,
        /// When it ends.
        to: u16,
        /// How many people would stay.
        people: u32,
    },
    /// One more of a kind of equipment, for as long as is planned.
    Piece {
        /// Which kind.
        kind: EquipmentKind,
    },
}

/// What one extra would save.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Relief {
    /// The extra.
    pub extra: Extra,
    /// How late vehicles would be with it.
    pub after: Lateness,
    /// Calendar minutes after promises, each times the vehicle's urgency.
    pub saved_minutes: i64,
}

/// Where the shop jams.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Jam {
    /// When it was asked, UTC ms.
    pub at: Ms,
    /// The log entry of the state it was made from.
    pub seq: u64,
    /// How late vehicles are without any extra.
    pub before: Lateness,
    /// Departments, then equipment, each with the one that saves most first. Empty if nothing is late.
    pub reliefs: Vec<Relief>,
}

/// Plans anew with each extra. Takes seconds; nothing is written.
pub fn jam(view: &View, now: Ms, shown: &Published) -> Result<Jam, NoAnswer> {
    if shown.rev == 0 {
        return Err(NoAnswer::NoPlan);
    }
    let mut best = Side { late: lateness(view, &shown.plan), shown: shown.shown.clone() };
    let mut jam = Jam { at: now, seq: view.head.seq, before: best.late, reliefs: Vec::new() };
    if best.late.weighted_minutes == 0 {
        return Ok(jam);
    }
    let mut found = Vec::new();
    for extra in extras(view, now) {
        let mut state = view.state.clone();
        extra.lay(&mut state, view, now)?;
        let with = View { head: view.head, state, zone: view.zone.clone() };
        let side = Side::planned(&with, now, &best.shown, Effort::SEARCH)?;
        // An order found with the extra hour may be better without it, too.
        best.improve(Side::planned(view, now, &side.shown, Effort::Repair)?);
        found.push((extra, with, side));
    }
    jam.before = best.late;
    for (extra, with, mut side) in found {
        side.improve(Side::planned(&with, now, &best.shown, Effort::Repair)?);
        let saved_minutes = (best.late.weighted_minutes - side.late.weighted_minutes).max(0);
        jam.reliefs.push(Relief { extra, after: side.late, saved_minutes });
    }
    // Stable: equal savings stay in the order of names.
    jam.reliefs.sort_by_key(|one| (matches!(one.extra, Extra::Piece { .. }), -one.saved_minutes));
    Ok(jam)
}

/// A plan with or without something more.
struct Side {
    shown: Shown,
    late: Lateness,
}

impl Side {
    fn planned(view: &View, now: Ms, shown: &Shown, effort: Effort<'_>) -> Result<Self, NoAnswer> {
        let Planned { plan, shown, .. } = plan_now(view, now, shown, effort);
        match plan.trouble {
            Some(trouble) if plan.rows.is_empty() => Err(NoAnswer::Trouble(trouble)),
            _ => Ok(Self { late: lateness(view, &plan), shown }),
        }
    }

    fn improve(&mut self, other: Self) {
        if other.late.weighted_minutes < self.late.weighted_minutes {
            *self = other;
        }
    }
}

impl Extra {
    fn lay(&self, state: &mut State, view: &View, now: Ms) -> Result<(), NoAnswer> {
        match self {
            Self::Hour { department, day, from, to, .. } => {
                let shift = Change::ExtraShift {
                    department: department.clone(),
                    day: day.clone(),
                    from: *from,
                    to: *to,
                };
                *state = suppose(state, &view.zone, now, &[shift])?.state;
                Ok(())
            }
            Self::Piece { kind } => {
                let like = state.equipment.values().find(|e| e.kind == *kind && !e.retired);
                let like = like.ok_or(NotSupposed::Unknown("equipment"))?;
                // An id that no shop can use.
                let id = EquipmentId(format!("jam/{kind}"));
                let more = Equipment { id: id.clone(), out_of_service: Vec::new(), ..(**like).clone() };
                state.equipment.insert(id, Arc::new(more));
                Ok(())
            }
        }
    }
}

fn extras(view: &View, now: Ms) -> Vec<Extra> {
    let state = &view.state;
    let open: Vec<&Card> = state
        .in_shop()
        .flat_map(|order| state.cards_of(order.id))
        .filter(|card| !card.life.is_over() && card.life != Life::Proposed)
        .collect();
    let departments: BTreeSet<&DepartmentId> = open.iter().map(|card| &card.department).collect();
    let kinds: BTreeSet<&EquipmentKind> =
        open.iter().filter_map(|card| card.needs.equipment.as_ref()).collect();
    let here = |kind: &EquipmentKind| state.equipment.values().any(|e| e.kind == *kind && !e.retired);
    let hours = departments.into_iter().filter_map(|id| hour(view, now, id));
    let pieces = kinds.into_iter().filter(|kind| here(kind)).map(|kind| Extra::Piece { kind: kind.clone() });
    hours.chain(pieces).collect()
}

/// After the end of a department's next open day; none if that end is midnight or the department never opens.
fn hour(view: &View, now: Ms, id: &DepartmentId) -> Option<Extra> {
    let people =
        view.state.people_of(id).filter(|p| p.department == *id && super::problem::works(p)).count() as u32;
    let open = calendar::of_department(&view.state, id, &view.zone, now, now + LOOK_AHEAD);
    let date = |at: Ms| calendar::local_date(at, &view.zone);
    let day = date(open.first()?.0);
    let end = open.iter().take_while(|(from, _)| date(*from) == day).last()?.1;
    let from =
        (0..=24 * 60 - EXTRA).find(|minute| calendar::instant(day, *minute, &view.zone) == Some(end))?;
    (people > 0).then(|| Extra::Hour {
        department: id.clone(),
        day: day.to_string(),
        from,
        to: from + EXTRA,
        people,
    })
}

#[cfg(test)]
mod tests;
