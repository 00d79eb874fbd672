//! The state as documents and back, through the JSON that phones and snapshots hold.

use std::collections::BTreeMap;
use std::sync::Arc;

use domain::fold;
use domain::state::{Key, State};
use serde_json::Value;

pub type Documents = BTreeMap<String, Value>;

/// Every document, by key.
pub fn all(state: &State) -> Documents {
    let mut keys: Vec<Key> = Vec::new();
    keys.extend(state.shop.as_ref().map(|_| Key::Shop));
    keys.extend(state.departments.keys().cloned().map(Key::Department));
    keys.extend(state.people.keys().copied().map(Key::Person));
    keys.extend(state.equipment.keys().cloned().map(Key::Equipment));
    keys.extend(state.places.keys().cloned().map(Key::Place));
    keys.extend(state.calendars.keys().cloned().map(Key::Calendar));
    keys.extend(state.routings.keys().cloned().map(Key::Routing));
    keys.extend(state.orders.keys().copied().map(Key::Order));
    keys.extend(state.cards.keys().copied().map(Key::Card));
    keys.extend(state.handoffs.keys().copied().map(Key::Handoff));
    keys.extend(state.notes.keys().copied().map(Key::Note));
    keys.extend(state.photos.keys().copied().map(Key::Photo));
    keys.extend(state.exceptions.keys().copied().map(Key::Exception));
    keys.iter().map(|key| (key.to_string(), state.document(key).expect("a document"))).collect()
}

/// A state as a snapshot would bring it back.
pub fn state(documents: &Documents) -> State {
    let mut state = State::default();
    for (key, body) in documents {
        let (kind, _) = key.split_once('/').expect("kind/id");
        macro_rules! into {
            ($docs:ident) => {{
                let doc =
                    serde_json::from_value(body.clone()).unwrap_or_else(|wrong| panic!("{key}: {wrong}"));
                let doc = Arc::new(doc);
                state.$docs.insert(id_of(&state.$docs, &*doc), doc);
            }};
        }
        match kind {
            "shop" => state.shop = Some(Arc::new(serde_json::from_value(body.clone()).expect("a shop"))),
            "department" => into!(departments),
            "person" => into!(people),
            "equipment" => into!(equipment),
            "place" => into!(places),
            "calendar" => into!(calendars),
            "routing" => into!(routings),
            "order" => into!(orders),
            "card" => into!(cards),
            "handoff" => into!(handoffs),
            "note" => into!(notes),
            "photo" => into!(photos),
            "exception" => into!(exceptions),
            other => panic!("unknown kind of document: {other}"),
        }
    }
    fold::reindex(&mut state, []);
    state
}

trait Named<K> {
    fn id(&self) -> K;
}

macro_rules! named {
    ($($doc:ident: $id:ident),*) => {$(
        impl Named<domain::ids::$id> for domain::stored::$doc {
            fn id(&self) -> domain::ids::$id {
                self.id.clone()
            }
        }
    )*};
}

named!(
    Department: DepartmentId, Equipment: EquipmentId, Place: PlaceId, Calendar: CalendarId, Routing: RoutingId
);

macro_rules! named_by_uuid {
    ($($doc:ident: $id:ident),*) => {$(
        impl Named<domain::ids::$id> for domain::stored::$doc {
            fn id(&self) -> domain::ids::$id {
                self.id
            }
        }
    )*};
}

named_by_uuid!(
    Person: PersonId, Order: OrderId, Card: CardId, Handoff: HandoffId, Note: NoteId, Photo: PhotoId,
    Exception: ExceptionId
);

fn id_of<K, V: Named<K>>(_into: &domain::state::Docs<K, V>, doc: &V) -> K {
    doc.id()
}
