//! The API document: every address, every shape, from the types themselves.

use actix_web::HttpResponse;
use domain::stored;
use utoipa::openapi::extensions::Extensions;
use utoipa::openapi::path::{Operation, Parameter, ParameterIn};
use utoipa::openapi::{self, Ref, RefOr};
use utoipa::{Modify, OpenApi};

use super::{
    Answer, auth, error, forecast, health, import, jam, live, measures, notices, passkeys, people, photos,
    security, sisters, sync, tablet, tls, tries, what_if,
};

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Turnbuckle",
        description = "Hand-offs between the departments of a collision repair shop. Operations go up, documents come down. \
                       All times are integer UTC milliseconds; minutes and hours say which clock they mean.",
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0")
    ),
    paths(
        auth::look,
        auth::join,
        auth::password,
        auth::refresh,
        auth::me,
        auth::sign_out,
        auth::client,
        auth::invite,
        auth::transfer,
        auth::display,
        auth::set_password,
        auth::devices,
        auth::end_device,
        sisters::sisters,
        sisters::enter_sister,
        sisters::remove_sister,
        sisters::pass_to_sister,
        sisters::arrive,
        sisters::come,
        sisters::say_who,
        tablet::set_pin,
        tablet::switch,
        tablet::faces,
        passkeys::begin_passkey,
        passkeys::by_passkey,
        passkeys::begin_making,
        passkeys::make_passkey,
        passkeys::own_passkeys,
        passkeys::rename_passkey,
        passkeys::remove_passkey,
        security::view,
        tries::tried,
        tries::tried_read,
        people::contact,
        people::set_contact,
        people::kin,
        people::end_kin,
        sync::push,
        sync::pull,
        sync::open,
        live::live,
        notices::list,
        notices::read,
        photos::options,
        photos::create,
        photos::offset,
        photos::append,
        photos::delete,
        photos::show,
        measures::measures,
        forecast::outlook,
        forecast::accuracy,
        forecast::promise,
        measures::control,
        measures::own,
        what_if::what_if,
        jam::jam,
        import::orders,
        tls::status,
        tls::trust,
        health::health,
        health::ready,
    ),
    components(schemas(
        stored::Op,
        stored::Act,
        stored::Expect,
        stored::Shop,
        stored::Department,
        stored::Person,
        stored::Equipment,
        stored::Place,
        stored::Calendar,
        stored::Routing,
        stored::Order,
        stored::Card,
        stored::Handoff,
        stored::Note,
        stored::Photo,
        stored::Exception,
        stored::Notice,
        planner::Plan,
        planner::PlanChange,
        error::ErrorBody,
    )),
    modifiers(&Everywhere)
)]
struct Document;

/// What any request may be answered, said once: `http/mod.rs` is where these answers are given.
struct Everywhere;

/// Answered without a sign-in.
const OPEN: [&str; 10] = [
    "/api/v1/auth/join",
    "/api/v1/auth/password",
    "/api/v1/auth/refresh",
    "/api/v1/auth/passkey",
    "/api/v1/auth/passkey/begin",
    "/api/v1/auth/arrive",
    "/api/v1/auth/over",
    "/healthz",
    "/readyz",
    "/trust.txt",
];

impl Modify for Everywhere {
    fn modify(&self, document: &mut openapi::OpenApi) {
        for (path, item) in &mut document.paths.paths {
            let of_photos = path.starts_with("/api/v1/photos");
            let changes = [&mut item.post, &mut item.put, &mut item.patch, &mut item.delete, &mut item.head];
            for operation in changes.into_iter().flatten() {
                may_answer(operation, path);
                if of_photos {
                    add(operation, 412, "Another version of tus than 1.0.0.");
                }
            }
            for operation in [&mut item.get, &mut item.options].into_iter().flatten() {
                may_answer(operation, path);
            }
            if let Some(begin) = item.post.as_mut().filter(|_| of_photos) {
                add(begin, 429, "Too many unfinished uploads of this person.");
            }
        }
    }
}

fn may_answer(operation: &mut Operation, path: &str) {
    if !OPEN.contains(&path) {
        add(operation, 401, "Not signed in, or no longer.");
        add(operation, 403, "Not for this role, for a screen on the wall, or from another site's page.");
        add(operation, 426, "Another version of the protocol than this server's.");
    }
    let in_address = |p: &RefOr<Parameter>| matches!(p, RefOr::T(p) if p.parameter_in == ParameterIn::Query);
    let asked = operation.parameters.iter().flatten().any(in_address);
    if operation.request_body.is_some() || asked {
        add(operation, 400, "Not what the request should be.");
    }
    if operation.request_body.is_some() {
        add(operation, 413, "More than can be sent at once.");
        add(operation, 415, "Not JSON.");
    }
}

/// Unless the address itself says more about it.
fn add(operation: &mut Operation, status: u16, when: &str) {
    let body = openapi::ContentBuilder::new().schema(Some(Ref::from_schema_name("ErrorBody"))).build();
    let answer = openapi::ResponseBuilder::new().description(when).content("application/json", body).build();
    operation.responses.responses.entry(status.to_string()).or_insert_with(|| answer.into());
}

/// The document as text, the same for the address, the command and the snapshot in the tests.
pub fn document() -> serde_json::Result<String> {
    let mut document = Document::openapi();
    let limits = Extensions::from_iter([("x-limits", domain::told::limits())]);
    document.extensions = Some(limits);
    let mut text = document.to_pretty_json()?;
    text.push('\n');
    Ok(text)
}

pub async fn openapi() -> Answer {
    let text = document().map_err(|error| error::ApiError::internal(&error))?;
    Ok(HttpResponse::Ok().content_type("application/json").body(text))
}
