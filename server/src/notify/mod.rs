//! Told: notices as e-mail, and the notices that are born of the clock ([`remind`]).
//!
//! Notices themselves follow from log entries (`domain::notice`) and stand in the tables; this follows
//! the durable head and delivers them by mail, at least once each, under an id that stays the same.
//!
//! Invariants: nothing is sent unless a mail server is configured and the person wants mail; a person's
//! cursor moves only over what was delivered or refused for good; outside the shift a notice waits,
//! unless it is urgent; a mail server that is down stops nothing else.
//! Must not know: HTTP, rules (whom to tell is decided by `domain`).

pub mod mail;
pub mod remind;
pub mod words;

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use domain::calendar;
use domain::ids::PersonId;
use domain::state::State;
use domain::stored::{Notice, Person};
use domain::{MINUTE, Ms};
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use store::NoticeAt;
use tokio::sync::broadcast::{self, error::RecvError};
use tokio::sync::watch;
use tokio::task::JoinHandle;
use tokio::time::Instant;

use crate::shop::{Frame, Shop, View};
use mail::{Mailer, Outcome, SmtpError};
use planner::{Plan, Published};
use words::{About, Expected};

/// The mail server, as configured. Without it no mail is sent.
#[derive(Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Smtp {
    pub host: String,
    #[serde(default = "submission")]
    pub port: u16,
    #[serde(default)]
    pub user: Option<String>,
    #[serde(default)]
    pub password: Option<String>,
    /// "Our shop <shop@example.org>".
    pub from: String,
    #[serde(default)]
    pub tls: Tls,
    /// Where people reach the app, for links: "https://shop.example.org". Empty: mails carry no link.
    #[serde(default)]
    pub link: String,
}

/// The port for handing in mail (RFC 6409).
fn submission() -> u16 {
    587
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Tls {
    /// For a mail server on the same machine or in the same rack.
    None,
    #[default]
    Starttls,
    Tls,
}

/// Without the password, so that it never reaches a log.
impl std::fmt::Debug for Smtp {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "Smtp {{ host: {:?}, port: {}, tls: {:?}, from: {:?} }}",
            self.host, self.port, self.tls, self.from
        )
    }
}

impl Smtp {
    /// What cannot work, before the server starts.
    pub fn check(&self) -> Result<(), SmtpError> {
        Mailer::new(self).map(drop)
    }
}

const TREE: &str = "mail";
/// After a notice: others of the same moment come along, and the plan learns of the new card.
const GATHER: Duration = Duration::from_secs(3);
/// Also without anything new: a shift may have begun.
const LOOK_EVERY: Duration = Duration::from_secs(60);
/// Between tries: 5 s, 10 s, 20 s … up to this.
const RETRY_MAX: Duration = Duration::from_secs(15 * 60);
/// Notices of one person looked at together: more than gather over a long weekend.
const ROWS_MAX: usize = 500;
/// Mail wanted and no cursor found: it was lost with the tables, or mail was configured only now. What
/// is newer than this and not read in the app is sent, so that nothing is lost over a weekend.
const BEGIN_BACK_MS: Ms = 3 * 24 * 60 * MINUTE;
/// Of the notices cursor on the wire: entry × 1,000 + place in it (see `http::notices`).
const PLACES: u64 = 1_000;

/// Keeps delivering until it is aborted.
pub fn start(shop: Arc<Shop>, plan: watch::Receiver<Arc<Published>>, smtp: Smtp) -> JoinHandle<()> {
    tokio::spawn(async move {
        match Mailer::new(&smtp) {
            Ok(mailer) => {
                Post { shop, plan, mailer, link: smtp.link, cursors: None, later: BTreeMap::new() }
                    .run()
                    .await
            }
            Err(error) => tracing::error!(%error, "no mail is sent"),
        }
    })
}

/// How far one person's mail has come.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
struct Cursor {
    seq: u64,
    idx: u32,
    /// Delivered beyond the cursor, past notices that wait for the shift.
    ahead: Vec<(u64, u32)>,
}

impl Cursor {
    fn at(seq: u64) -> Self {
        Self { seq, idx: u32::MAX, ahead: Vec::new() }
    }

    fn place(&self) -> NoticeAt {
        NoticeAt { seq: self.seq, idx: self.idx }
    }

