//! Passkeys: making, naming and removing one's own; signing in by one.

use actix_web::{HttpRequest, HttpResponse, web as routes};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::Ms;
use domain::ids::ClientId;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::auth::{SignedIn, browser_in, known_browser, with_cookies};
use super::error::ApiError;
use super::security::{Happened, What};
use super::tries::{count_try, failed_from, forget_tries, may_try_from};
use super::{Answer, Baked, Shared, blocking, hashing, same_origin};
use crate::auth::over::name_of;
use crate::auth::passkey::{self, ALGORITHMS, CHALLENGE_MS, For, Site};
use crate::auth::{AuthError, Phone, Who, browser};

pub fn configure(config: &mut routes::ServiceConfig) {
    config
        .route("/auth/passkey/begin", routes::post().to(begin_passkey))
        .route("/auth/passkey", routes::post().to(by_passkey))
        .route("/auth/passkeys/begin", routes::post().to(begin_making))
        .service(
            routes::resource("/auth/passkeys")
                .route(routes::get().to(own_passkeys))
                .route(routes::post().to(make_passkey)),
        )
        .service(
            routes::resource("/auth/passkeys/{id}")
                .route(routes::put().to(rename_passkey))
                .route(routes::delete().to(remove_passkey)),
        );
}

fn site(app: &Shared, request: &HttpRequest) -> Result<Site, AuthError> {
    app.outside.site(request).ok_or(AuthError::PasskeyNotHere)
}

/// What the browser asks its authenticators for: anybody's passkey of this server. Bytes in base64url.
#[derive(Serialize, ToSchema)]
pub struct PasskeyAsked {
    /// Random bytes to sign, base64url.
    challenge: String,
    /// By which name authenticators know this server.
    rp_id: String,
    /// For how long, in milliseconds.
    timeout: Ms,
}

/// A challenge for signing in. It counts in this browser only, once.
#[utoipa::path(post, path = "/api/v1/auth/passkey/begin", tag = "sign-in",
    responses((status = 200, body = PasskeyAsked), (status = 409, body = super::error::ErrorBody), (status = 429, body = super::error::ErrorBody)))]
pub async fn begin_passkey(app: Shared, request: HttpRequest) -> Answer {
    same_origin(&app, &request)?;
    may_try_from(&app, &request)?;
    let site = site(&app, &request)?;
    let browser = browser_in(&app, &request);
    let challenge = app.challenges.new_one(For::SignIn { browser }, app.shop.clock.now());
    let mark = browser::mark(&app.shop.control.read().key, browser);
    let mut response = HttpResponse::Ok();
    let given = [None, None, Some(Baked { value: &mark, seconds: super::auth::BROWSER_DAYS * 86_400 })];
    app.cookies.give(&mut response, &request, app.outside.is_secure(&request), given);
    Ok(response.json(PasskeyAsked { challenge, rp_id: site.rp, timeout: CHALLENGE_MS }))
}

/// What an authenticator answered (Web Authentication, level 2, 5.2.2). Bytes in base64url.
#[derive(Deserialize, ToSchema)]
pub struct PasskeySignIn {
    /// The authenticator's name of the key.
    credential: String,
    /// What the browser signed over (clientDataJSON), base64url.
    client_data: String,
    /// What the authenticator says, base64url.
    authenticator_data: String,
    /// Its signature, base64url.
    signature: String,
    /// Whose key the authenticator takes it for, base64url; empty if it does not say.
    #[serde(default)]
    user_handle: String,
    /// The client this browser has for the person; absent: the server makes one.
    client: Option<ClientId>,
    /// What the device calls itself.
    #[serde(default)]
    device: String,
}

#[utoipa::path(post, path = "/api/v1/auth/passkey", request_body = PasskeySignIn, tag = "sign-in",
    responses((status = 200, body = SignedIn), (status = 401, body = super::error::ErrorBody), (status = 404, body = super::error::ErrorBody), (status = 409, body = super::error::ErrorBody), (status = 429, body = super::error::ErrorBody)))]
