//! One browser: the reference model of the app's database and engine.
//!
//! Invariants of a right phone: one request at a time; every change of the database is one transaction; a
//! frame is applied only at its own cursor; pages are committed when they are complete; nothing leaves the
//! outbox before its verdict is part of the documents; what a restore may have lost is owed until offered.
//! Must not know: what operations mean, what the server really holds.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::sync::Arc;

use domain::Ms;
use domain::ids::{ClientId, OpId, PersonId, SessionId};
use domain::stored::Verdict;
use serde_json::Value;

use crate::bug::Bug;
use crate::database::{Database, Position, Row};
use crate::dice::Dice;
use crate::wire::{Answer, Ask, Change, Failure, Frame, Line, Page, Told};

/// A request on its way.
struct Busy {
    id: u64,
    since: u64,
    what: Doing,
}

enum Doing {
    SignIn,
    Push {
        client: ClientId,
        sent: Vec<u64>,
    },
    Pull(ClientId),
    /// Asking what the server has of a client that something is owed of.
    Owed(ClientId),
    Bind {
        old: ClientId,
        new: ClientId,
        also_from: Option<u64>,
    },
    /// The server does not know this client any more.
    BindAgain(ClientId),
    Live,
}

struct Shadow {
    at: Position,
    /// The head that the last page was of.
    beside: Option<(u64, String)>,
    docs: BTreeMap<String, Line>,
    replace: bool,
}

/// What a killed tab forgets.
#[derive(Default)]
struct Tab {
    busy: Option<Busy>,
    shadow: Option<Shadow>,
    wants_pull: bool,
    /// Since the channel closed.
    pulled: bool,
    /// A fork or an unknown client waits for its turn.
    to_fork: Option<(ClientId, Option<u64>)>,
    to_bind: Option<ClientId>,
    live: Option<u64>,
    frames: VecDeque<Arc<Frame>>,
    not_ours: BTreeSet<ClientId>,
    /// Transactions until the tab is killed.
    killed_in: Option<u32>,
    /// Planted: shown, but not kept.
    unkept: Vec<(ClientId, Row)>,
    /// Planted: what is owed, where a killed tab forgets it.
    owed: BTreeSet<ClientId>,
}

/// A second tab knows who is signed in as of when it was opened.
#[derive(Default, Clone)]
pub struct SecondTab {
    pub client: Option<ClientId>,
    counter: BTreeMap<ClientId, u64>,
}

pub struct Phone {
    pub id: usize,
    pub db: Database,
    tab: Tab,
    pub second: Option<SecondTab>,
    first_counter: BTreeMap<ClientId, u64>,
    /// The phone's clock minus the server's.
    pub skew: Ms,
    pub bug: Option<Bug>,
    next_request: u64,
    /// What was put under another client, for who watches: operation, from, to.
    pub moved: Vec<(OpId, ClientId, ClientId)>,
}

/// The tab was killed in the middle.
struct Killed;

type Step = Result<(), Killed>;

const TIMEOUT_STEPS: u64 = 12;

impl Phone {
    pub fn new(id: usize, db: Database, bug: Option<Bug>) -> Self {
        let tab = Tab::default();
        Self {
            id,
            db,
            tab,
            second: None,
            first_counter: BTreeMap::new(),
            skew: 0,
            bug,
            next_request: 0,
            moved: Vec::new(),
        }
    }

    fn has(&self, bug: Bug) -> bool {
        self.bug == Some(bug)
    }

    /// The page goes; the database stays.
    pub fn kill(&mut self) {
        self.tab = Tab::default();
        self.second = None;
        self.first_counter.clear();
    }

    pub fn kill_never(&mut self) {
        self.tab.killed_in = None;
    }

    /// The page goes at the so-manyth transaction from now.
    pub fn kill_in(&mut self, transactions: u32) {
        self.tab.killed_in = Some(transactions);
    }

    pub fn open_second(&mut self) {
        self.second = Some(SecondTab { client: self.db.who().client, counter: BTreeMap::new() });
    }

    /// Another database takes the place of this one: rolled back, or evicted.
    pub fn replace_db(&mut self, db: Database) {
        self.kill();
        self.db = db;
    }

