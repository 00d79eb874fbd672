//! Operations up, documents down.

use std::collections::BTreeMap;
use std::sync::PoisonError;

use actix_web::error::PayloadError;
use actix_web::{HttpRequest, HttpResponse, web as routes};
use domain::Ms;
use domain::ids::{ClientId, PersonId};
use domain::stored::{ExceptionKind, Op, Role, Verdict};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use serde_json::value::RawValue;
use store::Doc;
use utoipa::ToSchema;

use super::error::{ApiError, epoch_word};
use super::packed::{gzip, json_answer, takes_gzip};
use super::security::{Happened, What};
use super::{Answer, App, Shared, blocking, says_json, to_json};
use crate::auth::Who;
use crate::front::bodies::{came_too_slowly, too_slow};
use crate::limits::{OP_BYTES_MAX, PUSH_BYTES_MAX, SETUP_OP_BYTES_MAX};
use crate::writer::{self, PushError};
use sync::limits::PUSH_OPS_MAX;
use sync::pull::{self, PullError};

pub fn configure(config: &mut routes::ServiceConfig) {
    config
        .service(
            routes::resource("/sync/push")
                .app_data(routes::PayloadConfig::new(PUSH_BYTES_MAX))
                .route(routes::post().to(push)),
        )
        .route("/sync/pull", routes::get().to(pull))
        .route("/sync/open", routes::get().to(open));
}

/// Operations of one client, in the order of their counters.
#[derive(Deserialize, ToSchema)]
pub struct Push {
    /// The epoch of the phone's copy; another than the server's is answered with `epoch_changed`.
    pub epoch: String,
    /// The client that made them.
    pub client: ClientId,
    /// The phone's clock as it sends them, UTC ms: tells how far it is off.
    pub device_now: Ms,
    /// At most 100 operations.
    #[schema(value_type = Vec<Op>)]
    pub ops: Vec<Value>,
    /// The app understands `held`. To one that does not, what waits for its own person is `client_unknown`: it
    /// keeps everything and goes on with other clients.
    #[serde(default)]
    pub knows_held: bool,
}

/// What became of them. Sent when it is durable.
#[derive(Serialize, ToSchema)]
pub struct Pushed {
    /// The server's epoch.
    pub epoch: String,
    /// The last durable entry of the log.
    pub head: u64,
    /// The server's clock, UTC ms.
    pub now: Ms,
    /// One for each operation that was decided, in order; fewer than were sent if the rest has to be sent
    /// again.
    pub results: Vec<OpVerdict>,
    /// Operations of which nothing was decided: they wait until their own person is signed in on that device
    /// again.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub held: Option<Held>,
}

/// Operations of a client, from a counter on, that somebody else's sign-in cannot bring.
#[derive(Serialize, ToSchema)]
pub struct Held {
    /// Which client.
    pub client: ClientId,
    /// The counter of the first one.
    pub from_n: u64,
}

/// What became of one operation.
#[derive(Serialize, ToSchema)]
pub struct OpVerdict {
    /// Its counter.
    pub n: u64,
    /// The log entry that says so.
    pub seq: u64,
    /// What became of it.
    pub verdict: Verdict,
    /// Of a refusal: the stable word for the reason.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub code: Option<String>,
    /// Of a refusal: an English sentence that says what to do; absent if it was decided before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub message: Option<String>,
    /// Rules that it broke; absent if none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub exceptions: Vec<ExceptionKind>,
    /// Of a refused wish: who was first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<PersonId>,
    /// Of a refused wish: when they were, UTC ms.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<Ms>,
}

#[utoipa::path(post, path = "/api/v1/sync/push", request_body = Push, tag = "sync",
    responses((status = 200, body = Pushed), (status = 400, body = super::error::ErrorBody), (status = 409, body = super::error::ErrorBody),
        (status = 413, body = super::error::ErrorBody), (status = 415, body = super::error::ErrorBody), (status = 429, body = super::error::ErrorBody), (status = 503, body = super::error::ErrorBody)))]
