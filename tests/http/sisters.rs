//! Two shops with a server each, and one person who works in both.

use super::support::{Shop, User, agent};
use aws_lc_rs::signature::{ED25519, UnparsedPublicKey};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::stored::Role;
use serde_json::{Value, json};
use turnbuckle::auth;

struct Two {
    north: Shop,
    south: Shop,
    /// The same person: administrator in the north, manager in the south.
    there: User,
    here: User,
}

/// What the person shows in the south when it comes to who they are.
const SECRET: &str = "anvil lantern quorum";

/// Both shops have entered each other.
fn two() -> Two {
    let (north, south) = (Shop::start(), Shop::start());
    let there = north.user("Rosa Quintal", "body", Role::Admin);
    let here = south.user("R. Quintal", "body", Role::Admin);
    for (from, to) in [(&there, &here), (&here, &there)] {
        let code = from.get("/api/v1/sisters").1["code"].clone();
        let (status, sister) = to.post("/api/v1/sisters", json!({"code": code}));
        assert_eq!((status, &sister["name"]), (200, &json!("Two Rivers Body")), "{sister}");
    }
    assert_eq!(here.post("/api/v1/auth/set_password", json!({"password": SECRET})).0, 204);
    Two { north, south, there, here }
}

/// A stranger's pass in a link, and one touch: whoever may plan shows that it is them (ASVS 5.0, 6.4.1 and 7.5.1).
#[test]
fn one_touch_does_not_make_a_stranger_the_planner() {
    let two = two();
    let mallory = two.north.user("Mal Order", "body", Role::Technician);
    let pass = two.pass(&mallory);
    let say = |secret: Option<&str>| {
        two.here.post("/api/v1/auth/kin", json!({"pass": pass, "secret": secret})).1["code"].clone()
    };
    assert_eq!((say(None), say(Some("not this"))), (json!("proof_needed"), json!("proof_needed")));
    assert_eq!(two.come(&pass).1["code"], "not_kin");
    // Who only works there needs none, and the right one goes.
    let lent = two.south.user("Mal, lent", "body", Role::Technician);
    assert_eq!(lent.post("/api/v1/auth/kin", json!({"pass": two.pass(&mallory)})).0, 204);
    assert_eq!(
        two.here.post("/api/v1/auth/kin", json!({"pass": two.pass(&two.there), "secret": SECRET})).0,
        204
    );
}

impl Two {
    /// A pass of the northern shop for the southern one, out of the link.
    fn pass(&self, user: &User) -> String {
        let id = user.get("/api/v1/auth/me").1["shops"][0]["id"].as_str().unwrap().to_owned();
        let (status, over) = user.post(&format!("/api/v1/sisters/{id}/pass"), json!({}));
        assert_eq!(status, 200, "{over}");
        let link = over["link"].as_str().unwrap();
        let (address, pass) = link.split_once("/#over=").unwrap();
        assert_eq!(address, self.south.base);
        pass.to_owned()
    }

    fn come(&self, pass: &str) -> (u16, Value) {
        post(&self.south, "/api/v1/auth/over", json!({"pass": pass, "device": "test"}))
    }
}

fn post(shop: &Shop, path: &str, body: Value) -> (u16, Value) {
    let mut answer = agent().post(format!("{}{path}", shop.base)).send_json(&body).unwrap();
    (answer.status().as_u16(), answer.body_mut().read_json().unwrap_or_default())
}

#[test]
fn who_said_once_who_they_are_comes_over_without_signing_in() {
    let two = two();
    let pass = two.pass(&two.there);
    let (status, arrived) = post(&two.south, "/api/v1/auth/arrive", json!({"pass": pass}));
    assert_eq!((status, arrived), (200, json!({"shop": "Two Rivers Body", "name": "Rosa Quintal"})));
    let (status, body) = two.come(&pass);
    assert_eq!((status, &body["code"]), (409, &json!("not_kin")), "a stranger yet");

    assert_eq!(two.here.post("/api/v1/auth/kin", json!({"pass": pass, "secret": SECRET})).0, 204);
    assert_eq!(two.come(&pass).1["code"], "pass_over", "saying so has used it up");

    let pass = two.pass(&two.there);
    assert_eq!(
        post(&two.south, "/api/v1/auth/arrive", json!({"pass": pass})).1["person"],
        json!(two.here.id),
        "asking does not use it up"
    );
    let (status, signed_in) = two.come(&pass);
    assert_eq!(
        (status, &signed_in["person"], &signed_in["role"]),
        (200, &json!(two.here.id), &json!("admin"))
    );
    assert_eq!(two.come(&pass).1["code"], "pass_over", "once");
    let (_, listed) = two.here.get("/api/v1/auth/devices");
    let from = |device: &&Value| device["from"] == json!("Two Rivers Body");
    assert_eq!(listed["devices"].as_array().unwrap().iter().filter(from).count(), 1, "{listed}");
}

