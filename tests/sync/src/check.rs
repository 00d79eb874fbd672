//! What must hold, whatever happens: the promises as invariants over the log, the answers, the phones.
//!
//! Invariant of the checker: what it knows of the history comes from the simulated disk, never from what
//! the server or a phone says of itself.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use domain::decide::Code;
use domain::fold;
use domain::ids::{CardId, ClientId, OpId, OrderId, PersonId, SessionId};
use domain::state::{Key, State};
use domain::stored::{Act, Entry, Event, ExceptionKind, Expect, Verdict};
use domain::text;
use serde_json::Value;
use store::Stored;
use sync::chain_word;
use sync::shop::OWN_CLIENT;

use crate::disk::Disk;
use crate::phone::Phone;
use crate::wire::{Answer, Told, share};

/// A broken promise.
#[derive(Debug, Clone)]
pub struct Violation {
    pub invariant: &'static str,
    pub what: String,
}

pub type Checked = Result<(), Violation>;

pub fn broken<T>(invariant: &'static str, what: impl Into<String>) -> Result<T, Violation> {
    Err(Violation { invariant, what: what.into() })
}

pub const KEPT: &str = "acknowledged is kept";
pub const ONCE: &str = "an operation counts once";
pub const SAME_ANSWER: &str = "a repeated push gets the same answer";
pub const FACTS: &str = "facts are never refused for state";
pub const PICTURE: &str = "same picture";
pub const DURABLE: &str = "nothing is served that is not durable";
pub const VERIFIES: &str = "the log verifies";
pub const WISHES: &str = "a wish has one winner, and loses only to a real conflict";
pub const NOTHING_LOST: &str = "nothing typed is lost";
pub const TIMES: &str = "times do not run backwards";
pub const MAKER: &str = "an operation is its maker's";
pub const ALLOWED: &str = "only what is understood, and made in a valid sign-in, is applied";
pub const TOLD: &str = "what a phone is told is what the log says";
pub const STILL_SHOWN: &str = "an operation is shown until the documents show it";
pub const ENDS: &str = "with a good network everything is delivered";
pub const OPENS: &str = "the server starts again";

/// One operation that a phone kept.
pub struct Made {
    pub person: PersonId,
    pub phone: usize,
    pub op: Value,
    pub fact: bool,
    /// Its phone's storage went or went back since.
    pub doomed: bool,
    pub acked: bool,
    /// It was acknowledged, and a restore went back before it.
    pub cut: bool,
    /// It stood in a database that was copied, or set back: two phones may hold it under two clients.
    pub copied: bool,
    /// It was made under a client that two phones used: `last_n` of that client says nothing about whose
    /// operations those are.
    pub beside: bool,
}

#[derive(Default)]
pub struct Model {
    state: State,
    seq: u64,
    docs: BTreeMap<String, u64>,
    fingerprint: u64,
    /// Every picture the server ever showed as a whole, by place in which history.
    pictures: BTreeMap<(u64, String), u64>,
    served: BTreeMap<u64, String>,
    in_log: BTreeMap<OpId, Vec<u64>>,
    clients_of: BTreeMap<OpId, Vec<ClientId>>,
    moved: BTreeMap<(OpId, ClientId), ClientId>,
    answers: BTreeMap<(ClientId, u64, OpId), Told>,
    pub made: BTreeMap<OpId, Made>,
}

impl Model {
    /// The server shows this from now on: after a start.
    pub fn begin(&mut self, state: &State, head: u64, hash: String) {
        self.docs.clear();
        self.fingerprint = 0;
        for key in keys(state) {
            self.changed(state, &key);
        }
        self.pictures.insert((head, hash), self.fingerprint);
    }

    /// A frame's documents are as the server has them now.
    pub fn showed(&mut self, state: &State, keys: &[String], to: u64, hash: &str) {
        for key in keys.iter().filter_map(|key| parse(key)) {
            self.changed(state, &key);
        }
        self.pictures.insert((to, hash.to_owned()), self.fingerprint);
    }

    fn changed(&mut self, state: &State, key: &Key) {
        let Some(body) = state.document(key) else { return };
        let word = key.to_string();
        let share = share(&word, &body);
        let before = self.docs.insert(word, share).unwrap_or(0);
        self.fingerprint = self.fingerprint.wrapping_add(share).wrapping_sub(before);
    }

