//! The API document is checked in; types of the app are made from it. Whoever changes a shape runs
//! `UPDATE_OPENAPI=1 cargo test --test http openapi` and then `npm run api` in web/.

use std::fs;

use domain::stored::Role;
use serde_json::Value;
use turnbuckle::http::dto;
use turnbuckle::limits::BODY_BYTES_MAX;
use ureq::Agent;
use ureq::http::Request;

use crate::support::{Shop, agent};

#[test]
fn the_document_is_the_one_checked_in() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/http/openapi.json");
    let now = dto::document().unwrap();
    if std::env::var_os("UPDATE_OPENAPI").is_some() {
        fs::write(path, &now).unwrap();
    }
    let kept = fs::read_to_string(path).unwrap_or_default();
    assert!(
        kept == now,
        "the API changed: UPDATE_OPENAPI=1 cargo test --test http openapi, then npm run api"
    );
}

/// Every answer that can be had without knowing more than the document is in the document.
#[test]
fn what_can_come_is_said() {
    let shop = Shop::start();
    let admin = shop.user("Odin Reyes", "body", Role::Admin);
    let document: Value = serde_json::from_str(&dto::document().unwrap()).unwrap();
    let mut silent = Vec::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let address = format!("{}{}", shop.base, path.replace(['{', '}'], ""));
            let ask = |agent: &Agent, body: Vec<u8>| {
                let request = Request::builder().method(method.to_uppercase().as_str()).uri(&address);
                let request = request.header("content-type", "application/json");
                let sends = operation.get("requestBody").is_some();
                let answer = match sends {
                    true => agent.run(request.body(body).unwrap()),
                    false => agent.run(request.body(()).unwrap()),
                };
                answer.unwrap().status().as_u16()
            };
            let mut came = vec![ask(&agent(), b"{}".to_vec()), ask(&agent(), b"no json".to_vec())];
            if operation.get("requestBody").is_some() {
                came.push(ask(&admin.agent, vec![b' '; BODY_BYTES_MAX + 1]));
            }
            // Signed in, without the header that uploads need.
            if path.starts_with("/api/v1/photos")
                && ["post", "patch", "delete", "head"].contains(&method.as_str())
            {
                came.push(ask(&admin.agent, Vec::new()));
                assert_eq!(came.last(), Some(&412), "{method} {path}");
            }
            came.retain(|status| operation["responses"].get(status.to_string()).is_none());
            silent.extend(came.into_iter().map(|status| format!("{method} {path}: {status}")));
        }
    }
    assert!(silent.is_empty(), "{silent:#?}");
}