#[test]
fn who_comes_over_can_be_seen_and_ended() {
    let two = two();
    assert_eq!(
        two.here.post("/api/v1/auth/kin", json!({"pass": two.pass(&two.there), "secret": SECRET})).0,
        204
    );
    let (_, came) = two.come(&two.pass(&two.there));
    let session = came["session"].clone();
    let kin = format!("/api/v1/people/{}/kin", two.here.id);
    let (_, listed) = two.here.get(&kin);
    assert_eq!(listed["kin"][0]["name"], "Rosa Quintal", "as they are called there: {listed}");
    let helper = two.south.user("Ada Lindqvist", "body", Role::Technician);
    assert_eq!(helper.get(&kin).0, 403);
    let from = listed["kin"][0]["id"].as_str().unwrap();
    assert_eq!(helper.delete(&format!("{kin}/{from}")).0, 403);
    assert_eq!(two.here.delete(&format!("{kin}/{from}")).0, 204);
    assert_eq!(two.here.delete(&format!("{kin}/{from}")).0, 404);
    assert_eq!(two.come(&two.pass(&two.there)).1["code"], "not_kin");
    let (_, devices) = two.here.get("/api/v1/auth/devices");
    assert!(devices["devices"].as_array().unwrap().iter().all(|d| d["session"] != session), "and is out");
}

/// The role is of here, whatever it is there; who left here does not come in.
#[test]
fn a_pass_gives_what_its_person_may_do_here() {
    let two = two();
    let helper = two.south.user("Rosa, lent", "refinish", Role::Technician);
    assert_eq!(helper.post("/api/v1/auth/kin", json!({"pass": two.pass(&two.there)})).0, 204);
    let (status, signed_in) = two.come(&two.pass(&two.there));
    assert_eq!((status, &signed_in["role"]), (200, &json!("technician")));

    let mut here = two.here;
    let person = two.south.doc(&format!("person/{}", helper.id));
    let mut gone = person.clone();
    gone["retired"] = json!(true);
    here.done("set_person", json!({"person": gone}));
    let two = Two { here, ..two };
    let pass = two.pass(&two.there);
    assert_eq!(post(&two.south, "/api/v1/auth/arrive", json!({"pass": pass})).1.get("person"), None);
    assert_eq!(two.come(&pass).0, 409, "nobody is meant by it any more");
}

#[test]
fn nothing_but_a_fresh_pass_of_a_sister_shop_is_believed() {
    let two = two();
    assert_eq!(
        two.here.post("/api/v1/auth/kin", json!({"pass": two.pass(&two.there), "secret": SECRET})).0,
        204
    );
    let good = two.pass(&two.there);
    let parts: Vec<&str> = good.split('.').collect();
    let claims: Value = serde_json::from_slice(&URL_SAFE_NO_PAD.decode(parts[1]).unwrap()).unwrap();
    let coded = |value: &Value| URL_SAFE_NO_PAD.encode(value.to_string());
    let mut other = claims.clone();
    other["sub"] = json!(two.here.id);
    let swapped = format!("{}.{}.{}", parts[0], coded(&other), parts[2]);
    let unsigned = format!("{}.{}.", coded(&json!({"alg": "none", "typ": "JWT"})), parts[1]);
    // Keyed with what everybody can read: a verifier that takes any algorithm would believe it.
    let public = two.here.get("/api/v1/sisters").1["sisters"][0]["key"].as_str().unwrap().to_owned();
    let header = jsonwebtoken::Header::new(jsonwebtoken::Algorithm::HS256);
    let secret = jsonwebtoken::EncodingKey::from_secret(&hex::decode(public).unwrap());
    let keyed = jsonwebtoken::encode(&header, &claims, &secret).unwrap();
    // Of the southern shop for the northern one, brought home again.
    let back = {
        let id = two.here.get("/api/v1/auth/me").1["shops"][0]["id"].as_str().unwrap().to_owned();
        let (_, over) = two.here.post(&format!("/api/v1/sisters/{id}/pass"), json!({}));
        over["link"].as_str().unwrap().split_once("/#over=").unwrap().1.to_owned()
    };
    for bad in [&swapped, &unsigned, &keyed, &back, "", "a.b.c"] {
        let (status, body) = two.come(bad);
        assert_eq!((status, &body["code"]), (404, &json!("unknown_sister")), "{bad}");
    }
    // Eleven minutes later: its five and five more for clocks that differ.
    two.south.clock.advance(11 * 60_000);
    assert_eq!(two.come(&good).1["code"], "pass_over");
    // A clock that is four minutes ahead is no thief's.
    two.north.clock.advance(15 * 60_000);
    assert_eq!(two.come(&two.pass(&two.there)).0, 200);
    two.north.clock.advance(10 * 60_000);
    assert_eq!(two.come(&two.pass(&two.there)).1["code"], "pass_over");
}