pub async fn by_passkey(app: Shared, request: HttpRequest, body: routes::Json<PasskeySignIn>) -> Answer {
    same_origin(&app, &request)?;
    may_try_from(&app, &request)?;
    let site = site(&app, &request)?;
    let PasskeySignIn { credential, client_data, authenticator_data, signature, user_handle, client, device } =
        body.into_inner();
    let shown = passkey::Shown { credential, client_data, authenticator_data, signature, user_handle };
    let phone = Phone { client, device, browser: known_browser(&app, &request) };
    let shared = app.clone();
    let signed_in =
        blocking(move || passkey::sign_in(&shared.shop, &shared.challenges, &site, &shown, &phone)).await?;
    let signed_in = signed_in.map_err(|error| {
        if let AuthError::PasskeyCopied { person } = &error {
            app.tell(&request, Happened::new(What::PasskeyCopied).to(*person));
        }
        failed_from(&app, &request, error)
    })?;
    app.tell_signed_in(&request, &signed_in, "passkey");
    Ok(with_cookies(&app, &request, &signed_in))
}

/// The password that stands before a new passkey.
#[derive(Deserialize, ToSchema)]
pub struct PasswordTyped {
    /// The caller's password, just typed.
    password: String,
}

/// What the browser asks an authenticator to make. Bytes in base64url.
#[derive(Serialize, ToSchema)]
pub struct PasskeyWanted {
    /// Random bytes to sign.
    challenge: String,
    /// By which name authenticators know this server.
    rp_id: String,
    /// What the shop is called.
    rp_name: String,
    /// The caller's id, as authenticators keep it.
    user_id: String,
    /// The caller's name.
    user_name: String,
    /// Kinds of keys, in order of preference (IANA, COSE Algorithms).
    algorithms: Vec<i64>,
    /// Keys the caller has here already.
    exclude: Vec<String>,
    /// For how long, in milliseconds.
    timeout: Ms,
}

/// Begins to make a passkey, for a person who has a password and has just typed it.
#[utoipa::path(post, path = "/api/v1/auth/passkeys/begin", request_body = PasswordTyped, tag = "sign-in",
    responses((status = 200, body = PasskeyWanted), (status = 401, body = super::error::ErrorBody), (status = 403, body = super::error::ErrorBody), (status = 409, body = super::error::ErrorBody), (status = 429, body = super::error::ErrorBody)))]
pub async fn begin_making(
    app: Shared,
    who: Who,
    request: HttpRequest,
    body: routes::Json<PasswordTyped>,
) -> Answer {
    may_have(&who)?;
    let site = site(&app, &request)?;
    // Counted together with attempts at a new password: it is the same secret that is guessed.
    let key = who.person.to_string();
    count_try(&app, &key)?;
    let (shop, by) = (app.shop.clone(), who.clone());
    hashing(&app, move || passkey::prove(&shop, &by, &body.password)).await??;
    forget_tries(&app, &key);
    let view = app.shop.view();
    Ok(HttpResponse::Ok().json(PasskeyWanted {
        challenge: app.challenges.new_one(For::Making { session: who.session }, app.shop.clock.now()),
        rp_id: site.rp,
        rp_name: name_of(&app.shop),
        user_id: URL_SAFE_NO_PAD.encode(who.person.0.as_bytes()),
        user_name: view.state.people.get(&who.person).map_or_else(String::new, |p| p.name.clone()),
        algorithms: ALGORITHMS.to_vec(),
        exclude: passkey::of(&app.shop, who.person).into_iter().map(|(_, p)| p.credential).collect(),
        timeout: CHALLENGE_MS,
    }))
}

fn may_have(who: &Who) -> Result<(), ApiError> {
    if passkey::may_have(who.role) {
        return Ok(());
    }
    Err(ApiError::forbidden("Passkeys are for planners and managers; sign in by link."))
}

/// What an authenticator made (Web Authentication, level 2, 5.2.1). Bytes in base64url.
#[derive(Deserialize, ToSchema)]
pub struct NewPasskey {
    /// What its owner calls it.
    #[serde(default)]
    name: String,
    /// What the browser signed over (clientDataJSON), base64url.
    client_data: String,
    /// The attestation object, base64url; only the key in it is used.
    attestation: String,
}

