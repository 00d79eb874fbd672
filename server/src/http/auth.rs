//! Signing in and out, devices, links for others.

use actix_web::{HttpRequest, HttpResponse, web as routes};
use domain::Ms;
use domain::ids::{ClientId, PersonId, SessionId};
use domain::stored::Role;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::error::{ApiError, epoch_word};
use super::security::{Happened, What};
use super::tries::{Tries, count_try, failed_from, forget_tries, may_try_from, person_called, tell_them};
use super::{Answer, Baked, Shared, address_of, blocking, hashing, same_origin};
use crate::auth::over::name_of;
use crate::auth::tokens::{Kind, REFRESH_SECONDS};
use crate::auth::{self, AuthError, Phone, Who, browser, pin};
use crate::control::{Sister, ToldOf};

pub fn configure(config: &mut routes::ServiceConfig) {
    config
        .route("/auth/look", routes::post().to(look))
        .route("/auth/join", routes::post().to(join))
        .route("/auth/password", routes::post().to(password))
        .route("/auth/refresh", routes::post().to(refresh))
        .route("/auth/sign_out", routes::post().to(sign_out))
        .route("/auth/me", routes::get().to(me))
        .route("/auth/client", routes::post().to(client))
        .route("/auth/invite", routes::post().to(invite))
        .route("/auth/transfer", routes::post().to(transfer))
        .route("/auth/display", routes::post().to(display))
        .route("/auth/set_password", routes::post().to(set_password))
        .route("/auth/devices", routes::get().to(devices))
        .route("/auth/devices/{session}", routes::delete().to(end_device));
}

/// Signing in by a link.
#[derive(Deserialize, ToSchema)]
pub struct Join {
    /// The secret of the link.
    token: String,
    /// The client this browser has for the person; absent: the server makes one.
    client: Option<ClientId>,
    /// What the device calls itself.
    #[serde(default)]
    device: String,
}

/// Signing in by name and password.
#[derive(Deserialize, ToSchema)]
pub struct PasswordSignIn {
    /// The person's name, as the shop has it.
    name: String,
    /// Their password.
    password: String,
    /// The client this browser has for the person; absent: the server makes one.
    client: Option<ClientId>,
    /// What the device calls itself.
    #[serde(default)]
    device: String,
}

/// Who is signed in here. Tokens travel in cookies only.
#[derive(Serialize, ToSchema)]
pub struct SignedIn {
    /// Who it is.
    person: PersonId,
    /// What they may do now.
    role: Role,
    /// The client under which this browser sends their operations.
    client: ClientId,
    /// The sign-in.
    session: SessionId,
    /// The server's epoch.
    epoch: String,
    /// When the access token ends, UTC ms; it is renewed before.
    expires_at: Ms,
    /// Their name.
    name: String,
    /// What the shop is called.
    shop_name: String,
    /// The shop's sister shops, where the same person may have an account too.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    shops: Vec<OtherShop>,
    /// The server's clock, UTC ms.
    now: Ms,
    /// A screen on the wall: it only shows.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    #[schema(required = false)]
    display: bool,
}

/// A sister shop and where its app is.
#[derive(Serialize, ToSchema)]
pub struct OtherShop {
    /// Follows from that shop's key.
    id: String,
    /// What it is called.
    name: String,
    /// Scheme, host and port of its app.
    address: String,
}

/// A link to look at.
#[derive(Deserialize, ToSchema)]
pub struct Look {
    /// The secret of the link.
    token: String,
}

/// Whom a link would sign in, and where.
#[derive(Serialize, ToSchema)]
pub struct Seen {
    /// What the shop is called.
    shop: String,
    /// The person's name.
    name: String,
    /// It is for a screen on the wall.
    display: bool,
}

/// Looks at a link; it is not used up. The app shows it before anybody is signed in.
#[utoipa::path(post, path = "/api/v1/auth/look", request_body = Look, tag = "sign-in",
    responses((status = 200, body = Seen), (status = 404, body = super::error::ErrorBody), (status = 410, body = super::error::ErrorBody), (status = 429, body = super::error::ErrorBody)))]
pub async fn look(app: Shared, request: HttpRequest, body: routes::Json<Look>) -> Answer {
    same_origin(&app, &request)?;
    may_try_from(&app, &request)?;
    let seen = auth::look(&app.shop, &body.token).map_err(|error| failed_from(&app, &request, error));
    let auth::Seen { shop, name, display } = seen?;
    Ok(HttpResponse::Ok().json(Seen { shop, name, display }))
}

