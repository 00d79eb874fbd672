//! Sister shops: entering them, and going over with one sign-in.

use actix_web::{HttpRequest, HttpResponse, web as routes};
use domain::ids::{ClientId, PersonId};
use domain::stored::Role;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::auth::{SignedIn, browser_in, with_cookies};
use super::error::ApiError;
use super::security::{Happened, What};
use super::tries::{count_try, failed_from, forget_tries, may_try_from};
use super::{Answer, Shared, address_of, blocking, same_origin};
use crate::auth::{Phone, Who, over};
use crate::control::Sister;

pub fn configure(config: &mut routes::ServiceConfig) {
    config
        .route("/sisters", routes::get().to(sisters))
        .route("/sisters", routes::post().to(enter_sister))
        .route("/sisters/{id}", routes::delete().to(remove_sister))
        .route("/sisters/{id}/pass", routes::post().to(pass_to_sister))
        .route("/auth/arrive", routes::post().to(arrive))
        .route("/auth/over", routes::post().to(come))
        .route("/auth/kin", routes::post().to(say_who));
}

/// This shop's connection code, to be entered in its sister shops, and those entered here.
#[derive(Serialize, ToSchema)]
pub struct Sisters {
    /// This shop's own id, as the others see it.
    id: String,
    /// This shop's connection code, to be entered at the others.
    code: String,
    /// Shops that were entered here.
    sisters: Vec<Sister>,
}

fn admin(who: &Who) -> Result<(), ApiError> {
    match who.role {
        Role::Admin => Ok(()),
        _ => Err(ApiError::forbidden("Only an administrator can say which shops belong together.")),
    }
}

#[utoipa::path(get, path = "/api/v1/sisters", tag = "sign-in",
    responses((status = 200, body = Sisters), (status = 403, body = super::error::ErrorBody)))]
pub async fn sisters(app: Shared, who: Who, request: HttpRequest) -> Answer {
    admin(&who)?;
    let code = over::connection_code(&app.shop, &address_of(&app, &request))?;
    let access = app.shop.control.read();
    let id = access.identity.as_ref().map(|own| own.id.clone()).unwrap_or_default();
    let sisters = access.sisters.values().cloned().collect();
    Ok(HttpResponse::Ok().json(Sisters { id, code, sisters }))
}

/// A sister shop to enter.
#[derive(Deserialize, ToSchema)]
pub struct NewSister {
    /// The other shop's connection code.
    code: String,
}

/// Enters a sister shop. Entered again it has a new name or address.
#[utoipa::path(post, path = "/api/v1/sisters", request_body = NewSister, tag = "sign-in",
    responses((status = 200, body = Sister), (status = 403, body = super::error::ErrorBody), (status = 422, body = super::error::ErrorBody)))]
pub async fn enter_sister(
    app: Shared,
    who: Who,
    request: HttpRequest,
    body: routes::Json<NewSister>,
) -> Answer {
    admin(&who)?;
    let (shop, code) = (app.shop.clone(), body.into_inner().code);
    let sister = blocking(move || over::add(&shop, who.person, &code)).await??;
    let entered = Happened::new(What::SisterEntered).by(who.person, who.session);
    app.tell(&request, entered.saying(&sister.name));
    Ok(HttpResponse::Ok().json(sister))
}

/// Everybody who came from it is signed out.
#[utoipa::path(delete, path = "/api/v1/sisters/{id}", tag = "sign-in", params(("id" = String, Path)),
    responses((status = 204), (status = 403, body = super::error::ErrorBody), (status = 404, body = super::error::ErrorBody)))]
pub async fn remove_sister(app: Shared, who: Who, request: HttpRequest, id: routes::Path<String>) -> Answer {
    admin(&who)?;
    let (shop, id) = (app.shop.clone(), id.into_inner());
    blocking(move || over::remove(&shop, who.person, &id)).await??;
    app.tell(&request, Happened::new(What::SisterRemoved).by(who.person, who.session));
    Ok(HttpResponse::NoContent().finish())
}

/// An address of a sister shop's app that signs its bearer in there, once and within minutes.
#[derive(Serialize, ToSchema)]
pub struct WayOver {
    /// The address, with the pass behind the '#'.
    link: String,
}

