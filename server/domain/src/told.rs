//! What the app must know of the rules beside the shapes of documents: limits, and the order of roles.
//! They go out with the API's document and are made into `web/src/api/limits.ts`, so that no number is
//! written twice. How a form is checked with them, `tests/vectors/setup` says for both.

use serde_json::{Value, json};

use crate::decide::*;
use crate::stored::Role;

/// Limits, and the order of roles, as they go out with the API's document.
pub fn limits() -> Value {
    json!({
        "title_chars_max": TITLE_CHARS_MAX,
        "note_chars_max": NOTE_CHARS_MAX,
        "name_chars_max": NAME_CHARS_MAX,
        "number_chars_max": NUMBER_CHARS_MAX,
        "vin_chars_max": VIN_CHARS_MAX,
        "card_minutes_max": CARD_MINUTES_MAX,
        "lag_minutes_max": LAG_MINUTES_MAX,
        "sold_minutes_max": SOLD_MINUTES_MAX,
        "load_kg_max": LOAD_KG_MAX,
        "bake_celsius": [BAKE_CELSIUS.start(), BAKE_CELSIUS.end()],
        "bake_minutes": [BAKE_MINUTES.start(), BAKE_MINUTES.end()],
        "absences_max": ABSENCES_MAX,
        "special_days_max": SPECIAL_DAYS_MAX,
        "steps_max": STEPS_MAX,
        "routings_max": ROUTINGS_MAX,
        "reach_ms": REACH,
        "weights": WEIGHTS,
        "roles": Role::ALL,
    })
}
