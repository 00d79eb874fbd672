//! One open shop: what is durable, for everybody to read; and the way in for what is new.
//!
//! Invariants: readers see only the durable head; what was acknowledged is in the log; tables and
//! snapshots are brought up to the log at every start, by the same code that recovers from a crash.
//! Must not know: HTTP, tokens, the planner.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, PoisonError, RwLock};
use std::thread::JoinHandle;

use domain::Ms;
use domain::cold::COLD_AFTER;
use domain::decide::SYSTEM;
use domain::fold;
use domain::ids::{ClientId, OpId, PersonId, SessionId};
use domain::state::{Key, State};
use domain::stored::{Act, Entry, Person, Role};
use domain::text;
use jiff::tz::TimeZone;
use serde_json::Value;
use store::{Head, Notice, NoticeAt, Store, Tables};
use tokio::sync::{broadcast, oneshot, watch};

use crate::clock::Clock;
use crate::control::{Control, Record, Texts};
use crate::epoch_word;
use crate::erase;
use crate::index::{Gathered, Index};
use crate::limits::LIVE_FRAMES_MAX;
use crate::writer::{self, Command, Push, PushError, Results, Sender};

/// What everybody may read: the state as of the durable head.
#[derive(Clone)]
pub struct View {
    /// The durable head.
    pub head: Head,
    /// The state after that entry.
    pub state: State,
    /// The shop's time zone; UTC until it is set up.
    pub zone: TimeZone,
}

/// What one batch changed, for every phone.
pub struct Frame {
    /// The cursor a phone must have to apply it.
    pub from: u64,
    /// The chain at `from`: a frame of another history must not fit by its number.
    pub was: store::Hash,
    /// The cursor after it.
    pub to: u64,
    /// The chain at `to`.
    pub hash: store::Hash,
    /// The JSON list of what changed ([`crate::change::lines`]).
    pub docs: String,
    /// Which documents these are, for listeners inside the server.
    pub keys: Vec<Key>,
    /// Somebody has a new notice.
    pub notices: bool,
}

/// One open shop. Everything that serves it goes through here.
pub struct Shop {
    /// Where it is kept.
    pub store: Arc<dyn Store>,
    /// Who may come in, and the texts beside the log.
    pub control: Arc<Control>,
    /// Where its time comes from.
    pub clock: Clock,
    view: watch::Receiver<Arc<View>>,
    frames: broadcast::Sender<Arc<Frame>>,
    /// None once the shop is closed.
    commands: RwLock<Option<std::sync::mpsc::Sender<Command>>>,
    index: Arc<Index>,
    threads: Mutex<Vec<JoinHandle<()>>>,
}

/// Why a shop cannot be opened, or its log not be read.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// The store says no.
    #[error(transparent)]
    Store(#[from] store::Error),
    /// An entry means nothing to this program.
    #[error(
        "entry {seq} of the shop log cannot be read ({why}); this server is older than the data, or the data is damaged"
    )]
    Entry {
        /// Its number.
        seq: u64,
        /// What the reader stumbled over.
        why: String,
    },
    /// It is being closed, so nothing long is begun or finished.
    #[error("the shop is being closed")]
    Closed,
}

/// An act of the server itself, or one it carries out for a person (import, first start, demo).
pub struct OwnOp {
    /// In whose name.
    pub by: PersonId,
    /// In which role.
    pub role: Role,
    /// The operation's id.
    pub id: OpId,
    /// What is done.
    pub act: Act,
    /// When it happened, UTC ms; none: now.
    pub at: Option<Ms>,
}

impl OwnOp {
    /// An act of the server itself, with an id of its own.
    pub fn system(act: Act) -> Self {
        Self { by: SYSTEM, role: Role::Admin, id: OpId(uuid::Uuid::now_v7()), act, at: None }
    }
}

/// The server's own client in the log.
pub const OWN_CLIENT: ClientId = ClientId(uuid::Uuid::nil());

/// After this many entries a start would rather read a snapshot.
const SNAPSHOT_ENTRIES: u64 = 50_000;
/// After this many newly packed visits a start would rather read them packed.
const SNAPSHOT_COOLED: usize = 500;

