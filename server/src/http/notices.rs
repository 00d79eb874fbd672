//! Notices of each person: a list and a cursor of their own.

use actix_web::{HttpResponse, web as routes};
use domain::stored::Notice;
use serde::{Deserialize, Serialize};
use store::NoticeAt;
use utoipa::ToSchema;

use super::{Answer, Shared, blocking, blocking_json};
use crate::auth::Who;
use crate::control::Record;

/// Notices in one answer; the app asks again after the last.
const NOTICES_MAX: usize = 200;
/// Several notices of one entry have numbers of their own: entry × 1,000 + place in it.
pub const PLACES: u64 = 1_000;

pub fn configure(config: &mut routes::ServiceConfig) {
    config.route("/notices", routes::get().to(list)).route("/notices/read", routes::post().to(read));
}

/// From where on.
#[derive(Deserialize, utoipa::IntoParams)]
pub struct After {
    /// Cursor of the last notice the caller has; 0 for all.
    #[serde(default)]
    after: u64,
}

/// One notice of the caller.
#[derive(Serialize, ToSchema)]
pub struct NoticeRow {
    /// Cursor: ask for what comes after it.
    id: u64,
    /// The notice.
    #[serde(flatten)]
    notice: Notice,
}

/// Notices of the caller, oldest first.
#[derive(Serialize, ToSchema)]
pub struct Notices {
    /// At most 200; ask again after the last.
    notices: Vec<NoticeRow>,
    /// Cursor up to which the caller has read.
    read: u64,
}

#[utoipa::path(get, path = "/api/v1/notices", params(After), tag = "notices", responses((status = 200, body = Notices)))]
pub async fn list(app: Shared, who: Who, query: routes::Query<After>) -> Answer {
    let app = app.into_inner();
    let after = NoticeAt { seq: query.after / PLACES, idx: (query.after % PLACES) as u32 };
    blocking_json(move || {
        let found = app.shop.notices_after(&who.person.0.into_bytes(), after, NOTICES_MAX)?;
        let rows = found.into_iter().filter_map(|row| {
            let notice = serde_json::from_slice(&row.body).ok()?;
            Some(NoticeRow { id: row.at.seq * PLACES + u64::from(row.at.idx), notice })
        });
        let read = app.shop.control.read().read.get(&who.person).copied().unwrap_or(0);
        Ok(Notices { notices: rows.collect(), read })
    })
    .await
}

/// How far the caller has read.
#[derive(Deserialize, ToSchema)]
pub struct ReadUpTo {
    /// Cursor of the last notice they have read.
    upto: u64,
}

#[utoipa::path(post, path = "/api/v1/notices/read", request_body = ReadUpTo, tag = "notices", responses((status = 204)))]
pub async fn read(app: Shared, who: Who, body: routes::Json<ReadUpTo>) -> Answer {
    let shop = app.shop.clone();
    let upto = body.upto;
    blocking(move || shop.control.write(vec![Record::Read { person: who.person, upto }])).await??;
    Ok(HttpResponse::NoContent().finish())
}
