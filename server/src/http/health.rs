//! Whether the server lives, and whether it can take operations.

use actix_web::{HttpResponse, web as routes};

use super::{Answer, Shared};

pub fn configure(config: &mut routes::ServiceConfig) {
    for path in ["/healthz", "/readyz"] {
        let handler = if path == "/healthz" { routes::get().to(health) } else { routes::get().to(ready) };
        config.service(routes::resource(path).route(handler).route(routes::head().to(health)));
    }
}

#[utoipa::path(get, path = "/healthz", tag = "health", responses((status = 200)))]
pub async fn health() -> Answer {
    Ok(HttpResponse::Ok().content_type("text/plain").body("ok\n"))
}

#[utoipa::path(get, path = "/readyz", tag = "health", responses((status = 200), (status = 503)))]
pub async fn ready(app: Shared) -> Answer {
    match app.shop.store.log().read_only() {
        None => Ok(HttpResponse::Ok().content_type("text/plain").body("ready\n")),
        Some(why) => Ok(HttpResponse::ServiceUnavailable()
            .content_type("text/plain")
            .body(format!("read-only: {why}\n"))),
    }
}
