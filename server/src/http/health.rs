//! Whether the server lives, and whether it can take operations.

use actix_web::{HttpResponse, web as routes};

use super::{Answer, Shared, blocking};
use crate::limits::READY_WAIT;
use crate::metrics::Planning;

pub fn configure(config: &mut routes::ServiceConfig) {
    for path in ["/healthz", "/readyz"] {
        let handler = if path == "/healthz" { routes::get().to(health) } else { routes::get().to(ready) };
        config.service(routes::resource(path).route(handler).route(routes::head().to(health)));
    }
}

#[utoipa::path(get, path = "/healthz", tag = "health", responses((status = 200)))]
pub async fn health() -> Answer {
    Ok(HttpResponse::Ok().content_type("text/plain; charset=utf-8").body("ok\n"))
}

#[utoipa::path(get, path = "/readyz", tag = "health", responses((status = 200), (status = 503)))]
pub async fn ready(app: Shared, planning: Option<routes::Data<Planning>>) -> Answer {
    // Work goes on without a better order: this is said, and no reason to send nobody here any more.
    let stuck = planning.is_some_and(|planning| planning.is_stuck());
    let detail = if stuck { "ready, but the search for a better order had to be ended\n" } else { "ready\n" };
    // The way requests go: a thread of the pool, and a document out of the tables.
    let shop = app.shop.clone();
    let asked = blocking(move || shop.tables().map(|tables| tables.doc("shop").map(|_| ())));
    if !matches!(tokio::time::timeout(READY_WAIT, asked).await, Ok(Ok(Ok(Ok(()))))) {
        return Ok(HttpResponse::ServiceUnavailable()
            .content_type("text/plain; charset=utf-8")
            .insert_header(("Retry-After", "5"))
            .body("busy: requests wait for longer than they should\n"));
    }
    match app.shop.store.log().read_only() {
        None => Ok(HttpResponse::Ok().content_type("text/plain; charset=utf-8").body(detail)),
        Some(why) => Ok(HttpResponse::ServiceUnavailable()
            .content_type("text/plain; charset=utf-8")
            .body(format!("read-only: {why}\n"))),
    }
}
