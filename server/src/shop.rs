//! One open shop: what is durable, for everybody to read; and the way in for what is new.
//!
//! Invariants: readers see only the durable head; what was acknowledged is in the log; tables and
//! snapshots are brought up to the log at every start, by the same code that recovers from a crash.
//! Must not know: HTTP, tokens, the planner.

use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

use bytes::Bytes;
use domain::Ms;
use domain::decide::SYSTEM;
use domain::fold;
use domain::ids::{ClientId, OpId, PersonId};
use domain::notice;
use domain::state::{Key, State};
use domain::stored::{Act, Entry, Role};
use domain::text;
use jiff::tz::TimeZone;
use serde_json::Value;
use store::{Doc, Head, Notice, NoticeAt, Store, TableBatch, Verdict};
use tokio::sync::{broadcast, oneshot, watch};

use crate::clock::Clock;
use crate::control::{Control, Texts};
use crate::limits::LIVE_FRAMES_MAX;
use crate::writer::{self, Command, Push, PushError, Results};

/// What everybody may read: the state as of the durable head.
#[derive(Clone)]
pub struct View {
    pub head: Head,
    pub state: State,
    pub zone: TimeZone,
}

/// What one batch changed, for every phone.
pub struct Frame {
    pub from: u64,
    pub to: u64,
    pub hash: store::Hash,
    /// The JSON list of documents.
    pub docs: String,
    /// Somebody has a new notice.
    pub notices: bool,
    /// The bytes on the wire, the same for all: the first reader makes them.
    pub wire: OnceLock<Bytes>,
}

pub struct Shop {
    pub store: Arc<dyn Store>,
    pub control: Arc<Control>,
    pub clock: Clock,
    view: watch::Receiver<Arc<View>>,
    frames: broadcast::Sender<Arc<Frame>>,
    commands: std::sync::mpsc::Sender<Command>,
}

#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    #[error(transparent)]
    Store(#[from] store::Error),
    #[error(
        "entry {seq} of the shop log cannot be read ({why}); this server is older than the data, or the data is damaged"
    )]
    Entry { seq: u64, why: String },
}

/// An act of the server itself, or one it carries out for a person (import, first start, demo).
pub struct OwnOp {
    pub by: PersonId,
    pub role: Role,
    pub id: OpId,
    pub act: Act,
    /// None: now.
    pub at: Option<Ms>,
}

impl OwnOp {
    pub fn system(act: Act) -> Self {
        Self { by: SYSTEM, role: Role::Admin, id: OpId(uuid::Uuid::now_v7()), act, at: None }
    }
}

/// The server's own client in the log.
pub const OWN_CLIENT: ClientId = ClientId(uuid::Uuid::nil());

/// Entries after which a start would rather read a snapshot.
const SNAPSHOT_ENTRIES: u64 = 50_000;

impl Shop {
    pub fn open(store: Arc<dyn Store>, clock: Clock) -> Result<Arc<Self>, OpenError> {
        let (control, texts) = Control::open(store.clone())?;
        let control = Arc::new(control);
        let view = recover(&*store, &texts)?;
        drop(texts);
        let (publish, watch_view) = watch::channel(Arc::new(view));
        let (frames, _) = broadcast::channel(LIVE_FRAMES_MAX);
        let commands = writer::start(store.clone(), control.clone(), clock.clone(), publish, frames.clone());
        Ok(Arc::new(Self { store, control, clock, view: watch_view, frames, commands }))
    }

    pub fn view(&self) -> Arc<View> {
        self.view.borrow().clone()
    }

    pub fn watch(&self) -> watch::Receiver<Arc<View>> {
        self.view.clone()
    }

    pub fn frames(&self) -> broadcast::Receiver<Arc<Frame>> {
        self.frames.subscribe()
    }

    /// Operations of one client, in order. Answered when durable.
    pub async fn push(&self, push: Push) -> Result<Results, PushError> {
        let (reply, answer) = oneshot::channel();
        self.send(Command::Push { push, reply });
        answer.await.unwrap_or(Err(PushError::Stopped))
    }

    /// The server's own acts, in order. Answered when durable.
    pub async fn own(&self, ops: Vec<OwnOp>) -> Result<Results, PushError> {
        self.own_later(ops).await.unwrap_or(Err(PushError::Stopped))
    }

    /// The same for callers that block.
    pub fn own_now(&self, ops: Vec<OwnOp>) -> Result<Results, PushError> {
        self.own_later(ops).blocking_recv().unwrap_or(Err(PushError::Stopped))
    }

    fn own_later(&self, ops: Vec<OwnOp>) -> oneshot::Receiver<Result<Results, PushError>> {
        let (reply, answer) = oneshot::channel();
        self.send(Command::Own { ops, reply });
        answer
    }

    fn send(&self, command: Command) {
        if self.commands.send(command).is_err() {
            tracing::error!("the writer has stopped");
        }
    }

    /// A snapshot of now, so that the next start is quick. Fine to leave out.
    pub fn put_snapshot(&self) {
        let view = self.view();
        if let Err(error) = write_snapshot(&*self.store, &view) {
            tracing::warn!(%error, "no snapshot was written; the next start reads more of the log");
        }
    }
}

