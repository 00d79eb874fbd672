//! Links and passes in the wrong hands: what is shown before anybody is signed in, and who may make a link for whom
//! (ASVS 5.0, 6.4.1 and 8.2.1).

use domain::stored::Role;
use serde_json::{Value, json};
use turnbuckle::auth;

use crate::support::{Shop, agent};

fn post(shop: &Shop, path: &str, body: Value) -> (u16, Value) {
    let mut answer = agent().post(format!("{}/api/v1/{path}", shop.base)).send_json(body).unwrap();
    (answer.status().as_u16(), answer.body_mut().read_json().unwrap_or(Value::Null))
}

#[test]
fn a_link_is_looked_at_without_being_used() {
    let shop = Shop::start();
    let manager = shop.user("Mara Lindqvist", "office", Role::Manager);
    let teo = shop.user("Teo Salgado", "body", Role::Technician);
    let (_, link) = manager.post("/api/v1/auth/invite", json!({"person": teo.id}));
    let token = json!({"token": link["token"]});
    for _ in 0..2 {
        let (status, seen) = post(&shop, "auth/look", token.clone());
        assert_eq!(status, 200, "{seen}");
        assert_eq!(seen, json!({"shop": "Two Rivers Body", "name": "Teo Salgado", "display": false}));
    }
    assert_eq!(post(&shop, "auth/join", token.clone()).0, 200);
    assert_eq!(post(&shop, "auth/look", token).1["code"], "link_used");
    assert_eq!(post(&shop, "auth/look", json!({"token": "never-made"})).1["code"], "link_unknown");
    let (_, wall) = manager.post("/api/v1/auth/display", json!({}));
    assert_eq!(post(&shop, "auth/look", json!({"token": wall["token"]})).1["display"], true);
}

#[test]
fn a_manager_makes_links_and_moves_mail_only_of_people_who_may_less() {
    let shop = Shop::start();
    let manager = shop.user("Mara Lindqvist", "office", Role::Manager);
    let peer = shop.user("Ugo Brandt", "office", Role::Manager);
    let admin = shop.user("Ivo Marsh", "office", Role::Admin);
    let planner = shop.user("Greta Amsel", "office", Role::Planner);
    let invite = |by: &crate::support::User, whom| by.post("/api/v1/auth/invite", json!({"person": whom})).0;
    assert_eq!(invite(&manager, planner.id), 200);
    assert_eq!(invite(&manager, manager.id), 200);
    assert_eq!((invite(&manager, peer.id), invite(&manager, admin.id)), (403, 403));
    assert_eq!(invite(&admin, peer.id), 200);
    let mail = |by: &crate::support::User, whom| {
        let to = json!({"email": "elsewhere@example.test", "mail": true});
        by.put(&format!("/api/v1/people/{whom}/contact"), to).0
    };
    assert_eq!((mail(&manager, planner.id), mail(&manager, manager.id)), (200, 200));
    assert_eq!((mail(&manager, peer.id), mail(&manager, admin.id)), (403, 403));
    assert_eq!(mail(&admin, peer.id), 200);
}

/// Nobody is above administrators, so whoever is helped gets to know (ASVS 5.0, 6.3.7).
#[test]
fn who_gets_a_link_or_other_mail_by_an_equal_is_told() {
    let shop = Shop::start();
    let admin = shop.user("Ivo Marsh", "office", Role::Admin);
    let peer = shop.user("Rosa Quintal", "office", Role::Admin);
    let teo = shop.user("Teo Salgado", "body", Role::Technician);
    let told = |who: &crate::support::User| who.get("/api/v1/auth/tried").1["told"].clone();
    assert_eq!((told(&admin), told(&peer)), (Value::Null, Value::Null));
    for whom in [&peer, &teo] {
        assert_eq!(admin.post("/api/v1/auth/invite", json!({"person": whom.id})).0, 200);
    }
    let to = json!({"email": "elsewhere@shop.example", "mail": true});
    assert_eq!(admin.put(&format!("/api/v1/people/{}/contact", peer.id), to.clone()).0, 200);
    assert_eq!(peer.put(&format!("/api/v1/people/{}/contact", peer.id), to).0, 200);
    let at = shop.clock.now();
    let one = |what: &str| json!({"what": what, "by": admin.id, "at": at});
    assert_eq!(told(&peer), json!([one("link"), one("contact")]));
    assert_eq!(
        (told(&admin), told(&teo)),
        (Value::Null, Value::Null),
        "a technician's link is a manager's work"
    );
    assert_eq!(peer.delete("/api/v1/auth/tried").0, 204);
    assert_eq!(told(&peer), Value::Null);
}

#[test]
fn a_link_for_who_has_left_shows_nothing() {
    let shop = Shop::start();
    let mut admin = shop.user("Ivo Marsh", "office", Role::Admin);
    let teo = shop.user("Teo Salgado", "body", Role::Technician);
    let (token, _) = auth::invite(&shop.opened, teo.id, admin.id, false).unwrap();
    let mut person = shop.doc(&format!("person/{}", teo.id));
    person["retired"] = json!(true);
    admin.done("set_person", json!({"person": person}));
    assert_eq!(post(&shop, "auth/look", json!({"token": token})).1["code"], "link_used");
}
