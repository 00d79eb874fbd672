//! The one writer of a shop: decides in order on the latest decided state, appends once, syncs, then answers.
//!
//! Invariants: no answer leaves before the batch is durable; a failed sync drops what was decided and
//! ends writing; one bad operation never fails its neighbours; `(client, n)` counts once.
//! Must not know: HTTP, sign-in tokens, rules (they are `domain`'s).

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;
use std::sync::mpsc;
use std::thread::JoinHandle;

use domain::Ms;
use domain::cold::COLD_AFTER;
use domain::decide::{Clocks, Context, Refusal, best_time, decide};
use domain::fold;
use domain::ids::*;
use domain::state::{Key, State};
use domain::stored::*;
use domain::text;
use jiff::tz::TimeZone;
use serde_json::Value;
use sha2::{Digest, Sha256};
use store::{Head, Store};
use tokio::sync::{broadcast, oneshot, watch};

use crate::canonical;
use crate::change;
use crate::clock::Clock;
use crate::control::{Control, Record, Texts, keep_text};
use crate::delivered::{Standing, decide_brought};
use crate::erase;
use crate::index::{Gathered, Index};
use crate::limits::BATCH_OPS_MAX;
use crate::shop::{Frame, OWN_CLIENT, OwnOp, View, read_entry, zone_of};
use crate::zones;

/// Operations of one client, as they arrived.
pub struct Push {
    /// Whose they are.
    pub from: Sender,
    /// The phone's clock when it sent them, UTC ms: tells how far it is off.
    pub device_now: Ms,
    /// The operations, in the order of their counters.
    pub ops: Vec<Value>,
}

/// Whose operations are pushed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sender {
    /// The client that made them.
    pub client: ClientId,
    /// Its person: who acted.
    pub person: PersonId,
    /// Whether this person's own sign-in brings them; else it is somebody's on the same browser.
    pub own: bool,
}

/// What became of one operation.
#[derive(Debug, Clone)]
pub struct OpResult {
    /// Its counter.
    pub n: u64,
    /// The log entry that says so.
    pub seq: u64,
    /// What became of it.
    pub verdict: Verdict,
    /// Of a refusal: the stable word for the reason.
    pub code: Option<String>,
    /// Of a refusal: an English sentence that says what to do; none if it was decided before.
    pub message: Option<String>,
    /// Rules that it broke.
    pub exceptions: Vec<ExceptionKind>,
    /// Who was first, for the loser of a wish.
    pub other: Option<Other>,
}

/// The answer to a push, sent when it is durable.
#[derive(Debug, Clone)]
pub struct Results {
    /// The last entry of the log.
    pub head: u64,
    /// One result for each operation that was decided, in order.
    pub ops: Vec<OpResult>,
    /// The counter from which on nothing was decided, because it waits for its own person; none: everything
    /// was.
    pub held: Option<u64>,
}

/// Why nothing of a push was decided.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PushError {
    /// Its first counter is not the next one.
    #[error("Operation {expected} of this phone must come first.")]
    Gap {
        /// The counter that has to come next.
        expected: u64,
    },
    /// The counter was used before, for something else.
    #[error("Another phone has used the same numbers; this one needs a new client id.")]
    Forked,
    /// The phone's copy is of another history.
    #[error("The shop's data was restored; take a fresh copy, then send again what is not in it.")]
    EpochChanged,
    /// The client is bound to nobody, or this sign-in may not bring its operations.
    #[error("This phone's number is not yours; sign in again.")]
    ClientUnknown,
    /// A person of a higher role has to bring it themselves.
    #[error("This waits until its own person is signed in on this device again.")]
    Held {
        /// The counter from which on everything waits.
        from_n: u64,
    },
    /// The envelope cannot be read; what was missed.
    #[error("An operation needs n, id, session and device_at: {0}.")]
    Malformed(String),
    /// The log takes no entries until the server is started again; why.
    #[error("The server can only be read now: {0}. Nothing was lost; keep what is not sent.")]
    ReadOnly(String),
    /// The entry could not be written as JSON; why.
    #[error(
        "The server could not write this down ({0}); nothing of it was done. Keep it, and update the server."
    )]
    Unwritable(String),
    /// The shop is closed or closing.
    #[error("The server is stopping; send again in a moment.")]
    Stopped,
}

type Reply = oneshot::Sender<Result<Results, PushError>>;

