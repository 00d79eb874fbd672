//! Days and weeks as shops have them, against a clock that the tests set: what a shop's people would see is asked over HTTP.
//!
//! A released server has no such clock: it reads the machine's (`Clock::system`), and nothing on its command line or in its API
//! sets another; `tests/tidy.rs` holds that.

mod first_car;
mod leaver;
mod lift_down;
mod month_end;
mod restore;
mod second_opening;
mod small_shop;
mod supplement;
mod total_loss;
mod two_planners;

use domain::{MINUTE, Ms};
use serde_json::{Value, json};

use crate::support::User;

pub const HOUR: Ms = 60 * MINUTE;

/// An order that is authorised, with nothing to do yet.
pub fn order(planner: &mut User, number: &str) -> String {
    planner.done("open_order", json!({"number": number, "vehicle": "grey wagon", "stage": "authorised"}))
}

pub fn card(planner: &mut User, order: &str, department: &str, minutes: u32, after: &[&str]) -> String {
    let after: Vec<Value> = after.iter().map(|card| json!({"card": card})).collect();
    let title = json!({"text": "Work"});
    let add = json!({"order": order, "department": department, "title": title, "planned_minutes": minutes, "after": after});
    planner.done("add_card", add)
}

/// What somebody was told, oldest first.
pub fn told(user: &User) -> Vec<String> {
    user.notices().iter().map(|notice| notice["kind"].as_str().unwrap().to_owned()).collect()
}

/// A document as this person's phone has it.
pub fn seen(user: &User, kind: &str, id: &str) -> Value {
    let pulled = user.get("/api/v1/sync/pull?after=0").1;
    let docs = pulled["docs"].as_array().unwrap();
    let found = docs.iter().find(|doc| doc["body"]["id"] == id && doc["key"] == format!("{kind}/{id}"));
    found.unwrap_or_else(|| panic!("no {kind} {id}"))["body"].clone()
}

pub fn row<'a>(plan: &'a Value, card: &str) -> Option<&'a Value> {
    plan["rows"].as_array()?.iter().find(|row| row["card"] == card)
}

/// The card of a hand-off's step, by its routing's short word.
pub fn step(user: &User, order: &str, step: &str) -> String {
    let pulled = user.get("/api/v1/sync/pull?after=0").1;
    let docs = pulled["docs"].as_array().unwrap();
    let found = docs.iter().find(|doc| doc["body"]["step"] == step && doc["body"]["order"] == order);
    found.unwrap_or_else(|| panic!("no card of the step {step}"))["body"]["id"].as_str().unwrap().to_owned()
}
