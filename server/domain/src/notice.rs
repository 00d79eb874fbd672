//! Who is told what, from one log entry and the state after it.
//!
//! One table says it: for each situation that an event can mean ([`Situation`]), the notice and its readers.
//! Rules: nobody is told about their own act, except that their wish was refused and that they must answer;
//! nobody is told twice about one entry; a department always has somebody to tell; an entry always yields the
//! same notices, so that they can be rebuilt from the log.

mod people;

use std::collections::{BTreeMap, BTreeSet};

use jiff::tz::TimeZone;

use crate::decide::{Code, SYSTEM};
use crate::depends;
use crate::ids::*;
use crate::state::State;
use crate::stored::*;
use people::People;

/// Readers, relative to what happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Who {
    /// The person who acted.
    Actor,
    /// The people named by the event itself.
    Named,
    /// The people of the department that is asked.
    Department,
    /// The holder of the card and everybody who helps with it.
    Holders,
    /// The person who asked for the card's hand-off.
    Asker,
    /// People who asked for work in what others had opened.
    Joined,
    /// Holder of the card, else lead of the vehicle, else the department.
    Workers,
    /// The same, for every card inside what was opened.
    Inside,
    /// Everybody who works, or holds work, on the vehicle on that equipment.
    OnEquipment,
    Planners,
}

