//! One line in the log for every request, with an id that the answer carries too.

use std::future::{Ready, ready};
use std::pin::Pin;
use std::time::Instant;

use actix_web::Error;
use actix_web::dev::{Service, ServiceRequest, ServiceResponse, Transform, forward_ready};
use actix_web::http::header::{HeaderName, HeaderValue};
use tracing::Instrument;

pub struct RequestLog;

pub struct Logged<S> {
    service: S,
}

impl<S, B> Transform<S, ServiceRequest> for RequestLog
where
    S: Service<ServiceRequest, Response = ServiceResponse<B>, Error = Error>,
    S::Future: 'static,
    B: 'static,
{
    type Response = ServiceResponse<B>;
    type Error = Error;
    type InitError = ();
    type Transform = Logged<S>;
    type Future = Ready<Result<Self::Transform, Self::InitError>>;

    fn new_transform(&self, service: S) -> Self::Future {
        ready(Ok(Logged { service }))
    }
}

impl<S, B> Service<ServiceRequest> for Logged<S>
where
    S: Service<ServiceRequest, Response = ServiceResponse<B>, Error = Error>,
    S::Future: 'static,
    B: 'static,
{
    type Response = ServiceResponse<B>;
    type Error = Error;
    type Future = Pin<Box<dyn Future<Output = Result<Self::Response, Error>>>>;

    forward_ready!(service);

    fn call(&self, request: ServiceRequest) -> Self::Future {
        let id = uuid::Uuid::now_v7().to_string();
        let span =
            tracing::info_span!("request", id = %id, method = %request.method(), path = %request.path());
        let began = Instant::now();
        let answer = self.service.call(request);
        Box::pin(
            async move {
                let mut answer = answer.await?;
                tracing::debug!(
                    status = answer.status().as_u16(),
                    elapsed_ms = began.elapsed().as_millis() as u64,
                    "answered"
                );
                let (status, error) = (answer.status().as_u16(), answer.response().error());
                super::security::answered(answer.request(), status, error);
                if let Ok(value) = HeaderValue::from_str(&id) {
                    answer.headers_mut().insert(HeaderName::from_static("x-request-id"), value);
                }
                Ok(answer)
            }
            .instrument(span),
        )
    }
}
