//! The API document is checked in; types of the app are made from it. Whoever changes a shape runs
//! `UPDATE_OPENAPI=1 cargo test --test http openapi` and then `npm run api` in web/.

use std::fs;

#[test]
fn the_document_is_the_one_checked_in() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/http/openapi.json");
    let now = turnbuckle::http::dto::document().unwrap();
    if std::env::var_os("UPDATE_OPENAPI").is_some() {
        fs::write(path, &now).unwrap();
    }
    let kept = fs::read_to_string(path).unwrap_or_default();
    assert!(
        kept == now,
        "the API changed: UPDATE_OPENAPI=1 cargo test --test http openapi, then npm run api"
    );
}
