//! Guessing, and keeping others out by it (ASVS 5.0, 6.1.1 and 6.3.1).

use domain::MINUTE;
use domain::stored::Role;
use serde_json::json;
use uuid::Uuid;

use crate::support::{Shop, agent};

const PASSWORD: &str = "anvil lantern quorum";

#[test]
fn a_stranger_does_not_keep_somebody_out_of_their_own_browser() {
    let shop = Shop::start();
    let id = shop.user("Mara Lindqvist", "assembly", Role::Manager).id;
    let browser = Uuid::new_v4();
    let mara = shop.sign_in_on(id, Some(browser), agent());
    assert_eq!(mara.post("/api/v1/auth/set_password", json!({"password": PASSWORD})).0, 204);
    let url = format!("{}/api/v1/auth/password", shop.base);
    let own = shop.browser_cookie(browser);
    let sign_in = |cookie: Option<&str>, password: &str| {
        let mut asked = agent().post(&url);
        if let Some(cookie) = cookie {
            asked = asked.header("cookie", cookie);
        }
        let body = json!({"name": "Mara Lindqvist", "password": password});
        asked.send_json(body).unwrap().status().as_u16()
    };
    let tries: Vec<u16> = (0..12).map(|_| sign_in(None, "not this one")).collect();
    assert_eq!((tries[9], tries[10]), (401, 429), "{tries:?}");
    assert_eq!(sign_in(Some(&own), PASSWORD), 200, "her own browser");
    // There, too, nobody guesses for long.
    let tries: Vec<u16> = (0..11).map(|_| sign_in(Some(&own), "not this one")).collect();
    assert_eq!(tries.last(), Some(&429));
    shop.clock.advance(16 * MINUTE);
    assert_eq!(sign_in(None, PASSWORD), 200);
}

#[test]
fn ten_tries_from_nowhere_close_no_face() {
    let shop = Shop::start();
    let id = shop.user("Marta Okafor", "body", Role::Technician).id;
    let (browser, there) = (Uuid::new_v4(), agent());
    let marta = shop.sign_in_on(id, Some(browser), there.clone());
    assert_eq!(marta.post("/api/v1/auth/pin", json!({"pin": "4711"})).0, 204);
    let switch = |agent: &ureq::Agent, pin: &str| {
        let url = format!("{}/api/v1/auth/switch", shop.base);
        agent.post(url).send_json(json!({"person": id, "pin": pin})).unwrap().status().as_u16()
    };
    for _ in 0..20 {
        assert_eq!(switch(&agent(), "0000"), 401);
    }
    assert_eq!(switch(&there, "4711"), 200);
}

#[test]
fn links_are_not_guessed_by_the_thousand() {
    let shop = Shop::start();
    let id = shop.user("Teo Salgado", "body", Role::Technician).id;
    let asked = |path: &str, body: serde_json::Value| {
        agent().post(format!("{}/api/v1/auth/{path}", shop.base)).send_json(body).unwrap().status().as_u16()
    };
    let mut said = Vec::new();
    for guess in 0..210 {
        let path = if guess % 2 == 0 { "join" } else { "look" };
        said.push(asked(path, json!({"token": format!("{guess:010}")})));
    }
    assert_eq!((said[0], said[199], said[200], said[209]), (404, 404, 429, 429));
    assert_eq!(asked("over", json!({"pass": "x"})), 429);
    shop.clock.advance(16 * MINUTE);
    assert_eq!(shop.sign_in(id).get("/api/v1/auth/me").0, 200);
}

/// Waits that grow (NIST SP 800-63B, 5.2.2), and word of it to whom it was tried on.
#[test]
fn waits_grow_and_the_person_is_told_that_somebody_tried() {
    let shop = Shop::start();
    let mara = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let teo = shop.user("Teo Salgado", "body", Role::Technician);
    assert_eq!(mara.post("/api/v1/auth/set_password", json!({"password": PASSWORD})).0, 204);
    let url = format!("{}/api/v1/auth/password", shop.base);
    let sign_in = |password: &str| {
        let body = json!({"name": "Mara Lindqvist", "password": password});
        let answer = agent().post(&url).send_json(body).unwrap();
        let wait =
            answer.headers().get("retry-after").map(|wait| wait.to_str().unwrap().parse::<i64>().unwrap());
        (answer.status().as_u16(), wait)
    };
    let told = |user: &crate::support::User| user.get("/api/v1/auth/tried").1["count"].clone();
    for _ in 0..4 {
        assert_eq!(sign_in("not this one").0, 401);
    }
    assert_eq!(told(&mara), json!(0), "anybody mistypes");
    for _ in 0..6 {
        assert_eq!(sign_in("not this one").0, 401);
    }
    let mut waits = Vec::new();
    for _ in 0..6 {
        let (status, wait) = sign_in("not this one");
        assert_eq!(status, 429);
        // Asking all the time makes it no longer.
        assert_eq!(sign_in("not this one").1, wait);
        waits.push(wait.unwrap());
        shop.clock.advance(wait.unwrap() * 1_000);
        assert_eq!(sign_in("not this one").0, 401, "after the wait");
    }
    assert_eq!(waits, [60, 120, 240, 480, 900, 900]);
    assert_eq!((told(&mara), told(&teo)), (json!(16), json!(0)));
    assert_eq!(mara.delete("/api/v1/auth/tried").0, 204);
    assert_eq!(told(&mara), json!(0), "it was read");
    shop.clock.advance(900_000);
    assert_eq!(sign_in(PASSWORD).0, 200);
    assert_eq!(sign_in("not this one").0, 401, "whoever comes in begins anew");
}
