//! What a person's erasure changes.
//!
//! The texts themselves are no longer beside the log, so a state rebuilt from it lacks them. This only names
//! the documents that may have held one: phones get all of these again.

use super::*;

pub(super) fn person(state: &mut State, id: PersonId, at: Ms, changed: &mut Changed) {
    edit(&mut state.people, &id, Key::Person, changed, |p| p.erased_at = Some(at));
    let own: Vec<PhotoId> = state.photos.values().filter(|p| p.by == id).map(|p| p.id).collect();
    for photo in own {
        edit(&mut state.photos, &photo, Key::Photo, changed, |p| (p.erased, p.here) = (true, false));
    }
    changed.extend(may_hold_a_text_of(state, id));
}

fn may_hold_a_text_of(state: &State, id: PersonId) -> Vec<Key> {
    let mut keys = Vec::new();
    keys.extend(state.notes.values().filter(|n| n.by == id).map(|n| Key::Note(n.id)));
    let marked = |p: &&Arc<Photo>| p.marks.iter().any(|marked| marked.by == id);
    keys.extend(state.photos.values().filter(marked).map(|p| Key::Photo(p.id)));
    keys.extend(state.handoffs.values().filter(|h| h.asked_by == id).map(|h| Key::Handoff(h.id)));
    let answered = |e: &&Arc<Exception>| e.answered_by == Some(id);
    keys.extend(state.exceptions.values().filter(answered).map(|e| Key::Exception(e.id)));
    // These do not say who wrote them.
    let says = |o: &&Arc<Order>| {
        o.weight_reason.is_some()
            || o.holds.iter().any(|hold| hold.note.is_some())
            || o.stages.iter().any(|reached| reached.reason.is_some())
            || o.taken_back.iter().any(|back| back.by == id)
    };
    keys.extend(state.orders.values().filter(says).map(|o| Key::Order(o.id)));
    let out = |e: &&Arc<Equipment>| e.out_of_service.iter().any(|absence| absence.reason.is_some());
    keys.extend(state.equipment.values().filter(out).map(|e| Key::Equipment(e.id.clone())));
    let said = |c: &&Arc<Card>| {
        c.put_first.as_ref().is_some_and(|first| first.by == id)
            || c.cancelled.as_ref().is_some_and(|cancelled| cancelled.by == id)
    };
    keys.extend(state.warmed(Ms::MIN).cards.values().filter(said).map(|c| Key::Card(c.id)));
    keys
}