    pub fn switch_person(&mut self) {
        self.kill();
        self.db.active = (self.db.active + 1) % self.db.accounts.len();
    }

    pub fn listens_as(&self) -> Option<u64> {
        self.tab.live
    }

    pub fn drop_live(&mut self) {
        self.tab.live = None;
    }

    pub fn epoch(&self) -> String {
        self.db.position.as_ref().map_or_else(|| self.db.epoch.clone(), |at| at.epoch.clone())
    }

    /// Begins a transaction, unless the tab is killed first.
    fn begin(&mut self) -> Step {
        if let Some(left) = &mut self.tab.killed_in {
            if *left == 0 {
                self.kill();
                return Err(Killed);
            }
            *left -= 1;
        }
        Ok(())
    }

    // Written down

    /// Keeps what a person did. None: the tab was killed before it was kept and shown. `fields` become the
    /// operation with its number.
    pub fn enqueue(&mut self, second: bool, id: OpId, mut op: Value, dice: &mut Dice) -> Option<PersonId> {
        let who = self.db.who().clone();
        let (mut client, session) = (who.client?, who.session?);
        if second {
            client = self.second.as_ref()?.client?;
        }
        self.begin().ok()?;
        let n = if self.has(Bug::TabCounters) {
            let last = self.db.counters.get(&client).copied().unwrap_or(0);
            let own = match &mut self.second {
                Some(tab) if second => &mut tab.counter,
                _ => &mut self.first_counter,
            };
            let next = own.entry(client).or_insert(last);
            *next += 1;
            *next
        } else {
            self.db.counters.get(&client).copied().unwrap_or(0) + 1
        };
        op["n"] = n.into();
        op["id"] = id.0.to_string().into();
        op["session"] = session.0.to_string().into();
        op["seen"] = self.db.position.as_ref().map_or(0, |at| at.cursor).into();
        if let Some(offset) = self.db.offset {
            op["offset"] = offset.into();
        }
        let row = Row { person: who.person, id, op, result: None };
        if self.has(Bug::LateWrite) && dice.chance(500) {
            self.tab.unkept.push((client, row));
        } else {
            self.db.outbox.insert((client, n), row);
        }
        let counter = self.db.counters.entry(client).or_insert(0);
        *counter = n.max(*counter);
        Some(who.person)
    }

    // The engine: one thing at a time

    /// What the engine does next: frames that wait, then a request.
    pub fn poll(&mut self, step: u64, now: Ms, dice: &mut Dice) -> Option<(u64, Ask)> {
        for (client, row) in std::mem::take(&mut self.tab.unkept) {
            let n = row.op["n"].as_u64().unwrap_or(0);
            self.db.outbox.insert((client, n), row);
        }
        if self.tab.busy.as_ref().is_some_and(|busy| step < busy.since + TIMEOUT_STEPS) {
            return None;
        }
        if self.tab.busy.take().is_some() {
            // No answer came. What comes late is nobody's.
            self.tab.shadow = None;
            self.tab.live = None;
        }
        self.take_frames().ok()?;
        let (what, ask) = self.next(now, dice)?;
        self.next_request += 1;
        let id = (self.id as u64) << 32 | self.next_request;
        self.tab.busy = Some(Busy { id, since: step, what });
        Some((id, ask))
    }

    fn next(&mut self, now: Ms, dice: &mut Dice) -> Option<(Doing, Ask)> {
        let who = self.db.who().clone();
        let (Some(session), Some(client)) = (who.session, who.client) else {
            if who.gone {
                return None;
            }
            let (person, client, browser) = (who.person, who.client, self.db.browser);
            return Some((Doing::SignIn, Ask::SignIn { person, client, browser }));
        };
        if let Some(client) = self.tab.to_bind.take() {
            return Some((Doing::BindAgain(client), Ask::Bind { session, client }));
        }
        if let Some((old, also_from)) = self.tab.to_fork.take() {
            let new = ClientId(dice.uuid());
            return Some((Doing::Bind { old, new, also_from }, Ask::Bind { session, client: new }));
        }
        if self.tab.shadow.is_some() {
            return Some(self.ask_pull(session, client));
        }
        if self.db.position.is_some()
            && let Some(owed) =
                self.db.owed.iter().chain(&self.tab.owed).find(|c| !self.tab.not_ours.contains(c)).copied()
        {
            let (_, ask) = self.ask_pull(session, owed);
            return Some((Doing::Owed(owed), ask));
        }
        if let Some(push) = self.next_push(session, now, dice) {
            return Some(push);
        }
        // A channel is opened from where a pull has just come to.
        if self.tab.wants_pull || self.db.position.is_none() || self.tab.live.is_none() && !self.tab.pulled {
            return Some(self.ask_pull(session, client));
        }
        let waits = self.db.outbox.values().any(|row| row.result.is_some());
        if waits && dice.chance(200) {
            return Some(self.ask_pull(session, client));
        }
        self.tab.live.is_none().then_some((Doing::Live, Ask::Live { session }))
    }

