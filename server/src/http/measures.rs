//! Measures over a stretch of time: shapes; definitions are `domain::measure`'s.
//!
//! Invariant: figures of a person go to that person only.

use std::collections::BTreeMap;

use actix_web::web as routes;
use domain::Ms;
use domain::calendar::instant;
use domain::ids::DepartmentId;
use domain::measure::control::{self, Rule};
use domain::measure::{self, Class, Question};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::ApiError;
use super::{Answer, Shared, blocking_json};
use crate::auth::Who;
use crate::shop::View;

pub fn configure(config: &mut routes::ServiceConfig) {
    config
        .route("/measures", routes::get().to(measures))
        .route("/measures/control", routes::get().to(control))
        .route("/measures/own", routes::get().to(own));
}

/// A stretch of time, and what of it.
#[derive(Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Stretch {
    /// UTC milliseconds, included; or a day of the shop (2026-03-02), from its beginning.
    from: String,
    /// UTC milliseconds, not included; or a day of the shop, included whole.
    to: String,
    /// Only this department.
    department: Option<String>,
    /// Only this class of vehicles: rolling, towed_in, small, medium, large.
    class: Option<String>,
}

impl Stretch {
    /// What it asks, of the shop as it is; or what is wrong with it.
    fn question(self, view: &View, now: Ms) -> Result<Question, ApiError> {
        let (from, to) = (edge(&self.from, view, false)?, edge(&self.to, view, true)?);
        question(view, (from, to, now), self.department, self.class)
            .map_err(|said| ApiError::new(422, "stretch", said))
    }
}

/// The same for whoever asks by command.
pub fn question(
    view: &View,
    (from, to, now): (Ms, Ms, Ms),
    department: Option<String>,
    class: Option<String>,
) -> Result<Question, String> {
    if from >= to {
        return Err("The stretch must end after it begins.".into());
    }
    let department = department.filter(|word| !word.is_empty()).map(DepartmentId);
    if let Some(word) = department.as_ref().filter(|id| !view.state.departments.contains_key(*id)) {
        return Err(format!("There is no department «{word}»."));
    }
    let class = class.filter(|word| !word.is_empty());
    let named = class.as_deref().map(|word| {
        let words = Class::ALL.map(Class::word).join(", ");
        Class::named(word).ok_or_else(|| format!("There is no class «{word}», only {words}."))
    });
    Ok(Question { from, to, now, department, class: named.transpose()? })
}

fn edge(said: &str, view: &View, end: bool) -> Result<Ms, ApiError> {
    if let Ok(at) = said.parse::<Ms>() {
        return Ok(at);
    }
    let date = said.parse::<Date>().and_then(|date| if end { date.tomorrow() } else { Ok(date) });
    date.ok().and_then(|date| instant(date, 0, &view.zone)).ok_or_else(|| {
        let message = format!("«{said}» is neither a time in UTC milliseconds nor a day like 2026-03-02.");
        ApiError::new(422, "stretch", message)
    })
}

/// What was asked, and of which state: the log up to `seq`, with `now` for what still runs.
#[derive(Serialize, ToSchema)]
pub struct Asked {
    /// The beginning of the stretch, UTC ms, included.
    pub from: Ms,
    /// Its end, UTC ms, not included.
    pub to: Ms,
    /// The present, UTC ms.
    pub now: Ms,
    /// The log entry of the state that was measured.
    pub seq: u64,
    /// Only this department; absent: all.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub department: Option<String>,
    /// Only this class of vehicles; absent: all.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub class: Option<&'static str>,
}

impl Asked {
    fn new(question: &Question, view: &View) -> Self {
        Self {
            from: question.from,
            to: question.to,
            now: question.now,
            seq: view.head.seq,
            department: question.department.as_ref().map(|id| id.0.clone()),
            class: question.class.map(Class::word),
        }
    }
}

/// Every measure of a stretch of time.
#[derive(Serialize, ToSchema)]
pub struct Measures {
    #[serde(flatten)]
    pub asked: Asked,
    /// Each measure once; MEASURES.md defines them.
    pub measures: Vec<Measure>,
}

impl Measures {
    pub fn of(view: &View, question: &Question) -> Self {
        let found = measure::answer(&view.state, &view.zone, question);
        Self { asked: Asked::new(question, view), measures: found.into_iter().map(Measure::from).collect() }
    }
}

/// One measure, overall and broken down.
#[derive(Serialize, ToSchema)]
pub struct Measure {
    /// Stable name, as in MEASURES.md.
    pub id: &'static str,
    /// days, hours, vehicles, hours_per_day, share (0 to 1), ratio, moves.
    pub unit: &'static str,
    /// calendar (nights and weekends count), working (only open hours count), none (no clock runs).
    pub clock: &'static str,
    /// Over everything that was asked about.
    #[serde(flatten)]
    pub all: Figure,
    /// By class (rolling, towed_in, small, medium, large), department, equipment, reason or month; a
    /// slash joins two ("body/parts", "lift-1/worked").
    pub by: BTreeMap<String, Figure>,
}

