//! Who may come in: people's contacts, invitations, devices, sign-ins, passwords; and the texts that
//! stand beside the log. Kept in the control journal, never in the shop log.
//!
//! Invariants: a record is durable before it counts; secrets are kept as hashes only; what a token may
//! do is decided here, what a person may do is decided by `domain`.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use domain::Ms;
use domain::ids::{ClientId, PersonId, SessionId};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use store::Store;
use uuid::Uuid;

/// One line of the control journal. Versioned by its tag: a new meaning gets a new name.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Record {
    /// Signs access and refresh tokens of this shop.
    Key {
        hex: String,
    },
    /// Certificate and key of the shop's own authority, which its devices trust.
    Authority {
        pem: String,
    },
    /// A text beside the log, under its salted digest.
    Text {
        digest: String,
        salt: String,
        text: String,
    },
    Invited {
        token: String,
        person: PersonId,
        by: PersonId,
        until: Ms,
        transfer: bool,
        /// For a screen that only shows: what signs in by it enters nothing.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        display: bool,
    },
    /// An invitation was used: a new sign-in began.
    SignedIn {
        session: SessionId,
        person: PersonId,
        device: String,
        at: Ms,
        token: Option<String>,
        /// The browser profile it was made in, by its own word; older sign-ins have none.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        browser: Option<Uuid>,
    },
    Bound {
        client: ClientId,
        person: PersonId,
    },
    Refreshed {
        session: SessionId,
        generation: u64,
        at: Ms,
    },
    SignedOut {
        session: SessionId,
        at: Ms,
    },
    Password {
        person: PersonId,
        phc: String,
    },
    /// What changes to this person on a browser where they are signed in already.
    Pin {
        person: PersonId,
        phc: String,
    },
    Contact {
        person: PersonId,
        contact: Contact,
    },
    /// Notices up to here were read.
    Read {
        person: PersonId,
        upto: u64,
    },
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Contact {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub email: Option<String>,
    /// Wants notices by e-mail.
    #[serde(default)]
    pub mail: bool,
}

#[derive(Debug, Clone)]
pub struct Invitation {
    pub person: PersonId,
    pub until: Ms,
    pub used: bool,
    pub transfer: bool,
    pub display: bool,
}

#[derive(Debug, Clone)]
pub struct Session {
    pub person: PersonId,
    pub device: String,
    pub since: Ms,
    pub seen_at: Ms,
    /// Highest refresh token ever issued.
    pub generation: u64,
    pub ended: Option<Ms>,
    pub browser: Option<Uuid>,
    /// Only shows the shop, as a screen on the wall does: nothing is done in it, and no PIN leads from it.
    pub display: bool,
}

#[derive(Debug, Default)]
pub struct Access {
    pub key: Vec<u8>,
    pub authority: Option<String>,
    pub invitations: BTreeMap<String, Invitation>,
    pub sessions: BTreeMap<SessionId, Session>,
    pub clients: BTreeMap<ClientId, PersonId>,
    pub passwords: BTreeMap<PersonId, String>,
    pub pins: BTreeMap<PersonId, String>,
    pub contacts: BTreeMap<PersonId, Contact>,
    pub read: BTreeMap<PersonId, u64>,
}

impl Access {
    /// Whose operations these are, if this sign-in may deliver them: its own person's, and those of
    /// everybody who is signed in on the same browser, for a tablet delivers everybody's outbox.
    pub fn delivers(&self, session: &SessionId, client: &ClientId) -> Option<PersonId> {
        let owner = *self.clients.get(client)?;
        let caller = self.sessions.get(session)?;
        let beside = || {
            caller.browser.is_some()
                && self.sessions.values().any(|s| s.person == owner && s.browser == caller.browser)
        };
        (owner == caller.person || beside()).then_some(owner)
    }