/// One passkey of the caller.
#[derive(Serialize, ToSchema)]
pub struct OnePasskey {
    /// Our own name for it.
    id: Uuid,
    /// What its owner calls it.
    name: String,
    /// When it was made, UTC ms.
    since: Ms,
    /// When it was last used, UTC ms; absent: never.
    #[serde(skip_serializing_if = "Option::is_none")]
    used_at: Option<Ms>,
    /// By which name of the server it signs in.
    at: String,
}

/// The caller's passkeys.
#[derive(Serialize, ToSchema)]
pub struct Passkeys {
    /// Each once.
    passkeys: Vec<OnePasskey>,
    /// Whether there can be any at the address by which the caller came.
    here: bool,
}

#[utoipa::path(post, path = "/api/v1/auth/passkeys", request_body = NewPasskey, tag = "sign-in",
    responses((status = 200, body = Passkeys), (status = 401, body = super::error::ErrorBody), (status = 403, body = super::error::ErrorBody), (status = 409, body = super::error::ErrorBody)))]
pub async fn make_passkey(
    app: Shared,
    who: Who,
    request: HttpRequest,
    body: routes::Json<NewPasskey>,
) -> Answer {
    may_have(&who)?;
    let site = site(&app, &request)?;
    let NewPasskey { name, client_data, attestation } = body.into_inner();
    let made = passkey::Made { name, client_data, attestation };
    let (shared, by, browser) = (app.clone(), who.clone(), known_browser(&app, &request));
    blocking(move || passkey::make(&shared.shop, &shared.challenges, &site, &by, browser, &made)).await??;
    app.tell(&request, Happened::new(What::PasskeyMade).by(who.person, who.session));
    Ok(listed(&app, &who, &request))
}

fn listed(app: &Shared, who: &Who, request: &HttpRequest) -> HttpResponse {
    let one = |(id, p): (Uuid, crate::control::Passkey)| OnePasskey {
        id,
        name: p.name,
        since: p.since,
        used_at: p.used_at,
        at: p.rp,
    };
    let passkeys = passkey::of(&app.shop, who.person).into_iter().map(one).collect();
    HttpResponse::Ok().json(Passkeys { passkeys, here: app.outside.site(request).is_some() })
}

/// The caller's own.
#[utoipa::path(get, path = "/api/v1/auth/passkeys", tag = "sign-in", responses((status = 200, body = Passkeys)))]
pub async fn own_passkeys(app: Shared, who: Who, request: HttpRequest) -> Answer {
    Ok(listed(&app, &who, &request))
}

/// Another name for a passkey.
#[derive(Deserialize, ToSchema)]
pub struct PasskeyName {
    /// What it is to be called.
    name: String,
}

#[utoipa::path(put, path = "/api/v1/auth/passkeys/{id}", params(("id" = uuid::Uuid, Path)), request_body = PasskeyName, tag = "sign-in",
    responses((status = 200, body = Passkeys), (status = 404, body = super::error::ErrorBody)))]
pub async fn rename_passkey(
    app: Shared,
    who: Who,
    request: HttpRequest,
    id: routes::Path<Uuid>,
    body: routes::Json<PasskeyName>,
) -> Answer {
    let (shop, person) = (app.shop.clone(), who.person);
    blocking(move || passkey::rename(&shop, person, *id, &body.name)).await??;
    Ok(listed(&app, &who, &request))
}

#[utoipa::path(delete, path = "/api/v1/auth/passkeys/{id}", params(("id" = uuid::Uuid, Path)), tag = "sign-in",
    responses((status = 200, body = Passkeys), (status = 404, body = super::error::ErrorBody)))]
pub async fn remove_passkey(app: Shared, who: Who, request: HttpRequest, id: routes::Path<Uuid>) -> Answer {
    let (shop, person) = (app.shop.clone(), who.person);
    blocking(move || passkey::remove(&shop, person, *id)).await??;
    app.tell(&request, Happened::new(What::PasskeyRemoved).by(who.person, who.session));
    Ok(listed(&app, &who, &request))
}