    /// The log went back to its first `head` entries.
    pub fn cut(&mut self, log: &[Arc<Stored>]) -> Checked {
        let head = log.len() as u64;
        (self.state, self.seq) = (State::default(), 0);
        self.in_log.clear();
        self.clients_of.clear();
        self.served.retain(|seq, _| *seq <= head);
        self.answers.retain(|_, told| told.seq <= head);
        for stored in log {
            let entry = read(stored)?;
            self.count(&entry, stored.seq);
        }
        for (id, made) in &mut self.made {
            made.cut |= made.acked && !self.in_log.contains_key(id);
        }
        Ok(())
    }

    fn count(&mut self, entry: &Entry, seq: u64) -> fold::Changed {
        if entry.client != OWN_CLIENT {
            self.in_log.entry(entry.op_id).or_default().push(seq);
            self.clients_of.entry(entry.op_id).or_default().push(entry.client);
        }
        self.seq = seq;
        fold::entry(&mut self.state, entry)
    }

    /// Reads what is new in the log.
    pub fn follow(&mut self, disk: &Disk, now: i64, sessions: &BTreeMap<SessionId, Option<i64>>) -> Checked {
        for stored in disk.entries_after(self.seq) {
            let entry = read(&stored)?;
            self.judge(&entry, now, sessions)?;
            let changed = self.count(&entry, stored.seq);
            let copied = self.made.get(&entry.op_id).is_some_and(|made| made.copied);
            if self.in_log.get(&entry.op_id).is_some_and(|seqs| seqs.len() > 1)
                && !(copied && self.apart(&entry))
            {
                return broken(
                    ONCE,
                    format!("{} stands at {:?}", entry.op["kind"], self.in_log[&entry.op_id]),
                );
            }
            self.spans(&changed)?;
        }
        Ok(())
    }

    /// Under each client once, and under none from which it was moved although the server had it there.
    fn apart(&self, entry: &Entry) -> bool {
        let Some(clients) = self.clients_of.get(&entry.op_id) else { return true };
        let mut client = entry.client;
        let mut before: Vec<ClientId> = Vec::new();
        while let Some(from) = self.moved.get(&(entry.op_id, client)).filter(|from| !before.contains(from)) {
            before.push(*from);
            client = *from;
        }
        let same = clients.iter().filter(|client| **client == entry.client).count();
        same <= 1 && !clients.iter().any(|client| before.contains(client))
    }

    pub fn moved(&mut self, id: OpId, from: ClientId, to: ClientId) {
        self.moved.insert((id, to), from);
    }

    fn judge(&self, entry: &Entry, now: i64, sessions: &BTreeMap<SessionId, Option<i64>>) -> Checked {
        let before = self.state.clients.get(&entry.client).map_or(0, |mark| mark.last_act_at);
        if entry.at > now || entry.act_at > entry.at || entry.act_at < before {
            let Entry { at, act_at, .. } = entry;
            return broken(
                TIMES,
                format!("an act at {act_at}, after one at {before}, taken at {at}, now {now}"),
            );
        }
        for event in &entry.events {
            if let Event::Taken { card, by, .. } = event
                && let Some(holder) = self.state.cards.get(card).and_then(|c| c.taken_by)
                && holder != *by
                && !entry
                    .events
                    .iter()
                    .any(|e| matches!(e, Event::GivenBack { card: back, .. } if back == card))
            {
                return broken(WISHES, format!("{card} was held by {holder} when {by} took it"));
            }
        }
        let Some(made) = self.made.get(&entry.op_id) else { return Ok(()) };
        if made.person != entry.by {
            return broken(MAKER, format!("{} did what the log says {} did", made.person, entry.by));
        }
        let session = entry.op["session"].as_str().and_then(|id| id.parse().ok()).map(SessionId);
        let known = session.and_then(|session| sessions.get(&session));
        let valid = known.is_some_and(|ended| ended.is_none_or(|ended| entry.act_at <= ended));
        // A sign-in that a restore lost proves nothing: its facts are kept, and somebody is asked about them.
        let asked = |event: &Event| matches!(event, Event::ExceptionRaised { exception } if exception.kind == ExceptionKind::Unproved);
        let lost = known.is_none() && made.fact && entry.events.iter().any(asked);
        if entry.verdict == Verdict::Applied && (!(valid || lost) || entry.op["v"] != 1) {
            return broken(ALLOWED, format!("{} was applied", entry.op["kind"]));
        }
        let code = entry.code.as_deref().unwrap_or_default();
        if made.fact && entry.verdict == Verdict::Refused && !self.may_refuse(code, entry, sessions) {
            return broken(FACTS, format!("{} was refused ({code})", entry.op["kind"]));
        }
        if !made.fact {
            self.judge_wish(made, entry, code)?;
        }
        Ok(())
    }

