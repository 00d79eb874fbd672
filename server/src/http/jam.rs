//! Where the shop jams, as it travels.
//!
//! Invariant: nothing here reaches the writer.

use actix_web::web as routes;
use domain::Ms;
use domain::ids::*;
use domain::stored::Role;
use serde::Serialize;
use utoipa::ToSchema;

use super::error::ApiError;
use super::what_if::{TURN, WhatIfLateness};
use super::{Answer, Shared, blocking_json};
use crate::auth::Who;
use planner::jam::{self, Extra, Relief};

pub fn configure(config: &mut routes::ServiceConfig) {
    config.route("/jam", routes::get().to(jam));
}

/// What one more hour of each department, or one more piece of each kind of equipment, would save. Each is
/// planned again from the log up to `seq`.
#[derive(Serialize, ToSchema)]
pub struct Jam {
    /// When it was asked, UTC ms.
    pub at: Ms,
    /// The log entry of the state it was made from.
    pub seq: u64,
    /// How late vehicles are now.
    pub now: WhatIfLateness,
    /// Departments, then equipment, each with what saves most first; empty if nothing is late.
    pub reliefs: Vec<JamRelief>,
}

/// What one extra would save.
#[derive(Serialize, ToSchema)]
pub struct JamRelief {
    /// The extra.
    #[serde(flatten)]
    pub extra: JamExtra,
    /// Of all lateness: calendar minutes after promises, each times the vehicle's urgency (1, 2 or 4).
    pub saved_minutes: i64,
    /// How late they would be.
    pub then: WhatIfLateness,
}

/// What a shop could have more of.
#[derive(Serialize, ToSchema)]
#[serde(tag = "extra", rename_all = "snake_case")]
pub enum JamExtra {
    /// Everybody at home in the department stays an hour longer on its next open day.
    Hour {
        /// Which department.
        #[schema(value_type = String)]
        department: DepartmentId,
        /// Local date of its next open day, "2026-03-07".
        day: String,
        /// When the hour begins, in minutes after local midnight.
        from: u16,
        /// When it ends, in minutes after local midnight.
        to: u16,
        /// How many people would stay.
        people: u32,
    },
    /// One more piece of this kind stood in the shop.
    Piece {
        /// Which kind.
        #[schema(value_type = String)]
        kind: EquipmentKind,
    },
}

impl From<Relief> for JamRelief {
    fn from(found: Relief) -> Self {
        let extra = match found.extra {
            Extra::Hour { department, day, from, to, people } => {
                JamExtra::Hour { department, day, from, to, people }
            }
            Extra::Piece { kind } => JamExtra::Piece { kind },
        };
        Self { extra, saved_minutes: found.saved_minutes, then: found.after.into() }
    }
}

/// For planners and managers. Plans once for each department and kind of equipment: takes some seconds.
#[utoipa::path(get, path = "/api/v1/jam", tag = "plan",
    responses(
        (status = 200, body = Jam),
        (status = 403, body = super::error::ErrorBody),
        (status = 409, body = super::error::ErrorBody),
    ))]
pub async fn jam(app: Shared, who: Who) -> Answer {
    if who.role < Role::Planner {
        return Err(ApiError::forbidden("Only planners and managers ask where the shop jams."));
    }
    let _turn = TURN.acquire().await.map_err(|error| ApiError::internal(&error))?;
    let (view, shown, now) = (app.shop.view(), app.plan.borrow().clone(), app.shop.clock.now());
    blocking_json(move || {
        let found = jam::jam(&view, now, &shown)?;
        let reliefs = found.reliefs.into_iter().map(JamRelief::from).collect();
        Ok(Jam { at: found.at, seq: found.seq, now: found.before.into(), reliefs })
    })
    .await
}