#[utoipa::path(post, path = "/api/v1/auth/join", request_body = Join, tag = "sign-in",
    responses((status = 200, body = SignedIn), (status = 404, body = super::error::ErrorBody), (status = 410, body = super::error::ErrorBody), (status = 429, body = super::error::ErrorBody)))]
pub async fn join(app: Shared, request: HttpRequest, body: routes::Json<Join>) -> Answer {
    same_origin(&app, &request)?;
    may_try_from(&app, &request)?;
    let shop = app.shop.clone();
    let Join { token, client, device } = body.into_inner();
    let phone = Phone { client, device, browser: Some(browser_in(&app, &request)) };
    let joined = blocking(move || auth::join(&shop, &token, &phone)).await?;
    let signed_in = joined.map_err(|error| failed_from(&app, &request, error))?;
    app.tell_signed_in(&request, &signed_in, "link");
    Ok(with_cookies(&app, &request, &signed_in))
}

#[utoipa::path(post, path = "/api/v1/auth/password", request_body = PasswordSignIn, tag = "sign-in",
    responses((status = 200, body = SignedIn), (status = 401, body = super::error::ErrorBody), (status = 429, body = super::error::ErrorBody)))]
pub async fn password(app: Shared, request: HttpRequest, body: routes::Json<PasswordSignIn>) -> Answer {
    same_origin(&app, &request)?;
    may_try_from(&app, &request)?;
    let shop = app.shop.clone();
    let PasswordSignIn { name, password, client, device } = body.into_inner();
    let phone = Phone { client, device, browser: Some(browser_in(&app, &request)) };
    let of = person_called(&app, &name);
    let tries = Tries::of(&app, &request, &name.trim().to_lowercase());
    if let Err(error) = tries.count(&app) {
        let closed = Happened::new(What::LockedOut).saying("password");
        app.tell(&request, of.map_or(closed.clone(), |person| closed.to(person)));
        return Err(error.into());
    }
    let signed_in = match hashing(&app, move || auth::by_password(&shop, &name, &password, &phone)).await? {
        Ok(signed_in) => signed_in,
        Err(error) => {
            if let (AuthError::WrongPassword, Some(person)) = (&error, of) {
                tries.tell(&app, person).await?;
            }
            return Err(failed_from(&app, &request, error).into());
        }
    };
    tries.forget(&app);
    app.tell_signed_in(&request, &signed_in, "password");
    Ok(with_cookies(&app, &request, &signed_in))
}

#[utoipa::path(post, path = "/api/v1/auth/refresh", tag = "sign-in",
    responses((status = 200, body = SignedIn), (status = 401, body = super::error::ErrorBody)))]
pub async fn refresh(app: Shared, request: HttpRequest) -> Answer {
    same_origin(&app, &request)?;
    let token = app.cookies.refresh_in(&app, &request).ok_or(AuthError::SignedOut)?;
    let shop = app.shop.clone();
    let refreshed = blocking(move || auth::refresh(&shop, &token)).await?;
    let signed_in = refreshed.inspect_err(|error| {
        if let AuthError::Copied { person, session } = error {
            app.tell(&request, Happened::new(What::TokenReused).by(*person, *session));
        }
    })?;
    Ok(with_cookies(&app, &request, &signed_in))
}

/// The browser that asks, by the cookie the server gave it. One that signed in before that cookie existed
/// proves itself once by its tokens; any other is new.
pub(super) fn browser_in(app: &Shared, request: &HttpRequest) -> Uuid {
    known_browser(app, request).unwrap_or_else(Uuid::new_v4)
}

pub(super) fn known_browser(app: &Shared, request: &HttpRequest) -> Option<Uuid> {
    let cookie = app.cookies.browser_in(app, request);
    let marked = cookie.and_then(|cookie| {
        let access = app.shop.control.read();
        access.keys(app.shop.clock.now()).find_map(|key| browser::read(key, &cookie))
    });
    marked.or_else(|| {
        let (access, refresh) = (app.cookies.access_in(app, request), app.cookies.refresh_in(app, request));
        let shown = [(Kind::Refresh, refresh.as_deref()), (Kind::Access, access.as_deref())];
        let tokens: Vec<(Kind, &str)> =
            shown.iter().filter_map(|(kind, token)| Some((*kind, (*token)?))).collect();
        pin::browser_of(&app.shop, &tokens)
    })
}

/// As long as a browser keeps any cookie (RFC 6265bis, 5.5).
pub(super) const BROWSER_DAYS: i64 = 400;

