//! Answers compressed by ourselves, where the framework's quickest setting would send a phone twice as much.

use std::io::Write;

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse};
use flate2::Compression;
use flate2::write::GzEncoder;

pub fn takes_gzip(request: &HttpRequest) -> bool {
    let said =
        request.headers().get(header::ACCEPT_ENCODING).and_then(|v| v.to_str().ok()).unwrap_or_default();
    said.split(',').any(|one| {
        let (name, quality) = one.split_once(';').unwrap_or((one, ""));
        name.trim() == "gzip" && !matches!(quality.replace(' ', "").as_str(), "q=0" | "q=0.0")
    })
}

/// Off the threads that serve: a page of a first copy takes some milliseconds.
pub fn gzip(bytes: &[u8]) -> std::io::Result<Vec<u8>> {
    let mut encoder = GzEncoder::new(Vec::with_capacity(bytes.len() / 6), Compression::new(6));
    encoder.write_all(bytes)?;
    encoder.finish()
}

pub fn json_answer(bytes: Vec<u8>, packed: bool) -> HttpResponse {
    let mut answer = HttpResponse::Ok();
    if packed {
        answer.insert_header((header::CONTENT_ENCODING, "gzip"));
    }
    answer.content_type("application/json").insert_header((header::VARY, "Accept-Encoding")).body(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gzip_only_to_those_who_take_it() {
        let asks = |value: &str| {
            let request = actix_web::test::TestRequest::default().insert_header(("accept-encoding", value));
            takes_gzip(&request.to_http_request())
        };
        assert!(asks("gzip, deflate, br") && asks("br;q=1.0, gzip;q=0.5"));
        assert!(!asks("br") && !asks("gzip;q=0") && !asks(""));
    }
}