    fn ask_pull(&mut self, session: SessionId, client: ClientId) -> (Doing, Ask) {
        let shadow = self.tab.shadow.take().unwrap_or_else(|| self.shadow());
        let Position { epoch, cursor: after, hash } = shadow.at.clone();
        let beside = shadow.beside.clone();
        self.tab.shadow = Some(shadow);
        (Doing::Pull(client), Ask::Pull { epoch, session, after, hash, limit: 6, client, beside })
    }

    fn shadow(&self) -> Shadow {
        let start = || Position { epoch: self.db.epoch.clone(), cursor: 0, hash: String::new() };
        let at = self.db.position.clone().unwrap_or_else(start);
        Shadow { at, beside: None, docs: BTreeMap::new(), replace: self.db.position.is_none() }
    }

    fn next_push(&self, session: SessionId, now: Ms, dice: &mut Dice) -> Option<(Doing, Ask)> {
        let unsent = |row: &&Row| row.result.is_none();
        let waiting = self
            .db
            .outbox
            .iter()
            .filter(|((client, _), row)| unsent(row) && !self.tab.not_ours.contains(client));
        // The oldest first, by the time it was made.
        let made = |row: &Row| row.op["device_at"].as_i64().unwrap_or(0);
        let client = waiting.min_by_key(|((client, n), row)| (made(row), *client, *n))?.0.0;
        let most = 1 + dice.below(5);
        let mine = self.db.outbox.range((client, 0)..=(client, u64::MAX)).filter(|(_, row)| unsent(row));
        let (sent, ops) = mine.take(most).map(|((_, n), row)| (*n, row.op.clone())).unzip();
        let device_now = now + self.skew;
        let ask = Ask::Push { epoch: self.epoch(), session, client, device_now, ops };
        Some((Doing::Push { client, sent }, ask))
    }

    /// An answer; one that nobody waits for any more does nothing.
    pub fn hear(&mut self, id: u64, answer: &Answer, now: Ms) {
        let Some(busy) = self.tab.busy.take_if(|busy| busy.id == id) else { return };
        let _killed = self.take(busy.what, answer, now);
    }

    fn take(&mut self, what: Doing, answer: &Answer, now: Ms) -> Step {
        if let Answer::Failed(failure) = answer {
            return self.failed(what, failure);
        }
        match (what, answer) {
            (Doing::SignIn, Answer::SignedIn { session, client, epoch }) => {
                self.begin()?;
                let active = self.db.active;
                let account = &mut self.db.accounts[active];
                (account.session, account.client) = (Some(*session), Some(*client));
                self.db.epoch = epoch.clone();
            }
            (Doing::Push { client, .. }, Answer::Pushed { now: server, results }) => {
                self.begin()?;
                self.db.offset = Some(server - (now + self.skew));
                self.settle(client, results);
            }
            (Doing::Pull(client), Answer::Page(page)) => self.take_page(page, client)?,
            (Doing::Owed(client), Answer::Page(page)) => {
                self.take_page(page, client)?;
                if self.tab.shadow.is_none() {
                    self.offer(client, page.last_n + 1)?;
                }
            }
            (Doing::Bind { old, new, also_from }, Answer::Bound) => {
                self.begin()?;
                self.renumber(old, new, also_from);
                // Who is signed in stands in a row of its own.
                if self.db.who().client == Some(old) {
                    self.begin()?;
                    let active = self.db.active;
                    self.db.accounts[active].client = Some(new);
                }
            }
            (Doing::Live, Answer::LiveOpen { head }) => {
                (self.tab.live, self.tab.pulled) = (Some(self.next_request), false);
                self.tab.wants_pull |= self.db.position.as_ref().is_none_or(|at| at.cursor < *head);
            }
            _ => {}
        }
        Ok(())
    }

