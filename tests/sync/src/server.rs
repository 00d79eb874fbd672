//! The real server of one shop over a simulated disk, and the front where requests come in.
//!
//! The front does what the HTTP layer does (who may ask, which error is which answer) and is where the
//! server's planted bugs stand. Invariant: without a planted bug it adds nothing and hides nothing.

use std::collections::BTreeMap;
use std::sync::Arc;

use domain::ids::{ClientId, PersonId, SessionId};
use domain::state::State;
use domain::stored::{Act, Verdict};
use serde_json::Value;
use sync::clock::Clock;
use sync::control::Record;
use sync::pull::{PullError, Query, pull};
use sync::shop::{OpenError, OwnOp, Shop};
use sync::writer::{OpResult, Push, PushError};
use sync::{chain_word, epoch_word};
use tokio::sync::broadcast::Receiver;

use crate::bug::Bug;
use crate::dice::Dice;
use crate::disk::{Disk, Files};
use crate::wire::{Answer, Ask, Change, Failure, Frame, Line, Page, Told};

pub struct Server {
    pub disk: Arc<Disk>,
    pub shop: Arc<Shop>,
    frames: Receiver<Arc<sync::shop::Frame>>,
    pub bug: Option<Bug>,
    /// What `NoEpoch` says for ever.
    first_epoch: String,
}

impl Server {
    pub fn open(files: Files, clock: Clock, bug: Option<Bug>, first_epoch: &str) -> Result<Self, OpenError> {
        let lazy = matches!(bug, Some(Bug::AckBeforeSync | Bug::ServeBeforeSync));
        let disk = Arc::new(Disk::new(files, lazy));
        let shop = Shop::open(disk.clone(), clock)?;
        let frames = shop.frames();
        Ok(Self { disk, shop, frames, bug, first_epoch: first_epoch.to_owned() })
    }

    fn has(&self, bug: Bug) -> bool {
        self.bug == Some(bug)
    }

    pub fn epoch(&self) -> String {
        if self.has(Bug::NoEpoch) {
            return self.first_epoch.clone();
        }
        epoch_word(store::Meta::epoch(&*self.disk))
    }

    pub fn state(&self) -> State {
        self.shop.view().state.clone()
    }

    pub fn own(&self, acts: Vec<Act>, dice: &mut Dice) -> Vec<OpResult> {
        let own = |act| OwnOp { id: domain::ids::OpId(dice.uuid()), ..OwnOp::system(act) };
        self.shop.own_now(acts.into_iter().map(own).collect()).map_or_else(|_| Vec::new(), |done| done.ops)
    }

    /// Frames that went out since the last look, for every listener the same.
    pub fn frames(&mut self) -> Vec<Arc<Frame>> {
        let epoch = self.epoch();
        let mut all = Vec::new();
        while let Ok(frame) = self.frames.try_recv() {
            let lines: Value = serde_json::from_str(&frame.docs).unwrap_or_default();
            let docs = lines.as_array().into_iter().flatten().map(|line| {
                let (key, seq) =
                    (line["key"].as_str().unwrap_or_default(), line["seq"].as_u64().unwrap_or(0));
                let what = match (line.get("patch"), line.get("body")) {
                    (Some(patch), _) => Change::Patch(Arc::new(patch.clone())),
                    (None, Some(body)) => Change::Body(Arc::new(body.clone())),
                    (None, None) => Change::Gone,
                };
                Line { key: key.to_owned(), seq, what }
            });
            let (from, was) = (frame.from, chain_word(&frame.was));
            let (to, hash) = (frame.to, chain_word(&frame.hash));
            all.push(Arc::new(Frame { epoch: epoch.clone(), from, was, to, hash, docs: docs.collect() }));
        }
        all
    }

    fn who(&self, session: &SessionId) -> Option<PersonId> {
        let access = self.shop.control.read();
        access.sessions.get(session).filter(|s| s.ended.is_none()).map(|s| s.person)
    }

