//! Who may come in: people's contacts, invitations, devices, sign-ins, passwords; and the texts that
//! stand beside the log. Kept in the control journal, never in the shop log.
//!
//! Invariants: a record is durable before it counts; secrets are kept as hashes only; what a token may
//! do is decided here, what a person may do is decided by `domain`.

mod compact;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use domain::Ms;
use domain::ids::{ClientId, PersonId, SessionId};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use store::{Head, Store};
use uuid::Uuid;

/// One line of the control journal. Versioned by its tag: a new meaning gets a new name.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Record {
    /// Signs access and refresh tokens of this shop.
    Key {
        /// The key, in hex.
        hex: String,
    },
    /// Signs them from now on. What the key before it signed is believed until then.
    Rekeyed {
        /// The new key, in hex.
        hex: String,
        /// When it was made, UTC ms.
        at: Ms,
        /// Until when the former key is still believed, UTC ms.
        until: Ms,
    },
    /// Certificate and key of the shop's own authority, which its devices trust. Empty: it counts no longer, and a new one is made at
    /// the next start.
    Authority {
        /// Certificate and private key, PEM; empty: none.
        pem: String,
    },
    /// What this shop signs with when it sends people over to sister shops: an Ed25519 key (RFC 8032) as
    /// PKCS #8, and its public half, both in hex.
    Identity {
        /// The private key as PKCS #8, in hex.
        pkcs8: String,
        /// Its public half, in hex.
        public: String,
    },
    /// Another shop of the same business: its word for its people counts here.
    Sister {
        /// The other shop.
        sister: Sister,
        /// Who let it in.
        by: PersonId,
        /// When, UTC ms.
        at: Ms,
    },
    /// It counts no longer; who came by it is out.
    SisterGone {
        /// The other shop's id.
        id: String,
        /// Who ended it.
        by: PersonId,
        /// When, UTC ms.
        at: Ms,
    },
    /// A person of a sister shop is this person here: they said so here, signed in.
    Kin {
        /// The other shop's id.
        shop: String,
        /// Who they are there.
        there: PersonId,
        /// What they are called there.
        name: String,
        /// Who they are here.
        person: PersonId,
        /// Hash of the pass they came with; it is used up.
        pass: String,
        /// When, UTC ms.
        at: Ms,
    },
    /// Nobody of that sister shop is this person any more; who came so is out.
    KinGone {
        /// The other shop's id.
        shop: String,
        /// Who it was about here.
        person: PersonId,
        /// When, UTC ms.
        at: Ms,
    },
    /// Came from a sister shop with a pass, which is used up.
    CameOver {
        /// The new sign-in.
        session: SessionId,
        /// Who it is here.
        person: PersonId,
        /// What the device calls itself.
        device: String,
        /// When, UTC ms.
        at: Ms,
        /// The shop they came from.
        shop: String,
        /// Hash of the pass; it is used up.
        pass: String,
        /// The browser profile, as the server's cookie says; none in older records.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        browser: Option<Uuid>,
    },
    /// A text beside the log, under its salted digest.
    Text {
        /// What stands in the log in its place, in hex.
        digest: String,
        /// Random bytes that went into the digest, in hex.
        salt: String,
        /// The text.
        text: String,
    },
    /// A link was made with which a person signs in.
    Invited {
        /// Hash of the link's secret.
        token: String,
        /// Whom it signs in.
        person: PersonId,
        /// Who made it.
        by: PersonId,
        /// Until when it can be used, UTC ms.
        until: Ms,
        /// It was made by the person, for another device of theirs.
        transfer: bool,
        /// For a screen that only shows: what signs in by it enters nothing.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        display: bool,
        /// Made by the person for another device of theirs: when they themselves last came in by a manager's link or
        /// their password.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        proved: Option<Ms>,
    },
    /// An invitation was used: a new sign-in began.
    SignedIn {
        /// The new sign-in.
        session: SessionId,
        /// Who signed in.
        person: PersonId,
        /// What the device calls itself.
        device: String,
        /// When, UTC ms.
        at: Ms,
        /// Hash of the link's secret, which is used up; none: by password, PIN or passkey.
        token: Option<String>,
        /// The browser profile it was made in, as the server's cookie says (its own word, before); older sign-ins have none.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        browser: Option<Uuid>,
        /// By this passkey; other sign-ins, and older ones, have none.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        passkey: Option<Uuid>,
    },
    /// A client was given to a person: what it sends is theirs from now on.
    Bound {
        /// Which client.
        client: ClientId,
        /// Whose it is.
        person: PersonId,
        /// The browser it lives in, if it was known; lines of older releases say neither this nor when.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        browser: Option<Uuid>,
        /// When, UTC ms.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        at: Option<Ms>,
    },
    /// A refresh token was used; the sign-in was seen.
    Refreshed {
        /// Which sign-in.
        session: SessionId,
        /// Generation of the token that was issued.
        generation: u64,
        /// When, UTC ms.
        at: Ms,
        /// Which refresh token of the generation before was used: no other of that generation counts any more.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        used: Option<String>,
    },
    /// From when on sign-ins end by their age; those of before count from here.
    EndsFrom {
        /// When, UTC ms.
        at: Ms,
    },
    /// A sign-in ended.
    SignedOut {
        /// Which sign-in.
        session: SessionId,
        /// When, UTC ms.
        at: Ms,
        /// From another device, or by a manager: the device may be in wrong hands.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        revoked: bool,
    },
    /// A sign-in that was lost when the server was set back: its token, signed by this shop, came back. It
    /// opens nothing any more; what was done in it until then counts.
    Proved {
        /// Which sign-in.
        session: SessionId,
        /// Whose it was.
        person: PersonId,
        /// When its token came back, UTC ms.
        at: Ms,
    },
    /// A person's password was set.
    Password {
        /// Whose.
        person: PersonId,
        /// Its hash, in the PHC string format.
        phc: String,
    },
    /// The person is of the shop no longer: nothing that let them in does so again, also if they come back.
    Removed {
        /// Who left.
        person: PersonId,
        /// When, UTC ms.
        at: Ms,
    },
    /// After a new password: every other sign-in of this person, and every link made for them.
    OthersSignedOut {
        /// Whose sign-ins end.
        person: PersonId,
        /// The one that stays.
        session: SessionId,
        /// When, UTC ms.
        at: Ms,
    },
    /// What changes to this person on a browser where they are signed in already.
    Pin {
        /// Whose PIN.
        person: PersonId,
        /// Its hash, in the PHC string format.
        phc: String,
    },
    /// A PIN was tried on this sign-in's browser; nobody knows yet whether it fits.
    PinTried {
        /// On whose browser.
        session: SessionId,
        /// When, UTC ms.
        at: Ms,
    },
    /// It did.
    PinFitted {
        /// On whose browser.
        session: SessionId,
        /// When, UTC ms.
        at: Ms,
    },
    /// So many wrong passwords were typed for this person since they last looked, the last one then.
    Tried {
        /// Whose password.
        person: PersonId,
        /// How many.
        count: u32,
        /// When the last one was typed, UTC ms.
        at: Ms,
    },
    /// A person's contact was set.
    Contact {
        /// Whose.
        person: PersonId,
        /// The whole contact from now on.
        contact: Contact,
    },
    /// A person signs in by this key of an authenticator of theirs from now on (Web Authentication, level 2).
    Passkey {
        /// Our own name for it.
        id: Uuid,
        /// What is kept of it.
        #[serde(flatten)]
        passkey: Passkey,
    },
    /// It was used; the number is the authenticator's own count of signatures.
    PasskeyUsed {
        /// Which passkey.
        id: Uuid,
        /// The authenticator's count.
        count: u32,
        /// When, UTC ms.
        at: Ms,
    },
    /// Its owner calls it something else.
    PasskeyNamed {
        /// Which passkey.
        id: Uuid,
        /// What it is called now.
        name: String,
    },
    /// It opens nothing any more.
    PasskeyGone {
        /// Which passkey.
        id: Uuid,
        /// When, UTC ms.
        at: Ms,
    },
    /// What happened to sign-ins and rights and stands in no other record, for who looks at it after the next start.
    Noted(Noted),
    /// Something about how this person comes in was changed that they must get to know of.
    Told {
        /// Who must get to know.
        person: PersonId,
        /// What was changed.
        #[serde(flatten)]
        told: Told,
    },
    /// They read all of it.
    ToldRead {
        /// Who read it.
        person: PersonId,
        /// When, UTC ms.
        at: Ms,
    },
    /// The person's name, texts and photos are gone, and none of them is kept again, whatever brings it back.
    Erased {
        /// Who was erased.
        person: PersonId,
        /// When, UTC ms.
        at: Ms,
    },
    /// Notices up to here were read.
    Read {
        /// Whose notices.
        person: PersonId,
        /// The log entry of the last one that was read.
        upto: u64,
    },
}