    /// What is unreadable, names nothing that exists, or was not this person's to say.
    fn may_refuse(&self, code: &str, entry: &Entry, sessions: &BTreeMap<SessionId, Option<i64>>) -> bool {
        let args = &entry.op["args"];
        let id = |name: &str| args[name].as_str().and_then(|id| id.parse().ok());
        let card = id("card").map(CardId);
        let order = id("order").map(OrderId);
        let is = |known: Code| code == known.word();
        if is(Code::UnknownCard) {
            let found = card.and_then(|card| self.state.cards.get(&card));
            found.is_none_or(|found| order.is_some_and(|order| order != found.order))
        } else if is(Code::UnknownOrder) {
            order.is_none_or(|order| !self.state.orders.contains_key(&order))
        } else if is(Code::Invalid) {
            let again = self.in_log.contains_key(&entry.op_id);
            entry.op["v"] != 1 || again && self.made.get(&entry.op_id).is_some_and(|made| made.copied)
        } else if is(Code::SignedOut) {
            let session = entry.op["session"].as_str().and_then(|id| id.parse().ok()).map(SessionId);
            let known = session.and_then(|session| sessions.get(&session));
            known.is_none_or(|ended| ended.is_some_and(|ended| entry.act_at > ended))
        } else if is(Code::Unproved) {
            let session = entry.op["session"].as_str().and_then(|id| id.parse().ok()).map(SessionId);
            session.is_some_and(|session| !sessions.contains_key(&session))
        } else if is(Code::Forbidden) {
            // What was done before its person left is taken however late it comes.
            let left = self.state.people.get(&entry.by).map(|p| p.retired.then_some(p.retired_at).flatten());
            left.is_none_or(|left| left.is_some_and(|left| entry.act_at >= left))
        } else {
            false
        }
    }

    fn judge_wish(&self, made: &Made, entry: &Entry, code: &str) -> Checked {
        let expect: Vec<Expect> =
            made.op.get("expect").and_then(|e| serde_json::from_value(e.clone()).ok()).unwrap_or_default();
        let wrong = expect.iter().any(|expected| !self.holds(expected));
        if entry.verdict == Verdict::Applied && wrong {
            return broken(WISHES, format!("{} was applied over {expect:?}", entry.op["kind"]));
        }
        if entry.verdict != Verdict::Refused {
            return Ok(());
        }
        if code == Code::Expectation.word() && !wrong {
            return broken(WISHES, format!("{} was refused, and {expect:?} was so", entry.op["kind"]));
        }
        let card = entry.op["args"]["card"].as_str().and_then(|id| id.parse().ok()).map(CardId);
        let card = card.and_then(|card| self.state.cards.get(&card));
        let taken = card.is_some_and(|c| c.taken_by.is_some_and(|holder| holder != entry.by));
        if entry.op["kind"] == "take" && code == Code::Taken.word() && !taken {
            return broken(WISHES, format!("{} lost to nobody", entry.op["kind"]));
        }
        Ok(())
    }

    fn holds(&self, expected: &Expect) -> bool {
        match expected {
            Expect::Holder { card, person } => {
                self.state.cards.get(card).is_some_and(|card| card.taken_by == *person)
            }
            Expect::Life { card, life } => self.state.cards.get(card).is_some_and(|card| card.life == *life),
            Expect::Open { .. } | Expect::Promise { .. } => true,
        }
    }

    fn spans(&self, changed: &fold::Changed) -> Checked {
        for key in changed {
            let Key::Card(card) = key else { continue };
            let Some(card) = self.state.cards.get(card) else { continue };
            if let Some(span) = card.spans.iter().find(|span| span.to.is_some_and(|to| to < span.from)) {
                return broken(TIMES, format!("work on {} ends before it begins: {span:?}", card.id));
            }
        }
        Ok(())
    }

