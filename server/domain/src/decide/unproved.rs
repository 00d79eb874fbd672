//! What was done in a sign-in that this server no longer knows, because it was set back to a backup from
//! before it: it cannot tell whether the person was signed in then.
//!
//! Facts happened all the same: they are recorded as a technician's, with an exception that names who delivered
//! them. A wish must be made again: its person repeats what still holds.

use super::*;
use crate::open;

/// Like [`decide`], for operations whose sign-in nobody can prove.
pub fn decide_unproved(state: &State, act: &Act, context: &Context<'_>) -> Result<Vec<Event>, Refusal> {
    if !act.is_fact() {
        return Err(asked_again());
    }
    let mut state = state.clone();
    state.warm_named(act);
    let above = context.role > Role::Technician;
    let context = Context { role: Role::Technician, ..context.clone() };
    let mut events = decide(&state, act, &[], &context).map_err(|refusal| match refusal.code {
        Code::Forbidden if above && known(&state, &context) => asked_again(),
        _ => refusal,
    })?;
    let about = match act {
        Act::Start { card, .. } | Act::Pause { card, .. } | Act::Finish { card, .. } => {
            state.cards.get(card).map(|found| (found.order, Some(*card)))
        }
        Act::Found { order, card, .. } | Act::Note { order, card, .. } | Act::Photo { order, card, .. } => {
            Some((*order, *card))
        }
        Act::MarkPhoto { photo, .. } => state.photos.get(photo).map(|photo| (photo.order, photo.card)),
        Act::Move { order, .. }
        | Act::Condition { order, .. }
        | Act::Stage { order, .. }
        | Act::Energy { order, .. } => Some((*order, None)),
        // The exception stands on what the act concerns first; where that is nothing, all planners are told all
        // the same.
        Act::EquipmentOut { equipment, .. } => open::occupant(&state, equipment).map(|order| (order, None)),
        _ => None,
    };
    if let (Some((order, card)), false) = (about, events.is_empty()) {
        let mut work = Work { state, events: Vec::new(), context: &context };
        work.raise(ExceptionKind::Unproved, order, card, Vec::new());
        events.append(&mut work.events);
    }
    Ok(events)
}

fn known(state: &State, context: &Context<'_>) -> bool {
    state.people.get(&context.by).is_some_and(|person| !person.retired)
}

fn asked_again() -> Refusal {
    let message = "The server was set back and no longer knows the sign-in this was done in; say it again.";
    Refusal::new(Code::Unproved, message)
}