/// A number and how much it rests on.
#[derive(Serialize, ToSchema)]
pub struct Figure {
    /// How many cases.
    pub count: u32,
    /// Median, mean, sum or share, as the measure defines; absent without cases.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// The 90th percentile; absent where the measure has none.
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

/// Whether the shop is steady. Times are UTC ms, lengths calendar days or hours.
#[derive(Serialize, ToSchema)]
pub struct Control {
    #[serde(flatten)]
    pub asked: Asked,
    /// Individuals charts of keys to keys, one for each class of vehicles.
    pub charts: Vec<Chart>,
    /// The end of each local day.
    pub flow: Vec<FlowDay>,
    /// Percentiles of keys to keys by month of delivery.
    pub bands: Vec<Band>,
    /// Little's law over the stretch; absent where nothing left, or nothing was there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub little: Option<Little>,
    /// Vehicle-hours waited by reason, a week at a time.
    pub waits: Vec<WaitWeek>,
    /// Vehicles that waited longest without any reason.
    pub unexplained: Vec<Unexplained>,
}

/// An individuals chart of one class of vehicles.
#[derive(Serialize, ToSchema)]
pub struct Chart {
    /// rolling, towed_in, small, medium or large.
    pub class: &'static str,
    /// In the order in which they came.
    pub points: Vec<Point>,
    /// Absent with fewer than two visits.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limits: Option<Limits>,
}

/// One visit.
#[derive(Serialize, ToSchema)]
pub struct Point {
    /// The order of the visit.
    #[schema(value_type = String)]
    pub order: domain::ids::OrderId,
    /// The shop's number of that order.
    pub number: String,
    /// Keys in, UTC ms.
    pub start: Ms,
    /// Calendar days from keys in to keys back.
    pub days: f64,
    /// beyond: outside the limits; one_side: the eighth or a later one in a row on one side of the mean.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub signals: Vec<&'static str>,
}

/// Limits of a chart, in calendar days.
#[derive(Serialize, ToSchema)]
pub struct Limits {
    /// Mean of all points.
    pub mean: f64,
    /// Mean difference between neighbouring points.
    pub moving_range: f64,
    /// A point below this is a signal; may lie below zero.
    pub lower: f64,
    /// A point above this is a signal.
    pub upper: f64,
}

/// How many vehicles there were at the end of a local day, or now on the last one.
#[derive(Serialize, ToSchema)]
pub struct FlowDay {
    /// The instant counted at, UTC ms.
    pub at: Ms,
    /// Vehicles whose keys are in and whose repair is not authorised.
    pub arrived: u32,
    /// Vehicles whose repair is authorised.
    pub authorised: u32,
    /// Vehicles at a sublet.
    pub away: u32,
    /// Vehicles that are ready.
    pub ready: u32,
    /// Vehicles of stopped jobs that are still here.
    pub stopped: u32,
    /// Vehicles that came since the beginning of the stretch.
    pub came: u32,
    /// Vehicles that left since then.
    pub left: u32,
}

/// Calendar days from keys in to keys back, of the visits that ended in one month.
#[derive(Serialize, ToSchema)]
pub struct Band {
    /// Local month, "2026-03".
    pub month: String,
    /// How many visits.
    pub count: u32,
    /// 10th percentile.
    pub p10: f64,
    /// 25th percentile.
    pub p25: f64,
    /// Median.
    pub p50: f64,
    /// 75th percentile.
    pub p75: f64,
    /// 90th percentile.
    pub p90: f64,
}

/// Little's law: mean number = rate × mean time.
#[derive(Serialize, ToSchema)]
pub struct Little {
    /// From counts over time.
    pub number: f64,
    /// From the vehicles that left.
    pub rate_per_day: f64,
    /// Mean calendar days in the shop, of the vehicles that left.
    pub mean_days: f64,
    /// Rate times mean time, to compare with `number`.
    pub rate_times_time: f64,
    /// Vehicles in the shop when the stretch begins.
    pub at_begin: u32,
    /// Vehicles in the shop when it ends.
    pub at_end: u32,
}

/// What vehicles waited for in one week, from Monday.
#[derive(Serialize, ToSchema)]
pub struct WaitWeek {
    /// Monday.
    pub from: Ms,
    /// Vehicle-hours by reason, calendar time.
    pub hours: BTreeMap<&'static str, f64>,
}

/// A vehicle that waited for a department without a reason.
#[derive(Serialize, ToSchema)]
pub struct Unexplained {
    /// The order of the vehicle.
    #[schema(value_type = String)]
    pub order: domain::ids::OrderId,
    /// The shop's number of that order.
    pub number: String,
    /// Absent: nothing was laid out to do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub department: Option<String>,
    /// Open hours.
    pub hours: f64,
}

impl Control {
    pub fn of(view: &View, question: &Question) -> Self {
        let found = control::control(&view.state, &view.zone, question);
        Self {
            asked: Asked::new(question, view),
            charts: found.charts.into_iter().map(Chart::from).collect(),
            flow: found.flow.into_iter().map(FlowDay::from).collect(),
            bands: found.bands.into_iter().map(Band::from).collect(),
            little: found.little.map(Little::from),
            waits: found.waits.into_iter().map(WaitWeek::from).collect(),
            unexplained: found.unexplained.into_iter().map(Unexplained::from).collect(),
        }
    }
}

impl From<control::Chart> for Chart {
    fn from(chart: control::Chart) -> Self {
        let mut signals: BTreeMap<usize, Vec<&'static str>> = BTreeMap::new();
        for (place, rule) in chart.limits.iter().flat_map(|limits| &limits.signals) {
            signals.entry(*place).or_default().push(match rule {
                Rule::Beyond => "beyond",
                Rule::OneSide => "one_side",
            });
        }
        let points = chart.points.into_iter().enumerate().map(|(place, point)| Point {
            order: point.order,
            number: point.number,
            start: point.start,
            days: point.days,
            signals: signals.remove(&place).unwrap_or_default(),
        });
        let limits = chart.limits.as_ref().map(|l| Limits {
            mean: l.mean,
            moving_range: l.moving_range,
            lower: l.lower,
            upper: l.upper,
        });
        Self { class: chart.class.word(), points: points.collect(), limits }
    }
}

impl From<control::Day> for FlowDay {
    fn from(day: control::Day) -> Self {
        let [arrived, authorised, away, ready, stopped] = day.stages;
        Self { at: day.at, arrived, authorised, away, ready, stopped, came: day.came, left: day.left }
    }
}

impl From<control::Band> for Band {
    fn from(band: control::Band) -> Self {
        let [p10, p25, p50, p75, p90] = band.days;
        Self { month: band.month, count: band.count, p10, p25, p50, p75, p90 }
    }
}

impl From<control::Little> for Little {
    fn from(l: control::Little) -> Self {
        Self {
            number: l.number,
            rate_per_day: l.rate_per_day,
            mean_days: l.mean_days,
            rate_times_time: l.rate_times_time(),
            at_begin: l.at_begin,
            at_end: l.at_end,
        }
    }
}

impl From<control::Week> for WaitWeek {
    fn from(week: control::Week) -> Self {
        let hours = week.hours.into_iter().map(|(reason, hours)| (reason.word(), hours)).collect();
        Self { from: week.from, hours }
    }
}

impl From<control::Unexplained> for Unexplained {
    fn from(one: control::Unexplained) -> Self {
        let department = one.department.map(|id| id.0);
        Self { order: one.order, number: one.number, department, hours: one.hours }
    }
}

#[utoipa::path(get, path = "/api/v1/measures", params(Stretch), tag = "measures",
    responses((status = 200, body = Measures), (status = 422, body = super::error::ErrorBody)))]
