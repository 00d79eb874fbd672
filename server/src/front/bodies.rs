//! How the body of a request comes: not packed, not longer than its address takes, and not so slowly that
//! it is held open for its own sake.

use std::future::{Ready, ready};
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use actix_web::body::EitherBody;
use actix_web::dev::{Payload, Service, ServiceRequest, ServiceResponse, Transform, forward_ready};
use actix_web::error::PayloadError;
use actix_web::http::header;
use actix_web::{Error, HttpMessage, ResponseError};
use bytes::Bytes;
use futures_util::Stream;
use tokio::time::{Instant, Sleep, sleep_until};

use crate::http::error::ApiError;
use crate::limits::{BODY_BYTES_A_SECOND, BODY_GRACE, SIGN_IN_BYTES_MAX};

pub struct Bodies;

pub struct Guarded<S> {
    service: S,
}

impl<S, B> Transform<S, ServiceRequest> for Bodies
where
    S: Service<ServiceRequest, Response = ServiceResponse<B>, Error = Error>,
    S::Future: 'static,
    B: 'static,
{
    type Response = ServiceResponse<EitherBody<B>>;
    type Error = Error;
    type InitError = ();
    type Transform = Guarded<S>;
    type Future = Ready<Result<Self::Transform, Self::InitError>>;

    fn new_transform(&self, service: S) -> Self::Future {
        ready(Ok(Guarded { service }))
    }
}

impl<S, B> Service<ServiceRequest> for Guarded<S>
where
    S: Service<ServiceRequest, Response = ServiceResponse<B>, Error = Error>,
    S::Future: 'static,
    B: 'static,
{
    type Response = ServiceResponse<EitherBody<B>>;
    type Error = Error;
    type Future = Pin<Box<dyn Future<Output = Result<Self::Response, Error>>>>;

    forward_ready!(service);

    fn call(&self, mut request: ServiceRequest) -> Self::Future {
        if let Err(error) = look(&request) {
            let answer = request.into_response(error.error_response()).map_into_right_body();
            return Box::pin(ready(Ok(answer)));
        }
        let payload = request.take_payload();
        if !matches!(payload, Payload::None) {
            let limit = limit_of(request.path());
            request.set_payload(Payload::Stream { payload: Box::pin(Paced::new(payload, limit)) });
        }
        let answer = self.service.call(request);
        Box::pin(async move { Ok(answer.await?.map_into_left_body()) })
    }
}

/// Whoever signs in has shown nothing yet. The other addresses have limits where they are handled.
fn limit_of(path: &str) -> usize {
    if path.starts_with("/api/v1/auth/") { SIGN_IN_BYTES_MAX } else { usize::MAX }
}

fn look(request: &ServiceRequest) -> Result<(), ApiError> {
    let said = |name| request.headers().get(name).and_then(|value| value.to_str().ok()).map(str::trim);
    // A kilobyte can unfold to a thousand: what comes is what is counted. Nothing of ours packs requests.
    let packed = request.headers().contains_key(header::CONTENT_ENCODING)
        && said(header::CONTENT_ENCODING).is_none_or(|word| !word.eq_ignore_ascii_case("identity"));
    if packed {
        return Err(ApiError::new(
            415,
            "content_encoding",
            "Send the body as it is, without Content-Encoding.",
        ));
    }
    let limit = limit_of(request.path());
    let length = said(header::CONTENT_LENGTH).and_then(|length| length.parse::<u64>().ok());
    if length.is_some_and(|length| length > limit as u64) {
        return Err(ApiError::new(413, "too_large", "That is more than signing in takes."));
    }
    Ok(())
}

/// A body that must keep coming. Only the time in which we wait counts, not the time in which we write.
struct Paced {
    inner: Payload,
    limit: usize,
    received: usize,
    waited: Duration,
    /// Since when nothing came.
    waiting: Option<(Instant, Pin<Box<Sleep>>)>,
}

impl Paced {
    fn new(inner: Payload, limit: usize) -> Self {
        Self { inner, limit, received: 0, waited: Duration::ZERO, waiting: None }
    }

    /// How long it may have been waited for by now.
    fn allowed(&self) -> Duration {
        BODY_GRACE + Duration::from_secs_f64(self.received as f64 / BODY_BYTES_A_SECOND as f64)
    }
}

impl Stream for Paced {
    type Item = Result<Bytes, PayloadError>;

    fn poll_next(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        let this = &mut *self;
        match Pin::new(&mut this.inner).poll_next(cx) {
            Poll::Ready(piece) => {
                if let Some((since, _)) = this.waiting.take() {
                    this.waited += since.elapsed();
                }
                if let Some(Ok(bytes)) = &piece {
                    this.received = this.received.saturating_add(bytes.len());
                    if this.received > this.limit {
                        return Poll::Ready(Some(Err(PayloadError::Overflow)));
                    }
                }
                Poll::Ready(piece)
            }
            Poll::Pending => {
                let left = this.allowed().saturating_sub(this.waited);
                let (_, end) = this.waiting.get_or_insert_with(|| {
                    let now = Instant::now();
                    (now, Box::pin(sleep_until(now + left)))
                });
                end.as_mut().poll(cx).map(|()| Some(Err(PayloadError::Io(slow()))))
            }
        }
    }
}

/// How a body ends that came too slowly.
fn slow() -> std::io::Error {
    std::io::Error::new(std::io::ErrorKind::TimedOut, "it came too slowly")
}

/// Whether that is why a body could not be read.
pub fn came_too_slowly(error: &PayloadError) -> bool {
    matches!(error, PayloadError::Io(error) if error.kind() == std::io::ErrorKind::TimedOut)
}

pub fn too_slow() -> ApiError {
    ApiError::new(408, "too_slow", "The request came too slowly; try again where the signal is better.")
}