/// What the writer is asked to do.
pub enum Command {
    /// Operations of a client.
    Push {
        /// What arrived.
        push: Push,
        /// Where the answer goes, once durable.
        reply: Reply,
    },
    /// Acts of the server itself, all decided in one batch.
    Own {
        /// The acts, in order.
        ops: Vec<OwnOp>,
        /// Where the answer goes, once durable.
        reply: Reply,
    },
}

/// Where the writer shows what has become durable.
pub struct Shown {
    /// The view for readers.
    pub publish: watch::Sender<Arc<View>>,
    /// What changed, for the live channels.
    pub frames: broadcast::Sender<Arc<Frame>>,
    /// What changed, for the tables.
    pub index: Arc<Index>,
}

/// Starts the writer in a thread of its own. It ends when every sender of commands is dropped.
pub fn start(
    store: Arc<dyn Store>,
    control: Arc<Control>,
    clock: Clock,
    shown: Shown,
) -> (mpsc::Sender<Command>, JoinHandle<()>) {
    let (commands, inbox) = mpsc::channel();
    let view = shown.publish.borrow().clone();
    let mut writer = Writer {
        state: view.state.clone(),
        zone: view.zone.clone(),
        head: view.head,
        store,
        control,
        clock,
        shown,
        recent: VecDeque::new(),
        broken: None,
    };
    let thread = std::thread::Builder::new().name("shop-writer".into());
    let thread = thread.spawn(move || writer.run(&inbox)).expect("a thread for the writer");
    (commands, thread)
}

/// Server times of the latest entries, for "not before what the phone had seen".
const RECENT_MAX: usize = 100_000;

struct Writer {
    state: State,
    zone: TimeZone,
    head: Head,
    store: Arc<dyn Store>,
    control: Arc<Control>,
    clock: Clock,
    shown: Shown,
    recent: VecDeque<(u64, Ms)>,
    broken: Option<String>,
}

/// The verdicts of one push, and the counter from which on it waits.
type Pushed = (Vec<OpResult>, Option<u64>);

/// One batch on its way to the log.
#[derive(Default)]
struct Batch {
    bodies: Vec<Vec<u8>>,
    texts: Vec<Record>,
    gathered: Gathered,
    /// Verdicts of this batch, in case an operation comes twice in it.
    decided: BTreeMap<(ClientId, u64), (OpId, String, OpResult)>,
    replies: Vec<(Reply, Result<Pushed, PushError>)>,
    ops: usize,
    /// Somebody is erased by this batch.
    erases: bool,
    /// Pictures of people who were erased before the picture came.
    late: Vec<Photo>,
}

impl Writer {
    fn run(&mut self, inbox: &mpsc::Receiver<Command>) {
        while let Ok(first) = inbox.recv() {
            let mut batch = Batch::default();
            self.command(first, &mut batch);
            while batch.ops < BATCH_OPS_MAX
                && let Ok(next) = inbox.try_recv()
            {
                self.command(next, &mut batch);
            }
            self.commit(batch);
        }
        self.shown.index.end();
    }

    fn command(&mut self, command: Command, batch: &mut Batch) {
        let (reply, answer) = match command {
            Command::Push { push, reply } => (reply, self.push(push, batch)),
            Command::Own { ops, reply } => {
                let done: Result<Vec<_>, _> = ops.into_iter().map(|op| self.own(op, batch)).collect();
                (reply, done.map(|results| (results, None)))
            }
        };
        batch.replies.push((reply, answer));
    }

    fn push(&mut self, push: Push, batch: &mut Batch) -> Result<Pushed, PushError> {
        if let Some(why) = self.broken.clone().or_else(|| self.shown.index.broken()) {
            return Err(PushError::ReadOnly(why));
        }
        let now = self.clock.now();
        let mut results = Vec::with_capacity(push.ops.len());
        for raw in push.ops {
            match self.next(push.from, push.device_now, now, raw, batch) {
                Ok(result) => results.push(result),
                // Only the operations after it wait: a client's operations are decided in the order they were
                // made.
                Err(PushError::Held { from_n }) => return Ok((results, Some(from_n))),
                // What came before it is kept, and its phone must learn that, or it would send it again under
                // another client. The operation in the way stands first in its next push.
                Err(_) if !results.is_empty() => break,
                Err(error) => return Err(error),
            }
        }
        Ok((results, None))
    }