#[utoipa::path(post, path = "/api/v1/sisters/{id}/pass", tag = "sign-in", params(("id" = String, Path)),
    responses((status = 200, body = WayOver), (status = 404, body = super::error::ErrorBody)))]
pub async fn pass_to_sister(app: Shared, who: Who, id: routes::Path<String>) -> Answer {
    let link = over::link(&app.shop, &who, &id)?;
    Ok(HttpResponse::Ok().json(WayOver { link }))
}

/// A pass that a browser has brought.
#[derive(Deserialize, ToSchema)]
pub struct Arriving {
    /// What stood behind the '#'.
    pass: String,
}

/// Who would come over. Nothing happens yet, and the pass is not used up.
#[derive(Serialize, ToSchema)]
pub struct Arrived {
    /// Name of the shop they come from.
    shop: String,
    /// Their name there.
    name: String,
    /// Who they are here; without it they sign in here once and say that it is them.
    #[serde(skip_serializing_if = "Option::is_none")]
    person: Option<PersonId>,
}

#[utoipa::path(post, path = "/api/v1/auth/arrive", request_body = Arriving, tag = "sign-in",
    responses((status = 200, body = Arrived), (status = 404, body = super::error::ErrorBody), (status = 410, body = super::error::ErrorBody), (status = 429, body = super::error::ErrorBody)))]
pub async fn arrive(app: Shared, request: HttpRequest, body: routes::Json<Arriving>) -> Answer {
    same_origin(&app, &request)?;
    may_try_from(&app, &request)?;
    let arrived = over::arrive(&app.shop, &body.pass).map_err(|error| failed_from(&app, &request, error));
    let over::Arrival { shop, name, person } = arrived?;
    Ok(HttpResponse::Ok().json(Arrived { shop, name, person }))
}

/// Coming over by a pass.
#[derive(Deserialize, ToSchema)]
pub struct ComeOver {
    /// What stood behind the '#'.
    pass: String,
    /// The client this browser has for the person here; absent: the server makes one.
    client: Option<ClientId>,
    /// What the device calls itself.
    #[serde(default)]
    device: String,
}

/// Signs in the person whom the pass names, as who they are here; the pass is used up.
#[utoipa::path(post, path = "/api/v1/auth/over", request_body = ComeOver, tag = "sign-in",
    responses((status = 200, body = SignedIn), (status = 404, body = super::error::ErrorBody), (status = 409, body = super::error::ErrorBody), (status = 410, body = super::error::ErrorBody), (status = 429, body = super::error::ErrorBody)))]
pub async fn come(app: Shared, request: HttpRequest, body: routes::Json<ComeOver>) -> Answer {
    same_origin(&app, &request)?;
    may_try_from(&app, &request)?;
    let shop = app.shop.clone();
    let ComeOver { pass, client, device } = body.into_inner();
    let phone = Phone { client, device, browser: Some(browser_in(&app, &request)) };
    let came = blocking(move || over::come(&shop, &pass, &phone)).await?;
    let signed_in = came.map_err(|error| failed_from(&app, &request, error))?;
    app.tell_signed_in(&request, &signed_in, "sister");
    Ok(with_cookies(&app, &request, &signed_in))
}

/// The caller says that the pass names them.
#[derive(Deserialize, ToSchema)]
pub struct BothMe {
    /// What stood behind the '#'.
    pass: String,
    /// The caller's password or PIN here: planners and above show that it is them.
    secret: Option<String>,
}

/// The caller confirms that the pass names them; from now on they come over without signing in.
#[utoipa::path(post, path = "/api/v1/auth/kin", request_body = BothMe, tag = "sign-in",
    responses((status = 204), (status = 403, body = super::error::ErrorBody), (status = 429, body = super::error::ErrorBody), (status = 404, body = super::error::ErrorBody), (status = 410, body = super::error::ErrorBody)))]
pub async fn say_who(app: Shared, who: Who, body: routes::Json<BothMe>) -> Answer {
    let (shop, BothMe { pass, secret }) = (app.shop.clone(), body.into_inner());
    let key = format!("proof {}", who.person);
    if secret.is_some() {
        count_try(&app, &key)?;
    }
    blocking(move || over::say_who(&shop, &who, &pass, secret.as_deref())).await??;
    forget_tries(&app, &key);
    Ok(HttpResponse::NoContent().finish())
}
