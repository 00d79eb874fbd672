//! What if: questions about the plan, and their answers as they travel.
//!
//! Invariant: nothing here reaches the writer.

use actix_web::web as routes;
use domain::Ms;
use domain::ids::*;
use domain::stored::{Act, Role};
use domain::suppose::{Change, NotSupposed, Step};
use serde::{Deserialize, Serialize};
use tokio::sync::Semaphore;
use utoipa::ToSchema;

use super::error::ApiError;
use super::{Answer, Shared, blocking_json};
use crate::auth::Who;
use crate::shop::View;
use planner::what_if::{self, NoAnswer};

pub fn configure(config: &mut routes::ServiceConfig) {
    config.route("/what-if", routes::post().to(what_if));
}

/// Each question is two plans or more: one at a time, so that many who ask do not slow those who work.
pub(super) static TURN: Semaphore = Semaphore::const_new(1);

#[derive(Deserialize, ToSchema)]
pub struct WhatIfQuestion {
    /// All of them together, in this order; at most 20.
    pub changes: Vec<WhatIfChange>,
}

/// One thing that would be otherwise. Where `from` is absent it begins now.
#[derive(Deserialize, ToSchema)]
#[serde(tag = "change", rename_all = "snake_case")]
pub enum WhatIfChange {
    /// All open cards of a vehicle are put first.
    VehicleFirst {
        #[schema(value_type = String)]
        order: OrderId,
    },
    /// One card is put first, with what must be done before it.
    CardFirst {
        #[schema(value_type = String)]
        card: CardId,
    },
    OutOfService {
        #[schema(value_type = String)]
        equipment: EquipmentId,
        from: Option<Ms>,
        until: Ms,
    },
    Away {
        #[schema(value_type = String)]
        person: PersonId,
        from: Option<Ms>,
        until: Ms,
    },
    /// There until then, whatever absence stands in the calendar.
    Back {
        #[schema(value_type = String)]
        person: PersonId,
        until: Ms,
    },
    /// One more in a department until then, by its hours and without qualifications.
    Joins {
        #[schema(value_type = String)]
        department: DepartmentId,
        until: Ms,
    },
    /// The people at home in a department work then, too.
    ExtraShift {
        #[schema(value_type = String)]
        department: DepartmentId,
        /// A day of the shop, 2026-03-07.
        day: String,
        /// Minutes of that day by the clock on the wall.
        from: u16,
        to: u16,
    },
    /// What the vehicle waits for comes then.
    HoldUntil {
        #[schema(value_type = String)]
        order: OrderId,
        #[schema(value_type = String)]
        hold: HoldId,
        due: Ms,
    },
    /// Closed now so that it rolls and leaves the equipment, and opened again for what is undone inside.
    CloseUp {
        #[schema(value_type = String)]
        order: OrderId,
        #[schema(value_type = String)]
        open: OpenId,
    },
}

impl From<WhatIfChange> for Change {
    fn from(change: WhatIfChange) -> Self {
        match change {
            WhatIfChange::VehicleFirst { order } => Self::VehicleFirst { order },
            WhatIfChange::CardFirst { card } => Self::CardFirst { card },
            WhatIfChange::OutOfService { equipment, from, until } => {
                Self::OutOfService { equipment, from, until }
            }
            WhatIfChange::Away { person, from, until } => Self::Away { person, from, until },
            WhatIfChange::Back { person, until } => Self::Back { person, until },
            WhatIfChange::Joins { department, until } => Self::Joins { department, until },
            WhatIfChange::ExtraShift { department, day, from, to } => {
                Self::ExtraShift { department, day, from, to }
            }
            WhatIfChange::HoldUntil { order, hold, due } => Self::HoldUntil { order, hold, due },
            WhatIfChange::CloseUp { order, open } => Self::CloseUp { order, open },
        }
    }
}

/// The plan as it would be beside the plan as it is, both made now from the log up to `seq`.
#[derive(Serialize, ToSchema)]
pub struct WhatIf {
    pub at: Ms,
    pub seq: u64,
    /// Vehicles whose time changes: who gets later first, then who gets earlier.
    pub rows: Vec<WhatIfRow>,
    pub later: u32,
    pub earlier: u32,
    /// Vehicles whose time stays.
    pub same: u32,
    pub before: WhatIfLateness,
    pub after: WhatIfLateness,
    /// What makes it so: to be sent as operations in this order, each under its id. Empty where the change is only
    /// imagined. The reason of what is put first is the sender's own.
    pub acts: Vec<WhatIfAct>,
    /// The least that may send them.
    pub role: Role,
}

#[derive(Serialize, ToSchema)]
pub struct WhatIfAct {
    /// The operation's id; a card that it adds has the same.
    #[schema(value_type = String)]
    pub op: OpId,
    pub act: Act,
}

