//! The state as bytes, so that a start need not read the whole log.
//!
//! Invariant: a snapshot is the documents and the clients' counters and nothing else; one that cannot
//! be read is passed over, never repaired.

use std::collections::BTreeMap;
use std::sync::Arc;

use domain::fold;
use domain::ids::ClientId;
use domain::state::{ClientMark, Docs, State};
use domain::stored::Shop;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;

const VERSION: u32 = 1;

#[derive(Serialize, Deserialize)]
struct Whole {
    v: u32,
    shop: Value,
    kinds: BTreeMap<String, Vec<Value>>,
    clients: Vec<(ClientId, domain::ids::PersonId, u64, i64)>,
}

pub fn write(state: &State) -> Vec<u8> {
    fn all<K: Ord, V: Serialize>(docs: &Docs<K, V>) -> Vec<Value> {
        docs.values().filter_map(|doc| serde_json::to_value(&**doc).ok()).collect()
    }
    let kinds = [
        ("department", all(&state.departments)),
        ("person", all(&state.people)),
        ("equipment", all(&state.equipment)),
        ("place", all(&state.places)),
        ("calendar", all(&state.calendars)),
        ("routing", all(&state.routings)),
        ("order", all(&state.orders)),
        ("card", all(&state.cards)),
        ("handoff", all(&state.handoffs)),
        ("note", all(&state.notes)),
        ("photo", all(&state.photos)),
        ("exception", all(&state.exceptions)),
    ];
    let whole = Whole {
        v: VERSION,
        shop: state.shop.as_ref().and_then(|shop| serde_json::to_value(&**shop).ok()).unwrap_or(Value::Null),
        kinds: kinds.into_iter().map(|(kind, docs)| (kind.to_owned(), docs)).collect(),
        clients: state.clients.iter().map(|(id, m)| (*id, m.person, m.last_n, m.last_act_at)).collect(),
    };
    serde_json::to_vec(&whole).unwrap_or_default()
}

pub fn read(bytes: &[u8]) -> Option<State> {
    fn fill<K: Ord + Clone, V: DeserializeOwned + Clone>(
        kinds: &mut BTreeMap<String, Vec<Value>>,
        kind: &str,
        docs: &mut Docs<K, V>,
        id: fn(&V) -> K,
    ) -> Option<()> {
        for body in kinds.remove(kind)? {
            let doc: V = serde_json::from_value(body).ok()?;
            docs.insert(id(&doc), Arc::new(doc));
        }
        Some(())
    }
    let mut whole: Whole = serde_json::from_slice(bytes).ok()?;
    if whole.v != VERSION {
        return None;
    }
    let mut state = State::default();
    state.shop = serde_json::from_value::<Option<Shop>>(whole.shop).ok()?.map(Arc::new);
    let kinds = &mut whole.kinds;
    fill(kinds, "department", &mut state.departments, |d| d.id.clone())?;
    fill(kinds, "person", &mut state.people, |p| p.id)?;
    fill(kinds, "equipment", &mut state.equipment, |e| e.id.clone())?;
    fill(kinds, "place", &mut state.places, |p| p.id.clone())?;
    fill(kinds, "calendar", &mut state.calendars, |c| c.id.clone())?;
    fill(kinds, "routing", &mut state.routings, |r| r.id.clone())?;
    fill(kinds, "order", &mut state.orders, |o| o.id)?;
    fill(kinds, "card", &mut state.cards, |c| c.id)?;
    fill(kinds, "handoff", &mut state.handoffs, |h| h.id)?;
    fill(kinds, "note", &mut state.notes, |n| n.id)?;
    fill(kinds, "photo", &mut state.photos, |p| p.id)?;
    fill(kinds, "exception", &mut state.exceptions, |e| e.id)?;
    for (client, person, last_n, last_act_at) in whole.clients {
        state.clients.insert(client, ClientMark { person, last_n, last_act_at });
    }
    fold::reindex(&mut state);
    Some(state)
}
