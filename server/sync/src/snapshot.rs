//! The state as bytes, so that a start need not read the whole log.
//!
//! Invariant: a snapshot is the documents and the clients' counters and nothing else; one that cannot
//! be read is passed over, never repaired.
//!
//! One line of JSON, then the packed cards of cold visits, one behind the other (since version 2).

use std::sync::Arc;

use domain::Ms;
use domain::cold::Cold;
use domain::fold;
use domain::ids::{ClientId, OrderId, PersonId};
use domain::state::{ClientMark, Docs, State};
use domain::stored::*;
use serde::{Deserialize, Serialize};

const VERSION: u32 = 2;
/// Still read: in it every visit is warm.
const BEFORE: u32 = 1;

/// Read and written directly as these types: as a tree of JSON values five years would be four times as large
/// as the state.
#[derive(Serialize, Deserialize)]
struct Whole<K> {
    v: u32,
    shop: Option<Shop>,
    kinds: K,
    clients: Vec<(ClientId, PersonId, u64, i64)>,
    /// Until when people have worked.
    #[serde(default)]
    worked: Vec<(PersonId, Ms)>,
    /// Visit, when something last happened on it, and the size of its packed cards in bytes.
    #[serde(default)]
    cold: Vec<(OrderId, Ms, usize)>,
}

/// Declares the kinds once for writing, by reference, and for reading.
macro_rules! kinds {
    ($($kind:ident: $docs:ident, $doc:ty, $id:expr;)*) => {
        #[derive(Serialize)]
        struct Written<'a> {
            $($kind: Vec<&'a $doc>,)*
        }

        #[derive(Deserialize)]
        struct Read {
            $($kind: Vec<$doc>,)*
        }

        impl<'a> Written<'a> {
            fn of(state: &'a State) -> Self {
                Self { $($kind: state.$docs.values().map(|doc| &**doc).collect(),)* }
            }
        }

        impl Read {
            fn into_state(self, state: &mut State) {
                $(state.$docs = all(self.$kind, $id);)*
            }
        }
    };
}

kinds! {
    department: departments, Department, |d| d.id.clone();
    person: people, Person, |p| p.id;
    equipment: equipment, Equipment, |e| e.id.clone();
    place: places, Place, |p| p.id.clone();
    calendar: calendars, Calendar, |c| c.id.clone();
    routing: routings, Routing, |r| r.id.clone();
    order: orders, Order, |o| o.id;
    card: cards, Card, |c| c.id;
    handoff: handoffs, Handoff, |h| h.id;
    note: notes, Note, |n| n.id;
    photo: photos, Photo, |p| p.id;
    exception: exceptions, Exception, |e| e.id;
}

fn all<K: Ord + Clone, V: Clone>(docs: Vec<V>, id: fn(&V) -> K) -> Docs<K, V> {
    docs.into_iter().map(|doc| (id(&doc), Arc::new(doc))).collect()
}

/// The state as bytes.
pub fn write(state: &State) -> Result<Vec<u8>, store::Error> {
    let whole = Whole {
        v: VERSION,
        shop: state.shop.as_deref().cloned(),
        kinds: Written::of(state),
        clients: state.clients.iter().map(|(id, m)| (*id, m.person, m.last_n, m.last_act_at)).collect(),
        worked: state.worked_until().collect(),
        cold: state.cold().map(|(id, cold)| (id, cold.last, cold.packed.len())).collect(),
    };
    let mut bytes = store::json("a snapshot", &whole)?;
    bytes.push(b'\n');
    state.cold().for_each(|(_, cold)| bytes.extend_from_slice(&cold.packed));
    Ok(bytes)
}

