//! Passkeys in the wrong hands, at the wrong server, a second time (W3C Web Authentication, level 2, 7.1 and 7.2; ASVS
//! 5.0, 6.3.3 and 6.5). The authenticator is written here by that standard, with an elliptic curve of another library
//! than the server's; `tests/browser/passkey.test.mjs` has a browser's own.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::MINUTE;
use domain::ids::PersonId;
use domain::stored::Role;
use p256::ecdsa::signature::Signer;
use p256::ecdsa::{Signature, SigningKey};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use ureq::Agent;

use crate::support::{Shop, User, agent};

const PASSWORD: &str = "anvil lantern quorum";

fn base64(bytes: impl AsRef<[u8]>) -> String {
    URL_SAFE_NO_PAD.encode(bytes)
}

/// A shop that is reached by a name.
fn shop() -> Shop {
    let mut shop = Shop::start();
    shop.base = shop.base.replace("127.0.0.1", "localhost");
    shop
}

/// What a dishonest page, browser or key does otherwise.
#[derive(Clone)]
pub(super) struct Ways {
    pub(super) origin: String,
    rp: String,
    kind: &'static str,
    cross_origin: bool,
    /// User present, user verified.
    flags: u8,
    handle: Option<Vec<u8>>,
    broken: bool,
}

impl Ways {
    fn right(shop: &Shop, kind: &'static str) -> Self {
        Self::at(&shop.base, kind)
    }

    pub(super) fn at(base: &str, kind: &'static str) -> Self {
        let (origin, rp) = (base.to_owned(), "localhost".into());
        Self { origin, rp, kind, cross_origin: false, flags: 0b101, handle: None, broken: false }
    }

    fn client_data(&self, challenge: &Value) -> String {
        let said = json!({"type": self.kind, "challenge": challenge, "origin": self.origin,
            "crossOrigin": self.cross_origin});
        said.to_string()
    }

    fn data(&self, flags: u8, count: u32) -> Vec<u8> {
        [Sha256::digest(&self.rp).as_slice(), &[flags], &count.to_be_bytes()].concat()
    }
}

pub(super) struct Authenticator {
    key: SigningKey,
    credential: Vec<u8>,
    handle: Vec<u8>,
    count: u32,
}

impl Authenticator {
    pub(super) fn new(n: u8, of: PersonId) -> Self {
        let key = SigningKey::from_slice(&[n; 32]).unwrap();
        Self { key, credential: vec![n; 20], handle: of.0.as_bytes().to_vec(), count: 0 }
    }

    /// Of a kind that counts: a copy is seen.
    pub(super) fn sign(&mut self, challenge: &Value, ways: &Ways) -> Value {
        self.count += 1;
        let client_data = ways.client_data(challenge);
        let data = ways.data(ways.flags, self.count);
        let signed = [&data[..], &Sha256::digest(&client_data)].concat();
        let signature: Signature = self.key.sign(&signed);
        let mut signature = signature.to_der().as_bytes().to_vec();
        if ways.broken {
            *signature.last_mut().unwrap() ^= 1;
        }
        json!({"credential": base64(&self.credential), "client_data": base64(client_data),
            "authenticator_data": base64(data), "signature": base64(signature),
            "user_handle": base64(ways.handle.as_ref().unwrap_or(&self.handle)), "device": "test"})
    }

    /// An attestation object without a statement (level 2, 6.5 and 8.7), as CBOR.
    fn attestation(&self, ways: &Ways) -> Vec<u8> {
        let point = self.key.verifying_key().to_encoded_point(false);
        // {1: 2, 3: -7, -1: 1, -2: x, -3: y}
        let head = [0xa5, 0x01, 0x02, 0x03, 0x26, 0x20, 0x01, 0x21, 0x58, 0x20];
        let cose = [&head[..], point.x().unwrap(), &[0x22, 0x58, 0x20], point.y().unwrap()].concat();
        let length = (self.credential.len() as u16).to_be_bytes();
        let data = ways.data(ways.flags | 1 << 6, self.count);
        let data = [&data[..], &[0; 16], &length, &self.credential, &cose].concat();
        // {"fmt": "none", "attStmt": {}, "authData": data}
        let head = b"\xa3\x63fmt\x64none\x67attStmt\xa0\x68authData\x58";
        [&head[..], &[data.len() as u8], &data].concat()
    }

    pub(super) fn made(&self, challenge: &Value, ways: &Ways, name: &str) -> Value {
        json!({"name": name, "client_data": base64(ways.client_data(challenge)),
            "attestation": base64(self.attestation(ways))})
    }
}