    fn apply(&mut self, record: Record) {
        match record {
            Record::Key { hex } => self.key = hex::decode(hex).unwrap_or_default(),
            Record::Authority { pem } => self.authority = Some(pem),
            Record::Text { .. } => {}
            Record::Invited { token, person, until, transfer, display, .. } => {
                self.invitations.insert(token, Invitation { person, until, used: false, transfer, display });
            }
            Record::SignedIn { session, person, device, at, token, browser } => {
                let invitation = token.and_then(|t| self.invitations.get_mut(&t));
                let display = invitation.is_some_and(|invitation| {
                    invitation.used = true;
                    invitation.display
                });
                let signed_in = Session {
                    person,
                    device,
                    since: at,
                    seen_at: at,
                    generation: 1,
                    ended: None,
                    // Nobody's: what is done on that browser is not done beside it.
                    browser: browser.filter(|_| !display),
                    display,
                };
                self.sessions.insert(session, signed_in);
            }
            Record::Bound { client, person } => {
                self.clients.insert(client, person);
            }
            Record::Refreshed { session, generation, at } => {
                if let Some(session) = self.sessions.get_mut(&session) {
                    session.generation = session.generation.max(generation);
                    session.seen_at = at;
                }
            }
            Record::SignedOut { session, at } => {
                if let Some(session) = self.sessions.get_mut(&session) {
                    session.ended.get_or_insert(at);
                }
            }
            Record::Password { person, phc } => {
                self.passwords.insert(person, phc);
            }
            Record::Pin { person, phc } => {
                self.pins.insert(person, phc);
            }
            Record::Contact { person, contact } => {
                self.contacts.insert(person, contact);
            }
            Record::Read { person, upto } => {
                let read = self.read.entry(person).or_default();
                *read = upto.max(*read);
            }
        }
    }
}

/// The control journal and what it says.
pub struct Control {
    store: Arc<dyn Store>,
    access: Mutex<Access>,
}

/// Texts by digest; needed only to replay the log.
pub type Texts = BTreeMap<String, String>;

/// How the line of a text begins.
const TEXT: &[u8] = b"{\"text\":";

impl Control {
    pub fn open(store: Arc<dyn Store>) -> Result<Self, store::Error> {
        let mut access = Access::default();
        for line in store.control().replay() {
            let line = line?;
            // Nearly all of them after a few years, and nothing that says who may come in.
            if line.starts_with(TEXT) {
                continue;
            }
            match serde_json::from_slice(&line) {
                Ok(record) => access.apply(record),
                Err(error) => tracing::warn!(%error, "a control record of another version was passed over"),
            }
        }
        Ok(Self { store, access: Mutex::new(access) })
    }

    /// The texts under these digests, as far as they are still there.
    pub fn texts(store: &dyn Store, wanted: &BTreeSet<String>) -> Result<Texts, store::Error> {
        let mut texts = Texts::new();
        if wanted.is_empty() {
            return Ok(texts);
        }
        for line in store.control().replay() {
            let line = line?;
            if !line.starts_with(TEXT) {
                continue;
            }
            if let Ok(Record::Text { digest, text, .. }) = serde_json::from_slice(&line)
                && wanted.contains(&digest)
            {
                texts.insert(digest, text);
            }
        }
        Ok(texts)
    }

    pub fn read(&self) -> MutexGuard<'_, Access> {
        self.access.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Durable first, then true.
    pub fn write(&self, records: Vec<Record>) -> Result<(), store::Error> {
        self.write_if(|_| Ok::<_, store::Error>(((), records)))
    }

    /// Decides on what is so now and records the decision, as one step.
    pub fn write_if<T, E: From<store::Error>>(
        &self,
        decide: impl FnOnce(&Access) -> Result<(T, Vec<Record>), E>,
    ) -> Result<T, E> {
        let mut access = self.read();
        let (answer, records) = decide(&access)?;
        if !records.is_empty() {
            let lines: Vec<Vec<u8>> =
                records.iter().map(|r| serde_json::to_vec(r).unwrap_or_default()).collect();
            let lines: Vec<&[u8]> = lines.iter().map(Vec::as_slice).collect();
            self.store.control().append(&lines).map_err(|error| E::from(cannot_write(error)))?;
            records.into_iter().for_each(|record| access.apply(record));
        }
        Ok(answer)
    }
}

pub fn cannot_write(error: store::AppendError) -> store::Error {
    store::Error::from(error)
}

/// The digest under which a text stands in the log, and the record that keeps it.
pub fn keep_text(text: &str, salt: [u8; 16]) -> (String, Record) {
    let mut hash = Sha256::new();
    hash.update(salt);
    hash.update(text.as_bytes());
    let digest = hex::encode(&hash.finalize()[..16]);
    let record = Record::Text { digest: digest.clone(), salt: hex::encode(salt), text: text.to_owned() };
    (digest, record)
}

/// Secrets in links are kept as hashes only.
pub fn token_hash(token: &str) -> String {
    hex::encode(Sha256::digest(token.as_bytes()))
}