/// The state from such bytes; none if they cannot be read or are of another version.
pub fn read(bytes: &[u8]) -> Option<State> {
    let end = bytes.iter().position(|b| *b == b'\n').unwrap_or(bytes.len());
    let (line, mut packed) = (&bytes[..end], bytes.get(end + 1..).unwrap_or_default());
    let whole: Whole<Read> = serde_json::from_slice(line).ok()?;
    if ![BEFORE, VERSION].contains(&whole.v) {
        return None;
    }
    let mut state = State::default();
    state.shop = whole.shop.map(Arc::new);
    whole.kinds.into_state(&mut state);
    for (client, person, last_n, last_act_at) in whole.clients {
        state.clients.insert(client, ClientMark { person, last_n, last_act_at });
    }
    let mut cold = Vec::with_capacity(whole.cold.len());
    for (order, last, len) in whole.cold {
        let (cards, rest) = packed.split_at_checked(len)?;
        packed = rest;
        cold.push((order, Cold { last, packed: cards.into() }));
    }
    state.put_cold(cold);
    fold::reindex(&mut state, whole.worked);
    Some(state)
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::ids::CardId;
    use serde_json::{Value, json};
    use uuid::Uuid;

    const KINDS: [&str; 12] = [
        "department",
        "person",
        "equipment",
        "place",
        "calendar",
        "routing",
        "order",
        "card",
        "handoff",
        "note",
        "photo",
        "exception",
    ];

    /// A snapshot as version 1 wrote it: one value and nothing after it.
    fn before() -> (Value, OrderId, CardId) {
        let (order, card, person) = (Uuid::from_u128(1), Uuid::from_u128(2), Uuid::from_u128(3));
        let mut kinds: Value = KINDS.iter().map(|kind| ((*kind).to_owned(), json!([]))).collect();
        kinds["order"] = json!([{
            "id": order, "number": "2041", "vehicle": "grey wagon", "stage": "delivered", "cards": [card],
            "stages": [{"stage": "arrived", "at": 1_000}, {"stage": "delivered", "at": 9_000}],
            "weight": 1, "created_at": 500, "opened_by": person
        }]);
        kinds["card"] = json!([{
            "id": card, "order": order, "department": "body", "title": {"text": "Seal the seam"},
            "planned_minutes": 60, "life": "done", "done_at": 8_000, "created_at": 600,
            "spans": [{"id": Uuid::from_u128(4), "person": person, "from": 7_000, "to": 8_000}]
        }]);
        (json!({"v": 1, "shop": null, "kinds": kinds, "clients": []}), OrderId(order), CardId(card))
    }

    #[test]
    fn what_was_packed_is_read_again_and_version_1_too() {
        let (json, order, card) = before();
        let warm = read(json.to_string().as_bytes()).expect("version 1");
        assert_eq!(warm.cards_of(order).count(), 1);
        let mut cold = warm.clone();
        assert_eq!(cold.cool(10_000), 1);
        let bytes = write(&cold).unwrap();
        let again = read(&bytes).expect("version 2");
        assert_eq!((again.cold().count(), again.cards_of(order).count()), (1, 0));
        assert!(again.cold().eq(cold.cold()));
        let key = domain::state::Key::Card(card);
        assert_eq!(again.document(&key), warm.document(&key));
        assert_eq!(again.warmed(0).cards_of(order).count(), 1);
        // Even though the cards are packed, it is known until when people have worked.
        assert!(again.worked_until().eq([(PersonId(Uuid::from_u128(3)), 8_000)]));
        assert_eq!(write(&again).unwrap(), bytes);
    }

    #[test]
    fn one_that_cannot_be_read_is_passed_over() {
        let (json, ..) = before();
        let mut cold = read(json.to_string().as_bytes()).unwrap();
        cold.cool(10_000);
        let bytes = write(&cold).unwrap();
        for bad in [&bytes[..bytes.len() - 1], &bytes[..40], b"", b"\n"] {
            assert!(read(bad).is_none());
        }
        let mut later = json.clone();
        later["v"] = json!(VERSION + 1);
        assert!(read(later.to_string().as_bytes()).is_none(), "of a later build");
    }
}
