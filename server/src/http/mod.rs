//! HTTP: reads requests, calls the shop, writes answers. One file per resource.
//!
//! Invariants: every request but signing in and asking after health shows a valid sign-in; wire types
//! live here; nothing is served that is not durable.

pub mod auth;
pub mod dto;
pub mod error;
pub mod forecast;
pub mod health;
pub mod import;
pub mod jam;
pub mod live;
pub mod measures;
pub mod notices;
pub mod outside;
pub mod packed;
pub mod passkeys;
pub mod people;
pub mod photos;
pub mod request_log;
pub mod security;
pub mod sisters;
pub mod sync;
pub mod tablet;
pub mod tls;
pub mod tries;
pub mod web;
pub mod what_if;

use std::collections::BTreeMap;
use std::future::{Ready, ready};
use std::sync::{Arc, Mutex};

use actix_web::cookie::{Cookie, SameSite, time::Duration};
use actix_web::dev::Payload;
use actix_web::error::PayloadError;
use actix_web::http::{Method, header};
use actix_web::{FromRequest, HttpMessage, HttpRequest, HttpResponse, HttpResponseBuilder, web as routes};
use domain::Ms;
use domain::ids::PersonId;
use tokio::sync::watch;

use crate::auth::passkey::Challenges;
use crate::auth::tokens::Kind;
use crate::auth::{Who, given_before, who};
use crate::front::bodies::{came_too_slowly, too_slow};
use crate::front::budget::Budgets;
use crate::front::queue::Workers;
use crate::front::seats::Seat;
use crate::limits::{BODY_BYTES_MAX, HASHING_RUNNING, HASHING_WAITING};
use crate::shop::Shop;
use error::ApiError;
use outside::Outside;
use planner::Published;
use planner::hindsight::Hindsight;

/// What every handler can reach.
pub struct App {
    pub shop: Arc<Shop>,
    pub plan: watch::Receiver<Arc<Published>>,
    pub live: Arc<live::Live>,
    pub cookies: Cookies,
    pub outside: Outside,
    pub security: security::Security,
    /// Wrong passwords and links by whom and from where, and when the last was.
    pub tries: Mutex<BTreeMap<String, (u32, Ms)>>,
    /// Who waits until a password or PIN is checked.
    pub hashing: Workers,
    /// What authenticators are asked to sign.
    pub challenges: Challenges,
    /// What each sign-in may still write.
    pub budgets: Mutex<Budgets>,
    /// Uploads that each person has begun, since when.
    pub begun: Mutex<BTreeMap<PersonId, (u32, Ms)>>,
    /// The last forecast.
    pub outlook: Mutex<Option<forecast::Made>>,
    /// How forecasts of the past came true.
    pub hindsight: Arc<Hindsight>,
}

impl App {
    pub fn new(shop: Arc<Shop>, plan: watch::Receiver<Arc<Published>>, outside: Outside) -> Arc<Self> {
        let live = live::Live::start(&shop, plan.clone());
        Arc::new(Self {
            cookies: Cookies::of(&shop),
            outside,
            security: security::Security::new(&shop),
            hindsight: Hindsight::new(shop.clone()),
            shop,
            plan,
            live,
            tries: Mutex::default(),
            challenges: Challenges::default(),
            hashing: Workers::start("hashing", HASHING_RUNNING, HASHING_WAITING)
                .expect("the operating system gives threads"),
            budgets: Mutex::default(),
            begun: Mutex::default(),
            outlook: Mutex::default(),
        })
    }
}

pub type Shared = routes::Data<App>;
pub type Answer = Result<HttpResponse, ApiError>;

/// Names of the cookies. A browser keeps one jar for all ports of a host, so the shop's id is a part of
/// them: two shops on one machine would sign each other's people out.
pub struct Cookies {
    pub access: Names,
    pub refresh: Names,
    /// Which browser it is; stays when nobody is signed in.
    pub browser: Names,
}

/// What one cookie is called. Where the browser speaks HTTPS the name has a prefix with which it takes the cookie from
/// this host by HTTPS only (RFC 6265bis, 4.1.3), so that no other page of the network plants one.
pub struct Names {
    prefix: &'static str,
    /// Without it: on this machine alone, and before there were prefixes.
    bare: String,
    path: &'static str,
    /// Before the shop's id was a part of it.
    first: Option<&'static str>,
}

/// How long a cookie is kept, and the signed value.
pub struct Baked<'a> {
    pub value: &'a str,
    pub seconds: i64,
}

impl Names {
    fn prefixed(&self) -> String {
        format!("{}{}", self.prefix, self.bare)
    }

    /// A cookie with the prefix for a whole host goes to all of it (RFC 6265bis, 4.1.3.2).
    fn path(&self, secure: bool) -> &'static str {
        if secure && self.prefix == WHOLE_HOST { "/" } else { self.path }
    }

    fn bake(&self, secure: bool, baked: &Baked) -> Cookie<'static> {
        let name = if secure { self.prefixed() } else { self.bare.clone() };
        Cookie::build(name, baked.value.to_owned())
            .path(self.path(secure))
            .http_only(true)
            .secure(secure)
            .same_site(SameSite::Strict)
            .max_age(Duration::seconds(baked.seconds))
            .finish()
    }

    /// What takes the names of before away.
    fn old(&self) -> impl Iterator<Item = Cookie<'static>> + use<> {
        let path = self.path;
        let names = [Some(self.bare.clone()), self.first.map(str::to_owned)];
        names.into_iter().flatten().map(move |name| gone(name, path, false))
    }
}

