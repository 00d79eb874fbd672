//! Photos: resumable uploads (tus 1.0.0: core, creation, termination) and the pictures themselves.
//!
//! Invariants: every request needs a sign-in; people reach only their own uploads; pictures are served as the
//! server redrew them, never as they came; an answer to bytes means that they are stored.

use std::sync::PoisonError;

use actix_web::http::header::{self, HeaderMap};
use actix_web::middleware::DefaultHeaders;
use actix_web::{HttpRequest, HttpResponse, guard, web as routes};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use bytes::{Bytes, BytesMut};
use domain::ids::PersonId;
use futures_util::StreamExt;
use serde::Deserialize;

use super::error::ApiError;
use super::{Answer, Shared, blocking};
use crate::auth::Who;
use crate::limits::{PHOTO_BYTES_MAX, PHOTO_CHUNK_BYTES_MAX, UPLOADS_AN_HOUR};
use crate::photos::{self, KINDS, Size, Upload, Wrong};

const VERSION: &str = "1.0.0";
/// Bytes gathered before they are written and synced: a broken connection costs at most these.
const WRITE_BYTES: usize = 1024 * 1024;

pub fn configure(config: &mut routes::ServiceConfig) {
    let instead = |method: &'static str| guard::Header("X-HTTP-Method-Override", method);
    let headers = DefaultHeaders::new().add(("Tus-Resumable", VERSION));
    config.service(
        routes::scope("/photos")
            .wrap(headers)
            .service(
                routes::resource("")
                    .route(routes::method(actix_web::http::Method::OPTIONS).to(options))
                    .route(routes::post().to(create)),
            )
            .service(
                routes::resource("/{id}")
                    .route(routes::method(actix_web::http::Method::OPTIONS).to(options))
                    .route(routes::head().to(offset))
                    .route(routes::patch().to(append))
                    .route(routes::delete().to(delete))
                    // For networks that let only GET and POST through (tus core).
                    .route(routes::post().guard(instead("PATCH")).to(append))
                    .route(routes::post().guard(instead("DELETE")).to(delete))
                    .route(routes::get().to(show)),
            ),
    );
}

impl From<Wrong> for ApiError {
    fn from(wrong: Wrong) -> Self {
        let message = wrong.to_string();
        match wrong {
            Wrong::Unknown => Self::new(404, "unknown_upload", message),
            Wrong::Offset { .. } => Self::new(409, "offset", message),
            Wrong::Hash => Self::new(422, "wrong_hash", message),
            Wrong::NotAPhoto(_) => Self::new(415, "not_a_photo", message),
            Wrong::Longer { .. } | Wrong::Length => Self::new(413, "too_large", message),
            Wrong::TooMany => Self::new(429, "too_many_uploads", message),
            Wrong::Busy => Self::new(503, "busy", message),
            Wrong::Full => Self::new(507, "disk_full", message),
            Wrong::Store(error) => error.into(),
        }
    }
}

#[utoipa::path(options, path = "/api/v1/photos", tag = "photos",
    responses((status = 204, description = "Tus-Version, Tus-Extension, Tus-Max-Size")))]
pub async fn options(_who: Who) -> Answer {
    Ok(HttpResponse::NoContent()
        .insert_header(("Tus-Version", VERSION))
        .insert_header(("Tus-Extension", "creation,termination"))
        .insert_header(("Tus-Max-Size", PHOTO_BYTES_MAX))
        .finish())
}

/// Only this version is spoken. The caller learns which, as tus asks for.
fn other_version(request: &HttpRequest) -> Option<HttpResponse> {
    if text(request.headers(), "tus-resumable") == Some(VERSION) {
        return None;
    }
    let error = ApiError::new(412, "tus_version", "Uploads speak tus 1.0.0; say so in Tus-Resumable.");
    let mut response = actix_web::ResponseError::error_response(&error);
    response
        .headers_mut()
        .insert(header::HeaderName::from_static("tus-version"), header::HeaderValue::from_static(VERSION));
    Some(response)
}

