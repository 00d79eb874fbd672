//! Going over to a sister shop, which has a server of its own: one sign-in for people of several shops.
//!
//! Invariants: the shops' servers never speak to each other; the person's browser carries a *pass* (JWT,
//! EdDSA and nothing else) that one shop signs for one other; it is good for minutes and once. A pass
//! gives only what the person may do *here*: an administrator here must have entered the other shop,
//! and somebody signed in here must have said that they are the one the pass names.
//! Must not know: HTTP, cookies.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::ids::{PersonId, SessionId};
use domain::stored::Role;
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use rcgen::{KeyPair, PKCS_ED25519};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{AuthError, Phone, SignedIn, Who, bind, finish, proves, replaced};
use crate::control::{Access, Identity, Record, Sister, shop_id, token_hash};
use crate::shop::Shop;

/// The way over, with a page that loads slowly and a sign-in between.
const PASS_SECONDS: i64 = 5 * 60;
/// Two boxes without a common time server differ by as much.
const SKEW_SECONDS: i64 = 5 * 60;
/// Longer names and addresses are not of a shop.
const NAME_CHARS_MAX: usize = 120;

pub fn new_identity() -> Record {
    let pair = KeyPair::generate_for(&PKCS_ED25519).expect("a key from the system's random source");
    Record::Identity { pkcs8: hex::encode(pair.serialize_der()), public: hex::encode(pair.public_key_raw()) }
}

/// What a shop tells its sister shops about itself. Nothing in it is secret; what counts is that it comes
/// from the other shop's administrator.
#[derive(Serialize, Deserialize)]
struct ConnectionCode {
    v: u32,
    name: String,
    address: String,
    key: String,
}

fn identity(access: &Access) -> Result<Identity, AuthError> {
    access.identity.clone().ok_or(AuthError::UnknownSister)
}

/// This shop's connection code, for people who reach it at `address`.
pub fn connection_code(shop: &Shop, address: &str) -> Result<String, AuthError> {
    let key = hex::encode(identity(&shop.control.read())?.public);
    let code = ConnectionCode { v: 1, name: name_of(shop), address: address.into(), key };
    Ok(URL_SAFE_NO_PAD.encode(store::json("a connection code", &code)?))
}

pub fn name_of(shop: &Shop) -> String {
    shop.view().state.shop.as_ref().map_or_else(String::new, |shop| shop.name.clone())
}

fn read_code(code: &str) -> Option<Sister> {
    let plain: String = code.chars().filter(|c| !c.is_whitespace()).collect();
    let ConnectionCode { v, name, address, key } =
        serde_json::from_slice(&URL_SAFE_NO_PAD.decode(plain).ok()?).ok()?;
    let public = hex::decode(&key).ok().filter(|bytes| bytes.len() == 32 && !has_small_order(bytes))?;
    let short = |text: &str| (1..=NAME_CHARS_MAX).contains(&text.chars().count());
    (v == 1 && short(&name) && short(&address) && is_origin(&address)).then(|| Sister {
        id: shop_id(&public),
        name,
        address,
        key,
    })
}

/// Points of edwards25519 whose order is 8 or less, as bytes (RFC 8032, 5.1.2), without the sign of x; the last two are
/// 0 and 1 written in the other way that some implementations read. A signature under such a key fits many
/// messages, so it would be no shop's key but everybody's.
const SMALL_ORDER: [&str; 7] = [
    "0000000000000000000000000000000000000000000000000000000000000000",
    "0100000000000000000000000000000000000000000000000000000000000000",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
    "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
];

fn has_small_order(public: &[u8]) -> bool {
    let mut y = public.to_vec();
    if let Some(last) = y.last_mut() {
        *last &= 0x7f;
    }
    SMALL_ORDER.contains(&hex::encode(y).as_str())
}

/// Scheme, host and port and no more: a pass is added behind it.
fn is_origin(address: &str) -> bool {
    let rest = address.strip_prefix("https://").or_else(|| address.strip_prefix("http://"));
    let fits = |c: char| c.is_ascii_alphanumeric() || "-._:[]".contains(c);
    rest.is_some_and(|host| !host.is_empty() && host.chars().all(fits))
}