fn begins(user: &User) -> Value {
    let (status, wanted) = user.post("/api/v1/auth/passkeys/begin", json!({"password": PASSWORD}));
    assert_eq!(status, 200, "{wanted}");
    wanted["challenge"].clone()
}

/// With a password, and a passkey made the right way.
fn with_passkey(shop: &Shop, name: &str, role: Role, n: u8) -> (User, Authenticator) {
    let user = shop.user(name, "office", role);
    assert_eq!(user.post("/api/v1/auth/set_password", json!({"password": PASSWORD})).0, 204);
    let key = Authenticator::new(n, user.id);
    let challenge = begins(&user);
    let made = key.made(&challenge, &Ways::right(shop, "webauthn.create"), " Laptop ");
    let (status, list) = user.post("/api/v1/auth/passkeys", made);
    assert_eq!(status, 200, "{list}");
    (user, key)
}

fn post(shop: &Shop, agent: &Agent, path: &str, body: Value) -> (u16, Value) {
    let mut answer = agent.post(format!("{}/api/v1/{path}", shop.base)).send_json(body).unwrap();
    (answer.status().as_u16(), answer.body_mut().read_json().unwrap_or(Value::Null))
}

fn challenge(shop: &Shop, agent: &Agent) -> Value {
    let (status, asked) = post(shop, agent, "auth/passkey/begin", json!({}));
    assert_eq!((status, &asked["rp_id"]), (200, &json!("localhost")), "{asked}");
    asked["challenge"].clone()
}

fn sign_in(shop: &Shop, agent: &Agent, answer: Value) -> (u16, Value) {
    let (status, body) = post(shop, agent, "auth/passkey", answer);
    (status, if status == 200 { body["person"].clone() } else { body["code"].clone() })
}

#[test]
fn a_passkey_signs_its_person_in_and_nobody_else() {
    let shop = shop();
    let (mara, mut key) = with_passkey(&shop, "Mara Lindqvist", Role::Manager, 7);
    let (ugo, mut other) = with_passkey(&shop, "Ugo Brandt", Role::Admin, 8);
    let right = Ways::right(&shop, "webauthn.get");
    let browser = agent();
    let asked = challenge(&shop, &browser);
    let answer = key.sign(&asked, &right);
    assert_eq!(sign_in(&shop, &browser, answer), (200, json!(mara.id)));
    let me = browser.get(format!("{}/api/v1/auth/me", shop.base)).call().unwrap();
    assert_eq!(me.status().as_u16(), 200);

    // Somebody else's key under her name, her key's name under somebody else's key, his handle with her key.
    let asked = challenge(&shop, &browser);
    let mut forged = other.sign(&asked, &right);
    forged["credential"] = json!(base64(&key.credential));
    assert_eq!(sign_in(&shop, &browser, forged).0, 401);
    let asked = challenge(&shop, &browser);
    let handle = Some(ugo.id.0.as_bytes().to_vec());
    let answer = key.sign(&asked, &Ways { handle, ..right.clone() });
    assert_eq!(sign_in(&shop, &browser, answer).0, 401);
    let asked = challenge(&shop, &browser);
    let answer = other.sign(&asked, &right);
    assert_eq!(sign_in(&shop, &browser, answer), (200, json!(ugo.id)));
    let asked = challenge(&shop, &browser);
    let unknown = Authenticator::new(9, mara.id).sign(&asked, &right);
    assert_eq!(sign_in(&shop, &browser, unknown), (404, json!("passkey_unknown")));
}

#[test]
fn what_was_signed_elsewhere_or_by_nobody_opens_nothing() {
    let shop = shop();
    let (mara, mut key) = with_passkey(&shop, "Mara Lindqvist", Role::Manager, 7);
    let right = Ways::right(&shop, "webauthn.get");
    let port = shop.base.rsplit(':').next().unwrap().to_owned();
    let forged: Vec<(&str, Ways)> = vec![
        ("another site", Ways { origin: "https://evil.test".into(), ..right.clone() }),
        ("another port", Ways { origin: "http://localhost:1".into(), ..right.clone() }),
        ("another scheme", Ways { origin: format!("https://localhost:{port}"), ..right.clone() }),
        ("a name that begins so", Ways { origin: format!("{}.evil.test", shop.base), ..right.clone() }),
        ("a frame in another page", Ways { cross_origin: true, ..right.clone() }),
        ("another server's key", Ways { rp: "evil.test".into(), ..right.clone() }),
        ("a server below it", Ways { rp: "shop.localhost".into(), ..right.clone() }),
        ("what was signed for making one", Ways { kind: "webauthn.create", ..right.clone() }),
        ("nobody there", Ways { flags: 0b100, ..right.clone() }),
        ("nobody asked who they are", Ways { flags: 0b001, ..right.clone() }),
        ("no handle", Ways { handle: Some(Vec::new()), ..right.clone() }),
        ("a broken signature", Ways { broken: true, ..right.clone() }),
    ];
    let browser = agent();
    for (what, ways) in forged {
        let asked = challenge(&shop, &browser);
        let answer = key.sign(&asked, &ways);
        assert_eq!(sign_in(&shop, &browser, answer), (401, json!("passkey_wrong")), "{what}");
    }
    let asked = challenge(&shop, &browser);
    let answer = key.sign(&asked, &right);
    assert_eq!(sign_in(&shop, &browser, answer), (200, json!(mara.id)));
}

