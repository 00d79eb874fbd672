//! Leaves out of the control journal what says nothing any more: every hour of every sign-in, every notice that was
//! read, every PIN that was tried, links that have expired, sign-ins that ended long ago and the clients of those.
//!
//! Invariants: who may come in afterwards is who might before; texts all stay; lines stay byte for byte and
//! in their order. A sign-in is remembered for longer than any token of it is good and any phone is away,
//! because it says whose act it was. Of whatever anybody can say anew, only so much stays as still says something,
//! or as was said within [`KEPT_MS`].

use std::collections::{BTreeMap, BTreeSet};

use domain::Ms;
use domain::ids::{ClientId, PersonId, SessionId};
use uuid::Uuid;

use super::access::{PASS_KEPT_MS, TOLD_MAX};
use super::{Access, Control, Record, Session, TEXT, cannot_write};

const DAY: Ms = 24 * 3_600_000;
/// For so long a link that has expired is answered as what it is.
const LINK_KEPT_MS: Ms = 30 * DAY;
/// A phone that was away for a year still delivers under its own name; who did what is shown as long.
const KEPT_MS: Ms = 400 * DAY;
/// A sign-in of which nothing was heard for so long is over: no token is good for longer.
const TOKEN_MS: Ms = 90 * DAY;
/// Clients of one person on one browser that stay though nothing was done by them for [`KEPT_MS`], or ever: the newest.
/// An app has one, and another after two phones had the same; one that comes all the same is bound anew.
const IDLE_CLIENTS_MAX: usize = 20;
/// Below this nothing is gained.
const BYTES_MIN: u64 = 1 << 20;

/// How large it was after the last time.
const LAST: (&str, &[u8]) = ("control", b"compacted");

/// When something was last done by a client, as the shop's log says.
pub type UsedAt<'a> = &'a dyn Fn(&ClientId) -> Option<Ms>;

impl Control {
    /// Once it is twice as large as after the last time; returns how many lines went.
    pub fn compact(&self, now: Ms, used_at: UsedAt<'_>) -> Result<usize, store::Error> {
        let last = self.store.tables().kv_get(LAST.0, LAST.1)?;
        let last = last.and_then(|bytes| Some(u64::from_be_bytes(bytes.try_into().ok()?))).unwrap_or(0);
        if self.store.control().bytes() < 2 * last + BYTES_MIN {
            return Ok(0);
        }
        // Nobody comes in or goes meanwhile.
        let mut access = self.read();
        let head = self.store.control().head();
        let lines: Vec<Vec<u8>> = self.store.control().replay().collect::<Result<_, _>>()?;
        let stay = kept(&lines, now, used_at);
        let kept: Vec<&[u8]> =
            lines.iter().zip(&stay).filter(|(_, stays)| **stays).map(|(line, _)| &**line).collect();
        let gone = lines.len() - kept.len();
        if gone > 0 {
            self.store.control().compact(head.seq, &kept).map_err(cannot_write)?;
            *access = said_by(&kept);
        }
        let bytes = self.store.control().bytes().to_be_bytes();
        self.store.tables().kv_put(LAST.0, LAST.1, &bytes)?;
        Ok(gone)
    }
}

pub(super) fn said_by(lines: &[&[u8]]) -> Access {
    let mut access = Access::default();
    lines.iter().filter_map(|line| read(line)).for_each(|record| access.apply(record));
    access
}

/// None: a text, or what another version wrote.
fn read(line: &[u8]) -> Option<Record> {
    if line.starts_with(TEXT) { None } else { serde_json::from_slice(line).ok() }
}

