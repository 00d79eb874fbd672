//! Which fields go in and come out, and whose a client is. The requirements are those of OWASP ASVS 5.0.0, chapter 15.3.

use domain::stored::Role;
use serde_json::{Value, json};
use store::{Memory, Store};
use turnbuckle::clock::Clock;
use uuid::Uuid;

use crate::set_back::backup_of;
use crate::support::{Shop, agent};

/// 15.3.3: fields that a person may not set are not set by sending them.
#[test]
fn what_the_server_sets_is_not_taken_from_what_is_sent() {
    let shop = Shop::start();
    let mut boss = shop.user("Ana Lucero", "office", Role::Admin);
    let mut tech = shop.user("Tomas Okafor", "body", Role::Technician);
    let mut person = shop.doc(&format!("person/{}", tech.id));
    person["retired_at"] = json!(5);
    person["erased_at"] = json!(5);
    assert_eq!(
        boss.act("set_person", json!({"person": person.clone()}))["verdict"],
        "noop",
        "nothing that may be set"
    );
    person["language"] = json!("es");
    boss.done("set_person", json!({"person": person}));
    let kept = shop.doc(&format!("person/{}", tech.id));
    assert_eq!(
        (&kept["erased_at"], &kept["retired_at"], &kept["language"]),
        (&Value::Null, &Value::Null, &json!("es"))
    );
    let order = boss.done(
        "open_order",
        json!({"number": "2041", "vehicle": "grey wagon", "created_by": tech.id, "created_at": 5,
               "stages": [{"stage": "delivered", "at": 5}], "id": Uuid::nil()}),
    );
    let kept = shop.doc(&format!("order/{order}"));
    assert_ne!(kept["stage"], "delivered");
    assert_ne!(kept["created_at"], 5);
    // Who did it, in which role: neither is believed because it is said.
    let mut op = tech.op("set_person", json!({"person": shop.doc(&format!("person/{}", tech.id))}));
    op["args"]["person"]["role"] = json!("admin");
    op["by"] = json!(boss.id);
    op["role"] = json!("admin");
    let told = tech.push(vec![op]).1;
    assert_eq!(told["results"][0]["code"], "forbidden", "{told}");
    assert_eq!(shop.doc(&format!("person/{}", tech.id))["role"], "technician");
    let note = tech.done("note", json!({"order": order, "body": "mine", "by": boss.id, "at": 5}));
    let kept = shop.doc(&format!("note/{note}"));
    assert_eq!(kept["by"], json!(tech.id));
    assert_ne!(kept["at"], 5);
}

/// 15.3.1: what everybody gets holds nothing of how people are reached or come in.
#[test]
fn what_everybody_gets_holds_no_contact_and_no_secret() {
    let shop = Shop::start();
    let boss = shop.user("Ana Lucero", "office", Role::Admin);
    let tech = shop.user("Tomas Okafor", "body", Role::Technician);
    let contact = json!({"email": "ana@shop.example", "mail": true});
    assert_eq!(boss.put(&format!("/api/v1/people/{}/contact", boss.id), contact).0, 200);
    let secret = "unlikely words of brass and rain";
    let (status, said) = boss.post("/api/v1/auth/set_password", json!({"password": secret}));
    assert!(status < 300, "{said}");
    let mut hidden: Vec<String> = vec!["ana@shop.example".into(), secret.into(), "$argon2".into()];
    {
        let access = shop.opened.control.read();
        hidden.push(hex::encode(&access.key));
        hidden.extend(access.invitations.keys().cloned());
        hidden.extend(access.identity.iter().map(|own| hex::encode(&own.pkcs8)));
        hidden.extend(access.passwords.values().cloned());
        assert!(access.passwords.contains_key(&boss.id) && hidden.len() > 6);
    }
    let open = ["/api/v1/sync/pull?after=0", "/api/v1/auth/me", "/api/v1/auth/devices", "/api/v1/notices"];
    for path in open {
        let (status, got) = tech.get(path);
        assert_eq!(status, 200, "{path}");
        let got = got.to_string();
        for word in &hidden {
            assert!(!got.contains(word.as_str()), "{path} says «{word}»");
        }
    }
    // Somebody else's contact is no answer for a colleague.
    assert_eq!(tech.get(&format!("/api/v1/people/{}/contact", boss.id)).0, 403);
}

/// 15.3.7: a name that is sent twice is an error, not a choice between two.
#[test]
fn a_name_that_is_sent_twice_is_refused() {
    let shop = Shop::start();
    let tech = shop.user("Tomas Okafor", "body", Role::Technician);
    let ask = |path: &str| tech.agent.get(format!("{}{path}", shop.base)).call().unwrap().status().as_u16();
    assert_eq!(ask("/api/v1/sync/pull?after=0"), 200);
    assert_eq!(ask("/api/v1/sync/pull?after=0&after=1"), 400);
    let join = |body: &str| {
        let sent = agent().post(format!("{}/api/v1/auth/join", shop.base));
        sent.header("content-type", "application/json").send(body).unwrap().status().as_u16()
    };
    assert_eq!(join(r#"{"token": "never-made"}"#), 404);
    assert_eq!(join(r#"{"token": "never-made", "token": "never-made"}"#), 400);
}

/// The journal forgets clients that nobody has used for long. What was done by one stands in the log, and nobody else
/// goes on under its numbers.
#[test]
fn a_client_that_was_forgotten_is_still_nobody_elses() {
    let shop = Shop::start();
    let mut tech = shop.user("Tomas Okafor", "body", Role::Technician);
    let other = shop.user("Ana Lucero", "office", Role::Admin);
    let mut boss = shop.sign_in(other.id);
    let order = boss.done("open_order", json!({"number": "2041", "vehicle": "grey wagon"}));
    tech.done("note", json!({"order": order, "body": "mine"}));
    let whole = backup_of(&shop);
    let forgot = Memory::new(9);
    let bound = |line: &Vec<u8>| line.starts_with(b"{\"bound\"");
    let lines: Vec<Vec<u8>> = whole.control().replay().map(Result::unwrap).filter(|l| !bound(l)).collect();
    forgot.control().append(&lines.iter().map(Vec::as_slice).collect::<Vec<_>>()).unwrap();
    let log: Vec<Vec<u8>> = whole.log().replay(1).map(|stored| stored.unwrap().body).collect();
    forgot.log().append(0, &log.iter().map(Vec::as_slice).collect::<Vec<_>>()).unwrap();
    let now = shop.clock.now();
    drop(shop);
    let shop = Shop::start_with(std::sync::Arc::new(forgot), Clock::at(now), None);
    let bind = |of, client: &str| shop.sign_in(of).post("/api/v1/auth/client", json!({"client": client})).0;
    assert_eq!(bind(other.id, &tech.client), 409, "the technician's");
    assert_eq!(bind(tech.id, &tech.client), 200, "their own");
    assert_eq!(bind(other.id, &tech.client), 409);
}
