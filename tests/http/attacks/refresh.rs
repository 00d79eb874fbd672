//! A copied refresh token, and sign-ins that never end (RFC 9700, 4.14.2; ASVS 5.0, 7.3.1, 7.3.2 and 10.4.5).

use domain::ids::PersonId;
use domain::stored::Role;
use domain::{MINUTE, Ms};
use serde_json::json;
use turnbuckle::auth;
use uuid::Uuid;

use crate::support::{Shop, User, agent};

const DAY: Ms = 24 * 60 * MINUTE;

fn sign_in(shop: &Shop, person: PersonId, browser: Option<Uuid>) -> auth::SignedIn {
    let (token, _) = auth::invite(&shop.opened, person, person, false).unwrap();
    let phone = auth::Phone { device: "phone".into(), browser, client: None };
    auth::join(&shop.opened, &token, &phone).unwrap()
}

/// Over the wire: the status, and the next token.
fn refresh(shop: &Shop, token: &str) -> Option<String> {
    let id = shop.opened.control.read().identity.as_ref().unwrap().id[..8].to_owned();
    let name = format!("turnbuckle_refresh_{id}=");
    let url = format!("{}/api/v1/auth/refresh", shop.base);
    let answer = agent().post(url).header("cookie", format!("{name}{token}")).send_empty().unwrap();
    let set = answer.headers().get_all("set-cookie").iter().map(|cookie| cookie.to_str().unwrap());
    let mut next = set.filter_map(|cookie| Some(cookie.strip_prefix(&name)?.split(';').next()?.to_owned()));
    (answer.status().as_u16() == 200).then(|| next.next().unwrap())
}

#[test]
fn a_copy_that_keeps_step_with_its_owner_is_seen() {
    let shop = Shop::start();
    let id = shop.user("Teo Salgado", "body", Role::Technician).id;
    let token = sign_in(&shop, id, None).refresh;
    let (owner, thief) = (refresh(&shop, &token).unwrap(), refresh(&shop, &token).unwrap());
    assert_ne!(owner, thief);
    let owner = refresh(&shop, &owner).unwrap();
    assert_eq!(refresh(&shop, &thief), None);
    assert_eq!(refresh(&shop, &owner), None, "nobody can tell who is who: both sign in again");
    assert_eq!(shop.sign_in(id).get("/api/v1/auth/me").0, 200);
}

#[test]
fn a_lost_answer_asked_for_again_still_works_as_often_as_it_is_lost() {
    let shop = Shop::start();
    let id = shop.user("Teo Salgado", "body", Role::Technician).id;
    let mut token = sign_in(&shop, id, None).refresh;
    for _ in 0..5 {
        for _ in 0..3 {
            refresh(&shop, &token).unwrap();
        }
        token = refresh(&shop, &token).unwrap();
    }
}

#[test]
fn sign_ins_end_and_those_of_managers_sooner() {
    let shop = Shop::start();
    let person = |name: &str, role| shop.user(name, "body", role).id;
    let (teo, mara) = (person("Teo Salgado", Role::Technician), person("Mara Lindqvist", Role::Manager));
    let token = |id| sign_in(&shop, id, None).refresh;
    let (mut worker, mut manager, idle) = (token(teo), token(mara), token(mara));
    for _ in 0..5 {
        shop.clock.advance(6 * DAY);
        worker = refresh(&shop, &worker).unwrap();
        manager = refresh(&shop, &manager).unwrap();
    }
    assert_eq!(refresh(&shop, &idle), None, "nobody came for more than seven days");
    shop.clock.advance(DAY);
    assert_eq!(refresh(&shop, &manager), None, "thirty days");
    for _ in 0..11 {
        worker = refresh(&shop, &worker).unwrap();
        shop.clock.advance(30 * DAY);
    }
    worker = refresh(&shop, &worker).unwrap();
    shop.clock.advance(10 * DAY);
    assert_eq!(refresh(&shop, &worker), None, "twelve months");
}

#[test]
fn the_same_person_again_on_the_same_browser_has_one_sign_in_there() {
    let shop = Shop::start();
    let id = shop.user("Teo Salgado", "body", Role::Technician).id;
    let browser = Some(Uuid::new_v4());
    let (before, elsewhere) = (sign_in(&shop, id, browser), sign_in(&shop, id, Some(Uuid::new_v4())));
    let now = sign_in(&shop, id, browser);
    assert_eq!(refresh(&shop, &before.refresh), None);
    assert!(refresh(&shop, &now.refresh).is_some() && refresh(&shop, &elsewhere.refresh).is_some());
    // What waited there from the sign-in before counts.
    let user = shop.sign_in_on(id, browser, agent());
    let op = json!({"n": 1, "id": Uuid::now_v7(), "session": before.who.session, "v": 1, "kind": "dropped",
        "args": {"why": "too large to send"}, "device_at": shop.clock.now() - MINUTE, "seen": 0});
    assert_eq!(user.push(vec![op]).1["results"][0]["verdict"], "applied");
}

/// RFC 7517 leaves it to the program how keys follow each other: here the one before counts until a stated time.
#[test]
fn a_new_key_takes_over_and_the_old_one_counts_until_the_stated_time() {
    let shop = Shop::start();
    let user = shop.user("Tomas Okafor", "body", Role::Technician);
    let known = |user: &User| {
        user.agent.get(format!("{}/api/v1/auth/me", user.base)).call().unwrap().status().as_u16()
    };
    let refreshed = |user: &User| {
        user.agent.post(format!("{}/api/v1/auth/refresh", user.base)).send_empty().unwrap().status().as_u16()
    };
    let away = shop.sign_in(user.id);
    auth::rekey::tokens(&shop.opened, 14).unwrap();
    // Whoever comes within the time changes over without noticing, and stays in after it.
    assert_eq!((known(&user), refreshed(&user)), (200, 200));
    shop.clock.advance(14 * 86_400_000);
    assert_eq!(refreshed(&user), 200);
    assert_eq!(refreshed(&away), 401, "who comes later signs in anew");
    // After a theft nothing of before counts, at once.
    auth::rekey::tokens(&shop.opened, 0).unwrap();
    assert_eq!((known(&user), refreshed(&user)), (401, 401));
    let again = shop.sign_in(user.id);
    assert_eq!(known(&again), 200);
}