    fn is_done(&self, at: NoticeAt) -> bool {
        at <= self.place() || self.ahead.contains(&(at.seq, at.idx))
    }

    /// `at` is done; `rows` are all places after the cursor, in order.
    fn done(&mut self, at: NoticeAt, rows: &[NoticeAt]) {
        self.ahead.push((at.seq, at.idx));
        let before = self.place();
        for row in rows.iter().filter(|row| **row > before) {
            if !self.ahead.contains(&(row.seq, row.idx)) {
                break;
            }
            (self.seq, self.idx) = (row.seq, row.idx);
        }
        let place = self.place();
        self.ahead.retain(|(seq, idx)| NoticeAt { seq: *seq, idx: *idx } > place);
    }
}

struct Post {
    shop: Arc<Shop>,
    plan: watch::Receiver<Arc<Published>>,
    mailer: Mailer,
    link: String,
    /// None before the first round.
    cursors: Option<BTreeMap<PersonId, Cursor>>,
    /// Recipients whose mailbox asked for patience: tries, next one.
    later: BTreeMap<PersonId, (u32, Instant)>,
}

/// The mail server takes nothing now.
struct Down;

impl Post {
    async fn run(mut self) {
        let mut frames = self.shop.frames();
        let mut tries = 0;
        loop {
            match self.round().await {
                Ok(()) => {
                    tries = 0;
                    next_notice(&mut frames).await;
                }
                Err(Down) => {
                    tokio::time::sleep(backoff(tries)).await;
                    tries += 1;
                }
            }
        }
    }

    async fn round(&mut self) -> Result<(), Down> {
        let view = self.shop.view();
        let mut cursors = match self.cursors.take() {
            Some(cursors) => cursors,
            None => self.begin(&view),
        };
        let mut answer = Ok(());
        for person in view.state.people.values().filter(|p| !p.retired) {
            let Some(to) = self.wants_mail(person.id) else {
                // Whoever switches mail on gets what comes from then on.
                cursors.insert(person.id, Cursor::at(view.head.seq));
                continue;
            };
            if self.later.get(&person.id).is_some_and(|(_, next)| *next > Instant::now()) {
                continue;
            }
            let cursor = cursors.entry(person.id).or_default();
            if self.deliver(person, &to, cursor).await.is_err() {
                answer = Err(Down);
                break;
            }
        }
        self.cursors = Some(cursors);
        answer
    }

    fn wants_mail(&self, person: PersonId) -> Option<String> {
        let access = self.shop.control.read();
        access.contacts.get(&person).filter(|contact| contact.mail).and_then(|contact| contact.email.clone())
    }

    /// Cursors as they were kept; for who has none, see [`BEGIN_BACK_MS`].
    fn begin(&self, view: &View) -> BTreeMap<PersonId, Cursor> {
        let kept = |id: PersonId| -> Option<Cursor> {
            let found = self.shop.store.tables().kv_get(TREE, id.0.as_bytes()).ok()??;
            serde_json::from_slice(&found).ok()
        };
        let since = self.shop.clock.now() - BEGIN_BACK_MS;
        let people = view.state.people.keys().filter(|id| self.wants_mail(**id).is_some());
        people
            .map(|id| {
                let cursor = kept(*id).filter(|cursor| cursor.seq <= view.head.seq);
                (*id, cursor.unwrap_or_else(|| self.begin_late(*id, since)))
            })
            .collect()
    }

    /// After the last notice that is old or was read.
    fn begin_late(&self, person: PersonId, since: Ms) -> Cursor {
        let read = self.shop.control.read().read.get(&person).copied().unwrap_or(0);
        let mut cursor = Cursor::default();
        while let Ok(rows) = self.shop.notices_after(person.0.as_bytes(), cursor.place(), ROWS_MAX) {
            for row in &rows {
                let known = row.at.seq * PLACES + u64::from(row.at.idx) <= read;
                let old = serde_json::from_slice::<Notice>(&row.body).is_ok_and(|notice| notice.at < since);
                if !known && !old {
                    return cursor;
                }
                (cursor.seq, cursor.idx) = (row.at.seq, row.at.idx);
            }
            if rows.is_empty() {
                break;
            }
        }
        cursor
    }

