//! The state of one shop: a fold of its events, made of the documents that phones receive.
//!
//! Invariants: maps are ordered and share what did not change, so a clone is a cheap durable view;
//! the indexes at the end of [`State`] are derived by [`crate::fold`] alone.

use std::fmt;
use std::sync::Arc;

use imbl::{OrdMap, OrdSet};
use serde_json::Value;

use crate::Ms;
use crate::cold::Cold;
use crate::ids::*;
use crate::stored::*;

/// Documents of one kind by id. A clone shares everything that did not change.
pub type Docs<K, V> = OrdMap<K, Arc<V>>;

/// The shop as of one entry of its log: its documents, and what is needed to decide quickly.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// None until the shop has been set up.
    pub shop: Option<Arc<Shop>>,
    /// Every department, retired ones too.
    pub departments: Docs<DepartmentId, Department>,
    /// Everybody who ever was of the shop, retired ones too.
    pub people: Docs<PersonId, Person>,
    /// Every piece of equipment, retired ones too.
    pub equipment: Docs<EquipmentId, Equipment>,
    /// Every place, retired ones too.
    pub places: Docs<PlaceId, Place>,
    /// Every calendar.
    pub calendars: Docs<CalendarId, Calendar>,
    /// Every routing, retired ones too.
    pub routings: Docs<RoutingId, Routing>,
    /// Every order ever opened.
    pub orders: Docs<OrderId, Order>,
    /// The cards of every visit that is not packed ([`crate::cold`]).
    pub cards: Docs<CardId, Card>,
    /// Every hand-off ever asked for.
    pub handoffs: Docs<HandoffId, Handoff>,
    /// Every note and finding.
    pub notes: Docs<NoteId, Note>,
    /// Every photo's record; the pictures are stored elsewhere.
    pub photos: Docs<PhotoId, Photo>,
    /// Every exception, answered ones too.
    pub exceptions: Docs<ExceptionId, Exception>,
    /// Last counter and last act of every client, for "counts once" and for times that cannot run back.
    pub clients: OrdMap<ClientId, ClientMark>,

    /// Cards of visits that were over long ago ([`crate::cold`]).
    pub(crate) cold: OrdMap<OrderId, Cold>,

    /// The cold visit each card belongs to; some of these visits may be warm again.
    pub(crate) cold_cards: Arc<[(CardId, OrderId)]>,
    /// Orders that are neither delivered nor stopped and put away.
    pub(crate) active: OrdSet<OrderId>,
    pub(crate) numbers: OrdMap<String, OrderId>,
    /// Cards with a running span of this person.
    pub(crate) running: OrdMap<PersonId, OrdSet<CardId>>,
    /// Every ended span of this person ends at or before this; all may end earlier, if an act was undone.
    pub(crate) worked_until: OrdMap<PersonId, Ms>,
    /// Hand-offs of a vehicle.
    pub(crate) asked: OrdMap<OrderId, OrdSet<HandoffId>>,
    /// Records of one picture, by its SHA-256.
    pub(crate) pictures: OrdMap<String, OrdSet<PhotoId>>,
}

/// How far one client has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClientMark {
    /// Whose client it was at its last operation.
    pub person: PersonId,
    /// The counter of its last operation in the log.
    pub last_n: u64,
    /// The best time of that act, UTC ms: a later act cannot have happened before.
    pub last_act_at: Ms,
}

/// Names one document.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Key {
    /// The shop's own document.
    Shop,
    /// A department.
    Department(DepartmentId),
    /// A person.
    Person(PersonId),
    /// A piece of equipment.
    Equipment(EquipmentId),
    /// A place.
    Place(PlaceId),
    /// A calendar.
    Calendar(CalendarId),
    /// A routing.
    Routing(RoutingId),
    /// An order.
    Order(OrderId),
    /// A card.
    Card(CardId),
    /// A hand-off.
    Handoff(HandoffId),
    /// A note.
    Note(NoteId),
    /// A photo's record.
    Photo(PhotoId),
    /// An exception.
    Exception(ExceptionId),
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Key::Shop => f.write_str("shop/shop"),
            Key::Department(id) => write!(f, "department/{id}"),
            Key::Person(id) => write!(f, "person/{id}"),
            Key::Equipment(id) => write!(f, "equipment/{id}"),
            Key::Place(id) => write!(f, "place/{id}"),
            Key::Calendar(id) => write!(f, "calendar/{id}"),
            Key::Routing(id) => write!(f, "routing/{id}"),
            Key::Order(id) => write!(f, "order/{id}"),
            Key::Card(id) => write!(f, "card/{id}"),
            Key::Handoff(id) => write!(f, "handoff/{id}"),
            Key::Note(id) => write!(f, "note/{id}"),
            Key::Photo(id) => write!(f, "photo/{id}"),
            Key::Exception(id) => write!(f, "exception/{id}"),
        }
    }
}

