//! One operation of one person against the state: events, or a refusal. The only place where rules are.
//!
//! Rules, each held by a named test:
//! - a fact is never refused for the state it meets: a broken rule becomes an exception with an owner;
//! - a wish has one winner: the loser is told who and when;
//! - a finished card changes only by a new event; links never form a cycle;
//! - nothing is half-done: a refusal changes nothing.
//!
//! Must not know: counters, sign-in, the log, or any time beyond what [`Context`] carries.

mod amiss;
mod cancel;
mod departed;
mod energy;
mod equipment;
mod handoff;
mod job;
mod leaving;
mod limits;
mod photos;
mod right;
mod setup;
mod stop;
mod time;
mod unproved;
mod work;

use jiff::tz::TimeZone;

pub use limits::*;
pub use time::{Clocks, best_time};
pub use unproved::decide_unproved;

use crate::Ms;
use crate::fold;
use crate::ids::*;
use crate::plain;
use crate::state::State;
use crate::stored::*;

/// Who acts, when, as what.
#[derive(Debug, Clone)]
pub struct Context<'a> {
    /// Who acts; [`SYSTEM`] for the server's own acts.
    pub by: PersonId,
    /// The role they act in.
    pub role: Role,
    /// The operation's id: what it creates takes its id from it.
    pub op: OpId,
    /// The server's best time of the act, UTC ms.
    pub at: Ms,
    /// The clocks disagreed about it.
    pub uncertain: bool,
    /// The server's clock now, UTC ms.
    pub now: Ms,
    /// The shop's time zone.
    pub zone: &'a TimeZone,
}

/// The server's own client acts as this person: nobody.
pub const SYSTEM: PersonId = PersonId(uuid::Uuid::nil());

/// Why not. `code` is stable; the sentence is for people.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct Refusal {
    /// The stable word for the reason; apps translate it.
    pub code: Code,
    /// An English sentence that says what to do.
    pub message: String,
    /// Who was first, when: for the loser of a wish.
    pub other: Option<Other>,
}

macro_rules! codes {
    ($($name:ident = $word:literal),* $(,)?) => {
        /// Stable words for what stands in the way.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Code { $(#[doc = concat!("`", $word, "`")] $name),* }
        impl Code {
            /// All of them.
            pub const ALL: &[Code] = &[$(Code::$name),*];
            /// The word that is stored and sent.
            pub fn word(self) -> &'static str {
                match self { $(Code::$name => $word),* }
            }
        }
    };
}

codes! {
    UnknownCard = "unknown_card", UnknownOrder = "unknown_order", UnknownPerson = "unknown_person",
    UnknownPlace = "unknown_place", UnknownRouting = "unknown_routing", UnknownDepartment = "unknown_department",
    Unknown = "unknown", Taken = "taken", NotReady = "not_ready", Done = "done", Cancelled = "cancelled",
    NotYours = "not_yours", Cycle = "cycle", Forbidden = "forbidden", Invalid = "invalid",
    PromisePast = "promise_past", PromiseClosed = "promise_closed", DuplicateNumber = "duplicate_number",
    PutFirstPast = "put_first_past", Expectation = "expectation", NothingToUndo = "nothing_to_undo",
    NotQualified = "not_qualified", Delivered = "delivered", SignedOut = "signed_out",
    ReasonNeeded = "reason_needed", PromisedOtherwise = "promised_otherwise",
    Unproved = "unproved", RoutingOutdated = "routing_outdated",
}

impl Refusal {
    /// A refusal that nobody else caused by being first.
    pub fn new(code: Code, message: impl Into<String>) -> Self {
        Self { code, message: message.into(), other: None }
    }

    fn first(code: Code, message: impl Into<String>, by: Option<PersonId>, at: Option<Ms>) -> Self {
        Self { code, message: message.into(), other: Some(Other { by, at }) }
    }
}

type Decided = Result<(), Refusal>;

/// The most characters a title may have: it is read at a glance, where a note can hold a page.
pub const TITLE_CHARS_MAX: usize = 200;
/// The most characters a note, reason or remark may have.
pub const NOTE_CHARS_MAX: usize = 4_000;