pub async fn push(
    app: Shared,
    who: Who,
    request: HttpRequest,
    body: Result<routes::Bytes, actix_web::Error>,
) -> Answer {
    says_json(&request)?;
    let body = body.map_err(|error| unread(&error))?;
    let bytes = body.len();
    let mut body: Push = serde_json::from_slice(&body).map_err(|error| {
        ApiError::new(400, "malformed", format!("The request is not the JSON it should be: {error}."))
    })?;
    if body.ops.len() > PUSH_OPS_MAX {
        let message = format!("At most {PUSH_OPS_MAX} operations go in one push; send the rest after it.");
        return Err(ApiError::new(413, "too_large", message));
    }
    if let Some(first) = body.ops.iter().position(is_too_large) {
        // What stands before it goes through; the phone then has it alone at the front, and drops it.
        body.ops.truncate(first);
        if body.ops.is_empty() {
            let message = "This is more than one operation takes; its text is kept on the phone.";
            return Err(ApiError::new(413, "too_large", message));
        }
    }
    let spent = {
        let mut budgets = app.budgets.lock().unwrap_or_else(PoisonError::into_inner);
        budgets.spend(who.session.0, body.ops.len(), bytes, app.shop.clock.now())
    };
    if let Err(seconds) = spent {
        let message = "So much has been sent from this sign-in that the rest waits; nothing of it is lost.";
        let mut error = ApiError::new(429, "budget", message);
        error.retry_after = Some(seconds);
        return Err(error);
    }
    let epoch = app.shop.store.meta().epoch();
    let from = app.shop.admit(&body.epoch, &who.session, &body.client).map_err(|error| match error {
        PushError::EpochChanged => ApiError::epoch_changed(epoch),
        error => error.into(),
    })?;
    // Whose role or standing changes: noticed here, where it is known who did it and from where.
    let set = body.ops.iter().filter_map(|op| match op["kind"].as_str()? {
        "set_person" => Some(&op["args"]["person"]["id"]),
        "erase_person" => Some(&op["args"]["person"]),
        _ => None,
    });
    let standing = |id: PersonId| {
        let view = app.shop.view();
        (id, view.state.people.get(&id).map_or((Role::Technician, false), |p| (p.role, p.retired)))
    };
    let set: BTreeMap<PersonId, (Role, bool)> =
        set.filter_map(|id| PersonId::deserialize(id).ok()).map(standing).collect();
    let push = writer::Push { from, device_now: body.device_now, ops: body.ops };
    let results = app.shop.push(push).await?;
    for (person, (role, retired)) in set {
        let view = app.shop.view();
        let now = view.state.people.get(&person);
        let told = |what| Happened::new(what).by(who.person, who.session).to(person);
        if let Some(now) = now.filter(|now| now.role != role) {
            app.tell(&request, told(What::RoleSet).saying(format!("{:?}", now.role).to_lowercase()));
        }
        if now.is_some_and(|now| now.retired && !retired) {
            app.tell(&request, told(What::Removed));
        }
    }
    if results.held.is_some() && results.ops.is_empty() && !body.knows_held {
        return Err(PushError::ClientUnknown.into());
    }
    let held = results.held.filter(|_| body.knows_held);
    let verdicts = results.ops.into_iter().map(|r| OpVerdict {
        n: r.n,
        seq: r.seq,
        verdict: r.verdict,
        code: r.code,
        message: r.message,
        exceptions: r.exceptions,
        by: r.other.as_ref().and_then(|o| o.by),
        at: r.other.as_ref().and_then(|o| o.at),
    });
    Ok(HttpResponse::Ok().json(Pushed {
        epoch: epoch_word(epoch),
        head: results.head,
        now: app.shop.clock.now(),
        results: verdicts.collect(),
        held: held.map(|from_n| Held { client: from.client, from_n }),
    }))
}

fn is_too_large(op: &Value) -> bool {
    let sets_up = op.get("kind").and_then(Value::as_str).is_some_and(|kind| kind.starts_with("set_"));
    op.to_string().len() > if sets_up { SETUP_OP_BYTES_MAX } else { OP_BYTES_MAX }
}

/// The framework's own message about a body it could not read is not ours to send.
fn unread(error: &actix_web::Error) -> ApiError {
    if error.as_response_error().status_code() == actix_web::http::StatusCode::PAYLOAD_TOO_LARGE {
        let message = format!("A push has at most {PUSH_BYTES_MAX} bytes; send it in smaller pieces.");
        return ApiError::new(413, "too_large", message);
    }
    if error.as_error::<PayloadError>().is_some_and(came_too_slowly) {
        return too_slow();
    }
    ApiError::new(400, "malformed", format!("The request did not come in whole: {error}."))
}

/// What the phone has.
#[derive(Deserialize, ToSchema, utoipa::IntoParams)]
pub struct PullQuery {
    /// The epoch of the phone's copy; absent if it has no copy yet.
    pub epoch: Option<String>,
    /// The phone's cursor; 0 for everything.
    #[serde(default)]
    pub after: u64,
    /// The chain's word at the cursor, as the page or frame before gave it.
    pub hash: Option<String>,
    /// Revision of the plan the phone has.
    pub plan: Option<u64>,
    /// For the second and later pages: `head` and `head_hash` of the page before.
    pub head: Option<u64>,
    /// The chain's word at `head`.
    pub head_hash: Option<String>,
    /// The most documents in a page, at most and by default 500.
    pub limit: Option<usize>,
    /// The client whose last counter the phone wants to know.
    pub client: Option<ClientId>,
}