pub fn zone_of(state: &State) -> TimeZone {
    let name = state.shop.as_ref().map_or("UTC", |shop| shop.time_zone.as_str());
    TimeZone::get(name).unwrap_or(TimeZone::UTC)
}

/// The entry with its texts in place.
pub fn read_entry(seq: u64, body: &[u8], texts: &Texts) -> Result<Entry, OpenError> {
    let wrong = |error: serde_json::Error| OpenError::Entry { seq, why: error.to_string() };
    let mut value: Value = serde_json::from_slice(body).map_err(wrong)?;
    text::put_back(&mut value, &mut |digest| texts.get(digest).cloned());
    serde_json::from_value(value).map_err(wrong)
}

fn recover(store: &dyn Store, texts: &Texts) -> Result<View, OpenError> {
    let mut applied = match store.tables().applied() {
        Ok(applied) => applied.map_or(0, |head| head.seq),
        Err(error) => {
            tracing::warn!(%error, "the tables are made anew from the log");
            store.tables().clear()?;
            0
        }
    };
    let (mut state, mut seq) = from_snapshot(store, applied)?.unwrap_or_default();
    let mut gathered = Gathered::default();
    let mut head = Head { seq, hash: store.log().hash_at(seq)?.unwrap_or(store::ZERO) };
    let mut zone = zone_of(&state);
    let from_snapshot = seq;
    for stored in store.log().replay(seq + 1) {
        let stored = stored?;
        let entry = read_entry(stored.seq, &stored.body, texts)?;
        let changed = fold::entry(&mut state, &entry);
        if changed.contains(&Key::Shop) {
            zone = zone_of(&state);
        }
        seq = stored.seq;
        head = Head { seq, hash: stored.hash };
        if seq > applied {
            gathered.add(seq, &entry, &state, &zone, changed);
            if gathered.entries >= 2_000 {
                apply(store, &state, &mut gathered, head, &mut applied)?;
            }
        }
    }
    apply(store, &state, &mut gathered, head, &mut applied)?;
    let view = View { head, zone, state };
    if seq - from_snapshot >= SNAPSHOT_ENTRIES {
        write_snapshot(store, &view)?;
    }
    Ok(view)
}

fn apply(
    store: &dyn Store,
    state: &State,
    gathered: &mut Gathered,
    head: Head,
    applied: &mut u64,
) -> Result<(), OpenError> {
    let gathered = std::mem::take(gathered);
    if gathered.entries > 0 {
        store.tables().apply(&gathered.into_batch(state, head).0)?;
        *applied = head.seq;
    }
    Ok(())
}

/// What some entries changed, on its way into the tables and to the phones.
#[derive(Default)]
pub struct Gathered {
    pub entries: usize,
    changed: BTreeMap<Key, u64>,
    verdicts: Vec<Verdict>,
    notices: Vec<Notice>,
}

impl Gathered {
    pub fn add(&mut self, seq: u64, entry: &Entry, state: &State, zone: &TimeZone, changed: fold::Changed) {
        self.entries += 1;
        self.changed.extend(changed.into_iter().map(|key| (key, seq)));
        self.verdicts.push(Verdict { client: entry.client.0.into_bytes(), n: entry.n, seq });
        for (idx, notice) in notice::notices(state, entry, zone).into_iter().enumerate() {
            let at = NoticeAt { seq, idx: idx as u32 };
            let body = serde_json::to_vec(&notice).unwrap_or_default();
            self.notices.push(Notice { person: notice.person.0.into_bytes(), at, body });
        }
    }

    /// The rows for the tables, and the JSON list of documents for the phones.
    pub fn into_batch(self, state: &State, head: Head) -> (TableBatch, String) {
        let mut json = String::from("[");
        let mut docs = Vec::with_capacity(self.changed.len());
        for (key, seq) in self.changed {
            let Some(body) = state.document_json(&key) else { continue };
            let comma = if docs.is_empty() { "" } else { "," };
            json.push_str(&format!("{comma}{{\"key\":\"{key}\",\"seq\":{seq},\"body\":{body}}}"));
            docs.push(Doc { key: key.to_string(), seq, body: Some(body.into_bytes()) });
        }
        json.push(']');
        let batch = TableBatch {
            seq: head.seq,
            hash: head.hash,
            docs,
            verdicts: self.verdicts,
            notices: self.notices,
        };
        (batch, json)
    }

    pub fn has_notices(&self) -> bool {
        !self.notices.is_empty()
    }
}

fn write_snapshot(store: &dyn Store, view: &View) -> Result<(), store::Error> {
    let bytes = crate::snapshot::write(&view.state);
    store.snapshots().put_snapshot(view.head.seq, &view.head.hash, &bytes)
}

/// A snapshot of the same history that the tables have reached; else the log is read from its start.
fn from_snapshot(store: &dyn Store, applied: u64) -> Result<Option<(State, u64)>, OpenError> {
    let Some(snapshot) = store.snapshots().latest_snapshot()? else { return Ok(None) };
    let same = store.log().hash_at(snapshot.seq)? == Some(snapshot.hash);
    if !same || applied < snapshot.seq {
        return Ok(None);
    }
    Ok(crate::snapshot::read(&snapshot.bytes).map(|state| (state, snapshot.seq)))
}