impl State {
    /// Cards of one order, in the order they were laid out.
    pub fn cards_of(&self, order: OrderId) -> impl Iterator<Item = &Card> {
        let ids = self.orders.get(&order).map_or(&[] as &[CardId], |o| o.cards.as_slice());
        ids.iter().filter_map(|id| self.cards.get(id)).map(|card| &**card)
    }

    /// Orders in work: not delivered, not put away.
    pub fn in_shop(&self) -> impl Iterator<Item = &Order> {
        self.active.iter().filter_map(|id| self.orders.get(id)).map(|order| &**order)
    }

    /// Until when people have worked, for a state that was read from a snapshot, where cold cards no longer say
    /// it.
    pub fn worked_until(&self) -> impl Iterator<Item = (PersonId, Ms)> {
        self.worked_until.iter().map(|(person, until)| (*person, *until))
    }

    /// The order with this number, if there is one.
    pub fn order_numbered(&self, number: &str) -> Option<OrderId> {
        self.numbers.get(number).copied()
    }

    /// Cards on which this person is clocked now.
    pub fn running_cards(&self, person: PersonId) -> impl Iterator<Item = CardId> + '_ {
        self.running.get(&person).into_iter().flat_map(|cards| cards.iter().copied())
    }

    /// Hand-offs of one order.
    pub fn handoffs_of(&self, order: OrderId) -> impl Iterator<Item = &Handoff> {
        let ids = self.asked.get(&order).into_iter().flat_map(|ids| ids.iter());
        ids.filter_map(|id| self.handoffs.get(id)).map(|handoff| &**handoff)
    }

    /// Whether the bytes of a picture have arrived already.
    pub fn has_picture(&self, sha256: &str) -> bool {
        let ids = self.pictures.get(sha256).into_iter().flat_map(|ids| ids.iter());
        ids.filter_map(|id| self.photos.get(id)).any(|photo| photo.here)
    }

    /// Whether every photo with this picture belongs to a person who was erased.
    pub fn picture_is_erased(&self, sha256: &str) -> bool {
        let photos = self.pictures.get(sha256).into_iter().flatten();
        let mut photos = photos.filter_map(|id| self.photos.get(id)).peekable();
        photos.peek().is_some() && photos.all(|photo| photo.erased)
    }

    /// Everybody who takes this department's work: at home there or helping out. Nobody who has left the shop.
    pub fn people_of<'a>(&'a self, department: &'a DepartmentId) -> impl Iterator<Item = &'a Person> {
        self.people
            .values()
            .map(|p| &**p)
            .filter(move |p| !p.retired && (p.department == *department || p.also.contains(department)))
    }

    /// The document as it is sent; none if there is none.
    pub fn document(&self, key: &Key) -> Option<Value> {
        fn body<T: serde::Serialize>(found: Option<&Arc<T>>) -> Option<Value> {
            serde_json::to_value(&**found?).ok()
        }
        of_kind!(self, key, body)
    }

    /// The same as text, without a detour.
    pub fn document_json(&self, key: &Key) -> Option<String> {
        fn body<T: serde::Serialize>(found: Option<&Arc<T>>) -> Option<String> {
            serde_json::to_string(&**found?).ok()
        }
        of_kind!(self, key, body)
    }
}

/// Hands the document of any kind to one generic function.
macro_rules! of_kind {
    ($state:ident, $key:ident, $body:ident) => {
        match $key {
            Key::Shop => $body($state.shop.as_ref()),
            Key::Department(id) => $body($state.departments.get(id)),
            Key::Person(id) => $body($state.people.get(id)),
            Key::Equipment(id) => $body($state.equipment.get(id)),
            Key::Place(id) => $body($state.places.get(id)),
            Key::Calendar(id) => $body($state.calendars.get(id)),
            Key::Routing(id) => $body($state.routings.get(id)),
            Key::Order(id) => $body($state.orders.get(id)),
            Key::Card(id) => match $state.cards.get(id) {
                None => $body($state.cold_card(id).as_ref()),
                card => $body(card),
            },
            Key::Handoff(id) => $body($state.handoffs.get(id)),
            Key::Note(id) => $body($state.notes.get(id)),
            Key::Photo(id) => $body($state.photos.get(id)),
            Key::Exception(id) => $body($state.exceptions.get(id)),
        }
    };
}
use of_kind;
