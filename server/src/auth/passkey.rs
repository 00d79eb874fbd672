//! Passkeys: signing in by a key that an authenticator keeps (W3C Web Authentication, level 2), beside the password of
//! who has one.
//!
//! Invariants: a challenge is the server's own, counts once, for a few minutes, in the browser it was given to and for
//! what it was given for; origin and name of the server are compared whole; the authenticator has looked who is there
//! (user verification); a count of signatures that went back opens nothing. Nothing kept here is secret.
//! Must not know: HTTP, cookies.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use aws_lc_rs::hmac::{self, HMAC_SHA256};
use aws_lc_rs::signature::{
    ECDSA_P256_SHA256_ASN1, ED25519, RSA_PKCS1_2048_8192_SHA256, RsaPublicKeyComponents, UnparsedPublicKey,
};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use ciborium::Value as Cbor;
use domain::Ms;
use domain::ids::{ClientId, PersonId, SessionId};
use domain::stored::Role;
use serde::Deserialize;
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::{AuthError, Phone, SignedIn, Who, bind, finish, fits, random, replaced, signed_in};
use crate::control::{Access, Passkey, Record, Told, ToldOf};
use crate::limits::{PASSKEY_NAME_CHARS_MAX, PASSKEYS_MAX};
use crate::shop::Shop;

/// Looking for the key in one's bag is in it.
pub const CHALLENGE_MS: Ms = 5 * 60_000;

/// Kinds of keys, the best first (IANA, COSE Algorithms): ES256, EdDSA, RS256. Every authenticator makes one of them.
pub const ALGORITHMS: [i64; 3] = [-7, -8, -257];

/// By which name a page reaches this server. Only a name has passkeys: an address belongs to whoever is in the network.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Site {
    /// The host, without the port: what an authenticator knows the server by.
    pub rp: String,
    /// Scheme, host and port, as the browser says them.
    pub origin: String,
}

/// What a challenge is for, and where.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum For {
    SignIn { browser: Uuid },
    Making { session: SessionId },
}

/// Challenges say by themselves what they are for and when they end, under a code of a key that ends with the process;
/// so asking for them fills nothing. Those that were used are remembered until they end.
pub struct Challenges {
    key: hmac::Key,
    used: Mutex<BTreeMap<Vec<u8>, Ms>>,
}

impl Default for Challenges {
    fn default() -> Self {
        Self { key: hmac::Key::new(HMAC_SHA256, &random::<32>()), used: Mutex::default() }
    }
}

const RANDOM_BYTES: usize = 16;
const SAID_BYTES: usize = RANDOM_BYTES + 8;

impl Challenges {
    pub fn new_one(&self, of: For, now: Ms) -> String {
        let mut said = random::<RANDOM_BYTES>().to_vec();
        said.extend((now + CHALLENGE_MS).to_be_bytes());
        let code = hmac::sign(&self.key, &coded(&said, of));
        said.extend(code.as_ref());
        URL_SAFE_NO_PAD.encode(said)
    }

    /// Uses one up; it was ours, for this, and has not ended.
    fn take(&self, challenge: &str, of: For, now: Ms) -> Option<()> {
        let bytes = URL_SAFE_NO_PAD.decode(challenge).ok()?;
        let (said, code) = bytes.split_at_checked(SAID_BYTES)?;
        hmac::verify(&self.key, &coded(said, of), code).ok()?;
        let until = Ms::from_be_bytes(said[RANDOM_BYTES..].try_into().ok()?);
        let mut used = self.used.lock().unwrap_or_else(PoisonError::into_inner);
        used.retain(|_, until| *until > now);
        (until > now && used.insert(said.to_vec(), until).is_none()).then_some(())
    }
}

fn coded(said: &[u8], of: For) -> Vec<u8> {
    let (word, id): (&[u8], Uuid) = match of {
        For::SignIn { browser } => (b"sign-in", browser),
        For::Making { session } => (b"making", session.0),
    };
    [said, word, id.as_bytes()].concat()
}

/// Whoever has a password may have passkeys.
pub fn may_have(role: Role) -> bool {
    role >= Role::Planner
}

/// Before a passkey is made: the person has just typed their password.
pub fn prove(shop: &Shop, who: &Who, password: &str) -> Result<(), AuthError> {
    let phc = shop.control.read().passwords.get(&who.person).cloned().ok_or(AuthError::PasswordFirst)?;
    if fits(password, &phc) { Ok(()) } else { Err(AuthError::WrongPassword) }
}

/// The authenticator's names of what this person has on this server, so that it does not make a second.
pub fn of(shop: &Shop, person: PersonId) -> Vec<(Uuid, Passkey)> {
    let access = shop.control.read();
    access.passkeys.iter().filter(|(_, p)| p.person == person).map(|(id, p)| (*id, p.clone())).collect()
}

