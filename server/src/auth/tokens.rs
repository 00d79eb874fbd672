//! Access and refresh tokens: signed, typed, for this shop only (JWT, RFC 7519; HS256 and nothing else).

use domain::Ms;
use domain::ids::{PersonId, SessionId};
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use serde::{Deserialize, Serialize};

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
    pub exp: i64,
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
        let mut validation = Validation::new(Algorithm::HS256);
        validation.set_issuer(&[ISSUER]);
        validation.set_audience(&[audience(kind)]);
        validation.set_required_spec_claims(&["exp", "iss", "aud"]);
        // The time comes from the server's clock, which a test can set.
        validation.validate_exp = false;
        let claims = jsonwebtoken::decode::<Claims>(token, &DecodingKey::from_secret(self.key), &validation)
            .ok()?
            .claims;
        (claims.typ == kind && claims.exp > self.now / 1000).then_some(claims)
    }
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
}
