//! Every rule of the decisions, by name, as short scenes in a small invented shop. What must always
//! hold is checked after each act by `support::invariants`.

#[path = "../support/mod.rs"]
mod support;

mod amiss;
mod asking;
mod bad_input;
mod cold;
mod departed;
mod energy;
mod equipment;
mod facts;
mod inside;
mod job;
mod leaving;
mod limits;
mod making_right;
mod measures;
mod notices;
mod photos;
mod random;
mod setting_up;
mod setup_checks;
mod stopping;
mod vectors;
mod vectors_open;
mod waiting;
mod wishes;
