//! How this server is trusted: for the person who holds a new device beside one that is signed in.

use actix_web::http::header;
use actix_web::{HttpResponse, web as routes};
use domain::Ms;
use serde::Serialize;
use utoipa::ToSchema;

use super::Answer;
use crate::auth::Who;

pub fn configure(config: &mut routes::ServiceConfig) {
    config.route("/tls", routes::get().to(status));
}

/// Outside of the API, for a page of another address.
pub fn configure_trust(config: &mut routes::ServiceConfig) {
    config.route("/trust.txt", routes::get().to(trust));
}

/// Where this server's certificate comes from.
#[derive(Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TlsMode {
    /// Plain HTTP: this machine alone, or a proxy in front.
    Plain,
    /// The shop's own certificate authority.
    Own,
    /// Certificate files of the operator.
    Files,
}

/// How this server is trusted.
#[derive(Serialize, ToSchema)]
pub struct TlsStatus {
    /// Where its certificate comes from.
    mode: TlsMode,
    /// SHA-256 of the shop's own authority, in groups of four, as the page for new devices shows it.
    fingerprint: Option<String>,
    /// How devices list that authority.
    authority: Option<String>,
    /// When the certificate that is shown now ends; it is renewed before.
    not_after: Option<Ms>,
    /// The page that leads a new device.
    onboarding: Option<String>,
}

#[utoipa::path(get, path = "/api/v1/tls", tag = "sign-in",
    responses((status = 200, body = TlsStatus), (status = 401, body = super::error::ErrorBody)))]
pub async fn status(tls: routes::Data<tls::Tls>, _who: Who) -> Answer {
    let mode = match tls.mode() {
        tls::Mode::Plain => TlsMode::Plain,
        tls::Mode::Own => TlsMode::Own,
        tls::Mode::Files => TlsMode::Files,
    };
    Ok(HttpResponse::Ok().json(TlsStatus {
        mode,
        fingerprint: tls.authority().map(|authority| authority.fingerprint.to_string()),
        authority: tls.authority().map(|authority| authority.name.clone()),
        not_after: tls.not_after().map(|seconds| seconds * 1_000),
        onboarding: tls.onboarding().map(str::to_owned),
    }))
}

/// Arrives only where this server's certificate is trusted; it says nothing else, so any page may ask.
#[utoipa::path(get, path = "/trust.txt", tag = "health", responses((status = 200)))]
pub async fn trust() -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/plain; charset=utf-8")
        .insert_header((header::ACCESS_CONTROL_ALLOW_ORIGIN, "*"))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .body("trusted\n")
}
