//! Who may come in: what the records of the journal add up to.
//!
//! Invariants: the same records in the same order give the same answer. Must not know: requests, cookies, rules of work.

use std::collections::BTreeMap;

use domain::Ms;
use domain::ids::{ClientId, PersonId, SessionId};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::record::*;

/// A link with which a person signs in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Invitation {
    /// Whom it signs in.
    pub person: PersonId,
    /// Who made it.
    pub by: PersonId,
    /// Until when it can be used, UTC ms.
    pub until: Ms,
    /// It was used, or is void.
    pub used: bool,
    /// Made by the person, for another device of theirs.
    pub transfer: bool,
    /// For a screen that only shows.
    pub display: bool,
    /// See [`Record::Invited`].
    pub proved: Option<Ms>,
}

/// One sign-in of one person on one device.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Session {
    /// Whose it is.
    pub person: PersonId,
    /// What the device calls itself.
    pub device: String,
    /// When it began, UTC ms.
    pub since: Ms,
    /// When its person last came in by a manager's link or their password: before it, where it was made from another
    /// device of theirs.
    pub proved: Ms,
    /// When its refresh token was last used, UTC ms.
    pub seen_at: Ms,
    /// Highest refresh token ever issued.
    pub generation: u64,
    /// The refresh token that was used to come to it.
    pub used: Option<String>,
    /// When it ended, UTC ms; none: it has not.
    pub ended: Option<Ms>,
    /// Ended against whoever had it in hands: of what was done in it until then only facts count.
    pub revoked: bool,
    /// The browser profile it was made in; none: not known, or a screen on the wall.
    pub browser: Option<Uuid>,
    /// PINs tried here since one that fitted.
    pub wrong_pins: u32,
    /// The sister shop it came from.
    pub from: Option<String>,
    /// Only shows the shop, as a screen on the wall does: nothing is done in it, and no PIN leads from it.
    pub display: bool,
}

impl Session {
    pub(super) fn new(person: PersonId, device: String, at: Ms) -> Self {
        Self {
            person,
            device,
            since: at,
            proved: at,
            seen_at: at,
            generation: 1,
            used: None,
            ended: None,
            revoked: false,
            browser: None,
            wrong_pins: 0,
            from: None,
            display: false,
        }
    }
}

/// A pass is good for minutes; for how long it is remembered that one was used.
pub(super) const PASS_KEPT_MS: Ms = 24 * 3_600_000;

/// Who may come in, as the records of the journal add up to.
#[derive(Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Access {
    /// Signs tokens.
    pub key: Vec<u8>,
    /// See [`Record::Rekeyed`].
    #[serde(default)]
    pub former_key: Option<(Vec<u8>, Ms)>,
    /// Certificate and key of the shop's own authority, PEM; none: there is none yet.
    pub authority: Option<String>,
    /// What this shop signs with for its sisters; none: never needed yet.
    pub identity: Option<Identity>,
    /// Other shops of the same business, by id.
    pub sisters: BTreeMap<String, Sister>,
    /// Who people of a sister shop are here, by shop and by who they are there.
    #[serde(with = "pairs")]
    pub kin: BTreeMap<(String, PersonId), Kin>,
    /// Hashes of passes that were used, and when.
    pub passes: BTreeMap<String, Ms>,
    /// See [`Record::EndsFrom`].
    pub ends_from: Option<Ms>,
    /// Links, by the hash of their secret; used ones too.
    pub invitations: BTreeMap<String, Invitation>,
    /// Sign-ins; ended ones too.
    pub sessions: BTreeMap<SessionId, Session>,
    /// Whose each client is.
    pub clients: BTreeMap<ClientId, PersonId>,
    /// Hashes of passwords.
    pub passwords: BTreeMap<PersonId, String>,
    /// Hashes of PINs.
    pub pins: BTreeMap<PersonId, String>,
    /// How people are reached.
    pub contacts: BTreeMap<PersonId, Contact>,
    /// The log entry up to which each person has read their notices.
    pub read: BTreeMap<PersonId, u64>,
    /// See [`Record::Erased`].
    #[serde(default)]
    pub erased: BTreeMap<PersonId, Ms>,
    /// See [`Record::Tried`].
    pub tried: BTreeMap<PersonId, (u32, Ms)>,
    /// Passkeys, by our own name for them.
    pub passkeys: BTreeMap<Uuid, Passkey>,
    /// See [`Record::Told`]; what was not read yet, the oldest first.
    pub told: BTreeMap<PersonId, Vec<Told>>,
}

/// More than these wait for nobody: the oldest go.
pub(super) const TOLD_MAX: usize = 20;

