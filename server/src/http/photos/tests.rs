use std::pin::Pin;
use std::rc::Rc;
use std::sync::Arc;

use actix_web::dev::ServiceResponse;
use actix_web::http::Method;
use actix_web::test::{TestRequest, call_service, init_service, read_body, read_body_json};
use domain::ids::PersonId;
use domain::stored::Act;
use sha2::{Digest, Sha256};
use store::Memory;
use tokio::sync::watch;

use super::*;
use crate::clock::Clock;
use crate::http::App;
use crate::shop::{OwnOp, Shop};

#[test]
fn metadata_is_names_and_base64() {
    // The shape of the example in tus 1.0.0, "Creation" [MEM]: a name with a value, and one without.
    let read = metadata("filename d29ybGRfZG9taW5hdGlvbl9wbGFuLnBkZg==,is_confidential").unwrap();
    assert_eq!(read["filename"], "world_domination_plan.pdf");
    assert_eq!(read["is_confidential"], "");
    assert_eq!(metadata("mime aW1hZ2UvanBlZw==, sha256 YWI=").unwrap()["sha256"], "ab");
    assert!(metadata("mime not/base64!").is_none());
    assert!(metadata("").unwrap().is_empty());
}

#[test]
fn a_browser_that_has_the_picture_is_not_sent_it_again() {
    let with = |said: &str| {
        let mut headers = HeaderMap::new();
        headers.insert(header::IF_NONE_MATCH, said.parse().unwrap());
        has_already(&headers, "\"ab-small\"")
    };
    assert!(with("\"ab-small\""));
    assert!(with("\"x\", W/\"ab-small\""));
    assert!(!with("\"ab-full\""));
}

/// Somebody signed in, and one vehicle.
async fn shop() -> (Arc<Shop>, Shared, String) {
    let shop = Shop::open(Arc::new(Memory::new(5)), Clock::at(1_000_000)).unwrap();
    crate::auth::ensure_keys(&shop).unwrap();
    let person = PersonId(uuid::Uuid::from_u128(1));
    let acts = serde_json::json!([
        {"kind": "set_calendar", "args": {"calendar": {"id": "day", "title": {"text": "Day"}, "week": vec![serde_json::json!([]); 7]}}},
        {"kind": "set_shop", "args": {"shop": {"name": "S", "time_zone": "UTC", "calendar": "day"}}},
        {"kind": "set_department", "args": {"department": {"id": "body", "title": {"text": "Body"}, "working": "pool"}}},
        {"kind": "set_person", "args": {"person": {"id": person, "name": "Ada", "department": "body", "role": "technician"}}},
        {"kind": "open_order", "args": {"number": "2041", "vehicle": "grey wagon"}},
    ]);
    let acts: Vec<Act> = serde_json::from_value(acts).unwrap();
    let made = shop.own(acts.into_iter().map(OwnOp::system).collect()).await.unwrap();
    assert!(made.ops.iter().all(|op| op.verdict == domain::stored::Verdict::Applied), "{:?}", made.ops);
    let (link, _) = crate::auth::invite(&shop, person, person, false).unwrap();
    let signed_in = crate::auth::join(&shop, &link, &crate::auth::Phone::default()).unwrap();
    let app = App::new(shop.clone(), watch::channel(Arc::default()).1, crate::http::outside::here());
    (shop, Shared::from(app), signed_in.access)
}

type Call = Box<dyn Fn(TestRequest) -> Pin<Box<dyn Future<Output = ServiceResponse>>>>;

struct Phone {
    call: Call,
    token: String,
}

impl Phone {
    async fn new(data: Shared, token: String) -> Self {
        let app = actix_web::App::new().app_data(data).configure(crate::http::configure);
        let service = Rc::new(init_service(app).await);
        let call: Call = Box::new(move |request| {
            let service = service.clone();
            Box::pin(async move { call_service(&*service, request.to_request()).await.map_into_boxed_body() })
        });
        Self { call, token }
    }

