//! What holds after every operation, whatever it was.

use std::collections::{BTreeMap, BTreeSet};

use domain::ids::*;
use domain::state::State;
use domain::stored::*;
use domain::{depends, fold, text};

use super::documents::{self, Documents};

/// After one entry: the whole of it.
pub fn step(before: &State, entry: &Entry, after: &State) {
    let (was, is) = (documents::all(before), documents::all(after));
    if entry.verdict != Verdict::Applied {
        assert!(entry.events.is_empty());
        assert_eq!(was, is, "{:?} changed something", entry.verdict);
        return;
    }
    the_log_makes_the_state(before, entry, &was, &is);
    no_cycles(after);
    ready_is_what_the_links_say(after);
    lives_fit(after);
    within_reach(&is, entry.at);
    nobody_works_twice_unnoticed(after);
    handoffs_fit(after);
    a_snapshot_is_the_same(after, &is);
}

/// The entry goes through the log's JSON, its texts out and back, and is folded again.
fn the_log_makes_the_state(before: &State, entry: &Entry, was: &Documents, is: &Documents) {
    let mut value = serde_json::to_value(entry).expect("an entry is JSON");
    let mut kept: BTreeMap<String, String> = BTreeMap::new();
    text::take_out(&mut value, &mut |text| {
        let digest = format!("d{}", kept.len());
        kept.insert(digest.clone(), text.to_owned());
        digest
    });
    let line = value.to_string();
    let mut value = serde_json::from_str(&line).expect("a line of the log");
    text::put_back(&mut value, &mut |digest| kept.get(digest).cloned());
    let read: Entry = serde_json::from_value(value).expect("an entry");
    assert_eq!(read, *entry, "the log must give back what was written");
    let mut again = before.clone();
    let changed = fold::entry(&mut again, &read);
    assert_eq!(documents::all(&again), *is, "folding the log must make the same state");
    let named: BTreeSet<String> = changed.iter().map(ToString::to_string).collect();
    for (key, body) in is {
        assert!(was.get(key) == Some(body) || named.contains(key), "{key} changed without being named");
    }
}

/// Nothing lies before 1970 or further away than anybody may say.
pub fn within_reach(documents: &Documents, now: domain::Ms) {
    documents.values().for_each(|body| every_number_within_reach(body, now));
}

/// A time is by far the largest number that a document holds, so this looks at every one of them.
fn every_number_within_reach(body: &serde_json::Value, now: domain::Ms) {
    use serde_json::Value;
    match body {
        Value::Number(number) => {
            let fits = number.as_i64().is_some_and(|n| (0..=now + domain::decide::REACH).contains(&n));
            assert!(fits, "{number} is out of reach");
        }
        Value::Array(items) => items.iter().for_each(|item| every_number_within_reach(item, now)),
        Value::Object(fields) => fields.values().for_each(|field| every_number_within_reach(field, now)),
        _ => {}
    }
}

/// Links are taken off from the front as long as something stands there (Kahn 1962): what is left over
/// waits for itself. Not by the core's own search, which is what is tested.
fn no_cycles(state: &State) {
    let mut waits: BTreeMap<CardId, BTreeSet<CardId>> = BTreeMap::new();
    for card in state.cards.values() {
        for link in &card.after {
            let before = state.cards.get(&link.card).expect("a link names a card");
            assert_eq!(before.order, card.order, "a link stays on one vehicle");
        }
        waits.insert(card.id, card.after.iter().map(|link| link.card).collect());
    }
    while let Some(free) = waits.iter().find(|(_, before)| before.is_empty()).map(|(card, _)| *card) {
        waits.remove(&free);
        waits.values_mut().for_each(|before| {
            before.remove(&free);
        });
    }
    assert!(waits.is_empty(), "these wait for themselves: {waits:?}");
}

fn ready_is_what_the_links_say(state: &State) {
    for card in state.cards.values() {
        assert_eq!(card.ready_at, depends::ready_at(state, card), "ready_at of «{}»", card.title.text);
    }
}