/// Enters a sister shop by its connection code; entered again it has moved or changed its name.
pub fn add(shop: &Shop, by: PersonId, code: &str) -> Result<Sister, AuthError> {
    let sister = read_code(code).ok_or(AuthError::CodeUnreadable)?;
    let at = shop.clock.now();
    shop.control.write_if(|access| {
        if identity(access)?.id == sister.id {
            return Err(AuthError::OwnCode);
        }
        Ok((sister.clone(), vec![Record::Sister { sister: sister.clone(), by, at }]))
    })
}

pub fn remove(shop: &Shop, by: PersonId, id: &str) -> Result<(), AuthError> {
    let at = shop.clock.now();
    shop.control.write_if(|access| {
        if !access.sisters.contains_key(id) {
            return Err(AuthError::UnknownSister);
        }
        Ok(((), vec![Record::SisterGone { id: id.into(), by, at }]))
    })
}

#[derive(Debug, Clone, Serialize, Deserialize)]
struct Claims {
    /// The shop that sends.
    iss: String,
    /// The shop that is meant.
    aud: String,
    /// The person, by their id where they come from.
    sub: PersonId,
    name: String,
    iat: i64,
    exp: i64,
    jti: Uuid,
}

/// The address that takes this person over to a sister shop.
pub fn link(shop: &Shop, who: &Who, to: &str) -> Result<String, AuthError> {
    let (own, sister) = {
        let access = shop.control.read();
        (identity(&access)?, access.sisters.get(to).cloned().ok_or(AuthError::UnknownSister)?)
    };
    let view = shop.view();
    let person = view.state.people.get(&who.person).ok_or(AuthError::UnknownPerson)?;
    let iat = shop.clock.now() / 1000;
    let claims = Claims {
        iss: own.id,
        aud: sister.id,
        sub: who.person,
        name: person.name.clone(),
        iat,
        exp: iat + PASS_SECONDS,
        jti: Uuid::new_v4(),
    };
    let key = EncodingKey::from_ed_der(&own.pkcs8);
    let pass = jsonwebtoken::encode(&Header::new(Algorithm::EdDSA), &claims, &key);
    // The pass stands behind the '#', so that it reaches no server log and no referrer.
    Ok(format!("{}/#over={}", sister.address, pass.map_err(|_| AuthError::UnknownSister)?))
}

/// A pass that a sister shop signed for this one and that is still good.
struct Pass {
    hash: String,
    sister: Sister,
    there: PersonId,
    name: String,
}

fn read(access: &Access, pass: &str, now: i64) -> Result<Pass, AuthError> {
    let own = identity(access)?;
    let signed_by = |sister: &Sister| {
        let mut validation = Validation::new(Algorithm::EdDSA);
        validation.set_issuer(&[&sister.id]);
        validation.set_audience(&[&own.id]);
        validation.set_required_spec_claims(&["exp", "iss", "aud"]);
        // The time comes from the server's clock, which a test can set.
        validation.validate_exp = false;
        let x = URL_SAFE_NO_PAD.encode(hex::decode(&sister.key).ok()?);
        let key = DecodingKey::from_ed_components(&x).ok()?;
        Some(jsonwebtoken::decode::<Claims>(pass, &key, &validation).ok()?.claims)
    };
    let found = access.sisters.values().find_map(|sister| Some((sister, signed_by(sister)?)));
    let (sister, claims) = found.ok_or(AuthError::UnknownSister)?;
    let hash = token_hash(pass);
    let good = claims.iat <= now + SKEW_SECONDS && now < claims.exp + SKEW_SECONDS;
    let bounded = claims.exp - claims.iat <= PASS_SECONDS;
    if !good || !bounded || access.passes.contains_key(&hash) {
        return Err(AuthError::PassOver);
    }
    Ok(Pass { hash, sister: sister.clone(), there: claims.sub, name: claims.name })
}

/// Who comes, before anything is done.
pub struct Arrival {
    /// The shop they come from.
    pub shop: String,
    /// Their name there.
    pub name: String,
    /// Who they are here, if they said so once.
    pub person: Option<PersonId>,
}