    async fn send(
        &self,
        method: Method,
        path: &str,
        headers: &[(&str, String)],
        body: &[u8],
    ) -> ServiceResponse {
        let mut request = TestRequest::default()
            .method(method)
            .uri(path)
            .insert_header(("Authorization", format!("Bearer {}", self.token)))
            .insert_header(("Tus-Resumable", "1.0.0"));
        for (name, value) in headers {
            request = request.insert_header((*name, value.as_str()));
        }
        (self.call)(request.set_payload(body.to_vec())).await
    }

    async fn create(&self, bytes: &[u8], mime: &str, sha256: &str) -> ServiceResponse {
        let said = format!("sha256 {},mime {}", STANDARD.encode(sha256), STANDARD.encode(mime));
        let headers = [("Upload-Length", bytes.len().to_string()), ("Upload-Metadata", said)];
        self.send(Method::POST, "/api/v1/photos", &headers, b"").await
    }

    async fn append(&self, at: &str, offset: usize, bytes: &[u8]) -> ServiceResponse {
        let headers = [
            ("Upload-Offset", offset.to_string()),
            ("Content-Type", "application/offset+octet-stream".to_owned()),
        ];
        self.send(Method::PATCH, at, &headers, bytes).await
    }
}

fn said(response: &ServiceResponse, name: &str) -> String {
    response.headers().get(name).map(|v| v.to_str().unwrap().to_owned()).unwrap_or_default()
}

fn picture_bytes() -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    image::RgbImage::from_pixel(800, 200, image::Rgb([90, 120, 40]))
        .write_to(&mut bytes, image::ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}

fn digest(bytes: &[u8]) -> String {
    hex::encode(Sha256::digest(bytes))
}

async fn code(response: ServiceResponse) -> (u16, String) {
    let status = response.status().as_u16();
    let body: serde_json::Value = read_body_json(response).await;
    (status, body["code"].as_str().unwrap_or_default().to_owned())
}

#[actix_web::test]
async fn a_photo_comes_in_pieces_is_announced_and_shown() {
    let (shop, data, token) = shop().await;
    let phone = Phone::new(data, token).await;
    let bytes = picture_bytes();
    let sha256 = digest(&bytes);
    let order = shop.view().state.in_shop().next().unwrap().id;
    let noted = serde_json::json!({"kind": "photo", "args": {"order": order, "sha256": sha256, "mime": "image/png",
        "bytes": bytes.len(), "taken_at": 0}});
    let noted: Act = serde_json::from_value(noted).unwrap();
    shop.own(vec![OwnOp::system(noted)]).await.unwrap();
    let here = || shop.view().state.photos.values().all(|photo| photo.here);
    assert!(!here());

    let spoken = phone.send(Method::OPTIONS, "/api/v1/photos", &[], b"").await;
    assert_eq!(said(&spoken, "Tus-Extension"), "creation,termination");
    assert_eq!(said(&spoken, "Tus-Max-Size"), PHOTO_BYTES_MAX.to_string());

    let shown = format!("/api/v1/photos/{sha256}");
    assert_eq!(code(phone.send(Method::GET, &shown, &[], b"").await).await, (404, "not_here".into()));

    let created = phone.create(&bytes, "image/png", &sha256).await;
    assert_eq!((created.status().as_u16(), said(&created, "Upload-Offset").as_str()), (201, "0"));
    let at = said(&created, "Location");
    let half = bytes.len() / 2;
    let first = phone.append(&at, 0, &bytes[..half]).await;
    assert_eq!((first.status().as_u16(), said(&first, "Upload-Offset")), (204, half.to_string()));
    // The answer was lost; the phone asks where it stands and sends from the start all the same.
    let asked = phone.send(Method::HEAD, &at, &[], b"").await;
    assert_eq!(
        (said(&asked, "Upload-Offset"), said(&asked, "Upload-Length")),
        (half.to_string(), bytes.len().to_string())
    );
    let again = phone.append(&at, 0, &bytes[..half]).await;
    assert_eq!(said(&again, "Tus-Resumable"), "1.0.0", "also on errors");
    assert_eq!(code(again).await, (409, "offset".into()));
    let last = phone.append(&at, half, &bytes[half..]).await;
    assert_eq!((last.status().as_u16(), said(&last, "Upload-Offset")), (204, bytes.len().to_string()));
    assert!(here());
    let asked = phone.send(Method::HEAD, &at, &[], b"").await;
    assert_eq!(said(&asked, "Upload-Offset"), bytes.len().to_string());

    let known = phone.create(&bytes, "image/png", &sha256).await;
    assert_eq!((known.status().as_u16(), said(&known, "Upload-Offset")), (201, bytes.len().to_string()));

    let small = phone.send(Method::GET, &format!("{shown}?size=small"), &[], b"").await;
    assert_eq!(small.status(), 200);
    assert_eq!(said(&small, "Content-Type"), "image/jpeg");
    assert!(
        said(&small, "Cache-Control").starts_with("private")
            && said(&small, "Content-Disposition").starts_with("inline")
    );
    let tag = said(&small, "ETag");
    let drawn = image::load_from_memory(&read_body(small).await).unwrap();
    assert_eq!((drawn.width(), drawn.height()), (480, 120));
    let same = phone.send(Method::GET, &format!("{shown}?size=small"), &[("If-None-Match", tag)], b"").await;
    assert_eq!(same.status(), 304);
    assert_eq!(phone.send(Method::GET, &shown, &[], b"").await.status(), 200);
}

