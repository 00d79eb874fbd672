//! The tables, kept up beside the log by a thread of their own, so that no acknowledgement waits for them.
//!
//! Invariants: what is queued is already durable in the log; batches wait briefly for each other, so that a
//! document that changes often is written once; a reader finds everything that was durable when it asked, and
//! does not wait for batches to gather.
//! Must not know: what documents mean.

use std::collections::BTreeMap;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use domain::fold;
use domain::notice;
use domain::state::{Key, State};
use domain::stored::Entry;
use jiff::tz::TimeZone;
use store::{Doc, Head, Notice, NoticeAt, Store, TableBatch, Tables, Verdict};

use crate::shop::View;

/// What some entries changed, on its way into the tables.
#[derive(Default)]
pub struct Gathered {
    /// How many entries.
    pub entries: usize,
    /// Every document they changed, with the last entry that did.
    pub changed: BTreeMap<Key, u64>,
    verdicts: Vec<Verdict>,
    notices: Vec<(NoticeAt, domain::stored::Notice)>,
}

impl Gathered {
    /// Adds an entry: `state` is the one after it, `changed` what the fold said it changed.
    pub fn add(&mut self, seq: u64, entry: &Entry, state: &State, zone: &TimeZone, changed: fold::Changed) {
        self.entries += 1;
        self.changed.extend(changed.into_iter().map(|key| (key, seq)));
        self.verdicts.push(Verdict { client: entry.client.0.into_bytes(), n: entry.n, seq });
        for (idx, notice) in notice::notices(state, entry, zone).into_iter().enumerate() {
            let at = NoticeAt { seq, idx: idx as u32 };
            self.notices.push((at, notice));
        }
    }

    /// Whether anybody has a new notice.
    pub fn has_notices(&self) -> bool {
        !self.notices.is_empty()
    }

    fn join(&mut self, later: Self) {
        self.entries += later.entries;
        self.changed.extend(later.changed);
        self.verdicts.extend(later.verdicts);
        self.notices.extend(later.notices);
    }

    /// Documents as they are in `state`, the state after the last of these entries.
    pub fn into_batch(self, state: &State, head: Head) -> Result<TableBatch, store::Error> {
        let docs = self.changed.into_iter().filter_map(|(key, seq)| {
            let body = state.document_json(&key)?.into_bytes();
            Some(Doc { key: key.to_string(), seq, body: Some(body) })
        });
        let notices = self.notices.iter().map(|(at, notice)| {
            let body = store::json("a notice", notice)?;
            Ok(Notice { person: notice.person.0.into_bytes(), at: *at, body })
        });
        let notices = notices.collect::<Result<_, store::Error>>()?;
        let Head { seq, hash } = head;
        Ok(TableBatch { seq, hash, docs: docs.collect(), verdicts: self.verdicts, notices })
    }
}

#[derive(Default)]
struct Line {
    waiting: Option<(Gathered, Arc<View>)>,
    applied: u64,
    /// Somebody reads, so gathering stops.
    wanted: bool,
    ending: bool,
    broken: Option<String>,
}

/// For how long batches are gathered, and at most how many entries.
const GATHER: Duration = Duration::from_millis(200);
const GATHER_ENTRIES: usize = 1_000;

/// The way to the tables.
pub struct Index {
    store: Arc<dyn Store>,
    line: Mutex<Line>,
    moved: Condvar,
}

impl Index {
    /// Tables that are complete up to `applied`.
    pub fn start(store: Arc<dyn Store>, applied: u64) -> (Arc<Self>, JoinHandle<()>) {
        let line = Line { applied, ..Line::default() };
        let index = Arc::new(Self { store, line: Mutex::new(line), moved: Condvar::new() });
        let working = index.clone();
        let thread = std::thread::Builder::new().name("shop-index".into());
        let thread = thread.spawn(move || working.run()).expect("a thread for the tables");
        (index, thread)
    }

    fn lock(&self) -> MutexGuard<'_, Line> {
        self.line.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// `view` is the view after the last of these entries.
    pub fn queue(&self, gathered: Gathered, view: Arc<View>) {
        let mut line = self.lock();
        match &mut line.waiting {
            Some((waiting, at)) => {
                waiting.join(gathered);
                *at = view;
            }
            none => *none = Some((gathered, view)),
        }
        self.moved.notify_all();
    }

    /// The tables, with everything up to `seq` in them. Blocks.
    pub fn tables(&self, seq: u64) -> Result<&dyn Tables, store::Error> {
        let mut line = self.lock();
        while line.applied < seq && line.broken.is_none() {
            line.wanted = true;
            self.moved.notify_all();
            line = self.moved.wait(line).unwrap_or_else(PoisonError::into_inner);
        }
        match &line.broken {
            Some(_) => Err(store::Error::Rebuild { why: "they fell behind it; restart the server".into() }),
            None => Ok(self.store.tables()),
        }
    }

    /// Why the tables stopped, if they did.
    pub fn broken(&self) -> Option<String> {
        self.lock().broken.clone()
    }

    /// Lets the thread finish what is queued and end.
    pub fn end(&self) {
        self.lock().ending = true;
        self.moved.notify_all();
    }

    fn run(&self) {
        loop {
            let mut line = self.lock();
            while line.waiting.is_none() && !line.ending {
                line = self.moved.wait(line).unwrap_or_else(PoisonError::into_inner);
            }
            let gathering = |line: &mut Line| {
                let few = line.waiting.as_ref().is_some_and(|(w, _)| w.entries < GATHER_ENTRIES);
                few && !line.wanted && !line.ending
            };
            let gathered = self.moved.wait_timeout_while(line, GATHER, gathering);
            let (mut line, _) = gathered.unwrap_or_else(PoisonError::into_inner);
            let Some((gathered, view)) = line.waiting.take() else { return };
            line.wanted = false;
            drop(line);
            let head = view.head;
            let batch = gathered.into_batch(&view.state, head);
            let applied = batch.and_then(|batch| self.store.tables().apply(&batch));
            let mut line = self.lock();
            match applied {
                Ok(()) => line.applied = head.seq,
                Err(error) => {
                    // The log has it; the tables catch up at the next start.
                    tracing::error!(%error, "the tables fell behind; restart the server to make them anew");
                    line.broken = Some(error.to_string());
                    self.moved.notify_all();
                    return;
                }
            }
            self.moved.notify_all();
        }
    }
}
