//! The API document: every address, every shape, from the types themselves.

use actix_web::HttpResponse;
use domain::stored;
use utoipa::OpenApi;

use super::{
    Answer, auth, error, forecast, health, import, jam, live, measures, notices, people, photos, sisters,
    sync, tablet, tls, what_if,
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
        people::contact,
        people::set_contact,
        people::kin,
        people::end_kin,
        sync::push,
        sync::pull,
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
        crate::planner::Plan,
        crate::planner::PlanChange,
        error::ErrorBody,
    ))
)]
struct Document;

/// The document as text, the same for the address, the command and the snapshot in the tests.
pub fn document() -> serde_json::Result<String> {
    let mut text = Document::openapi().to_pretty_json()?;
    text.push('\n');
    Ok(text)
}

pub async fn openapi() -> Answer {
    let text = document().map_err(|error| error::ApiError::internal(&error))?;
    Ok(HttpResponse::Ok().content_type("application/json").body(text))
}