fn lives_fit(state: &State) {
    for card in state.cards.values() {
        let runs = card.spans.iter().any(|span| span.to.is_none());
        let name = &card.title.text;
        match card.life {
            Life::Waiting => assert!(card.taken_by.is_none() && !runs, "waiting «{name}» is held or worked"),
            Life::Taken => assert!(card.taken_by.is_some() && !runs, "taken «{name}» is not held, or worked"),
            Life::Working => assert!(runs, "nobody works on «{name}»"),
            Life::Paused => {
                assert!(!runs && !card.spans.is_empty(), "paused «{name}» is worked, or never was")
            }
            Life::Done => assert!(card.done_at.is_some() && card.done_by.is_some(), "who finished «{name}»?"),
            Life::Proposed => assert!(!runs, "proposed «{name}» is worked"),
            Life::Cancelled => {}
        }
        assert_eq!(card.taken_by.is_some(), card.taken_at.is_some(), "holder and time of «{name}»");
        assert!(
            card.spans.iter().all(|s| s.to.is_none_or(|to| to >= s.from)),
            "work on «{name}» ends before it begins"
        );
        let ids: BTreeSet<SpanId> = card.spans.iter().map(|s| s.id).collect();
        assert_eq!(ids.len(), card.spans.len(), "two stretches of work of one id on «{name}»");
    }
    for order in state.orders.values() {
        let opened: BTreeSet<&OpenId> = order.open.iter().map(|now| &now.open).collect();
        assert_eq!(opened.len(), order.open.len(), "one state open twice on {}", order.number);
        let cards: BTreeSet<CardId> = order.cards.iter().copied().collect();
        let own: BTreeSet<CardId> =
            state.cards.values().filter(|c| c.order == order.id).map(|c| c.id).collect();
        assert_eq!(cards, own, "the cards of {}", order.number);
    }
}

fn nobody_works_twice_unnoticed(state: &State) {
    let mut by_person: BTreeMap<PersonId, Vec<(CardId, &Span)>> = BTreeMap::new();
    for card in state.cards.values() {
        for span in &card.spans {
            by_person.entry(span.person).or_default().push((card.id, span));
        }
    }
    for (person, spans) in by_person {
        for (i, (card, a)) in spans.iter().enumerate() {
            for (other, b) in &spans[i + 1..] {
                let (a_ends, b_ends) = (a.to.unwrap_or(i64::MAX), b.to.unwrap_or(i64::MAX));
                // While one still runs it is not known when it ended; that is looked at when it ends.
                if a.to.is_some() != b.to.is_some() {
                    continue;
                }
                if a.from >= b_ends || b.from >= a_ends {
                    continue;
                }
                let noticed = state.exceptions.values().any(|e| {
                    let both = |x: &CardId, y: &CardId| e.card == Some(*x) && e.about.contains(y);
                    e.kind == ExceptionKind::TwoAtOnce
                        && e.owner == Some(person)
                        && (both(card, other) || both(other, card))
                });
                assert!(noticed, "{person} works on {card} {a:?} and {other} {b:?}, and nobody noticed");
            }
        }
    }
}

fn handoffs_fit(state: &State) {
    for handoff in state.handoffs.values() {
        let cards = || handoff.cards.iter().map(|id| state.cards.get(id).expect("a card of the hand-off"));
        let over = cards().all(|card| card.life.is_over());
        match handoff.life {
            HandoffLife::HandedBack => {
                assert!(over && handoff.handed_back_at.is_some(), "handed back too soon: {handoff:?}")
            }
            HandoffLife::Taken => {
                assert!(handoff.taken_by.is_some() && handoff.taken_at.is_some(), "taken by nobody")
            }
            HandoffLife::Asked => {
                assert!(handoff.started_at.is_none(), "started, and still only asked: {handoff:?}")
            }
            HandoffLife::Open => assert!(handoff.opened_at.is_some(), "open since when?"),
            HandoffLife::Started | HandoffLife::Cancelled => {}
        }
        assert!(state.handoffs_of(handoff.order).any(|h| h.id == handoff.id), "found by its vehicle");
    }
}

/// Documents to JSON and back, indexes made anew: the same documents, the same indexes.
fn a_snapshot_is_the_same(state: &State, documents: &Documents) {
    let again = documents::state(documents);
    assert_eq!(documents::all(&again), *documents);
    let active = |s: &State| s.in_shop().map(|order| order.id).collect::<Vec<_>>();
    assert_eq!(active(&again), active(state), "vehicles in the shop");
    for person in state.people.keys() {
        let running = |s: &State| s.running_cards(*person).collect::<Vec<_>>();
        assert_eq!(running(&again), running(state), "running work");
    }
    for order in state.orders.values() {
        assert_eq!(state.order_numbered(&order.number), Some(order.id), "found by its number");
        assert_eq!(
            again.order_numbered(&order.number),
            Some(order.id),
            "found by its number after a snapshot"
        );
    }
}