#[test]
fn a_challenge_is_the_servers_own_for_one_browser_once_and_for_minutes() {
    let shop = shop();
    let (mara, mut key) = with_passkey(&shop, "Mara Lindqvist", Role::Manager, 7);
    let right = Ways::right(&shop, "webauthn.get");
    let (browser, thief) = (agent(), agent());
    challenge(&shop, &thief);
    let asked = challenge(&shop, &browser);
    let answer = key.sign(&asked, &right);
    let wrong = (401, json!("passkey_wrong"));
    assert_eq!(sign_in(&shop, &thief, answer.clone()), wrong, "in another browser");
    assert_eq!(sign_in(&shop, &agent(), answer.clone()), wrong, "in one that asked for none");
    assert_eq!(sign_in(&shop, &browser, answer.clone()), (200, json!(mara.id)));
    assert_eq!(sign_in(&shop, &browser, answer), wrong, "a second time");
    for made_up in [json!(base64([7; 56])), json!(base64([0; 16])), json!("")] {
        let answer = key.sign(&made_up, &right);
        assert_eq!(sign_in(&shop, &browser, answer), wrong, "{made_up}");
    }
    let asked = challenge(&shop, &browser);
    shop.clock.advance(5 * MINUTE);
    let late = key.sign(&asked, &right);
    assert_eq!(sign_in(&shop, &browser, late), wrong, "too late");
    // One that was given for making a passkey signs nobody in, and the other way about.
    let asked = begins(&mara);
    let answer = key.sign(&asked, &right);
    assert_eq!(sign_in(&shop, &mara.agent, answer), wrong);
    let asked = challenge(&shop, &mara.agent);
    let new = Authenticator::new(9, mara.id);
    let made = new.made(&asked, &Ways::right(&shop, "webauthn.create"), "");
    assert_eq!(mara.post("/api/v1/auth/passkeys", made).1["code"], "passkey_wrong");
}

#[test]
fn only_who_just_typed_their_password_makes_a_passkey() {
    let shop = shop();
    let mara = shop.user("Mara Lindqvist", "office", Role::Manager);
    let ugo = shop.user("Ugo Brandt", "office", Role::Manager);
    let teo = shop.user("Teo Salgado", "body", Role::Technician);
    let begin = |user: &User, password: &str| {
        let (status, body) = user.post("/api/v1/auth/passkeys/begin", json!({"password": password}));
        (status, body["code"].clone())
    };
    assert_eq!(begin(&mara, PASSWORD), (403, json!("password_first")));
    assert_eq!(mara.post("/api/v1/auth/set_password", json!({"password": PASSWORD})).0, 204);
    assert_eq!(begin(&mara, "not this one at all"), (401, json!("wrong_password")));
    assert_eq!(begin(&teo, PASSWORD).0, 403);
    let ways = Ways::right(&shop, "webauthn.create");
    let key = Authenticator::new(7, mara.id);
    let make = |user: &User, body: Value| {
        let (status, body) = user.post("/api/v1/auth/passkeys", body);
        (status, body["code"].clone())
    };
    let wrong = (401, json!("passkey_wrong"));
    assert_eq!(make(&mara, key.made(&json!(base64([1; 56])), &ways, "")), wrong);
    let forged = [
        Ways { origin: "https://evil.test".into(), ..ways.clone() },
        Ways { rp: "evil.test".into(), ..ways.clone() },
        Ways { kind: "webauthn.get", ..ways.clone() },
        Ways { flags: 0b001, ..ways.clone() },
        Ways { cross_origin: true, ..ways.clone() },
    ];
    for ways in forged {
        assert_eq!(make(&mara, key.made(&begins(&mara), &ways, "")), wrong, "{}", ways.origin);
    }
    let asked = begins(&mara);
    assert_eq!(make(&ugo, key.made(&asked, &ways, "")), wrong, "another's");
    let (status, list) = mara.post("/api/v1/auth/passkeys", key.made(&asked, &ways, "  Key on my ring "));
    assert_eq!((status, &list["passkeys"][0]["name"]), (200, &json!("Key on my ring")), "{list}");
    assert_eq!(make(&mara, key.made(&asked, &ways, "")), wrong, "a second time");
    assert_eq!(make(&mara, key.made(&begins(&mara), &ways, "")), (409, json!("passkey_known")));
    // She gets to know, wherever it was made; nobody sees or touches what is another's.
    assert_eq!(mara.get("/api/v1/auth/tried").1["told"][0]["what"], "passkey");
    assert_eq!(ugo.get("/api/v1/auth/passkeys").1["passkeys"], json!([]));
    let id = list["passkeys"][0]["id"].as_str().unwrap();
    let path = format!("/api/v1/auth/passkeys/{id}");
    assert_eq!(ugo.put(&path, json!({"name": "Mine"})).0, 404);
    assert_eq!(ugo.delete(&path).0, 404);
    assert_eq!(mara.put(&path, json!({"name": "Ring"})).1["passkeys"][0]["name"], "Ring");
}

