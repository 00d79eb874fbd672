//! What a phone missed, page by page.
//!
//! Invariants: only what is durable is sent; a phone with another history is told so and gets nothing; the copy
//! is complete only when `more` is false; all pages of one copy come from one history.
//! Cold visits ([`domain::cold`]) are not sent, because phones need not hold them. Exceptions are sent all the
//! same, or a phone that was away would show one as unanswered for ever.

use std::collections::BTreeSet;

use domain::ids::ClientId;
use domain::state::Key;
use store::Doc;

use crate::limits::PULL_DOCS_MAX;
use crate::shop::Shop;
use crate::{chain_word, epoch_word};

/// What a phone has, and asks for.
#[derive(Debug, Clone, Default)]
pub struct Query {
    /// The epoch of the phone's copy; none if it has no copy yet.
    pub epoch: Option<String>,
    /// The phone's cursor; 0 for everything.
    pub after: u64,
    /// The chain's word at the cursor; none in older apps.
    pub hash: Option<String>,
    /// For the second and later pages: the head that the page before named, and the chain's word there. Between
    /// two pages the log may have gone back and grown again.
    pub head: Option<(u64, String)>,
    /// The most documents in a page; none: [`PULL_DOCS_MAX`].
    pub limit: Option<usize>,
    /// The client whose last counter the phone wants to know.
    pub client: Option<ClientId>,
}

/// One page of what a phone missed.
#[derive(Debug, Clone)]
pub struct Page {
    /// The cursor it continues.
    pub from: u64,
    /// The cursor after it.
    pub to: u64,
    /// The chain's word at `to`.
    pub hash: String,
    /// Whether another page follows; the copy is whole only after the last.
    pub more: bool,
    /// Changed documents by (seq, key).
    pub docs: Vec<Doc>,
    /// The last counter the log has of the client that was asked about, 0 if none; none if none was asked
    /// about.
    pub last_n: Option<u64>,
    /// The log's last entry when the page was made, and the chain's word there.
    pub head: (u64, String),
}

/// Why there is no page.
#[derive(Debug, thiserror::Error)]
pub enum PullError {
    /// The phone's copy is of another history.
    #[error("The shop's data was restored; take a fresh copy, then send again what is not in it.")]
    EpochChanged,
    /// The store cannot be read.
    #[error(transparent)]
    Store(#[from] store::Error),
}

/// At most this many reads for one page, so that the caller waits no longer than some tenths of a second.
const PASSES: usize = 20;

/// One page. Reads the tables, so it blocks.
pub fn pull(shop: &Shop, query: &Query) -> Result<Page, PullError> {
    let view = shop.view();
    let word = epoch_word(shop.store.meta().epoch());
    if query.epoch.as_ref().is_some_and(|said| *said != word) || query.after > view.head.seq {
        return Err(PullError::EpochChanged);
    }
    let at = |seq| -> Result<String, PullError> {
        let hash = if seq == view.head.seq { Some(view.head.hash) } else { shop.store.log().hash_at(seq)? };
        Ok(chain_word(&hash.unwrap_or(store::ZERO)))
    };
    let other = |seq: u64, said: &String| seq > view.head.seq || at(seq).ok().as_ref() != Some(said);
    let moved = query.after > 0 && query.hash.as_ref().is_some_and(|said| other(query.after, said));
    if moved || query.head.as_ref().is_some_and(|(seq, said)| other(*seq, said)) {
        return Err(PullError::EpochChanged);
    }
    let limit = query.limit.unwrap_or(PULL_DOCS_MAX).clamp(1, PULL_DOCS_MAX);
    let tables = shop.tables()?;
    let wanted = |key: &str| key.starts_with("exception/") || !view.state.is_cold(key);
    let (mut docs, mut after, mut passes) = (Vec::new(), query.after, 0);
    let (to, more) = loop {
        let found = tables.docs_after_if(after, limit, view.head.seq, &wanted)?;
        docs.extend(found.docs);
        passes += 1;
        // Years of documents that are not sent would be hundreds of empty pages.
        if !found.more || docs.len() >= limit.div_ceil(2) || passes == PASSES {
            break (if found.more { found.to } else { view.head.seq }, found.more);
        }
        after = found.to;
    };
    Ok(Page {
        from: query.after,
        to,
        hash: at(to)?,
        more,
        docs,
        head: (view.head.seq, chain_word(&view.head.hash)),
        last_n: query.client.map(|client| view.state.clients.get(&client).map_or(0, |mark| mark.last_n)),
    })
}

/// What is in work now and what names it: a phone that has nothing yet shows this while its whole copy comes, and keeps none of it.
pub fn open(shop: &Shop) -> Result<Vec<Doc>, store::Error> {
    let view = shop.view();
    let state = &view.state;
    let mut keys = vec![Key::Shop];
    keys.extend(state.departments.keys().cloned().map(Key::Department));
    keys.extend(state.people.keys().copied().map(Key::Person));
    keys.extend(state.equipment.keys().cloned().map(Key::Equipment));
    keys.extend(state.places.keys().cloned().map(Key::Place));
    keys.extend(state.calendars.keys().cloned().map(Key::Calendar));
    keys.extend(state.routings.keys().cloned().map(Key::Routing));
    let mut here = BTreeSet::new();
    for order in state.in_shop() {
        here.insert(order.id);
        keys.push(Key::Order(order.id));
        keys.extend(order.cards.iter().copied().map(Key::Card));
    }
    keys.extend(
        state.handoffs.values().filter(|one| here.contains(&one.order)).map(|one| Key::Handoff(one.id)),
    );
    keys.extend(
        state.exceptions.values().filter(|one| one.answered_at.is_none()).map(|one| Key::Exception(one.id)),
    );
    let tables = shop.tables()?;
    let found = keys.iter().map(|key| tables.doc(&key.to_string()));
    found.filter_map(Result::transpose).collect()
}