    async fn deliver(&mut self, person: &Person, to: &str, cursor: &mut Cursor) -> Result<(), Down> {
        let (shop, key, after) = (self.shop.clone(), person.id.0.into_bytes(), cursor.place());
        let found = tokio::task::spawn_blocking(move || shop.notices_after(&key, after, ROWS_MAX)).await;
        let Ok(Ok(rows)) = found else {
            tracing::warn!("notices could not be read; mail is tried again");
            return Ok(());
        };
        let places: Vec<NoticeAt> = rows.iter().map(|row| row.at).collect();
        for row in rows {
            if cursor.is_done(row.at) {
                continue;
            }
            let outcome = match serde_json::from_slice::<Notice>(&row.body) {
                Ok(notice) => {
                    // As it is at this moment: an earlier letter may have taken its time.
                    let (view, now) = (self.shop.view(), self.shop.clock.now());
                    if !due(&view.state, &view.zone, person, &notice, now) {
                        continue;
                    }
                    let letter = self.write(&view, &notice, now);
                    let id = message_id(self.shop.store.meta().epoch(), person.id, row.at);
                    self.mailer.send(to, &id, &letter).await
                }
                Err(error) => Outcome::Refused(format!("it cannot be read ({error})")),
            };
            match outcome {
                Outcome::Delivered => {}
                Outcome::Refused(why) => {
                    tracing::warn!(person = %person.id, notice = ?row.at, %why, "a notice cannot be mailed; it stands in the app");
                }
                Outcome::Later(why) => {
                    let tries = self.later.get(&person.id).map_or(0, |(tries, _)| tries + 1);
                    tracing::info!(person = %person.id, %why, tries, "a mailbox asks for patience");
                    self.later.insert(person.id, (tries, Instant::now() + backoff(tries)));
                    return Ok(());
                }
                Outcome::Down(why) => {
                    tracing::warn!(%why, "the mail server takes nothing now; mail waits");
                    return Err(Down);
                }
            }
            self.later.remove(&person.id);
            cursor.done(row.at, &places);
            self.keep(person.id, cursor).await;
        }
        Ok(())
    }

    fn write(&self, view: &View, notice: &Notice, now: Ms) -> words::Letter {
        let expected = expected(&self.plan.borrow().plan);
        let about =
            About { state: &view.state, zone: &view.zone, expected: &expected, now, link: &self.link };
        words::letter(&about, notice)
    }

    async fn keep(&self, person: PersonId, cursor: &Cursor) {
        let (shop, record) = (self.shop.clone(), store::json("how far mail has come", cursor));
        let kept = tokio::task::spawn_blocking(move || {
            shop.store.tables().kv_put(TREE, person.0.as_bytes(), &record?)
        })
        .await;
        if !matches!(kept, Ok(Ok(()))) {
            tracing::warn!("how far mail has come could not be kept; after a restart some is sent again");
        }
    }
}

/// The same for every try, another for every notice, person and history.
fn message_id(epoch: u64, person: PersonId, at: NoticeAt) -> String {
    format!("{epoch:016x}.{}.{}.{}", at.seq, at.idx, person.0.simple())
}

pub(crate) fn expected(plan: &Plan) -> Expected {
    plan.rows.iter().map(|row| (row.card, (row.from, row.to))).collect()
}

/// Whether to mail it now: on shift, or urgent. Who has no working hours at all gets it at once.
fn due(state: &State, zone: &TimeZone, person: &Person, notice: &Notice, now: Ms) -> bool {
    if notice.urgent || calendar::on_shift(state, person, zone, now) {
        return true;
    }
    let never_away = Person { away: Vec::new(), ..person.clone() };
    calendar::of_person(state, &never_away, zone, now, now + 14 * 24 * 60 * MINUTE).is_empty()
}

fn backoff(tries: u32) -> Duration {
    Duration::from_secs(5 << tries.min(10)).min(RETRY_MAX)
}

/// Until somebody has a new notice, or for a while.
async fn next_notice(frames: &mut broadcast::Receiver<Arc<Frame>>) {
    let waited = tokio::time::sleep(LOOK_EVERY);
    tokio::pin!(waited);
    loop {
        let frame = tokio::select! {
            () = &mut waited => return,
            frame = frames.recv() => frame,
        };
        match frame {
            Ok(frame) if !frame.notices => {}
            Ok(_) | Err(RecvError::Lagged(_)) => return tokio::time::sleep(GATHER).await,
            Err(RecvError::Closed) => return waited.await,
        }
    }
}

#[cfg(test)]
mod tests;