/// How a person is reached outside the app.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Contact {
    /// Their address; none: they have given none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub email: Option<String>,
    /// Wants notices by e-mail.
    #[serde(default)]
    pub mail: bool,
}

/// See `http::security`, whose words these are. No secret and nothing that was typed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Noted {
    /// When, UTC ms.
    pub at: Ms,
    /// A stable word for what happened.
    pub what: String,
    /// Who did it, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub person: Option<PersonId>,
    /// In which sign-in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub session: Option<SessionId>,
    /// Whom it was done to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub about: Option<PersonId>,
    /// The network address it came from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// A stable word or number that says more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub detail: Option<String>,
}

/// One key of an authenticator. Nothing of it is secret.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Passkey {
    /// Whose it is.
    pub person: PersonId,
    /// What its owner calls it.
    pub name: String,
    /// The authenticator's name for it, base64url.
    pub credential: String,
    /// Its public half as the authenticator gave it (a COSE_Key, RFC 9052), base64url.
    pub key: String,
    /// The name of the server it was made for.
    pub rp: String,
    /// When it was made, UTC ms.
    pub since: Ms,
    /// The authenticator's own count of signatures; one that keeps none says 0.
    #[serde(default)]
    pub count: u32,
    /// When it was last used, UTC ms; none: never.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub used_at: Option<Ms>,
    /// The browser it was made in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub browser: Option<Uuid>,
}