fn text<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers.get(name)?.to_str().ok().map(str::trim)
}

fn number(headers: &HeaderMap, name: &str) -> Option<u64> {
    text(headers, name)
        .filter(|said| said.bytes().all(|b| b.is_ascii_digit()))
        .and_then(|said| said.parse().ok())
}

#[utoipa::path(post, path = "/api/v1/photos", tag = "photos",
    params(("Tus-Resumable" = String, Header), ("Upload-Length" = u64, Header),
        ("Upload-Metadata" = String, Header, description = "sha256 and mime, each as base64")),
    responses((status = 201, description = "Location; Upload-Offset equals Upload-Length when the photo is here already"),
        (status = 400, body = super::error::ErrorBody), (status = 413, body = super::error::ErrorBody),
        (status = 415, body = super::error::ErrorBody)))]
pub async fn create(request: HttpRequest, app: Shared, who: Who) -> Answer {
    if let Some(answer) = other_version(&request) {
        return Ok(answer);
    }
    let malformed = |message: &str| ApiError::new(400, "malformed", message);
    let length = number(request.headers(), "upload-length")
        .ok_or_else(|| malformed("Upload-Length says how many bytes the photo has."))?;
    if length > PHOTO_BYTES_MAX {
        return Err(Wrong::Length.into());
    }
    if length == 0 {
        return Err(malformed("This photo has no bytes; take it again."));
    }
    let said = metadata(text(request.headers(), "upload-metadata").unwrap_or_default()).ok_or_else(|| {
        malformed("Upload-Metadata is a list of names and base64 values, separated by commas.")
    })?;
    let sha256 = said.get("sha256").filter(|sha256| photos::read_hash(sha256).is_some());
    let sha256 = sha256
        .ok_or_else(|| malformed("Upload-Metadata must name sha256, in 64 small hexadecimal digits."))?
        .clone();
    let mime = said.get("mime").or_else(|| said.get("filetype")).cloned().unwrap_or_default();
    if !KINDS.contains(&mime.as_str()) {
        return Err(ApiError::new(
            415,
            "not_a_photo",
            format!("Upload-Metadata must name mime, one of {}.", KINDS.join(", ")),
        ));
    }
    count_begun(&app, who.person)?;
    let id = uuid::Uuid::new_v4().simple().to_string();
    let upload = Upload {
        length,
        sha256: sha256.clone(),
        mime,
        person: who.person,
        at: app.shop.clock.now(),
        done: false,
    };
    let (shop, name) = (app.shop.clone(), id.clone());
    let upload = blocking(move || photos::begin(&shop, &name, upload)).await??;
    if upload.done {
        photos::tell_here(&app.shop, &sha256).await;
    }
    Ok(HttpResponse::Created()
        .insert_header((header::LOCATION, format!("/api/v1/photos/{id}")))
        .insert_header(("Upload-Offset", if upload.done { upload.length } else { 0 }))
        .finish())
}

/// Uploads that were begun are checked when the next one begins.
fn count_begun(app: &Shared, person: PersonId) -> Result<(), ApiError> {
    let now = app.shop.clock.now();
    let mut begun = app.begun.lock().unwrap_or_else(PoisonError::into_inner);
    begun.retain(|_, (_, since)| now - *since < 3_600_000);
    let (count, _) = begun.entry(person).or_insert((0, now));
    *count += 1;
    if *count <= UPLOADS_AN_HOUR {
        return Ok(());
    }
    let message =
        format!("You have begun {UPLOADS_AN_HOUR} uploads within an hour; the others go on in the next.");
    Err(ApiError::new(429, "too_many_uploads", message))
}

/// "name base64, name base64": names as they are, values decoded.
fn metadata(header: &str) -> Option<std::collections::BTreeMap<String, String>> {
    let pairs = header.split(',').map(str::trim).filter(|pair| !pair.is_empty());
    pairs
        .map(|pair| {
            let (name, value) = pair.split_once(' ').unwrap_or((pair, ""));
            let value = String::from_utf8(STANDARD.decode(value.trim()).ok()?).ok()?;
            Some((name.to_owned(), value))
        })
        .collect()
}

