//! Visits that ended long ago, with their cards packed: nearly everything a shop ever did, and hardly ever
//! looked at.
//! Invariants: a visit means the same whether warm or cold. `decide` and `fold` warm what they touch; code that
//! reads the cards of old visits in bulk takes a copy that is warmed as far back as it looks
//! ([`State::warmed`]). Only delivered visits turn cold, so nothing on them runs, and only if nobody has
//! anything left to answer. Phones are not sent cold visits, so nothing on one may wait for anybody.
//! Packed cards stand in snapshots: the JSON list of the cards as they are sent, deflated (RFC 1951).

use std::collections::BTreeSet;
use std::io::{Read, Write};
use std::sync::Arc;

use flate2::Compression;
use flate2::read::DeflateDecoder;
use flate2::write::DeflateEncoder;
use serde::Serialize;
use uuid::Uuid;

use crate::Ms;
use crate::ids::*;
use crate::state::State;
use crate::stored::*;

const DAY: Ms = 24 * 3_600_000;

/// Longer than the period that is learnt from (`learn::MEMORY`), and longer than a year of measures plus the
/// ninety days in which its last vehicles may come back.
pub const COLD_AFTER: Ms = 480 * DAY;

/// One visit's cards.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cold {
    /// When something last happened on it, UTC ms.
    pub last: Ms,
    /// The cards, as JSON, deflated.
    pub packed: Arc<[u8]>,
}

impl Cold {
    fn pack(last: Ms, cards: &[&Card]) -> Self {
        let mut to = DeflateEncoder::new(Vec::new(), Compression::default());
        let json = serde_json::to_vec(cards).expect("documents are JSON");
        let packed = to.write_all(&json).and_then(|()| to.finish()).expect("memory takes what it is given");
        Self { last, packed: packed.into() }
    }

    fn cards(&self) -> Vec<Card> {
        let mut json = Vec::new();
        DeflateDecoder::new(&*self.packed)
            .read_to_end(&mut json)
            .expect("packed here, kept under a checksum");
        serde_json::from_slice(&json).expect("packed here, kept under a checksum")
    }
}

impl State {
    /// Packs the visits on which nothing happened since `before`; returns how many.
    pub fn cool(&mut self, before: Ms) -> usize {
        let asked = self.exceptions.values().filter(|e| e.answered_at.is_none());
        let unanswered: BTreeSet<OrderId> = asked.map(|e| e.order).collect();
        let over = |order: &&Order| {
            let kept = self.cold.contains_key(&order.id) || unanswered.contains(&order.id);
            order.stage == Stage::Delivered && !kept
        };
        let orders = self.orders.values().map(|order| &**order).filter(over);
        let found: Vec<(OrderId, Cold)> = orders
            .filter(|order| order.stages.iter().all(|s| s.at < before))
            .filter_map(|order| {
                let cards: Vec<&Card> = self.cards_of(order.id).collect();
                let last = last_of(order, &cards, self.handoffs_of(order.id))?;
                (last < before).then(|| (order.id, Cold::pack(last, &cards)))
            })
            .collect();
        let count = found.len();
        for (id, cold) in found {
            for card in &self.orders[&id].cards {
                self.cards.remove(card);
            }
            self.cold.insert(id, cold);
        }
        self.index_cold();
        count
    }

    /// A copy in which every visit with activity at or after `since` is warm.
    pub fn warmed(&self, since: Ms) -> State {
        let mut state = self.clone();
        for (id, _) in self.cold.iter().filter(|(_, cold)| cold.last >= since) {
            state.warm(*id);
        }
        state
    }

    /// The packed visits, in no order of time.
    pub fn cold(&self) -> impl Iterator<Item = (OrderId, &Cold)> {
        self.cold.iter().map(|(id, cold)| (*id, cold))
    }

    /// Adds packed visits from a snapshot; their orders must be there already.
    pub fn put_cold(&mut self, visits: impl IntoIterator<Item = (OrderId, Cold)>) {
        self.cold.extend(visits);
        self.index_cold();
    }

    fn index_cold(&mut self) {
        let of = |id: &OrderId| self.orders.get(id).map_or(&[] as &[CardId], |o| &o.cards);
        let pairs = self.cold.keys().flat_map(|id| of(id).iter().map(|card| (*card, *id)));
        let mut pairs: Vec<(CardId, OrderId)> = pairs.collect();
        pairs.sort_unstable();
        self.cold_cards = pairs.into();
    }