/// What the operation does: nothing (no events, because it was so already), events, or a refusal.
pub fn decide(
    state: &State,
    act: &Act,
    expect: &[Expect],
    context: &Context<'_>,
) -> Result<Vec<Event>, Refusal> {
    let shown = plain::act_shown(act);
    if shown.is_some() && !act.is_fact() {
        let message = "There is a character in it that is no writing (a control character, or one that turns the direction of a line around); type it anew.";
        return Err(Refusal::new(Code::Invalid, message));
    }
    let act = shown.as_ref().unwrap_or(act);
    let mut state = state.clone();
    state.warm_named(&(act, expect));
    let mut work = Work { state, events: Vec::new(), context };
    work.check_person()?;
    work.check_new(act)?;
    if !act.is_fact() {
        expect.iter().try_for_each(|expected| work.check_expected(expected, act))?;
    }
    let before = work.state.clone();
    work.decide(act)?;
    work.free_what_departed_hold();
    work.look_at_what_leaves(&before);
    Ok(work.events)
}

/// A decision in progress: every event is folded at once, so that the next rule sees it.
struct Work<'a> {
    state: State,
    events: Vec<Event>,
    context: &'a Context<'a>,
}

impl Work<'_> {
    fn decide(&mut self, act: &Act) -> Decided {
        match act {
            Act::Start { card, on } => self.start(*card, on.as_ref()),
            Act::Pause { card, why } => self.pause(*card, *why),
            Act::Finish { card, checks, wet_minutes } => self.finish(*card, checks, *wet_minutes),
            Act::Found { order, card, what, note } => self.found(*order, *card, *what, note.as_deref()),
            Act::Note { order, card, body } => self.note(*order, *card, body),
            Act::Photo { .. } => self.photo(act),
            Act::MarkPhoto { photo, marks } => self.mark_photo(*photo, marks),
            Act::Move { order, to, on } => self.moved(*order, to, *on),
            Act::Condition { order, change } => self.condition(*order, change),
            Act::Stage { order, stage, reason } => self.stage(*order, *stage, reason.as_deref()),
            Act::StageBack { order, stage, reason } => self.stage_back(*order, *stage, reason),
            Act::Energy { order, energy } => self.energy(*order, energy),
            Act::EquipmentOut { equipment, note } => self.equipment_out(equipment, note.as_deref()),
            Act::EquipmentBack { equipment } => self.equipment_back(equipment),
            Act::Ask(ask) => self.ask(ask),
            Act::Take { card } => self.take(*card),
            Act::GiveBack { card } => self.give_back(*card),
            Act::Help { card } => self.help(*card),
            Act::Assign { card, to } => self.assign(*card, *to),
            Act::Lead { order, department, person } => self.lead(*order, department, *person),
            Act::OpenOrder(open) => self.open_order(open),
            Act::EditOrder { order, change } => self.edit_order(*order, change),
            Act::Promise { order, due, .. } => self.promise(*order, *due),
            Act::AddCard(add) => self.add_card(add),
            Act::EditCard { card, change } => self.edit_card(*card, change),
            Act::CallOff { handoff, reason } => self.call_off(*handoff, reason.as_deref()),
            Act::CancelCard { card, reason } => self.cancel_card(*card, reason.as_deref()),
            Act::Link { card, after } => self.link(*card, after),
            Act::Unlink { card, after } => self.unlink(*card, *after),
            Act::Hold { .. } => self.hold(act),
            Act::HoldDue { order, hold, due } => self.hold_due(*order, *hold, *due),
            Act::Unhold { order, hold } => self.unhold(*order, *hold),
            Act::PutFirst { card, reason, until } => self.put_first(*card, reason, *until),
            Act::PutBack { card } => self.put_back(*card),
            Act::Correct { card, span, from, to } => self.correct(*card, *span, *from, *to),
            Act::Undo { op, card } => self.undo(*op, *card),
            Act::Answer { exception, reason } => self.answer(*exception, reason),
            Act::Dropped { .. } => Ok(()),
            Act::SetShop { shop } => self.set_shop(shop),
            Act::SetDepartment { department } => self.set_department(department),
            Act::SetPerson { person } => self.set_person(person),
            Act::ErasePerson { person } => self.erase_person(*person),
            Act::SetEquipment { equipment } => self.set_equipment(equipment),
            Act::SetPlace { place } => self.set_place(place),
            Act::SetCalendar { calendar } => self.set_calendar(calendar),
            Act::SetRouting { routing } => self.set_routing(routing),
            Act::PhotoHere { sha256 } => self.photo_here(sha256),
            Act::Remind { about, card, order } => self.remind(*about, *card, *order),
        }
    }

    fn emit(&mut self, event: Event) {
        fold::fold(&mut self.state, &event, &mut fold::Changed::new());
        self.events.push(event);
    }

    fn raise(&mut self, kind: ExceptionKind, order: OrderId, card: Option<CardId>, about: Vec<CardId>) {
        let owner = (kind == ExceptionKind::TwoAtOnce).then_some(self.context.by);
        self.raise_for(owner, kind, order, card, about);
    }

    /// The owner answers; without an owner it is the planners'.
    fn raise_for(
        &mut self,
        owner: Option<PersonId>,
        kind: ExceptionKind,
        order: OrderId,
        card: Option<CardId>,
        about: Vec<CardId>,
    ) {
        let id = self.exception_id(owner, kind, order, card);
        if self.state.exceptions.contains_key(&id) {
            return;
        }
        let exception = Exception {
            id,
            kind,
            order,
            card,
            about,
            by: self.context.by,
            owner,
            since: self.context.at,
            answered_by: None,
            answered_at: None,
            reason: None,
        };
        self.emit(Event::ExceptionRaised { exception });
    }

    fn exception_id(
        &self,
        owner: Option<PersonId>,
        kind: ExceptionKind,
        order: OrderId,
        card: Option<CardId>,
    ) -> ExceptionId {
        let about = card.map_or_else(|| order.to_string(), |card| card.to_string());
        let whose = owner.map_or_else(String::new, |owner| format!("/{owner}"));
        ExceptionId(part_of(self.context.op, &format!("exception/{kind:?}/{about}{whose}")))
    }

    fn check_person(&self) -> Decided {
        let at = self.context.at;
        let known =
            self.state.people.get(&self.context.by).is_some_and(|p| !p.retired || p.retired_at > Some(at));
        if known || self.context.by == SYSTEM {
            return Ok(());
        }
        Err(Refusal::new(Code::Forbidden, "You are no longer signed up in this shop; ask a manager."))
    }

    /// What an operation creates takes its id, so an id used before would overwrite something else.
    fn check_new(&self, act: &Act) -> Decided {
        let (state, id) = (&self.state, self.context.op.0);
        let used = match act {
            Act::OpenOrder(_) => state.orders.contains_key(&OrderId(id)),
            Act::AddCard(_) => state.cards.contains_key(&CardId(id)),
            Act::Ask(_) => state.handoffs.contains_key(&HandoffId(id)),
            Act::Note { .. } | Act::Found { .. } => state.notes.contains_key(&NoteId(id)),
            Act::Photo { .. } => state.photos.contains_key(&PhotoId(id)),
            Act::Hold { order, .. } => {
                state.orders.get(order).is_some_and(|o| o.holds.iter().any(|hold| hold.id.0 == id))
            }
            Act::Start { card, .. } => {
                state.cards.get(card).is_some_and(|c| c.spans.iter().any(|span| span.id.0 == id))
            }
            _ => false,
        };
        if !used {
            return Ok(());
        }
        Err(Refusal::new(Code::Invalid, "The id of this operation was used before; make a new one."))
    }

    /// At least this role. Technician and parts rank equal, the others above them.
    fn at_least(&self, role: Role, what: &str) -> Decided {
        if self.context.role >= role {
            return Ok(());
        }
        let who = match role {
            Role::Technician | Role::Parts => "somebody of the shop",
            Role::Planner => "a planner or manager",
            Role::Manager => "a manager",
            Role::Admin => "an administrator",
        };
        Err(Refusal::new(Code::Forbidden, format!("Only {who} can {what}.")))
    }

    fn check_expected(&self, expected: &Expect, act: &Act) -> Decided {
        let holds = match expected {
            Expect::Holder { card, person } => {
                self.state.cards.get(card).is_some_and(|c| c.taken_by == *person)
            }
            Expect::Life { card, life } => self.state.cards.get(card).is_some_and(|c| c.life == *life),
            Expect::Open { order, open, is } => self
                .state
                .orders
                .get(order)
                .is_some_and(|o| o.open.iter().any(|now| now.open == *open) == *is),
            Expect::Promise { order, due } => return self.check_promised(*order, *due, act),
        };
        let changed = || {
            Refusal::new(Code::Expectation, "Meanwhile this has changed; look again before you repeat it.")
        };
        if holds { Ok(()) } else { Err(changed()) }
    }

    /// Two people promise different days without knowing of each other: the second is told about the first.
    fn check_promised(&self, id: OrderId, seen: Option<Ms>, act: &Act) -> Decided {
        let order = self.order(id)?;
        let meant =
            matches!(act, Act::Promise { order, due, .. } if *order == id && *due == self.promise_of(id));
        if order.promise == seen || meant {
            return Ok(());
        }
        let message = match order.promise {
            Some(_) => "Somebody has promised another day meanwhile; look at it before you change it.",
            None => "Somebody has taken the promise back meanwhile; ask why before you promise again.",
        };
        Err(Refusal::first(Code::PromisedOtherwise, message, order.promised_by, order.promised_at))
    }

    fn promise_of(&self, id: OrderId) -> Option<Ms> {
        self.state.orders.get(&id).and_then(|order| order.promise)
    }

    fn card(&self, id: CardId) -> Result<Card, Refusal> {
        let card = self.state.cards.get(&id).map(|c| (**c).clone());
        card.ok_or_else(|| Refusal::new(Code::UnknownCard, "There is no such card in this shop."))
    }

    fn order(&self, id: OrderId) -> Result<Order, Refusal> {
        let order = self.state.orders.get(&id).map(|o| (**o).clone());
        order.ok_or_else(|| Refusal::new(Code::UnknownOrder, "There is no such repair order in this shop."))
    }

    /// The order, for a wish: nothing more can be asked of a vehicle that has left.
    fn order_here(&self, id: OrderId) -> Result<Order, Refusal> {
        let order = self.order(id)?;
        if order.stage == Stage::Delivered {
            let message = format!("{} has been delivered; open a new order for further work.", order.number);
            return Err(Refusal::new(Code::Delivered, message));
        }
        Ok(order)
    }

    /// A routing's cards are somebody's work, so the departments it names must exist.
    fn can_be_laid_out(&self, routing: &Routing) -> Decided {
        let there = |step: &&Step| self.department_known(&step.department).is_ok();
        let Some(step) = routing.steps.iter().find(|step| !there(step)) else { return Ok(()) };
        let gone = self.state.departments.get(&step.department);
        let gone = gone.map_or(step.department.0.as_str(), |d| d.title.text.as_str());
        let message = format!(
            "«{}» lays out work for «{gone}», which the shop no longer has; a manager can change it.",
            routing.title.text
        );
        Err(Refusal::new(Code::RoutingOutdated, message))
    }

    fn department_known(&self, id: &DepartmentId) -> Decided {
        match self.state.departments.get(id) {
            Some(department) if !department.retired => Ok(()),
            _ => Err(Refusal::new(
                Code::UnknownDepartment,
                format!("There is no department «{id}» in this shop."),
            )),
        }
    }
}

/// A phrase in both languages.
fn fitting_words(what: &str, words: &Words, chars_max: usize) -> Decided {
    fitting(what, &words.text, chars_max)?;
    words.es.as_ref().map_or(Ok(()), |es| fitting(what, es, chars_max))
}

/// A text that people typed: not empty, not longer than it is shown.
fn fitting(what: &str, text: &str, chars_max: usize) -> Decided {
    let chars = text.chars().count();
    if text.trim().is_empty() {
        return Err(Refusal::new(Code::Invalid, format!("{what} is empty.")));
    }
    if chars > chars_max {
        let message = format!(
            "{what} has {chars} characters; at most {chars_max} are kept. Shorten it and send it again."
        );
        return Err(Refusal::new(Code::Invalid, message));
    }
    Ok(())
}
