//! Only the right people: links, tokens, roles, other sites.

use domain::MINUTE;
use domain::stored::{Act, Person, Role};
use serde_json::{Value, json};
use turnbuckle::auth;
use turnbuckle::serve::{accepted, awaited};
use turnbuckle::shop::OwnOp;
use uuid::Uuid;

use crate::support::{Shop, agent};

#[test]
fn a_link_works_once_and_for_a_time() {
    let shop = Shop::start();
    let user = shop.user("Tomas Okafor", "body", Role::Technician);
    let join = |token: &str| {
        let url = format!("{}/api/v1/auth/join", shop.base);
        let mut answer = agent().post(url).send_json(json!({"token": token})).unwrap();
        let body: serde_json::Value = answer.body_mut().read_json().unwrap();
        (answer.status().as_u16(), body["code"].as_str().unwrap_or("").to_owned())
    };
    let (token, _) = auth::invite(&shop.opened, user.id, user.id, false).unwrap();
    assert_eq!(join(&token), (200, String::new()));
    assert_eq!(join(&token), (410, "link_used".into()));
    assert_eq!(join("never-made"), (404, "link_unknown".into()));
    let (token, _) = auth::invite(&shop.opened, user.id, user.id, true).unwrap();
    shop.clock.advance(11 * MINUTE);
    assert_eq!(join(&token), (410, "link_expired".into()));
}

#[test]
fn strangers_see_nothing() {
    let shop = Shop::start();
    for path in [
        "/api/v1/sync/open",
        "/api/v1/sync/pull",
        "/api/v1/live",
        "/api/v1/notices",
        "/api/v1/measures?from=0&to=1",
        "/api/v1/auth/devices",
    ] {
        let answer = agent().get(format!("{}{path}", shop.base)).call().unwrap();
        assert_eq!(answer.status().as_u16(), 401, "{path}");
        let forged = "eyJ0eXAiOiJKV1QiLCJhbGciOiJIUzI1NiJ9.eyJzdWIiOiJ4In0.AAAA";
        let answer = agent()
            .get(format!("{}{path}", shop.base))
            .header("Authorization", format!("Bearer {forged}"))
            .call()
            .unwrap();
        assert_eq!(answer.status().as_u16(), 401, "{path}");
    }
}

#[test]
fn a_lost_answer_does_not_sign_out_but_a_copied_token_does() {
    let shop = Shop::start();
    let user = shop.user("Tomas Okafor", "body", Role::Technician);
    let refresh = |cookie: &str| {
        let url = format!("{}/api/v1/auth/refresh", shop.base);
        let answer = agent().post(url).header("Cookie", cookie).send_empty().unwrap();
        let set = answer.headers().get_all("set-cookie").iter().filter_map(|c| c.to_str().ok());
        let next = set
            .into_iter()
            .find(|c| c.starts_with("turnbuckle_refresh_"))
            .map(|c| c.split(';').next().unwrap().to_owned());
        (answer.status().as_u16(), next)
    };
    let (token, _) = auth::invite(&shop.opened, user.id, user.id, false).unwrap();
    let answer =
        agent().post(format!("{}/api/v1/auth/join", shop.base)).send_json(json!({"token": token})).unwrap();
    let first = answer.headers().get_all("set-cookie").iter().filter_map(|c| c.to_str().ok());
    let first = first
        .into_iter()
        .find(|c| c.starts_with("turnbuckle_refresh_"))
        .unwrap()
        .split(';')
        .next()
        .unwrap()
        .to_owned();
    let (status, second) = refresh(&first);
    assert_eq!(status, 200);
    // The answer was lost on the way: the same token again.
    let (status, again) = refresh(&first);
    assert_eq!(status, 200);
    assert!(again.is_some());
    let (status, third) = refresh(&second.unwrap());
    assert_eq!((status, third.is_some()), (200, true));
    // Two back: somebody has a copy.
    assert_eq!(refresh(&first).0, 401);
    assert_eq!(refresh(&third.unwrap()).0, 401, "the sign-in has ended for both");
}

#[test]
fn who_was_removed_is_out_at_once() {
    let shop = Shop::start();
    let mut admin = shop.user("Ivo Marsh", "body", Role::Admin);
    let user = shop.user("Tomas Okafor", "body", Role::Technician);
    assert_eq!(user.get("/api/v1/auth/me").0, 200);
    let mut person = shop.doc(&format!("person/{}", user.id));
    person["retired"] = json!(true);
    admin.done("set_person", json!({"person": person}));
    assert_eq!(user.get("/api/v1/auth/me").0, 401);
}