    fn warm(&mut self, id: OrderId) {
        if let Some(cold) = self.cold.remove(&id) {
            self.cards.extend(cold.cards().into_iter().map(|card| (card.id, Arc::new(card))));
        }
    }

    /// Warms every visit that is named, by its own id or by that of a card, hand-off, note, picture or
    /// exception.
    pub(crate) fn warm_named(&mut self, said: &impl Serialize) {
        if self.cold.is_empty() {
            return;
        }
        let Ok(said) = serde_json::to_vec(said) else {
            // Whatever is named is warm then.
            let all: Vec<OrderId> = self.cold.keys().copied().collect();
            return all.into_iter().for_each(|order| self.warm(order));
        };
        for id in ids(&said) {
            if let Some(order) = self.cold_visit(id) {
                self.warm(order);
            }
        }
    }

    /// Whether this is a document of a cold visit: "card/018f…".
    pub fn is_cold(&self, key: &str) -> bool {
        let id = key.split_once('/').and_then(|(_, id)| Uuid::try_parse(id).ok());
        !self.cold.is_empty() && id.is_some_and(|id| self.cold_visit(id).is_some())
    }

    /// The cold visit to which this id belongs, whatever kind of thing it names.
    fn cold_visit(&self, id: Uuid) -> Option<OrderId> {
        let of_card = || {
            let place = self.cold_cards.binary_search_by_key(&CardId(id), |(card, _)| *card).ok()?;
            Some(self.cold_cards[place].1)
        };
        let order = (self.orders.contains_key(&OrderId(id)).then_some(OrderId(id)))
            .or_else(of_card)
            .or_else(|| Some(self.handoffs.get(&HandoffId(id))?.order))
            .or_else(|| Some(self.notes.get(&NoteId(id))?.order))
            .or_else(|| Some(self.photos.get(&PhotoId(id))?.order))
            .or_else(|| Some(self.exceptions.get(&ExceptionId(id))?.order))?;
        self.cold.contains_key(&order).then_some(order)
    }

    /// A card of a cold visit.
    pub(crate) fn cold_card(&self, id: &CardId) -> Option<Arc<Card>> {
        let cold = self.cold.get(&self.cold_visit(id.0)?)?;
        cold.cards().into_iter().find(|card| card.id == *id).map(Arc::new)
    }
}

/// When something happened last; none while anything runs.
fn last_of<'a>(order: &Order, cards: &[&Card], handoffs: impl Iterator<Item = &'a Handoff>) -> Option<Ms> {
    let mut last = order.created_at;
    let mut seen = |at: Option<Ms>| last = at.map_or(last, |at| at.max(last));
    order.stages.iter().for_each(|s| seen(Some(s.at)));
    order.holds.iter().for_each(|h| seen(h.ended.or(Some(h.since))));
    order.stood.iter().for_each(|s| seen(Some(s.from)));
    for h in handoffs {
        [Some(h.asked_at), h.ready_at, h.taken_at, h.started_at, h.handed_back_at]
            .into_iter()
            .for_each(&mut seen);
    }
    for card in cards {
        [Some(card.created_at), card.ready_at, card.taken_at, card.done_at].into_iter().for_each(&mut seen);
        for span in &card.spans {
            span.to?;
            seen(span.to);
        }
    }
    Some(last)
}

/// Every id in a piece of JSON, as a value or as a key: 36 characters between quotes that parse as a UUID.
/// Searched for in the raw bytes, because this runs for every entry of a long log.
fn ids(json: &[u8]) -> impl Iterator<Item = Uuid> + '_ {
    json.windows(38)
        .filter(|w| w[0] == b'"' && w[37] == b'"' && w[9] == b'-')
        .filter_map(|w| Uuid::try_parse_ascii(&w[1..37]).ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_found_wherever_they_stand() {
        let id = Uuid::from_u128;
        let said = serde_json::json!({
            "card": id(1), "about": [id(2), {"deep": id(3)}], id(4).to_string(): 7,
            "note": format!("not {} inside a text", id(5)), "word": "123456789-123456789-123456789-123456"
        });
        let found: Vec<Uuid> = ids(&serde_json::to_vec(&said).unwrap()).collect();
        let mut sorted = found.clone();
        sorted.sort_unstable();
        assert_eq!(sorted, [id(1), id(2), id(3), id(4)]);
        assert_eq!(ids(b"").count() + ids(b"\"\"").count(), 0);
    }
}