    /// An answer that leaves the server, to `client` where it is one to a push.
    pub fn answered(&mut self, disk: &Disk, answer: &Answer, push: Option<(ClientId, Vec<OpId>)>) -> Checked {
        match answer {
            Answer::Page(page) => self.served(disk, page.to, &page.hash),
            Answer::Pushed { results, .. } => {
                let Some((client, ids)) = push else { return Ok(()) };
                for (told, id) in results.iter().zip(ids) {
                    let Some(stored) = disk.durable_at(told.seq) else {
                        return broken(DURABLE, format!("entry {} was acknowledged", told.seq));
                    };
                    let entry = read(&stored)?;
                    if entry.op_id != id || entry.verdict != told.verdict || entry.code != told.code {
                        let said = format!("{:?} {:?}", told.verdict, told.code);
                        let known = self.in_log.contains_key(&id);
                        let invariant = if entry.op_id != id && !known {
                            KEPT
                        } else if told.verdict == Verdict::Refused
                            && self.made.get(&id).is_some_and(|m| m.fact)
                        {
                            FACTS
                        } else {
                            TOLD
                        };
                        return broken(
                            invariant,
                            format!(
                                "told {said} for entry {}, which says {:?} {:?} of {}",
                                told.seq, entry.verdict, entry.code, entry.op_id
                            ),
                        );
                    }
                    self.served(disk, told.seq, &chain_word(&stored.hash))?;
                    let before = self.answers.insert((client, told.n, id), told.clone());
                    if before.as_ref().is_some_and(|before| {
                        (before.seq, before.verdict, &before.code) != (told.seq, told.verdict, &told.code)
                    }) {
                        return broken(SAME_ANSWER, format!("first {before:?}, then {told:?}"));
                    }
                }
                Ok(())
            }
            _ => Ok(()),
        }
    }

    /// Somebody is about to know that entry `seq` has this word in the chain.
    pub fn served(&mut self, disk: &Disk, seq: u64, word: &str) -> Checked {
        if seq == 0 {
            return Ok(());
        }
        match disk.durable_at(seq) {
            Some(stored) if chain_word(&stored.hash) == word => {
                self.served.insert(seq, word.to_owned());
                Ok(())
            }
            Some(_) => broken(DURABLE, format!("entry {seq} has another hash than was served")),
            None => broken(DURABLE, format!("entry {seq} was served")),
        }
    }

    /// After a power cut.
    pub fn survived(&self, disk: &Disk) -> Checked {
        if let Err(fault) = store::Log::verify(disk) {
            return broken(VERIFIES, fault.to_string());
        }
        for (seq, word) in &self.served {
            if disk.durable_at(*seq).is_none_or(|stored| chain_word(&stored.hash) != *word) {
                return broken(DURABLE, format!("entry {seq} was served and did not survive"));
            }
        }
        Ok(())
    }

    /// A phone's copy is always one that the server showed as a whole.
    pub fn copy(&self, phone: &Phone) -> Checked {
        let Some(at) = &phone.db.position else { return Ok(()) };
        match self.pictures.get(&(at.cursor, at.hash.clone())) {
            Some(shown) if *shown == phone.db.fingerprint => Ok(()),
            Some(_) => broken(
                PICTURE,
                format!("phone {} at {} has other documents: {}", phone.id, at.cursor, self.other(phone)),
            ),
            None => {
                broken(PICTURE, format!("phone {} stands at {}, a place never shown", phone.id, at.cursor))
            }
        }
    }

    /// Which ones, as far as the server's picture of now tells.
    fn other(&self, phone: &Phone) -> String {
        let theirs = phone.db.docs.iter().filter(|(key, doc)| self.docs.get(*key) != Some(&doc.share));
        let lacks = self.docs.keys().filter(|key| !phone.db.docs.contains_key(*key));
        theirs
            .map(|(key, doc)| format!("{key} of {}", doc.seq))
            .chain(lacks.cloned())
            .collect::<Vec<_>>()
            .join(", ")
    }

    pub fn acked(&mut self, id: OpId) {
        // The answer may have been on its way when the log went back.
        let cut = !self.in_log.contains_key(&id);
        if let Some(made) = self.made.get_mut(&id) {
            (made.acked, made.cut) = (true, cut);
        }
    }