fn gone(name: String, path: &'static str, secure: bool) -> Cookie<'static> {
    Cookie::build(name, "").path(path).secure(secure).max_age(Duration::ZERO).finish()
}

const WHOLE_HOST: &str = "__Host-";
const BY_HTTPS: &str = "__Secure-";

impl Cookies {
    fn of(shop: &Shop) -> Self {
        let id = shop.control.read().identity.as_ref().map(|own| own.id.clone()).unwrap_or_default();
        let id = &id[..id.len().min(8)];
        let names = |prefix, first: &'static str, path, was| Names {
            prefix,
            bare: format!("{first}_{id}"),
            path,
            first: Some(first).filter(|_| was),
        };
        Self {
            access: names(WHOLE_HOST, "turnbuckle_access", ACCESS_PATH, true),
            refresh: names(BY_HTTPS, "turnbuckle_refresh", REFRESH_PATH, true),
            browser: names(BY_HTTPS, "turnbuckle_browser", ACCESS_PATH, false),
        }
    }

    /// One with its prefix first. One without counts over HTTPS only if `before` says that the server gave it out
    /// before there were prefixes: nobody is signed out, and nobody plants one of today.
    fn found(
        app: &App,
        request: &HttpRequest,
        names: &Names,
        before: impl Fn(&str) -> bool,
    ) -> Option<String> {
        let secure = app.outside.is_secure(request);
        let value = |cookie: Cookie| cookie.value().to_owned();
        let prefixed = request.cookie(&names.prefixed()).filter(|_| secure).map(value);
        prefixed.or_else(|| {
            let bare = request.cookie(&names.bare).or_else(|| request.cookie(names.first?)).map(value);
            bare.filter(|token| !secure || before(token))
        })
    }

    pub fn access_in(&self, app: &App, request: &HttpRequest) -> Option<String> {
        Self::found(app, request, &self.access, |token| given_before(&app.shop, Kind::Access, token))
    }

    pub fn refresh_in(&self, app: &App, request: &HttpRequest) -> Option<String> {
        Self::found(app, request, &self.refresh, |token| given_before(&app.shop, Kind::Refresh, token))
    }

    /// Which browser it is lets nobody in, so the name of before goes on.
    pub fn browser_in(&self, app: &App, request: &HttpRequest) -> Option<String> {
        Self::found(app, request, &self.browser, |_| true)
    }

    /// A new sign-in. Over HTTPS the names of before end with it.
    pub fn give(
        &self,
        response: &mut HttpResponseBuilder,
        request: &HttpRequest,
        secure: bool,
        baked: [Option<Baked>; 3],
    ) {
        for (names, baked) in [&self.access, &self.refresh, &self.browser].into_iter().zip(baked) {
            let Some(baked) = baked else { continue };
            response.cookie(names.bake(secure, &baked));
            if secure {
                names.old().filter(|old| request.cookie(old.name()).is_some()).for_each(|cookie| {
                    response.cookie(cookie);
                });
            }
        }
    }

    /// What takes them away again, whatever they are called.
    pub fn gone(&self) -> impl Iterator<Item = Cookie<'static>> + use<> {
        let with = [&self.access, &self.refresh].map(|names| gone(names.prefixed(), names.path(true), true));
        with.into_iter().chain(self.access.old()).chain(self.refresh.old())
    }
}

/// Where the browser sends them.
pub const ACCESS_PATH: &str = "/api";
pub const REFRESH_PATH: &str = "/api/v1/auth";

/// The version of the sync protocol; a phone with another one is asked to update.
pub const PROTOCOL: u32 = 1;

impl FromRequest for Who {
    type Error = ApiError;
    type Future = Ready<Result<Self, ApiError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(signed_in(request))
    }
}

fn signed_in(request: &HttpRequest) -> Result<Who, ApiError> {
    let app = request.app_data::<Shared>().ok_or_else(|| ApiError::internal(&"no shop"))?;
    let bearer =
        request.headers().get(header::AUTHORIZATION).and_then(|v| v.to_str().ok()?.strip_prefix("Bearer "));
    let cookie = app.cookies.access_in(app, request);
    let token = bearer.or(cookie.as_deref());
    let token = token.ok_or_else(|| ApiError::new(401, "signed_out", "Sign in first."))?;
    if bearer.is_none() {
        same_origin(app, request)?;
    }
    check_protocol(request)?;
    let who = who(&app.shop, token)?;
    security::shown(request, &who);
    if let Some(seat) = request.conn_data::<Arc<Seat>>() {
        seat.shown(who.session.0);
    }
    if who.display && !is_shown_on_a_wall(request) {
        return Err(ApiError::forbidden("This screen only shows the shop; sign in on a device of your own."));
    }
    Ok(who)
}

