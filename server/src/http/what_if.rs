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

/// What could be different.
#[derive(Deserialize, ToSchema)]
pub struct WhatIfQuestion {
    /// All of them together, in this order; at most 20.
    pub changes: Vec<WhatIfChange>,
}

/// One thing that could be different. Where `from` is absent, it begins now. Times are UTC ms.
#[derive(Deserialize, ToSchema)]
#[serde(tag = "change", rename_all = "snake_case")]
pub enum WhatIfChange {
    /// All open cards of a vehicle are put first.
    VehicleFirst {
        /// The order of the vehicle.
        #[schema(value_type = String)]
        order: OrderId,
    },
    /// One card is put first, with what must be done before it.
    CardFirst {
        /// Which card.
        #[schema(value_type = String)]
        card: CardId,
    },
    /// A piece of equipment cannot be used.
    OutOfService {
        /// Which piece.
        #[schema(value_type = String)]
        equipment: EquipmentId,
        /// Since when; absent: now.
        from: Option<Ms>,
        /// Until when.
        until: Ms,
    },
    /// A person is not there.
    Away {
        /// Who.
        #[schema(value_type = String)]
        person: PersonId,
        /// Since when; absent: now.
        from: Option<Ms>,
        /// Until when.
        until: Ms,
    },
    /// A person is there after all, whatever absence their document names until then.
    Back {
        /// Who.
        #[schema(value_type = String)]
        person: PersonId,
        /// Until when.
        until: Ms,
    },
    /// A department has one more person, who works its hours and has no qualifications.
    Joins {
        /// Which department.
        #[schema(value_type = String)]
        department: DepartmentId,
        /// Until when.
        until: Ms,
    },
    /// Everybody at home in a department works one more shift.
    ExtraShift {
        /// Which department.
        #[schema(value_type = String)]
        department: DepartmentId,
        /// Local date, "2026-03-07".
        day: String,
        /// When it begins, in minutes after local midnight.
        from: u16,
        /// When it ends, in minutes after local midnight.
        to: u16,
    },
    /// What a vehicle waits for comes at this time.
    HoldUntil {
        /// The order of the vehicle.
        #[schema(value_type = String)]
        order: OrderId,
        /// Which hold.
        #[schema(value_type = String)]
        hold: HoldId,
        /// When it ends.
        due: Ms,
    },
    /// A vehicle is closed now so that it rolls and leaves the equipment, and opened again for what is undone
    /// inside.
    CloseUp {
        /// The order of the vehicle.
        #[schema(value_type = String)]
        order: OrderId,
        /// The way of being open.
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
    /// When it was asked, UTC ms.
    pub at: Ms,
    /// The log entry of the state both plans were made from.
    pub seq: u64,
    /// Vehicles whose time would change: those that get later first.
    pub rows: Vec<WhatIfRow>,
    /// How many get later.
    pub later: u32,
    /// How many get earlier.
    pub earlier: u32,
    /// How many keep their time.
    pub same: u32,
    /// How late vehicles are now.
    pub before: WhatIfLateness,
    /// How late they would be.
    pub after: WhatIfLateness,
    /// What makes it so: to be sent as operations in this order, each under its id. Empty where the change is only
    /// imagined. The reason of what is put first is the sender's own.
    pub acts: Vec<WhatIfAct>,
    /// The least that may send them.
    pub role: Role,
}

/// One act that makes it so.
#[derive(Serialize, ToSchema)]
pub struct WhatIfAct {
    /// The operation's id; a card that it adds has the same.
    #[schema(value_type = String)]
    pub op: OpId,
    /// What is to be sent.
    pub act: Act,
}

impl From<Step> for WhatIfAct {
    fn from(step: Step) -> Self {
        Self { op: step.op, act: step.act }
    }
}

/// One vehicle whose time would change.
#[derive(Serialize, ToSchema)]
pub struct WhatIfRow {
    /// The order of the vehicle.
    #[schema(value_type = String)]
    pub order: OrderId,
    /// The shop's number of that order.
    pub number: String,
    /// UTC milliseconds, rounded to five minutes, as in the plan.
    pub finish_before: Ms,
    /// When it would be finished, UTC ms, rounded to five minutes.
    pub finish_after: Ms,
    /// Its promise, UTC ms; absent if it has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub promise: Option<Ms>,
    /// Calendar minutes; below zero: earlier.
    pub later_minutes: i64,
    /// Calendar minutes after the promise; 0 if it is kept or there is none.
    pub late_before_minutes: i64,
    /// The same with the changes.
    pub late_after_minutes: i64,
}

/// Of all vehicles in the shop.
#[derive(Serialize, ToSchema)]
pub struct WhatIfLateness {
    /// How many are planned past their promise.
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