#[test]
fn devices_can_be_signed_out() {
    let shop = Shop::start();
    let manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let user = shop.user("Tomas Okafor", "body", Role::Technician);
    let (status, body) = user.delete(&format!("/api/v1/auth/devices/{}", manager.session));
    assert_eq!((status, &body["code"]), (403, &json!("forbidden")));
    assert_eq!(manager.delete(&format!("/api/v1/auth/devices/{}", user.session)).0, 204);
    assert_eq!(user.get("/api/v1/auth/me").0, 401);
}

#[test]
fn passwords_are_for_managers_and_tries_are_counted() {
    let shop = Shop::start();
    let manager = shop.user("Mara Lindqvist", "assembly", Role::Manager);
    let (status, body) = manager.post("/api/v1/auth/set_password", json!({"password": "short"}));
    assert_eq!((status, &body["code"]), (422, &json!("password_length")));
    assert_eq!(manager.post("/api/v1/auth/set_password", json!({"password": "a long enough one"})).0, 204);
    let sign_in = |password: &str| {
        let url = format!("{}/api/v1/auth/password", shop.base);
        agent()
            .post(url)
            .send_json(json!({"name": "mara lindqvist", "password": password}))
            .unwrap()
            .status()
            .as_u16()
    };
    assert_eq!(sign_in("a long enough one"), 200);
    assert_eq!(sign_in("not this one"), 401);
    let tries: Vec<u16> = (0..10).map(|_| sign_in("not this one")).collect();
    assert_eq!(tries.last(), Some(&429), "{tries:?}");
    let user = shop.user("Tomas Okafor", "body", Role::Technician);
    assert_eq!(user.post("/api/v1/auth/set_password", json!({"password": "a long enough one"})).0, 403);
}

#[test]
fn another_site_cannot_use_the_cookie() {
    let shop = Shop::start();
    let user = shop.user("Tomas Okafor", "body", Role::Technician);
    let url = format!("{}/api/v1/auth/sign_out", shop.base);
    let answer = user.agent.post(url).header("Origin", "http://elsewhere.example").send_empty().unwrap();
    assert_eq!(answer.status().as_u16(), 403);
    assert_eq!(user.get("/api/v1/auth/me").0, 200);
}

#[test]
fn an_app_of_another_version_is_asked_to_update() {
    let shop = Shop::start();
    let user = shop.user("Tomas Okafor", "body", Role::Technician);
    let url = format!("{}/api/v1/sync/pull", shop.base);
    let answer = user.agent.get(url).header("X-Turnbuckle-Protocol", "99").call().unwrap();
    assert_eq!(answer.status().as_u16(), 426);
}

