//! What must not be driven away, or leave the shop, unnoticed: anything open, isolated, loose or owed.
//!
//! Invariant: this only looks; whether and when it is reported is up to `decide`.

use std::collections::BTreeSet;

use crate::ids::{CardId, ExceptionId, NoteId, OpenId};
use crate::state::State;
use crate::stored::{Card, Caution, Found, HighVoltage, Life, Loose, Note, Order};

/// One thing that is left.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Left {
    /// The vehicle is open in this way.
    Open(OpenId),
    /// High voltage is on board and switched off: the vehicle is not as its driver takes it to be.
    Isolated,
    /// Something that matters on the road is disconnected, drained or out.
    Loose(Loose),
    /// Its brakes do not hold.
    NoBrakes,
    /// It cannot be steered.
    NoSteering,
    /// Found owed, and not done since.
    Owed(NoteId),
    /// Nobody has answered for it.
    Unanswered(ExceptionId),
}

/// Missing trim or refrigerant can be owed; nobody drives off without battery or fuel.
fn matters(loose: Loose) -> bool {
    match loose {
        Loose::AirbagsOff
        | Loose::HighVoltageOff
        | Loose::CoolantDrained
        | Loose::BrakesOpen
        | Loose::SuspensionLoose
        | Loose::SteeringLoose
        | Loose::SeatsOut
        | Loose::GlassOut => true,
        Loose::BatteryOff | Loose::FuelDrained | Loose::RefrigerantOut | Loose::TrimOut => false,
    }
}

/// What is left on the vehicle itself.
pub fn on_vehicle(state: &State, order: &Order) -> BTreeSet<Left> {
    let condition = &order.condition;
    let mut left: BTreeSet<Left> = order.open.iter().map(|now| Left::Open(now.open.clone())).collect();
    left.extend((order.energy.high_voltage == HighVoltage::Isolated).then_some(Left::Isolated));
    left.extend(condition.loose.iter().filter(|loose| matters(**loose)).map(|loose| Left::Loose(*loose)));
    left.extend((condition.brakes == Some(false)).then_some(Left::NoBrakes));
    left.extend((condition.steers == Some(false)).then_some(Left::NoSteering));
    left.extend(owed(state, order).map(|note| Left::Owed(note.id)));
    left
}

/// What nobody has answered for yet.
pub fn unanswered(state: &State, order: &Order) -> impl Iterator<Item = Left> {
    let stands = move |e: &ExceptionId| {
        state.exceptions.get(e).is_some_and(|e| e.order == order.id && e.answered_by.is_none())
    };
    state.exceptions.keys().copied().filter(stands).map(Left::Unanswered)
}

/// The cards one would look at first.
pub fn cards(state: &State, order: &Order, left: &BTreeSet<Left>) -> Vec<CardId> {
    let mut cards: Vec<CardId> = Vec::new();
    for one in left {
        let card = match one {
            Left::Open(open) => order.open.iter().find(|now| now.open == *open).map(|now| now.by),
            Left::Owed(note) => state.notes.get(note).and_then(|note| note.card),
            Left::Unanswered(id) => state.exceptions.get(id).and_then(|e| e.card),
            _ => None,
        };
        cards.extend(card.filter(|card| !cards.contains(card)));
    }
    cards
}

fn owed<'a>(state: &'a State, order: &'a Order) -> impl Iterator<Item = &'a Note> {
    let notes = state.notes.values().map(|note| &**note).filter(|note| note.order == order.id);
    notes.filter(|note| {
        let Some(found) = note.found.filter(|f| matches!(f, Found::AlignmentOwed | Found::CalibrationOwed))
        else {
            return false;
        };
        let done = |c: &Card| c.life == Life::Done && c.done_at >= Some(note.at) && settles(c, found);
        !state.cards_of(order.id).any(done)
    })
}

/// Whether the card is the work that was found to be owed. A card that somebody typed has nothing but its title
/// to go by, so the usual beginnings in both languages count.
fn settles(card: &Card, found: Found) -> bool {
    let words: &[&str] = match found {
        Found::AlignmentOwed => &["align", "aline"],
        _ => &["calibr"],
    };
    let needs = &card.needs;
    let said = [
        card.step.as_deref(),
        card.routing.as_ref().map(|r| r.0.as_str()),
        needs.equipment.as_ref().map(|e| e.0.as_str()),
        needs.qualification.as_ref().map(|q| q.0.as_str()),
        Some(card.title.text.as_str()),
        card.title.es.as_deref(),
    ];
    said.into_iter().flatten().map(str::to_lowercase).any(|said| words.iter().any(|word| said.contains(word)))
}

/// Work for which the vehicle is driven.
pub fn drives(card: &Card) -> bool {
    card.needs.cautions.contains(&Caution::Driving) || card.step.as_deref() == Some("road-test")
}