    fn next(
        &mut self,
        from: Sender,
        device_now: Ms,
        now: Ms,
        raw: Value,
        batch: &mut Batch,
    ) -> Result<OpResult, PushError> {
        let envelope = Envelope::read(&raw)?;
        let last = self.state.clients.get(&from.client).map_or(0, |mark| mark.last_n);
        if envelope.n <= last {
            return self.again(from.client, &envelope, batch);
        }
        if envelope.n != last + 1 {
            return Err(PushError::Gap { expected: last + 1 });
        }
        self.one(from, device_now, now, envelope, raw, batch)
    }

    /// The stored verdict of an operation that was decided before.
    fn again(&self, client: ClientId, envelope: &Envelope, batch: &Batch) -> Result<OpResult, PushError> {
        if let Some((id, digest, result)) = batch.decided.get(&(client, envelope.n)) {
            let same = *id == envelope.id && *digest == envelope.digest;
            return if same { Ok(result.clone()) } else { Err(PushError::Forked) };
        }
        let unreadable = |error: store::Error| PushError::ReadOnly(error.to_string());
        let tables = self.shown.index.tables(self.shown.publish.borrow().head.seq).map_err(unreadable)?;
        let seq = tables.verdict(&client.0.into_bytes(), envelope.n).map_err(unreadable)?;
        let seq = seq.ok_or(PushError::Forked)?;
        let stored = self.store.log().read(seq, 1).map_err(unreadable)?;
        let stored = stored.first().ok_or(PushError::Forked)?;
        let entry = read_entry(seq, &stored.body, &Texts::default());
        let entry = entry.map_err(|error| PushError::ReadOnly(error.to_string()))?;
        let same = entry.op_id == envelope.id && entry.digest == envelope.digest;
        if same { Ok(result_of(seq, &entry, None)) } else { Err(PushError::Forked) }
    }

    #[allow(clippy::too_many_arguments)] // the parts of one operation, gathered at one place
    fn one(
        &mut self,
        from: Sender,
        device_now: Ms,
        now: Ms,
        envelope: Envelope,
        raw: Value,
        batch: &mut Batch,
    ) -> Result<OpResult, PushError> {
        let Sender { client, person, own } = from;
        let clocks = Clocks {
            device_at: envelope.device_at,
            offset_then: envelope.offset,
            offset_now: now.saturating_sub(device_now),
            floor: self.floor(&client, person, &envelope, &raw),
            now,
        };
        let (at, uncertain) = best_time(clocks);
        let role = self.state.people.get(&person).map_or(Role::Technician, |p| p.role);
        let read = self.may_act(person, &envelope, at).and_then(|standing| {
            let op: Op = serde::Deserialize::deserialize(&raw).map_err(|error| cannot_read(&error))?;
            if op.v > OP_VERSION {
                return Err(newer());
            }
            zones::check(&op.act)?;
            Ok((op, standing))
        });
        let decision = match read {
            Ok((op, standing)) => {
                let context = Context { by: person, role, op: op.id, at, uncertain, now, zone: &self.zone };
                let decided = decide_brought(&self.state, &op, standing, own, &context);
                decided.ok_or(PushError::Held { from_n: envelope.n })?
            }
            Err(refusal) => Err(refusal),
        };
        self.record(client, person, envelope, raw, at, now, decision, batch)
    }

    /// The sign-in in which it was made must have been this person's, not a screen on the wall, and valid at
    /// that time. An unknown sign-in was lost when the server was set back to a backup: who delivers it is
    /// known.
    fn may_act(&self, person: PersonId, envelope: &Envelope, at: Ms) -> Result<Standing, Refusal> {
        let access = self.control.read();
        let Some(session) = access.sessions.get(&envelope.session) else { return Ok(Standing::Unknown) };
        let stood = session.ended.is_none_or(|ended| at <= ended);
        if session.person == person && !session.display && stood {
            return Ok(if session.revoked { Standing::FactsOnly } else { Standing::Good });
        }
        let code = domain::decide::Code::SignedOut;
        Err(Refusal::new(
            code,
            "This was done in a sign-in that was not valid then; sign in and do it again.",
        ))
    }

    fn own(&mut self, op: OwnOp, batch: &mut Batch) -> Result<OpResult, PushError> {
        if let Some(why) = self.broken.clone().or_else(|| self.shown.index.broken()) {
            return Err(PushError::ReadOnly(why));
        }
        let at = op.at.unwrap_or_else(|| self.clock.now());
        let n = self.state.clients.get(&OWN_CLIENT).map_or(0, |mark| mark.last_n) + 1;
        let raw = Op {
            n,
            id: op.id,
            session: SessionId(uuid::Uuid::nil()),
            v: 1,
            act: op.act.clone(),
            expect: Vec::new(),
            device_at: at,
            offset: None,
            seen: self.head.seq,
        };
        let raw = serde_json::to_value(raw).map_err(|error| PushError::Malformed(error.to_string()))?;
        let envelope = Envelope::read(&raw)?;
        let context =
            Context { by: op.by, role: op.role, op: op.id, at, uncertain: false, now: at, zone: &self.zone };
        let decision = zones::check(&op.act).and_then(|()| decide(&self.state, &op.act, &[], &context));
        self.record(OWN_CLIENT, op.by, envelope, raw, at, at, decision, batch)
    }

