//! Which browser a request comes from: an id the server made, in a cookie no script reads, with a code (HMAC-SHA-256)
//! that shows it is the server's. So nobody says the id of a tablet who is not on it.
//!
//! Must not know: HTTP.

use aws_lc_rs::hmac::{self, HMAC_SHA256, Key};
use uuid::Uuid;

/// Enough that nobody guesses it.
const CODE_BYTES: usize = 16;

fn signed(key: &[u8], browser: Uuid) -> hmac::Tag {
    hmac::sign(&Key::new(HMAC_SHA256, key), format!("browser {browser}").as_bytes())
}

/// As it stands in the cookie.
pub fn mark(key: &[u8], browser: Uuid) -> String {
    format!("{browser}.{}", hex::encode(&signed(key, browser).as_ref()[..CODE_BYTES]))
}

/// None: not ours.
pub fn read(key: &[u8], cookie: &str) -> Option<Uuid> {
    let (id, code) = cookie.split_once('.')?;
    let browser = id.parse().ok()?;
    let code = hex::decode(code).ok()?;
    let right = signed(key, browser);
    aws_lc_rs::constant_time::verify_slices_are_equal(&right.as_ref()[..CODE_BYTES], &code).ok()?;
    Some(browser)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_the_server_made_is_a_browser() {
        let (key, id) = (b"0123456789abcdef0123456789abcdef", Uuid::from_u128(7));
        let made = mark(key, id);
        assert_eq!(read(key, &made), Some(id));
        let other = mark(key, Uuid::from_u128(8));
        let forged = format!("{id}.{}", other.split_once('.').unwrap().1);
        for bad in [id.to_string(), format!("{id}."), forged, made[..made.len() - 2].into(), String::new()] {
            assert_eq!(read(key, &bad), None, "{bad}");
        }
        assert_eq!(read(b"another key", &made), None);
    }
}
