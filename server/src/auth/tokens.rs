//! Access and refresh tokens: signed, typed, for this shop only (JWT, RFC 7519; HS256 and nothing else).

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::Ms;
use domain::ids::{PersonId, SessionId};
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use serde::{Deserialize, Serialize};

use crate::control::Access;

/// An access token is good for a quarter of an hour; who was removed is out at once all the same,
/// because every request looks at the sign-in too.
pub const ACCESS_SECONDS: i64 = 15 * 60;
/// A phone that was in a drawer for a month signs in again.
pub const REFRESH_SECONDS: i64 = 90 * 24 * 3600;

const ISSUER: &str = "turnbuckle";

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    Access,
    Refresh,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Claims {
    iss: String,
    aud: String,
    pub sub: PersonId,
    pub sid: SessionId,
    pub typ: Kind,
    /// Generation of a refresh token.
    #[serde(default)]
    pub generation: u64,
    /// Tells refresh tokens of one generation apart; older ones have none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub jti: Option<String>,
    pub iat: i64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    nbf: Option<i64>,
    pub exp: i64,
}

/// By the key of now, or by the one before it while that still counts.
pub fn read(access: &Access, now: Ms, kind: Kind, token: &str) -> Option<Claims> {
    access.keys(now).find_map(|key| Signer { key, now }.read(kind, token))
}

pub struct Signer<'a> {
    pub key: &'a [u8],
    pub now: Ms,
}

impl Signer<'_> {
    pub fn sign(
        &self,
        kind: Kind,
        person: PersonId,
        session: SessionId,
        generation: u64,
    ) -> Result<(String, Ms), store::Error> {
        let now = self.now / 1000;
        let exp = now + if kind == Kind::Access { ACCESS_SECONDS } else { REFRESH_SECONDS };
        let claims = Claims {
            iss: ISSUER.into(),
            aud: audience(kind).into(),
            sub: person,
            sid: session,
            typ: kind,
            generation,
            jti: (kind == Kind::Refresh).then(|| uuid::Uuid::new_v4().simple().to_string()),
            iat: now,
            nbf: None,
            exp,
        };
        let token = jsonwebtoken::encode(
            &Header::new(Algorithm::HS256),
            &claims,
            &EncodingKey::from_secret(self.key),
        );
        let token = token.map_err(|error| store::Error::Io {
            what: "cannot sign a sign-in".into(),
            source: std::io::Error::other(error),
        })?;
        Ok((token, exp * 1000))
    }

    /// None: not ours, of another kind, or no longer good.
    pub fn read(&self, kind: Kind, token: &str) -> Option<Claims> {
        plain_header(token)?;
        let mut validation = Validation::new(Algorithm::HS256);
        validation.set_issuer(&[ISSUER]);
        validation.set_audience(&[audience(kind)]);
        validation.set_required_spec_claims(&["exp", "iss", "aud"]);
        // The time comes from the server's clock, which a test can set.
        validation.validate_exp = false;
        let claims = jsonwebtoken::decode::<Claims>(token, &DecodingKey::from_secret(self.key), &validation)
            .ok()?
            .claims;
        let now = self.now / 1000;
        let begun =
            claims.iat <= now + SKEW_SECONDS && claims.nbf.is_none_or(|nbf| nbf <= now + SKEW_SECONDS);
        (claims.typ == kind && begun && claims.exp > now).then_some(claims)
    }
}

/// A box whose clock was set right in between.
const SKEW_SECONDS: i64 = 5 * 60;

/// What this program writes, and no extension it does not know: a token that says so must be refused (RFC 7515, 4.1.11;
/// RFC 8725, 3.11).
fn plain_header(token: &str) -> Option<()> {
    let header = URL_SAFE_NO_PAD.decode(token.split('.').next()?).ok()?;
    let header: serde_json::Value = serde_json::from_slice(&header).ok()?;
    (header["typ"] == "JWT" && header.get("crit").is_none()).then_some(())
}

fn audience(kind: Kind) -> &'static str {
    match kind {
        Kind::Access => "shop",
        Kind::Refresh => "sign-in",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ids() -> (PersonId, SessionId) {
        (PersonId(uuid::Uuid::from_u128(1)), SessionId(uuid::Uuid::from_u128(2)))
    }

    #[test]
    fn a_token_is_good_until_it_ends_and_for_its_kind_only() {
        let (person, session) = ids();
        let at = |now| Signer { key: b"0123456789abcdef0123456789abcdef", now };
        let (token, exp) = at(1_000_000).sign(Kind::Access, person, session, 0).unwrap();
        assert_eq!(at(1_000_000).read(Kind::Access, &token).map(|c| c.sub), Some(person));
        assert!(at(1_000_000).read(Kind::Refresh, &token).is_none());
        assert!(at(exp).read(Kind::Access, &token).is_none());
        assert!(Signer { key: b"another key, another shop", now: 0 }.read(Kind::Access, &token).is_none());
    }

    #[test]
    fn no_other_algorithm_is_believed() {
        let (person, session) = ids();
        let signer = Signer { key: b"0123456789abcdef0123456789abcdef", now: 0 };
        let (token, _) = signer.sign(Kind::Access, person, session, 0).unwrap();
        let body = token.split('.').nth(1).unwrap();
        // {"alg":"none","typ":"JWT"}
        let unsigned = format!("eyJhbGciOiJub25lIiwidHlwIjoiSldUIn0.{body}.");
        assert!(signer.read(Kind::Access, &unsigned).is_none());
    }

    /// RFC 8725, 3.1 and 3.11; RFC 7519, 4.1.5; RFC 7515, 4.1.11: signed with the right key all the same.
    #[test]
    fn a_token_from_later_or_with_what_nobody_knows_is_not_believed() {
        let key = b"0123456789abcdef0123456789abcdef";
        let (person, session) = ids();
        let at = |now| Signer { key, now };
        let (token, _) = at(10_000_000).sign(Kind::Access, person, session, 0).unwrap();
        assert!(at(9_900_000).read(Kind::Access, &token).is_some(), "clocks differ a little");
        assert!(at(9_000_000).read(Kind::Access, &token).is_none());
        let claims: serde_json::Value =
            serde_json::from_slice(&URL_SAFE_NO_PAD.decode(token.split('.').nth(1).unwrap()).unwrap())
                .unwrap();
        let signed = |header: serde_json::Value, claims: &serde_json::Value| {
            let part = |value: &serde_json::Value| URL_SAFE_NO_PAD.encode(value.to_string());
            let said = format!("{}.{}", part(&header), part(claims));
            let key = EncodingKey::from_secret(key);
            let code = jsonwebtoken::crypto::sign(said.as_bytes(), &key, Algorithm::HS256).unwrap();
            format!("{said}.{code}")
        };
        let read = |token: &str| at(10_000_000).read(Kind::Access, token).is_some();
        use serde_json::json;
        assert!(read(&signed(json!({"alg": "HS256", "typ": "JWT"}), &claims)));
        for header in [
            json!({"alg": "HS256"}),
            json!({"alg": "HS256", "typ": "at+jwt"}),
            json!({"alg": "HS256", "typ": "JWT", "crit": ["b64"], "b64": false}),
            json!({"alg": "HS256", "typ": "JWT", "crit": []}),
        ] {
            assert!(!read(&signed(header.clone(), &claims)), "{header}");
        }
        let mut later = claims.clone();
        later["nbf"] = json!(11_000);
        assert!(!read(&signed(json!({"alg": "HS256", "typ": "JWT"}), &later)));
    }
}
