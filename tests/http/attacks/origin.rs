//! Pages of other sites, and of the same host on another port, that use somebody's cookies
//! (Fetch Metadata Request Headers, W3C; ASVS 5.0, 3.5.1 to 3.5.3).

use domain::stored::Role;
use serde_json::json;

use crate::support::Shop;

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