impl Access {
    /// What may have signed a token or a browser's mark that counts now.
    pub fn keys(&self, now: Ms) -> impl Iterator<Item = &[u8]> {
        let former = self.former_key.iter().filter(move |(_, until)| now < *until).map(|(key, _)| &**key);
        std::iter::once(&*self.key).chain(former)
    }

    /// Whose operations these are and whether they are its own person's, if this sign-in may deliver them: a tablet
    /// delivers everybody's outbox, of all who signed in on the same browser.
    pub fn delivers(&self, session: &SessionId, client: &ClientId) -> Option<(PersonId, bool)> {
        let owner = *self.clients.get(client)?;
        let caller = self.sessions.get(session)?;
        let beside = || {
            caller.browser.is_some()
                && self.sessions.values().any(|s| s.person == owner && s.browser == caller.browser)
        };
        let own = owner == caller.person;
        (own || beside()).then_some((owner, own))
    }

    /// Sign-ins that came from a sister shop, of everybody or of one person.
    pub(super) fn end_all_from(&mut self, shop: &str, person: Option<PersonId>, at: Ms) {
        let came = |s: &&mut Session| {
            s.from.as_deref() == Some(shop) && person.is_none_or(|person| s.person == person)
        };
        for session in self.sessions.values_mut().filter(came) {
            session.ended.get_or_insert(at);
        }
    }

    pub(super) fn void_links(&mut self, person: PersonId) {
        for link in self.invitations.values_mut().filter(|link| link.person == person) {
            link.used = true;
        }
    }

    pub(super) fn remove(&mut self, person: PersonId, at: Ms) {
        for session in self.sessions.values_mut().filter(|s| s.person == person) {
            session.ended.get_or_insert(at);
            session.revoked = true;
        }
        self.void_links(person);
        // What they made for others, too: one of them may be for themselves under another name.
        for link in self.invitations.values_mut().filter(|link| link.by == person) {
            link.used = true;
        }
        self.passwords.remove(&person);
        self.pins.remove(&person);
        self.passkeys.retain(|_, passkey| passkey.person != person);
        self.kin.retain(|_, kin| kin.person != person);
    }

    /// Whether anything still lets this person in.
    pub fn lets_in(&self, person: PersonId) -> bool {
        self.passwords.contains_key(&person)
            || self.pins.contains_key(&person)
            || self.passkeys.values().any(|passkey| passkey.person == person)
            || self.sessions.values().any(|s| s.person == person && s.ended.is_none())
            || self.kin.values().any(|kin| kin.person == person)
            || self.invitations.values().any(|link| link.person == person && !link.used)
    }

    pub(super) fn use_pass(&mut self, pass: String, at: Ms) {
        self.passes.retain(|_, used| at - *used < PASS_KEPT_MS);
        self.passes.insert(pass, at);
    }