impl From<Step> for WhatIfAct {
    fn from(step: Step) -> Self {
        Self { op: step.op, act: step.act }
    }
}

#[derive(Serialize, ToSchema)]
pub struct WhatIfRow {
    #[schema(value_type = String)]
    pub order: OrderId,
    pub number: String,
    /// UTC milliseconds, rounded to five minutes, as in the plan.
    pub finish_before: Ms,
    pub finish_after: Ms,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub promise: Option<Ms>,
    /// Calendar minutes; below zero: earlier.
    pub later_minutes: i64,
    /// Calendar minutes after the promise; 0 if it is kept or there is none.
    pub late_before_minutes: i64,
    pub late_after_minutes: i64,
}

/// Of all vehicles in the shop.
#[derive(Serialize, ToSchema)]
pub struct WhatIfLateness {
    pub late_vehicles: u32,
    /// Calendar minutes after promises, each times the vehicle's urgency (1, 2 or 4).
    pub weighted_minutes: i64,
}

impl From<what_if::Lateness> for WhatIfLateness {
    fn from(l: what_if::Lateness) -> Self {
        Self { late_vehicles: l.late_vehicles, weighted_minutes: l.weighted_minutes }
    }
}

impl WhatIf {
    fn of(view: &View, answer: what_if::Answer) -> Self {
        let later = answer.rows.iter().filter(|row| row.later_minutes() > 0).count();
        Self {
            at: answer.at,
            seq: answer.seq,
            later: later as u32,
            earlier: (answer.rows.len() - later) as u32,
            same: answer.same,
            before: answer.before.into(),
            after: answer.after.into(),
            rows: answer.rows.iter().map(|row| WhatIfRow::of(view, row)).collect(),
            acts: answer.steps.into_iter().map(WhatIfAct::from).collect(),
            role: answer.role,
        }
    }
}

impl WhatIfRow {
    fn of(view: &View, row: &what_if::Row) -> Self {
        Self {
            order: row.order,
            number: view.state.orders.get(&row.order).map_or_else(String::new, |o| o.number.clone()),
            finish_before: row.finish_before,
            finish_after: row.finish_after,
            promise: row.promise,
            later_minutes: row.later_minutes(),
            late_before_minutes: row.late_before_minutes,
            late_after_minutes: row.late_after_minutes,
        }
    }
}

impl From<NoAnswer> for ApiError {
    fn from(error: NoAnswer) -> Self {
        let message = error.to_string();
        match error {
            NoAnswer::NotSupposed(why) => why.into(),
            NoAnswer::Changes => Self::new(422, "changes", message),
            NoAnswer::NoPlan | NoAnswer::Trouble(_) => Self::new(409, "no_plan", message),
            NoAnswer::Impossible(_) => Self::new(422, "impossible", message),
        }
    }
}

impl From<NotSupposed> for ApiError {
    fn from(error: NotSupposed) -> Self {
        let message = error.to_string();
        match error {
            NotSupposed::Unknown(_) => Self::new(404, "not_found", message),
            NotSupposed::Past => Self::new(422, "past", message),
            NotSupposed::Backwards | NotSupposed::Day(_) | NotSupposed::Shift => {
                Self::new(422, "stretch", message)
            }
            NotSupposed::Over | NotSupposed::HoldEnded | NotSupposed::NotToClose => {
                Self::new(409, "over", message)
            }
            NotSupposed::Refused(_) => Self::new(422, "impossible", message),
        }
    }
}

/// Nothing is changed by asking. Anybody may ask what happens if something goes first; the rest is for who plans.
#[utoipa::path(post, path = "/api/v1/what-if", request_body = WhatIfQuestion, tag = "plan",
    responses(
        (status = 200, body = WhatIf),
        (status = 403, body = super::error::ErrorBody),
        (status = 404, body = super::error::ErrorBody),
        (status = 409, body = super::error::ErrorBody),
        (status = 422, body = super::error::ErrorBody),
    ))]
pub async fn what_if(app: Shared, who: Who, question: routes::Json<WhatIfQuestion>) -> Answer {
    let changes: Vec<Change> = question.into_inner().changes.into_iter().map(Change::from).collect();
    let first = |c: &Change| matches!(c, Change::VehicleFirst { .. } | Change::CardFirst { .. });
    if who.role < Role::Planner && !changes.iter().all(first) {
        let message =
            "Only planners and managers ask this; anybody may ask what happens if something goes first.";
        return Err(ApiError::forbidden(message));
    }
    let _turn = TURN.acquire().await.map_err(|error| ApiError::internal(&error))?;
    let (view, shown, now) = (app.shop.view(), app.plan.borrow().clone(), app.shop.clock.now());
    blocking_json(move || Ok(WhatIf::of(&view, what_if::what_if(&view, now, &shown, &changes)?))).await
}