    fn floor(&self, client: &ClientId, person: PersonId, envelope: &Envelope, raw: &Value) -> Ms {
        let before = self.state.clients.get(client).map_or(0, |mark| mark.last_act_at);
        let seen = self.time_of(envelope.seen);
        let ends = matches!(raw.get("kind").and_then(Value::as_str), Some("pause" | "finish"));
        let began = || {
            let card = serde_json::from_value::<CardId>(raw.pointer("/args/card")?.clone()).ok()?;
            let spans = &self.state.cards.get(&card)?.spans;
            spans.iter().filter(|s| s.person == person && s.to.is_none()).map(|s| s.from).max()
        };
        before.max(seen).max(if ends { began().unwrap_or(0) } else { 0 })
    }

    fn time_of(&self, seq: u64) -> Ms {
        let first = self.recent.front().map_or(0, |(first, _)| *first);
        seq.checked_sub(first).and_then(|i| self.recent.get(i as usize)).map_or(0, |(_, at)| *at)
    }

    #[allow(clippy::too_many_arguments)] // the parts of one entry, gathered at one place
    fn record(
        &mut self,
        client: ClientId,
        by: PersonId,
        envelope: Envelope,
        raw: Value,
        act_at: Ms,
        now: Ms,
        decision: Result<Vec<Event>, Refusal>,
        batch: &mut Batch,
    ) -> Result<OpResult, PushError> {
        let (verdict, events, refusal) = match decision {
            Ok(events) if events.is_empty() && !keeps_empty(&raw) => (Verdict::Noop, events, None),
            Ok(events) => (Verdict::Applied, events, None),
            Err(refusal) => (Verdict::Refused, Vec::new(), Some(refusal)),
        };
        // Texts of refused operations are not kept: nobody reads them again, the phone has them, and they would
        // fill the log.
        let op = if refusal.is_some() { gist(&raw) } else { raw };
        let entry = Entry {
            v: 1,
            at: now,
            act_at,
            by,
            client,
            n: envelope.n,
            op_id: envelope.id,
            digest: envelope.digest.clone(),
            op,
            verdict,
            code: refusal.as_ref().map(|r| r.code.word().to_owned()),
            other: refusal.as_ref().and_then(|r| r.other.clone()),
            events,
        };
        let unwritable = |error: serde_json::Error| PushError::Unwritable(error.to_string());
        let entry = self.without_erased(entry).map_err(unwritable)?;
        // Checked before anything of it counts: what cannot be written has not happened.
        let (body, texts) = written(&entry).map_err(unwritable)?;
        batch.bodies.push(body);
        batch.texts.extend(texts);
        batch.texts.extend(self.removed(&entry));
        for event in &entry.events {
            match event {
                Event::PersonErased { person, at } => {
                    batch.texts.push(Record::Erased { person: *person, at: *at });
                    batch.erases = true;
                }
                Event::PhotoNoted { photo } if photo.erased => batch.late.push(photo.clone()),
                _ => {}
            }
        }
        self.head.seq += 1;
        let seq = self.head.seq;
        let changed = fold::entry(&mut self.state, &entry);
        if changed.contains(&Key::Shop) {
            self.zone = zone_of(&self.state);
        }
        batch.gathered.add(seq, &entry, &self.state, &self.zone, changed);
        batch.ops += 1;
        self.recent.push_back((seq, now));
        if self.recent.len() > RECENT_MAX {
            self.recent.pop_front();
        }
        let result = result_of(seq, &entry, refusal.map(|r| r.message));
        batch.decided.insert((client, envelope.n), (envelope.id, envelope.digest, result.clone()));
        Ok(result)
    }