    pub(super) fn apply(&mut self, record: Record) {
        match record {
            Record::Key { hex } => match hex::decode(hex) {
                Ok(key) => self.key = key,
                Err(error) => tracing::error!(%error, "a signing key cannot be read and is passed over"),
            },
            Record::Rekeyed { hex, until, .. } => match hex::decode(hex) {
                Ok(key) => self.former_key = Some((std::mem::replace(&mut self.key, key), until)),
                Err(error) => tracing::error!(%error, "a signing key cannot be read and is passed over"),
            },
            Record::Authority { pem } => self.authority = Some(pem).filter(|pem| !pem.is_empty()),
            Record::Identity { pkcs8, public } => match (hex::decode(pkcs8), hex::decode(public)) {
                (Ok(pkcs8), Ok(public)) => {
                    self.identity = Some(Identity { id: shop_id(&public), pkcs8, public });
                }
                _ => tracing::error!("the shop's own identity cannot be read and is passed over"),
            },
            Record::Sister { sister, .. } => {
                self.sisters.insert(sister.id.clone(), sister);
            }
            Record::SisterGone { id, at, .. } => {
                self.sisters.remove(&id);
                self.kin.retain(|(shop, _), _| *shop != id);
                self.end_all_from(&id, None, at);
            }
            Record::Kin { shop, there, name, person, pass, at } => {
                self.kin.insert((shop, there), Kin { person, name });
                self.use_pass(pass, at);
            }
            Record::KinGone { shop, person, at } => {
                self.kin.retain(|(of, _), kin| *of != shop || kin.person != person);
                self.end_all_from(&shop, Some(person), at);
            }
            Record::CameOver { session, person, device, at, shop, pass, browser } => {
                let from = Some(shop);
                let came = Session { browser, from, ..Session::new(person, device, at) };
                self.sessions.insert(session, came);
                self.use_pass(pass, at);
            }
            Record::Text { .. } | Record::Noted(_) => {}
            Record::Invited { token, person, by, until, transfer, display, proved } => {
                let link = Invitation { person, by, until, used: false, transfer, display, proved };
                self.invitations.insert(token, link);
            }
            Record::SignedIn { session, person, device, at, token, browser, .. } => {
                if self.sessions.is_empty() {
                    // Whoever came in first needs none of the links that were made for it any more: one that was
                    // printed, lost and made anew would let in whoever finds it, as the administrator.
                    self.void_links(person);
                }
                let invitation = token.and_then(|t| self.invitations.get_mut(&t));
                let (display, proved) = invitation.map_or((false, None), |invitation| {
                    invitation.used = true;
                    (invitation.display, invitation.proved)
                });
                let proved = proved.unwrap_or(at);
                // Nobody's: what is done on that browser is not done beside it.
                let browser = browser.filter(|_| !display);
                let signed_in = Session { browser, display, proved, ..Session::new(person, device, at) };
                self.sessions.insert(session, signed_in);
            }
            Record::Bound { client, person, .. } => {
                self.clients.insert(client, person);
            }
            Record::EndsFrom { at } => self.ends_from = Some(at),
            Record::Refreshed { session, generation, at, used } => {
                if let Some(session) = self.sessions.get_mut(&session) {
                    if generation > session.generation || session.used.is_none() {
                        session.used = used;
                    }
                    session.generation = session.generation.max(generation);
                    session.seen_at = at;
                }
            }
            Record::SignedOut { session, at, revoked } => {
                if let Some(session) = self.sessions.get_mut(&session) {
                    session.ended.get_or_insert(at);
                    session.revoked |= revoked;
                }
            }
            Record::Proved { session, person, at } => {
                let ended = Session { ended: Some(at), ..Session::new(person, String::new(), at) };
                self.sessions.entry(session).or_insert(ended);
            }
            Record::Password { person, phc } => {
                self.passwords.insert(person, phc);
            }
            Record::Removed { person, at } => self.remove(person, at),
            Record::OthersSignedOut { person, session, at } => {
                let others = |(id, s): &(&SessionId, &mut Session)| {
                    **id != session && s.person == person && !s.display
                };
                for (_, other) in self.sessions.iter_mut().filter(others) {
                    other.ended.get_or_insert(at);
                }
                self.void_links(person);
            }
            Record::Pin { person, phc } => {
                self.pins.insert(person, phc);
            }
            Record::PinTried { session, .. } => {
                if let Some(session) = self.sessions.get_mut(&session) {
                    session.wrong_pins += 1;
                }
            }
            Record::PinFitted { session, .. } => {
                if let Some(session) = self.sessions.get_mut(&session) {
                    session.wrong_pins = 0;
                }
            }
            Record::Tried { person, count, at } => {
                self.tried.insert(person, (count, at));
            }
            Record::Contact { person, contact } => {
                self.contacts.insert(person, contact);
            }
            Record::Passkey { id, passkey } => {
                self.passkeys.insert(id, passkey);
            }
            Record::PasskeyUsed { id, count, at } => {
                if let Some(passkey) = self.passkeys.get_mut(&id) {
                    (passkey.count, passkey.used_at) = (count, Some(at));
                }
            }
            Record::PasskeyNamed { id, name } => {
                if let Some(passkey) = self.passkeys.get_mut(&id) {
                    passkey.name = name;
                }
            }
            Record::PasskeyGone { id, .. } => {
                self.passkeys.remove(&id);
            }
            Record::Told { person, told } => {
                let waiting = self.told.entry(person).or_default();
                if waiting.len() == TOLD_MAX {
                    waiting.remove(0);
                }
                waiting.push(told);
            }
            Record::ToldRead { person, .. } => {
                self.told.remove(&person);
            }
            Record::Erased { person, at } => {
                self.remove(person, at);
                self.contacts.remove(&person);
                self.tried.remove(&person);
                self.read.remove(&person);
                self.told.remove(&person);
                self.erased.entry(person).or_insert(at);
            }
            Record::Read { person, upto } => {
                let read = self.read.entry(person).or_default();
                *read = upto.max(*read);
            }
        }
    }
}

/// JSON has no maps with keys of two parts.
mod pairs {
    use std::collections::BTreeMap;

    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub fn serialize<K: Serialize, V: Serialize, S: Serializer>(
        map: &BTreeMap<K, V>,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        to.collect_seq(map)
    }

    pub fn deserialize<'de, K, V, D>(from: D) -> Result<BTreeMap<K, V>, D::Error>
    where
        K: Deserialize<'de> + Ord,
        V: Deserialize<'de>,
        D: Deserializer<'de>,
    {
        Ok(Vec::<(K, V)>::deserialize(from)?.into_iter().collect())
    }
}
