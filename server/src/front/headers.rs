//! What every answer says to browsers, in one place: an address that forgets it would be the one that is used.

use actix_web::Error;
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HeaderName, HeaderValue, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use actix_web::middleware::Next;

/// An answer of the API is no page: nothing in it runs or is shown in a frame.
const NOTHING: &str = "default-src 'none'; frame-ancestors 'none'";

/// What was said where it is known better stands: the policy of a page, how long a picture may be kept.
pub async fn say(
    request: ServiceRequest,
    next: Next<impl MessageBody>,
) -> Result<ServiceResponse<impl MessageBody>, Error> {
    let api = request.path().starts_with("/api/");
    let mut answer = next.call(request).await?;
    let headers = answer.headers_mut();
    let mut unless_said = |name: HeaderName, value| {
        if !headers.contains_key(&name) {
            headers.insert(name, HeaderValue::from_static(value));
        }
    };
    unless_said(X_CONTENT_TYPE_OPTIONS, "nosniff");
    unless_said(REFERRER_POLICY, "no-referrer");
    unless_said(CONTENT_SECURITY_POLICY, NOTHING);
    if api {
        unless_said(CACHE_CONTROL, "no-store");
        unless_said(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    }
    Ok(answer)
}