impl Shop {
    /// Opens a shop: recovers the state, finishes an erasure that was interrupted, starts the writer.
    pub fn open(store: Arc<dyn Store>, clock: Clock) -> Result<Arc<Self>, OpenError> {
        let control = Arc::new(Control::open(store.clone())?);
        let pending = erase::is_pending(&*store, &control)?;
        if pending {
            // The server stopped in the middle of an erasure, or an older backup was restored.
            erase::texts(&*store, &control)?;
            store.tables().clear()?;
        }
        let view = recover(&*store, clock.now())?;
        if pending {
            erase::pictures(&*store, &view.state)?;
            erase::set_done(&*store, &control)?;
        }
        void_of_removed(&control, &view.state, clock.now())?;
        let (index, tables) = Index::start(store.clone(), view.head.seq);
        let (publish, watch_view) = watch::channel(Arc::new(view));
        let (frames, _) = broadcast::channel(LIVE_FRAMES_MAX);
        let shown = writer::Shown { publish, frames: frames.clone(), index: index.clone() };
        let (commands, writing) = writer::start(store.clone(), control.clone(), clock.clone(), shown);
        let threads = Mutex::new(vec![writing, tables]);
        let commands = RwLock::new(Some(commands));
        Ok(Arc::new(Self { store, control, clock, view: watch_view, frames, commands, index, threads }))
    }

    /// The tables, with everything in them that is durable now. Blocks.
    pub fn tables(&self) -> Result<&dyn Tables, store::Error> {
        self.index.tables(self.view().head.seq)
    }

    /// A person's notices, with those of everything that is durable now. Blocks.
    pub fn notices_after(
        &self,
        person: &[u8; 16],
        after: NoticeAt,
        limit: usize,
    ) -> Result<Vec<Notice>, store::Error> {
        self.tables()?.notices_after(person, after, limit)
    }

    /// What is durable now. Cheap: a shared pointer.
    pub fn view(&self) -> Arc<View> {
        self.view.borrow().clone()
    }

    /// Tells when there is something newer than the view.
    pub fn watch(&self) -> watch::Receiver<Arc<View>> {
        self.view.clone()
    }

    /// The log from its beginning to now, without texts. Ends with an error if the shop is closed meanwhile,
    /// so that stopping a server does not wait until years of log have been read. Blocks.
    pub fn past(&self) -> impl Iterator<Item = Result<Entry, OpenError>> + '_ {
        let none = Texts::default();
        self.store.log().replay(1).map(move |stored| {
            let stored = stored?;
            if self.commands.read().unwrap_or_else(PoisonError::into_inner).is_none() {
                return Err(OpenError::Closed);
            }
            read_entry(stored.seq, &stored.body, &none)
        })
    }

    /// What changes from now on. A reader that falls behind is told so and pulls.
    pub fn frames(&self) -> broadcast::Receiver<Arc<Frame>> {
        self.frames.subscribe()
    }

    /// Whose operations a push of this client brings, if this sign-in may deliver them and means
    /// this history.
    pub fn admit(&self, epoch: &str, session: &SessionId, client: &ClientId) -> Result<Sender, PushError> {
        if epoch != epoch_word(self.store.meta().epoch()) {
            return Err(PushError::EpochChanged);
        }
        let (person, own) = self.control.read().delivers(session, client).ok_or(PushError::ClientUnknown)?;
        Ok(Sender { client: *client, person, own })
    }

    /// Operations of one client, in order. Answered when durable.
    pub async fn push(&self, push: Push) -> Result<Results, PushError> {
        self.push_later(push).await.unwrap_or(Err(PushError::Stopped))
    }

    /// The same for callers that block.
    pub fn push_now(&self, push: Push) -> Result<Results, PushError> {
        self.push_later(push).blocking_recv().unwrap_or(Err(PushError::Stopped))
    }

    fn push_later(&self, push: Push) -> oneshot::Receiver<Result<Results, PushError>> {
        let (reply, answer) = oneshot::channel();
        self.send(Command::Push { push, reply });
        answer
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
        let commands = self.commands.read().unwrap_or_else(PoisonError::into_inner);
        if commands.as_ref().is_none_or(|commands| commands.send(command).is_err()) {
            tracing::error!("the writer has stopped");
        }
    }

    /// Decides and keeps what was sent, then takes nothing more. Must be called before the process ends: the
    /// server's tasks go on holding the shop, so that it would never be dropped.
    pub fn close(&self) {
        self.stop();
        self.store.tables().close();
    }

    fn stop(&self) {
        drop(self.commands.write().unwrap_or_else(PoisonError::into_inner).take());
        for thread in self.threads.lock().unwrap_or_else(PoisonError::into_inner).drain(..) {
            let _ = thread.join();
        }
    }

    /// Writes a snapshot of now, so that the next start is quick. May be left out.
    pub fn put_snapshot(&self) {
        let view = self.view();
        // The next start uses it only if the tables have come just as far.
        let written = self.tables().and_then(|_| write_snapshot(&*self.store, &view));
        let written = written.and_then(|()| self.control.put_gist());
        if let Err(error) = written {
            tracing::warn!(%error, "no snapshot was written; the next start reads more of the log");
        }
    }
}