pub async fn measures(app: Shared, _who: Who, query: routes::Query<Stretch>) -> Answer {
    let (view, now) = (app.shop.view(), app.shop.clock.now());
    let question = query.into_inner().question(&view, now)?;
    blocking_json(move || Ok(Measures::of(&view, &question))).await
}

#[utoipa::path(get, path = "/api/v1/measures/control", params(Stretch), tag = "measures",
    responses((status = 200, body = Control), (status = 422, body = super::error::ErrorBody)))]
pub async fn control(app: Shared, _who: Who, query: routes::Query<Stretch>) -> Answer {
    let (view, now) = (app.shop.view(), app.shop.clock.now());
    let question = query.into_inner().question(&view, now)?;
    blocking_json(move || Ok(Control::of(&view, &question))).await
}

/// The asker's own figures.
#[utoipa::path(get, path = "/api/v1/measures/own", params(Stretch), tag = "measures",
    responses((status = 200, body = Measures), (status = 422, body = super::error::ErrorBody)))]
pub async fn own(app: Shared, who: Who, query: routes::Query<Stretch>) -> Answer {
    let (view, now) = (app.shop.view(), app.shop.clock.now());
    let question = query.into_inner().question(&view, now)?;
    blocking_json(move || {
        let found = measure::pay::own(&view.state, who.person, question.from, question.to, now);
        let measures = found.into_iter().map(Measure::from).collect();
        Ok(Measures { asked: Asked::new(&question, &view), measures })
    })
    .await
}