    /// An erased person stays erased. What still comes in, from a phone that was away or one that resends what
    /// a restored server lacks, counts as work, but none of their texts and pictures are kept.
    fn without_erased(&self, entry: Entry) -> serde_json::Result<Entry> {
        let access = self.control.read();
        if access.erased.is_empty() {
            return Ok(entry);
        }
        let gone = erase::is_gone(&access);
        drop(access);
        let mut value = serde_json::to_value(&entry)?;
        text::blank(&mut value, &gone);
        let mut entry: Entry = serde_json::from_value(value)?;
        for event in &mut entry.events {
            if let Event::PhotoNoted { photo } = event
                && gone(&photo.by.to_string())
            {
                (photo.erased, photo.here) = (true, false);
            }
        }
        Ok(entry)
    }

    /// People who leave the shop by this entry: what let them in is void in the same step.
    fn removed(&self, entry: &Entry) -> Option<Record> {
        let of_the_shop = |id: &PersonId| self.state.people.get(id).is_none_or(|p| !p.retired);
        entry.events.iter().find_map(|event| match event {
            Event::PersonSet { person } if person.retired && of_the_shop(&person.id) => {
                Some(Record::Removed { person: person.id, at: person.retired_at.unwrap_or(entry.act_at) })
            }
            _ => None,
        })
    }

    /// Durable, then shown, then answered: in this order only.
    fn commit(&mut self, batch: Batch) {
        let Batch { bodies, texts, gathered, replies, erases, late, .. } = batch;
        let mut failed = None;
        if !bodies.is_empty() {
            let appended = self.append(&bodies, texts);
            let appended =
                appended.and_then(|head| if erases { self.erase().map(|()| head) } else { Ok(head) });
            match appended {
                Ok(head) => {
                    self.show(head, gathered);
                    self.remove_pictures(erases, &late);
                }
                Err(why) => {
                    tracing::error!(%why, "a batch could not be made durable; the server is read-only now");
                    self.broken = Some(why.clone());
                    failed = Some(why);
                }
            }
        }
        for (reply, answer) in replies {
            let answer = match &failed {
                Some(why) => Err(PushError::ReadOnly(why.clone())),
                None => answer.map(|(ops, held)| Results { head: self.head.seq, ops, held }),
            };
            // The caller may have gone; the log has it all the same.
            let _ = reply.send(answer);
        }
    }

    fn append(&mut self, bodies: &[Vec<u8>], texts: Vec<Record>) -> Result<Head, String> {
        self.control.write(texts).map_err(|error| error.to_string())?;
        let bodies: Vec<&[u8]> = bodies.iter().map(Vec::as_slice).collect();
        let expected = self.head.seq - bodies.len() as u64;
        self.store.log().append(expected, &bodies).map_err(|error| error.to_string())
    }

    /// Done by the writer itself, so that nothing is decided on what is being taken away. Writing waits for as
    /// long as reading the log takes.
    fn erase(&mut self) -> Result<(), String> {
        let made = erase::texts(&*self.store, &self.control).and_then(|()| erase::replayed(&*self.store));
        self.state = made.map_err(|error| error.to_string())?;
        self.state.cool(self.clock.now() - COLD_AFTER);
        Ok(())
    }

    fn remove_pictures(&self, erases: bool, late: &[Photo]) {
        let removed = || {
            if erases {
                erase::pictures(&*self.store, &self.state)?;
                erase::set_done(&*self.store, &self.control)?;
            }
            late.iter().try_for_each(|photo| erase::picture(&*self.store, &self.state, &photo.sha256))
        };
        if let Err(error) = removed() {
            tracing::error!(%error, "a picture of somebody who was erased is still here; restart the server");
        }
    }

    fn show(&mut self, head: Head, gathered: Gathered) {
        self.head = head;
        let before = self.shown.publish.borrow().clone();
        let view = Arc::new(View { head, state: self.state.clone(), zone: self.zone.clone() });
        self.shown.publish.send_replace(view.clone());
        if self.shown.frames.receiver_count() > 0 {
            // Phones need not hold cold documents, so a patch for one would have no base.
            let sent = |key: &Key| matches!(key, Key::Exception(_)) || !view.state.is_cold(&key.to_string());
            let changed = gathered.changed.iter().filter(|(key, _)| sent(key));
            let changed = changed.map(|(key, seq)| (key.clone(), *seq)).collect();
            let docs = change::lines(&before.state, &view.state, &changed);
            let notices = gathered.has_notices();
            let Head { seq: from, hash: was } = before.head;
            let keys = gathered.changed.keys().cloned().collect();
            let frame = Frame { from, was, to: head.seq, hash: head.hash, docs, keys, notices };
            let _ = self.shown.frames.send(Arc::new(frame));
        }
        self.shown.index.queue(gathered, view);
    }
}

