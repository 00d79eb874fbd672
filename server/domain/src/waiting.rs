//! Why nobody works on a vehicle: one list of reasons, in one order, for the board as for the report.
//!
//! Rules: one reason at a time, the first that applies; a vehicle waits for one card, of those that nothing
//! before them or outside keeps the one that goes on first, and only where there is none, of those that
//! something keeps. So a vehicle with a part missing waits for people as long as there is other work on it.
//! Must not know: how work is planned; that comes in as what the planner foresees.

use crate::Ms;
use crate::ids::{CardId, HoldId};
use crate::open;
use crate::state::State;
use crate::stored::*;

/// Why a vehicle or card waits, in the order in which reasons apply: first what lies outside the shop, then
/// what its space, then what its people lack. So nobody is blamed for work that could not be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reason {
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
    /// Another hold: its note says why.
    Other,
    /// Something is wet or cures.
    Curing,
    /// The equipment it needs is occupied or out of service.
    NoEquipment,
    /// Nobody who is there has the qualification.
    NobodyQualified,
    /// Everybody of the department is busy or off shift.
    NobodyFree,
    /// Somebody holds it and has not started.
    TakenNotStarted,
    /// It could go on, and nobody goes on.
    NoReason,
}

impl Reason {
    /// All of them, in this order.
    pub const ALL: [Reason; 12] = [
        Reason::Stopped,
        Reason::Away,
        Reason::Approval,
        Reason::Parts,
        Reason::Customer,
        Reason::Other,
        Reason::Curing,
        Reason::NoEquipment,
        Reason::NobodyQualified,
        Reason::NobodyFree,
        Reason::TakenNotStarted,
        Reason::NoReason,
    ];

    /// Its stable name on the wire.
    pub fn word(self) -> &'static str {
        match self {
            Reason::Stopped => "stopped",
            Reason::Away => "away",
            Reason::Approval => "approval",
            Reason::Parts => "parts",
            Reason::Customer => "customer",
            Reason::Other => "other",
            Reason::Curing => "curing",
            Reason::NoEquipment => "no_equipment",
            Reason::NobodyQualified => "nobody_qualified",
            Reason::NobodyFree => "nobody_free",
            Reason::TakenNotStarted => "taken_not_started",
            Reason::NoReason => "no_reason",
        }
    }

    /// Whether a department of the shop could have ended it.
    pub fn is_inside(self) -> bool {
        self >= Reason::NoEquipment
    }

    /// The reason that a hold of this kind gives.
    pub fn of_hold(what: HoldKind) -> Self {
        match what {
            HoldKind::Approval => Reason::Approval,
            HoldKind::Parts => Reason::Parts,
            HoldKind::Customer => Reason::Customer,
            HoldKind::Sublet => Reason::Away,
            HoldKind::Other => Reason::Other,
        }
    }
}

/// The first of those that apply; none if none does.
pub fn first(reasons: impl IntoIterator<Item = Reason>) -> Option<Reason> {
    reasons.into_iter().min()
}

/// One thing that keeps a card, or a vehicle, from going on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fact {
    /// Why it waits.
    pub reason: Reason,
    /// Since when, UTC ms; none: not known.
    pub since: Option<Ms>,
    /// When it is expected to end, UTC ms; none: nobody knows.
    pub due: Option<Ms>,
    /// The hold behind it, if it is a hold.
    pub hold: Option<HoldId>,
}

impl Fact {
    /// A fact that is no hold and of which no beginning is known.
    pub fn new(reason: Reason, due: Option<Ms>) -> Self {
        Self { reason, since: None, due, hold: None }
    }

    fn of(hold: &Hold) -> Self {
        let reason = Reason::of_hold(hold.what);
        Self { reason, since: Some(hold.since), due: hold.due, hold: Some(hold.id) }
    }
}

/// The fact whose reason comes first. Of several with one reason the one that ends last: until it has, the
/// others help nobody; and what has no date ends last of all.
pub fn first_fact(facts: impl IntoIterator<Item = Fact>) -> Option<Fact> {
    facts.into_iter().min_by_key(|fact| (fact.reason, fact.due.is_some(), fact.due.map(std::cmp::Reverse)))
}