pub(super) fn with_cookies(app: &Shared, request: &HttpRequest, signed_in: &auth::SignedIn) -> HttpResponse {
    let mark = {
        let access = app.shop.control.read();
        let browser = access.sessions.get(&signed_in.who.session).and_then(|s| s.browser);
        browser.map(|id| browser::mark(&access.key, id))
    };
    let mut response = HttpResponse::Ok();
    let baked = |value, seconds| Baked { value, seconds };
    let given = [
        Some(baked(&signed_in.access, REFRESH_SECONDS)),
        Some(baked(&signed_in.refresh, REFRESH_SECONDS)),
        mark.as_deref().map(|mark| baked(mark, BROWSER_DAYS * 86_400)),
    ];
    app.cookies.give(&mut response, request, app.outside.is_secure(request), given);
    response.json(SignedIn {
        person: signed_in.who.person,
        role: signed_in.who.role,
        client: signed_in.client,
        session: signed_in.who.session,
        epoch: epoch_word(app.shop.store.meta().epoch()),
        expires_at: signed_in.access_until,
        name: signed_in.name.clone(),
        shop_name: name_of(&app.shop),
        shops: shops(app, &signed_in.who),
        now: app.shop.clock.now(),
        display: signed_in.who.display,
    })
}

fn shops(app: &Shared, who: &Who) -> Vec<OtherShop> {
    if who.display {
        return Vec::new();
    }
    let access = app.shop.control.read();
    let other = |s: &Sister| OtherShop { id: s.id.clone(), name: s.name.clone(), address: s.address.clone() };
    access.sisters.values().map(other).collect()
}

#[utoipa::path(get, path = "/api/v1/auth/me", tag = "sign-in", responses((status = 200, body = SignedIn), (status = 401, body = super::error::ErrorBody)))]
pub async fn me(app: Shared, who: Who) -> Answer {
    let view = app.shop.view();
    let client = {
        let access = app.shop.control.read();
        access.clients.iter().filter(|(_, p)| **p == who.person).map(|(c, _)| *c).next_back()
    };
    Ok(HttpResponse::Ok().json(SignedIn {
        person: who.person,
        role: who.role,
        client: client.unwrap_or(ClientId(uuid::Uuid::nil())),
        session: who.session,
        epoch: epoch_word(app.shop.store.meta().epoch()),
        expires_at: who.until,
        name: view.state.people.get(&who.person).map_or_else(String::new, |p| p.name.clone()),
        shop_name: name_of(&app.shop),
        shops: shops(&app, &who),
        now: app.shop.clock.now(),
        display: who.display,
    }))
}

#[utoipa::path(post, path = "/api/v1/auth/sign_out", tag = "sign-in", responses((status = 204)))]
pub async fn sign_out(app: Shared, who: Who, request: HttpRequest) -> Answer {
    let shop = app.shop.clone();
    blocking(move || auth::sign_out(&shop, who.session)).await??;
    app.tell(&request, Happened::new(What::SignedOut).by(who.person, who.session));
    let mut response = HttpResponse::NoContent();
    // Clears pictures of the shop from the browser's cache; never "storage", which holds what is unsent.
    response.insert_header(("Clear-Site-Data", "\"cache\""));
    app.cookies.gone().for_each(|cookie| {
        response.cookie(cookie);
    });
    Ok(response.finish())
}

/// A client that a browser has.
#[derive(Serialize, Deserialize, ToSchema)]
pub struct ClientBody {
    /// Which one; absent: the server makes one.
    client: ClientId,
}

#[utoipa::path(post, path = "/api/v1/auth/client", request_body = ClientBody, tag = "sign-in",
    responses((status = 200, body = ClientBody), (status = 409, body = super::error::ErrorBody)))]
pub async fn client(app: Shared, who: Who, body: routes::Json<ClientBody>) -> Answer {
    let shop = app.shop.clone();
    let client = body.client;
    blocking(move || auth::bind_client(&shop, &who, client)).await??;
    Ok(HttpResponse::Ok().json(ClientBody { client }))
}

/// Whom to make a link for.
#[derive(Deserialize, ToSchema)]
pub struct Invite {
    /// Who is to sign in by it.
    person: PersonId,
    /// When the link is for oneself: one's own password or PIN, as for a link to another device.
    secret: Option<String>,
}

