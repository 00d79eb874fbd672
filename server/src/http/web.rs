//! The app itself, out of the binary: compressed at build time, cached for ever where its name carries
//! a hash, and the same page for every address of the app.

use std::borrow::Cow;

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, web as routes};
use bytes::Bytes;
use rust_embed::RustEmbed;

#[derive(RustEmbed)]
#[folder = "$TURNBUCKLE_WEB"]
struct Built;

/// Only our own code runs, only our own server is asked; pictures may come from the page's memory. No text
/// becomes markup or code: the app makes one policy of trusted types, for the address of its own service worker.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; \
connect-src 'self'; manifest-src 'self'; worker-src 'self'; font-src 'self'; base-uri 'none'; form-action 'self'; \
frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types default";

pub fn configure(config: &mut routes::ServiceConfig) {
    config
        .service(routes::resource("/{path:.*}").route(routes::get().to(file)).route(routes::head().to(file)));
}

async fn file(request: HttpRequest, path: routes::Path<String>) -> HttpResponse {
    let path = if path.is_empty() { "index.html" } else { path.as_str() };
    let name = if Built::get(path).is_some() && !path.ends_with(".br") && !path.ends_with(".gz") {
        path
    } else if path.starts_with("api/") || path.rsplit('/').next().is_some_and(|last| last.contains('.')) {
        return HttpResponse::NotFound()
            .content_type("text/plain; charset=utf-8")
            .body("There is nothing at this address.\n");
    } else {
        "index.html"
    };
    serve(&request, name)
}

fn serve(request: &HttpRequest, name: &str) -> HttpResponse {
    let Some(plain) = Built::get(name) else { return HttpResponse::NotFound().finish() };
    let etag = format!("\"{}\"", hex::encode(&plain.metadata.sha256_hash()[..12]));
    let known =
        request.headers().get(header::IF_NONE_MATCH).and_then(|v| v.to_str().ok()) == Some(etag.as_str());
    let mut response = if known { HttpResponse::NotModified() } else { HttpResponse::Ok() };
    let for_ever = name.starts_with("assets/");
    response
        .insert_header((header::ETAG, etag))
        .insert_header((header::VARY, "Accept-Encoding"))
        .insert_header((
            header::CACHE_CONTROL,
            if for_ever { "public, max-age=31536000, immutable" } else { "no-cache" },
        ))
        .insert_header((header::CONTENT_SECURITY_POLICY, POLICY))
        .insert_header(("Permissions-Policy", "camera=(self), microphone=(), geolocation=()"))
        .insert_header(("Cross-Origin-Opener-Policy", "same-origin"));
    if known {
        return response.finish();
    }
    response.content_type(content_type(name));
    let accepts =
        request.headers().get(header::ACCEPT_ENCODING).and_then(|v| v.to_str().ok()).unwrap_or_default();
    for (encoding, ending) in [("br", ".br"), ("gzip", ".gz")] {
        if accepts.contains(encoding)
            && let Some(packed) = Built::get(&format!("{name}{ending}"))
        {
            return response.insert_header((header::CONTENT_ENCODING, encoding)).body(bytes_of(packed.data));
        }
    }
    response.body(bytes_of(plain.data))
}

/// Files of the binary are not copied for everybody who asks for them.
fn bytes_of(data: Cow<'static, [u8]>) -> Bytes {
    match data {
        Cow::Borrowed(bytes) => Bytes::from_static(bytes),
        Cow::Owned(bytes) => bytes.into(),
    }
}

fn content_type(name: &str) -> &'static str {
    match name.rsplit('.').next() {
        Some("html") => "text/html; charset=utf-8",
        Some("js" | "mjs") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("json" | "map") => "application/json",
        Some("webmanifest") => "application/manifest+json",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("ico") => "image/x-icon",
        Some("ftl" | "txt") => "text/plain; charset=utf-8",
        Some("wasm") => "application/wasm",
        Some("woff2") => "font/woff2",
        _ => "application/octet-stream",
    }
}