    pub fn answer(&self, ask: Ask, dice: &mut Dice) -> Answer {
        let answer = match ask {
            Ask::SignIn { person, client, browser } => self.sign_in(person, client, browser, dice),
            Ask::Bind { session, client } => self.bind(&session, client),
            Ask::Live { session } => match self.who(&session) {
                Some(_) => Ok(Answer::LiveOpen { head: self.shop.view().head.seq }),
                None => Err(Failure::SignIn),
            },
            Ask::Pull { epoch, session, after, hash, limit, client, beside } => {
                let query = Query {
                    epoch: Some(epoch),
                    after,
                    hash: Some(hash),
                    head: beside,
                    limit: Some(limit),
                    client: Some(client),
                };
                self.pull(&session, query)
            }
            Ask::Push { epoch, session, client, device_now, ops } => {
                let person = self.who(&session).ok_or(Failure::SignIn);
                person.and_then(|caller| self.push(caller, &epoch, &session, client, device_now, ops))
            }
        };
        answer.unwrap_or_else(Answer::Failed)
    }

    /// What signing in with an invitation or a password comes to.
    fn sign_in(
        &self,
        person: PersonId,
        client: Option<ClientId>,
        browser: uuid::Uuid,
        dice: &mut Dice,
    ) -> Result<Answer, Failure> {
        let here = self.shop.view().state.people.get(&person).is_some_and(|p| !p.retired);
        if !here {
            return Err(Failure::Gone);
        }
        let (session, fresh) = (SessionId(dice.uuid()), ClientId(dice.uuid()));
        let at = self.shop.clock.now();
        let client = self
            .shop
            .control
            .write_if(|access| {
                let client = client.unwrap_or(fresh);
                let client = if access.clients.get(&client).is_some_and(|owner| *owner != person) {
                    fresh
                } else {
                    client
                };
                let mut records = Vec::new();
                if !access.clients.contains_key(&client) {
                    records.push(Record::Bound { client, person, browser: Some(browser), at: Some(at) });
                }
                let device = String::from("phone");
                records.push(Record::SignedIn {
                    session,
                    person,
                    device,
                    at,
                    token: None,
                    browser: Some(browser),
                    passkey: None,
                });
                Ok::<_, store::Error>((client, records))
            })
            .map_err(|_| Failure::Later)?;
        Ok(Answer::SignedIn { session, client, epoch: self.epoch() })
    }

    fn bind(&self, session: &SessionId, client: ClientId) -> Result<Answer, Failure> {
        let person = self.who(session).ok_or(Failure::SignIn)?;
        let free = self.shop.control.write_if(|access| {
            let (free, records) = match access.clients.get(&client) {
                Some(owner) => (*owner == person, Vec::new()),
                None => (true, vec![Record::Bound { client, person, browser: None, at: None }]),
            };
            Ok::<_, store::Error>((free, records))
        });
        match free {
            Ok(true) => Ok(Answer::Bound),
            Ok(false) => Err(Failure::ClientTaken),
            Err(_) => Err(Failure::Later),
        }
    }

    fn changed(&self) -> Failure {
        Failure::EpochChanged { epoch: self.epoch() }
    }

    fn pull(&self, session: &SessionId, mut query: Query) -> Result<Answer, Failure> {
        self.who(session).ok_or(Failure::SignIn)?;
        if self.has(Bug::PagesOfTwoHistories) {
            query.head = None;
        }
        if self.has(Bug::NoEpoch) {
            query.epoch = None;
        }
        if self.has(Bug::NoChainWord) {
            query.hash = None;
        }
        let page = pull(&self.shop, &query).map_err(|error| match error {
            PullError::EpochChanged => self.changed(),
            PullError::Store(_) => Failure::Later,
        })?;
        let docs = page.docs.into_iter().map(|doc| {
            let body = doc.body.and_then(|body| serde_json::from_slice(&body).ok());
            Line {
                key: doc.key,
                seq: doc.seq,
                what: body.map_or(Change::Gone, |b| Change::Body(Arc::new(b))),
            }
        });
        Ok(Answer::Page(Arc::new(Page {
            epoch: self.epoch(),
            from: page.from,
            to: page.to,
            hash: page.hash,
            more: page.more,
            docs: docs.collect(),
            last_n: page.last_n.unwrap_or(0),
            head: page.head,
            now: self.shop.clock.now(),
        })))
    }