    fn failed(&mut self, what: Doing, failure: &Failure) -> Step {
        match (what, failure) {
            (Doing::SignIn, Failure::Gone) => {
                self.begin()?;
                let active = self.db.active;
                self.db.accounts[active].gone = true;
            }
            (_, Failure::SignIn) => {
                self.begin()?;
                let active = self.db.active;
                self.db.accounts[active].session = None;
                self.tab = Tab::default();
            }
            (Doing::Pull(_) | Doing::Owed(_), Failure::EpochChanged { epoch }) => {
                // A fresh copy, in shadow; what is there stays until it is whole.
                let at = Position { epoch: epoch.clone(), cursor: 0, hash: String::new() };
                self.tab.shadow = Some(Shadow { at, beside: None, docs: BTreeMap::new(), replace: true });
            }
            (Doing::Push { .. }, Failure::EpochChanged { .. }) => {
                // Nothing can be sent before the new history is known: a pull is next.
                self.tab.shadow = Some(self.shadow());
            }
            (Doing::Push { client, sent }, Failure::Gap { expected }) => {
                if self.has(Bug::GapRenumbered) {
                    self.begin()?;
                    let rows: Vec<Row> =
                        sent.iter().filter_map(|n| self.db.outbox.remove(&(client, *n))).collect();
                    for (row, n) in rows.into_iter().zip(*expected..) {
                        let op = renumbered(row.op, n);
                        self.db.outbox.insert((client, n), Row { op, ..row });
                    }
                    return Ok(());
                }
                self.offer(client, *expected)?;
            }
            (Doing::Push { client, sent }, Failure::Forked) => {
                if self.has(Bug::ForkDropped) {
                    self.begin()?;
                    self.db.outbox.remove(&(client, sent[0]));
                    return Ok(());
                }
                self.fork(client, None);
            }
            (Doing::Push { client, .. }, Failure::NotYours) => {
                if self.is_mine(client) && !self.has(Bug::UnknownClientStuck) {
                    self.tab.to_bind = Some(client);
                } else {
                    // It waits for its person.
                    self.tab.not_ours.insert(client);
                }
            }
            (Doing::BindAgain(client), Failure::ClientTaken) => self.fork(client, None),
            (Doing::Bind { old, also_from, .. }, _) => self.tab.to_fork = Some((old, also_from)),
            (Doing::Live, _) => (self.tab.live, self.tab.pulled) = (None, false),
            _ => self.tab.shadow = None,
        }
        Ok(())
    }

    fn is_mine(&self, client: ClientId) -> bool {
        let me = self.db.who().person;
        let mut rows = self.db.outbox.iter().chain(&self.db.journal);
        rows.any(|((c, _), row)| *c == client && row.person == me)
    }

    /// A new client is bound to who asks for it: another person's operations wait for that person.
    fn fork(&mut self, client: ClientId, also_from: Option<u64>) {
        if self.is_mine(client) || self.has(Bug::ForkForOthers) {
            self.tab.to_fork = Some((client, also_from));
        } else {
            self.tab.not_ours.insert(client);
        }
    }

    // Transactions

    /// Keeps verdicts. A refused operation leaves the outbox; an applied one stays until documents show it.
    fn settle(&mut self, client: ClientId, results: &[Told]) {
        for result in results {
            let at = (client, result.n);
            let Some(row) = self.db.outbox.get_mut(&at) else { continue };
            let refused = result.verdict == Verdict::Refused;
            if refused && self.bug == Some(Bug::QueueStuck) {
                break;
            }
            row.result = Some(result.clone());
            if refused {
                self.db.tray.insert(row.id);
            }
            if self.bug != Some(Bug::NoJournal) {
                self.db.journal.insert(at, row.clone());
            }
            if refused || self.bug == Some(Bug::RemovedEarly) {
                self.db.outbox.remove(&at);
            }
        }
    }

