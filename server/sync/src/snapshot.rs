//! The state as bytes, so that a start need not read the whole log.
//!
//! Invariant: a snapshot is the documents and the clients' counters and nothing else; one that cannot
//! be read is passed over, never repaired.

use std::sync::Arc;

use domain::fold;
use domain::ids::{ClientId, PersonId};
use domain::state::{ClientMark, Docs, State};
use domain::stored::*;
use serde::{Deserialize, Serialize};

const VERSION: u32 = 1;

/// Read and written as what it is: a tree of JSON values of five years would be four times as large as the state.
#[derive(Serialize, Deserialize)]
struct Whole<K> {
    v: u32,
    shop: Option<Shop>,
    kinds: K,
    clients: Vec<(ClientId, PersonId, u64, i64)>,
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

pub fn write(state: &State) -> Vec<u8> {
    let whole = Whole {
        v: VERSION,
        shop: state.shop.as_deref().cloned(),
        kinds: Written::of(state),
        clients: state.clients.iter().map(|(id, m)| (*id, m.person, m.last_n, m.last_act_at)).collect(),
    };
    serde_json::to_vec(&whole).unwrap_or_default()
}

pub fn read(bytes: &[u8]) -> Option<State> {
    let whole: Whole<Read> = serde_json::from_slice(bytes).ok()?;
    if whole.v != VERSION {
        return None;
    }
    let mut state = State::default();
    state.shop = whole.shop.map(Arc::new);
    whole.kinds.into_state(&mut state);
    for (client, person, last_n, last_act_at) in whole.clients {
        state.clients.insert(client, ClientMark { person, last_n, last_act_at });
    }
    fold::reindex(&mut state);
    Some(state)
}