/// Which lines stay. What another version wrote is not understood, and stays.
fn kept(lines: &[Vec<u8>], now: Ms, used_at: UsedAt<'_>) -> Vec<bool> {
    let records: Vec<Option<Record>> = lines.iter().map(|line| read(line)).collect();
    let mut access = Access::default();
    records.iter().flatten().for_each(|record| access.apply(record.clone()));
    let marks = Marks::of(&records);
    let known = known(&records, &access, marks.first, now);
    let looked = Looked { now, access: &access, marks: &marks, known, used_at };

    let mut stays: Vec<bool> = (records.iter().enumerate())
        .map(|(place, record)| record.as_ref().is_none_or(|record| looked.stays(place, record)))
        .collect();
    looked.few_idle_clients(&records, &mut stays);
    // A link stays as long as a sign-in refers to it: it says whether that one only shows.
    let named = |(record, stays): (&Option<Record>, &bool)| match record {
        Some(Record::SignedIn { token, .. }) if *stays => token.clone(),
        _ => None,
    };
    let used: BTreeSet<String> = records.iter().zip(&stays).filter_map(named).collect();
    for (record, stays) in records.iter().zip(&mut stays) {
        if let Some(Record::Invited { token, until, .. }) = record {
            *stays = *until >= now - LINK_KEPT_MS || used.contains(token);
        }
    }
    // What ends something stays if there was something to end.
    let mut again = Access::default();
    for (record, stays) in records.into_iter().zip(&mut stays) {
        let Some(record) = record.filter(|_| *stays) else { continue };
        *stays = looked.is_recent(&record) || again.is_changed_by(&record);
        again.apply(record);
    }
    stays
}

/// Sign-ins that are remembered.
fn known(
    records: &[Option<Record>],
    access: &Access,
    first: Option<SessionId>,
    now: Ms,
) -> BTreeSet<SessionId> {
    let counts = access.sessions.iter().filter(|(_, session)| !is_over(session, now)).map(|(id, _)| *id);
    // What used up something that would count again without it.
    let used = records.iter().flatten().filter_map(|record| match record {
        Record::SignedIn { session, token: Some(token), .. } => {
            let link = access.invitations.get(token)?;
            (link.until >= now - LINK_KEPT_MS).then_some(*session)
        }
        Record::CameOver { session, at, .. } => pass_counts(*at, now).then_some(*session),
        _ => None,
    });
    counts.chain(used).chain(first).collect()
}

fn is_over(session: &Session, now: Ms) -> bool {
    session.ended.unwrap_or(session.seen_at + TOKEN_MS) < now - KEPT_MS
}

/// Whether the pass could be shown again.
fn pass_counts(at: Ms, now: Ms) -> bool {
    at >= now - 2 * PASS_KEPT_MS
}

/// Where what was said last of something stands.
#[derive(Default)]
struct Marks {
    last: BTreeMap<(&'static str, Uuid), usize>,
    /// Of sister shops and who is who there.
    last_there: BTreeMap<(String, Option<PersonId>), usize>,
    /// The two newest, for what the one before signed may still count.
    keys: [usize; 2],
    told: BTreeMap<PersonId, Vec<usize>>,
    /// It is what ended the links that were made for whoever came in first.
    first: Option<SessionId>,
}

impl Marks {
    fn of(records: &[Option<Record>]) -> Self {
        let mut marks = Self::default();
        for (place, record) in records.iter().enumerate() {
            let Some(record) = record else { continue };
            match record {
                Record::Key { .. } | Record::Rekeyed { .. } => marks.keys = [marks.keys[1], place],
                Record::Sister { sister, .. } => {
                    marks.last_there.insert((sister.id.clone(), None), place);
                }
                Record::Kin { shop, there, .. } => {
                    marks.last_there.insert((shop.clone(), Some(*there)), place);
                }
                Record::Told { person, .. } => marks.told.entry(*person).or_default().push(place),
                Record::ToldRead { person, .. } | Record::Erased { person, .. } => {
                    marks.told.remove(person);
                }
                Record::SignedIn { session, .. }
                | Record::CameOver { session, .. }
                | Record::Proved { session, .. } => {
                    marks.first.get_or_insert(*session);
                }
                _ => {}
            }
            if let Some(of) = one_of_many(record) {
                marks.last.insert(of, place);
            }
        }
        marks
    }
}

/// Of what is said again and again, and only the last counts: what it is said of.
fn one_of_many(record: &Record) -> Option<(&'static str, Uuid)> {
    Some(match record {
        Record::Authority { .. } => ("authority", Uuid::nil()),
        Record::Identity { .. } => ("identity", Uuid::nil()),
        Record::EndsFrom { .. } => ("ends_from", Uuid::nil()),
        Record::Password { person, .. } => ("password", person.0),
        Record::Pin { person, .. } => ("pin", person.0),
        Record::Contact { person, .. } => ("contact", person.0),
        Record::Tried { person, .. } => ("tried", person.0),
        Record::PasskeyUsed { id, .. } => ("passkey used", *id),
        Record::PasskeyNamed { id, .. } => ("passkey named", *id),
        Record::PinFitted { session, .. } => ("fitted", session.0),
        Record::Bound { client, .. } => ("bound", client.0),
        // The last that names the token it used stays too: a copy of that one must still be seen.
        Record::Refreshed { session, used: Some(_), .. } => ("refreshed by", session.0),
        Record::Refreshed { session, used: None, .. } => ("refreshed", session.0),
        _ => return None,
    })
}

struct Looked<'a> {
    now: Ms,
    /// What all of it says.
    access: &'a Access,
    marks: &'a Marks,
    known: BTreeSet<SessionId>,
    used_at: UsedAt<'a>,
}