pub fn arrive(shop: &Shop, pass: &str) -> Result<Arrival, AuthError> {
    let access = shop.control.read();
    let pass = read(&access, pass, shop.clock.now() / 1000)?;
    let person = access.kin.get(&(pass.sister.id, pass.there)).map(|kin| kin.person);
    drop(access);
    let view = shop.view();
    let person = person.filter(|id| view.state.people.get(id).is_some_and(|p| !p.retired));
    Ok(Arrival { shop: pass.sister.name, name: pass.name, person })
}

/// Signs in whom the pass names, as who they are here.
pub fn come(shop: &Shop, pass: &str, phone: &Phone) -> Result<SignedIn, AuthError> {
    let at = shop.clock.now();
    let session = SessionId(Uuid::now_v7());
    let (person, client) = shop.control.write_if(|access| {
        let Pass { hash, sister, there, .. } = read(access, pass, at / 1000)?;
        let person = access.kin.get(&(sister.id.clone(), there)).ok_or(AuthError::NotKin)?.person;
        let (client, mut records) = bind(shop, access, phone.client, person, phone.browser)?;
        records.extend(replaced(access, person, phone.browser, at));
        let device = phone.device.chars().take(80).collect();
        let (shop, browser) = (sister.id, phone.browser);
        records.push(Record::CameOver { session, person, device, at, shop, pass: hash, browser });
        Ok::<_, AuthError>(((person, client), records))
    })?;
    finish(shop, person, session, client, 1)
}

/// From now on whom the pass names is this person here. Whoever may more than a technician shows that it is them: a
/// stranger's pass in a link, and one touch, would let the stranger in as them for good.
pub fn say_who(shop: &Shop, who: &Who, pass: &str, secret: Option<&str>) -> Result<(), AuthError> {
    if who.role >= Role::Planner && !secret.is_some_and(|secret| proves(shop, who.person, secret)) {
        return Err(AuthError::ProofNeeded);
    }
    let at = shop.clock.now();
    shop.control.write_if(|access| {
        let Pass { hash: pass, sister, there, name } = read(access, pass, at / 1000)?;
        Ok(((), vec![Record::Kin { shop: sister.id, there, name, person: who.person, pass, at }]))
    })
}

/// From which sister shops, and as whom there, somebody comes in as this person.
pub fn kin_of(shop: &Shop, person: PersonId) -> Vec<(Sister, String)> {
    let access = shop.control.read();
    let own = access.kin.iter().filter(|(_, kin)| kin.person == person);
    own.filter_map(|((id, _), kin)| Some((access.sisters.get(id)?.clone(), kin.name.clone()))).collect()
}

/// Nobody comes over from there as this person any more, until they say so again.
pub fn part(shop: &Shop, person: PersonId, from: &str) -> Result<(), AuthError> {
    let at = shop.clock.now();
    shop.control.write_if(|access| {
        if !access.kin.iter().any(|((id, _), kin)| id == from && kin.person == person) {
            return Err(AuthError::UnknownSister);
        }
        Ok(((), vec![Record::KinGone { shop: from.into(), person, at }]))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_read_as_it_was_written_and_nothing_else_is() {
        let Record::Identity { public, .. } = new_identity() else { panic!() };
        let coded = |v: u32, address: &str, key: &str| {
            let code =
                ConnectionCode { v, name: "Harbour Lane".into(), address: address.into(), key: key.into() };
            URL_SAFE_NO_PAD.encode(serde_json::to_vec(&code).unwrap())
        };
        let good = coded(1, "https://harbour.lan:8443", &public);
        let (head, tail) = good.split_at(20);
        let read = read_code(&format!(" {head}\n {tail} ")).unwrap();
        assert_eq!((read.name.as_str(), read.address.as_str()), ("Harbour Lane", "https://harbour.lan:8443"));
        assert_eq!(read.id, shop_id(&hex::decode(&public).unwrap()));
        for bad in [
            coded(2, "https://harbour.lan", &public),
            coded(1, "https://harbour.lan/path", &public),
            coded(1, "https://harbour.lan/#over=x", &public),
            coded(1, "javascript:alert(1)", &public),
            coded(1, "https://", &public),
            coded(1, "https://harbour.lan", &public[2..]),
            coded(1, &format!("https://{}", "a".repeat(200)), &public),
            good[..40].into(),
            "harbour".into(),
            String::new(),
        ] {
            assert!(read_code(&bad).is_none(), "{bad}");
        }
    }
}