#[utoipa::path(head, path = "/api/v1/photos/{id}", tag = "photos", params(("id" = String, Path), ("Tus-Resumable" = String, Header)),
    responses((status = 200, description = "Upload-Offset, Upload-Length"), (status = 404)))]
pub async fn offset(request: HttpRequest, app: Shared, who: Who, id: routes::Path<String>) -> Answer {
    if photos::read_hash(&id).is_some() {
        return answer(&request, app, &id, Size::Full).await;
    }
    if let Some(answer) = other_version(&request) {
        return Ok(answer);
    }
    let id = id.into_inner();
    let (shop, name) = (app.shop.clone(), id.clone());
    let (upload, offset) = blocking(move || {
        let upload = photos::find(&shop, &name, who.person)?;
        let offset = photos::offset(&shop, &name, &upload)?;
        Ok::<_, Wrong>((upload, offset))
    })
    .await??;
    // The server stopped between the last byte and the check of the picture.
    if offset == upload.length && !upload.done {
        finish(&app, &id, &upload).await?;
    }
    Ok(HttpResponse::Ok()
        .insert_header(("Upload-Offset", offset))
        .insert_header(("Upload-Length", upload.length))
        .finish())
}

#[utoipa::path(patch, path = "/api/v1/photos/{id}", tag = "photos",
    params(("id" = String, Path), ("Tus-Resumable" = String, Header), ("Upload-Offset" = u64, Header)),
    request_body(content_type = "application/offset+octet-stream"),
    responses((status = 204, description = "Upload-Offset"), (status = 404, body = super::error::ErrorBody),
        (status = 409, body = super::error::ErrorBody), (status = 413, body = super::error::ErrorBody),
        (status = 415, body = super::error::ErrorBody), (status = 422, body = super::error::ErrorBody)))]
pub async fn append(
    request: HttpRequest,
    app: Shared,
    who: Who,
    id: routes::Path<String>,
    mut body: routes::Payload,
) -> Answer {
    if let Some(answer) = other_version(&request) {
        return Ok(answer);
    }
    if text(request.headers(), "content-type") != Some("application/offset+octet-stream") {
        let message = "Send the bytes with Content-Type: application/offset+octet-stream.";
        return Err(ApiError::new(415, "content_type", message));
    }
    let mut offset = number(request.headers(), "upload-offset")
        .ok_or_else(|| ApiError::new(400, "malformed", "Upload-Offset says where these bytes belong."))?;
    if number(request.headers(), "content-length").is_some_and(|length| length > PHOTO_CHUNK_BYTES_MAX as u64)
    {
        return Err(piece_too_large());
    }
    let id = id.into_inner();
    let (shop, name) = (app.shop.clone(), id.clone());
    let upload = blocking(move || photos::find(&shop, &name, who.person)).await??;

    // An empty piece is written too, so that a wrong offset is answered in any case.
    let (mut gathered, mut received, mut first) = (BytesMut::new(), 0, true);
    loop {
        let piece = body.next().await;
        let broken = matches!(piece, Some(Err(_)));
        let over = piece.is_none() || broken;
        if let Some(Ok(piece)) = piece {
            received += piece.len();
            gathered.extend_from_slice(&piece);
        }
        if received > PHOTO_CHUNK_BYTES_MAX {
            return Err(piece_too_large());
        }
        if gathered.len() >= WRITE_BYTES || (over && (first || !gathered.is_empty())) {
            offset = write(&app, &id, &upload, offset, gathered.split().freeze()).await?;
            first = false;
        }
        if broken {
            return Err(ApiError::new(400, "broken_off", "The connection broke; go on after what arrived."));
        }
        if over {
            break;
        }
    }
    if offset == upload.length && !upload.done {
        finish(&app, &id, &upload).await?;
    }
    Ok(HttpResponse::NoContent().insert_header(("Upload-Offset", offset)).finish())
}

