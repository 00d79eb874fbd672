//! Pages of other sites, and of the same host on another port, that use somebody's cookies
//! (Fetch Metadata Request Headers, W3C; ASVS 5.0, 3.5.1 to 3.5.3).

use domain::MINUTE;
use domain::stored::Role;
use serde_json::{Value, json};
use turnbuckle::auth;
use turnbuckle::control::Record;

use crate::support::{Shop, agent};

#[test]
fn only_the_apps_own_pages_use_the_cookies() {
    let shop = Shop::start();
    let user = shop.user("Teo Salgado", "body", Role::Technician);
    let me = |site: &str| {
        let url = format!("{}/api/v1/auth/me", shop.base);
        user.agent.get(url).header("Sec-Fetch-Site", site).call().unwrap().status().as_u16()
    };
    assert_eq!((me("same-origin"), me("none")), (200, 200));
    assert_eq!((me("same-site"), me("cross-site")), (403, 403));
    let url = format!("{}/api/v1/auth/refresh", shop.base);
    let asked = user.agent.post(url).header("Sec-Fetch-Site", "same-site").send_empty().unwrap();
    assert_eq!(asked.status().as_u16(), 403);
}

#[test]
fn a_push_is_json_and_says_so() {
    let shop = Shop::start();
    let mut user = shop.user("Teo Salgado", "body", Role::Technician);
    let op = user.op("dropped", json!({"why": "too large to send"}));
    let body =
        json!({"epoch": user.epoch, "client": user.client, "device_now": shop.clock.now(), "ops": [op]});
    let push = |kind: &str| {
        let url = format!("{}/api/v1/sync/push", shop.base);
        let asked = user.agent.post(url).header("Content-Type", kind);
        asked.send(body.to_string()).unwrap().status().as_u16()
    };
    assert_eq!((push("text/plain"), push("application/x-www-form-urlencoded")), (415, 415));
    assert_eq!(push("application/json; charset=utf-8"), 200);
}

/// Who may say under which name this shop is reached: not whoever asks (ASVS 5.0, 4.1.3 and 3.5.2; RFC 7239, 8.1).
#[test]
fn a_forged_host_comes_into_no_invitation() {
    let shop = Shop::start();
    let boss = shop.user("Mara Lindqvist", "assembly", Role::Admin);
    let teo = shop.user("Teo Salgado", "body", Role::Technician).id;
    let link = |name: &str, value: &str| {
        let url = format!("{}/api/v1/auth/invite", shop.base);
        let asked = boss.agent.post(url).header(name, value).header("X-Forwarded-Proto", "https");
        let body = asked.send_json(json!({"person": teo})).unwrap().body_mut().read_json::<Value>();
        body.unwrap()["link"].as_str().unwrap().to_owned()
    };
    let right = format!("{}/#join=", shop.base);
    assert!(link("X-Nothing", "").starts_with(&right));
    assert!(link("X-Forwarded-Host", "evil.test").starts_with(&right));
    assert!(link("Forwarded", "host=evil.test;proto=https").starts_with(&right));
    let local = right.replace("127.0.0.1", "localhost");
    for host in ["evil.test", "evil.test:80", "127.0.0.1:1", "127.0.0.1.evil.test"] {
        let link = link("Host", host);
        assert!(link.starts_with(&local), "{host}: {link}");
    }
}

#[test]
fn an_origin_is_the_same_in_scheme_host_and_port() {
    let shop = Shop::start();
    let user = shop.user("Teo Salgado", "body", Role::Technician);
    let me = |origin: &str| {
        let url = format!("{}/api/v1/auth/me", shop.base);
        user.agent.get(url).header("Origin", origin).call().unwrap().status().as_u16()
    };
    assert_eq!(me(&shop.base), 200);
    let secure = shop.base.replace("http:", "https:");
    for other in
        [secure.as_str(), "http://127.0.0.1", "http://127.0.0.1:1", "null", "127.0.0.1", "http://evil.test"]
    {
        assert_eq!(me(other), 403, "{other}");
    }
    // Nor does a page say by a header where it is.
    let url = format!("{}/api/v1/auth/me", shop.base);
    let asked =
        user.agent.get(url).header("Origin", "https://evil.test").header("X-Forwarded-Host", "evil.test");
    assert_eq!(asked.call().unwrap().status().as_u16(), 403);
}

/// A proxy says where a request comes from; nobody else does, and of what it passes on only its own word counts.
#[test]
fn only_a_proxy_of_the_configuration_says_where_a_request_comes_from() {
    let guess = |shop: &Shop, from: &str| {
        let url = format!("{}/api/v1/auth/look", shop.base);
        let asked = agent().post(url).header("X-Forwarded-For", from).header("X-Forwarded-Proto", "https");
        asked.send_json(json!({"token": "ABCDEFGHIJ"})).unwrap().status().as_u16()
    };
    let alone = Shop::start();
    let said: Vec<u16> = (0..201).map(|n| guess(&alone, &format!("198.51.100.{n}"))).collect();
    assert_eq!((said[0], said[199], said[200]), (404, 404, 429), "a new address each time helps nobody");

    let behind = Shop::start_behind_proxy();
    for _ in 0..200 {
        assert_eq!(guess(&behind, "198.51.100.7"), 404);
    }
    assert_eq!(guess(&behind, "198.51.100.7"), 429);
    // What the visitor wrote before the proxy did counts for nothing.
    assert_eq!(guess(&behind, "203.0.113.1, 198.51.100.7"), 429);
    assert_eq!(guess(&behind, "198.51.100.7, 203.0.113.1"), 404, "somebody else");
    assert_eq!(guess(&behind, "198.51.100.7, 203.0.113.1, 127.0.0.1"), 404, "through two proxies");
}