#[test]
fn a_copy_that_counts_behind_is_refused_and_told() {
    let shop = shop();
    let admin = shop.user("Ivo Marsh", "office", Role::Admin);
    let (mara, mut key) = with_passkey(&shop, "Mara Lindqvist", Role::Manager, 7);
    let right = Ways::right(&shop, "webauthn.get");
    let browser = agent();
    let mut copy = Authenticator::new(7, mara.id);
    for _ in 0..3 {
        let asked = challenge(&shop, &browser);
        let answer = key.sign(&asked, &right);
        assert_eq!(sign_in(&shop, &browser, answer).0, 200);
    }
    let asked = challenge(&shop, &browser);
    assert_eq!(sign_in(&shop, &browser, copy.sign(&asked, &right)), (401, json!("passkey_copied")));
    let seen = admin.get("/api/v1/security").1["happened"].as_array().unwrap().clone();
    let told = seen.iter().find(|one| one["what"] == "passkey_copied").expect("it is told");
    assert_eq!((&told["about"], &told["address"]), (&json!(mara.id), &json!("127.0.0.1")));
    let ways: Vec<&Value> =
        seen.iter().filter(|one| one["what"] == "signed_in").map(|s| &s["detail"]).collect();
    assert_eq!(ways.iter().filter(|way| **way == "passkey").count(), 3, "{ways:?}");
    // Authenticators that keep no count say 0 each time.
    let (ugo, none) = with_passkey(&shop, "Ugo Brandt", Role::Manager, 8);
    for _ in 0..2 {
        let asked = challenge(&shop, &browser);
        let answer = uncounted(&none, &asked, &right);
        assert_eq!(sign_in(&shop, &browser, answer), (200, json!(ugo.id)));
    }
}

fn uncounted(key: &Authenticator, challenge: &Value, ways: &Ways) -> Value {
    let client_data = ways.client_data(challenge);
    let data = ways.data(ways.flags, 0);
    let signature: Signature = key.key.sign(&[&data[..], &Sha256::digest(&client_data)].concat());
    json!({"credential": base64(&key.credential), "client_data": base64(client_data),
        "authenticator_data": base64(data), "signature": base64(signature.to_der().as_bytes()),
        "user_handle": base64(&key.handle)})
}

#[test]
fn what_was_removed_opens_nothing_and_the_password_still_does() {
    let shop = shop();
    let mut admin = shop.user("Ivo Marsh", "office", Role::Admin);
    let (mara, mut key) = with_passkey(&shop, "Mara Lindqvist", Role::Manager, 7);
    let (ugo, mut his) = with_passkey(&shop, "Ugo Brandt", Role::Manager, 8);
    let right = Ways::right(&shop, "webauthn.get");
    let browser = agent();
    let tries = |key: &mut Authenticator| {
        let asked = challenge(&shop, &browser);
        let answer = key.sign(&asked, &right);
        sign_in(&shop, &browser, answer)
    };
    let unknown = (404, json!("passkey_unknown"));
    assert_eq!((tries(&mut key).0, tries(&mut his).0), (200, 200));
    // Lost: the password is the way in, and takes it away.
    let lost = agent();
    let by_password = json!({"name": "Mara Lindqvist", "password": PASSWORD});
    assert_eq!(post(&shop, &lost, "auth/password", by_password).0, 200);
    let id = mara.get("/api/v1/auth/passkeys").1["passkeys"][0]["id"].as_str().unwrap().to_owned();
    let gone = lost.delete(format!("{}/api/v1/auth/passkeys/{id}", shop.base)).call().unwrap();
    assert_eq!(gone.status().as_u16(), 200);
    assert_eq!(tries(&mut key), unknown);

    // Who may less has none; who was taken off the list has none, also when they come back.
    let set = |admin: &mut User, what: &[(&str, Value)]| {
        let mut person = shop.doc(&format!("person/{}", ugo.id));
        for (field, value) in what {
            person[*field] = value.clone();
        }
        admin.done("set_person", json!({"person": person}));
    };
    set(&mut admin, &[("role", json!("technician"))]);
    assert_eq!(tries(&mut his), unknown);
    set(&mut admin, &[("role", json!("manager"))]);
    assert_eq!(tries(&mut his).0, 200);
    shop.clock.advance(MINUTE);
    set(&mut admin, &[("retired", json!(true))]);
    assert_eq!(tries(&mut his), unknown);
    shop.clock.advance(MINUTE);
    set(&mut admin, &[("retired", json!(false))]);
    assert_eq!(tries(&mut his), unknown);
}