/// Whether the caller may make what another person signs in with, or change where their mail goes: only for
/// people of a lower role. Administrators help each other, because nobody is above them.
pub(super) fn may_stand_in(app: &Shared, who: &Who, person: PersonId) -> bool {
    let role = app.shop.view().state.people.get(&person).map(|p| p.role);
    who.person == person || who.role == Role::Admin || role.is_none_or(|role| role < who.role)
}

/// A one-time link, its QR picture, and until when it is good.
#[derive(Serialize, ToSchema)]
pub struct InviteLink {
    /// The whole address.
    link: String,
    /// Its secret alone.
    token: String,
    /// The address as a QR code, SVG.
    qr_svg: String,
    /// Until when it can be used, UTC ms.
    expires_at: Ms,
}

#[utoipa::path(post, path = "/api/v1/auth/invite", request_body = Invite, tag = "sign-in",
    responses((status = 200, body = InviteLink), (status = 403, body = super::error::ErrorBody),
        (status = 404, body = super::error::ErrorBody)))]
pub async fn invite(app: Shared, who: Who, request: HttpRequest, body: routes::Json<Invite>) -> Answer {
    if who.role < Role::Manager {
        return Err(ApiError::forbidden("Only a manager can invite people."));
    }
    if !may_stand_in(&app, &who, body.person) {
        return Err(ApiError::forbidden(
            "Whoever has the link comes in as this person, who may as much as you or more; ask an administrator.",
        ));
    }
    let (shop, Invite { person, secret }) = (app.shop.clone(), body.into_inner());
    if person == who.person {
        let key = format!("proof {person}");
        if secret.is_some() {
            count_try(&app, &key)?;
        }
        let (shop, who) = (shop.clone(), who.clone());
        blocking(move || auth::is_themselves(&shop, &who, secret.as_deref())).await??;
        forget_tries(&app, &key);
    }
    let made = blocking(move || auth::invite(&shop, person, who.person, false)).await??;
    tell_them(&app, who.person, person, ToldOf::Link).await?;
    app.tell(&request, Happened::new(What::LinkMade).by(who.person, who.session).to(person));
    Ok(link_answer(&app, &request, made))
}

/// Shows that it is really the person who is signed in.
#[derive(Deserialize, ToSchema, Default)]
pub struct Proof {
    /// The caller's password or PIN, because holding their unlocked phone is not enough. Not needed within ten
    /// minutes of coming in, nor by a person who has neither.
    secret: Option<String>,
}

/// A link for another device of the caller.
#[utoipa::path(post, path = "/api/v1/auth/transfer", request_body = Proof, tag = "sign-in",
    responses((status = 200, body = InviteLink), (status = 403, body = super::error::ErrorBody), (status = 429, body = super::error::ErrorBody)))]
pub async fn transfer(
    app: Shared,
    who: Who,
    request: HttpRequest,
    body: Option<routes::Json<Proof>>,
) -> Answer {
    let (shop, secret) = (app.shop.clone(), body.and_then(|body| body.into_inner().secret));
    let key = format!("proof {}", who.person);
    if secret.is_some() {
        count_try(&app, &key)?;
    }
    let by = who.clone();
    let made = blocking(move || auth::transfer(&shop, &who, secret.as_deref())).await??;
    app.tell(&request, Happened::new(What::LinkMade).by(by.person, by.session).saying("transfer"));
    forget_tries(&app, &key);
    Ok(link_answer(&app, &request, made))
}

/// For a screen on the wall: a browser that opens this link shows the shop and cannot change anything.
#[utoipa::path(post, path = "/api/v1/auth/display", tag = "sign-in",
    responses((status = 200, body = InviteLink), (status = 403, body = super::error::ErrorBody)))]
pub async fn display(app: Shared, who: Who, request: HttpRequest) -> Answer {
    if who.role < Role::Manager {
        return Err(ApiError::forbidden("Only a manager can set up a screen on the wall."));
    }
    let shop = app.shop.clone();
    let made = blocking(move || auth::invite_display(&shop, who.person)).await??;
    app.tell(&request, Happened::new(What::LinkMade).by(who.person, who.session).saying("display"));
    Ok(link_answer(&app, &request, made))
}

fn link_answer(app: &Shared, request: &HttpRequest, (token, expires_at): (String, Ms)) -> HttpResponse {
    let link = link_to(&address_of(app, request), &token);
    let qr_svg = qr_svg(&link);
    HttpResponse::Ok().json(InviteLink { link, token, qr_svg, expires_at })
}