#[test]
fn a_sister_shop_that_is_taken_off_opens_nothing_any_more() {
    let two = two();
    assert_eq!(
        two.here.post("/api/v1/auth/kin", json!({"pass": two.pass(&two.there), "secret": SECRET})).0,
        204
    );
    let late = two.pass(&two.there);
    let mut came = agent().post(format!("{}/api/v1/auth/over", two.south.base));
    came = came.header("Content-Type", "application/json");
    let answer = came.send(json!({"pass": two.pass(&two.there), "device": "test"}).to_string()).unwrap();
    let cookies = answer.headers().get_all("set-cookie").iter().filter_map(|c| c.to_str().ok());
    let access = cookies
        .into_iter()
        .find_map(|c| c.strip_prefix("turnbuckle_access_")?.split(['=', ';']).nth(1))
        .unwrap()
        .to_owned();
    let me = || {
        let asked = agent().get(format!("{}/api/v1/auth/me", two.south.base));
        asked.header("Authorization", format!("Bearer {access}")).call().unwrap().status().as_u16()
    };
    assert_eq!(me(), 200);

    let id = two.here.get("/api/v1/sisters").1["sisters"][0]["id"].as_str().unwrap().to_owned();
    assert_eq!(two.here.delete(&format!("/api/v1/sisters/{id}")).0, 204);
    assert_eq!(me(), 401, "who came from there is out");
    assert_eq!(two.come(&late).1["code"], "unknown_sister");
    assert_eq!(two.here.delete(&format!("/api/v1/sisters/{id}")).0, 404);
    // Entered again, everybody says anew who they are.
    let code = two.there.get("/api/v1/sisters").1["code"].clone();
    assert_eq!(two.here.post("/api/v1/sisters", json!({"code": code})).0, 200);
    assert_eq!(two.come(&two.pass(&two.there)).1["code"], "not_kin");
}

/// Who was erased here is nobody here any more, whatever the sister shop says of them; there they are whoever they were.
#[test]
fn an_erased_person_does_not_come_back_from_a_sister_shop() {
    let two = two();
    let mut boss = two.south.user("Ana Lucero", "office", Role::Admin);
    let said = json!({"pass": two.pass(&two.there), "secret": SECRET});
    assert_eq!(two.here.post("/api/v1/auth/kin", said).0, 204);
    let (early, late) = (two.pass(&two.there), two.pass(&two.there));
    assert_eq!(two.come(&early).0, 200);
    boss.done("erase_person", json!({"person": two.here.id}));
    let kept = || {
        let lines = two.south.opened.store.control().replay().map(|line| line.unwrap());
        String::from_utf8(lines.flatten().collect()).unwrap()
    };
    assert!(!kept().contains("Quintal"), "neither the name of here nor that of there");
    for pass in [late, two.pass(&two.there)] {
        assert_eq!(two.come(&pass).1["code"], "not_kin");
        let arrived = post(&two.south, "/api/v1/auth/arrive", json!({"pass": pass})).1;
        assert_eq!(arrived.get("person"), None, "{arrived}");
    }
    assert!(!kept().contains("Quintal"));
    assert_eq!(two.south.doc(&format!("person/{}", two.here.id))["name"], "—");
    assert_eq!(two.north.doc(&format!("person/{}", two.there.id))["name"], "Rosa Quintal");
}

