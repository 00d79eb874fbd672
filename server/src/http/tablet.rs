//! A tablet that several people share: their PINs, and changing between them.

use actix_web::{HttpRequest, HttpResponse, web as routes};
use domain::ids::{ClientId, PersonId};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::auth::{SignedIn, known_browser, with_cookies};
use super::security::{Happened, What};
use super::tries::{count_try, forget_tries};
use super::{Answer, Shared, hashing, same_origin};
use crate::auth::{AuthError, Who, pin};

pub fn configure(config: &mut routes::ServiceConfig) {
    config
        .route("/auth/pin", routes::post().to(set_pin))
        .route("/auth/switch", routes::post().to(switch))
        .route("/auth/faces", routes::get().to(faces));
}

/// A new PIN of the caller.
#[derive(Deserialize, ToSchema)]
pub struct NewPin {
    /// 4 to 8 digits.
    pin: String,
    /// The former PIN, if there is one; not needed within ten minutes of signing in by a link.
    current: Option<String>,
}

/// Sets the caller's own PIN.
#[utoipa::path(post, path = "/api/v1/auth/pin", request_body = NewPin, tag = "sign-in",
    responses((status = 204), (status = 403, body = super::error::ErrorBody), (status = 401, body = super::error::ErrorBody), (status = 422, body = super::error::ErrorBody), (status = 429, body = super::error::ErrorBody)))]
pub async fn set_pin(app: Shared, who: Who, request: HttpRequest, body: routes::Json<NewPin>) -> Answer {
    let shop = app.shop.clone();
    let NewPin { pin, current } = body.into_inner();
    let key = format!("pin {}", who.person);
    count_try(&app, &key)?;
    let by = who.clone();
    hashing(&app, move || pin::set(&shop, &who, &pin, current.as_deref())).await??;
    forget_tries(&app, &key);
    app.tell(&request, Happened::new(What::PinSet).by(by.person, by.session));
    Ok(HttpResponse::NoContent().finish())
}

/// Changing to another person on a shared tablet.
#[derive(Deserialize, ToSchema)]
pub struct Switch {
    /// To whom.
    person: PersonId,
    /// Their PIN.
    pin: String,
    /// This person's client on this browser.
    client: Option<ClientId>,
}

/// Changes to another person who is signed in on the same browser. A cookie that only
/// the server makes says which browser that is. Ten wrong PINs close this face on this browser.
#[utoipa::path(post, path = "/api/v1/auth/switch", request_body = Switch, tag = "sign-in",
    responses((status = 200, body = SignedIn), (status = 401, body = super::error::ErrorBody), (status = 403, body = super::error::ErrorBody)))]
pub async fn switch(app: Shared, request: HttpRequest, body: routes::Json<Switch>) -> Answer {
    same_origin(&app, &request)?;
    let browser = known_browser(&app, &request);
    let shop = app.shop.clone();
    let Switch { person, pin, client } = body.into_inner();
    let switched = hashing(&app, move || pin::switch(&shop, browser, person, &pin, client)).await?;
    let signed_in = switched.inspect_err(|error| {
        if let AuthError::FaceClosed = error {
            app.tell(&request, Happened::new(What::LockedOut).to(person).saying("pin"));
        }
    })?;
    app.tell_signed_in(&request, &signed_in, "pin");
    Ok(with_cookies(&app, &request, &signed_in))
}

/// Somebody who is signed in on a shared tablet.
#[derive(Serialize, ToSchema)]
pub struct Face {
    /// Who.
    person: PersonId,
    /// Their name.
    name: String,
    /// Whether they have a PIN; without one they cannot be changed to.
    has_pin: bool,
}

/// Everybody who is signed in on the caller's browser.
#[derive(Serialize, ToSchema)]
pub struct Faces {
    /// Each person once.
    people: Vec<Face>,
}

/// Who is signed in on the caller's browser.
#[utoipa::path(get, path = "/api/v1/auth/faces", tag = "sign-in", responses((status = 200, body = Faces)))]
pub async fn faces(app: Shared, who: Who) -> Answer {
    let faces = pin::faces(&app.shop, who.session).into_iter();
    let people = faces.map(|f| Face { person: f.person, name: f.name, has_pin: f.has_pin }).collect();
    Ok(HttpResponse::Ok().json(Faces { people }))
}