#[test]
fn a_screen_on_the_wall_sees_the_shop_and_enters_nothing() {
    let shop = Shop::start();
    let manager = shop.user("Mara Lindqvist", "office", Role::Manager);
    assert_eq!(
        shop.user("Tomas Okafor", "body", Role::Technician).post("/api/v1/auth/display", json!({})).0,
        403
    );
    let (status, link) = manager.post("/api/v1/auth/display", json!({}));
    assert_eq!(status, 200, "{link}");
    // Somebody's own browser opens it, too: who can read the link can do that.
    let browser = Uuid::from_u128(5);
    let tech = shop.user("Ada Reyes", "body", Role::Technician);
    let (own, _) = auth::invite(&shop.opened, tech.id, tech.id, false).unwrap();
    let phone = auth::Phone { device: "phone".into(), browser: Some(browser), client: None };
    let beside = auth::join(&shop.opened, &own, &phone).unwrap();
    let join = json!({"token": link["token"], "device": "wall"});
    let own = shop.browser_cookie(browser);
    let url = format!("{}/api/v1/auth/join", shop.base);
    let mut answer = agent().post(url).header("cookie", own).send_json(&join).unwrap();
    let cookies: Vec<String> = answer
        .headers()
        .get_all("set-cookie")
        .iter()
        .filter_map(|set| set.to_str().ok()?.split(';').next().map(str::to_owned))
        .collect();
    let cookie = cookies.join("; ");
    let joined: Value = answer.body_mut().read_json().unwrap();
    assert_eq!(
        (&joined["display"], &joined["role"]),
        (&json!(true), &json!("technician")),
        "a manager's, without the rights"
    );
    let get = |path: &str| {
        let url = format!("{}/api/v1/{path}", shop.base);
        agent().get(url).header("cookie", &cookie).call().unwrap().status().as_u16()
    };
    assert_eq!([get("auth/me"), get("sync/pull?after=0"), get("forecast")], [200, 200, 200]);
    for hidden in ["measures", "measures/own", "notices", "auth/devices", "jam"] {
        assert_eq!(get(hidden), 403, "{hidden}");
    }
    let push = json!({
        "epoch": joined["epoch"], "client": joined["client"], "device_now": shop.clock.now(),
        "ops": [{"n": 1, "id": Uuid::from_u128(77), "session": joined["session"], "kind": "open_order",
            "args": {"number": "2041", "vehicle": "grey wagon"}, "device_at": shop.clock.now()}],
    });
    let post = |path: &str, body: &Value| {
        let url = format!("{}/api/v1/{path}", shop.base);
        let mut answer = agent().post(url).header("cookie", &cookie).send_json(body).unwrap();
        (answer.status().as_u16(), answer.body_mut().read_json::<Value>().unwrap_or_default())
    };
    let (status, said) = post("sync/push", &push);
    assert_eq!((status, &said["code"]), (403, &json!("forbidden")), "{said}");
    // Nor does a sign-in on the same browser, or the manager's own, act in its name.
    let ops = |token: &str| {
        let url = format!("{}/api/v1/sync/push", shop.base);
        let mut answer =
            agent().post(url).header("authorization", format!("Bearer {token}")).send_json(&push).unwrap();
        (answer.status().as_u16(), answer.body_mut().read_json::<Value>().unwrap())
    };
    assert_eq!(ops(&beside.access).0, 403);
    let (own, _) = auth::invite(&shop.opened, manager.id, manager.id, false).unwrap();
    let phone = auth::Phone { browser: None, ..phone };
    let (status, said) = ops(&auth::join(&shop.opened, &own, &phone).unwrap().access);
    assert_eq!((status, &said["results"][0]["verdict"]), (200, &json!("refused")), "{said}");
    assert_eq!(auth::pin::faces(&shop.opened, beside.who.session).len(), 1, "no PIN leads to the manager");
    for path in ["auth/invite", "auth/display", "auth/transfer", "what-if", "notices/read"] {
        assert_eq!(post(path, &json!({})).0, 403, "{path}");
    }
    let (_, devices) = manager.get("/api/v1/auth/devices");
    let wall = devices["devices"].as_array().unwrap().iter().find(|one| one["display"] == true).cloned();
    assert_eq!(wall.expect("it is listed")["device"], "wall");
    // It refreshes by itself, and stays a screen.
    let (status, again) = post("auth/refresh", &json!({}));
    assert_eq!((status, &again["display"]), (200, &json!(true)));
    assert_eq!(post("auth/sign_out", &json!({})).0, 204);
    assert_eq!(get("auth/me"), 401);
}

#[test]
fn once_somebody_is_in_no_first_link_lets_in_anybody_else() {
    let shop = Shop::start();
    let admin = Act::SetPerson { person: person("Odin Reyes", Role::Admin) };
    accepted(shop.opened.own_now(vec![OwnOp::system(admin)]).unwrap()).unwrap();
    let admin = awaited(&shop.opened).expect("nobody has come in yet");
    // Each start of a server to which nobody has come prints a link: the first was lost.
    let link = || auth::invite(&shop.opened, admin, admin, false).unwrap().0;
    let (lost, used) = (link(), link());
    let join = |token: &str| {
        let url = format!("{}/api/v1/auth/join", shop.base);
        agent().post(url).send_json(json!({"token": token})).unwrap().status().as_u16()
    };
    assert_eq!(join(&used), 200);
    assert_eq!(join(&lost), 410);
    // Whoever is in makes links as before: for a second device, or for others.
    let (one, other) = (link(), link());
    assert_eq!((join(&one), join(&other)), (200, 200));
}

fn person(name: &str, role: Role) -> Person {
    serde_json::from_value(json!({"id": Uuid::now_v7(), "name": name, "department": "body", "role": role}))
        .unwrap()
}