#[actix_web::test]
async fn what_is_not_right_is_said_and_leaves_nothing() {
    let (shop, data, token) = shop().await;
    let phone = Phone::new(data, token).await;
    let bytes = picture_bytes();
    let sha256 = digest(&bytes);

    let stranger = TestRequest::post().uri("/api/v1/photos");
    assert_eq!((phone.call)(stranger).await.status(), 401);
    let old = phone.send(Method::POST, "/api/v1/photos", &[("Tus-Resumable", "0.2.2".into())], b"").await;
    assert_eq!((old.status().as_u16(), said(&old, "Tus-Version").as_str()), (412, "1.0.0"));
    assert_eq!(code(phone.create(b"", "image/png", &sha256).await).await, (400, "malformed".into()));
    assert_eq!(code(phone.create(&bytes, "image/png", "short").await).await, (400, "malformed".into()));
    assert_eq!(code(phone.create(&bytes, "text/html", &sha256).await).await, (415, "not_a_photo".into()));
    let huge = [("Upload-Length", (PHOTO_BYTES_MAX + 1).to_string())];
    let huge = phone.send(Method::POST, "/api/v1/photos", &huge, b"").await;
    assert_eq!(code(huge).await, (413, "too_large".into()));

    let at = said(&phone.create(&bytes, "image/png", &sha256).await, "Location");
    let typed = phone.send(Method::PATCH, &at, &[("Upload-Offset", "0".into())], &bytes).await;
    assert_eq!(code(typed).await, (415, "content_type".into()));
    let longer = [bytes.as_slice(), b"more"].concat();
    assert_eq!(code(phone.append(&at, 0, &longer).await).await, (413, "too_large".into()));
    let piece = vec![0; PHOTO_CHUNK_BYTES_MAX + 1];
    assert_eq!(code(phone.append(&at, 0, &piece).await).await, (413, "too_large".into()));
    // A network that lets no DELETE through.
    let ended = phone.send(Method::POST, &at, &[("X-HTTP-Method-Override", "DELETE".into())], b"").await;
    assert_eq!(ended.status(), 204);
    assert_eq!(phone.send(Method::HEAD, &at, &[], b"").await.status(), 404);

    let at = said(&phone.create(&bytes, "image/png", &digest(b"another")).await, "Location");
    assert_eq!(code(phone.append(&at, 0, &bytes).await).await, (422, "wrong_hash".into()));
    let page = b"<html><script>alert(1)</script></html>";
    let at = said(&phone.create(page, "image/png", &digest(page)).await, "Location");
    assert_eq!(code(phone.append(&at, 0, page).await).await, (415, "not_a_photo".into()));
    assert_eq!(phone.send(Method::HEAD, &at, &[], b"").await.status(), 404);
    let photos = shop.store.photos();
    assert!(photos.uploads().unwrap().is_empty() && photos.list().unwrap().is_empty());
}