/// As a browser gives it: bytes in base64url.
pub struct Made {
    pub name: String,
    pub client_data: String,
    pub attestation: String,
}

/// Keeps a new passkey.
pub fn make(
    shop: &Shop,
    challenges: &Challenges,
    site: &Site,
    who: &Who,
    browser: Option<Uuid>,
    made: &Made,
) -> Result<Uuid, AuthError> {
    let now = shop.clock.now();
    let of = For::Making { session: who.session };
    if !may_have(who.role) {
        return Err(AuthError::PasskeyWrong);
    }
    let read = said_by_browser(&made.client_data, "webauthn.create", site)
        .filter(|(challenge, _)| challenges.take(challenge, of, now).is_some())
        .and_then(|_| attested(&made.attestation, site));
    let (credential, key, count) = read.ok_or(AuthError::PasskeyWrong)?;
    let id = Uuid::now_v7();
    let name: String =
        domain::plain::shown(made.name.trim(), false).chars().take(PASSKEY_NAME_CHARS_MAX).collect();
    shop.control.write_if(|access| {
        if access.passkeys.values().any(|p| p.credential == credential) {
            return Err(AuthError::PasskeyKnown);
        }
        if access.passkeys.values().filter(|p| p.person == who.person).count() >= PASSKEYS_MAX {
            return Err(AuthError::PasskeysMany);
        }
        let (person, rp) = (who.person, site.rp.clone());
        let passkey =
            Passkey { person, name, credential, key, rp, since: now, count, used_at: None, browser };
        let told = Told { what: ToldOf::Passkey, by: person, at: now };
        Ok((id, vec![Record::Passkey { id, passkey }, Record::Told { person, told }]))
    })
}

pub fn rename(shop: &Shop, person: PersonId, id: Uuid, name: &str) -> Result<(), AuthError> {
    let name = domain::plain::shown(name.trim(), false).chars().take(PASSKEY_NAME_CHARS_MAX).collect();
    shop.control.write_if(|access| {
        own(access, person, id)?;
        Ok(((), vec![Record::PasskeyNamed { id, name }]))
    })
}

pub fn remove(shop: &Shop, person: PersonId, id: Uuid) -> Result<(), AuthError> {
    let at = shop.clock.now();
    shop.control.write_if(|access| {
        own(access, person, id)?;
        Ok(((), vec![Record::PasskeyGone { id, at }]))
    })
}

fn own(access: &Access, person: PersonId, id: Uuid) -> Result<&Passkey, AuthError> {
    access.passkeys.get(&id).filter(|p| p.person == person).ok_or(AuthError::PasskeyUnknown)
}

/// As a browser gives it: bytes in base64url.
pub struct Shown {
    pub credential: String,
    pub client_data: String,
    pub authenticator_data: String,
    pub signature: String,
    /// Whose it is, as the authenticator has kept it.
    pub user_handle: String,
}

/// Signs in by a passkey.
pub fn sign_in(
    shop: &Shop,
    challenges: &Challenges,
    site: &Site,
    shown: &Shown,
    phone: &Phone,
) -> Result<SignedIn, AuthError> {
    let now = shop.clock.now();
    let of = For::SignIn { browser: phone.browser.ok_or(AuthError::PasskeyWrong)? };
    let (challenge, client_data) =
        said_by_browser(&shown.client_data, "webauthn.get", site).ok_or(AuthError::PasskeyWrong)?;
    challenges.take(&challenge, of, now).ok_or(AuthError::PasskeyWrong)?;
    let (id, passkey) = {
        let access = shop.control.read();
        let found = access.passkeys.iter().find(|(_, p)| p.credential == shown.credential);
        found.map(|(id, passkey)| (*id, passkey.clone())).ok_or(AuthError::PasskeyUnknown)?
    };
    let person = passkey.person;
    let role = shop.view().state.people.get(&person).filter(|p| !p.retired).map(|p| p.role);
    if !role.is_some_and(may_have) {
        return Err(AuthError::PasskeyUnknown);
    }
    let verified = || {
        let handle = URL_SAFE_NO_PAD.decode(&shown.user_handle).ok()?;
        let data = URL_SAFE_NO_PAD.decode(&shown.authenticator_data).ok()?;
        let about = about(&data, site).filter(|_| passkey.rp == site.rp && handle == person.0.as_bytes())?;
        let signed = [&data[..], &Sha256::digest(client_data)].concat();
        let key = Key::read(&URL_SAFE_NO_PAD.decode(&passkey.key).ok()?)?;
        key.signed(&signed, &URL_SAFE_NO_PAD.decode(&shown.signature).ok()?)?;
        Some(about.count)
    };
    let count = verified().ok_or(AuthError::PasskeyWrong)?;
    let session = SessionId(Uuid::now_v7());
    let client = shop.control.write_if(|access| {
        // It may have been removed meanwhile.
        let kept = own(access, person, id)?;
        // Level 2, 7.2, step 21: who has a copy counts from where it was made. Authenticators that keep none say 0.
        if (count > 0 || kept.count > 0) && count <= kept.count {
            return Err(AuthError::PasskeyCopied { person });
        }
        let (client, mut records): (ClientId, _) = bind(shop, access, phone.client, person, phone.browser)?;
        records.extend(replaced(access, person, phone.browser, now));
        records.push(by_passkey(signed_in(session, person, phone, now, None), id));
        records.push(Record::PasskeyUsed { id, count, at: now });
        Ok((client, records))
    })?;
    finish(shop, person, session, client, 1)
}

