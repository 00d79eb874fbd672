//! What a shop sets up: itself, departments, people, equipment, places, calendars, routings.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::Ms;
use crate::ids::*;

/// A phrase as it was typed, and its Spanish wording where the library has one.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Words {
    pub text: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub es: Option<String>,
}

impl From<&str> for Words {
    fn from(text: &str) -> Self {
        Self { text: text.to_owned(), es: None }
    }
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Shop {
    pub name: String,
    /// IANA name, for example "America/Chicago".
    pub time_zone: String,
    /// The calendar that applies where a department, person or piece of equipment has none of its own.
    pub calendar: CalendarId,
    /// Language of printed pages and e-mail for people without one of their own: "en" or "es".
    #[serde(default = "english")]
    pub language: String,
}

pub(super) fn english() -> String {
    "en".into()
}

/// How a department deals out its cards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Working {
    /// Each vehicle has a lead ("my car").
    Lead,
    /// Whoever is free takes the next one.
    Pool,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Department {
    pub id: DepartmentId,
    pub title: Words,
    pub working: Working,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calendar: Option<CalendarId>,
    /// Who answers when nobody of the department is on shift.
    #[serde(default)]
    pub deputies: Vec<PersonId>,
    /// Order on screens.
    #[serde(default)]
    pub rank: u32,
    #[serde(default)]
    pub retired: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Role {
    Technician,
    Parts,
    Planner,
    Manager,
    Admin,
}

impl Role {
    /// From the one who may do least: the order in which they compare.
    pub const ALL: [Role; 5] = [Role::Technician, Role::Parts, Role::Planner, Role::Manager, Role::Admin];
}

/// A stretch of time in which somebody or something is not there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Absence {
    pub from: Ms,
    pub to: Ms,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// Contacts and credentials are not here: everybody in the shop may read a document.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Person {
    pub id: PersonId,
    pub name: String,
    pub department: DepartmentId,
    /// Further departments whose work this person takes.
    #[serde(default)]
    pub also: Vec<DepartmentId>,
    pub role: Role,
    #[serde(default = "english")]
    pub language: String,
    /// What the person may do, until when (none: no expiry).
    #[serde(default)]
    #[cfg_attr(feature = "schema", schema(value_type = BTreeMap<String, serde_json::Value>))]
    pub qualifications: BTreeMap<Qualification, Option<Ms>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calendar: Option<CalendarId>,
    #[serde(default)]
    pub away: Vec<Absence>,
    /// Left the shop: signed out, plans nothing, keeps the name on past work.
    #[serde(default)]
    pub retired: bool,
    /// Since when, set by the server: what was done before counts, however late it comes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub retired_at: Option<Ms>,
    /// When their name, texts and photos were erased, set by the server. They do not come back under this id.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub erased_at: Option<Ms>,
}

/// One occupant at a time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Equipment {
    pub id: EquipmentId,
    pub title: Words,
    pub kind: EquipmentKind,
    pub department: DepartmentId,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rated_load_kg: Option<u32>,
    #[serde(default)]
    pub out_of_service: Vec<Absence>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inspection_due: Option<Ms>,
    #[serde(default)]
    pub retired: bool,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Place {
    pub id: PlaceId,
    pub title: Words,
    /// Standing here means standing on this equipment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub equipment: Option<EquipmentId>,
    #[serde(default)]
    pub retired: bool,
}

/// Minutes of the local day, `from` before `to`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Shift {
    pub from: u16,
    pub to: u16,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Calendar {
    pub id: CalendarId,
    pub title: Words,
    /// Seven days, Monday first, each a list of shifts (breaks are the gaps between them).
    pub week: Vec<Vec<Shift>>,
    /// Days unlike their weekday, by local date "2026-12-25": no shifts means closed.
    #[serde(default)]
    pub days: BTreeMap<String, Vec<Shift>>,
}

/// One card of a routing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Step {
    /// Short word, unique in the routing; names the card on phones that are offline.
    pub step: String,
    pub department: DepartmentId,
    pub title: Words,
    pub planned_minutes: u32,
    #[serde(default)]
    pub after: Vec<StepLink>,
    #[serde(flatten)]
    pub needs: Needs,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StepLink {
    pub step: String,
    /// Wall-clock minutes that must pass (cure).
    #[serde(default)]
    pub lag_minutes: u32,
    /// Wall-clock minutes that should not be passed (recoat, bare metal).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lag_minutes_max: Option<u32>,
}

/// What a card asks of the shop, the vehicle and the person. Shared by cards and routing steps.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Needs {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub equipment: Option<EquipmentKind>,
    /// Opens this state; the equipment stays held until the card that closes it is done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opens: Option<OpenId>,
    /// Can be worked only while this is open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inside: Option<OpenId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closes: Option<OpenId>,
    /// Done on a loose part, beside whatever happens at the vehicle.
    #[serde(default)]
    pub off_vehicle: bool,
    /// May go on while another card of the same vehicle is worked.
    #[serde(default)]
    pub beside: bool,
    /// Cannot be left for tomorrow once started (paint, adhesive with an open time).
    #[serde(default)]
    pub one_go: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub qualification: Option<Qualification>,
    #[serde(default)]
    pub checks: Vec<Words>,
    #[serde(default)]
    pub cautions: Vec<Caution>,
}

/// Usual cautions; the sentence for each stands in the client's language files and always ends with
/// the vehicle maker's procedure and local rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Caution {
    Lift,
    UnexpectedStart,
    Pulling,
    HotWork,
    Airbag,
    HighVoltage,
    Spraying,
    Refrigerant,
    Spring,
    Fuel,
    /// The vehicle is driven.
    Driving,
}

/// The shop's own library entry: what is asked for, as a sequence of cards.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Routing {
    pub id: RoutingId,
    /// Rises with every edit; a card knows the version it came from.
    #[serde(default)]
    pub version: u32,
    pub title: Words,
    pub steps: Vec<Step>,
    #[serde(default)]
    pub retired: bool,
}