#[test]
fn only_an_administrator_says_which_shops_belong_together() {
    let two = two();
    let manager = two.south.user("Ada Lindqvist", "body", Role::Manager);
    assert_eq!(manager.get("/api/v1/sisters").0, 403);
    assert_eq!(manager.post("/api/v1/sisters", json!({"code": "x"})).0, 403);
    assert_eq!(manager.delete("/api/v1/sisters/x").0, 403);
    assert_eq!(manager.post("/api/v1/sisters/x/pass", json!({})).0, 404);
    let own = two.here.get("/api/v1/sisters").1["code"].clone();
    for (said, refused) in
        [(own, "own_code"), (json!("nonsense"), "code_unreadable"), (json!(""), "code_unreadable")]
    {
        let (status, body) = two.here.post("/api/v1/sisters", json!({"code": said}));
        assert_eq!((status, &body["code"]), (422, &json!(refused)));
    }
    // A screen on the wall goes nowhere.
    let (token, _) = auth::invite_display(&two.north.opened, two.there.id).unwrap();
    let wall = agent();
    wall.post(format!("{}/api/v1/auth/join", two.north.base)).send_json(json!({"token": token})).unwrap();
    let id = two.there.get("/api/v1/auth/me").1["shops"][0]["id"].as_str().unwrap().to_owned();
    let asked = wall.post(format!("{}/api/v1/sisters/{id}/pass", two.north.base)).send_json(json!({}));
    assert_eq!(asked.unwrap().status(), 403);
}

/// Points of small order (RFC 8032, 5.1; the list of Chalkias, Garillot, Nikolaenko: Taming the many EdDSAs, 2020, table
/// 6b, from memory): under such a key anybody signs.
#[test]
fn a_key_under_which_anybody_signs_is_no_shops() {
    let two = two();
    let code = two.there.get("/api/v1/sisters").1["code"].as_str().unwrap().to_owned();
    let mut said: Value = serde_json::from_slice(&URL_SAFE_NO_PAD.decode(&code).unwrap()).unwrap();
    let order_8 = "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05";
    let identity = format!("01{}", "00".repeat(31));
    for key in [
        identity.clone(),
        "00".repeat(32),
        format!("ec{}7f", "ff".repeat(30)),
        format!("{}80", "00".repeat(31)),
        format!("01{}80", "00".repeat(30)),
        format!("ed{}7f", "ff".repeat(30)),
        format!("ee{}ff", "ff".repeat(30)),
        order_8.into(),
        format!("{}85", &order_8[..62]),
        "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa".into(),
    ] {
        said["key"] = json!(key);
        let forged = URL_SAFE_NO_PAD.encode(said.to_string());
        let (status, body) = two.here.post("/api/v1/sisters", json!({"code": forged}));
        assert_eq!((status, &body["code"]), (422, &json!("code_unreadable")), "{key}");
    }
    // What it would have let through: one signature for whatever is said.
    let anybody = UnparsedPublicKey::new(&ED25519, hex::decode(&identity).unwrap());
    let signature = hex::decode(format!("{identity}{}", "00".repeat(32))).unwrap();
    assert!(["let me in", "and me"].iter().all(|said| anybody.verify(said.as_bytes(), &signature).is_ok()));
    assert_eq!(two.here.post("/api/v1/sisters", json!({"code": code})).0, 200);
}

/// A browser has one cookie jar for all ports of a host: two shops on one machine must not share a name.
#[test]
fn shops_on_one_machine_do_not_sign_each_others_people_out() {
    let two = two();
    let names = |shop: &Shop, user: &User| -> Vec<String> {
        let (token, _) = auth::invite(&shop.opened, user.id, user.id, false).unwrap();
        let answer =
            agent().post(format!("{}/api/v1/auth/join", shop.base)).send_json(json!({"token": token}));
        let answer = answer.unwrap();
        let set = answer.headers().get_all("set-cookie").iter().filter_map(|c| c.to_str().ok());
        set.into_iter().map(|c| c.split('=').next().unwrap().to_owned()).collect()
    };
    let (north, south) = (names(&two.north, &two.there), names(&two.south, &two.here));
    assert_eq!((north.len(), south.len()), (3, 3));
    assert!(north.iter().all(|name| !south.contains(name)), "{north:?} {south:?}");
}