    fn push(
        &self,
        caller: PersonId,
        epoch: &str,
        session: &SessionId,
        client: ClientId,
        device_now: i64,
        mut ops: Vec<Value>,
    ) -> Result<Answer, Failure> {
        let real = epoch_word(store::Meta::epoch(&*self.disk));
        let said = if self.has(Bug::NoEpoch) { &real } else { epoch };
        let mut from = self.shop.admit(said, session, &client).map_err(|error| self.failure(&error))?;
        if self.has(Bug::OtherPersonsClient) {
            from.person = caller;
        }
        if self.has(Bug::PreconditionIgnored) {
            for op in &mut ops {
                op.as_object_mut().map(|op| op.remove("expect"));
            }
        }
        let asked: Vec<u64> = ops.iter().map(|op| op["n"].as_u64().unwrap_or(0)).collect();
        if self.has(Bug::NoDedupe) {
            let last = self.shop.view().state.clients.get(&client).map_or(0, |mark| mark.last_n);
            if asked.first().is_some_and(|n| *n <= last) {
                ops.iter_mut().zip(last + 1..).for_each(|(op, n)| op["n"] = n.into());
            }
        }
        let sent = ops.clone();
        let pushed = self.shop.push_now(Push { from, device_now, ops });
        let mut results = match pushed {
            // As to an app that does not know what is held: its own person sends it.
            Ok(results) if results.held.is_some() && results.ops.is_empty() => return Err(Failure::NotYours),
            Ok(results) => results.ops.iter().map(told).collect::<Vec<_>>(),
            Err(PushError::Gap { .. }) if self.has(Bug::GapIgnored) => self.all_well(&asked),
            Err(PushError::Forked) if self.has(Bug::ForkIgnored) => self.all_well(&asked),
            Err(error) => return Err(self.failure(&error)),
        };
        if self.has(Bug::BatchAllOrError) && results.len() < sent.len() {
            // The error itself, as the next push would meet it.
            let rest = sent[results.len()..].to_vec();
            if let Err(error) = self.shop.push_now(Push { from, device_now, ops: rest }) {
                return Err(self.failure(&error));
            }
        }
        if self.has(Bug::NoDedupe) {
            results.iter_mut().zip(&asked).for_each(|(result, n)| result.n = *n);
        }
        if self.has(Bug::FactRefused) {
            for result in results.iter_mut().filter(|r| r.excepted) {
                (result.verdict, result.code) = (Verdict::Refused, Some("not_ready".to_owned()));
            }
        }
        let lost = |told: &Told| self.disk.durable_at(told.seq).is_none();
        if self.has(Bug::ServeBeforeSync) && results.iter().any(lost) {
            return Err(Failure::Later);
        }
        Ok(Answer::Pushed { now: self.shop.clock.now(), results })
    }

    fn all_well(&self, asked: &[u64]) -> Vec<Told> {
        let seq = self.shop.view().head.seq;
        let well = |n: &u64| Told { n: *n, seq, verdict: Verdict::Noop, code: None, excepted: false };
        asked.iter().map(well).collect()
    }

    fn failure(&self, error: &PushError) -> Failure {
        match error {
            PushError::Gap { expected } => Failure::Gap { expected: *expected },
            PushError::Forked => Failure::Forked,
            PushError::EpochChanged => self.changed(),
            PushError::ClientUnknown | PushError::Held { .. } => Failure::NotYours,
            PushError::Malformed(_)
            | PushError::ReadOnly(_)
            | PushError::Unwritable(_)
            | PushError::Stopped => Failure::Later,
        }
    }

    /// A person leaves: the act, and the end of every sign-in.
    pub fn retire(&self, person: PersonId, dice: &mut Dice) {
        let Some(now) = self.shop.view().state.people.get(&person).cloned() else { return };
        let person_gone = domain::stored::Person { retired: true, ..(*now).clone() };
        let done = self.own(vec![Act::SetPerson { person: person_gone }], dice);
        if done.first().is_none_or(|result| result.verdict == Verdict::Refused) {
            return;
        }
        let at = self.shop.clock.now();
        let ended = self.shop.control.write_if(|access| {
            let mine = access.sessions.iter().filter(|(_, s)| s.person == person && s.ended.is_none());
            let records = mine
                .map(|(session, _)| Record::SignedOut { session: *session, at, revoked: false })
                .collect();
            Ok::<_, store::Error>(((), records))
        });
        // A disk that fails here fails for everything that follows too.
        let _ = ended;
    }

    /// Sessions that are known, and since when they are over.
    pub fn sessions(&self) -> BTreeMap<SessionId, Option<i64>> {
        self.shop.control.read().sessions.iter().map(|(id, session)| (*id, session.ended)).collect()
    }
}

fn told(result: &OpResult) -> Told {
    Told {
        n: result.n,
        seq: result.seq,
        verdict: result.verdict,
        code: result.code.clone(),
        excepted: !result.exceptions.is_empty(),
    }
}
