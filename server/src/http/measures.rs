//! Measures over a stretch of time: shapes and definitions are `domain::measure`'s.

use std::collections::BTreeMap;

use actix_web::{HttpResponse, web as routes};
use domain::Ms;
use domain::measure;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::ApiError;
use super::{Answer, Shared, blocking};
use crate::auth::Who;

pub fn configure(config: &mut routes::ServiceConfig) {
    config.route("/measures", routes::get().to(measures));
}

#[derive(Deserialize, utoipa::IntoParams)]
pub struct Stretch {
    /// UTC milliseconds, included.
    from: Ms,
    /// UTC milliseconds, not included.
    to: Ms,
}

#[derive(Serialize, ToSchema)]
pub struct Measures {
    pub from: Ms,
    pub to: Ms,
    pub measures: Vec<Measure>,
}

#[derive(Serialize, ToSchema)]
pub struct Measure {
    pub id: &'static str,
    /// days, hours, vehicles, hours_per_day, share, ratio, moves
    pub unit: &'static str,
    /// calendar, working, none
    pub clock: &'static str,
    #[serde(flatten)]
    pub all: Figure,
    /// By class (rolling, towed_in), department or equipment.
    pub by: BTreeMap<String, Figure>,
}

#[derive(Serialize, ToSchema)]
pub struct Figure {
    pub count: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p90: Option<f64>,
}

impl From<measure::Figure> for Figure {
    fn from(f: measure::Figure) -> Self {
        Self { count: f.count, value: f.value, p90: f.p90 }
    }
}

impl From<measure::Measure> for Measure {
    fn from(m: measure::Measure) -> Self {
        let by = m.by.into_iter().map(|(key, figure)| (key, figure.into())).collect();
        Self { id: m.id, unit: m.unit.word(), clock: m.clock.word(), all: m.all.into(), by }
    }
}

#[utoipa::path(get, path = "/api/v1/measures", params(Stretch), tag = "measures",
    responses((status = 200, body = Measures), (status = 422, body = super::error::ErrorBody)))]
pub async fn measures(app: Shared, _who: Who, query: routes::Query<Stretch>) -> Answer {
    let Stretch { from, to } = query.into_inner();
    if from >= to {
        return Err(ApiError::new(422, "stretch", "The stretch must end after it begins."));
    }
    let (view, now) = (app.shop.view(), app.shop.clock.now());
    let found = blocking(move || measure::measures(&view.state, &view.zone, from, to, now)).await?;
    Ok(HttpResponse::Ok().json(Measures { from, to, measures: found.into_iter().map(Into::into).collect() }))
}