    /// Puts acknowledged operations from `from` on back into the outbox; if one is missing, all that is
    /// left goes under a new client.
    fn offer(&mut self, client: ClientId, from: u64) -> Step {
        self.begin()?;
        let all = (client, from)..=(client, u64::MAX);
        let waits = |row: &Row| row.result.is_none();
        let end = self.db.outbox.range(all.clone()).find(|(_, row)| waits(row)).map(|((_, n), _)| *n);
        let kept: Vec<(u64, Row)> = self
            .db
            .journal
            .range(all)
            .filter(|((_, n), _)| end.is_none_or(|end| *n < end))
            .map(|((_, n), row)| (*n, row.clone()))
            .collect();
        let in_line = kept.iter().zip(from..).all(|((n, _), expected)| *n == expected);
        let whole = in_line && end.is_none_or(|end| kept.len() as u64 == end - from);
        if whole {
            for (n, row) in kept {
                self.db.outbox.insert((client, n), Row { result: None, ..row });
            }
            self.db.owed.remove(&client);
            self.tab.owed.remove(&client);
        } else {
            self.fork(client, Some(from));
        }
        Ok(())
    }

    /// Moves what is unsent of one client under a new one, numbered from 1, oldest first.
    fn renumber(&mut self, old: ClientId, new: ClientId, also_from: Option<u64>) {
        let mine = (old, 0)..=(old, u64::MAX);
        let mut moved: Vec<Row> = Vec::new();
        if let Some(from) = also_from {
            let again = self.db.journal.range((old, from)..=(old, u64::MAX));
            let again: Vec<_> = again.map(|(at, row)| (*at, row.clone())).collect();
            for (at, row) in again {
                if self.bug != Some(Bug::JournalTwice) {
                    self.db.journal.remove(&at);
                }
                self.db.outbox.remove(&at);
                moved.push(row);
            }
        }
        let unsent: Vec<_> =
            self.db.outbox.range(mine).filter(|(_, row)| row.result.is_none()).map(|(at, _)| *at).collect();
        moved.extend(unsent.iter().filter_map(|at| self.db.outbox.remove(at)));
        if self.bug != Some(Bug::JournalTwice) {
            // What was offered again stood in the journal too: it must not be offered under both.
            unsent.iter().for_each(|at| drop(self.db.journal.remove(at)));
        }
        self.moved.extend(moved.iter().map(|row| (row.id, old, new)));
        let last = moved.len() as u64;
        for (row, n) in moved.into_iter().zip(1..) {
            let op = renumbered(row.op, n);
            self.db.outbox.insert((new, n), Row { op, result: None, ..row });
        }
        self.db.counters.insert(new, last);
        self.db.owed.remove(&old);
        self.tab.owed.remove(&old);
    }

    fn take_page(&mut self, page: &Arc<Page>, client: ClientId) -> Step {
        let Some(mut shadow) = self.tab.shadow.take() else { return Ok(()) };
        shadow.beside = Some(page.head.clone());
        shadow.at = Position { epoch: page.epoch.clone(), cursor: page.to, hash: page.hash.clone() };
        if self.has(Bug::PartialPage) {
            self.commit(shadow.at.clone(), &page.docs, shadow.replace, None)?;
            shadow.replace = false;
            if page.more {
                self.tab.shadow = Some(shadow);
            }
            return Ok(());
        }
        shadow.docs.extend(page.docs.iter().map(|line| (line.key.clone(), line.clone())));
        if page.more {
            self.tab.shadow = Some(shadow);
            return Ok(());
        }
        let docs: Vec<Line> = shadow.docs.into_values().collect();
        (self.tab.wants_pull, self.tab.pulled) = (false, true);
        // The server has less of this client than it acknowledged, whatever its history is called.
        let acked = self.db.journal.range((client, 0)..=(client, u64::MAX)).next_back();
        let ignored = matches!(
            self.bug,
            Some(Bug::LastNIgnored | Bug::NoEpoch | Bug::OfferForgotten | Bug::OfferOwnOnly)
        );
        let less = acked.is_some_and(|((_, n), _)| *n > page.last_n) && !ignored;
        self.commit(shadow.at, &docs, shadow.replace, less.then_some(client))
    }