/// What keeps a card that nothing before it keeps any more, people and places left aside.
pub fn kept<'a>(
    state: &'a State,
    order: &'a Order,
    card: &'a Card,
    at: Ms,
) -> impl Iterator<Item = Fact> + 'a {
    let holds = order.holds.iter().filter(|h| h.blocks == Blocks::Start);
    let holds = holds.filter(move |hold| open::keeps(state, hold, card)).map(Fact::of);
    let proposed = (card.life == Life::Proposed)
        .then(|| Fact { since: Some(card.created_at), ..Fact::new(Reason::Approval, None) });
    let dry = card.ready_at.filter(|dry| *dry > at);
    holds.chain(proposed).chain(dry.map(|dry| Fact::new(Reason::Curing, Some(dry))))
}

/// What a vehicle waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Waits {
    /// Why it waits.
    pub reason: Reason,
    /// Since when, UTC ms.
    pub since: Ms,
    /// When that is expected to end, UTC ms; none: nobody knows.
    pub due: Option<Ms>,
    /// The hold behind it, if it is a hold.
    pub hold: Option<HoldId>,
    /// None where it waits as a whole.
    pub card: Option<CardId>,
}

/// Why nobody works on the vehicle at this moment; none while somebody does, or where nothing is to be done.
/// `next` orders cards as they go on; `foreseen` says what place and people lack for one that nothing keeps.
pub fn waits<K: Ord>(
    state: &State,
    order: &Order,
    at: Ms,
    next: impl Fn(&Card) -> K,
    foreseen: impl Fn(&Card) -> Vec<Fact>,
) -> Option<Waits> {
    let undone: Vec<&Card> = state.cards_of(order.id).filter(|c| !c.life.is_over()).collect();
    let idle = idle_since(state, order);
    let said = |fact: Fact, card: Option<&Card>| Waits {
        reason: fact.reason,
        since: fact.since.map_or(idle, |since| since.max(idle)),
        due: fact.due,
        hold: fact.hold,
        card: card.map(|card| card.id),
    };
    let outside = matches!(order.stage, Stage::Expected | Stage::Ready | Stage::Delivered);
    if outside || undone.iter().any(|card| card.life == Life::Working) {
        return None;
    }
    match order.stage {
        Stage::Stopped if undone.is_empty() => return None,
        Stage::Stopped => return Some(said(Fact::new(Reason::Stopped, None), None)),
        Stage::Away => return Some(said(away(order), None)),
        _ => {}
    }
    let ready = |card: &&&Card| card.ready_at.is_some();
    let free = |card: &&&Card| kept(state, order, card, at).next().is_none();
    if let Some(card) = undone.iter().filter(ready).filter(free).min_by_key(|card| next(card)) {
        let taken = (card.life == Life::Taken).then(|| Fact::new(Reason::TakenNotStarted, None));
        let fact = first_fact(foreseen(card).into_iter().chain(taken));
        return Some(said(fact.unwrap_or(Fact::new(Reason::NoReason, None)), Some(card)));
    }
    if let Some(card) = undone.iter().filter(ready).min_by_key(|card| next(card)) {
        return first_fact(kept(state, order, card, at)).map(|fact| said(fact, Some(card)));
    }
    match order.stage {
        // Nothing is left that may be done before the repair is authorised.
        Stage::Arrived => Some(said(Fact::new(Reason::Approval, None), None)),
        _ if undone.is_empty() => None,
        _ => Some(said(Fact::new(Reason::NoReason, None), None)),
    }
}

/// At a sublet, back when the hold for it says so.
fn away(order: &Order) -> Fact {
    let sublets = order.holds.iter().filter(|h| h.ended.is_none() && h.what == HoldKind::Sublet);
    let said = first_fact(sublets.map(Fact::of));
    let left = order.stages.iter().rfind(|s| s.stage == Stage::Away).map(|s| s.at);
    Fact { since: left, ..said.unwrap_or(Fact::new(Reason::Away, None)) }
}

/// Since the last work on it ended, or since it came.
fn idle_since(state: &State, order: &Order) -> Ms {
    let ended = state.cards_of(order.id).flat_map(|c| c.spans.iter().filter_map(|s| s.to)).max();
    let came = order.stages.iter().map(|s| s.at).min().unwrap_or(order.created_at);
    ended.map_or(came, |ended| ended.max(came))
}