impl Looked<'_> {
    /// Who looks at what happened to sign-ins still sees it.
    fn is_recent(&self, record: &Record) -> bool {
        let shown = match record {
            Record::SignedOut { at, .. }
            | Record::Removed { at, .. }
            | Record::Sister { at, .. }
            | Record::SisterGone { at, .. } => *at,
            Record::Passkey { passkey, .. } => passkey.since,
            Record::Noted(noted) => noted.at,
            _ => return false,
        };
        shown >= self.now - KEPT_MS
    }

    /// Whether it may still say something, before it is looked at what became of it.
    fn stays(&self, place: usize, record: &Record) -> bool {
        let access = self.access;
        let is_last = || one_of_many(record).is_some_and(|of| self.marks.last.get(&of) == Some(&place));
        let is_last_there =
            |shop: &str, there| self.marks.last_there.get(&(shop.to_owned(), there)) == Some(&place);
        match record {
            Record::Key { .. } | Record::Rekeyed { .. } => self.marks.keys.contains(&place),
            Record::Authority { .. } | Record::Identity { .. } | Record::EndsFrom { .. } => is_last(),
            Record::Sister { sister, .. } => {
                (access.sisters.contains_key(&sister.id) && is_last_there(&sister.id, None))
                    || self.is_recent(record)
            }
            Record::Kin { shop, there, at, .. } => {
                let of = (shop.clone(), *there);
                (access.kin.contains_key(&of) && is_last_there(shop, Some(*there)))
                    || pass_counts(*at, self.now)
            }
            Record::SignedIn { session, .. }
            | Record::CameOver { session, .. }
            | Record::Proved { session, .. } => self.known.contains(session),
            Record::SignedOut { session, .. } => self.known.contains(session) || self.is_recent(record),
            Record::Refreshed { session, .. } => self.known.contains(session) && is_last(),
            Record::PinTried { session, .. } => {
                let fitted = self.marks.last.get(&("fitted", session.0));
                self.known.contains(session) && fitted.is_none_or(|fitted| *fitted < place)
            }
            // Of those who were removed nothing stays that let them in.
            Record::Password { person, .. } => access.passwords.contains_key(person) && is_last(),
            Record::Pin { person, .. } => access.pins.contains_key(person) && is_last(),
            Record::Contact { person, .. } => access.contacts.contains_key(person) && is_last(),
            Record::Tried { person, .. } => access.tried.contains_key(person) && is_last(),
            Record::Read { person, upto } => access.read.get(person) == Some(upto),
            Record::Passkey { id, .. } => access.passkeys.contains_key(id) || self.is_recent(record),
            Record::PasskeyUsed { id, .. } | Record::PasskeyNamed { id, .. } => {
                access.passkeys.contains_key(id) && is_last()
            }
            Record::Told { person, .. } => {
                let waiting = self.marks.told.get(person);
                waiting.is_some_and(|waiting| waiting.iter().rev().take(TOLD_MAX).any(|at| *at == place))
            }
            Record::Noted(_) => self.is_recent(record),
            Record::Bound { client, person, browser, at } => {
                is_last() && self.may_come(client, *person, *browser, *at)
            }
            _ => true,
        }
    }

    /// Whether operations of this client may come: somebody used it, or its person is signed in where it is, or was,
    /// within [`KEPT_MS`]. Where it is was not always said.
    fn may_come(&self, client: &ClientId, person: PersonId, browser: Option<Uuid>, at: Option<Ms>) -> bool {
        let there = |s: &&Session| s.person == person && (browser.is_none() || s.browser == browser);
        let lately = |at: Ms| at >= self.now - KEPT_MS;
        self.is_used(client)
            || at.is_some_and(lately)
            || self.access.sessions.values().filter(there).any(|s| !is_over(s, self.now))
    }

    fn is_used(&self, client: &ClientId) -> bool {
        (self.used_at)(client).is_some_and(|at| at >= self.now - KEPT_MS)
    }

    fn few_idle_clients(&self, records: &[Option<Record>], stays: &mut [bool]) {
        let mut idle = BTreeMap::<(PersonId, Option<Uuid>), usize>::new();
        for (record, stays) in records.iter().zip(stays).rev() {
            // Those of before it was said where they are may be on many.
            if let Some(Record::Bound { client, person, browser, at: Some(_) }) = record
                && *stays
                && !self.is_used(client)
            {
                let count = idle.entry((*person, *browser)).or_default();
                *count += 1;
                *stays = *count <= IDLE_CLIENTS_MAX;
            }
        }
    }
}

