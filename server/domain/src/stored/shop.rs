//! What a shop sets up: itself, departments, people, equipment, places, calendars, routings.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::Ms;
use crate::ids::*;

/// A phrase as it was typed, with its Spanish wording where the library of a new shop has one.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Words {
    /// As typed; for entries of the library, in English.
    pub text: String,
    /// In Spanish; none: `text` is shown in every language.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub es: Option<String>,
}

impl From<&str> for Words {
    fn from(text: &str) -> Self {
        Self { text: text.to_owned(), es: None }
    }
}

/// The shop itself. There is one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Shop {
    /// What the shop is called, at most 200 characters.
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

/// A department of the shop.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Department {
    /// Short word that names it for good.
    pub id: DepartmentId,
    /// What it is called.
    pub title: Words,
    /// How it deals out its cards.
    pub working: Working,
    /// When it works; none: as the shop does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calendar: Option<CalendarId>,
    /// Who answers when nobody of the department is on shift.
    #[serde(default)]
    pub deputies: Vec<PersonId>,
    /// Order on screens.
    #[serde(default)]
    pub rank: u32,
    /// It no longer exists: takes no new work, keeps its name on past work.
    #[serde(default)]
    pub retired: bool,
}

/// What a person may do, from the least to the most; each may do what those before may. Roles compare in this
/// order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Works on vehicles, asks other departments.
    Technician,
    /// Looks after parts; at the vehicles they may do what a technician may.
    Parts,
    /// Also opens orders, promises, gives work to people and overrules the order.
    Planner,
    /// Also sets the shop up and lets people in.
    Manager,
    /// Also makes administrators, erases people and reads the security log.
    Admin,
}

impl Role {
    /// From the one who may do least to the one who may do most.
    pub const ALL: [Role; 5] = [Role::Technician, Role::Parts, Role::Planner, Role::Manager, Role::Admin];
}

/// A stretch of time in which somebody or something is not there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Absence {
    /// Since when, UTC ms.
    pub from: Ms,
    /// Until when, UTC ms; after `from`.
    pub to: Ms,
    /// Why, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// Somebody of the shop. Contacts and credentials are not here: everybody in the shop may read a document.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Person {
    /// Names them for good.
    pub id: PersonId,
    /// As shown, at most 80 characters; a dash once they were erased.
    pub name: String,
    /// Where they are at home.
    pub department: DepartmentId,
    /// Further departments whose work this person takes.
    #[serde(default)]
    pub also: Vec<DepartmentId>,
    /// What they may do.
    pub role: Role,
    /// Of their screens, notices and e-mail: "en" or "es".
    #[serde(default = "english")]
    pub language: String,
    /// What they are qualified for, with when that expires, UTC ms (none: it does not expire).
    #[serde(default)]
    #[cfg_attr(feature = "schema", schema(value_type = BTreeMap<String, serde_json::Value>))]
    pub qualifications: BTreeMap<Qualification, Option<Ms>>,
    /// When they work; none: as their department does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calendar: Option<CalendarId>,
    /// When they are not there although their calendar says so.
    #[serde(default)]
    pub away: Vec<Absence>,
    /// They have left the shop: signed out and no longer planned with; their name stays on past work.
    #[serde(default)]
    pub retired: bool,
    /// Since when, UTC ms, set by the server. What they did before then counts, however late it arrives.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub retired_at: Option<Ms>,
    /// When their name, texts and photos were erased, UTC ms, set by the server. They cannot come back under
    /// this id.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub erased_at: Option<Ms>,
}

/// A piece of equipment. It holds one vehicle at a time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Equipment {
    /// Short word that names it for good.
    pub id: EquipmentId,
    /// What it is called.
    pub title: Words,
    /// What it can stand in for: one piece of a kind is as good as another.
    pub kind: EquipmentKind,
    /// Whose it is.
    pub department: DepartmentId,
    /// What it may carry, in kilograms, at most 100,000; none: not stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rated_load_kg: Option<u32>,
    /// When it cannot be used.
    #[serde(default)]
    pub out_of_service: Vec<Absence>,
    /// Until when it is inspected, UTC ms; none: it needs no inspection.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inspection_due: Option<Ms>,
    /// It is gone for good; its name stays on past work.
    #[serde(default)]
    pub retired: bool,
}