fn piece_too_large() -> ApiError {
    let message = format!("One piece has at most {PHOTO_CHUNK_BYTES_MAX} bytes; send the photo in several.");
    ApiError::new(413, "too_large", message)
}

async fn write(app: &Shared, id: &str, upload: &Upload, offset: u64, bytes: Bytes) -> Result<u64, ApiError> {
    let (shop, id, upload) = (app.shop.clone(), id.to_owned(), upload.clone());
    Ok(blocking(move || photos::write(&shop, &id, &upload, offset, &bytes)).await??)
}

async fn finish(app: &Shared, id: &str, upload: &Upload) -> Result<(), ApiError> {
    let (shop, id, wanted) = (app.shop.clone(), id.to_owned(), upload.clone());
    blocking(move || photos::finish(&shop, &id, &wanted)).await??;
    photos::tell_here(&app.shop, &upload.sha256).await;
    Ok(())
}

#[utoipa::path(delete, path = "/api/v1/photos/{id}", tag = "photos", params(("id" = String, Path), ("Tus-Resumable" = String, Header)),
    responses((status = 204), (status = 404, body = super::error::ErrorBody)))]
pub async fn delete(request: HttpRequest, app: Shared, who: Who, id: routes::Path<String>) -> Answer {
    if let Some(answer) = other_version(&request) {
        return Ok(answer);
    }
    let shop = app.shop.clone();
    blocking(move || {
        let upload = photos::find(&shop, &id, who.person)?;
        photos::forget(&shop, &id, &upload)
    })
    .await??;
    Ok(HttpResponse::NoContent().finish())
}

/// How large.
#[derive(Deserialize, utoipa::IntoParams)]
pub struct Wanted {
    /// "small" for lists; else the whole picture.
    size: Option<String>,
}

#[utoipa::path(get, path = "/api/v1/photos/{sha256}", tag = "photos", params(("sha256" = String, Path), Wanted),
    responses((status = 200, content_type = "image/jpeg"), (status = 304), (status = 404, body = super::error::ErrorBody)))]
pub async fn show(
    request: HttpRequest,
    app: Shared,
    _who: Who,
    sha256: routes::Path<String>,
    query: routes::Query<Wanted>,
) -> Answer {
    let size = match query.size.as_deref() {
        None | Some("full") => Size::Full,
        Some("small") => Size::Small,
        Some(_) => return Err(ApiError::new(400, "malformed", "A photo comes in size small or full.")),
    };
    answer(&request, app, &sha256, size).await
}

async fn answer(request: &HttpRequest, app: Shared, sha256: &str, size: Size) -> Answer {
    let hash = photos::read_hash(sha256).ok_or_else(|| ApiError::not_found("photo"))?;
    let tag = format!("\"{sha256}-{}\"", size.name());
    let mut response = HttpResponse::Ok();
    response
        .content_type("image/jpeg")
        .insert_header((header::ETAG, tag.clone()))
        .insert_header((header::CACHE_CONTROL, "private, max-age=31536000, immutable"))
        .insert_header((header::CONTENT_DISPOSITION, format!("inline; filename=\"{}.jpg\"", &sha256[..12])));
    let shop = app.shop.clone();
    if has_already(request.headers(), &tag) {
        return Ok(response.status(actix_web::http::StatusCode::NOT_MODIFIED).finish());
    }
    let found = blocking(move || photos::picture(&*shop.store, &hash, size)).await??;
    let found = found.ok_or_else(|| {
        ApiError::new(404, "not_here", "This photo has not arrived; it is still on the phone that took it.")
    })?;
    Ok(response.body(found))
}

/// A photo never changes, so a browser's cached copy is as good as a new one.
fn has_already(headers: &HeaderMap, tag: &str) -> bool {
    let said = text(headers, "if-none-match").unwrap_or_default();
    said.split(',').map(str::trim).any(|known| known == tag || known.strip_prefix("W/") == Some(tag))
}

#[cfg(test)]
mod tests;
