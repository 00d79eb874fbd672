//! Another device that says it is the shop's tablet, and somebody who holds an unlocked phone
//! (ASVS 5.0, 6.3.3, 7.2.2 and 7.5.1).

use domain::MINUTE;
use domain::stored::Role;
use serde_json::{Value, json};
use turnbuckle::auth;
use turnbuckle::control::Record;
use uuid::Uuid;

use crate::support::{Shop, agent};

#[test]
fn who_states_the_tablets_id_is_not_the_tablet() {
    let shop = Shop::start();
    let tablet = Uuid::new_v4();
    let manager = shop.user("Mara Lindqvist", "office", Role::Manager).id;
    let manager = shop.sign_in_on(manager, Some(tablet), agent());
    assert_eq!(manager.post("/api/v1/auth/pin", json!({"pin": "4711"})).0, 204);
    let teo = shop.user("Teo Salgado", "body", Role::Technician).id;
    // A laptop that knows the id: in the body, as older apps said it, and as a cookie without the server's code.
    let laptop = agent();
    let (token, _) = auth::invite(&shop.opened, teo, teo, false).unwrap();
    let name = shop.browser_cookie(tablet).split_once('=').unwrap().0.to_owned();
    let joined = laptop
        .post(format!("{}/api/v1/auth/join", shop.base))
        .header("cookie", format!("{name}={tablet}"))
        .send_json(json!({"token": token, "device": "laptop", "browser": tablet}))
        .unwrap();
    assert_eq!(joined.status().as_u16(), 200);
    let switch = |agent: &ureq::Agent| {
        let url = format!("{}/api/v1/auth/switch", shop.base);
        let mut answer = agent.post(url).send_json(json!({"person": manager.id, "pin": "4711"})).unwrap();
        (answer.status().as_u16(), answer.body_mut().read_json::<Value>().unwrap())
    };
    let (status, said) = switch(&laptop);
    assert_eq!((status, &said["code"]), (401, &json!("signed_out")), "{said}");
    // On the tablet it opens, whoever is there.
    let there = agent();
    shop.sign_in_on(teo, Some(tablet), there.clone());
    assert_eq!(switch(&there).0, 200);
}

#[test]
fn a_browser_of_before_is_taken_over_by_its_tokens() {
    let shop = Shop::start();
    let id = shop.user("Mara Lindqvist", "office", Role::Manager).id;
    let browser = Uuid::new_v4();
    let old = shop.sign_in_on(id, Some(browser), agent());
    assert_eq!(old.post("/api/v1/auth/pin", json!({"pin": "4711"})).0, 204);
    // Only the two cookies there were then.
    let (token, _) = auth::invite(&shop.opened, id, id, false).unwrap();
    let phone = auth::Phone { browser: Some(browser), device: "tablet".into(), client: None };
    let signed_in = auth::join(&shop.opened, &token, &phone).unwrap();
    let name = shop.browser_cookie(browser).split_once('=').unwrap().0.replace("browser", "refresh");
    let answer = agent()
        .post(format!("{}/api/v1/auth/switch", shop.base))
        .header("cookie", format!("{name}={}", signed_in.refresh))
        .send_json(json!({"person": id, "pin": "4711"}))
        .unwrap();
    assert_eq!(answer.status().as_u16(), 200);
    let set: Vec<_> = answer.headers().get_all("set-cookie").iter().map(|c| c.to_str().unwrap()).collect();
    let made = shop.browser_cookie(browser);
    let own = set.iter().find(|cookie| cookie.starts_with(&made)).expect("and has the server's cookie now");
    assert!(own.contains("HttpOnly") && own.contains("SameSite=Strict"), "{own}");
}

#[test]
fn administrators_have_no_pin_not_even_an_old_one() {
    let shop = Shop::start();
    let tablet = Uuid::new_v4();
    let id = shop.user("Ivo Marsh", "office", Role::Admin).id;
    let there = agent();
    let admin = shop.sign_in_on(id, Some(tablet), there.clone());
    assert_eq!(admin.post("/api/v1/auth/pin", json!({"pin": "4711"})).1["code"], "no_pin");
    let other = shop.user("Greta Amsel", "office", Role::Planner).id;
    let other = shop.sign_in_on(other, Some(tablet), agent());
    assert_eq!(other.post("/api/v1/auth/pin", json!({"pin": "4711"})).0, 204);
    let same = shop.opened.control.read().pins[&other.id].clone();
    shop.opened.control.write(vec![Record::Pin { person: id, phc: same }]).unwrap();
    let url = format!("{}/api/v1/auth/switch", shop.base);
    let mut answer = there.post(url).send_json(json!({"person": id, "pin": "4711"})).unwrap();
    assert_eq!(answer.body_mut().read_json::<Value>().unwrap()["code"], "no_pin");
}

#[test]
fn an_unlocked_phone_makes_no_link_for_whoever_holds_it() {
    let shop = Shop::start();
    let mara = shop.user("Mara Lindqvist", "office", Role::Manager);
    assert_eq!(mara.post("/api/v1/auth/set_password", json!({"password": "anvil lantern quorum"})).0, 204);
    assert_eq!(mara.post("/api/v1/auth/pin", json!({"pin": "4711"})).0, 204);
    shop.clock.advance(11 * MINUTE);
    let link = |secret: Option<&str>| {
        let (status, said) = mara.post("/api/v1/auth/transfer", json!({"secret": secret}));
        if status == 200 { json!("made") } else { said["code"].clone() }
    };
    assert_eq!((link(None), link(Some("0000"))), (json!("proof_needed"), json!("proof_needed")));
    assert_eq!((link(Some("4711")), link(Some("anvil lantern quorum"))), (json!("made"), json!("made")));
    let invite = |body| mara.post("/api/v1/auth/invite", body).0;
    assert_eq!(invite(json!({"person": mara.id})), 403);
    assert_eq!(invite(json!({"person": mara.id, "secret": "4711"})), 200);
    assert_eq!(mara.post("/api/v1/auth/pin", json!({"pin": "5000"})).1["code"], "wrong_pin");
    // Who has neither goes on as before.
    let teo = shop.user("Teo Salgado", "body", Role::Technician);
    shop.clock.advance(11 * MINUTE);
    assert_eq!(teo.post("/api/v1/auth/transfer", json!({})).0, 200);
}