impl Drop for Shop {
    fn drop(&mut self) {
        self.stop();
    }
}

/// Older servers did not void what let a removed person in; they only refused to honour it.
fn void_of_removed(control: &Control, state: &State, now: Ms) -> Result<(), store::Error> {
    control.write_if(|access| {
        let gone = state.people.values().filter(|person| person.retired && access.lets_in(person.id));
        let void = |p: &Arc<Person>| Record::Removed { person: p.id, at: p.retired_at.unwrap_or(now) };
        Ok(((), gone.map(void).collect()))
    })
}

/// The time zone of the shop's document; UTC if there is none.
pub fn zone_of(state: &State) -> TimeZone {
    let name = state.shop.as_ref().map_or("UTC", |shop| shop.time_zone.as_str());
    TimeZone::get(name).unwrap_or_else(|_| {
        tracing::error!(name, "the shop's time zone is none that is known; days are counted in UTC");
        TimeZone::UTC
    })
}

/// The entry with its texts in place.
pub fn read_entry(seq: u64, body: &[u8], texts: &Texts) -> Result<Entry, OpenError> {
    let wrong = |error: serde_json::Error| OpenError::Entry { seq, why: error.to_string() };
    let mut value: Value = serde_json::from_slice(body).map_err(wrong)?;
    text::put_back(&mut value, &mut |digest| texts.get(digest).cloned());
    serde_json::from_value(value).map_err(wrong)
}

/// The digests of the texts in the entries from `from_seq` on.
pub(crate) fn wanted_texts(store: &dyn Store, from_seq: u64) -> Result<BTreeSet<String>, OpenError> {
    let mut wanted = BTreeSet::new();
    for stored in store.log().replay(from_seq) {
        let stored = stored?;
        let wrong = |error: serde_json::Error| OpenError::Entry { seq: stored.seq, why: error.to_string() };
        let mut value: Value = serde_json::from_slice(&stored.body).map_err(wrong)?;
        text::put_back(&mut value, &mut |digest| {
            wanted.insert(digest.to_owned());
            None
        });
    }
    Ok(wanted)
}

fn recover(store: &dyn Store, now: Ms) -> Result<View, OpenError> {
    let mut applied = match store.tables().applied() {
        Ok(applied) => applied.map_or(0, |head| head.seq),
        Err(error) => {
            tracing::warn!(%error, "the tables are made anew from the log");
            store.tables().clear()?;
            0
        }
    };
    let (mut state, mut seq) = from_snapshot(store, applied)?.unwrap_or_default();
    let texts = Control::texts(store, &wanted_texts(store, seq + 1)?)?;
    let mut gathered = Gathered::default();
    let mut head = Head { seq, hash: store.log().hash_at(seq)?.unwrap_or(store::ZERO) };
    let mut zone = zone_of(&state);
    let from_snapshot = seq;
    for stored in store.log().replay(seq + 1) {
        let stored = stored?;
        let entry = read_entry(stored.seq, &stored.body, &texts)?;
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
        if seq.is_multiple_of(SNAPSHOT_ENTRIES) {
            state.cool(entry.at - COLD_AFTER);
        }
    }
    apply(store, &state, &mut gathered, head, &mut applied)?;
    let cooled = state.cool(now - COLD_AFTER);
    let view = View { head, zone, state };
    if seq - from_snapshot >= SNAPSHOT_ENTRIES || cooled >= SNAPSHOT_COOLED {
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
        store.tables().apply(&gathered.into_batch(state, head)?)?;
        *applied = head.seq;
    }
    Ok(())
}

fn write_snapshot(store: &dyn Store, view: &View) -> Result<(), store::Error> {
    let bytes = crate::snapshot::write(&view.state)?;
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