    /// Everything has been delivered that can be.
    pub fn end(&self, state: &State, phones: &[Phone]) -> Checked {
        for phone in phones {
            self.end_of(state, phone)?;
        }
        let mut held: BTreeSet<OpId> = BTreeSet::new();
        let mut waiting: BTreeSet<OpId> = BTreeSet::new();
        for phone in phones {
            held.extend(phone.db.journal.values().map(|row| row.id));
            waiting.extend(phone.db.outbox.values().map(|row| row.id));
        }
        let gone = |person: &PersonId| state.people.get(person).is_none_or(|p| p.retired);
        for (id, made) in &self.made {
            let there = self.in_log.contains_key(id);
            let what = || format!("{} of phone {} ({id})", made.op["kind"], made.phone);
            // What a restore went back before can be offered again by somebody who may sign in, and who can
            // see that it is missing.
            let offered = held.contains(id) && !gone(&made.person) && !made.beside;
            if made.acked && !there && (!made.cut || offered) && !waiting.contains(id) {
                return broken(KEPT, what());
            }
            if !made.doomed && !made.acked && !there && !waiting.contains(id) {
                return broken(NOTHING_LOST, what());
            }
        }
        Ok(())
    }

    fn end_of(&self, state: &State, phone: &Phone) -> Checked {
        let number = phone.id;
        let gone = |person: &PersonId| state.people.get(person).is_none_or(|p| p.retired);
        if let Some(row) = phone.db.outbox.values().find(|row| !gone(&row.person)) {
            return broken(ENDS, format!("phone {number} still holds {}", row.op["kind"]));
        }
        if phone.db.accounts.iter().all(|account| gone(&account.person)) {
            return Ok(());
        }
        let keys = keys(state);
        if keys.len() != phone.db.docs.len() {
            let (has, should) = (phone.db.docs.len(), keys.len());
            return broken(PICTURE, format!("phone {number} has {has} documents of {should}"));
        }
        for key in keys {
            let body = phone.db.docs.get(&key.to_string()).map(|doc| &*doc.body);
            if body != state.document(&key).as_ref() {
                return broken(PICTURE, format!("phone {number} has another {key}"));
            }
        }
        Ok(())
    }

    pub fn log_len(&self) -> u64 {
        self.seq
    }
}

pub fn is_fact(op: &Value) -> bool {
    serde_json::from_value::<Act>(op.clone()).is_ok_and(|act| act.is_fact())
}

fn read(stored: &Stored) -> Result<Entry, Violation> {
    let mut value: Value = serde_json::from_slice(&stored.body).unwrap_or_default();
    text::put_back(&mut value, &mut |_| None);
    serde_json::from_value(value)
        .or_else(|error| broken(VERIFIES, format!("entry {} cannot be read: {error}", stored.seq)))
}

/// The names of all documents.
pub fn keys(state: &State) -> Vec<Key> {
    let mut all: Vec<Key> = state.shop.iter().map(|_| Key::Shop).collect();
    all.extend(state.departments.keys().cloned().map(Key::Department));
    all.extend(state.people.keys().copied().map(Key::Person));
    all.extend(state.equipment.keys().cloned().map(Key::Equipment));
    all.extend(state.places.keys().cloned().map(Key::Place));
    all.extend(state.calendars.keys().cloned().map(Key::Calendar));
    all.extend(state.routings.keys().cloned().map(Key::Routing));
    all.extend(state.orders.keys().copied().map(Key::Order));
    all.extend(state.cards.keys().copied().map(Key::Card));
    all.extend(state.handoffs.keys().copied().map(Key::Handoff));
    all.extend(state.notes.keys().copied().map(Key::Note));
    all.extend(state.photos.keys().copied().map(Key::Photo));
    all.extend(state.exceptions.keys().copied().map(Key::Exception));
    all
}

fn parse(word: &str) -> Option<Key> {
    use domain::ids::{ExceptionId, HandoffId, NoteId, PhotoId};
    let (kind, id) = word.split_once('/')?;
    let uuid = || id.parse().ok();
    Some(match kind {
        "shop" => Key::Shop,
        "department" => Key::Department(id.into()),
        "person" => Key::Person(PersonId(uuid()?)),
        "equipment" => Key::Equipment(id.into()),
        "place" => Key::Place(id.into()),
        "calendar" => Key::Calendar(id.into()),
        "routing" => Key::Routing(id.into()),
        "order" => Key::Order(OrderId(uuid()?)),
        "card" => Key::Card(CardId(uuid()?)),
        "handoff" => Key::Handoff(HandoffId(uuid()?)),
        "note" => Key::Note(NoteId(uuid()?)),
        "photo" => Key::Photo(PhotoId(uuid()?)),
        "exception" => Key::Exception(ExceptionId(uuid()?)),
        _ => return None,
    })
}