/// The secret stands behind the '#', so that it reaches no server log and no referrer.
pub fn link_to(address: &str, token: &str) -> String {
    format!("{address}/#join={token}")
}

pub fn qr_svg(text: &str) -> String {
    let svg = |code: qrcode::QrCode| {
        code.render::<qrcode::render::svg::Color>().min_dimensions(240, 240).quiet_zone(true).build()
    };
    qrcode::QrCode::new(text).map(svg).unwrap_or_default()
}

/// A new password of the caller.
#[derive(Deserialize, ToSchema)]
pub struct NewPassword {
    /// The new password.
    password: String,
    /// The former password, if there is one; without one, the caller must have signed in by a link within the
    /// last ten minutes.
    current: Option<String>,
    /// Ends every other sign-in of the caller, and voids their open links.
    #[serde(default)]
    end_others: bool,
}

#[utoipa::path(post, path = "/api/v1/auth/set_password", request_body = NewPassword, tag = "sign-in",
    responses((status = 204), (status = 401, body = super::error::ErrorBody), (status = 403, body = super::error::ErrorBody), (status = 422, body = super::error::ErrorBody)))]
pub async fn set_password(
    app: Shared,
    who: Who,
    request: HttpRequest,
    body: routes::Json<NewPassword>,
) -> Answer {
    if who.role < Role::Planner {
        return Err(ApiError::forbidden("Passwords are for planners and managers; sign in by link."));
    }
    let shop = app.shop.clone();
    let NewPassword { password, current, end_others } = body.into_inner();
    let key = who.person.to_string();
    count_try(&app, &key)?;
    let by = who.clone();
    hashing(&app, move || auth::change_password(&shop, &who, current.as_deref(), &password, end_others))
        .await??;
    forget_tries(&app, &key);
    app.tell(&request, Happened::new(What::PasswordSet).by(by.person, by.session));
    Ok(HttpResponse::NoContent().finish())
}

/// One sign-in.
#[derive(Serialize, ToSchema)]
pub struct Device {
    /// The sign-in.
    session: SessionId,
    /// Whose it is.
    person: PersonId,
    /// What the device called itself.
    device: String,
    /// The sister shop it came from.
    #[serde(skip_serializing_if = "Option::is_none")]
    from: Option<String>,
    /// A screen on the wall.
    display: bool,
    /// When it began, UTC ms.
    since: Ms,
    /// When it was last renewed, UTC ms.
    seen_at: Ms,
    /// This very sign-in.
    mine: bool,
}

/// Sign-ins that have not ended.
#[derive(Serialize, ToSchema)]
pub struct Devices {
    /// The caller's own, or those of whom they ask about.
    devices: Vec<Device>,
}

#[utoipa::path(get, path = "/api/v1/auth/devices", tag = "sign-in", responses((status = 200, body = Devices)))]
pub async fn devices(app: Shared, who: Who) -> Answer {
    let all = who.role >= Role::Manager;
    let access = app.shop.control.read();
    let shown = access.sessions.iter().filter(|(_, s)| s.ended.is_none() && (all || s.person == who.person));
    let devices = shown.map(|(id, s)| Device {
        session: *id,
        person: s.person,
        device: s.device.clone(),
        from: s.from.as_ref().and_then(|id| Some(access.sisters.get(id)?.name.clone())),
        display: s.display,
        since: s.since,
        seen_at: s.seen_at,
        mine: *id == who.session,
    });
    Ok(HttpResponse::Ok().json(Devices { devices: devices.collect() }))
}

#[utoipa::path(delete, path = "/api/v1/auth/devices/{session}", tag = "sign-in", params(("session" = uuid::Uuid, Path)),
    responses((status = 204), (status = 403, body = super::error::ErrorBody), (status = 404, body = super::error::ErrorBody)))]
pub async fn end_device(
    app: Shared,
    who: Who,
    request: HttpRequest,
    session: routes::Path<SessionId>,
) -> Answer {
    let session = session.into_inner();
    let owner = app.shop.control.read().sessions.get(&session).map(|s| s.person);
    let owner = owner.ok_or_else(|| ApiError::not_found("sign-in"))?;
    if owner != who.person && who.role < Role::Manager {
        return Err(ApiError::forbidden("Only a manager can sign out others."));
    }
    let (shop, by) = (app.shop.clone(), who.clone());
    blocking(move || auth::end_sign_in(&shop, session, &who)).await??;
    app.tell(&request, Happened::new(What::SignInEnded).by(by.person, by.session).to(owner));
    Ok(HttpResponse::NoContent().finish())
}
