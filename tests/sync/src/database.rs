//! The phone's database: what survives everything but eviction.
//!
//! Invariant: a copy of it is a whole phone; the fingerprint is that of the documents.
//! Must not know: requests, tabs, what operations mean.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use domain::ids::{ClientId, OpId, PersonId, SessionId};
use serde_json::Value;
use uuid::Uuid;

use crate::wire::{Told, share};

#[derive(Debug, Clone)]
pub struct Row {
    pub person: PersonId,
    pub id: OpId,
    pub op: Value,
    /// Its verdict, once seen.
    pub result: Option<Told>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Position {
    pub epoch: String,
    pub cursor: u64,
    pub hash: String,
}

/// One person on this browser.
#[derive(Debug, Clone)]
pub struct Account {
    pub person: PersonId,
    pub client: Option<ClientId>,
    pub session: Option<SessionId>,
    pub gone: bool,
}

#[derive(Debug, Clone)]
pub struct Doc {
    pub seq: u64,
    pub body: Arc<Value>,
    pub share: u64,
}

/// What survives everything but eviction.
#[derive(Clone)]
pub struct Database {
    pub browser: Uuid,
    pub accounts: Vec<Account>,
    pub active: usize,
    pub docs: BTreeMap<String, Doc>,
    /// The sum of the documents' shares.
    pub fingerprint: u64,
    pub position: Option<Position>,
    /// The epoch heard at sign-in, before there is a copy.
    pub epoch: String,
    pub outbox: BTreeMap<(ClientId, u64), Row>,
    pub journal: BTreeMap<(ClientId, u64), Row>,
    pub counters: BTreeMap<ClientId, u64>,
    pub tray: BTreeSet<OpId>,
    /// Clients whose acknowledged operations a restore may have lost.
    pub owed: BTreeSet<ClientId>,
    pub offset: Option<i64>,
}

impl Database {
    pub fn new(browser: Uuid, people: &[PersonId]) -> Self {
        let account =
            |person: &PersonId| Account { person: *person, client: None, session: None, gone: false };
        Self {
            browser,
            accounts: people.iter().map(account).collect(),
            active: 0,
            docs: BTreeMap::new(),
            fingerprint: 0,
            position: None,
            epoch: String::new(),
            outbox: BTreeMap::new(),
            journal: BTreeMap::new(),
            counters: BTreeMap::new(),
            tray: BTreeSet::new(),
            owed: BTreeSet::new(),
            offset: None,
        }
    }

    pub fn who(&self) -> &Account {
        &self.accounts[self.active]
    }

    pub fn holds(&self, id: OpId) -> bool {
        self.outbox.values().chain(self.journal.values()).any(|row| row.id == id)
    }

    /// It has, or had, this client as its own.
    pub fn uses(&self, client: ClientId) -> bool {
        let rows = self.outbox.keys().chain(self.journal.keys()).any(|(c, _)| *c == client);
        rows || self.accounts.iter().any(|account| account.client == Some(client))
    }

    /// The phone is full: the older half of what was acknowledged goes, never anything unsent.
    pub fn make_room(&mut self) {
        let made = |row: &Row| row.result.as_ref().map_or(0, |told| told.seq);
        let mut rows: Vec<_> = self.journal.iter().map(|(at, row)| (made(row), *at)).collect();
        rows.sort_unstable();
        for (_, at) in &rows[..rows.len().div_ceil(2)] {
            self.journal.remove(at);
        }
    }

    pub fn put(&mut self, key: &str, seq: u64, body: Arc<Value>) {
        let share = share(key, &body);
        self.fingerprint = self.fingerprint.wrapping_add(share);
        if let Some(before) = self.docs.insert(key.to_owned(), Doc { seq, body, share }) {
            self.fingerprint = self.fingerprint.wrapping_sub(before.share);
        }
    }

    pub fn take_away(&mut self, key: &str) {
        if let Some(before) = self.docs.remove(key) {
            self.fingerprint = self.fingerprint.wrapping_sub(before.share);
        }
    }
}
