//! Taking away what somebody wrote, once their erasure is in the log.
//!
//! Invariants: the log stays as it is, so the chain verifies; what is gone is gone from everything that is made of
//! it (state, tables, snapshots); begun and broken off, it is done at the next start.

use std::collections::BTreeSet;

use domain::fold;
use domain::state::State;
use domain::text;
use serde_json::Value;
use store::{Hash, Store};

use crate::control::{Access, Control};
use crate::shop::{OpenError, read_entry, wanted_texts};

/// How many erasures have been carried out.
const DONE: (&str, &[u8]) = ("erased", b"done");

pub fn is_pending(store: &dyn Store, control: &Control) -> Result<bool, store::Error> {
    let done = store.tables().kv_get(DONE.0, DONE.1)?;
    let done = done.and_then(|bytes| Some(u64::from_be_bytes(bytes.try_into().ok()?))).unwrap_or(0);
    Ok(control.read().erased.len() as u64 != done)
}

pub fn set_done(store: &dyn Store, control: &Control) -> Result<(), store::Error> {
    let count = control.read().erased.len() as u64;
    store.tables().kv_put(DONE.0, DONE.1, &count.to_be_bytes())
}

/// Whether a part of an entry is of somebody who was erased.
pub fn is_gone(access: &Access) -> impl Fn(&str) -> bool + use<> {
    let gone: BTreeSet<String> = access.erased.keys().map(ToString::to_string).collect();
    move |id| gone.contains(id)
}

/// Takes their texts from beside the log, and the snapshots that hold them.
pub fn texts(store: &dyn Store, control: &Control) -> Result<(), OpenError> {
    let gone = is_gone(&control.read());
    let mut digests = BTreeSet::new();
    for stored in store.log().replay(1) {
        let stored = stored?;
        let wrong = |error: serde_json::Error| OpenError::Entry { seq: stored.seq, why: error.to_string() };
        let mut value: Value = serde_json::from_slice(&stored.body).map_err(wrong)?;
        digests.extend(text::digests_of(&mut value, &gone));
    }
    control.forget(&digests)?;
    Ok(store.snapshots().clear()?)
}

/// The state, made of the log from its beginning.
pub fn replayed(store: &dyn Store) -> Result<State, OpenError> {
    let texts = Control::texts(store, &wanted_texts(store, 1)?)?;
    let mut state = State::default();
    for stored in store.log().replay(1) {
        let stored = stored?;
        fold::entry(&mut state, &read_entry(stored.seq, &stored.body, &texts)?);
    }
    Ok(state)
}

/// The bytes of pictures that no photo needs any more.
pub fn pictures(store: &dyn Store, state: &State) -> Result<(), store::Error> {
    let erased = state.photos.values().filter(|photo| photo.erased);
    erased.map(|photo| &photo.sha256).try_for_each(|sha256| picture(store, state, sha256))
}

pub fn picture(store: &dyn Store, state: &State, sha256: &str) -> Result<(), store::Error> {
    let mut hash = Hash::default();
    if !state.picture_is_erased(sha256) || hex::decode_to_slice(sha256, &mut hash).is_err() {
        return Ok(());
    }
    store.photos().remove(&hash).map_err(|error| store::Error::Io {
        what: "a picture could not be removed".into(),
        source: std::io::Error::other(error),
    })
}