fn by_passkey(mut record: Record, id: Uuid) -> Record {
    if let Record::SignedIn { passkey, .. } = &mut record {
        *passkey = Some(id);
    }
    record
}

/// Those made in other browsers go with the other sign-ins.
pub(super) fn made_elsewhere(access: &Access, who: &Who, at: Ms) -> Vec<Record> {
    let here = access.sessions.get(&who.session).and_then(|s| s.browser);
    let elsewhere = |p: &Passkey| p.person == who.person && (here.is_none() || p.browser != here);
    let gone = access.passkeys.iter().filter(|(_, p)| elsewhere(p));
    gone.map(|(id, _)| Record::PasskeyGone { id: *id, at }).collect()
}

/// Level 2, 5.8.1. What else stands in it is not looked at.
#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
struct ClientData {
    #[serde(rename = "type")]
    kind: String,
    challenge: String,
    origin: String,
    #[serde(default)]
    cross_origin: bool,
}

/// The challenge, and the bytes that are signed: if the browser says that a page of this server asked, itself.
fn said_by_browser(base64: &str, kind: &str, site: &Site) -> Option<(String, Vec<u8>)> {
    let bytes = URL_SAFE_NO_PAD.decode(base64).ok()?;
    let said: ClientData = serde_json::from_slice(&bytes).ok()?;
    let right = said.kind == kind && said.origin == site.origin && !said.cross_origin;
    right.then_some((said.challenge, bytes))
}

/// Authenticator data (level 2, 6.1).
struct About<'a> {
    count: u32,
    has_key: bool,
    /// Attested credential data and extensions.
    rest: &'a [u8],
}

const USER_PRESENT: u8 = 1;
const USER_VERIFIED: u8 = 1 << 2;
const HAS_KEY: u8 = 1 << 6;

/// None: for another server, or nobody was asked who they are.
fn about<'a>(data: &'a [u8], site: &Site) -> Option<About<'a>> {
    let (rp, rest) = data.split_at_checked(32)?;
    let (flags, rest) = rest.split_first()?;
    let (count, rest) = rest.split_first_chunk::<4>()?;
    let asked = USER_PRESENT | USER_VERIFIED;
    let right = rp == Sha256::digest(&site.rp).as_slice() && flags & asked == asked;
    right.then_some(About { count: u32::from_be_bytes(*count), has_key: flags & HAS_KEY != 0, rest })
}

/// The longest name of a key (level 2, 4, credential ID).
const CREDENTIAL_BYTES_MAX: usize = 1_023;

/// Name, key and count of what was made. Who made the authenticator is not asked for (attestation "none"), so nothing
/// is read of its statement.
fn attested(base64: &str, site: &Site) -> Option<(String, String, u32)> {
    let object: Cbor = ciborium::from_reader(URL_SAFE_NO_PAD.decode(base64).ok()?.as_slice()).ok()?;
    let (_, data) = object.as_map()?.iter().find(|(name, _)| name.as_text() == Some("authData"))?;
    let about = about(data.as_bytes()?, site).filter(|about| about.has_key)?;
    // The model of the authenticator, 16 bytes, is passed over.
    let (length, rest) = about.rest.get(16..)?.split_first_chunk::<2>()?;
    let length = usize::from(u16::from_be_bytes(*length));
    let (credential, rest) = rest.split_at_checked(length)?;
    if !(1..=CREDENTIAL_BYTES_MAX).contains(&length) {
        return None;
    }
    let mut after = rest;
    let _: Cbor = ciborium::from_reader(&mut after).ok()?;
    let key = &rest[..rest.len() - after.len()];
    Key::read(key)?;
    Some((URL_SAFE_NO_PAD.encode(credential), URL_SAFE_NO_PAD.encode(key), about.count))
}

/// A public key as RFC 9053 writes it.
enum Key {
    Es256([u8; 65]),
    EdDsa(Vec<u8>),
    Rs256 { n: Vec<u8>, e: Vec<u8> },
}