/// The entry as the log keeps it, and the texts that stand beside it.
fn written(entry: &impl serde::Serialize) -> serde_json::Result<(Vec<u8>, Vec<Record>)> {
    let mut value = serde_json::to_value(entry)?;
    let mut texts = Vec::new();
    text::take_out(&mut value, &mut |typed| {
        let (digest, record) = keep_text(typed, *uuid::Uuid::new_v4().as_bytes());
        texts.push(record);
        digest
    });
    Ok((serde_json::to_vec(&value)?, texts))
}

/// Of a refused operation: its envelope, its kind and the ids it names. The entry has its digest.
fn gist(raw: &Value) -> Value {
    let short = |value: &Value| match value {
        Value::Number(_) => true,
        Value::String(text) => text.len() <= KIND_BYTES_MAX,
        _ => false,
    };
    let is_id = |value: &Value| value.as_str().is_some_and(|text| uuid::Uuid::try_parse(text).is_ok());
    let kept = |object: Option<&Value>, fits: &dyn Fn(&str, &Value) -> bool| {
        let fields = object.and_then(Value::as_object).into_iter().flatten();
        let kept = fields.filter(|(name, value)| name.len() <= KIND_BYTES_MAX && fits(name, value));
        kept.take(FIELDS_KEPT)
            .map(|(name, value)| (name.clone(), value.clone()))
            .collect::<serde_json::Map<_, _>>()
    };
    let envelope = ["n", "id", "session", "v", "kind", "device_at", "offset", "seen"];
    let mut op = kept(Some(raw), &|name, value| envelope.contains(&name) && short(value));
    op.insert("args".into(), kept(raw.get("args"), &|_, value| is_id(value)).into());
    op.into()
}

/// Far above the longest kind of operation.
const KIND_BYTES_MAX: usize = 40;
/// No operation names more things than this.
const FIELDS_KEPT: usize = 16;

/// An operation without events that is still an act of its own: it must not be reported as "nothing changed".
fn keeps_empty(raw: &Value) -> bool {
    raw.get("kind").and_then(Value::as_str) == Some("dropped")
}

/// The newest version of operations that this server knows. An older one is read as what it meant then.
const OP_VERSION: u32 = 1;

fn newer() -> Refusal {
    let message =
        "A newer version of the app made this than the server knows; update the server, then do it again.";
    Refusal::new(domain::decide::Code::Invalid, message)
}

fn cannot_read(error: &serde_json::Error) -> Refusal {
    let message = format!("The server does not understand this operation ({error}).");
    Refusal::new(domain::decide::Code::Invalid, message)
}

fn result_of(seq: u64, entry: &Entry, message: Option<String>) -> OpResult {
    let exceptions = entry.events.iter().filter_map(|event| match event {
        Event::ExceptionRaised { exception } => Some(exception.kind),
        _ => None,
    });
    OpResult {
        n: entry.n,
        seq,
        verdict: entry.verdict,
        code: entry.code.clone(),
        message,
        exceptions: exceptions.collect(),
        other: entry.other.clone(),
    }
}

/// What must be readable in any operation, even one whose arguments are not.
struct Envelope {
    n: u64,
    id: OpId,
    session: SessionId,
    device_at: Ms,
    offset: Option<i64>,
    seen: u64,
    digest: String,
}

impl Envelope {
    fn read(raw: &Value) -> Result<Self, PushError> {
        #[derive(serde::Deserialize)]
        struct Fields {
            n: u64,
            id: OpId,
            session: SessionId,
            device_at: Ms,
            offset: Option<i64>,
            #[serde(default)]
            seen: u64,
        }
        let f: Fields =
            serde::Deserialize::deserialize(raw).map_err(|error| PushError::Malformed(error.to_string()))?;
        let digest = hex::encode(&Sha256::digest(canonical::text(raw))[..16]);
        let Fields { n, id, session, device_at, offset, seen } = f;
        Ok(Self { n, id, session, device_at, offset, seen, digest })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A hole in the middle of the chain could never be filled: JSON has no maps with such keys.
    #[test]
    fn an_entry_that_cannot_be_written_is_no_entry() {
        let unwritable = BTreeMap::from([((1, 2), "a part")]);
        assert!(written(&unwritable).is_err());
        let (body, texts) = written(&serde_json::json!({"v": 1, "note": "a text"})).unwrap();
        assert_eq!(texts.len(), 1, "{}", String::from_utf8_lossy(&body));
    }
}