/// Whoever knew the password before may have made one for themselves.
#[test]
fn a_new_password_takes_passkeys_of_other_browsers_away_when_asked() {
    let shop = shop();
    let (mara, mut here) = with_passkey(&shop, "Mara Lindqvist", Role::Manager, 7);
    let thief = agent();
    assert_eq!(
        post(&shop, &thief, "auth/password", json!({"name": "Mara Lindqvist", "password": PASSWORD})).0,
        200
    );
    let (_, wanted) = post(&shop, &thief, "auth/passkeys/begin", json!({"password": PASSWORD}));
    let mut theirs = Authenticator::new(8, mara.id);
    let made = theirs.made(&wanted["challenge"], &Ways::right(&shop, "webauthn.create"), "");
    assert_eq!(post(&shop, &thief, "auth/passkeys", made).0, 200);
    let new = json!({"password": "gravel piano umbrella", "current": PASSWORD, "end_others": true});
    assert_eq!(mara.post("/api/v1/auth/set_password", new).0, 204);
    let right = Ways::right(&shop, "webauthn.get");
    let asked = challenge(&shop, &thief);
    assert_eq!(sign_in(&shop, &thief, theirs.sign(&asked, &right)), (404, json!("passkey_unknown")));
    let browser = agent();
    let asked = challenge(&shop, &browser);
    assert_eq!(sign_in(&shop, &browser, here.sign(&asked, &right)), (200, json!(mara.id)));
}

/// An address belongs to whoever has it in this network today (level 2, 5.1.3: the effective domain is a name).
#[test]
fn by_an_address_there_are_none_and_it_is_said() {
    let shop = Shop::start();
    let mara = shop.user("Mara Lindqvist", "office", Role::Manager);
    assert_eq!(mara.post("/api/v1/auth/set_password", json!({"password": PASSWORD})).0, 204);
    let (status, body) = mara.post("/api/v1/auth/passkeys/begin", json!({"password": PASSWORD}));
    assert_eq!((status, &body["code"]), (409, &json!("passkey_not_here")));
    assert_eq!(post(&shop, &agent(), "auth/passkey/begin", json!({})).1["code"], "passkey_not_here");
    assert_eq!(mara.get("/api/v1/auth/passkeys").1, json!({"passkeys": [], "here": false}));
}

/// The same shop after a restart: what was asked before it counts no longer, what was kept does.
#[test]
fn passkeys_outlast_a_restart_and_challenges_do_not() {
    let store: std::sync::Arc<dyn store::Store> = std::sync::Arc::new(store::Memory::new(7));
    let clock = turnbuckle::clock::Clock::at(crate::support::monday());
    let start = || {
        let mut shop = Shop::start_with(store.clone(), clock.clone(), None);
        shop.base = shop.base.replace("127.0.0.1", "localhost");
        shop
    };
    let before = start();
    let (mara, mut key) = with_passkey(&before, "Mara Lindqvist", Role::Admin, 7);
    let id = mara.id;
    let browser = agent();
    let old = challenge(&before, &browser);
    drop(before);
    clock.advance(MINUTE);
    let after = start();
    let right = Ways::right(&after, "webauthn.get");
    let answer = key.sign(&old, &right);
    assert_eq!(sign_in(&after, &browser, answer).0, 401);
    let asked = challenge(&after, &browser);
    assert_eq!(sign_in(&after, &browser, key.sign(&asked, &right)), (200, json!(id)));
    let told = after.sign_in(id).get("/api/v1/security").1["happened"].as_array().unwrap().clone();
    assert!(told.iter().any(|one| one["what"] == "passkey_made"), "{told:?}");
}
