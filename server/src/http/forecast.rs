//! Dates and probabilities as they travel; their shapes and definitions are `planner::forecast`'s.
//! Invariant: a possible promise is worked out on a copy of the state; nothing is written to the log.

use std::sync::Arc;
use std::time::Duration;

use actix_web::{HttpResponse, web as routes};
use domain::Ms;
use domain::decide::{self, Context};
use domain::fold;
use domain::ids::{OpId, OrderId, RoutingId};
use domain::stored::{Act, OpenOrder, Stage};
use jiff::civil::Date;
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::error::ApiError;
use super::{Answer, Shared, blocking_json};
use crate::auth::Who;
use crate::shop::View;
use planner::accuracy::{Accuracy, Slips};
use planner::forecast::{self, Outlook, Promise};
use planner::hindsight::Looked;

/// A forecast as it goes out, with the entry, plan and minute it was made for, and the day of the look at the
/// past that is in it.
pub type Made = ((u64, u64, Ms, Option<Date>), Arc<[u8]>);

pub fn configure(config: &mut routes::ServiceConfig) {
    config.route("/forecast", routes::get().to(outlook));
    config.route("/forecast/accuracy", routes::get().to(accuracy));
    config.route("/forecast/promise", routes::post().to(promise));
}

#[utoipa::path(get, path = "/api/v1/forecast", tag = "measures",
    responses((status = 200, body = Outlook), (status = 409, body = super::error::ErrorBody)))]
pub async fn outlook(app: Shared, _who: Who) -> Answer {
    let (view, now) = (app.shop.view(), app.shop.clock.now());
    let plan = app.plan.borrow().clone();
    let (slips, known) = slips(&app, now).await?;
    // Fresh to the minute: the same question within one minute has the same answer, made once.
    let minute = now.div_euclid(domain::MINUTE);
    let key = (view.head.seq, plan.rev, minute, known);
    let kept = app.outlook.lock().ok().and_then(|kept| kept.clone()).filter(|(of, _)| *of == key);
    if let Some((_, bytes)) = kept {
        return Ok(super::json_answer(bytes.to_vec()));
    }
    let keep = app.clone();
    let answer: HttpResponse = blocking_json(move || {
        let found = forecast::outlook(&view, &plan.shown, &slips, now)
            .map_err(|error| trouble(&error.to_string()))?;
        if let (Ok(bytes), Ok(mut kept)) = (super::to_json(&found), keep.outlook.lock()) {
            *kept = Some((key, bytes.into()));
        }
        Ok(found)
    })
    .await?;
    Ok(answer)
}

/// While nothing has been learnt from the past yet, a request waits this long for it, and then goes without.
const PATIENCE: Duration = Duration::from_secs(8);

/// What the past taught: today's result, or the last one while today's is being read. None: there is no result
/// yet.
async fn looked(app: &Shared, now: Ms, patience: Duration) -> Result<Option<Looked>, ApiError> {
    let last = app.hindsight.last();
    if let Some(looked) = last.as_ref().filter(|looked| app.hindsight.is_of(now, looked)) {
        return Ok(Some(looked.clone()));
    }
    // In a task of its own, so that it goes on if nobody waits any more.
    let reading = actix_web::rt::spawn(app.hindsight.clone().today(now));
    if last.is_some() {
        return Ok(last);
    }
    match tokio::time::timeout(patience, reading).await {
        Ok(found) => {
            let found = found.map_err(|error| ApiError::internal(&error))?;
            Ok(Some(found.map_err(|error| ApiError::internal(&error))?))
        }
        Err(_) => Ok(None),
    }
}

/// What the past taught, or the prior until it has been read; and the day it is of.
async fn slips(app: &Shared, now: Ms) -> Result<(Slips, Option<Date>), ApiError> {
    let looked = looked(app, now, PATIENCE).await?;
    Ok(looked.map_or_else(Default::default, |looked| (looked.past.slips.clone(), Some(looked.day))))
}

#[utoipa::path(get, path = "/api/v1/forecast/accuracy", tag = "measures",
    responses((status = 200, body = Accuracy)))]
pub async fn accuracy(app: Shared, _who: Who) -> Answer {
    let now = app.shop.clock.now();
    let looked = looked(&app, now, Duration::MAX).await?;
    let found = looked.ok_or_else(|| ApiError::internal(&"the past was not read"))?;
    Ok(super::json_answer(super::to_json(&found.past.accuracy)?))
}

/// A vehicle that has not come yet.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PromiseQuestion {
    /// The work: routings, one after the other.
    #[schema(value_type = Vec<String>)]
    routings: Vec<RoutingId>,
    /// When it comes, UTC ms; absent: now.
    #[serde(default)]
    arriving: Option<Ms>,
    /// Urgency: 1, 2 (normal) or 4, as on an order.
    #[serde(default)]
    weight: Option<u32>,
}

#[utoipa::path(post, path = "/api/v1/forecast/promise", tag = "measures", request_body = PromiseQuestion,
    responses((status = 200, body = Promise), (status = 409, body = super::error::ErrorBody), (status = 422, body = super::error::ErrorBody)))]
pub async fn promise(app: Shared, who: Who, asked: routes::Json<PromiseQuestion>) -> Answer {
    let (view, now) = (app.shop.view(), app.shop.clock.now());
    let asked = asked.into_inner();
    let order = OrderId(Uuid::from_u128(1));
    let arriving = asked.arriving.unwrap_or(now).max(now);
    let plan = app.plan.borrow().clone();
    let (slips, _) = slips(&app, now).await?;
    blocking_json(move || {
        let with = with_order(&view, &who, order, asked, arriving, now)?;
        let found = forecast::promise(&view, &plan.shown, &slips, &with, order, arriving, now);
        let found = found.map_err(|error| trouble(&error.to_string()))?;
        found.ok_or_else(|| ApiError::new(422, "no_work", "These routings have no work in them."))
    })
    .await
}

/// The state with the vehicle in it, by the same rules as if it were really entered.
fn with_order(
    view: &View,
    who: &Who,
    order: OrderId,
    asked: PromiseQuestion,
    arriving: Ms,
    now: Ms,
) -> Result<domain::state::State, ApiError> {
    if asked.routings.is_empty() {
        return Err(ApiError::new(422, "no_work", "Name at least one routing."));
    }
    let act = Act::OpenOrder(OpenOrder {
        number: "?".into(),
        vehicle: "?".into(),
        vin: None,
        towed_in: false,
        weight: asked.weight.unwrap_or(2),
        stage: if arriving > now { Stage::Expected } else { Stage::Authorised },
        expected_at: Some(arriving),
        promise: None,
        place: None,
        energy: None,
        sold_minutes: None,
        comeback_of: None,
        routings: asked.routings,
        arrived_at: None,
    });
    let op = OpId(order.0);
    let context = Context {
        by: who.person,
        role: domain::stored::Role::Admin,
        op,
        at: now,
        uncertain: false,
        now,
        zone: &view.zone,
    };
    let events = decide::decide(&view.state, &act, &[], &context)
        .map_err(|refusal| ApiError::new(422, "refused", refusal.to_string()))?;
    let mut state = view.state.clone();
    events.iter().for_each(|event| fold::fold(&mut state, event, &mut fold::Changed::new()));
    Ok(state)
}

fn trouble(sentence: &str) -> ApiError {
    ApiError::new(409, "no_plan", format!("There is no plan to forecast from: {sentence}."))
}