    /// Documents, cursor, and the operations those documents now contain: one transaction.
    fn commit(&mut self, at: Position, docs: &[Line], replace: bool, less: Option<ClientId>) -> Step {
        let lacks =
            |line: &&Line| matches!(line.what, Change::Patch(_)) && !self.db.docs.contains_key(&line.key);
        if docs.iter().any(|line| lacks(&line)) {
            // The copy is not what its cursor says: all of it anew.
            let at = Position { epoch: at.epoch, cursor: 0, hash: String::new() };
            self.tab.shadow = Some(Shadow { at, beside: None, docs: BTreeMap::new(), replace: true });
            return Ok(());
        }
        self.begin()?;
        self.db.owed.extend(less);
        if replace {
            self.db.docs.clear();
            self.db.fingerprint = 0;
            let clients = self.db.journal.keys().map(|(client, _)| *client);
            let own = self.db.who().client;
            let only_own = self.bug == Some(Bug::OfferOwnOnly);
            let owed: Vec<ClientId> = clients.filter(|c| !only_own || Some(*c) == own).collect();
            let forgets = self.bug == Some(Bug::OfferForgotten);
            if forgets { &mut self.tab.owed } else { &mut self.db.owed }.extend(owed);
        }
        for Line { key, seq, what } in docs {
            match what {
                Change::Gone => self.db.take_away(key),
                Change::Body(body) => self.db.put(key, *seq, body.clone()),
                Change::Patch(patch) => {
                    let Some(before) = self.db.docs.get(key) else { continue };
                    let mut body = (*before.body).clone();
                    merge(&mut body, patch, self.bug == Some(Bug::WrongMerge));
                    self.db.put(key, *seq, Arc::new(body));
                }
            }
        }
        self.db.outbox.retain(|_, row| row.result.as_ref().is_none_or(|result| result.seq > at.cursor));
        self.db.position = Some(at);
        Ok(())
    }

    // Live

    pub fn hear_frame(&mut self, live: u64, frame: &Arc<Frame>) {
        if self.tab.live == Some(live) {
            self.tab.frames.push_back(frame.clone());
        }
    }

    fn take_frames(&mut self) -> Step {
        while let Some(frame) = self.tab.frames.pop_front() {
            let Some(at) = &self.db.position else { return Ok(()) };
            if self.tab.shadow.is_some() {
                continue;
            }
            let same = frame.was == at.hash || self.has(Bug::FrameByNumber);
            let here = frame.epoch == at.epoch && frame.from == at.cursor && same;
            if !here && !self.has(Bug::FrameAnywhere) {
                // Lost, doubled or late: the pull knows. What lies behind is harmless.
                self.tab.wants_pull |= frame.epoch != at.epoch || frame.to > at.cursor || !same;
                continue;
            }
            let next = Position { epoch: at.epoch.clone(), cursor: frame.to, hash: frame.hash.clone() };
            self.commit(next, &frame.docs, false, None)?;
        }
        Ok(())
    }

    /// Nothing left that this phone could do with a good network.
    pub fn is_quiet(&self) -> bool {
        let tab = &self.tab;
        let idle =
            tab.busy.is_none() && tab.shadow.is_none() && tab.frames.is_empty() && tab.to_fork.is_none();
        idle && !tab.wants_pull && tab.to_bind.is_none() && tab.unkept.is_empty()
    }

    pub fn waits_for_person(&self, client: ClientId) -> bool {
        self.tab.not_ours.contains(&client)
    }

    pub fn want_pull(&mut self) {
        self.tab.wants_pull = true;
    }
}

fn renumbered(mut op: Value, n: u64) -> Value {
    op["n"] = n.into();
    op
}

/// RFC 7396.
fn merge(onto: &mut Value, patch: &Value, nulls_stay: bool) {
    let Value::Object(changes) = patch else {
        *onto = patch.clone();
        return;
    };
    if !onto.is_object() {
        *onto = Value::Object(serde_json::Map::new());
    }
    let Value::Object(fields) = onto else { return };
    for (name, change) in changes {
        if change.is_null() && !nulls_stay {
            fields.remove(name);
        } else {
            merge(fields.entry(name.clone()).or_insert(Value::Null), change, nulls_stay);
        }
    }
}