/// All that a screen on the wall may ask: what everybody sees, and to be signed out.
fn is_shown_on_a_wall(request: &HttpRequest) -> bool {
    let path = request.path().trim_start_matches("/api/v1/");
    match *request.method() {
        Method::GET => ["auth/me", "sync/open", "sync/pull", "live", "forecast"].contains(&path),
        Method::POST => path == "auth/sign_out",
        _ => false,
    }
}

/// By which address others reach this shop.
pub fn address_of(app: &App, request: &HttpRequest) -> String {
    app.outside.address(request)
}

/// A cookie travels with every request of a browser, so what changes something must come from our own page.
pub fn same_origin(app: &App, request: &HttpRequest) -> Result<(), ApiError> {
    if app.outside.is_own_page(request) {
        return Ok(());
    }
    Err(ApiError::new(403, "other_origin", "This request came from another site."))
}

fn check_protocol(request: &HttpRequest) -> Result<(), ApiError> {
    let said =
        request.headers().get("x-turnbuckle-protocol").and_then(|v| v.to_str().ok()?.parse::<u32>().ok());
    if said.is_none_or(|version| version == PROTOCOL) {
        return Ok(());
    }
    Err(ApiError::new(
        426,
        "update",
        "This app is of another version than the server; update it. Nothing is lost.",
    ))
}

/// A form of another page can send text, but not this without asking first.
pub fn says_json(request: &HttpRequest) -> Result<(), ApiError> {
    if request.content_type().eq_ignore_ascii_case("application/json") {
        return Ok(());
    }
    Err(ApiError::new(415, "content_type", "Send JSON, with Content-Type: application/json."))
}

/// Work that waits for the disk, off the threads that serve.
pub async fn blocking<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, ApiError> {
    routes::block(work).await.map_err(|error| ApiError::internal(&error))
}

/// The same for what checks or makes the hash of a password or PIN: it takes so much memory that few go at once.
pub async fn hashing<T: Send + 'static>(
    app: &App,
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, ApiError> {
    let done = app.hashing.run(work).await.map_err(|_full| {
        ApiError::new(429, "busy", "Many are signing in just now; try again in a few seconds.")
    })?;
    done.ok_or_else(|| ApiError::internal(&"a password could not be checked"))
}

/// The same for an answer that is made there too: responses cannot leave their thread, bytes can.
pub async fn blocking_json<T: serde::Serialize>(
    work: impl FnOnce() -> Result<T, ApiError> + Send + 'static,
) -> Answer {
    let bytes = blocking(move || work().and_then(|body| to_json(&body))).await??;
    Ok(json_answer(bytes))
}

pub fn to_json(body: &impl serde::Serialize) -> Result<Vec<u8>, ApiError> {
    serde_json::to_vec(body).map_err(|error| ApiError::internal(&error))
}

pub fn json_answer(bytes: Vec<u8>) -> HttpResponse {
    HttpResponse::Ok().content_type("application/json").body(bytes)
}

pub fn configure(config: &mut routes::ServiceConfig) {
    let json = routes::JsonConfig::default()
        .limit(BODY_BYTES_MAX)
        .error_handler(|error, _| json_error(&error).into());
    let query = routes::QueryConfig::default().error_handler(|error, _| {
        ApiError::new(400, "malformed", format!("The address is not right: {error}.")).into()
    });
    let path = routes::PathConfig::default()
        .error_handler(|_, _| ApiError::new(404, "not_found", "There is nothing at this address.").into());
    config.app_data(json).app_data(query).app_data(path);
    config.service(
        routes::scope("/api/v1")
            .configure(auth::configure)
            .configure(tablet::configure)
            .configure(passkeys::configure)
            .configure(tries::configure)
            .configure(sisters::configure)
            .configure(people::configure)
            .configure(security::configure)
            .configure(sync::configure)
            .configure(notices::configure)
            .configure(photos::configure)
            .configure(measures::configure)
            .configure(forecast::configure)
            .configure(what_if::configure)
            .configure(jam::configure)
            .configure(import::configure)
            .configure(tls::configure)
            .default_service(routes::to(|| async { Err::<HttpResponse, _>(ApiError::not_found("address")) })),
    );
    config.route("/api/openapi.json", routes::get().to(dto::openapi));
    config.configure(health::configure).configure(tls::configure_trust);
    config.configure(web::configure);
}

fn json_error(error: &actix_web::error::JsonPayloadError) -> ApiError {
    use actix_web::error::JsonPayloadError as E;
    match error {
        E::OverflowKnownLength { .. } | E::Overflow { .. } => ApiError::new(
            413,
            "too_large",
            "That is more than can be sent at once; send it in smaller pieces.",
        ),
        E::Payload(error) if came_too_slowly(error) => too_slow(),
        E::Payload(PayloadError::Overflow) => {
            ApiError::new(413, "too_large", "That is more than signing in takes.")
        }
        E::ContentType => {
            ApiError::new(415, "content_type", "Send JSON, with Content-Type: application/json.")
        }
        other => {
            ApiError::new(400, "malformed", format!("The request is not the JSON it should be: {other}."))
        }
    }
}