/// What was changed, by whom, when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Told {
    /// What was changed.
    pub what: ToldOf,
    /// Who changed it.
    pub by: PersonId,
    /// When, UTC ms.
    pub at: Ms,
}

/// What about a person's ways of coming in was changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum ToldOf {
    /// A link with which somebody comes in as this person.
    Link,
    /// Where their mail goes.
    Contact,
    /// A passkey was added.
    Passkey,
}

/// Another shop of the same business, on a server of its own.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Sister {
    /// Follows from its key, so nobody else can have it.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// Where its app is: scheme, host and port.
    pub address: String,
    /// Public half of its Ed25519 key, in hex.
    pub key: String,
}

/// Who somebody of a sister shop is here.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Kin {
    /// Who they are here.
    pub person: PersonId,
    /// What they are called there.
    pub name: String,
}

/// This shop, as its sister shops know it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Identity {
    /// Follows from the public key ([`shop_id`]).
    pub id: String,
    /// The private key as PKCS #8.
    pub pkcs8: Vec<u8>,
    /// Its public half.
    pub public: Vec<u8>,
}

/// A shop's id: the beginning of its key's SHA-256.
pub fn shop_id(public: &[u8]) -> String {
    hex::encode(&Sha256::digest(public)[..16])
}

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
    fn new(person: PersonId, device: String, at: Ms) -> Self {
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
const PASS_KEPT_MS: Ms = 24 * 3_600_000;

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
const TOLD_MAX: usize = 20;

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
    fn end_all_from(&mut self, shop: &str, person: Option<PersonId>, at: Ms) {
        let came = |s: &&mut Session| {
            s.from.as_deref() == Some(shop) && person.is_none_or(|person| s.person == person)
        };
        for session in self.sessions.values_mut().filter(came) {
            session.ended.get_or_insert(at);
        }
    }

    fn void_links(&mut self, person: PersonId) {
        for link in self.invitations.values_mut().filter(|link| link.person == person) {
            link.used = true;
        }
    }

    fn remove(&mut self, person: PersonId, at: Ms) {
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

    fn use_pass(&mut self, pass: String, at: Ms) {
        self.passes.retain(|_, used| at - *used < PASS_KEPT_MS);
        self.passes.insert(pass, at);
    }

    fn apply(&mut self, record: Record) {
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

/// What the journal said up to a record, so that a start need not read it from its beginning, where
/// nearly everything is texts.
#[derive(Serialize, Deserialize)]
struct Gist {
    /// Of which build: another may have understood other records.
    build: String,
    seq: u64,
    hash: String,
    access: Access,
}

/// Where it is kept: in the tables, which may be lost.
const GIST: (&str, &[u8]) = ("control", b"gist");
/// The number rises with every new kind of record and every new part of [`Access`].
const BUILD: &str = concat!(env!("CARGO_PKG_VERSION"), " 5");

/// The control journal and what it says.
pub struct Control {
    store: Arc<dyn Store>,
    access: Mutex<Access>,
}

fn read_gist(store: &dyn Store) -> Option<(Head, Access)> {
    let bytes = store.tables().kv_get(GIST.0, GIST.1).ok()??;
    let gist: Gist = serde_json::from_slice(&bytes).ok()?;
    let hash = hex::decode(gist.hash).ok()?.try_into().ok()?;
    (gist.build == BUILD).then_some((Head { seq: gist.seq, hash }, gist.access))
}

/// Texts by digest; needed only to replay the log.
pub type Texts = BTreeMap<String, String>;

/// How the line of a text begins.
const TEXT: &[u8] = b"{\"text\":";

impl Control {
    /// Reads the journal, from the kept snapshot on if that can be used.
    pub fn open(store: Arc<dyn Store>) -> Result<Self, store::Error> {
        let mut access = Access::default();
        let mut rest = None;
        if let Some((at, kept)) = read_gist(&*store)
            && let Some(later) = store.control().replay_after(at)?
        {
            (access, rest) = (kept, Some(later));
        }
        for line in rest.unwrap_or_else(|| store.control().replay()) {
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

    /// What the journal says now, for the next start. Fine to leave out.
    pub fn put_gist(&self) -> Result<(), store::Error> {
        let mut access = self.read();
        let Head { seq, hash } = self.store.control().head();
        let gist =
            Gist { build: BUILD.into(), seq, hash: hex::encode(hash), access: std::mem::take(&mut access) };
        let bytes = store::json("the gist of the control journal", &gist);
        *access = gist.access;
        self.store.tables().kv_put(GIST.0, GIST.1, &bytes?)
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

    /// Takes these texts out of the journal, and what it says about people who were erased besides whose sign-ins
    /// were theirs.
    pub fn forget(&self, digests: &BTreeSet<String>) -> Result<(), store::Error> {
        // Nobody comes in or goes meanwhile.
        let mut access = self.read();
        let head = self.store.control().head();
        let lines: Vec<Vec<u8>> = self.store.control().replay().collect::<Result<_, _>>()?;
        let stays = |line: &&Vec<u8>| match serde_json::from_slice(line) {
            Ok(Record::Text { digest, .. }) => !digests.contains(&digest),
            Ok(
                Record::Contact { person, .. }
                | Record::Kin { person, .. }
                | Record::Password { person, .. }
                | Record::Pin { person, .. }
                | Record::Tried { person, .. },
            ) => !access.erased.contains_key(&person),
            // What another version wrote is not understood, and stays.
            _ => true,
        };
        let kept: Vec<&[u8]> = lines.iter().filter(stays).map(Vec::as_slice).collect();
        self.store.control().compact(head.seq, &kept).map_err(cannot_write)?;
        *access = compact::said_by(&kept);
        drop(access);
        self.put_gist()
    }

    /// What is so now. Holds the lock: nobody comes in meanwhile.
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
            let lines: Result<Vec<Vec<u8>>, _> =
                records.iter().map(|record| store::json("a control record", record)).collect();
            let lines = lines.map_err(E::from)?;
            let lines: Vec<&[u8]> = lines.iter().map(Vec::as_slice).collect();
            self.store.control().append(&lines).map_err(|error| E::from(cannot_write(error)))?;
            records.into_iter().for_each(|record| access.apply(record));
        }
        Ok(answer)
    }
}

/// The journal's refusal, as an error of the store.
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

#[cfg(test)]
mod tests {
    use super::*;
    use store::Memory;

    fn passkey(person: PersonId) -> Passkey {
        Passkey {
            person,
            name: "Laptop".into(),
            credential: "AQID".into(),
            key: "pQ".into(),
            rp: "shop.lan".into(),
            since: 7,
            count: 1,
            used_at: None,
            browser: None,
        }
    }

    /// Lines as the first release that wrote them did: every later one reads them so. Never edited.
    #[test]
    fn lines_of_passkeys_and_what_is_told_are_promises() {
        let one = "01890000-0000-7000-8000-000000000001";
        let lines = [
            format!(
                r#"{{"passkey":{{"id":"{one}","person":"{one}","name":"Laptop","credential":"AQID","key":"pQ","rp":"shop.lan","since":7,"count":1}}}}"#
            ),
            format!(r#"{{"passkey_used":{{"id":"{one}","count":2,"at":8}}}}"#),
            format!(r#"{{"passkey_named":{{"id":"{one}","name":"Ring"}}}}"#),
            format!(r#"{{"passkey_gone":{{"id":"{one}","at":9}}}}"#),
            format!(r#"{{"told":{{"person":"{one}","what":"link","by":"{one}","at":8}}}}"#),
            format!(r#"{{"told_read":{{"person":"{one}","at":9}}}}"#),
            format!(
                r#"{{"noted":{{"at":8,"what":"locked_out","about":"{one}","address":"192.168.4.7","detail":"password"}}}}"#
            ),
        ];
        for line in &lines {
            let record: Record = serde_json::from_str(line).unwrap();
            assert_eq!(serde_json::to_string(&record).unwrap(), *line);
        }
        let mut access = Access::default();
        access.apply(serde_json::from_str(&lines[0]).unwrap());
        let id: Uuid = one.parse().unwrap();
        assert_eq!(access.passkeys[&id], passkey(PersonId(id)));
    }

    /// A new kind of record, or a new part of [`Access`], is in the gist or the next start forgets it.
    #[test]
    fn a_start_from_the_gist_knows_what_a_start_from_the_beginning_knows() {
        let id = |n: u128| Uuid::from_u128(n);
        let (person, other) = (PersonId(id(1)), PersonId(id(2)));
        let (session, client) = (SessionId(id(3)), ClientId(id(4)));
        let sister = |n: u8| Sister {
            id: shop_id(&[n; 32]),
            name: format!("Shop {n}"),
            address: "https://shop.lan".into(),
            key: hex::encode([n; 32]),
        };
        let invited = |token: &str, display| Record::Invited {
            token: token.into(),
            person,
            by: other,
            until: 9,
            transfer: false,
            display,
            proved: None,
        };
        let records = vec![
            Record::Key { hex: "00ff".into() },
            Record::Rekeyed { hex: "11ff".into(), at: 1, until: 9 },
            Record::Authority { pem: "pem".into() },
            Record::Identity { pkcs8: "aa".into(), public: "bb".into() },
            Record::Sister { sister: sister(1), by: person, at: 1 },
            Record::Sister { sister: sister(2), by: person, at: 1 },
            Record::SisterGone { id: sister(2).id, by: person, at: 2 },
            keep_text("a text", [1; 16]).1,
            invited("used", true),
            invited("open", false),
            Record::SignedIn {
                session,
                person,
                device: "phone".into(),
                at: 3,
                token: Some("used".into()),
                browser: Some(id(5)),
                passkey: None,
            },
            Record::Bound { client, person, browser: Some(id(5)), at: Some(3) },
            Record::Refreshed { session, generation: 7, at: 4, used: Some("one".into()) },
            Record::EndsFrom { at: 4 },
            Record::Kin {
                shop: sister(1).id,
                there: other,
                name: "R. Q.".into(),
                person,
                pass: "one".into(),
                at: 5,
            },
            Record::KinGone { shop: sister(1).id, person: other, at: 5 },
            Record::CameOver {
                session: SessionId(id(6)),
                person,
                device: "phone".into(),
                at: 6,
                shop: sister(1).id,
                pass: "two".into(),
                browser: Some(id(5)),
            },
            Record::SignedOut { session, at: 7, revoked: true },
            Record::Proved { session: SessionId(id(7)), person, at: 7 },
            Record::Password { person, phc: "phc".into() },
            Record::Pin { person, phc: "pin".into() },
            Record::PinTried { session, at: 8 },
            Record::PinFitted { session: SessionId(id(6)), at: 8 },
            Record::Contact { person, contact: Contact { email: Some("a@b.test".into()), mail: true } },
            Record::Read { person, upto: 8 },
            Record::Tried { person, count: 7, at: 8 },
            Record::Passkey { id: id(8), passkey: passkey(person) },
            Record::PasskeyUsed { id: id(8), count: 2, at: 8 },
            Record::PasskeyNamed { id: id(8), name: "Ring".into() },
            Record::Passkey { id: id(9), passkey: passkey(other) },
            Record::Passkey { id: id(10), passkey: passkey(person) },
            Record::PasskeyGone { id: id(10), at: 8 },
            Record::Told { person, told: Told { what: ToldOf::Link, by: other, at: 8 } },
            Record::Told { person: other, told: Told { what: ToldOf::Contact, by: person, at: 8 } },
            Record::ToldRead { person: other, at: 8 },
            Record::OthersSignedOut { person, session, at: 8 },
            Record::Removed { person: other, at: 9 },
            Record::Erased { person: other, at: 9 },
        ];
        let store: Arc<dyn Store> = Arc::new(Memory::new(1));
        let control = Control::open(store.clone()).unwrap();
        control.write(records).unwrap();
        control.put_gist().unwrap();
        let (at, kept) = read_gist(&*store).unwrap();
        assert_eq!(at, store.control().head());
        assert_eq!(kept, *control.read());
        let passkeys: Vec<_> =
            kept.passkeys.iter().map(|(at, p)| (*at, &*p.name, p.count, p.used_at)).collect();
        assert_eq!(passkeys, [(id(8), "Ring", 2, Some(8))], "used, named; gone; taken away with its person");
        assert_eq!(kept.told.keys().collect::<Vec<_>>(), [&person]);
        // Every part of it was put to the test.
        let json = serde_json::to_value(&kept).unwrap();
        let empty = serde_json::to_value(Access::default()).unwrap();
        for (part, value) in json.as_object().unwrap() {
            assert_ne!(*value, empty[part], "{part} is in no record above");
        }
    }
}
