//! What answers say to browsers.

use domain::stored::Role;
use serde_json::Value;
use turnbuckle::http::dto;
use ureq::http::Request;

use crate::support::{Shop, agent};

/// Header names and values as their specifications spell them: Fetch (nosniff), Referrer Policy, CSP Level 3
/// 6.4.2 (frame-ancestors), RFC 9111 5.2.2.5 (no-store).
#[test]
fn every_answer_of_the_api_is_no_page_and_is_not_kept() {
    let shop = Shop::start();
    let admin = shop.user("Odin Reyes", "body", Role::Admin);
    let document: Value = serde_json::from_str(&dto::document().unwrap()).unwrap();
    let mut asked = 0;
    let paths = document["paths"].as_object().unwrap();
    let named = paths.iter().flat_map(|(path, item)| {
        item.as_object().unwrap().keys().map(move |method| (path.clone(), method.to_uppercase()))
    });
    let unknown = ["/api/nothing", "/api/v1/nothing"].map(|path| (path.to_owned(), "GET".to_owned()));
    for (path, method) in named.chain(unknown) {
        if path.ends_with("/auth/sign_out") {
            continue; // below
        }
        let url = format!("{}{}", shop.base, path.replace(['{', '}'], ""));
        for agent in [&agent(), &admin.agent] {
            let answer = agent.run(Request::builder().method(&*method).uri(&url).body(()).unwrap()).unwrap();
            let said = |name: &str| answer.headers().get(name).map_or("", |value| value.to_str().unwrap());
            let here = format!("{method} {path}");
            assert_eq!(said("x-content-type-options"), "nosniff", "{here}");
            assert_eq!(said("referrer-policy"), "no-referrer", "{here}");
            assert_eq!(
                said("content-security-policy"),
                "default-src 'none'; frame-ancestors 'none'",
                "{here}"
            );
            if path.starts_with("/api/") {
                assert!(said("cache-control").contains("no-store"), "{here}: {}", said("cache-control"));
            }
            asked += 1;
        }
    }
    assert!(asked > 80, "{asked}");
}

#[test]
fn the_app_runs_nothing_but_its_own_files() {
    let shop = Shop::start();
    for path in ["/", "/vehicles", "/index.html"] {
        let answer = agent().get(format!("{}{path}", shop.base)).call().unwrap();
        let policy = answer.headers()["content-security-policy"].to_str().unwrap().to_owned();
        assert!(!policy.contains("unsafe"), "{policy}");
        for part in ["default-src 'none'", "script-src 'self'", "style-src 'self'", "frame-ancestors 'none'"]
        {
            assert!(policy.split("; ").any(|one| one == part), "{part} in {policy}");
        }
        // Trusted Types (W3C): text becomes code or markup nowhere.
        assert!(policy.contains("require-trusted-types-for 'script'"), "{policy}");
        assert_eq!(answer.headers()["x-content-type-options"], "nosniff");
        assert_eq!(answer.headers()["referrer-policy"], "no-referrer");
    }
}

#[test]
fn signing_out_clears_what_the_browser_keeps_of_answers_and_nothing_else() {
    let shop = Shop::start();
    let user = shop.user("Tomas Okafor", "body", Role::Technician);
    let answer = user.agent.post(format!("{}/api/v1/auth/sign_out", shop.base)).send_empty().unwrap();
    assert_eq!(answer.status().as_u16(), 204);
    // Clear Site Data, 3.1: a quoted string; "storage" would take what is not sent yet.
    assert_eq!(answer.headers()["clear-site-data"], "\"cache\"");
}