#[test]
fn behind_a_proxy_links_lead_to_the_address_of_the_configuration() {
    let shop = Shop::start_behind_proxy();
    let id = shop.user("Mara Lindqvist", "assembly", Role::Admin).id;
    let (token, _) = auth::invite(&shop.opened, id, id, false).unwrap();
    let admin = auth::join(&shop.opened, &token, &auth::Phone::default()).unwrap();
    let bearer = format!("Bearer {}", admin.access);
    for host in ["shop.example", "evil.test", "127.0.0.1"] {
        for path in ["auth/display", "auth/transfer"] {
            let url = format!("{}/api/v1/{path}", shop.base);
            let asked = agent().post(url).header("Host", host).header("X-Forwarded-Host", "evil.test");
            let asked = asked.header("Authorization", &bearer);
            let made: Value = asked.send_empty().unwrap().body_mut().read_json().unwrap();
            let link = made["link"].as_str().unwrap();
            assert!(link.starts_with("https://shop.example/#join="), "{path} by {host}: {link}");
        }
    }
}

/// RFC 6265bis, 4.1.3: a browser takes such names by HTTPS only, from this host only. ASVS 5.0, 3.3.1.
#[test]
fn cookies_by_https_have_names_that_no_other_page_can_set_and_the_old_ones_end() {
    let shop = Shop::start_behind_proxy();
    let id = shop.user("Teo Salgado", "body", Role::Technician).id;
    let own = shop.opened.control.read().identity.as_ref().unwrap().id[..8].to_owned();
    let (access, refresh) = (format!("turnbuckle_access_{own}"), format!("turnbuckle_refresh_{own}"));
    let ask = |path: &str, cookies: String, body: Option<Value>| {
        let url = format!("{}/api/v1/auth/{path}", shop.base);
        let asked = agent().post(url).header("X-Forwarded-Proto", "https").header("Cookie", cookies);
        let answer = match body {
            Some(body) => asked.send_json(body).unwrap(),
            None => asked.send_empty().unwrap(),
        };
        let set = answer.headers().get_all("set-cookie").iter().map(|c| c.to_str().unwrap().to_owned());
        (answer.status().as_u16(), set.collect::<Vec<String>>())
    };
    let named = |set: &[String], name: &str| {
        let found = set
            .iter()
            .find(|c| c.starts_with(&format!("{name}=")))
            .unwrap_or_else(|| panic!("{name} in {set:?}"));
        found.clone()
    };
    let whole = |set: &[String]| {
        let given = named(set, &format!("__Host-{access}"));
        assert!(
            given.contains("; Path=/;") && given.contains("; Secure") && !given.contains("Domain"),
            "{given}"
        );
        let given = named(set, &format!("__Secure-{refresh}"));
        assert!(given.contains("; Path=/api/v1/auth;") && given.contains("; Secure"), "{given}");
    };

    // A browser of before the upgrade: its sign-in is older than the first start of today's server.
    let (token, _) = auth::invite(&shop.opened, id, id, false).unwrap();
    let old = auth::join(&shop.opened, &token, &auth::Phone::default()).unwrap();
    let bare = format!("{access}={}; {refresh}={}", old.access, old.refresh);
    shop.clock.advance(MINUTE);
    shop.opened.control.write(vec![Record::EndsFrom { at: shop.clock.now() }]).unwrap();
    let me = |cookies: &str| {
        let url = format!("{}/api/v1/auth/me", shop.base);
        let asked = agent().get(url).header("X-Forwarded-Proto", "https").header("Cookie", cookies);
        asked.call().unwrap().status().as_u16()
    };
    assert_eq!(me(&bare), 200, "an upgrade signs nobody out");
    let (status, set) = ask("refresh", bare, None);
    assert_eq!(status, 200);
    whole(&set);
    for name in [&access, &refresh] {
        assert!(named(&set, name).contains("Max-Age=0"), "{name} ends");
    }

    // What is given out now counts under its new name only: no page of the network can plant it under the old one.
    let value = |set: &[String], name: &str| named(set, name).split(['=', ';']).nth(1).unwrap().to_owned();
    let now = value(&set, &format!("__Host-{access}"));
    assert_eq!(me(&format!("__Host-{access}={now}")), 200);
    shop.clock.advance(MINUTE);
    let (token, _) = auth::invite(&shop.opened, id, id, false).unwrap();
    let (status, set) = ask("join", String::new(), Some(json!({"token": token})));
    assert_eq!(status, 200);
    whole(&set);
    let now = value(&set, &format!("__Host-{access}"));
    assert_eq!((me(&format!("__Host-{access}={now}")), me(&format!("{access}={now}"))), (200, 401));
    let next = value(&set, &format!("__Secure-{refresh}"));
    assert_eq!(ask("refresh", format!("{refresh}={next}"), None).0, 401);
    assert_eq!(ask("refresh", format!("__Secure-{refresh}={next}"), None).0, 200);
}