/// One document, or the news that it is gone.
#[derive(Serialize, ToSchema)]
pub struct DocRow<'a> {
    /// Names it: `kind/id`.
    pub key: &'a str,
    /// The log entry that last changed it.
    pub seq: u64,
    /// The document; its shape follows from the kind. Absent if it is gone.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Object>)]
    pub body: Option<&'a RawValue>,
    /// It no longer exists: the phone drops it.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub gone: bool,
}

/// One page of what the phone missed.
#[derive(Serialize, ToSchema)]
pub struct Pulled<'a> {
    /// The server's epoch.
    pub epoch: String,
    /// The cursor it continues.
    pub from: u64,
    /// The cursor after it.
    pub to: u64,
    /// The chain's word at `to`.
    pub hash: String,
    /// More pages follow; a copy is whole only when this is false.
    pub more: bool,
    /// Changed documents, by the entry that last changed them.
    pub docs: Vec<DocRow<'a>>,
    /// The last durable entry when the page was made, and the chain's word there; the request for the next
    /// page says both again.
    pub head: u64,
    /// The chain's word at `head`.
    pub head_hash: String,
    /// The last counter the log has of the client that was asked about, 0 if none; absent if none was asked
    /// about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_n: Option<u64>,
    /// The plan, with the last page; absent if the phone has it, or there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<planner::Plan>)]
    pub plan: Option<&'a RawValue>,
    /// The server's clock, UTC ms.
    pub now: Ms,
}

#[utoipa::path(get, path = "/api/v1/sync/pull", params(PullQuery), tag = "sync",
    responses((status = 200, body = Pulled), (status = 409, body = super::error::ErrorBody)))]
pub async fn pull(app: Shared, _who: Who, request: HttpRequest, query: routes::Query<PullQuery>) -> Answer {
    let app = app.into_inner();
    let packed = takes_gzip(&request);
    let answer = blocking(move || {
        let bytes = page(&app, &query)?;
        if packed { gzip(&bytes).map_err(|error| ApiError::internal(&error)) } else { Ok(bytes) }
    });
    Ok(json_answer(answer.await??, packed))
}

/// What is in work now, for a phone that has nothing yet. It is no copy: there is no cursor to go on from.
#[derive(Serialize, ToSchema)]
pub struct Opened<'a> {
    pub docs: Vec<DocRow<'a>>,
    #[schema(value_type = planner::Plan)]
    pub plan: &'a RawValue,
    /// The shop's time, UTC milliseconds.
    pub now: Ms,
}

#[utoipa::path(get, path = "/api/v1/sync/open", tag = "sync", responses((status = 200, body = Opened)))]
pub async fn open(app: Shared, _who: Who, request: HttpRequest) -> Answer {
    let app = app.into_inner();
    let packed = takes_gzip(&request);
    let answer = blocking(move || {
        let found = pull::open(&app.shop)?;
        let plan = app.plan.borrow().clone();
        let opened = Opened { docs: rows(&found)?, plan: &plan.json, now: app.shop.clock.now() };
        let bytes = to_json(&opened)?;
        if packed { gzip(&bytes).map_err(|error| ApiError::internal(&error)) } else { Ok(bytes) }
    });
    Ok(json_answer(answer.await??, packed))
}

/// A row that cannot be read must not go out as one without a body: the phone would believe it.
fn rows(docs: &[Doc]) -> Result<Vec<DocRow<'_>>, ApiError> {
    let read = docs.iter().map(|doc| {
        let body = doc.body.as_ref().map(|body| serde_json::from_slice(body)).transpose()?;
        Ok(DocRow { key: &doc.key, seq: doc.seq, body, gone: doc.body.is_none() })
    });
    read.collect::<serde_json::Result<_>>().map_err(|error| ApiError::internal(&error))
}

fn page(app: &App, query: &PullQuery) -> Result<Vec<u8>, ApiError> {
    let asked = pull::Query {
        epoch: query.epoch.clone(),
        after: query.after,
        hash: query.hash.clone(),
        head: query.head.zip(query.head_hash.clone()),
        limit: query.limit,
        client: query.client,
    };
    let epoch = app.shop.store.meta().epoch();
    let page = pull::pull(&app.shop, &asked).map_err(|error| match error {
        PullError::EpochChanged => ApiError::epoch_changed(epoch),
        PullError::Store(error) => error.into(),
    })?;
    let plan = app.plan.borrow().clone();
    let docs = rows(&page.docs)?;
    to_json(&Pulled {
        epoch: epoch_word(epoch),
        from: page.from,
        to: page.to,
        hash: page.hash,
        more: page.more,
        docs,
        head: page.head.0,
        head_hash: page.head.1,
        last_n: page.last_n,
        plan: (!page.more && query.plan != Some(plan.rev)).then_some(&*plan.json),
        now: app.shop.clock.now(),
    })
}
