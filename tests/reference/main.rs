//! Outside checks of the server's parts: each names its source.

use jsonwebtoken::{Algorithm, DecodingKey, Validation, decode};
use serde_json::Value;

/// RFC 7515 (JSON Web Signature), appendix A.1: the example with HMAC SHA-256, key and token as printed.
#[test]
fn rfc_7515_appendix_a_1_verifies() {
    const KEY: &str =
        "AyM1SysPpbyDfgZld3umj1qzKObwVMkoqQ-EstJQLr_T-1qS0gZH75aKtMN3Yj0iPS4hcgUuTwjAzZr1Z9CAow";
    const TOKEN: &str = "eyJ0eXAiOiJKV1QiLA0KICJhbGciOiJIUzI1NiJ9.\
eyJpc3MiOiJqb2UiLA0KICJleHAiOjEzMDA4MTkzODAsDQogImh0dHA6Ly9leGFtcGxlLmNvbS9pc19yb290Ijp0cnVlfQ.\
dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk";
    let key = DecodingKey::from_base64_secret(&standard(KEY)).unwrap();
    let mut validation = Validation::new(Algorithm::HS256);
    validation.validate_exp = false; // it ended in 2011
    let claims = decode::<Value>(TOKEN, &key, &validation).unwrap().claims;
    assert_eq!((&claims["iss"], &claims["exp"]), (&"joe".into(), &1_300_819_380_i64.into()));
    let last_bit = TOKEN.replace("dBjf", "dBjg");
    assert!(decode::<Value>(&last_bit, &key, &validation).is_err(), "a changed signature is refused");
}

/// The RFC prints the key in the URL alphabet without padding (RFC 4648, section 5).
fn standard(url: &str) -> String {
    let mut text = url.replace('-', "+").replace('_', "/");
    while !text.len().is_multiple_of(4) {
        text.push('=');
    }
    text
}