macro_rules! situations {
    ($($(#[$doc:meta])* $name:ident => $kind:ident, $urgent:literal, [$($who:ident),+];)*) => {
        /// What an event means to somebody.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Situation { $($(#[$doc])* $name),* }

        impl Situation {
            /// All of them.
            pub const ALL: &[Situation] = &[$(Situation::$name),*];

            /// The kind of notice, whether it is sent outside the shift too, and its readers.
            fn row(self) -> (NoticeKind, bool, &'static [Who]) {
                match self { $(Situation::$name => (NoticeKind::$kind, $urgent, &[$(Who::$who),+])),* }
            }
        }
    };
}

situations! {
    /// What somebody wished was refused.
    WishRefused => Refused, false, [Actor];
    /// A department was asked for work.
    Asked => Asked, false, [Department];
    /// A planner gave a card to somebody.
    Assigned => Assigned, false, [Named];
    /// The first card of a hand-off was taken.
    FirstTaken => Taken, false, [Asker];
    /// The holder gave a card of a hand-off back.
    GivenBack => GivenBack, false, [Asker];
    /// Somebody other than the holder gave the card back, or to another person.
    TakenAway => TakenAway, false, [Named];
    /// The holder has left the shop.
    FellFree => FellFree, false, [Planners];
    /// A card was cancelled.
    CalledOff => CalledOff, false, [Holders, Asker];
    /// An ask that had joined another was withdrawn by somebody other than the asker.
    AskCalledOff => CalledOff, false, [Named];
    /// A vehicle is open, for whoever waits to work there.
    Opened => Open, false, [Asker, Joined, Inside];
    /// All of a hand-off is done.
    HandedBack => HandedBack, false, [Asker];
    /// What others had opened, and a hand-off had joined, is closed.
    Closed => HandedBack, false, [Joined];
    /// What came before the card is done; the card is next.
    Next => Next, false, [Workers];
    /// What came before the card is not done after all.
    NotNext => NotNext, false, [Workers];
    /// Somebody else finished a card that was being worked on.
    DoneByAnother => DoneForYou, false, [Holders, Named];
    /// An undone card was put before work that runs.
    PutBefore => PutBefore, false, [Holders, Named];
    /// A hold on a card ended.
    HoldEnded => HoldEnded, false, [Workers];
    /// A piece of equipment went out of service.
    EquipmentOut => EquipmentOut, true, [OnEquipment, Planners];
    /// The vehicle was closed while the card inside was undone.
    ClosedOver => ClosedOver, true, [Workers];
    /// A broken rule that somebody must answer for.
    Broken => Exception, false, [Named];
    /// A broken rule that a planner must answer for.
    BrokenForPlanners => Exception, false, [Planners];
    /// A broken rule that can hurt somebody: sent outside the shift too.
    Alarm => Exception, true, [Planners];
    /// Asked for some time ago, and nobody has taken it.
    Untaken => Untaken, false, [Planners, Department];
    /// A lift is occupied past its planned time.
    LiftBlocked => LiftBlocked, false, [Planners];
    /// The plan no longer reaches a promise.
    PromiseUnlikely => PromiseUnlikely, false, [Planners];
    /// Work runs on past the shift or into a break; sent outside the shift too, because it is over.
    StillRunning => StillRunning, true, [Named];
    /// A stopped job's vehicle is still here.
    StoppedHere => StoppedHere, false, [Planners];
    /// The keys did not go back: the vehicle is here after all.
    StageTakenBack => StageTakenBack, false, [Planners, OnEquipment];
    /// Nothing could be laid out: the routing names a retired department.
    RoutingOutdated => RoutingOutdated, false, [Planners];
}

/// One situation, and what it is about.
#[derive(Debug, Clone, Default)]
struct Happened {
    order: Option<OrderId>,
    card: Option<CardId>,
    handoff: Option<HandoffId>,
    exception: Option<ExceptionId>,
    department: Option<DepartmentId>,
    equipment: Option<EquipmentId>,
    open: Option<OpenId>,
    named: Vec<PersonId>,
    /// For hand-offs that joined: the moment at which they were opened or handed back.
    at: Option<crate::Ms>,
    by: Option<PersonId>,
}

/// Every notice that follows from this entry. `state` is the state after it.
pub fn notices(state: &State, entry: &Entry, zone: &TimeZone) -> Vec<Notice> {
    let people = People { state, zone, at: entry.at };
    let mut told: BTreeMap<PersonId, Notice> = BTreeMap::new();
    for (situation, about) in happened(state, entry) {
        let (kind, urgent, who) = situation.row();
        let notice = Notice {
            person: SYSTEM,
            kind,
            at: entry.act_at,
            order: about.order,
            card: about.card,
            handoff: about.handoff,
            exception: about.exception,
            equipment: about.equipment.clone(),
            by: about.by.or(Some(entry.by).filter(|by| *by != SYSTEM)),
            urgent,
        };
        let own = matches!(kind, NoticeKind::Exception | NoticeKind::Refused);
        for person in who.iter().flat_map(|who| resolve(&people, entry, *who, &about)) {
            if people.gone(person) || (person == entry.by && !own) {
                continue;
            }
            let notice = Notice { person, ..notice.clone() };
            let told = told.entry(person).or_insert_with(|| notice.clone());
            // Of several notices the most important one; an alarm is not hidden behind another exception.
            if (notice.kind, !notice.urgent) < (told.kind, !told.urgent) {
                *told = notice;
            }
        }
    }
    told.into_values().collect()
}

/// The situations of an entry: the rows of the table that apply.
pub fn situations(state: &State, entry: &Entry) -> BTreeSet<Situation> {
    happened(state, entry).into_iter().map(|(situation, _)| situation).collect()
}

fn resolve(people: &People<'_>, entry: &Entry, who: Who, about: &Happened) -> Vec<PersonId> {
    let state = people.state;
    let card = about.card.and_then(|id| state.cards.get(&id));
    let joined = |h: &&Handoff| {
        h.joined && about.at.is_some_and(|at| [h.opened_at, h.handed_back_at].contains(&Some(at)))
    };
    match who {
        Who::Actor => vec![entry.by],
        Who::Named => about.named.clone(),
        Who::Department => about.department.as_ref().map_or_else(Vec::new, |id| people.of_department(id)),
        Who::Holders => card.map_or_else(Vec::new, |card| people.holders(card)),
        Who::Asker => {
            let handoff = card.and_then(|card| state.handoffs.get(&card.handoff?));
            handoff.map_or_else(Vec::new, |h| vec![h.asked_by])
        }
        Who::Joined => {
            let order = about.order.into_iter().flat_map(|order| state.handoffs_of(order));
            order.filter(joined).map(|h| h.asked_by).collect()
        }
        Who::Workers => card.map_or_else(Vec::new, |card| people.who_works(card)),
        Who::Inside => {
            let cards = about.order.into_iter().flat_map(|order| state.cards_of(order));
            let inside = cards.filter(|c| c.needs.inside.is_some() && c.needs.inside == about.open);
            inside.flat_map(|card| people.who_works(card)).collect()
        }
        Who::OnEquipment => about.order.map_or_else(Vec::new, |order| people.at_vehicle(order)),
        Who::Planners => people.planners(),
    }
}

fn happened(state: &State, entry: &Entry) -> Vec<(Situation, Happened)> {
    let mut all = Vec::new();
    if entry.verdict == Verdict::Refused && entry.by != SYSTEM {
        let card = entry.op.pointer("/args/card").and_then(|c| serde_json::from_value(c.clone()).ok());
        let order = card.and_then(|c| state.cards.get(&c)).map(|c| c.order);
        let by = entry.other.as_ref().and_then(|other| other.by);
        all.push((Situation::WishRefused, Happened { card, order, by, ..Happened::default() }));
        if entry.code.as_deref() == Some(Code::RoutingOutdated.word()) {
            let order = entry.op.pointer("/args/order").and_then(|o| serde_json::from_value(o.clone()).ok());
            all.push((Situation::RoutingOutdated, Happened { order, ..Happened::default() }));
        }
    }
    for event in &entry.events {
        of_event(state, entry, event, &mut all);
    }
    all
}

fn about_card(state: &State, id: CardId) -> Happened {
    let card = state.cards.get(&id);
    let (order, handoff) = (card.map(|c| c.order), card.and_then(|c| c.handoff));
    Happened { order, handoff, card: Some(id), ..Happened::default() }
}

fn of_event(state: &State, entry: &Entry, event: &Event, all: &mut Vec<(Situation, Happened)>) {
    let about = |card: &CardId| about_card(state, *card);
    match event {
        Event::Asked { handoff } => {
            let about = Happened {
                order: Some(handoff.order),
                card: handoff.cards.first().copied(),
                handoff: Some(handoff.id),
                department: Some(handoff.to.clone()),
                ..Happened::default()
            };
            all.push((Situation::Asked, about));
        }
        Event::Taken { card, by, .. } => {
            if *by != entry.by {
                all.push((Situation::Assigned, Happened { named: vec![*by], ..about(card) }));
            }
            let handoff = state.cards.get(card).and_then(|c| state.handoffs.get(&c.handoff?));
            // Only the first card of a hand-off tells that it was taken.
            if handoff.is_some_and(|h| h.cards.first() == Some(card)) {
                all.push((Situation::FirstTaken, about(card)));
            }
        }
        Event::GivenBack { card, from } => {
            all.push((Situation::GivenBack, about(card)));
            // Also if what they did before they left arrives late.
            if from.is_some_and(|from| state.people.get(&from).is_some_and(|person| person.retired)) {
                all.push((Situation::FellFree, about(card)));
            } else if let Some(from) = from.filter(|from| *from != entry.by) {
                all.push((Situation::TakenAway, Happened { named: vec![from], ..about(card) }));
            }
        }
        Event::StageTakenBack { order, .. } => {
            all.push((Situation::StageTakenBack, Happened { order: Some(*order), ..Happened::default() }));
        }
        Event::HandoffCalledOff { handoff, .. } => {
            let of = state.handoffs.get(handoff);
            let (order, named) = (of.map(|h| h.order), of.map(|h| h.asked_by).into_iter().collect());
            let about = Happened { order, handoff: Some(*handoff), named, ..Happened::default() };
            all.push((Situation::AskCalledOff, about));
        }
        Event::CardCancelled { card, .. } => all.push((Situation::CalledOff, about(card))),
        Event::Opened { open, card, at, .. } => {
            all.push((
                Situation::Opened,
                Happened { open: Some(open.clone()), at: Some(*at), ..about(card) },
            ));
        }
        Event::Closed { card, at, .. } => {
            all.push((Situation::Closed, Happened { at: Some(*at), ..about(card) }));
        }
        Event::Finished { card, by, at, .. } => finished(state, *card, *by, *at, all),
        Event::Undone { card, was: Some(Life::Done), .. } => {
            let off = |next: &&Card| next.ready_at.is_none() && !next.life.is_over();
            let next = depends::successors(state, card).filter(off);
            all.extend(
                next.filter(|n| n.department != card.department).map(|n| (Situation::NotNext, about(&n.id))),
            );
        }
        Event::Linked { card, after } => {
            let undone = |id: &CardId| state.cards.get(id).is_some_and(|c| !c.life.is_over());
            let runs = state.cards.get(card).filter(|c| c.life == Life::Working);
            if let Some(card) = runs.filter(|_| undone(&after.card)) {
                let named = card.spans.iter().filter(|s| s.to.is_none()).map(|s| s.person).collect();
                all.push((Situation::PutBefore, Happened { named, ..about(&card.id) }));
            }
        }
        Event::HoldEnded { order, hold, .. } => {
            let kept = kept_by(state, entry, *order, *hold);
            all.extend(kept.into_iter().map(|card| (Situation::HoldEnded, about(&card))));
        }
        Event::EquipmentOut { equipment, .. } => all.push(equipment_out(state, equipment)),
        Event::EquipmentSet { equipment } if crate::open::out_of_service(equipment, entry.at).is_some() => {
            all.push(equipment_out(state, &equipment.id));
        }
        Event::ExceptionRaised { exception } => broken(state, exception, all),
        Event::Reminded { about: what, card, order } => {
            let department = card.and_then(|c| state.cards.get(&c)).map(|c| c.department.clone());
            let spans = card.and_then(|c| state.cards.get(&c)).into_iter().flat_map(|card| &card.spans);
            let named = spans.filter(|span| span.to.is_none()).map(|span| span.person).collect();
            let about = Happened { card: *card, order: *order, department, named, ..Happened::default() };
            let situation = match what {
                Reminder::Untaken => Situation::Untaken,
                Reminder::LiftBlocked => Situation::LiftBlocked,
                Reminder::PromiseUnlikely => Situation::PromiseUnlikely,
                Reminder::StillRunning => Situation::StillRunning,
                Reminder::StoppedHere => Situation::StoppedHere,
            };
            all.push((situation, about));
        }
        _ => {}
    }
}

fn finished(state: &State, id: CardId, by: PersonId, at: crate::Ms, all: &mut Vec<(Situation, Happened)>) {
    let Some(card) = state.cards.get(&id) else { return };
    let handoff = card.handoff.and_then(|h| state.handoffs.get(&h));
    if handoff.is_some_and(|h| h.life == HandoffLife::HandedBack && card.life == Life::Done) {
        all.push((Situation::HandedBack, about_card(state, id)));
    }
    // Other people's work that ended at this moment ended because of it.
    let ended: Vec<PersonId> =
        card.spans.iter().filter(|s| s.to == Some(at) && s.person != by).map(|s| s.person).collect();
    let others = card.taken_by.is_some_and(|holder| holder != by) && !card.helpers.contains(&by);
    if others || !ended.is_empty() {
        all.push((Situation::DoneByAnother, Happened { named: ended, ..about_card(state, id) }));
    }
    for next in depends::successors(state, card) {
        if next.ready_at.is_some() && next.department != card.department && !next.life.is_over() {
            all.push((Situation::Next, about_card(state, next.id)));
        }
    }
}

/// Cards that could have started but for the hold. Nobody is told about a card that waits for other things too.
fn kept_by(state: &State, entry: &Entry, order: OrderId, hold: HoldId) -> Vec<CardId> {
    let Some(order) = state.orders.get(&order) else { return Vec::new() };
    let Some(hold) = order.holds.iter().find(|h| h.id == hold) else { return Vec::new() };
    let waits = |c: &&Card| !c.life.is_over() && c.life != Life::Proposed;
    let about = |c: &&Card| match hold.cards.is_empty() {
        true => c.ready_at.is_some_and(|at| at <= entry.at),
        false => hold.cards.contains(&c.id),
    };
    state.cards_of(order.id).filter(waits).filter(about).map(|c| c.id).collect()
}

fn equipment_out(state: &State, equipment: &EquipmentId) -> (Situation, Happened) {
    let order = crate::open::occupant(state, equipment);
    (Situation::EquipmentOut, Happened { order, equipment: Some(equipment.clone()), ..Happened::default() })
}

fn broken(state: &State, exception: &Exception, all: &mut Vec<(Situation, Happened)>) {
    use ExceptionKind::{ClosedOverUndone, HighVoltage, LeftOpen};
    let about = Happened {
        order: Some(exception.order),
        card: exception.card,
        exception: Some(exception.id),
        named: exception.owner.into_iter().collect(),
        ..Happened::default()
    };
    let situation = match exception.kind {
        _ if exception.owner.is_some() => Situation::Broken,
        ClosedOverUndone | HighVoltage | LeftOpen => Situation::Alarm,
        _ => Situation::BrokenForPlanners,
    };
    all.push((situation, about));
    if exception.kind == ClosedOverUndone {
        all.extend(exception.about.iter().map(|card| (Situation::ClosedOver, about_card(state, *card))));
    }
}
