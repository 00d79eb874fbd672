//! What a line of the control journal can say.
//!
//! Invariants: a kind of record is a promise: its name and its fields stay, a new meaning gets a new name. No record holds a
//! secret that is not its own to keep: links and tokens are hashes.

use domain::Ms;
use domain::ids::{ClientId, PersonId, SessionId};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
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
