//! Contacts, and the sister shops from which somebody comes over. Only served online, never in documents that
//! everybody reads.

use actix_web::{HttpResponse, web as routes};
use domain::ids::PersonId;
use domain::stored::Role;
use serde::Serialize;
use utoipa::ToSchema;

use super::auth::may_stand_in;
use super::error::ApiError;
use super::tries::tell_them;
use super::{Answer, Shared, blocking};
use crate::auth::{Who, over};
use crate::control::{Contact, Record, ToldOf};

pub fn configure(config: &mut routes::ServiceConfig) {
    config.service(
        routes::resource("/people/{id}/contact")
            .route(routes::get().to(contact))
            .route(routes::put().to(set_contact)),
    );
    config
        .route("/people/{id}/kin", routes::get().to(kin))
        .route("/people/{id}/kin/{shop}", routes::delete().to(end_kin));
}

fn allowed(app: &Shared, who: &Who, person: PersonId) -> Result<(), ApiError> {
    if !app.shop.view().state.people.contains_key(&person) {
        return Err(ApiError::new(404, "unknown_person", "There is no such person in this shop."));
    }
    if person != who.person && who.role < Role::Manager {
        return Err(ApiError::forbidden("Only a manager can see or change other people's contacts."));
    }
    Ok(())
}

#[utoipa::path(get, path = "/api/v1/people/{id}/contact", params(("id" = uuid::Uuid, Path)), tag = "people",
    responses((status = 200, body = Contact), (status = 403, body = super::error::ErrorBody), (status = 404, body = super::error::ErrorBody)))]
pub async fn contact(app: Shared, who: Who, id: routes::Path<PersonId>) -> Answer {
    allowed(&app, &who, *id)?;
    let contact = app.shop.control.read().contacts.get(&id).cloned().unwrap_or_default();
    Ok(HttpResponse::Ok().json(contact))
}

#[utoipa::path(put, path = "/api/v1/people/{id}/contact", params(("id" = uuid::Uuid, Path)), request_body = Contact, tag = "people",
    responses((status = 200, body = Contact), (status = 403, body = super::error::ErrorBody), (status = 404, body = super::error::ErrorBody), (status = 422, body = super::error::ErrorBody)))]
pub async fn set_contact(
    app: Shared,
    who: Who,
    id: routes::Path<PersonId>,
    body: routes::Json<Contact>,
) -> Answer {
    allowed(&app, &who, *id)?;
    if !may_stand_in(&app, &who, *id) {
        return Err(ApiError::forbidden(
            "They may as much as you or more: only they, or an administrator, change this.",
        ));
    }
    let contact = body.into_inner();
    if let Some(email) = &contact.email
        && email.parse::<lettre::Address>().is_err()
    {
        return Err(ApiError::new(422, "email", "That is not an e-mail address."));
    }
    let (shop, kept, person) = (app.shop.clone(), contact.clone(), *id);
    blocking(move || shop.control.write(vec![Record::Contact { person, contact: kept }])).await??;
    tell_them(&app, who.person, person, ToldOf::Contact).await?;
    Ok(HttpResponse::Ok().json(contact))
}

/// A sister shop from which this person comes over without signing in.
#[derive(Serialize, ToSchema)]
pub struct Kin {
    /// The sister shop's id.
    id: String,
    /// What that shop is called.
    shop: String,
    /// What they are called there.
    name: String,
}

/// Who somebody is at sister shops.
#[derive(Serialize, ToSchema)]
pub struct KinList {
    /// One for each shop.
    kin: Vec<Kin>,
}

#[utoipa::path(get, path = "/api/v1/people/{id}/kin", params(("id" = uuid::Uuid, Path)), tag = "people",
    responses((status = 200, body = KinList), (status = 403, body = super::error::ErrorBody), (status = 404, body = super::error::ErrorBody)))]
pub async fn kin(app: Shared, who: Who, id: routes::Path<PersonId>) -> Answer {
    allowed(&app, &who, *id)?;
    let found = over::kin_of(&app.shop, *id).into_iter();
    let kin = found.map(|(sister, name)| Kin { id: sister.id, shop: sister.name, name }).collect();
    Ok(HttpResponse::Ok().json(KinList { kin }))
}

/// Nobody comes over from there as this person until they confirm it again; sign-ins made that way end.
#[utoipa::path(delete, path = "/api/v1/people/{id}/kin/{shop}", params(("id" = uuid::Uuid, Path), ("shop" = String, Path)), tag = "people",
    responses((status = 204), (status = 403, body = super::error::ErrorBody), (status = 404, body = super::error::ErrorBody)))]
pub async fn end_kin(app: Shared, who: Who, path: routes::Path<(PersonId, String)>) -> Answer {
    let (person, from) = path.into_inner();
    allowed(&app, &who, person)?;
    let shop = app.shop.clone();
    blocking(move || over::part(&shop, person, &from)).await??;
    Ok(HttpResponse::NoContent().finish())
}