impl Key {
    fn read(cose: &[u8]) -> Option<Self> {
        let map: Cbor = ciborium::from_reader(cose).ok()?;
        let map = map.as_map()?;
        let field = |label: i64| {
            let mut found = map.iter().filter(|(name, _)| name.as_integer() == Some(label.into()));
            // Twice the same label says two things.
            found.next().filter(|_| found.next().is_none()).map(|(_, value)| value)
        };
        let number = |label| field(label)?.as_integer()?.try_into().ok();
        let bytes = |label, length: usize| field(label)?.as_bytes().filter(|bytes| bytes.len() == length);
        // Labels: 1 kind of key, 3 algorithm, -1 curve, -2 x, -3 y; of RSA -1 n, -2 e.
        match (number(1)?, number(3)?) {
            (2_i64, -7_i64) if number(-1) == Some(1_i64) => {
                let mut point = [4; 65];
                point[1..33].copy_from_slice(bytes(-2, 32)?);
                point[33..].copy_from_slice(bytes(-3, 32)?);
                Some(Self::Es256(point))
            }
            (1, -8) if number(-1) == Some(6_i64) => Some(Self::EdDsa(bytes(-2, 32)?.clone())),
            (3, -257) => Some(Self::Rs256 {
                n: field(-1)?.as_bytes()?.clone(),
                e: field(-2)?.as_bytes().filter(|e| (1..=4).contains(&e.len()))?.clone(),
            }),
            _ => None,
        }
    }

    fn signed(&self, message: &[u8], signature: &[u8]) -> Option<()> {
        let right = match self {
            Self::Es256(point) => {
                UnparsedPublicKey::new(&ECDSA_P256_SHA256_ASN1, point).verify(message, signature)
            }
            Self::EdDsa(x) => UnparsedPublicKey::new(&ED25519, x).verify(message, signature),
            Self::Rs256 { n, e } => {
                let key = RsaPublicKeyComponents { n, e };
                key.verify(&RSA_PKCS1_2048_8192_SHA256, message, signature)
            }
        };
        right.ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: Ms = 1_780_000_000_000;

    #[test]
    fn a_challenge_counts_once_where_and_for_what_it_was_given_and_for_five_minutes() {
        let challenges = Challenges::default();
        let (here, there) = (Uuid::from_u128(1), Uuid::from_u128(2));
        let of = For::SignIn { browser: here };
        let new = || challenges.new_one(of, NOW);
        let one = new();
        assert_eq!(challenges.take(&one, For::SignIn { browser: there }, NOW), None);
        assert_eq!(challenges.take(&one, For::Making { session: SessionId(here) }, NOW), None);
        assert_eq!(challenges.take(&one, of, NOW + 1), Some(()));
        assert_eq!(challenges.take(&one, of, NOW + 1), None, "once");
        assert_eq!(challenges.take(&new(), of, NOW + CHALLENGE_MS), None, "too late");
        assert_eq!(Challenges::default().take(&new(), of, NOW), None, "of another start");
        for bad in ["", "AAAA", "not base64!"] {
            assert_eq!(challenges.take(bad, of, NOW), None, "{bad}");
        }
        challenges.take(&new(), of, NOW + CHALLENGE_MS - 1);
        assert_eq!(challenges.used.lock().unwrap().len(), 1, "the first has ended and is forgotten");
    }

    /// RFC 8032, 7.1, test 2; the key as RFC 9053, 7.2 writes it.
    #[test]
    fn keys_are_read_and_believed_as_their_standards_write_them() {
        let x = hex::decode("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c").unwrap();
        let signature = hex::decode(
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
        )
        .unwrap();
        let cose = |pairs: Vec<(i64, Cbor)>| {
            let pairs = pairs.into_iter().map(|(label, value)| (Cbor::from(label), value)).collect();
            let mut bytes = Vec::new();
            ciborium::into_writer(&Cbor::Map(pairs), &mut bytes).unwrap();
            bytes
        };
        let okp = |alg: i64, curve: i64, x: &[u8]| {
            cose(vec![(1, 1.into()), (3, alg.into()), (-1, curve.into()), (-2, Cbor::from(x.to_vec()))])
        };
        let key = Key::read(&okp(-8, 6, &x)).unwrap();
        assert!(key.signed(&[0x72], &signature).is_some());
        assert!(key.signed(&[0x73], &signature).is_none());
        assert!(Key::read(&okp(-7, 6, &x)).is_none() && Key::read(&okp(-8, 4, &x)).is_none());
        assert!(Key::read(&okp(-8, 6, &x[1..])).is_none());
        let twice = vec![(1, 1.into()), (3, (-8).into()), (-1, 6.into()), (-2, Cbor::from(x.clone()))];
        let twice = [twice, vec![(-2, Cbor::from(x))]].concat();
        assert!(Key::read(&cose(twice)).is_none());
        assert!(Key::read(b"").is_none() && Key::read(&[0xff; 80]).is_none());
    }
}