impl Access {
    /// Of a record that only ends something: whether there is anything that it ends. Any other says something.
    fn is_changed_by(&self, record: &Record) -> bool {
        let sessions = || self.sessions.values();
        match record {
            Record::SisterGone { id, .. } => {
                self.sisters.contains_key(id)
                    || self.kin.keys().any(|(shop, _)| shop == id)
                    || sessions().any(|s| s.from.as_ref() == Some(id) && s.ended.is_none())
            }
            Record::KinGone { shop, person, .. } => {
                self.kin.iter().any(|((of, _), kin)| of == shop && kin.person == *person)
                    || sessions()
                        .any(|s| s.from.as_ref() == Some(shop) && s.person == *person && s.ended.is_none())
            }
            Record::SignedOut { session, revoked, .. } => {
                self.sessions.get(session).is_some_and(|s| s.ended.is_none() || (*revoked && !s.revoked))
            }
            Record::OthersSignedOut { person, session, .. } => {
                let is_other = |(id, s): (&SessionId, &Session)| {
                    id != session && s.person == *person && !s.display && s.ended.is_none()
                };
                self.sessions.iter().any(is_other)
                    || self.invitations.values().any(|link| link.person == *person && !link.used)
            }
            Record::Removed { person, .. } => {
                self.lets_in(*person)
                    || sessions().any(|s| s.person == *person && !s.revoked)
                    || self.invitations.values().any(|link| link.by == *person && !link.used)
            }
            Record::PinFitted { session, .. } => self.sessions.get(session).is_some_and(|s| s.wrong_pins > 0),
            Record::PasskeyGone { id, .. } => self.passkeys.contains_key(id),
            Record::ToldRead { person, .. } => self.told.contains_key(person),
            Record::Read { person, upto } => self.read.get(person) != Some(upto),
            _ => true,
        }
    }
}

#[cfg(test)]
mod tests;