/// Somewhere a vehicle can stand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Place {
    /// Short word that names it for good.
    pub id: PlaceId,
    /// What it is called.
    pub title: Words,
    /// Standing here means standing on this equipment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub equipment: Option<EquipmentId>,
    /// It no longer exists.
    #[serde(default)]
    pub retired: bool,
}

/// A stretch of working time in minutes after local midnight, `from` before `to`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Shift {
    /// Minutes after midnight, 0 to 1,439.
    pub from: u16,
    /// Minutes after midnight, at most 1,440.
    pub to: u16,
}

/// When somebody or something works, by local time in the shop's zone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Calendar {
    /// Short word that names it for good.
    pub id: CalendarId,
    /// What it is called.
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
    /// Short word, unique in the routing. Phones that are offline name the card by it.
    pub step: String,
    /// Who does it.
    pub department: DepartmentId,
    /// What is to be done.
    pub title: Words,
    /// How long it should take, in working minutes, at most 12,000 (200 hours).
    pub planned_minutes: u32,
    /// Steps that must be done before.
    #[serde(default)]
    pub after: Vec<StepLink>,
    /// What it asks of the shop, the vehicle and the person.
    #[serde(flatten)]
    pub needs: Needs,
}

/// "After that step, with so much time in between".
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StepLink {
    /// The step that must be done first.
    pub step: String,
    /// Calendar minutes that must pass after it is done (cure), at most 90 days.
    #[serde(default)]
    pub lag_minutes: u32,
    /// Calendar minutes within which this should have begun (recoat, bare metal); none: no hurry.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lag_minutes_max: Option<u32>,
}

/// What a card asks of the shop, the vehicle and the person. Shared by cards and routing steps.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Needs {
    /// The kind of equipment it is done on; none: any place will do.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub equipment: Option<EquipmentKind>,
    /// The way in which it opens the vehicle; equipment stays occupied until the card that closes it is done.
    /// None: opens nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opens: Option<OpenId>,
    /// The way in which the vehicle must be open for it to be worked; none: it need not be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inside: Option<OpenId>,
    /// The way of being open that it ends; none: closes nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closes: Option<OpenId>,
    /// Done on a part that is off, whatever happens at the vehicle meanwhile.
    #[serde(default)]
    pub off_vehicle: bool,
    /// May go on while another card of the same vehicle is worked on.
    #[serde(default)]
    pub beside: bool,
    /// Cannot be left until tomorrow once started (paint, adhesive with an open time).
    #[serde(default)]
    pub one_go: bool,
    /// What a person must be qualified for to do it; none: nothing in particular.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub qualification: Option<Qualification>,
    /// What is to be checked before it is reported done, in order.
    #[serde(default)]
    pub checks: Vec<Words>,
    /// Cautions that are shown with it.
    #[serde(default)]
    pub cautions: Vec<Caution>,
}

/// Usual cautions. The sentence for each is in the app's language files and always defers to the vehicle
/// maker's procedure and local rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Caution {
    /// A vehicle on a lift.
    Lift,
    /// The engine or the vehicle could start by itself.
    UnexpectedStart,
    /// Chains under load.
    Pulling,
    /// Welding, cutting, grinding.
    HotWork,
    /// Airbags and belt tensioners.
    Airbag,
    /// High voltage on board.
    HighVoltage,
    /// Spraying paint: breathing, ignition.
    Spraying,
    /// Refrigerant under pressure.
    Refrigerant,
    /// Springs under load.
    Spring,
    /// Fuel and its vapour.
    Fuel,
    /// The vehicle is driven.
    Driving,
}

/// An entry of the shop's own library: what can be asked for, as a sequence of cards.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Routing {
    /// Short word that names it for good.
    pub id: RoutingId,
    /// Set by the server: 1, and one more with every edit. A card knows the version it came from.
    #[serde(default)]
    pub version: u32,
    /// What it is called.
    pub title: Words,
    /// Its steps, at most 100; a step comes after those it waits for.
    pub steps: Vec<Step>,
    /// It can no longer be asked for.
    #[serde(default)]
    pub retired: bool,
}
